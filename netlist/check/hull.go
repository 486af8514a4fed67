package check

import (
	"math"
	"slices"

	"undermetal/layout/geom"
)

// hull returns the convex hull of some points, counterclockwise, without points on its edges: the monotone chain of A. M.
// Andrew, Information Processing Letters 9 (1979) (from memory).
func hull(points []geom.Point) geom.Ring {
	ps := slices.Clone(points)
	slices.SortFunc(ps, comparePoints)
	ps = slices.Compact(ps)
	if len(ps) < 3 {
		return ps
	}
	half := func(h geom.Ring) geom.Ring {
		n := len(h)
		for _, p := range ps {
			for len(h) > n+1 && geom.Side(h[len(h)-2], h[len(h)-1], p) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		return h[:len(h)-1]
	}
	h := half(nil)
	slices.Reverse(ps)
	return half(h)
}

// hullWidth returns the width of the narrowest strip that holds a polygon, in nm: one of its sides runs along an edge of
// the convex hull.
func hullWidth(pg geom.Polygon) float64 {
	var ps []geom.Point
	for _, r := range pg {
		ps = append(ps, r...)
	}
	return ringWidth(hull(ps))
}

func ringWidth(h geom.Ring) float64 {
	if len(h) < 3 {
		return 0
	}
	width := math.Inf(1)
	for i, a := range h {
		w := toVec(h[(i+1)%len(h)].Sub(a))
		most := 0.0
		for _, p := range h {
			v := toVec(p.Sub(a))
			most = max(most, math.Abs(w.x*v.y-w.y*v.x))
		}
		width = min(width, most/w.length())
	}
	return width
}
