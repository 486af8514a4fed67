package kiln

import (
	"undermetal/layout"
	"undermetal/layout/geom"
)

// Sizes of the charge pump as drawn, in nm.
const (
	DiodeW, DiodeL        = 4000, 800   // the transistors with gate on drain
	PumpingW, PumpingL    = 5000, 10000 // the pumping capacitors: a gate with source and drain on the clock
	SquareSide, Squares   = 5000, 10    // the reservoir: squares of poly over one diffusion
	OpeningSide, MeshBar  = 4000, 1000  // the switch: a mesh of poly, its openings source and drain by turns
	MeshRows, MeshColumns = 4, 6
)

// drawPump draws the charge pump. Coordinates are the die's; two buffers of the row driver's kind, which DIE places, drive it.
//
//	PHI1 ──┤├── n1    PHI2 ──┤├── n2
//	VDD ─▷├─ n1 ─▷├─ n2 ─▷├─ VPUMP ──┬── switch ── VHI
//	                              reservoir
func drawPump() *layout.Cell {
	c := &layout.Cell{Name: "PUMP"}
	b := board{c: c}
	drawPumping(board{c, 30, -210})
	drawPumping(board{c, 200, -210})
	b.box(metal1, -4, -182, 40, -172) // PHI1
	b.box(metal1, -4, -134, 211, -124)
	b.box(metal1, 201, -166, 211, -124) // PHI2
	drawDiodes(b)
	// n1, from the first capacitor below the second to the chain
	b.box(metal1, 88, -154, 178, -144)
	b.box(metal1, 168, -264, 178, -144)
	b.box(metal1, 168, -264, 415, -254)
	b.box(metal1, 405, -264, 415, -234)
	// n2
	b.box(metal1, 258, -154, 426, -144)
	// VDD, on the second metal
	b.box(metal2, -46, -110, 382, -98)
	b.box(metal2, 370, -174, 382, -98)
	// VPUMP
	b.box(metal1, 438, -300, 448, -180)
	b.box(metal1, 250, -300, 448, -290)
	b.box(metal1, 250, -395, 260, -290)
	drawReservoir(board{c, -200, -520})
	drawSwitch(board{c, 330, -540})
	return c
}

// drawPumping draws a pumping capacitor: a plate over diffusion, with contacts on both sides, which the clock joins below.
func drawPumping(b board) {
	const w, l = PumpingW / unit, PumpingL / unit
	b.box(diffusion, 0, 0, l+26, w)
	b.box(poly, 13, -6, l+13, w+6)
	for _, x := range []int{1, l + 15} {
		b.cuts(contact, x+5, 6, 4, 0, 12)
		b.box(metal1, x, -20, x+10, w)
	}
	b.box(metal1, 1, -20, l+25, -10)
	b.box(poly, 58, w, 68, w+16)
	b.cut(contact, 63, w+11)
	b.box(metal1, 58, w+6, 68, w+16)
}

// drawDiodes draws three transistors in a row on one diffusion, each with its gate on the side that the charge comes from.
func drawDiodes(b board) {
	const w, l, low = DiodeW / unit, DiodeL / unit, -220
	const rim = 14
	b.box(diffusion, 370, low, 370+4*rim+3*l, low+w)
	for i := range 4 {
		x := 370 + i*(rim+l)
		b.cuts(contact, x+rim/2, low+6, 3, 0, 14)
		b.box(metal1, x+2, low, x+12, low+w)
		if i == 3 {
			break
		}
		// The gates have their contacts above, below, above.
		g := x + rim
		y0, y1 := low-6, low+w+6
		tab := low + w + 6
		if i == 1 {
			tab = low - 24
		}
		b.box(poly, g, min(y0, tab), g+l, max(y1, tab+10))
		b.box(poly, g, tab, g+10, tab+10)
		b.cut(contact, g+5, tab+5)
		b.box(metal1, x+2, tab, g+10, tab+10)
		b.box(metal1, x+2, min(low, tab), x+12, max(low+w, tab+10))
	}
	b.cut(via1, 377, -169)
	b.box(metal1, 372, -174, 382, -164)
	b.box(metal1, 416, -180, 426, -144) // n2, up to the second capacitor
}

// drawReservoir draws two rows of squares of poly over one diffusion, the upper row half a pitch further; a zigzag joins
// them, a line below and one above joins the diffusion to ground.
func drawReservoir(b board) {
	const a, pitch, wide, tall = SquareSide / unit, 80, 430, 182
	b.box(diffusion, 0, 0, wide, tall)
	var xy []int
	for i := range Squares / 2 {
		for r := range 2 {
			x, y := 10+i*pitch+r*pitch/2, 26+r*80
			b.box(poly, x, y, x+a, y+a)
			for _, d := range [][2]int{{-4, -4}, {4, -4}, {-4, 4}, {4, 4}} {
				b.cut(contact, x+a/2+d[0], y+a/2+d[1])
			}
			b.box(metal1, x+a/2-9, y+a/2-9, x+a/2+9, y+a/2+9)
			xy = append(xy, x+a/2, y+a/2)
		}
	}
	b.wire(metal1, 12, append(xy, 455, xy[len(xy)-1])...)
	for _, y := range []int{10, tall - 10} {
		b.cuts(contact, 15, y, 21, 20, 0)
		b.box(metal1, -16, y-6, wide, y+6)
	}
	b.box(metal1, -16, 4, -4, tall-4)
	b.cut(via1, 42, tall-10)
}

// drawSwitch draws the output switch: a mesh of poly over one diffusion. An opening in row r and column c is VPUMP's where r + c
// is even, else VHI's. Zigzag k passes column c in row k where c is even and in row k+1 where it is odd; even ones begin at
// a bar on the left, odd ones end at one on the right. The lowest and the highest run outside of the mesh in every second
// column.
func drawSwitch(b board) {
	const a, p, rim = OpeningSide / unit, (OpeningSide + MeshBar) / unit, 10
	const wide, tall = MeshColumns*p - MeshBar/unit, MeshRows*p - MeshBar/unit
	b.box(diffusion, 0, 0, wide, tall)
	mesh := geom.Polygon{b.ring(-2*rim, -2*rim, wide+2*rim, tall+2*rim)}
	for r := range MeshRows {
		for c := range MeshColumns {
			x0, y0 := c*p, r*p
			x1, y1 := x0+a, y0+a
			// The openings at the rim reach beyond the diffusion.
			if c == 0 {
				x0 -= rim
			}
			if c == MeshColumns-1 {
				x1 += rim
			}
			if r == 0 {
				y0 -= rim
			}
			if r == MeshRows-1 {
				y1 += rim
			}
			hole := b.ring(x0, y0, x1, y1)
			hole[1], hole[3] = hole[3], hole[1]
			mesh = append(mesh, hole)
			x, y := c*p+a/2, r*p+a/2
			for _, d := range [][2]int{{-4, -4}, {4, -4}, {-4, 4}, {4, 4}} {
				b.cut(contact, x+d[0], y+d[1])
			}
			b.box(metal1, x-9, y-9, x+9, y+9)
		}
	}
	b.polygon(poly, mesh)
	row := func(r int) int { return r*p + a/2 }
	for k := -1; k < MeshRows; k++ {
		var xy []int
		if k&1 == 0 {
			xy = append(xy, -20, row(k))
		}
		for c := range MeshColumns {
			xy = append(xy, c*p+a/2, row(k+c%2))
		}
		if k&1 != 0 {
			xy = append(xy, wide+20, xy[len(xy)-1])
		}
		b.wire(metal1, 10, xy...)
	}
	b.box(metal1, -30, row(0)-5, -10, 250)              // VPUMP
	b.box(metal1, wide+10, row(0)-5, wide+30, row(4)+5) // VHI
	b.box(poly, -58, tall-50, -16, tall-40)             // gate
	b.cut(contact, -53, tall-45)
	b.box(metal1, -58, -45, -48, tall-40)
}
