package ambiguous

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// Reading is what a structure is.
type Reading string

// The readings.
const (
	Transistor Reading = "transistor"
	Capacitor  Reading = "capacitor"
	Dummy      Reading = "dummy"
	Resistor   Reading = "resistor"
)

// Kind is a sort of structure.
type Kind string

// The kinds. Those of Generate are in Shares.
const (
	Interdigitated Kind = "interdigitated" // fingers between two combs of metal
	Waffle         Kind = "waffle"         // a poly mesh, its openings source and drain by turns
	EnclosedGate   Kind = "enclosed gate"  // rings around their drains
	SingleWide     Kind = "single wide"    // one gate, wide or long
	Logic          Kind = "logic"          // an ordinary transistor, of one or two fingers
	Inverter       Kind = "inverter"

	TiedPlate     Kind = "source on drain"       // plates over one diffusion, both sides of which are one net
	OneSided      Kind = "one-sided"             // the diffusion ends beneath the plate
	NoDiffusion   Kind = "no diffusion"          // a plate over the field or a well
	CoveredPlate  Kind = "covered diffusion"     // the plate covers its diffusion on all sides
	TiedMesh      Kind = "mesh on one net"       // drawn as a waffle, all openings on one net
	SharedBank    Kind = "one diffusion beneath" // squares on one diffusion, joined by a zigzag of metal
	OwnBank       Kind = "own diffusions"        // squares, each over a diffusion of its own, joined by a zigzag
	TwoPolys      Kind = "two polys"
	Serpentine    Kind = "serpentine"
	EdgeDummy     Kind = "edge dummy"     // a transistor beside real ones that has one net on source and drain
	ResistorDummy Kind = "resistor dummy" // a strip of poly beside a serpentine
)

// Case is a drawing with known truth. The embedded structure is the one that is asked about.
type Case struct {
	Name    string
	Library *layout.Library
	Top     *layout.Cell // the only cell
	Stack   *stack.Stack
	Structure
	Beside    []Structure // everything else that is drawn
	Nets      []Net
	FeatureNm int     // of the process; a gate may be as short as this
	Faults    []Fault // what Degrade did to the drawing
	About     Supply  // what the structure lies between
}

// Supply says what the terminals of a structure lie on.
type Supply string

// What a structure may lie between; what is neither ground nor VDD nor made from it by a switch is a signal.
const (
	SupplySupply Supply = "supply to supply"
	SignalSupply Supply = "signal to supply"
	SignalSignal Supply = "signal to signal"
	PadSupply    Supply = "pad to supply"
)

// Structure is one thing of a drawing and what is true of it. Lengths are nm, areas nm².
//
// W and L are what a designer would write: the sum of the widths of all fingers, and the length of a gate. Of a waffle that is the
// number of borders between openings times their side, without the squares where bars of the mesh cross; of rings, the
// length of their middle line. Of capacitors and resistors they are 0.
type Structure struct {
	Kind     Kind
	Reading  Reading
	Reason   string // why it is that, in a sentence
	Place    layout.Place
	Box      geom.Rect // around gates and diffusion
	W, L     float64
	Area     float64 // of gate over diffusion, or of plates that face each other where there is no diffusion
	Channels []Channel
	Ohmic    *Ohmic // of a serpentine
}

// Channel is a connected crossing of gate and diffusion. A device follows from it by rule 3 of DEVELOPERS.md: W is half
// of the border where it falls into two stretches or more, else all of it, and L is area over W.
type Channel struct {
	Place      layout.Place // inside, on the gate
	Border     float64      // nm of the channel's outline that lie against source or drain
	Stretches  int          // unbroken parts of the border: 0 (no source or drain), 1, or 2 for more
	Area       float64      // nm²
	Gate, A, B string       // nets; A and B are empty where there is no source or drain
	Bulk       string
}

// W returns the channel's width in nm by rule 3, 0 where it has no source or drain.
func (c *Channel) W() float64 {
	if c.Stretches == 1 {
		return c.Border
	}
	return c.Border / 2
}

// L returns the channel's length in nm by rule 3; the channel must have a border.
func (c *Channel) L() float64 { return c.Area / c.W() }

// Ohmic is the body of a resistor. Its resistance in squares is Straight, and for each corner a little more than half a
// square (0.5587 by conformal mapping, see netlist/measure).
type Ohmic struct {
	A, B     string // nets at its ends; one net for whoever does not know that it is a resistor
	WidthNm  float64
	Straight float64 // squares, without corners
	Corners  int
	Rule     bool // whether the stack has a rule for it
}

// Net is what is one net, with places of conductors that lie on it.
type Net struct {
	Name     string
	Labelled bool
	Places   []layout.Place
}

// Structures returns all that is drawn, what is asked about first.
func (c *Case) Structures() []Structure { return append([]Structure{c.Structure}, c.Beside...) }
