package region

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// Piece is a region that hangs together by edges.
type Piece struct {
	Polygon geom.Polygon // the outer ring comes first
	Sources []int        // indices of the polygons of the input that it is made of, ascending
}

// pieces makes polygons of the borders. They meet at common ends: the sweep tells of slanted ones whole, from one hot pixel
// to the next, and of upright ones in pieces, as anything begins or ends on either side.
func (f *finder) pieces() []Piece {
	slices.SortFunc(f.borders, func(p, q border) int { return cmp.Or(comparePoints(p.A, q.A), comparePoints(p.B, q.B)) })
	edges := make([]sweep.Seg, len(f.borders))
	for i, b := range f.borders {
		edges[i] = b.Seg
	}
	var whole []Piece
	number := make([]int32, len(f.parent))   // by root, from 1
	for _, way := range sweep.Trace(edges) { // all points are kept: those that a piece comes through twice are looked for
		ring := make(geom.Ring, 0, len(way))
		for _, i := range way {
			ring = append(ring, edges[i].A)
		}
		root := f.find(f.borders[way[0]].piece)
		if number[root] == 0 {
			whole = append(whole, Piece{})
			number[root] = int32(len(whole))
		}
		p := &whole[number[root]-1]
		p.Polygon = append(p.Polygon, ring)
	}
	for _, s := range f.sources {
		if n := number[f.find(s.node)]; n > 0 {
			whole[n-1].Sources = append(whole[n-1].Sources, s.tag-1)
		}
	}
	var all []Piece
	for i := range whole {
		p := &whole[i]
		slices.Sort(p.Sources)
		p.Sources = slices.Compact(p.Sources)
		all = append(all, p.untie()...)
	}
	for i := range all {
		all[i].tidy()
	}
	order(all)
	return all
}

// order puts pieces in an order that depends on their places only.
func order(all []Piece) {
	slices.SortFunc(all, func(a, b Piece) int { return slices.CompareFunc(a.Polygon[0], b.Polygon[0], comparePoints) })
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
