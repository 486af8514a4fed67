package ambiguous

// bank is a capacitor made of squares of poly in pairs of rows: the upper row of a pair is moved by half a pitch where it is
// staggered. A zigzag of metal joins all squares of a pair, a line below and one above it the diffusion.
//
//	═════════════════╗  A
//	  ┌──┐   ┌──┐    ║
//	  └─╱╲┐  └─╱╲┐   ║
//	┌──╱  ╲──┐╱  ╲   ║  the zigzag: the gate's net
//	└─╱┘  └╲╱┘       ║
//	═════════════════╝
type bank struct {
	own        bool // each square over a diffusion of its own
	staggered  bool
	pairs      int
	columns, a int // squares in a row, their side
}

func (s *sheet) bank(ptype bool, k bank, t terminals) body {
	kind := SharedBank
	if k.own {
		kind = OwnBank
	}
	s.begin(kind, ptype)
	const rim, gap, strip = 2, 3, 6 // diffusion beside a square; between diffusions; with contacts
	pitch := k.a + 2*rim + gap
	shift := 0
	if k.staggered {
		shift = pitch / 2
	}
	high := 2*(strip+k.a+rim) + gap // of a pair
	wide := k.columns*pitch - gap + shift
	right := wide + 4 // of the bar that joins the lower plates
	for j := range k.pairs {
		y := j * (high + gap)
		rows := [2]int{y + strip, y + high - strip - k.a} // lower borders of the squares
		if !k.own {
			s.box(s.active(), 0, y, wide, y+high)
		}
		for r, low := range rows {
			for i := range k.columns {
				x := rim + i*pitch + r*shift
				if k.own {
					y0, y1 := low-strip, low+k.a+rim
					if r == 1 {
						y0, y1 = low-rim, low+k.a+strip
					}
					s.box(s.active(), x-rim, y0, x+k.a+rim, y1)
				}
				s.box(poly, x, low, x+k.a, low+k.a)
				s.channel(x+k.a/2-1, low+2, 4*k.a, 1, k.a*k.a, t.gate, t.a, t.a)
				cx, cy := x+k.a/2, low+k.a/2
				s.contacts(contact, cx-3, cy-3, cx+3, cy+3)
				s.box(metal1, cx-3, cy-3, cx+3, cy+3)
				s.on(metal1, cx, cy, t.gate)
				edge := y + 1
				if r == 1 {
					edge = y + high - 5
				}
				s.contacts(contact, x, edge, x+k.a, edge+4)
				s.on(s.active(), cx, edge, t.a)
			}
		}
		for _, edge := range []int{y + 1, y + high - 5} {
			s.box(metal1, 0, edge, right+4, edge+4)
			s.on(metal1, wide/2, edge+2, t.a)
		}
		s.zigzag(k, pitch, shift, rows)
	}
	tall := k.pairs*(high+gap) - gap
	firstY, lastY := strip+k.a/2, (k.pairs-1)*(high+gap)+strip+k.a/2
	s.box(metal1, -6, firstY-2, -2, lastY+2) // joins the zigzags
	s.box(metal1, gateColumn, lastY-2, -2, lastY+2)
	s.on(metal1, gateColumn+2, lastY, t.gate)
	b := body{left: -clearLeft, right: right + 4, low: -8, high: tall + 4, ports: s.gateMetal(lastY-2, t.gate, t.driven)}
	if t.a == supply {
		s.box(metal1, right, 1, right+4, tall+4)
		b.ports = append(b.ports, port{t.a, right, right + 4, tall + 4, true})
	} else {
		s.box(metal1, right, -8, right+4, tall-1)
		b.ports = append(b.ports, port{t.a, right, right + 4, -8, false})
	}
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, rim+k.a/2-1, strip+2, 0, 0, 0, 0, wide, tall)
	return b
}

// zigzag joins the squares of two rows: from one to the next in turns where they are staggered, else along a meander.
func (s *sheet) zigzag(k bank, pitch, shift int, rows [2]int) {
	xy := []int{-4, rows[0] + k.a/2}
	for i := range k.columns {
		for n := range 2 {
			r := n
			if !k.staggered {
				r = (n + i) % 2
			}
			xy = append(xy, 2+i*pitch+r*shift+k.a/2, rows[r]+k.a/2)
		}
	}
	s.wire(metal1, 4, xy...)
}
