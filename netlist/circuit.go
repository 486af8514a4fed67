package netlist

import "undermetal/layout/geom"

// Net is the index of a net in Circuit.Nets.
type Net int32

// NoNet marks a terminal that a device of this kind does not have.
const NoNet Net = -1

// Kind says what a device is.
type Kind uint8

// The kinds of device. MOS is a transistor whose polarity is unknown.
const (
	NMOS Kind = iota + 1
	PMOS
	MOS
	Diode
	Capacitor
	Resistor
	Inductor
	Bipolar
	JFET
	VoltageSource
	CurrentSource
)

var kindNames = [...]string{"", "nmos", "pmos", "mos", "diode", "capacitor", "resistor", "inductor", "bipolar", "jfet",
	"voltage source", "current source"}

func (k Kind) String() string { return kindNames[k] }

// IsMOS reports whether k is a MOS transistor, of known polarity or not.
func (k Kind) IsMOS() bool { return k == NMOS || k == PMOS || k == MOS }

// The terminals of a MOS transistor in Device.Terminals.
const (
	Drain = iota
	Gate
	Source
	Bulk
)

// The terminals of a diode in Device.Terminals. All other two-terminal devices call theirs a (0) and b (1).
const (
	Anode = iota
	Cathode
)

var terminalNames = [...][]string{
	NMOS: {"d", "g", "s", "b"}, PMOS: {"d", "g", "s", "b"}, MOS: {"d", "g", "s", "b"},
	Diode: {"anode", "cathode"}, Capacitor: {"a", "b"}, Resistor: {"a", "b"}, Inductor: {"a", "b"},
	Bipolar: {"c", "b", "e", "s"}, JFET: {"d", "g", "s"}, VoltageSource: {"a", "b"}, CurrentSource: {"a", "b"},
}

// TerminalNames returns the names of the terminals of a device of kind k, in the order of Device.Terminals.
func (k Kind) TerminalNames() []string { return terminalNames[k] }

// Device is one element of a circuit.
//
// Source and drain of a MOS transistor are interchangeable; extraction calls drain the one it found first.
type Device struct {
	Name      string // as read; an extracted device's name follows from its place and may be empty
	Kind      Kind
	Fingers   int32 // parallel channels that W is the total of; 0 counts as 1
	Model     string
	Terminals [4]Net // as many as the kind has, the rest NoNet

	W, L   float64 // nm; 0 where the kind has none or none is known; of a resistor, L/W is its squares
	AS, AD float64 // nm²: area of the source and the drain junction
	PS, PD float64 // nm: their perimeter without the edge along the channel
	Area   float64 // nm², of a diode, of an extracted capacitor's plates, of an extracted resistor's body
	Perim  float64 // nm, of a diode, of an extracted capacitor's plates
	Ratio  float64 // effective W/L by Laplace's equation, of a resistor one over its squares; 0 where it is W/L or was not solved for
	Value  float64 // ohm, farad, henry, volt, ampere; NaN where none is given

	At geom.Point // where it lies on the die, in nm; extraction only
}

// NetInfo is what is known of a net.
type NetInfo struct {
	Name   string     // the first label, or the name as read; empty: not named
	Labels []string   // all labels, where there are more than one
	Open   bool       // reaches the rim of the traced area
	Layer  string     // of the place At
	At     geom.Point // a place on the net: the lowest, then leftmost corner on any conductor
	Global bool       // one net with the global nets of this name in all circuits; that called 0 is ground
}

// Instance is a circuit used inside another.
type Instance struct {
	Name string
	Of   *Circuit
	Nets []Net // one for each port of Of, in its order
}

// Circuit is devices and instances joined by nets.
type Circuit struct {
	Name      string
	Ports     []Net // in a stated order
	Nets      []NetInfo
	Devices   []Device
	Instances []Instance
}

// Touched tells of each net whether a device of the circuit itself is on it.
func (c *Circuit) Touched() []bool {
	touched := make([]bool, len(c.Nets))
	for i := range c.Devices {
		for _, n := range c.Devices[i].Terminals {
			if n != NoNet {
				touched[n] = true
			}
		}
	}
	return touched
}

// Design is a set of circuits, each after those that it holds instances of.
type Design struct {
	Circuits []*Circuit
}

// Circuit returns the circuit of that name, or nil.
func (d *Design) Circuit(name string) *Circuit {
	for _, c := range d.Circuits {
		if c.Name == name {
			return c
		}
	}
	return nil
}
