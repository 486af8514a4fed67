package ambiguous

import (
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// Of an inverter: where its output lies, from its origin.
const outLeft, outRight = 9, 13

// inverter draws an inverter with an n transistor of width wn below a p transistor of width wp, gates 2 long. It returns how far up
// its output reaches, too.
func (s *sheet) inverter(wn, wp int, in, out string) (body, int) {
	s.begin(Inverter, true)
	const wide, gate = 14, 6
	p := wn + 14 // lower border of the p diffusion
	half := func(y, w int, source string) {
		s.box(s.active(), 0, y, wide, y+w)
		s.contacts(contact, 1, y+1, 5, y+w-1)
		s.contacts(contact, outLeft, y+1, outRight, y+w-1)
		s.on(s.active(), 1, y+w/2, source)
		s.on(s.active(), outRight, y+w/2, out)
		s.channel(gate+1, y+w/2, 2*w, 2, 2*w, in, source, out)
	}
	half(p, wp, supply)
	s.ptype = false
	half(0, wn, ground)
	s.box(poly, gate, -2, gate+2, p+wp+2)
	s.box(poly, -3, wn+5, gate+2, wn+9)
	s.plug(-3, wn+5, 1, wn+9, in)
	s.box(metal1, -7, wn+5, 1, wn+9)
	s.label(metal1, -5, wn+7, in)
	top := p + wp - 1
	s.box(metal1, outLeft, 1, outRight, top)
	s.on(metal1, outLeft+2, wn+7, out)
	s.box(metal1, 1, -4, 5, wn-1)
	s.box(metal1, 1, p+1, 5, p+wp+4)
	b := body{left: -7, right: wide, low: -4, high: p + wp + 4,
		ports: []port{{ground, 1, 5, -4, false}, {supply, 1, 5, p + wp + 4, true}},
		wells: []geom.Rect{geom.Box(-5, p-5, wide+5, p)}}
	s.finish(poly, gate+1, wn/2, wn+wp, 2, 0, -2, wide, p+wp+2)
	return b, top
}

// output puts a name on an inverter's output that leads nowhere else.
func (s *sheet) output(wn int, out string) { s.label(metal1, outLeft+2, wn+7, out) }

// dummyRow draws n (even) transistors between A and B side by side, with one more at either end that has A on source and drain,
// and on its gate, too, or where the gate runs on, as word lines do at the edge of a memory, the gate of the row; gates are l
// long, the diffusion is w high. Of the two structures that it makes the dummies come first.
func (s *sheet) dummyRow(n, l, w int, runsOn bool, t terminals) body {
	s.begin(EdgeDummy, false)
	pitch := side + l
	all := n + 2
	wide := all*pitch + side
	s.box(diff, 0, 0, wide, w)
	at := func(i int) int { return side + i*pitch }
	for _, i := range []int{0, all - 1} {
		x := at(i)
		if runsOn {
			s.now.Reason = "it stands at the end of a row of equal gates, with one net on source and drain"
			s.box(poly, x, -2, x+l, w+6)
			s.channel(x+l/2, w/2, 2*w, 2, l*w, t.gate, t.a, t.a)
			continue
		}
		s.box(poly, x, -4, x+l, w+2)
		mid := x + l/2
		s.box(poly, mid-2, -8, mid+2, -4)
		s.contacts(contact, mid-2, -8, mid+2, -4)
		s.channel(x+l/2, w/2, 2*w, 2, l*w, t.a, t.a, t.a)
	}
	low, last := -8, at(n)+l
	if runsOn {
		low, last = -2, at(all-1)+l
	}
	s.finish(poly, at(0)+l/2, w/2, 2*w, l, 0, low, wide, w+2)
	s.begin(Logic, false)
	s.now.Reason = "its sides lead to two nets; the dummies beside it do not"
	for i := 1; i <= n; i++ {
		x := at(i)
		s.box(poly, x, -2, x+l, w+6)
		net := [2]string{t.a, t.b}
		s.channel(x+l/2, w/2, 2*w, 2, l*w, t.gate, net[(i+1)%2], net[i%2])
	}
	s.box(poly, gateColumn+2, w+4, last, w+8)
	for i := range all + 1 {
		x := i*pitch + 1
		s.contacts(contact, x, 1, x+4, w-1)
		net := t.a
		if i%2 == 0 && i > 0 && i < all {
			net = t.b
			s.box(metal1, x, 0, x+4, w+14)
		} else {
			s.box(metal1, x, -8, x+4, w)
		}
		s.on(metal1, x+2, w/2, net)
		s.on(diff, x+2, w/2, net)
	}
	s.box(metal1, 1, -8, all*pitch+5, -4)
	s.box(metal1, 2*pitch+1, w+10, n*pitch+5, w+14)
	b := body{left: -clearLeft, right: wide, low: -8, high: w + 14}
	b.ports = append(s.gate(gateColumn+4, w+4, t.gate, t.driven), port{t.a, 1, 5, -8, false},
		port{t.b, 2*pitch + 1, 2*pitch + 5, w + 14, true})
	s.finish(poly, at(1)+l/2, w/2, n*w, l, at(1), -2, at(n)+l, w+8)
	return b
}

// serpentine draws n (odd) legs of poly 2 wide and h high that hang together at their ends by turns, from A below to B above, with a
// strip on either side that lies on ground.
func (s *sheet) serpentine(n, h int, a, b string) body {
	const width, pitch = 2, 6
	s.begin(Serpentine, false)
	var xy []int
	for i := range n {
		x := (i+1)*pitch + 1
		y0, y1 := 1, h-1
		if i == 0 {
			y0 = -2
		}
		if i == n-1 {
			y1 = h + 2
		}
		if i%2 == 0 {
			xy = append(xy, x, y0, x, y1)
		} else {
			xy = append(xy, x, y1, x, y0)
		}
	}
	s.wire(poly, width, xy...)
	s.mark(resmark, pitch-1, 0, n*pitch+3, h)
	first, last := pitch+1, n*pitch+1
	s.box(poly, first-2, -5, first+2, -1)
	s.plug(first-2, -5, first+2, -1, a)
	s.box(poly, last-2, h+1, last+2, h+5)
	s.plug(last-2, h+1, last+2, h+5, b)
	s.on(poly, first, -1, a)
	s.on(poly, last, h+1, b)
	// From 0 to h: the first and the last leg have one corner each, all others two; between legs lies what the corners leave.
	straight := float64((n-2)*(h-2*width)+2*(h-width)+(n-1)*(pitch-width)) / width
	s.now.Ohmic = &Ohmic{A: a, B: b, WidthNm: float64(width * s.unit), Straight: straight, Corners: 2 * (n - 1), Rule: len(s.st.Resistors) > 0}
	s.finish(poly, pitch+1, h/2, 0, 0, pitch, 0, n*pitch+2, h)

	s.begin(ResistorDummy, false)
	for _, x := range []int{0, (n + 1) * pitch} {
		s.box(poly, x, -3, x+width, h)
		s.box(poly, x-1, -5, x+3, -1)
		s.plug(x-1, -5, x+3, -1, ground)
		s.on(poly, x+1, h/2, ground)
	}
	s.finish(poly, 1, h/2, 0, 0, 0, 0, (n+1)*pitch+width, h)
	return body{left: -2, right: (n+1)*pitch + 4, low: -5, high: h + 5, ports: []port{
		{ground, -1, 3, -5, false}, {a, first - 2, first + 2, -5, false}, {b, last - 2, last + 2, h + 5, true},
		{ground, (n+1)*pitch - 1, (n+1)*pitch + 3, -5, false}}}
}

func (s *sheet) mark(layer string, x0, y0, x1, y1 int) {
	if s.has(layer) {
		s.box(layer, x0, y0, x1, y1)
	}
}

// twoPolys draws a plate of poly2, joined to B above, over one of poly, joined to A below, over a well with a tap.
func (s *sheet) twoPolys(w, h int, a, b string) body {
	s.begin(TwoPolys, false)
	s.box(nwell, -6, -6, w+14, h+6)
	s.box(poly, 0, 0, w, h)
	s.plug(1, 1, 5, h-1, a)
	s.box(metal1, 1, -8, 5, 2)
	s.on(poly, 6, 1, a)
	s.box(poly2, 8, 2, w-2, h-2)
	s.plug(10, 4, w-4, h-4, b)
	s.on(poly2, 9, h/2, b)
	s.box(metal1, 12, h-6, 16, h+8)
	s.box(diff, w+4, 0, w+10, h)
	s.plug(w+5, 1, w+9, h-1, supply)
	s.box(metal1, w+5, h-3, w+9, h+8)
	u := float64(s.unit)
	s.now.Area = float64((w-10)*(h-4)) * u * u
	s.finish(poly2, 9, h/2, 0, 0, 0, 0, w, h)
	return body{left: -6, right: w + 14, low: -8, high: h + 8,
		ports: []port{{a, 1, 5, -8, false}, {b, 12, 16, h + 8, true}, {supply, w + 5, w + 9, h + 8, true}}}
}

// withMark returns a stack with a mark for resistors of poly and the rule that goes with it.
func withMark(st *stack.Stack) *stack.Stack {
	body, _ := st.LayerNamed(poly)
	st.Layers = append(slices.Clip(st.Layers), stack.Layer{Name: resmark, Role: stack.Mark, Color: "#999999"})
	st.Resistors = []stack.ResistorRule{{Model: "rpoly", Body: body, SheetOhm: 25,
		Where: []stack.Condition{{Layer: layout.Layer(len(st.Layers) - 1)}}}}
	return st
}

// withCapacitor returns a stack that knows capacitors of two polys.
func withCapacitor(st *stack.Stack) *stack.Stack {
	upper, _ := st.LayerNamed(poly2)
	lower, _ := st.LayerNamed(poly)
	st.Capacitors = []stack.CapacitorRule{{Model: "cpoly", Upper: upper, Lower: lower, AreaAFUm2: 800}}
	return st
}
