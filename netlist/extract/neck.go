package extract

import (
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
)

// Neck is a narrow stretch of a connected piece of a gate layer or a metal, between two ends that are much wider: a bow tie, a dog
// bone. It is what a fuse looks like.
type Neck struct {
	Layer   layout.Layer
	Box     geom.Rect  // around the whole piece
	Body    geom.Rect  // what of the piece lies in it is the neck
	At      geom.Point // within the neck
	Width   float64    // nm, where it is narrowest
	Length  float64    // nm
	Squares float64    // the integral of length over width: exact where the width stays the same
	Wide    float64    // nm: how wide the ends are, the narrower one where it is widest
	Ends    [2]NeckEnd // the left one first, or the lower one
	Open    bool       // an opening in the passivation lies over the neck
}

// NeckEnd is one end of a neck.
type NeckEnd struct {
	Contacts int  // contacts and vias, from above or below
	Pad      bool // an opening in the passivation lies over it
}

// How a neck differs from a notch. Common practice of the trade: a fuse is as narrow as the layer allows, so that it melts there and
// nowhere else, and its ends are several times as wide.
const (
	leastWide   = 3    // times the neck's width that either end is, in both directions
	neckPart    = 0.5  // of the narrower end's width: what is narrower is neck
	leastLength = 1    // times its width that it is long
	mostCorners = 1000 // of a piece that is looked at
)

// slab is what a polygon is between two neighbouring corners, seen along an axis.
type slab struct {
	from, to float64
	w        [2]float64 // how wide it is at either end, from its lowest to its highest point
	one      bool       // in one piece
}

// slabsOf cuts a valid polygon at all its corners; upright: along y, else along x.
func slabsOf(pg geom.Polygon, upright bool) []slab {
	turn := func(p geom.Point) geom.Point {
		if upright {
			return geom.Point{X: p.Y, Y: p.X}
		}
		return p
	}
	type side struct{ at, low, high float64 } // height in the middle of a slab, and at its ends
	var xs []int
	var edges [][2]geom.Point // from left to right
	for _, r := range pg {
		for i := range r {
			a, b := turn(r[i]), turn(r[(i+1)%len(r)])
			xs = append(xs, a.X)
			if a.X > b.X {
				a, b = b, a
			}
			if a.X < b.X {
				edges = append(edges, [2]geom.Point{a, b})
			}
		}
	}
	slices.Sort(xs)
	xs = slices.Compact(xs)
	var out []slab
	for i := 1; i < len(xs); i++ {
		x0, x1 := float64(xs[i-1]), float64(xs[i])
		var sides []side
		for _, e := range edges {
			if e[0].X <= xs[i-1] && e[1].X >= xs[i] {
				at := func(x float64) float64 {
					return float64(e[0].Y) + float64(e[1].Y-e[0].Y)*(x-float64(e[0].X))/float64(e[1].X-e[0].X)
				}
				sides = append(sides, side{at((x0 + x1) / 2), at(x0), at(x1)})
			}
		}
		if len(sides) == 0 {
			continue
		}
		slices.SortFunc(sides, func(a, b side) int {
			switch {
			case a.at < b.at:
				return -1
			case a.at > b.at:
				return 1
			}
			return 0
		})
		first, last := sides[0], sides[len(sides)-1]
		out = append(out, slab{x0, x1, [2]float64{last.low - first.low, last.high - first.high}, len(sides) == 2})
	}
	return out
}

// knot is how wide a polygon is at one end of a slab.
type knot struct {
	slab int
	at   float64
	w    float64
}

// narrow finds the one neck along a row of slabs; ok is false where there is none, or more than one.
func narrow(slabs []slab) (n Neck, from, to float64, ok bool) {
	var knots []knot
	for i, s := range slabs {
		knots = append(knots, knot{i, s.from, s.w[0]}, knot{i, s.to, s.w[1]})
	}
	left, right := make([]float64, len(knots)), make([]float64, len(knots)) // the widest on either side
	for i, k := range knots {
		left[i] = k.w
		if i > 0 {
			left[i] = max(left[i], left[i-1])
		}
	}
	for i := len(knots) - 1; i >= 0; i-- {
		right[i] = knots[i].w
		if i+1 < len(knots) {
			right[i] = max(right[i], right[i+1])
		}
	}
	necks := func(i int) bool {
		return slabs[knots[i].slab].one && knots[i].w > 0 && min(left[i], right[i]) >= leastWide*knots[i].w
	}
	best := -1
	for i := range knots {
		if necks(i) && (best < 0 || knots[i].w < knots[best].w) {
			best = i
		}
	}
	if best < 0 {
		return n, 0, 0, false
	}
	n.Width, n.Wide = knots[best].w, min(left[best], right[best])
	lo, hi := best, best
	for lo > 0 && narrower(slabs, knots[lo-1], n.Wide) {
		lo--
	}
	for hi+1 < len(knots) && narrower(slabs, knots[hi+1], n.Wide) {
		hi++
	}
	from, to = knots[lo].at, knots[hi].at
	if lo > 0 {
		from = heightAcross(slabs, knots[lo-1], knots[lo], n.Wide)
	}
	if hi+1 < len(knots) {
		to = heightAcross(slabs, knots[hi], knots[hi+1], n.Wide)
	}
	for i, k := range knots {
		if necks(i) && (k.at < from || k.at > to) {
			return n, 0, 0, false
		}
	}
	if !wideEnd(slabs, knots[hi].slab, 1, to, n.Width) || !wideEnd(slabs, knots[lo].slab, -1, from, n.Width) {
		return n, 0, 0, false
	}
	n.Length = to - from
	for _, s := range slabs {
		a, b := max(s.from, from), min(s.to, to)
		if a >= b {
			continue
		}
		at := func(x float64) float64 { return s.w[0] + (s.w[1]-s.w[0])*(x-s.from)/(s.to-s.from) }
		if u, v := at(a), at(b); math.Abs(u-v) < 1e-9*(u+v) {
			n.Squares += (b - a) / u
		} else {
			n.Squares += (b - a) * math.Log(v/u) / (v - u)
		}
	}
	return n, from, to, n.Length >= leastLength*n.Width
}

// wideEnd reports whether what comes next beside a neck, which ends at a place of slab i, is as long as wide, in one piece: a pad, and
// no bar of a wire that goes off to both sides. step says which way.
func wideEnd(slabs []slab, i, step int, at, width float64) bool {
	least, long := leastWide*width, 0.0
	for ; i >= 0 && i < len(slabs) && long < least; i += step {
		s := slabs[i]
		lo, hi := s.from, s.to
		if step > 0 {
			lo = max(lo, at)
		} else {
			hi = min(hi, at)
		}
		if lo >= hi {
			continue
		}
		if !s.one {
			return false
		}
		w := func(x float64) float64 { return s.w[0] + (s.w[1]-s.w[0])*(x-s.from)/(s.to-s.from) }
		switch a, b := w(lo), w(hi); {
		case min(a, b) >= least:
			long += hi - lo
		case max(a, b) < least:
			if long > 0 {
				return false
			}
		default: // a taper passes the least width
			part := (max(a, b) - least) / math.Abs(b-a) * (hi - lo)
			if widens := (b > a) == (step > 0); widens {
				long += part
			} else {
				return long+part >= least
			}
		}
	}
	return long >= least
}

func narrower(slabs []slab, k knot, wide float64) bool {
	return slabs[k.slab].one && k.w < neckPart*wide
}

// heightAcross returns where between two neighbouring knots a neck ends: where they are of one slab, somewhere in it.
func heightAcross(slabs []slab, a, b knot, wide float64) float64 {
	if a.slab != b.slab || a.w == b.w {
		if narrower(slabs, a, wide) {
			return a.at
		}
		return b.at
	}
	return a.at + (neckPart*wide-a.w)/(b.w-a.w)*(b.at-a.at)
}

// neckIn finds the neck of a valid polygon: along x or y, whichever is narrower.
func neckIn(pg geom.Polygon) (n Neck, ok bool) {
	corners := 0
	for _, r := range pg {
		corners += len(r)
	}
	if corners < 6 || corners > mostCorners {
		return n, false
	}
	box := pg.Bounds()
	for _, upright := range []bool{false, true} {
		m, from, to, found := narrow(slabsOf(pg, upright))
		if !found || ok && m.Width >= n.Width {
			continue
		}
		n, ok = m, true
		lo, hi := geom.RoundHalfUp(from), geom.RoundHalfUp(to)
		n.Box, n.Body = box, geom.Box(lo, box.Min.Y, hi, box.Max.Y)
		if upright {
			n.Body = geom.Box(box.Min.X, lo, box.Max.X, hi)
		}
	}
	if !ok {
		return n, false
	}
	body := n.pieces(pg)
	if len(body) != 1 {
		return n, false
	}
	n.At = middleOf(body[0], n.Body)
	return n, true
}

// pieces returns what of a polygon is its neck.
func (n *Neck) pieces(pg geom.Polygon) []geom.Polygon {
	_, body := polygons.Cut(pg, geom.Polygon{n.Body.Ring()})
	return body
}

// endsOf returns what of a polygon lies on either side of its neck.
func (n *Neck) endsOf(pg geom.Polygon) (ends [2][]geom.Polygon) {
	outside, _ := polygons.Cut(pg, geom.Polygon{n.Body.Ring()})
	for _, e := range outside {
		b := e.Bounds()
		k := 0
		if b.Min.X >= n.Body.Max.X || b.Min.Y >= n.Body.Max.Y {
			k = 1
		}
		ends[k] = append(ends[k], e)
	}
	return ends
}

// middleOf returns a point within a neck: half way along it, between its borders.
func middleOf(pg geom.Polygon, body geom.Rect) geom.Point {
	mid := geom.Point{X: (body.Min.X + body.Max.X) / 2, Y: (body.Min.Y + body.Max.Y) / 2}
	b := pg.Bounds()
	upright := b.Min.X != body.Min.X || b.Max.X != body.Max.X
	low, high := math.Inf(1), math.Inf(-1)
	along := func(p geom.Point) (float64, float64) {
		if upright {
			return float64(p.Y), float64(p.X)
		}
		return float64(p.X), float64(p.Y)
	}
	at, _ := along(mid)
	for _, r := range pg {
		for i := range r {
			ax, ay := along(r[i])
			bx, by := along(r[(i+1)%len(r)])
			if ax != bx && min(ax, bx) <= at && at <= max(ax, bx) {
				y := ay + (by-ay)*(at-ax)/(bx-ax)
				low, high = min(low, y), max(high, y)
			}
		}
	}
	across := geom.RoundHalfUp((low + high) / 2)
	if upright {
		return geom.Point{X: across, Y: mid.Y}
	}
	return geom.Point{X: mid.X, Y: across}
}
