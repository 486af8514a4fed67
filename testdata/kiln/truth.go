package kiln

import (
	_ "embed"

	"undermetal/layout/geom"
)

// Truth is the circuit of DIE in SPICE, written by hand, with capacitors where Answers says so. Its top is die.
//
//go:embed truth.sp
var Truth []byte

// Answer is what is true of a structure of which the drawing alone does not say what it is for.
type Answer struct {
	Name    string
	At      geom.Point // a place of its gate over diffusion, nm on the die
	Reading string     // of the question transistor-or-capacitor
}

// Answers returns what is true of the gates that a question asks about: the reservoir and the switch, which look alike at
// first, and the pumping capacitors.
func Answers() []Answer {
	at := func(x, y int) geom.Point { return geom.Point{X: x * unit, Y: y * unit} }
	return []Answer{
		{"reservoir", at(-188, -492), "capacitor"},
		{"switch", at(330+45, -540+45), "transistor"},
		{"first pumping capacitor", at(80, -185), "capacitor"},
		{"second pumping capacitor", at(250, -185), "capacitor"},
	}
}
