package region

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
)

// Piece is a region that hangs together by edges.
type Piece struct {
	Polygon geom.Polygon // the outer ring comes first
	Sources []int        // indices of the polygons of the input that it is made of, ascending
}

// pieces makes polygons of the borders.
func (f *finder) pieces() []Piece {
	byNode := map[int32]*Piece{}
	sources := map[int32][]int{}
	for n, tags := range f.sources {
		root := f.find(n)
		sources[root] = append(sources[root], tags...)
	}
	for _, r := range trace(f.borders) {
		root := f.find(r.piece)
		p := byNode[root]
		if p == nil {
			p = &Piece{}
			byNode[root] = p
			for _, tag := range sources[root] {
				p.Sources = append(p.Sources, tag-1)
			}
			slices.Sort(p.Sources)
			p.Sources = slices.Compact(p.Sources)
		}
		p.Polygon = append(p.Polygon, r.points)
	}
	var all []Piece
	for _, p := range byNode {
		all = append(all, p.untie()...)
	}
	for i := range all {
		all[i].tidy()
	}
	slices.SortFunc(all, func(a, b Piece) int { return slices.CompareFunc(a.Polygon[0], b.Polygon[0], comparePoints) })
	return all
}

// tidy drops points in the middle of straight edges, begins each ring with its first point from the left, and puts the
// outer ring first.
func (p *Piece) tidy() {
	for i, r := range p.Polygon {
		out := straight(r)
		first := 0
		for k := range out {
			if comparePoints(out[k], out[first]) < 0 {
				first = k
			}
		}
		p.Polygon[i] = append(slices.Clone(out[first:]), out[:first]...)
	}
	slices.SortFunc(p.Polygon, func(a, b geom.Ring) int { return cmp.Or(-cmp.Compare(a.Sense(), b.Sense()), comparePoints(a[0], b[0])) })
}

// straight returns a ring without points in the middle of straight edges.
func straight(r geom.Ring) (out geom.Ring) {
	for k, at := range r {
		if geom.Side(r[(k+len(r)-1)%len(r)], at, r[(k+1)%len(r)]) != 0 {
			out = append(out, at)
		}
	}
	return out
}

func comparePoints(p, q geom.Point) int { return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y)) }

// chain is a closed way along borders. It may come through a point more than once.
type chain struct {
	points geom.Ring
	piece  int32
}

// trace joins borders to rings. They meet at common ends: the sweep tells of slanted ones whole, from one hot pixel to the
// next, and of upright ones in pieces, as anything begins or ends on either side. Where more than two meet, a ring goes on along the next one clockwise from where it
// came from, so that what lies on its left there is one wedge.
func trace(borders []border) []chain {
	slices.SortFunc(borders, func(p, q border) int { return cmp.Or(comparePoints(p.a, q.a), comparePoints(p.b, q.b)) })
	first := map[geom.Point]int{}
	for i := len(borders) - 1; i >= 0; i-- {
		first[borders[i].a] = i
	}
	used := make([]bool, len(borders))
	var rings []chain
	for i := range borders {
		if used[i] {
			continue
		}
		r := chain{piece: borders[i].piece}
		for k := i; !used[k]; {
			used[k] = true
			r.points = append(r.points, borders[k].a)
			from, at := borders[k].a, borders[k].b
			next := first[at]
			for n := next + 1; n < len(borders) && borders[n].a == at; n++ {
				if clockwise(at, from, borders[n].b, borders[next].b) {
					next = n
				}
			}
			k = next
		}
		rings = append(rings, r)
	}
	return rings
}

// clockwise reports whether, turning clockwise about at from the direction of from, that of p comes before that of q.
func clockwise(at, from, p, q geom.Point) bool {
	// 0: less than half a turn, 1: half a turn, 2: more
	turn := func(p geom.Point) int {
		switch geom.Side(at, from, p) {
		case -1:
			return 0
		case 1:
			return 2
		}
		return 1
	}
	if a, b := turn(p), turn(q); a != b {
		return a < b
	}
	return geom.Side(at, q, p) > 0
}
