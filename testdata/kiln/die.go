package kiln

import (
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Where things lie on the die, in units: the row driver and what is below it begin at x = -driverWidth, left of the imager.
const (
	driverWidth = 220
	pumpTop     = -100 // the pump lies below
	clockRow    = -220 // where the unit of the row driver that drives the pump begins
)

// Die returns the whole drawing. Its top cell is DIE, in the coordinates of IMAGER:
//
//	         RST, SEL
//	┌───────┬──────────────┐
//	│ row   │              │
//	│ driver│    IMAGER    │
//	├───────┤              │
//	│ bias  ├──────────────┤  loads
//	├───────┴────────┐─────┘
//	│ charge pump    │
//	└────────────────┘
//
// There are no bond pads: at this scale they would be most of the picture. What would lead to them has a label.
func Die() *layout.Library {
	lib := Library()
	row, bias, pump := drawDriver(), drawBias(), drawPump()
	top := &layout.Cell{Name: "DIE"}
	imager := lib.Cell("IMAGER")
	place := func(name string, c *layout.Cell, x, y, rows int) {
		p := layout.Placement{Name: name, Cell: c, Transform: geom.Move(geom.Point{X: x * unit, Y: y * unit})}
		if rows > 1 {
			p.Columns, p.Rows, p.RowExtent = 1, rows, geom.Vec{Y: float64(rows-1) * Pitch}
		}
		top.Placements = append(top.Placements, p)
	}
	place("imager", imager, 0, 0, 1)
	place("driver", row, -driverWidth, 0, Rows)
	place("bias", bias, 0, 0, 1)
	place("clocks", row, -driverWidth, clockRow, 1)
	place("pump", pump, 0, 0, 1)
	drawLinks(board{c: top})
	lib.Cells = append(lib.Cells, row, bias, pump, top)
	return lib
}

// drawLinks draws what joins the parts of the die, and names its nets.
func drawLinks(b board) {
	const above = Rows * Pitch / unit
	b.box(metal2, -164, -360, -152, 4) // ground, from the pump to the lowest row
	b.box(metal2, -46, -224, -34, 4)   // supply, likewise
	b.box(metal2, -46, above-4, -34, above+30)
	b.box(metal2, -46, above+10, 6, above+30) // supply of driver and imager
	for r := range Rows {
		b.label(metal1, -driverWidth+3, r*Pitch/unit+15, fmt.Sprintf("SIN<%d>", r))
		b.label(metal1, -driverWidth+3, r*Pitch/unit+67, fmt.Sprintf("RIN<%d>", r))
		b.label(metal1, 1, r*Pitch/unit+91, fmt.Sprintf("RST<%d>", r))
		b.label(metal1, 1, r*Pitch/unit+43, fmt.Sprintf("SEL<%d>", r))
	}
	for c := range Columns {
		b.label(metal2, c*Pitch/unit+82, -1, fmt.Sprintf("COL<%d>", c))
	}
	b.label(metal2, 1, above+20, "VDD")
	b.label(metal1, 1, -62, "GND")
	b.label(metal1, -60, -19, "VBIAS")
	b.label(metal1, -driverWidth+3, clockRow+15, "CK1")
	b.label(metal1, -driverWidth+3, clockRow+67, "CK2")
	b.label(metal1, 400, -295, "VPUMP")
	b.label(metal1, 277, -575, "SWON")
	b.label(metal1, 640, -320, "VHI")
}

// Sizes of the row driver as drawn, in nm: each buffer is two inverters, the second twice as strong.
const (
	DriverL  = 600
	DriverWN = 1600
	DriverWP = 3200
)

// drawDriver draws the unit of one row: a buffer for the select line, one for the reset line, with taps of well and
// substrate above them. Its origin is the lower left corner, it is driverWidth × Pitch.
func drawDriver() *layout.Cell {
	c := &layout.Cell{Name: "ROWDRV"}
	b := board{c: c}
	b.box(nwell, 116, 0, 208, 120)
	b.box(pplus, 126, -2, 198, 101)
	b.box(metal2, 56, 0, 68, 120)   // ground
	b.box(metal2, 174, 0, 186, 120) // supply
	drawBuffer(board{c, 0, -6}, 38)
	drawBuffer(board{c, 0, 46}, 86)
	// Taps: substrate, then well.
	b.box(diffusion, 44, 105, 70, 115)
	b.box(pplus, 42, 103, 72, 117)
	b.cut(contact, 51, 110)
	b.box(metal1, 46, 106, 68, 114)
	b.cut(via1, 62, 110)
	b.box(diffusion, 164, 105, 188, 115)
	b.cut(contact, 171, 110)
	b.box(metal1, 166, 106, 186, 114)
	b.cut(via1, 180, 110)
	return c
}

// drawBuffer draws two inverters one above the other, source to source; the line that they drive begins at a height of
// the unit.
//
//	y      n strip                 p strip
//	45 out ═╪═══════════════════════╪═════ line
//	39     ─┼────── second gate ────┼─
//	30 GND ═╪       ║               ╪═ VDD
//	21 in ══┼────── first gate ─────┼─
//	13      ╪═══════╝═══════════════╪
func drawBuffer(b board, line int) {
	strip := func(x, w int) { // the lower inverter is half as wide
		b.polygon(diffusion, geom.Polygon{{b.at(x, 8), b.at(x+w, 8), b.at(x+w, 30), b.at(x+2*w, 30), b.at(x+2*w, 52), b.at(x, 52)}})
	}
	strip(40, DriverWN/unit)
	strip(130, DriverWP/unit)
	b.box(poly, 11, 18, 168, 24)
	b.box(poly, 11, 16, 21, 26)
	b.box(poly, 34, 36, 200, 42)
	b.box(poly, 90, 28, 100, 42)
	b.cut(contact, 16, 21)
	b.box(metal1, 0, 17, 22, 25) // input
	b.cut(contact, 95, 33)
	for _, y := range []int{13, 30} {
		b.cuts(contact, 44, y, 2, 8, 0)
		b.cuts(contact, 135, y, 4, 8, 0)
	}
	b.cuts(contact, 44, 47, 4, 8, 0)
	b.cuts(contact, 135, 47, 7, 9, 0)
	b.box(metal1, 40, 9, 163, 17) // from the first to the second
	b.box(metal1, 91, 9, 99, 37)
	b.box(metal1, 40, 26, 68, 34)
	b.cut(via1, 62, 30)
	b.box(metal1, 131, 26, 186, 34)
	b.cut(via1, 180, 30)
	b.box(metal1, 40, 43, 212, 51)
	end := board{c: b.c}
	end.box(metal1, 204, line, driverWidth, line+10)
}

// Sizes of the bias as drawn, in nm.
const BiasPW, BiasPL = 1600, 4000

// drawBias draws what makes the gate voltage of the loads: a p transistor at the supply and an n transistor like a load, both
// with gate on drain. Coordinates are the die's.
func drawBias() *layout.Cell {
	c := &layout.Cell{Name: "BIAS"}
	b := board{c: c}
	// p, its source on the right
	b.box(nwell, -110, -62, -12, 4)
	b.box(diffusion, -97, -46, -34, -46+BiasPW/unit)
	b.box(pplus, -101, -50, -30, -26)
	b.box(poly, -46-BiasPL/unit, -52, -46, -24)
	b.box(poly, -87, -28, -77, -14)
	b.cut(contact, -82, -19)
	b.cuts(contact, -92, -42, 2, 0, 8)
	b.cut(contact, -40, -42)
	b.cut(via1, -40, -34)
	b.box(metal1, -45, -46, -35, -30)
	b.box(metal1, -97, -46, -87, -14)
	// n, its source on the left
	b.box(diffusion, -174, -46, -136, -46+LoadW/unit)
	b.box(poly, -163, -52, -163+LoadL/unit, -24)
	b.box(poly, -160, -28, -150, -14)
	b.cut(contact, -155, -19)
	b.cuts(contact, -169, -42, 2, 0, 8)
	b.cuts(contact, -142, -42, 2, 0, 8)
	b.box(metal1, -174, -68, -164, -30)
	b.box(metal1, -147, -46, -137, -14)
	// bias line, to the loads' poly, and ground
	b.box(metal1, -160, -24, -4, -14)
	b.box(metal1, -14, -43, -4, -14)
	b.box(poly, -14, -46, 4, -30)
	b.cut(contact, -9, -38)
	b.box(metal1, -174, -68, 4, -56)
	b.cut(via1, -158, -62)
	return c
}
