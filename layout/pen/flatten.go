package pen

import (
	"fmt"
	"math"

	"undermetal/layout/geom"
)

// Place takes a place of a file, in its own units, to the frame, in nm. Coordinates that are no finite numbers say that
// there is no such place (as in register.Map).
type Place func(geom.Vec) geom.Vec

// UmPerUnit places a file whose x points right and whose y points down: a unit is so many µm, and the file's point
// origin goes to (0, 0).
func UmPerUnit(um float64, origin geom.Vec) Place {
	nm := um * 1000
	return func(p geom.Vec) geom.Vec {
		return geom.Vec{X: float64((p.X - origin.X) * nm), Y: float64((origin.Y - p.Y) * nm)}
	}
}

// Size returns the local scale at p in nm per unit: the root of the change of areas, by differences over one unit.
func (place Place) Size(p geom.Vec) float64 {
	const h = 0.5
	x0, x1 := place(geom.Vec{X: p.X - h, Y: p.Y}), place(geom.Vec{X: p.X + h, Y: p.Y})
	y0, y1 := place(geom.Vec{X: p.X, Y: p.Y - h}), place(geom.Vec{X: p.X, Y: p.Y + h})
	ux, uy := geom.Vec{X: x1.X - x0.X, Y: x1.Y - x0.Y}, geom.Vec{X: y1.X - y0.X, Y: y1.Y - y0.Y}
	return math.Sqrt(math.Abs(cross(ux, uy)))
}

// DefaultTolerance is how far a chord may be from its curve, in nm, where nobody says.
const DefaultTolerance = 1

// maxHalvings bounds how often a curve is halved. A circle as large as the frame needs 16 for a tolerance of 1 nm.
const maxHalvings = 20

// Flattener makes chains of points of the grid. Chords stay within Tolerance of the mapped curve, each point is then
// rounded to the grid, which moves it by at most 0.71 nm.
type Flattener struct {
	Place     Place
	Tolerance float64 // nm; 0: DefaultTolerance
	// Within says why a place of the file, in its own units, is none that may be drawn at, such as one beside the photograph;
	// nil: all may be.
	Within func(geom.Vec) error
	Points []geom.Point // the chain so far

	last geom.Vec // its last point, before rounding
}

// PlaceError is a place of a file that the frame does not hold, or that Flattener.Within refuses.
type PlaceError struct {
	At geom.Vec // in the file's units
	To geom.Vec // in nm; not finite where the map has no such place
	// Err is what Flattener.Within says of it; nil: it may be drawn at, but the frame does not hold it.
	Err error
}

func (e *PlaceError) Unwrap() error { return e.Err }

func (e *PlaceError) Error() string {
	if e.Err != nil {
		return e.Err.Error()
	}
	if !finite(e.To) {
		return fmt.Sprintf("(%.6g, %.6g) is no place of the frame by the map that was given", e.At.X, e.At.Y)
	}
	return fmt.Sprintf("(%.6g, %.6g) comes to (%.6g, %.6g) µm, outside the frame of ±%.3f µm", e.At.X, e.At.Y, e.To.X/1e3, e.To.Y/1e3, geom.Limit/1e3)
}

func finite(v geom.Vec) bool { return v.X-v.X == 0 && v.Y-v.Y == 0 }

// Point returns where p lies in the frame, not rounded.
func (f *Flattener) Point(p geom.Vec) (geom.Vec, error) {
	v := f.Place(p)
	if f.Within != nil {
		if err := f.Within(p); err != nil {
			return v, &PlaceError{p, v, err}
		}
	}
	if !finite(v) || math.Abs(v.X) > geom.Limit || math.Abs(v.Y) > geom.Limit {
		return v, &PlaceError{p, v, nil}
	}
	return v, nil
}

// Move begins a new chain at p.
func (f *Flattener) Move(p geom.Vec) error {
	v, err := f.Point(p)
	f.Points, f.last = append(f.Points[:0], v.Round()), v
	return err
}

// Line goes straight on to p, from the place at which it is in the file's units.
func (f *Flattener) Line(from, p geom.Vec) error {
	return f.Curve(1, func(t float64) geom.Vec {
		return geom.Vec{X: from.X + float64(t*(p.X-from.X)), Y: from.Y + float64(t*(p.Y-from.Y))}
	}, p)
}

// Curve goes along a curve in the file's units: at(0) is where the chain has come to, at(1) is to. It is cut into parts
// of equal length in t first, so that none of them turns by much more than a quarter.
func (f *Flattener) Curve(parts int, at func(t float64) geom.Vec, to geom.Vec) error {
	end, err := f.Point(to)
	if err != nil {
		return err
	}
	for i := range parts {
		t0, t1 := float64(i)/float64(parts), float64(i+1)/float64(parts)
		next := end
		if i < parts-1 {
			if next, err = f.Point(at(t1)); err != nil {
				return err
			}
		}
		if err := f.piece(at, t0, f.last, t1, next, 0); err != nil {
			return err
		}
	}
	return nil
}

// piece appends the chain for what lies behind t0 up to t1.
func (f *Flattener) piece(at func(float64) geom.Vec, t0 float64, p0 geom.Vec, t1 float64, p1 geom.Vec, depth int) error {
	tolerance := f.Tolerance
	if tolerance == 0 {
		tolerance = DefaultTolerance
	}
	var middle geom.Vec
	straight := true
	for _, k := range [3]float64{0.5, 0.25, 0.75} {
		p, err := f.Point(at(t0 + float64(k*(t1-t0))))
		if err != nil {
			return err
		}
		if k == 0.5 {
			middle = p
		}
		if distance(p, p0, p1) > tolerance {
			straight = false
			break
		}
	}
	if straight || depth == maxHalvings {
		f.Points, f.last = append(f.Points, p1.Round()), p1
		return nil
	}
	t := t0 + float64(0.5*(t1-t0))
	if err := f.piece(at, t0, p0, t, middle, depth+1); err != nil {
		return err
	}
	return f.piece(at, t, middle, t1, p1, depth+1)
}

// distance returns how far p is from the segment ab.
func distance(p, a, b geom.Vec) float64 {
	d, q := geom.Vec{X: b.X - a.X, Y: b.Y - a.Y}, geom.Vec{X: p.X - a.X, Y: p.Y - a.Y}
	if l := dot(d, d); l > 0 {
		k := min(max(dot(q, d)/l, 0), 1)
		q = geom.Vec{X: q.X - float64(k*d.X), Y: q.Y - float64(k*d.Y)}
	}
	return math.Hypot(q.X, q.Y)
}
