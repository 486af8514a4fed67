package region

import (
	"undermetal/layout/geom"
)

// untie cuts a piece that touches itself in corners until none does. Where it does, its rings as traced come through
// one point twice; one of the two loops between, or both, turn clockwise and so go around something that is not
// covered. A cut straight across that loop opens it; what is left on the side of the corner falls apart there.
func (p *Piece) untie() []Piece {
	loop := p.loop()
	if loop == nil {
		return []Piece{*p}
	}
	box := p.Polygon.Bounds()
	at := middle(loop)
	whole := geom.Polygon{}
	for _, r := range p.Polygon { // each point would be a hot pixel
		whole = append(whole, straight(r))
	}
	left, right := cutAt(whole, geom.Rect{Min: box.Min, Max: geom.Point{X: at, Y: box.Max.Y}})
	all := append(left, right...)
	for i := range all {
		all[i].Sources = p.Sources
	}
	return all
}

// cutAt returns the pieces of a polygon inside a box and outside.
func cutAt(pg geom.Polygon, box geom.Rect) (inside, outside []Piece) {
	in := &input{}
	in.add(pg, 0, 0)
	in.add(geom.Polygon{box.Ring()}, 1, 0)
	return in.run(func(m uint64) bool { return m == 3 }, func(m uint64) bool { return m == 1 })
}

// loop returns a clockwise loop between two visits to one point: of several the one that lies most in the middle, so
// that the cuts halve the work. nil: no ring comes through a point twice.
func (p *Piece) loop() geom.Ring {
	var best geom.Ring
	box := p.Polygon.Bounds()
	off := 0
	consider := func(r geom.Ring) {
		if r.Sense() < 0 {
			b := r.Bounds()
			if d := abs(b.Min.X + b.Max.X - box.Min.X - box.Max.X); best == nil || d < off {
				best, off = r, d
			}
		}
	}
	for _, r := range p.Polygon {
		if once(r) {
			continue
		}
		loops := loops(r)
		if len(loops) > 1 {
			for _, l := range loops {
				consider(l)
			}
		}
	}
	return best
}

// once reports that a ring of few points comes to each of them once; of one with many nobody has looked.
func once(r geom.Ring) bool {
	if len(r) > 24 {
		return false
	}
	for i, p := range r {
		for _, q := range r[:i] {
			if p == q {
				return false
			}
		}
	}
	return true
}

// loops takes a ring apart where it comes back to a point.
func loops(r geom.Ring) (all []geom.Ring) {
	where := map[geom.Point]int{}
	var way geom.Ring
	for _, p := range r {
		if k, again := where[p]; again {
			all = append(all, append(geom.Ring(nil), way[k:]...))
			for _, q := range way[k:] {
				delete(where, q)
			}
			way = way[:k]
		}
		where[p] = len(way)
		way = append(way, p)
	}
	return append(all, way)
}

// middle returns the x of an upright line that goes through the loop, not only past it: where the loop is 1 nm wide, the
// one along its upright edge. It has one, since all its points lie on two lines.
func middle(loop geom.Ring) int {
	b := loop.Bounds()
	if b.Width() > 1 {
		return b.Min.X + b.Width()/2
	}
	for i, p := range loop {
		if q := loop[(i+1)%len(loop)]; p.X == q.X && p.X == b.Min.X {
			return b.Min.X
		}
	}
	return b.Max.X
}

func abs(x int) int { return max(x, -x) }
