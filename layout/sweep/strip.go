package sweep

import (
	"math"
	"slices"

	"undermetal/layout/geom"
)

// Line is the upright or slanted line that borders an interval, by its lower and upper end in nm. Of an upright line
// only X0 = X1 counts: pieces of it that follow each other are one border.
type Line struct{ X0, Y0, X1, Y1 int32 }

// Vertical reports whether the line is parallel to the y axis.
func (l Line) Vertical() bool { return l.X0 == l.X1 }

func (l Line) low() geom.Point  { return geom.Point{X: int(l.X0), Y: int(l.Y0)} }
func (l Line) high() geom.Point { return geom.Point{X: int(l.X1), Y: int(l.Y1)} }

// At returns the line's x at height y. It is exact at the ends, where it is a whole number.
func (l Line) At(y int) float64 {
	if l.X0 == l.X1 {
		return float64(l.X0)
	}
	x, dx, dy := int(l.X0), int(l.X1)-int(l.X0), int(l.Y1)-int(l.Y0)
	up := y - int(l.Y0)
	if up == dy { // as a choice of numbers, no branch: nobody foretells it
		x, up = int(l.X1), 0
	}
	return float64(x) + float64(dx)*float64(up)/float64(dy)
}

// YAt returns the height at which a slanted line is at x.
func (l Line) YAt(x int) float64 {
	dx, dy := float64(int(l.X1)-int(l.X0)), float64(int(l.Y1)-int(l.Y0))
	return float64(l.Y0) + dy*float64(x-int(l.X0))/dx
}

// same reports whether two borders are pieces of one line.
func (l Line) same(m Line) bool { return l == m || l.X0 == l.X1 && m.X0 == m.X1 && l.X0 == m.X0 }

// Edge is a Line on a layer. Winding is what it adds to the layer's winding number from left to right.
type Edge struct {
	Line
	Tag     uint32 // this and the next are those of its Seg
	Part    uint32
	Layer   uint8
	Winding int8
}

// Probe is a point at which the sink wants to know the interval.
type Probe struct {
	X, Y  int32
	Layer uint8
	ID    int32
}

// Strip is a vertical band of the plane with the edges and probes in it.
type Strip struct {
	X0, X1 int // the closed range of x
	Edges  []Edge
	Probes []Probe
}

// appendEdge appends s unless it is horizontal. Neither is ever copied as a whole: a processor that reads what it has just
// written in other portions waits until it is stored.
func appendEdge(edges []Edge, s *Seg, layer uint8) []Edge {
	if s.A.Y == s.B.Y {
		return edges
	}
	edges = append(edges, Edge{})
	e := &edges[len(edges)-1]
	e.Line, e.Tag, e.Part, e.Layer, e.Winding = s.Line(), s.Tag, s.Part, layer, -1 // upwards: covered on the left
	if s.A.Y > s.B.Y {
		e.Winding = 1
	}
	return edges
}

// Dealer deals the edges of shapes out to strips of one width. Where its strips are to be all there is, they must reach
// beyond the shapes on both sides.
type Dealer struct {
	Strips []Strip
	x0     int
	width  int
}

// NewDealer divides the range [x0, x1] into n strips.
func NewDealer(x0, x1, n int) *Dealer {
	width := max((x1-x0+n-1)/max(n, 1), 1)
	d := &Dealer{x0: x0, width: width}
	for x := x0; ; x += width {
		d.Strips = append(d.Strips, Strip{X0: x, X1: min(x+width, x1)})
		if x+width >= x1 {
			return d
		}
	}
}

// Take makes d deal out to n strips of another dealer, from the first on, that have no edges yet. What d had is gone; its
// memory is used again.
func (d *Dealer) Take(all *Dealer, first, n int) {
	d.width, d.x0 = all.width, all.Strips[first].X0
	for len(d.Strips) < n {
		d.Strips = append(d.Strips, Strip{})
	}
	d.Strips = d.Strips[:n]
	for i := range d.Strips {
		from, to := &all.Strips[first+i], &d.Strips[i]
		*to = Strip{from.X0, from.X1, to.Edges[:0], to.Probes[:0]}
	}
}

func (d *Dealer) index(x int) int {
	return max(0, min((x-d.x0)/d.width, len(d.Strips)-1))
}

// Shape deals out the edges of one shape.
//
// In a strip that the shape begins left of, the edges that lie left of the strip are replaced by upright ones far
// left: they count for the winding number, whatever their x. So it does not matter, either, which way leads from one
// height to another: where one such edge ends at the height at which the next one begins, both are one.
func (d *Dealer) Shape(segs []Seg, layer uint8) {
	if len(segs) == 0 {
		return
	}
	x0, x1 := boundsOf(segs)
	first, last := d.index(x0), d.index(x1)
	for i := first; i <= last; i++ {
		s := &d.Strips[i]
		if x1 < s.X0 {
			continue
		}
		if len(s.Edges)+len(segs)+1 > cap(s.Edges) {
			s.Edges = slices.Grow(s.Edges, len(s.Edges)+len(segs)+1) // append alone would copy them over four times
		}
		if x0 >= s.X0 && x1 <= s.X1 {
			for i := range segs {
				s.Edges = appendEdge(s.Edges, &segs[i], layer)
			}
			continue
		}
		left := Seg{A: geom.Point{X: farLeft}} // far left, not yet dealt
		for i := range segs {
			seg := &segs[i]
			lo, hi := min(seg.A.X, seg.B.X), max(seg.A.X, seg.B.X)
			switch {
			case lo >= s.X1:
				// begins where the strip ends: nothing in it is to the right of this edge
			case hi < s.X0 || hi == s.X0 && lo < hi: // one that runs along the border may be the left side of something
				if seg.A.Y != left.B.Y {
					s.Edges = appendEdge(s.Edges, &left, layer)
					left = Seg{A: geom.Point{X: farLeft, Y: seg.A.Y}} // no tag: what begins on its right lies in another strip, which hears of it
				}
				left.B = geom.Point{X: farLeft, Y: seg.B.Y}
			default:
				s.Edges = appendEdge(s.Edges, seg, layer)
			}
		}
		s.Edges = appendEdge(s.Edges, &left, layer)
	}
}

const farLeft = math.MinInt32

// Probe gives a probe to every strip whose closed range holds it.
func (d *Dealer) Probe(p Probe) {
	i := d.index(int(p.X))
	for j := max(i-1, 0); j <= min(i+1, len(d.Strips)-1); j++ {
		if s := &d.Strips[j]; int(p.X) >= s.X0 && int(p.X) <= s.X1 {
			s.Probes = append(s.Probes, p)
		}
	}
}

// Interval is a stretch of the sweep line, and the trapezoid that it has swept since Y0.
type Interval struct {
	L, R Line // R of the last and L of the first interval of a strip are the strip's borders
	Mask uint64
	Y0   int32 // where it was opened
	Slot int32 // a number that no other open interval has, reused after Close
}

// Clip is the range of x of a strip; what lies outside is another strip's.
type Clip struct{ X0, X1 float64 }

func (c Clip) x(x float64) float64 {
	switch { // not max and min, which look for what is no number
	case x < c.X0:
		return c.X0
	case x > c.X1:
		return c.X1
	}
	return x
}

// Area returns the area in nm² of the trapezoid between l and r from y0 to y1, as far as the clip shows it.
func (c Clip) Area(l, r Line, y0, y1 int) float64 {
	return c.integral(r, y0, y1) - c.integral(l, y0, y1)
}

// integral returns ∫ x dy along the clipped line.
func (c Clip) integral(l Line, y0, y1 int) float64 {
	h := float64(y1 - y0)
	if l.Vertical() {
		return c.x(float64(l.X0)) * h
	}
	u, v := l.At(y0), l.At(y1)
	cu, cv := c.x(u), c.x(v)
	if u == cu && v == cv {
		return (u + v) / 2 * h
	}
	if cu == cv {
		return cu * h
	}
	// The line leaves the strip on one side or both: straight up the border before and after.
	per := h / (v - u)
	inside := (cv - cu) * per
	before := (cu - u) * per
	after := h - before - inside
	return cu*before + (cu+cv)/2*inside + cv*after
}

// Holds reports whether a line lies between the borders of the strip, on neither of them.
func (c Clip) Holds(l Line) bool {
	return float64(min(l.X0, l.X1)) > c.X0 && float64(max(l.X0, l.X1)) < c.X1
}

// Span returns the part of line l from y0 to y1 that lies in the clip, as two points, and whether there is any. A line
// on the border of two strips belongs to the right one.
func (c Clip) Span(l Line, y0, y1 int) (ax, ay, bx, by float64, ok bool) {
	ax, ay, bx, by = l.At(y0), float64(y0), l.At(y1), float64(y1)
	if l.Vertical() {
		return ax, ay, bx, by, ax >= c.X0 && ax < c.X1
	}
	if ax <= c.X0 && bx <= c.X0 || ax >= c.X1 && bx >= c.X1 {
		return ax, ay, bx, by, false
	}
	clip := func(x, y float64) (float64, float64) {
		switch {
		case x < c.X0:
			return c.X0, l.YAt(int(c.X0))
		case x > c.X1:
			return c.X1, l.YAt(int(c.X1))
		}
		return x, y
	}
	ax, ay = clip(ax, ay)
	bx, by = clip(bx, by)
	return ax, ay, bx, by, by > ay
}

// boundsOf returns the range of x of segs.
func boundsOf(segs []Seg) (x0, x1 int) {
	x0, x1 = segs[0].A.X, segs[0].A.X
	for i := range segs {
		s := &segs[i]
		x0, x1 = min(x0, s.A.X, s.B.X), max(x1, s.A.X, s.B.X)
	}
	return x0, x1
}
