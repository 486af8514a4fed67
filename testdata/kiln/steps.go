package kiln

import (
	"fmt"

	"undermetal/layout/geom"
)

// Drawing is a file that the hand made: NAME.SHOT.svg.
type Drawing struct {
	File, Shot string // of what is traced, and the name of the photograph that it lies over
	SVG        []byte
}

// Drawings returns all tracings, in the order in which they come into a dossier.
func (h Hand) Drawings(shots []*Shot) (all []Drawing) {
	lib := Die()
	for n, g := range groups() {
		for _, s := range shots {
			all = append(all, Drawing{fmt.Sprintf("%s.%s.svg", g.name, s.Name), s.Name, h.svg(&g, n, s, lib)})
		}
	}
	return all
}

// Step is a part of the way from the tracings to the whole die.
type Step struct {
	What  string   // for people
	Files []string // of the drawings to bring in
	Lines []string // what undermetal trace do carries out then
}

// Steps returns the way: a unit is traced once, made a cell and repeated at the pitch; the rest is traced where it lies.
func Steps() []Step {
	pitch := float64(NewHand(Seed).Pitch()) / 1000
	both := func(name string) []string { return []string{name + ".metal.svg", name + ".stripped.svg"} }
	repeat := func(box, cell string, columns, rows int) []string {
		return []string{"select box " + box, "cell " + cell, fmt.Sprintf("array %d %d %g,0 0,%[3]g", columns, rows, pitch)}
	}
	return []Step{
		{"the unit cell of the imager, as an array", both("pixel"), repeat("-1,-1 13,13", "PIXEL", Columns, Rows)},
		{"the load below a column, once for each", both("load"), repeat("-1,-9 13,1", "LOAD", Columns, 1)},
		{"the unit of the row driver, once for each row", both("driver"), repeat("-23,-1 1,13", "ROWDRV", 1, Rows)},
		{"the edge of the array: bias, supplies, names", both("edge"), nil},
		{"the charge pump and what drives it", both("pump"), nil},
	}
}

// Copied reports whether what lies at a place, nm on the die, is a copy of what was traced elsewhere: of the imager and of what stands in
// its rows and columns one member was traced.
func Copied(at geom.Point) bool {
	return at.Y >= -loadHeight && (at.X >= Pitch || at.Y >= Pitch)
}

// OfPump reports whether a place, nm on the die, lies in the charge pump or in what drives it.
func OfPump(at geom.Point) bool { return at.Y < pumpTop*unit }

// Block is a block of the die's block diagram, which is made up like the die: figure 1 of the document Document.
type Block struct {
	Name, Sign string // without a sign it is in no diagram
	Box        string // where the hand sees it on the photograph with metal, X0,Y0,X1,Y1 in µm; empty: nowhere
	Why        string // what the hand sees there
	Pattern    string // what recognition is to find there, so that it is what the diagram says; empty: nothing would tell
}

// Document is the number of the data sheet that has the block diagram.
const Document = "KL-2"

// Blocks returns the blocks of the diagram, and what a hand sees on the die beside them.
func Blocks() []Block {
	return []Block{
		{"pixel array", "1", "0,0,144,240", "one cell in twelve columns and twenty rows", "pixel_3t"},
		{"column loads", "2", "0,-8,144,0", "one cell below each column", "column_load"},
		{"row driver", "3", "-22,0,0,240", "one cell beside each row, its lines go into the array", "row_driver"},
		{"charge pump", "4", "-22,-25,55,-12", "two plates, each beside a clocked driver", "charge_pump_dickson"},
		{"bias", "5", "-22,-8,0,0", "two transistors whose gates go to the column loads", ""},
		{"output switch", "6", "32,-62,66,-38", "a mesh of poly", ""},
		{"row address", "7", "", "", ""},
		{"squares of poly", "", "-31,-60,14,-39", "ten of them over one diffusion, joined by metal", ""},
	}
}
