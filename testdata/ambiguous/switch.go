package ambiguous

import "undermetal/layout/geom"

// terminals are the nets of a structure that is to be drawn. Of a switch A leaves it downwards and B upwards; of a capacitor A is the
// lower plate, which leaves it downwards unless it is the supply, and B is not used.
type terminals struct {
	gate, a, b string
	driven     bool // an inverter on the left drives the gate
}

// clearLeft is what a structure with a gate column needs left of its origin.
const clearLeft = 16

// side is how wide a source or drain with a column of contacts is.
const side = 6

// fingers draws n gates of length l side by side over a diffusion of height w, joined by a bar of poly above; sources
// are joined to A below, drains to B above.
//
//	 ═╤═══════╤═  B
//	▒▒▒▒▒▒▒▒▒▒▒▒  bar of poly
//	  │▒ │ ▒  │
//	  │▒ │ ▒  │   diffusion beneath all of it
//	   ══╧════    A
func (s *sheet) fingers(kind Kind, ptype bool, n, l, w int, t terminals) body {
	s.begin(kind, ptype)
	pitch := side + l
	wide := n*pitch + side
	s.box(s.active(), 0, 0, wide, w)
	for i := range n {
		x := side + i*pitch
		s.box(poly, x, -2, x+l, w+4)
		net := [2]string{t.a, t.b}
		s.channel(x+l/2, w/2, 2*w, 2, l*w, t.gate, net[i%2], net[(i+1)%2])
	}
	s.box(poly, gateColumn+2, w+2, side+(n-1)*pitch+l, w+6)
	last := 0
	for i := range n + 1 {
		x := i*pitch + 1
		last = x
		s.contacts(contact, x, 1, x+4, w-1)
		if i%2 == 0 {
			s.box(metal1, x, -7, x+4, w)
			s.on(metal1, x+2, w/2, t.a)
			s.on(s.active(), x+2, w/2, t.a)
		} else {
			s.box(metal1, x, 0, x+4, w+12)
			s.on(metal1, x+2, w/2, t.b)
			s.on(s.active(), x+2, w/2, t.b)
		}
	}
	lastA, lastB := last, last
	if n%2 == 0 {
		lastB -= pitch
	} else {
		lastA -= pitch
	}
	s.box(metal1, 1, -8, lastA+4, -4)
	s.box(metal1, pitch+1, w+8, lastB+4, w+12)
	b := body{left: -clearLeft, right: wide, low: -8, high: w + 12}
	b.ports = append(s.gate(gateColumn+4, w+2, t.gate, t.driven), port{t.a, 1, 5, -8, false}, port{t.b, pitch + 1, pitch + 5, w + 12, true})
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, side+l/2, w/2, n*w, l, 0, -2, wide, w+6)
	return b
}

// wellAround asks for a well around a diffusion from x0 to x1 that begins at y0.
func (s *sheet) wellAround(b *body, x0, y0, x1 int) {
	if s.ptype {
		b.wells = append(b.wells, geom.Box(x0-5, y0-5, x1+5, y0))
	}
}

// ringArm is how far the source reaches beyond a ring gate.
const ringArm = 6

// rings draws n gates that each enclose a drain of d × d, which is joined to B above; all of them lie in one source,
// which is joined to A below. From each ring an arm of poly runs up across the source.
func (s *sheet) rings(ptype bool, n, l, d int, t terminals) body {
	s.begin(EnclosedGate, ptype)
	outer := d + 2*l
	pitch := outer + ringArm
	wide, tall := n*pitch+ringArm, outer+2*ringArm
	s.box(s.active(), 0, 0, wide, tall)
	low := -8
	for i := range n {
		x, y := ringArm+i*pitch, ringArm
		hole := s.ring(x+l, y+l, x+l+d, y+l+d)
		hole[1], hole[3] = hole[3], hole[1]
		s.polygon(poly, geom.Polygon{s.ring(x, y, x+outer, y+outer), hole})
		mid := x + outer/2
		s.box(poly, mid-1, y+outer-min(l, 2), mid+1, tall+6)
		// The arm, 2 wide, is part of the channel: it covers 2·ringArm of the source, which borders it on both sides, and
		// takes its root away from the ring's border.
		s.channel(x+l/2, y+outer/2, 4*d+4*outer-2+2*ringArm, 2, outer*outer-d*d+2*ringArm, t.gate, t.a, t.b)
		s.contacts(contact, x+l, y+l, x+l+d, y+l+d)
		s.box(metal1, mid-d/2, y+l, mid-d/2+d, y+l+d)
		s.box(metal1, mid-2, y+l, mid+2, tall+12)
		s.on(metal1, mid, y+outer/2, t.b)
		s.on(s.active(), mid, y+outer/2, t.b)
	}
	for i := range n + 1 { // columns of contacts beside the rings
		x := i*pitch + 1
		s.contacts(contact, x, 1, x+4, tall-1)
		s.box(metal1, x, low, x+4, tall)
		s.on(metal1, x+2, tall/2, t.a)
		s.on(s.active(), x+2, 1, t.a)
	}
	s.box(metal1, 1, low, n*pitch+5, -4)
	s.box(poly, gateColumn+2, tall+2, ringArm+(n-1)*pitch+outer/2+1, tall+6)
	first := ringArm + outer/2
	s.box(metal1, first-2, tall+8, first+(n-1)*pitch+2, tall+12)
	b := body{left: -clearLeft, right: wide, low: low, high: tall + 12}
	b.ports = append(s.gate(gateColumn+4, tall+2, t.gate, t.driven), port{t.a, 1, 5, low, false}, port{t.b, first - 2, first + 2, tall + 12, true})
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, ringArm+l/2, ringArm+outer/2, 4*n*(d+l), l, 0, 0, wide, tall+6)
	return b
}
