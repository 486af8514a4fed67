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
	Box     geom.Rect  // around all of its diffusion
	Reading string     // of the question transistor-or-capacitor
}

// Answers returns what is true of the gates that a question asks about: the reservoir and the switch, which look alike at
// first, the pumping capacitors, and the long transistor of the bias.
func Answers() []Answer {
	at := func(x, y int) geom.Point { return geom.Point{X: x * unit, Y: y * unit} }
	box := func(x, y, w, h int) geom.Rect { return geom.Box(x*unit, y*unit, (x+w)*unit, (y+h)*unit) }
	return []Answer{
		{"reservoir", at(-188, -492), box(-200, -520, 430, 182), "capacitor"},
		{"output switch", at(375, -495), box(330, -540, 290, 190), "transistor"},
		{"first pumping capacitor", at(80, -185), box(30, -210, 126, 50), "capacitor"},
		{"second pumping capacitor", at(250, -185), box(200, -210, 126, 50), "capacitor"},
		{"long transistor of the bias", at(-66, -38), box(-97, -46, 63, 16), "transistor"},
	}
}

// AnswerAt returns the answer about the structure that a place, nm on the die, lies in; nil: there is none.
func AnswerAt(at geom.Point) *Answer {
	for _, a := range Answers() {
		if a.Box.Contains(at) {
			return &a
		}
	}
	return nil
}
