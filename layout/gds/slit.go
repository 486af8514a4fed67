package gds

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// boundaries returns outlines that, each filled by itself with non-zero winding, cover together what the polygon
// covers.
//
// Rings whose boxes are apart do not know of each other. Simple rings of one sense wind around no point in opposite
// ways, so each can stand alone too. What is left, such as holes with the ring around them, is joined to one outline
// by slits of no width: the outline goes along the slit, around the inner ring and back. The two ways along a slit
// cancel, so the winding number is that of all the rings, wherever the slits lie.
//
// most is the number of corners of the largest outline. Where it exceeds what a boundary holds, the outlines are not
// made.
func boundaries(pg geom.Polygon) (out []geom.Ring, most int) {
	for _, r := range pg {
		most = max(most, len(r))
	}
	if len(pg) == 1 || most > maxCorner {
		return pg, most
	}
	for _, group := range neighbours(pg) {
		switch n := corners(group); {
		case len(group) == 1 || oneSense(group):
			out = append(out, group...)
		case n > maxCorner:
			return nil, n
		default:
			ring := joined(group)
			out, most = append(out, ring), max(most, len(ring))
		}
	}
	return out, most
}

func corners(rings []geom.Ring) (n int) {
	for _, r := range rings {
		n += len(r)
	}
	return n
}

// neighbours groups the rings whose boxes overlap, directly or by way of others. Order is kept.
func neighbours(rings []geom.Ring) [][]geom.Ring {
	boxes := make([]geom.Rect, len(rings))
	group := make([]int, len(rings)) // the first ring of the group, by way of others
	find := func(i int) int {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	for i, r := range rings {
		boxes[i], group[i] = r.Bounds(), i
		for j := range i {
			if boxes[i].Overlaps(boxes[j]) {
				a, b := find(i), find(j)
				group[max(a, b)] = min(a, b)
			}
		}
	}
	members := make([][]geom.Ring, len(rings))
	for i, r := range rings {
		members[find(i)] = append(members[find(i)], r)
	}
	return slices.DeleteFunc(members, func(m []geom.Ring) bool { return len(m) == 0 })
}

func oneSense(rings []geom.Ring) bool {
	sense := rings[0].Sense()
	for _, r := range rings {
		if sense == 0 || r.Sense() != sense {
			return false
		}
	}
	return !slices.ContainsFunc(rings, func(r geom.Ring) bool { return !r.Simple() })
}

// joined makes one outline of several rings. From left to right, each is tied by its leftmost point to what has been
// joined before.
func joined(rings []geom.Ring) geom.Ring {
	starts := slices.Clone(rings)
	for i, r := range starts {
		k := leftmost(r)
		starts[i] = append(slices.Clone(r[k:]), r[:k]...)
	}
	slices.SortStableFunc(starts, func(a, b geom.Ring) int {
		return cmp.Or(cmp.Compare(a[0].X, b[0].X), cmp.Compare(a[0].Y, b[0].Y))
	})
	outline := starts[0]
	for _, r := range starts[1:] {
		edge, foot := slitFoot(outline, r[0])
		around := append([]geom.Point{foot}, r...)
		outline = slices.Insert(outline, edge+1, append(around, r[0], foot)...)
		outline = pen.ClosedOutline(outline)
	}
	return outline
}

func leftmost(r geom.Ring) int {
	k := 0
	for i, p := range r {
		if cmp.Or(cmp.Compare(p.X, r[k].X), cmp.Compare(p.Y, r[k].Y)) < 0 {
			k = i
		}
	}
	return k
}

// slitFoot returns where the slit from p meets the outline, and the edge (by its first point) on which that is: on
// the nearest edge straight to the left if that is an upright one, so that a Manhattan drawing stays one; otherwise at
// the nearest corner.
func slitFoot(outline geom.Ring, p geom.Point) (edge int, foot geom.Point) {
	nearest := math.Inf(-1) // x of the nearest edge to the left, at p's height
	upright := false
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		if a.Y == b.Y || p.Y < min(a.Y, b.Y) || p.Y > max(a.Y, b.Y) {
			continue
		}
		x := float64(a.X) + float64(b.X-a.X)*(float64(p.Y-a.Y)/float64(b.Y-a.Y))
		if x <= float64(p.X) && (x > nearest || x == nearest && a.X == b.X) {
			nearest, upright = x, a.X == b.X
			edge, foot = i, geom.Point{X: a.X, Y: p.Y}
		}
	}
	if upright {
		return edge, foot
	}
	best := math.Inf(1)
	for i, q := range outline {
		if d := math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y)); d < best {
			best, edge, foot = d, i, q
		}
	}
	return edge, foot
}
