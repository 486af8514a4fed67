// Package kiln makes the worked example: a kiln-window flicker sensor, its imager of 12 columns × 20 rows of three-transistor
// pixels with a load transistor under each column, a row driver, and a charge pump.
//
//   - kiln.go     the imager; die.go: the row driver, the bias, the whole; pump.go: the charge pump; board.go: what draws them
//   - truth.go    the circuit that they are, written down by hand in truth.sp, and what the look-alikes are
//   - shots.go    photographs: one with all metal on it, one stripped to poly, diffusion and contacts; micrometer.go: one of a stage micrometer
//   - hand.go     tracings over these and control points, off as a hand is; steps.go: the order in which they come into a dossier
//
// The photographs are rendered when they are wanted (testdata/photo). The tracings lie beside this file, in SVG, of seed Seed;
// go test ./cmd/undermetal -run TestKilnFiles -update makes them anew.
//
// The drawing and the process are ours, made up for this purpose; sizes are those of no product. Each pixel holds a
// photodiode, a reset transistor, a source follower and a row-select transistor:
//
//	VDD ──┤reset├── photodiode ── gate of the follower;  VDD ──┤follower├──┤select├── column
package kiln

import (
	_ "embed"
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Stack is the stack file that goes with the drawing.
//
//go:embed kiln.stack.toml
var Stack []byte

// The size of the imager and the pitch of its pixels in nm.
const (
	Columns, Rows = 12, 20
	Pitch         = 12000
	loadHeight    = 8000
)

// Channel sizes as drawn, in nm; the tests hold the extraction against them.
const (
	PixelW, PixelL = 1200, 600
	LoadW, LoadL   = 1600, 1600
)

// The layers of kiln.stack.toml, in its order.
const (
	diffusion layout.Layer = iota
	poly
	nwell
	pplus
	photoMark
	contact
	metal1
	via1
	metal2
)

// Library returns the drawing. Its top cell is IMAGER.
func Library() *layout.Library {
	pixel, load := drawPixel(), drawLoad()
	top := &layout.Cell{Name: "IMAGER"}
	place := func(name string, c *layout.Cell, rows, y int) {
		top.Placements = append(top.Placements, layout.Placement{
			Name: name, Cell: c, Transform: geom.Move(geom.Point{Y: y}), Columns: Columns, Rows: rows,
			ColumnExtent: geom.Vec{X: (Columns - 1) * Pitch}, RowExtent: geom.Vec{Y: float64(rows-1) * Pitch},
		})
	}
	place("pixels", pixel, Rows, 0)
	place("loads", load, 1, -loadHeight)
	drawSupply(top)
	name := func(l layout.Layer, x, y int, text string) {
		top.Labels = append(top.Labels, layout.Label{Layer: l, At: geom.Point{X: x, Y: y}, Text: text})
	}
	for r := range Rows {
		name(metal1, 100, r*Pitch+9100, fmt.Sprintf("RST<%d>", r))
		name(metal1, 100, r*Pitch+4300, fmt.Sprintf("SEL<%d>", r))
	}
	for c := range Columns {
		name(metal2, c*Pitch+8200, -100, fmt.Sprintf("COL<%d>", c))
	}
	name(metal2, 100, Rows*Pitch+2000, "VDD")
	name(metal1, 100, 1800-loadHeight, "GND")
	name(poly, 100, 4200-loadHeight, "VBIAS")
	return &layout.Library{
		Name:   "KILN",
		Layers: []string{"diffusion", "poly", "nwell", "pplus", "photo", "contact", "metal1", "via1", "metal2"},
		Cells:  []*layout.Cell{pixel, load, top},
	}
}

func box(c *layout.Cell, l layout.Layer, x0, y0, x1, y1 int) {
	c.Shapes = append(c.Shapes, layout.Shape{Layer: l, Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}})
}

// drawPixel draws one pixel with its origin at the lower left.
func drawPixel() *layout.Cell {
	c := &layout.Cell{Name: "PIXEL"}
	// The photodiode, and the reset transistor on a strip that leaves it upwards.
	box(c, diffusion, 1000, 1000, 6000, 8400)
	box(c, photoMark, 1000, 1000, 6000, 8400)
	box(c, diffusion, 2400, 8400, 2400+PixelW, 11200)
	box(c, poly, 1800, 8800, 7600, 8800+PixelL)
	box(c, poly, 6700, 8700, 7600, 9500)
	box(c, contact, 6900, 8900, 7300, 9300)
	box(c, metal1, 0, 8600, Pitch, 9600) // reset line of the row
	box(c, contact, 2800, 10400, 3200, 10800)
	box(c, metal1, 2500, 10100, 11400, 11100)
	box(c, via1, 10700, 10400, 11100, 10800)
	// Follower above, select transistor below, on one strip.
	box(c, diffusion, 7600, 1000, 7600+PixelW, 8000)
	box(c, poly, 6800, 5600, 9400, 5600+PixelL)
	box(c, poly, 6500, 5400, 7300, 6400)
	box(c, contact, 6700, 5700, 7100, 6100)
	box(c, contact, 5300, 5700, 5700, 6100)
	box(c, metal1, 5100, 5400, 7300, 6400) // photodiode to the follower's gate
	box(c, contact, 8000, 7300, 8400, 7700)
	box(c, metal1, 7700, 7000, 11400, 8000)
	box(c, via1, 10700, 7300, 11100, 7700)
	box(c, poly, 6800, 4000, 10000, 4000+PixelL)
	box(c, poly, 9300, 3800, 10100, 4800)
	box(c, contact, 9500, 4100, 9900, 4500)
	box(c, metal1, 0, 3800, Pitch, 4800) // select line of the row
	box(c, contact, 8000, 1700, 8400, 2100)
	box(c, metal1, 7800, 1400, 8600, 3000)
	box(c, via1, 8000, 2400, 8400, 2800)
	box(c, metal2, 7700, 0, 8700, Pitch)   // column
	box(c, metal2, 10400, 0, 11400, Pitch) // supply
	return c
}

// drawLoad draws the load transistor of one column, with the substrate tap beside it.
func drawLoad() *layout.Cell {
	c := &layout.Cell{Name: "LOAD"}
	box(c, diffusion, 7400, 1000, 7400+LoadW, 7000)
	box(c, poly, 0, 3400, Pitch, 3400+LoadL)
	box(c, contact, 8000, 5600, 8400, 6000)
	box(c, metal1, 7700, 5300, 8700, 6900)
	box(c, via1, 8000, 6200, 8400, 6600)
	box(c, metal2, 7700, 5300, 8700, loadHeight)
	box(c, contact, 8000, 1600, 8400, 2000)
	box(c, metal1, 0, 1200, Pitch, 2400)
	box(c, diffusion, 2000, 1300, 3200, 2300)
	box(c, pplus, 1800, 1100, 3400, 2500)
	box(c, contact, 2400, 1600, 2800, 2000)
	return c
}

// drawSupply joins the supply lines above the array.
func drawSupply(c *layout.Cell) {
	top := Rows * Pitch
	box(c, metal2, 0, top+1000, Columns*Pitch, top+3000)
	for i := range Columns {
		box(c, metal2, i*Pitch+10400, top-500, i*Pitch+11400, top+1500)
	}
}
