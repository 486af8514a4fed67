package geom

import (
	"fmt"
	"math"
	"slices"
)

// Transform maps a cell's coordinates to its parent's: first a mirror at the x axis (y → -y), then a magnification,
// then a rotation counterclockwise, then a move. The zero value is not a transform; use Identity or NewTransform.
//
// Turns by whole quarters without magnification are exact; anything else is rounded to the grid point by point,
// halves up.
type Transform struct {
	xx, xy, yx, yy float64 // x' = xx·x + xy·y + dx, y' = yx·x + yy·y + dy
	dx, dy         float64
}

// Identity leaves every point where it is.
var Identity = Transform{xx: 1, yy: 1}

// NewTransform returns the map that mirrors at the x axis if mirror is set, magnifies by mag (> 0), rotates by degrees
// counterclockwise and moves the origin to at.
func NewTransform(mirror bool, mag, degrees float64, at Point) Transform {
	sin, cos := sinCosDegrees(degrees)
	t := Transform{xx: mag * cos, xy: -mag * sin, yx: mag * sin, yy: mag * cos, dx: float64(at.X), dy: float64(at.Y)}
	if mirror {
		t.xy, t.yy = -t.xy, -t.yy
	}
	return t
}

// Move returns the plain displacement by d.
func Move(d Point) Transform {
	return Transform{xx: 1, yy: 1, dx: float64(d.X), dy: float64(d.Y)}
}

// sinCosDegrees is exact at multiples of 90°.
func sinCosDegrees(deg float64) (sin, cos float64) {
	turn := math.Mod(deg, 360)
	if turn < 0 {
		turn += 360
	}
	switch turn {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(turn * math.Pi / 180)
}

// Apply returns the image of p, rounded to the grid.
func (t Transform) Apply(p Point) Point {
	x, y := float64(p.X), float64(p.Y)
	return Point{RoundHalfUp(t.xx*x + t.xy*y + t.dx), RoundHalfUp(t.yx*x + t.yy*y + t.dy)}
}

// ApplyPolygon returns the image of pg, each point rounded to the grid.
func (t Transform) ApplyPolygon(pg Polygon) Polygon { return t.ApplyPolygonIn(nil, pg) }

// ApplyPolygonIn is ApplyPolygon in the memory of buf, where there is room.
func (t Transform) ApplyPolygonIn(buf, pg Polygon) Polygon {
	out := slices.Grow(buf[:0], len(pg))[:len(pg)]
	for i, r := range pg {
		out[i] = slices.Grow(out[i][:0], len(r))[:len(r)]
		for k, p := range r {
			out[i][k] = t.Apply(p)
		}
	}
	return out
}

// Then returns the map that applies t first and outer after it. Nothing is rounded in between.
func (t Transform) Then(outer Transform) Transform {
	return Transform{
		xx: outer.xx*t.xx + outer.xy*t.yx, xy: outer.xx*t.xy + outer.xy*t.yy,
		yx: outer.yx*t.xx + outer.yy*t.yx, yy: outer.yx*t.xy + outer.yy*t.yy,
		dx: outer.xx*t.dx + outer.xy*t.dy + outer.dx, dy: outer.yx*t.dx + outer.yy*t.dy + outer.dy,
	}
}

// Moved returns t followed by a displacement by d.
func (t Transform) Moved(d Point) Transform {
	t.dx += float64(d.X)
	t.dy += float64(d.Y)
	return t
}

// Upright reports whether t turns by whole quarters, keeps sizes and moves by whole nanometres, so that it is exact
// and keeps Manhattan shapes Manhattan.
func (t Transform) Upright() bool {
	unit := func(a, b float64) bool { return (a == 1 || a == -1) && b == 0 }
	return (unit(t.xx, t.xy) && unit(t.yy, t.yx) || unit(t.xy, t.xx) && unit(t.yx, t.yy)) &&
		t.dx == math.Trunc(t.dx) && t.dy == math.Trunc(t.dy)
}

// Turn is an upright transform in whole numbers.
type Turn struct{ xx, xy, yx, yy, dx, dy int }

// Turn returns t in whole numbers, if it is upright.
func (t Transform) Turn() (Turn, bool) {
	if !t.Upright() {
		return Turn{}, false
	}
	return Turn{int(t.xx), int(t.xy), int(t.yx), int(t.yy), int(t.dx), int(t.dy)}, true
}

// Apply returns the image of p.
func (u *Turn) Apply(p Point) Point {
	return Point{u.xx*p.X + u.xy*p.Y + u.dx, u.yx*p.X + u.yy*p.Y + u.dy}
}

// Bounds returns the box around the image of r.
func (u *Turn) Bounds(r Rect) Rect {
	if r.Empty() {
		return r
	}
	a, c := u.Apply(r.Min), u.Apply(r.Max)
	return Box(min(a.X, c.X), min(a.Y, c.Y), max(a.X, c.X), max(a.Y, c.Y))
}

// Mirrors reports whether u changes the sense of rings.
func (u *Turn) Mirrors() bool { return u.xx*u.yy-u.xy*u.yx < 0 }

// Mirrors reports whether t changes the sense of rings.
func (t Transform) Mirrors() bool { return t.xx*t.yy-t.xy*t.yx < 0 }

// Parts returns what NewTransform would need to build t: mirror, magnification, degrees in [0, 360) and the image of
// the origin.
func (t Transform) Parts() (mirror bool, mag, degrees float64, at Point) {
	mirror = t.Mirrors()
	mag = math.Hypot(t.xx, t.yx)
	degrees = math.Atan2(t.yx, t.xx) * 180 / math.Pi
	if degrees < 0 {
		degrees += 360
	}
	return mirror, mag, degrees, t.Apply(Point{})
}

// Bounds returns a box around the image of r; for a slanted turn it is larger than need be by rounding only.
func (t Transform) Bounds(r Rect) Rect {
	if r.Empty() {
		return r
	}
	a, c := t.Apply(r.Min), t.Apply(r.Max)
	b := Box(min(a.X, c.X), min(a.Y, c.Y), max(a.X, c.X), max(a.Y, c.Y))
	if t.xy == 0 && t.yx == 0 || t.xx == 0 && t.yy == 0 { // each coordinate hangs on one alone
		return b
	}
	return b.Extend(t.Apply(Point{r.Max.X, r.Min.Y})).Extend(t.Apply(Point{r.Min.X, r.Max.Y}))
}

func (t Transform) String() string {
	mirror, mag, deg, at := t.Parts()
	return fmt.Sprintf("mirror=%t mag=%g turn=%g° at=(%d, %d)", mirror, mag, deg, at.X, at.Y)
}

// Matrix returns the six numbers of t: x' = xx·x + xy·y + dx, y' = yx·x + yy·y + dy.
func (t Transform) Matrix() (xx, xy, yx, yy, dx, dy float64) {
	return t.xx, t.xy, t.yx, t.yy, t.dx, t.dy
}

// FromMatrix returns the transform with the numbers that Matrix gives, to the bit. ok is false where it would not keep
// the shape of things (a shear, unequal scales) to 1e-9 of their size, or is not finite.
func FromMatrix(xx, xy, yx, yy, dx, dy float64) (t Transform, ok bool) {
	t = Transform{xx, xy, yx, yy, dx, dy}
	size, det := xx*xx+yx*yx, xx*yy-xy*yx
	ok = size > 0 && math.Abs(xx*xy+yx*yy) <= 1e-9*size && math.Abs(math.Abs(det)-size) <= 1e-9*size &&
		size-size == 0 && dx-dx == 0 && dy-dy == 0
	return t, ok
}
