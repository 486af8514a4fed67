package ambiguous

import "undermetal/layout/geom"

// waffle draws a mesh of poly over one diffusion with rows × columns square openings of a side, the bars l wide. An
// opening in row r and column c belongs to A where r + c is even, else to B. Where A is B, it is a capacitor.
//
// Zigzag k of metal passes column c in row k where c is even and in row k+1 where it is odd, so that zigzags run beside
// each other and never cross; even ones begin at a bar on the left (A), odd ones at one on the right (B). The lowest and the
// highest run outside of the mesh in every second column.
func (s *sheet) waffle(ptype bool, rows, columns, a, l int, t terminals) body {
	kind, w := Waffle, rows*(columns-1)+columns*(rows-1) // borders between neighbouring openings, then their length
	w *= a
	if t.a == t.b {
		kind = TiedMesh
	}
	s.begin(kind, ptype)
	p := a + l
	wide, tall := columns*p-l, rows*p-l
	s.box(s.active(), 0, 0, wide, tall)
	pg := geom.Polygon{s.ring(-4, -4, wide+4, tall+4)}
	for r := range rows {
		for c := range columns {
			x0, y0, x1, y1 := c*p, r*p, c*p+a, r*p+a
			// The openings at the rim reach beyond the diffusion.
			if c == 0 {
				x0 = -2
			}
			if c == columns-1 {
				x1 = wide + 2
			}
			if r == 0 {
				y0 = -2
			}
			if r == rows-1 {
				y1 = tall + 2
			}
			hole := s.ring(x0, y0, x1, y1)
			hole[1], hole[3] = hole[3], hole[1]
			pg = append(pg, hole)
			x, y := c*p+a/2, r*p+a/2
			s.box(contact, x-1, y-1, x+1, y+1)
			s.box(metal1, x-2, y-2, x+2, y+2)
			net := [2]string{t.a, t.b}[(r+c)%2]
			s.on(metal1, x, y, net)
			s.on(s.active(), x+2, y+2, net)
		}
	}
	s.polygon(poly, pg)
	s.channel(a+l/2, a+l/2, 2*w, 2, wide*tall-rows*columns*a*a, t.gate, t.a, t.b)

	row := func(r int) int { return r*p + a/2 }
	low, high := row(-1)-4, row(rows)+4
	topA := 0
	for k := -1; k < rows; k++ {
		var xy []int
		if k&1 == 0 {
			xy, topA = append(xy, -4, row(k)), row(k)
		}
		for c := range columns {
			xy = append(xy, c*p+a/2, row(k+c%2))
		}
		if k&1 != 0 {
			xy = append(xy, wide+4, xy[len(xy)-1])
		}
		s.wire(metal1, 2, xy...)
	}
	s.box(metal1, -6, low, -2, topA+2)
	b := body{left: -clearLeft, right: wide + 6, low: low, high: high}
	b.ports = append(s.gate(-3, tall-a, t.gate, t.driven), port{t.a, -6, -2, low, false})
	x := a + l/2
	if kind == TiedMesh {
		s.box(metal1, wide+2, low, wide+6, high)
		s.box(metal1, -6, low, wide+6, low+2)
		w, l = 0, 0
	} else {
		s.box(metal1, wide+2, row(-1)-2, wide+6, high)
		b.ports = append(b.ports, port{t.b, wide + 2, wide + 6, high, true})
	}
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, x, x, w, l, -4, -4, wide+4, tall+4)
	return b
}
