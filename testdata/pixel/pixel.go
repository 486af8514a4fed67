// Package pixel makes the README's walk-through: one three-transistor pixel of the kiln-window flicker sensor, two
// photographs of it, and what a hand traced over them.
//
// In: the drawing below, which is ours, of a process that is nobody's, with features of 0.5 µm.
//
//   - pixel.go   what is drawn, in nm, and the sizes of its transistors
//   - photo.go   what the two photographs show, and how (rendered by testdata/photo)
//   - hand.go    a tracing in SVG and a list of control points, off as a hand is
//
// Out: the files beside this one, of seed Seed. truth.sp was written by hand. A test of the command holds the files
// against what this package makes, and makes them anew with -update (cmd/undermetal, TestPixelFiles).
package pixel

import (
	_ "embed"

	"undermetal/layout/geom"
)

// Stack is the stack that the tracings are read with.
//
//go:embed pixel.stack.toml
var Stack []byte

// Truth is the circuit as drawn, in SPICE.
//
//go:embed truth.sp
var Truth []byte

// Pitch is the distance between pixels in nm, the same in both directions.
const Pitch = 8000

// Part is something that is drawn: an outline, or a straight wire along the middle between two places.
type Part struct {
	Layer   string
	Outline []geom.Vec // nm, x right, y up, counter-clockwise; nil for a wire
	Wire    [2]geom.Vec
	Width   float64 // of a wire, nm
	Metal   bool    // seen in the photograph with metal; else in the stripped one
}

// Label is a name that is written onto a tracing.
type Label struct {
	Layer, Text string
	At          geom.Vec
	Metal       bool
}

// unit is the grid of the drawing below, in nm.
const unit = 100

// Parts returns what is drawn in one pixel, its lower left corner in the origin.
//
//	y, units of 0.1 µm                         COL
//	74 ──[RST drain]══════════VDD   [SEL drain]═╪═
//	62 ═══SEL═════pad─────────╫────gate─────────╪═
//	50 ═══RST══gate──pad══════╫═════════════════╪═
//	   ┌───────────────┐      ║     ┌──┐        ║
//	28 │  photodiode  ═╪══════╫══gate──────     ║
//	14 └───────────────┘      ╚═════╡  │        ║
func Parts() []Part {
	return []Part{
		// Photodiode and reset transistor, W 1.0 µm: one diffusion.
		outline("diffusion", false, 4, 4, 44, 4, 44, 42, 20, 42, 20, 78, 10, 78, 10, 42, 4, 42),
		// Follower, W 1.6 µm, and row select, W 1.2 µm: another.
		outline("diffusion", false, 54, 10, 70, 10, 70, 44, 66, 44, 66, 78, 54, 78),
		outline("photo", false, 1, 1, 47, 1, 47, 42, 1, 42),
		// Two of the gates are drawn in two pieces that abut, bar and pad: in a hand's tracing these miss each other.
		box("poly", false, 5, 47, 23, 53), box("poly", false, 23, 45, 33, 55), // reset, L 0.6 µm
		box("poly", false, 45, 24, 75, 32),                                     // follower, L 0.8 µm
		box("poly", false, 46, 59, 71, 64), box("poly", false, 36, 57, 46, 67), // row select, L 0.5 µm
		box("contact", false, 12.5, 70.5, 17.5, 75.5), // reset to supply
		box("contact", false, 25.5, 47.5, 30.5, 52.5), // reset line
		box("contact", false, 38.5, 59.5, 43.5, 64.5), // select line
		box("contact", false, 35, 25.5, 40, 30.5),     // photodiode
		box("contact", false, 46.5, 25.5, 51.5, 30.5), // follower's gate
		box("contact", false, 58, 12, 63, 17),         // follower to supply
		box("contact", false, 58, 70.5, 63, 75.5),     // select to column
		wire("metal1", -20, 50, 100, 50, 8),           // reset line
		wire("metal1", -20, 62, 100, 62, 8),           // select line
		box("metal1", true, 11, 69, 52, 77),
		box("metal1", true, 42, 10.5, 65, 18.5),
		box("metal1", true, 33, 24, 53, 32), // photodiode to the follower's gate
		box("metal1", true, 56, 69, 77, 77),
		box("via1", true, 44, 70, 50, 76),
		box("via1", true, 44, 11.5, 50, 17.5),
		box("via1", true, 69, 70, 75, 76),
		wire("metal2", 47, -20, 47, 100, 10), // supply
		wire("metal2", 72, -20, 72, 100, 10), // column
	}
}

// Labels returns the names that the tracings carry. Whose line is whose is known from the rim of the imager, say.
func Labels() []Label {
	return []Label{
		{"metal1", "RST", at(2, 50), true}, {"metal1", "SEL", at(2, 62), true},
		{"metal2", "VDD", at(47, 4), true}, {"metal2", "COL", at(72, 4), true},
	}
}

// Transistor is a transistor as drawn: its name in truth.sp, the net of its gate there, and its size in nm.
type Transistor struct {
	Name, Gate string
	W, L       float64
}

// Transistors are those of the pixel, as read off the drawing above.
var Transistors = []Transistor{{"MRST", "RST", 1000, 600}, {"MSF", "PD", 1600, 800}, {"MSEL", "SEL", 1200, 500}}

func at(x, y float64) geom.Vec { return geom.Vec{X: x * unit, Y: y * unit} }

func outline(layer string, metal bool, xy ...float64) Part {
	p := Part{Layer: layer, Metal: metal}
	for i := 0; i < len(xy); i += 2 {
		p.Outline = append(p.Outline, at(xy[i], xy[i+1]))
	}
	return p
}

func box(layer string, metal bool, x0, y0, x1, y1 float64) Part {
	return outline(layer, metal, x0, y0, x1, y0, x1, y1, x0, y1)
}

func wire(layer string, x0, y0, x1, y1, width float64) Part {
	return Part{Layer: layer, Wire: [2]geom.Vec{at(x0, y0), at(x1, y1)}, Width: width * unit, Metal: true}
}
