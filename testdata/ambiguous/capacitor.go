package ambiguous

// tied draws n plates of length l over a diffusion of height w, all sides of which are joined to A.
func (s *sheet) tied(ptype bool, n, l, w int, t terminals) body {
	s.begin(TiedPlate, ptype)
	pitch := side + l
	wide := n*pitch + side
	s.box(s.active(), 0, 0, wide, w)
	for i := range n {
		x := side + i*pitch
		s.box(poly, x, -2, x+l, w+4)
		s.channel(x+l/2, w/2, 2*w, 2, l*w, t.gate, t.a, t.a)
	}
	s.box(poly, gateColumn+2, w+2, side+(n-1)*pitch+l, w+6)
	up := t.a == supply
	b := body{left: -clearLeft, right: wide, low: -8, high: w + 12}
	for i := range n + 1 {
		x := i*pitch + 1
		s.contacts(contact, x, 1, x+4, w-1)
		if up {
			s.box(metal1, x, 0, x+4, w+12)
		} else {
			s.box(metal1, x, -8, x+4, w)
		}
		s.on(metal1, x+2, w/2, t.a)
		s.on(s.active(), x+2, w/2, t.a)
	}
	if up {
		s.box(metal1, 1, w+8, wide-1, w+12)
		b.ports = []port{{t.a, 1, 5, w + 12, true}}
	} else {
		s.box(metal1, 1, -8, wide-1, -4)
		b.ports = []port{{t.a, 1, 5, -8, false}}
	}
	b.ports = append(b.ports, s.gate(gateColumn+4, w+2, t.gate, t.driven)...)
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, side+l/2, w/2, 0, 0, 0, -2, wide, w+6)
	return b
}

// oneSided draws one plate over n diffusions, each w wide, that reach deep beneath it and end there.
func (s *sheet) oneSided(ptype bool, n, w, deep int, t terminals) body {
	s.begin(OneSided, ptype)
	pitch := w + 4
	wide := n*pitch - 4
	s.box(poly, -3, side, wide+3, side+deep+3)
	for i := range n {
		x := i * pitch
		s.box(s.active(), x, 0, x+w, side+deep)
		s.channel(x+w/2, side+deep/2, w, 1, w*deep, t.gate, t.a, t.a)
		s.contacts(contact, x+1, 1, x+w-1, 5)
		s.on(s.active(), x+w/2, 1, t.a)
	}
	s.box(metal1, 0, 1, wide, 5)
	s.on(metal1, wide/2, 3, t.a)
	s.box(metal1, 1, -8, 5, 5)
	b := body{left: -clearLeft, right: wide + 3, low: -8, high: side + deep + 3}
	b.ports = append(s.gate(-2, side+2, t.gate, t.driven), port{t.a, 1, 5, -8, false})
	s.wellAround(&b, 0, 0, wide)
	s.finish(poly, w/2, side+deep/2, 0, 0, -3, 0, wide+3, side+deep+3)
	return b
}

// noDiffusion draws a plate with nothing beneath but field, or a well: what faces it is that well, with a
// strip of taps below, or a plate of metal.
func (s *sheet) noDiffusion(well bool, w, h int, t terminals) body {
	s.begin(NoDiffusion, false)
	s.box(poly, 0, 0, w, h)
	b := body{left: -clearLeft, right: w + 8, low: -12, high: h + 2, ports: s.gate(2, h-6, t.gate, t.driven)}
	s.on(poly, w/2, h/2, t.gate)
	area := w * h
	if well && s.has(nwell) {
		s.box(nwell, -5, -12, w+5, h+5)
		s.box(diff, 0, -8, w, -2)
		s.plug(1, -7, w-1, -3, t.a)
		s.on(diff, w/2, -7, t.a)
		b.ports = append(b.ports, port{t.a, 1, 5, -7, false})
	} else {
		area = (w - 4) * (h - 2)
		s.box(metal1, 4, 1, w, h-1)
		s.box(metal1, 4, -12, 8, 3)
		s.on(metal1, w/2, h/2, t.a)
		b.ports = append(b.ports, port{t.a, 4, 8, -12, false})
	}
	u := float64(s.unit)
	s.now.Area = float64(area) * u * u
	s.finish(poly, w/2, h/2, 0, 0, 0, 0, w, h)
	return b
}

// covered draws a plate over a diffusion that ends beneath it on all sides: no source, no drain.
func (s *sheet) covered(w, h int, t terminals) body {
	s.begin(CoveredPlate, false)
	s.box(poly, -3, -3, w+3, h+3)
	s.box(diff, 0, 0, w, h)
	s.channel(w/2, h/2, 0, 0, w*h, t.gate, "", "")
	b := body{left: -clearLeft, right: w + 3, low: -3, high: h + 3, ports: s.gate(-2, h-4, t.gate, t.driven)}
	s.finish(poly, w/2, h/2, 0, 0, -3, -3, w+3, h+3)
	return b
}
