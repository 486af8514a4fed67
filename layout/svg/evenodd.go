package svg

import (
	"cmp"
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
	for i, left := range filledSides(pieces) {
		if !left {
			pieces[i].A, pieces[i].B = pieces[i].B, pieces[i].A
		}
	}
	return sweep.Rings(pieces)
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
	return noder.AppendNoded(out, all)
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
