package svg

import (
	"cmp"
	"math/big"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// evenOdd returns rings that fill by non-zero winding what the given ones fill by the even-odd rule: points that a ray
// from them crosses an odd number of edges.
//
// Every edge is cut where it meets others (slanted ones by snap rounding, so that nothing moves by more than √2/2 nm).
// Of pieces that lie on each other an even number vanishes. On one side of each piece that is left lies what is
// filled, on the other what is not: followed with the filled side on the left, they make rings.
func evenOdd(rings []geom.Ring) geom.Polygon {
	if len(rings) == 1 && len(rings[0]) <= 64 && rings[0].Simple() {
		return rings
	}
	pieces := oddPieces(sweep.CutUpright(cutSlanted(rings)))
	return sweep.Rings(pieces, func(i int) bool { return filledLeft(pieces, i) })
}

// cutSlanted returns the edges, the slanted ones cut at what they meet.
func cutSlanted(rings []geom.Ring) (out []sweep.Seg) {
	var all []sweep.Seg
	for _, r := range rings {
		for i := range r {
			if a, b := r[i], r[(i+1)%len(r)]; a != b {
				all = append(all, sweep.Seg{A: a, B: b})
			}
		}
	}
	noder := sweep.NewNoder(sweep.AppendLines(nil, nil, all))
	noder.Settle(1)
	for _, s := range all {
		out = noder.AppendNoded(out, s)
	}
	return out
}

// oddPieces keeps one of each odd number of pieces that lie on each other, from left to right or upwards, sorted.
func oddPieces(all []sweep.Seg) []sweep.Seg {
	for i, s := range all {
		if compare(s.A, s.B) > 0 {
			all[i].A, all[i].B = s.B, s.A
		}
	}
	slices.SortFunc(all, func(a, b sweep.Seg) int { return cmp.Or(compare(a.A, b.A), compare(a.B, b.B)) })
	out := all[:0]
	for i := 0; i < len(all); {
		k := i
		for k < len(all) && all[k].A == all[i].A && all[k].B == all[i].B {
			k++
		}
		if (k-i)%2 == 1 {
			out = append(out, all[i])
		}
		i = k
	}
	return out
}

func compare(a, b geom.Point) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) }

// filledLeft reports whether what lies left of the i-th piece, seen from A to B, is filled: whether a ray that begins
// there crosses an odd number of the pieces. The ray is upright for pieces that are not, level for the others, and goes
// half a nanometre beside the grid, so that it passes no end.
func filledLeft(pieces []sweep.Seg, i int) bool {
	s := pieces[i]
	upright := s.A.X == s.B.X
	turn := func(p geom.Point) geom.Point { // the ray then always goes downwards
		if upright {
			return geom.Point{X: p.Y, Y: p.X}
		}
		return p
	}
	a, b := turn(s.A), turn(s.B)
	below := 0
	for k, o := range pieces {
		c, d := turn(o.A), turn(o.B)
		if c.X > d.X {
			c, d = d, c
		}
		if k != i && c.X <= a.X && d.X > a.X && lower(c, d, a, b) {
			below++
		}
	}
	// An odd number below: filled below, so not above. Left of the way from A to B is above it, or left of it where it
	// goes upwards, which after turning is below.
	if upright {
		return below%2 == 1
	}
	return below%2 == 0
}

// lower reports whether cd lies below ab at half a nanometre right of a; all go from left to right.
func lower(c, d, a, b geom.Point) bool {
	if lo := min(a.Y, b.Y); max(c.Y, d.Y) < lo {
		return true
	}
	if hi := max(a.Y, b.Y); min(c.Y, d.Y) > hi {
		return false
	}
	at := func(p, q geom.Point) *big.Rat { // the height of pq there
		return new(big.Rat).Add(big.NewRat(int64(p.Y), 1),
			new(big.Rat).Mul(big.NewRat(int64(q.Y-p.Y), 2*int64(q.X-p.X)), big.NewRat(int64(2*(a.X-p.X)+1), 1)))
	}
	return at(c, d).Cmp(at(a, b)) < 0
}
