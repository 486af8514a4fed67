package check

import (
	"undermetal/layout/geom"
)

// lap is how far in nm a bridge reaches over the edges that it joins. What is covered is the same without; but once a photograph
// is registered anew, all corners are turned and rounded, and a bridge that only shares an edge might come off.
const lap = 2

// thin is the shortest stretch in nm in which borders face each other for a bridge to go along it: what is rounded to a sliver
// may join nothing, or be gone after the next rounding.
const thin = 2 * lap

// bridge returns the polygon that closes a gap: the convex hull of the stretches in which two borders face each other. Where
// only their corners are near, or hardly more, it is that of a stretch of each from there on, as long as reach or as the
// border. Its corners lie on the borders where these are parallel to an axis, else a little inside. ok is false where it
// covers nothing.
func (g *gap) bridge(reach int) (geom.Polygon, bool) {
	var ps []geom.Point
	lo, hi, ok := alongside(&g.e, &g.f)
	from, to, also := alongside(&g.f, &g.e)
	if ok && also && min((hi-lo)*length(g.e.way()), (to-from)*length(g.f.way())) >= min(thin, length(g.e.way()), length(g.f.way())) {
		ps = append(ps, g.e.inside(lo), g.e.inside(hi), g.f.inside(from), g.f.inside(to))
	} else {
		ps = append(ps, g.e.inside(g.e.partOf(g.p)), g.f.inside(g.f.partOf(g.q)),
			g.e.inside(g.e.onward(g.p, reach)), g.f.inside(g.f.onward(g.q, reach)))
	}
	r := hull(ps)
	if len(r) < 3 || r.Area() == 0 {
		return nil, false
	}
	return geom.Polygon{r}, true
}

// partOf returns how far along the border a place on it lies, as a part of its length.
func (b *border) partOf(p geom.Point) float64 {
	w := toVec(b.way())
	return min(max(toVec(p).minus(toVec(b.a)).dot(w)/w.dot(w), 0), 1)
}

// onward returns the place that lies a way in nm along the border from p, towards the end that is farther.
func (b *border) onward(p geom.Point, way int) float64 {
	at, l := b.partOf(p), length(b.way())
	if at < 0.5 {
		return min(1, at+float64(way)/l)
	}
	return max(0, at-float64(way)/l)
}

// inside returns the grid point lap nm inside of a border, at a part of its length.
func (b *border) inside(part float64) geom.Point {
	w := toVec(b.way())
	return toVec(b.a).plus(w.times(part)).plus(vec{-w.y, w.x}.times(lap / w.length())).round()
}
