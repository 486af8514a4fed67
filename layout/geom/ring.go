package geom

import (
	"math"
	"math/bits"
)

// Ring is a closed outline; the last point is joined to the first and is not repeated.
type Ring []Point

// Polygon is one or more rings that are filled together by non-zero winding: a point is covered where the rings wind
// around it a number of times other than 0. A hole is a ring of the opposite sense to the one around it.
type Polygon []Ring

// Bounds returns the smallest box around the ring, empty for no points.
func (r Ring) Bounds() Rect {
	b := EmptyRect()
	for _, p := range r {
		b = b.Extend(p)
	}
	return b
}

// Bounds returns the smallest box around all rings, empty for no points.
func (pg Polygon) Bounds() Rect {
	b := EmptyRect()
	for _, r := range pg {
		b = b.Union(r.Bounds())
	}
	return b
}

// doubleArea returns twice the signed area as a 128-bit two's complement number: the whole frame's does not fit 64.
func (r Ring) doubleArea() (hi int64, lo uint64) {
	if len(r) < 3 {
		return 0, 0
	}
	o := r[0]
	for i := 1; i+1 < len(r); i++ {
		d := int64(cross(r[i].Sub(o), r[i+1].Sub(o)))
		var carry uint64
		lo, carry = bits.Add64(lo, uint64(d), 0)
		hi += d>>63 + int64(carry)
	}
	return hi, lo
}

// Area returns the signed area in nm² by the shoelace sum, positive for a counterclockwise ring; a part that is
// wound twice counts twice. The sum is exact and rounded once to float64.
func (r Ring) Area() float64 {
	hi, lo := r.doubleArea()
	neg := hi < 0
	if neg {
		var borrow uint64
		lo, borrow = bits.Sub64(0, lo, 0)
		hi = -hi - int64(borrow)
	}
	a := math.Ldexp(float64(hi), 63) + float64(lo)/2
	if neg {
		return -a
	}
	return a
}

// Sense returns the sign of the signed area, exactly: +1 counterclockwise, -1 clockwise, 0 for no net area.
func (r Ring) Sense() int {
	hi, lo := r.doubleArea()
	switch {
	case hi < 0:
		return -1
	case hi > 0 || lo > 0:
		return 1
	}
	return 0
}

// Perimeter returns the length of the outline in nm, a part that is drawn twice counted twice.
func (r Ring) Perimeter() float64 {
	sum := 0.0
	for i, p := range r {
		q := r[(i+1)%len(r)]
		sum += math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y))
	}
	return sum
}

// Manhattan reports whether every edge is parallel to an axis.
func (r Ring) Manhattan() bool {
	for i, p := range r {
		q := r[(i+1)%len(r)]
		if p.X != q.X && p.Y != q.Y {
			return false
		}
	}
	return true
}

// Location says where a point lies with respect to a ring or polygon.
type Location int8

const (
	Outside Location = iota - 1
	OnEdge
	Inside
)

// Locate says whether p lies inside, outside or on an edge, by non-zero winding, exactly. An edge that both sides of
// which are covered still counts as an edge.
func (pg Polygon) Locate(p Point) Location {
	wind := 0
	for _, r := range pg {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if a.Y <= p.Y != (b.Y <= p.Y) {
				side := Side(a, b, p)
				switch {
				case side == 0:
					return OnEdge
				case a.Y <= p.Y && side > 0:
					wind++
				case a.Y > p.Y && side < 0:
					wind--
				}
			} else if onSegment(a, b, p) {
				return OnEdge
			}
		}
	}
	if wind != 0 {
		return Inside
	}
	return Outside
}

// Simple reports whether no two edges meet except neighbours at their common end: no crossing, no touching, no
// spike, no repeated point. The outline of a simple ring winds at most once around any point, so its Sense tells
// inside from outside. Quadratic in the number of points where their boxes overlap.
func (r Ring) Simple() bool {
	n := len(r)
	if n < 3 {
		return false
	}
	turns := 0 // to the left more than to the right
	a, b := r[n-2], r[n-1]
	for _, c := range r {
		side := Side(a, b, c)
		if a == b || side == 0 && !between(a, b, c) {
			return false
		}
		turns += side
		a, b = b, c
	}
	if n <= 4 && (turns == n || turns == -n) { // less than 4 · 180° in all, so once around: convex
		return true
	}
	for i := 0; i+2 < n; i++ {
		a, b := r[i], r[i+1]
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 {
				continue
			}
			if SegmentsMeet(a, b, r[j], r[(j+1)%n]) {
				return false
			}
		}
	}
	return true
}

// between reports whether b lies strictly between a and c, given that the three are on one line.
func between(a, b, c Point) bool {
	return dot(a.Sub(b), c.Sub(b)) < 0
}
