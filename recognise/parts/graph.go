package parts

import (
	"slices"

	"undermetal/netlist"
)

// Kind is what a part is. Those that are no kind of transistor are numbered as in netlist, after these.
type Kind uint8

// The kinds. Unknown is a transistor of unknown polarity. A Capacitor may be a transistor with its source on its drain.
const (
	N Kind = iota
	P
	Unknown
	Diode
	Capacitor
	Resistor
	Inductor
	Bipolar
	JFET
	VoltageSource
	CurrentSource
	Elsewhere // whatever is not in the circuit: the one part that pins beyond it are of
	Kinds     // how many there are
)

// IsMOS reports whether k is a transistor with a channel of known or unknown polarity.
func (k Kind) IsMOS() bool { return k <= Unknown }

// Terminals of a MOS part in Part.Nets: what is between End and Other conducts.
const (
	End   = 0
	Gate  = 1
	Other = 2
)

// Part is one device, or several that are parallel.
type Part struct {
	Kind  Kind
	Model int32    // numbered as they come
	Nets  [3]int32 // End, Gate, Other of a MOS part; collector, base, emitter; the two of the rest and -1
}

// Symmetric reports whether the first and the last terminal of the part may be exchanged.
func (k Kind) Symmetric() bool {
	return k.IsMOS() || k == Capacitor || k == Resistor || k == Inductor || k == JFET
}

// Terminals returns how many nets a part of kind k has, and the index of the one that Symmetric exchanges with the first.
func (k Kind) Terminals() (n, last int) {
	switch k {
	case Diode, Capacitor, Resistor, Inductor, VoltageSource, CurrentSource:
		return 2, 1
	}
	return 3, 2
}

// Pin is a terminal of a part.
type Pin uint32

// Part returns the part's index.
func (p Pin) Part() int32 { return int32(p >> 2) }

// Terminal returns the index in Part.Nets.
func (p Pin) Terminal() int { return int(p & 3) }

// Graph is a circuit as parts and nets. Nets have the circuit's numbers.
type Graph struct {
	Circuit *netlist.Circuit
	Parts   []Part
	Rails   []Rail // by net
	Pins    int    // of all parts together; what has one beyond the circuit has two
	Port    []bool // by net: the circuit's

	first    []int32 // by part, where its devices begin in devices
	devices  []int32
	pinFirst []int32 // by net
	pins     []Pin
}

// Devices returns the devices of a part, in the circuit's order.
func (g *Graph) Devices(part int32) []int32 { return g.devices[g.first[part]:g.first[part+1]] }

// On returns the pins on a net, by part. Not to be changed.
func (g *Graph) On(net int32) []Pin { return g.pins[g.pinFirst[net]:g.pinFirst[net+1]] }

// Degree returns how many pins are on a net.
func (g *Graph) Degree(net int32) int { return int(g.pinFirst[net+1] - g.pinFirst[net]) }

// Known tells rails that a caller knows of.
type Known struct {
	Supply, Ground []netlist.Net
	All            []Rail  // by net; nil: the others are found by name and bulk
	Beyond         []int32 // by net: how many pins it has of parts that are not in the circuit; nil: none
}

// New makes the graph of a flat circuit.
func New(c *netlist.Circuit, known Known) *Graph {
	g := &Graph{Circuit: c, Port: make([]bool, len(c.Nets))}
	for _, p := range c.Ports {
		g.Port[p] = true
	}
	if g.Rails = known.All; g.Rails == nil {
		g.Rails = findRails(c, known)
	}
	m := newMerger(c)
	m.beyond = known.Beyond
	m.parallel()
	m.stacks(g)
	g.Parts = make([]Part, 0, len(m.kept))
	g.first = make([]int32, 1, len(m.kept)+1)
	g.devices = make([]int32, 0, len(c.Devices))
	for _, k := range m.kept {
		g.Parts = append(g.Parts, m.parts[k])
		for d := k; d >= 0; d = m.next[d] {
			g.devices = append(g.devices, d)
		}
		slices.Sort(g.devices[g.first[len(g.first)-1]:])
		g.first = append(g.first, int32(len(g.devices)))
	}
	if m.beyond != nil {
		g.Parts = append(g.Parts, elsewhere)
		g.first = append(g.first, int32(len(g.devices)))
	}
	g.pinFirst, g.pins = pinsOf(g.Parts, len(c.Nets), m.beyond)
	g.Pins = len(g.pins)
	for _, n := range m.beyond {
		g.Pins += int(n)
	}
	return g
}

// elsewhere comes last of the parts where there are pins beyond the circuit.
var elsewhere = Part{Kind: Elsewhere, Nets: [3]int32{-1, -1, -1}}

// pinsOf lists the pins on each net, in the order of the parts; those beyond the circuit, if there are, are of the last part.
func pinsOf(parts []Part, nets int, beyond []int32) (first []int32, pins []Pin) {
	first = make([]int32, nets+1)
	for n, k := range beyond {
		first[n+1] = k
	}
	for i := range parts {
		for _, n := range parts[i].Nets {
			if n >= 0 {
				first[n+1]++
			}
		}
	}
	for n := range nets {
		first[n+1] += first[n]
	}
	pins = make([]Pin, first[nets])
	at := append([]int32(nil), first[:nets]...)
	for i := range parts {
		for t, n := range parts[i].Nets {
			if n >= 0 {
				pins[at[n]] = Pin(i<<2 | t)
				at[n]++
			}
		}
	}
	for n, k := range beyond {
		for range k {
			pins[at[n]] = Pin((len(parts) - 1) << 2)
			at[n]++
		}
	}
	return first, pins
}
