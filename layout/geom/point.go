package geom

import "math"

// Limit is the largest absolute coordinate of the frame, in nm.
const Limit = 1 << 30

// Point is a place in the frame, in nm; x points right, y up.
type Point struct{ X, Y int }

// Add returns p moved by q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Sub returns the vector from q to p.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// InFrame reports whether both coordinates are within ±Limit.
func (p Point) InFrame() bool {
	return p.X >= -Limit && p.X <= Limit && p.Y >= -Limit && p.Y <= Limit
}

// Vec is a displacement in nm that need not be whole, such as the pitch of an array.
type Vec struct{ X, Y float64 }

// Scale returns v times k.
func (v Vec) Scale(k float64) Vec { return Vec{v.X * k, v.Y * k} }

// Round returns the nearest grid vector; halves go up, so that rounding commutes with whole moves.
func (v Vec) Round() Point { return Point{RoundHalfUp(v.X), RoundHalfUp(v.Y)} }

// RoundHalfUp returns the nearest integer; halves go towards +∞.
func RoundHalfUp(x float64) int { return int(math.Floor(x + 0.5)) }

// Rect is a closed box. It is empty where Min exceeds Max in either coordinate; a box of no width is not empty.
type Rect struct{ Min, Max Point }

// EmptyRect returns a box that holds nothing and that Union leaves out.
func EmptyRect() Rect {
	return Rect{Point{math.MaxInt, math.MaxInt}, Point{math.MinInt, math.MinInt}}
}

// Box returns the box with corners (x0, y0) and (x1, y1), in any order.
func Box(x0, y0, x1, y1 int) Rect {
	return Rect{Point{min(x0, x1), min(y0, y1)}, Point{max(x0, x1), max(y0, y1)}}
}

// Empty reports whether r holds no point.
func (r Rect) Empty() bool { return r.Min.X > r.Max.X || r.Min.Y > r.Max.Y }

// Width returns the extent in x, in nm; r must not be empty.
func (r Rect) Width() int { return r.Max.X - r.Min.X }

// Height returns the extent in y, in nm; r must not be empty.
func (r Rect) Height() int { return r.Max.Y - r.Min.Y }

// Union returns the smallest box that holds both.
func (r Rect) Union(s Rect) Rect {
	return Rect{
		Point{min(r.Min.X, s.Min.X), min(r.Min.Y, s.Min.Y)},
		Point{max(r.Max.X, s.Max.X), max(r.Max.Y, s.Max.Y)},
	}
}

// Extend returns the smallest box that holds r and p.
func (r Rect) Extend(p Point) Rect { return r.Union(Rect{p, p}) }

// Overlaps reports whether the closed boxes share a point.
func (r Rect) Overlaps(s Rect) bool {
	return r.Min.X <= s.Max.X && s.Min.X <= r.Max.X && r.Min.Y <= s.Max.Y && s.Min.Y <= r.Max.Y
}

// Contains reports whether p lies in the closed box.
func (r Rect) Contains(p Point) bool {
	return r.Min.X <= p.X && p.X <= r.Max.X && r.Min.Y <= p.Y && p.Y <= r.Max.Y
}

// Ring returns the outline, counterclockwise from the lower left.
func (r Rect) Ring() Ring {
	return Ring{r.Min, {r.Max.X, r.Min.Y}, r.Max, {r.Min.X, r.Max.Y}}
}
