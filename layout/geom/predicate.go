package geom

import "math/bits"

// cross returns the determinant of two vectors. With differences of points of the frame it is below 2^63: the three
// points span a triangle inside a square of side 2^31, and twice its area is at most that square's area.
func cross(u, v Point) int { return u.X*v.Y - u.Y*v.X }

func dot(u, v Point) int { return u.X*v.X + u.Y*v.Y }

// Side returns +1 if c lies left of the line from a to b, -1 if right of it, 0 if on it. Exact for points of the
// frame:
//
//	Side(a, b, c) = Side(b, c, a) = -Side(b, a, c)
func Side(a, b, c Point) int {
	d := cross(b.Sub(a), c.Sub(a))
	switch {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}

// onSegment reports whether p lies on the closed segment ab.
func onSegment(a, b, p Point) bool {
	return Side(a, b, p) == 0 &&
		min(a.X, b.X) <= p.X && p.X <= max(a.X, b.X) && min(a.Y, b.Y) <= p.Y && p.Y <= max(a.Y, b.Y)
}

// SegmentsMeet reports whether the closed segments ab and cd share a point, exactly.
func SegmentsMeet(a, b, c, d Point) bool {
	if max(a.X, b.X) < min(c.X, d.X) || max(c.X, d.X) < min(a.X, b.X) ||
		max(a.Y, b.Y) < min(c.Y, d.Y) || max(c.Y, d.Y) < min(a.Y, b.Y) {
		return false
	}
	return Side(a, b, c)*Side(a, b, d) <= 0 && Side(c, d, a)*Side(c, d, b) <= 0
}

// Crossing returns the grid point nearest to where the segments ab and cd cross in the interior of both (a proper
// crossing); halves are rounded up. ok is false where they do not cross properly: apart, touching, or on one line.
// Exact for points of the frame: the quotient is formed in 128 bits.
func Crossing(a, b, c, d Point) (p Point, ok bool) {
	if max(a.X, b.X) < min(c.X, d.X) || max(c.X, d.X) < min(a.X, b.X) ||
		max(a.Y, b.Y) < min(c.Y, d.Y) || max(c.Y, d.Y) < min(a.Y, b.Y) {
		return p, false
	}
	if Side(a, b, c)*Side(a, b, d) >= 0 || Side(c, d, a)*Side(c, d, b) >= 0 {
		return p, false
	}
	// The point is a + (b-a)·n/m with n = (c-a)×(d-c), m = (b-a)×(d-c). Both triangles' determinants fit 63 bits,
	// but m is the area of a parallelogram of two sides of up to 2^31·√2 each: it fits 64 bits unsigned, no more, so
	// it is taken as the sum of two triangles, |c-a × b-a| + |d-a × b-a|, and n as |c-a × d-c| = |c-a × d-a|.
	m := mag(cross(b.Sub(a), c.Sub(a))) + mag(cross(b.Sub(a), d.Sub(a)))
	n := mag(cross(c.Sub(a), d.Sub(a)))
	return Point{a.X + mulDivRound(b.X-a.X, n, m), a.Y + mulDivRound(b.Y-a.Y, n, m)}, true
}

func mag(d int) uint64 {
	if d < 0 {
		return uint64(-d)
	}
	return uint64(d)
}

// mulDivRound returns k·n/m rounded to the nearest integer, halves up, for 0 ≤ n ≤ m and m > 0.
func mulDivRound(k int, n, m uint64) int {
	hi, lo := bits.Mul64(mag(k), n)
	q, r := bits.Div64(hi, lo, m)
	up := r >= m-r // r ≥ m/2
	if k >= 0 {
		if up {
			q++
		}
		return int(q)
	}
	if r > m-r { // below zero a half goes up, towards 0
		q++
	}
	return -int(q)
}
