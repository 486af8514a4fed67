package schematic

import (
	"math"

	"undermetal/netlist"
)

// Shape is what a symbol looks like. Symbols follow IEC 60617 as far as it has them.
type Shape uint8

// The shapes.
const (
	MOSShape Shape = iota
	ResistorShape
	CapacitorShape
	InductorShape
	DiodeShape
	PhotodiodeShape
	VoltageShape
	CurrentShape
	BipolarShape
	BoxShape
)

// Turn is how a symbol lies. A symbol's local system has its channel, or its two pins, from (0, −2) to (0, 2), and its gate at
// (−2, 0).
type Turn uint8

// The ways that symbols lie.
const (
	GateLeft  Turn = iota
	GateRight      // mirrored at the upright axis
	GateUp         // a quarter clockwise: what was up is to the right
	GateDown       // GateUp mirrored at the level axis
)

func (t Turn) apply(p Point) Point {
	switch t {
	case GateRight:
		return Point{-p.X, p.Y}
	case GateUp:
		return Point{-p.Y, p.X}
	case GateDown:
		return Point{-p.Y, -p.X}
	}
	return p
}

func (t Turn) side(s Side) Side {
	p := t.apply(steps[s])
	for k, q := range steps {
		if q == p {
			return Side(k)
		}
	}
	return s
}

func (t Turn) level() bool { return t == GateUp || t == GateDown }

const (
	half       = 2    // from the middle of a symbol to its pins
	letter     = 0.62 // width of a letter in grid units
	lineHeight = 1    // of a line of text
)

// textWidth returns how many grid units a text takes at most.
func textWidth(s string) int {
	n := 0
	for range s {
		n++
	}
	return int(math.Ceil(letter * float64(n)))
}

func shapeOf(k netlist.Kind) Shape {
	switch k {
	case netlist.Resistor:
		return ResistorShape
	case netlist.Capacitor:
		return CapacitorShape
	case netlist.Inductor:
		return InductorShape
	case netlist.Diode:
		return DiodeShape
	case netlist.VoltageSource:
		return VoltageShape
	case netlist.CurrentSource:
		return CurrentShape
	case netlist.Bipolar:
		return BipolarShape
	}
	return MOSShape
}
