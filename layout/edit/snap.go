package edit

import (
	"fmt"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// Nearby returns the shapes that come near a box. See ShapesOf.
type Nearby func(box geom.Rect) ([]dossier.Shape, error)

// ShapesOf is the Nearby of a cell's own shapes, by the dossier's index of boxes. r is a dossier, a moment of it, or an
// edit under way. What the cell places is not among them.
func ShapesOf(r interface {
	ShapesIn(cell int64, box geom.Rect) ([]dossier.Shape, error)
}, cell int64) Nearby {
	return func(box geom.Rect) ([]dossier.Shape, error) { return r.ShapesIn(cell, box) }
}

// Snap says what a point is drawn to. The zero value leaves every point where it is.
//
// Of what is switched on, the first that catches wins:
//
//  1. a vertex within reach; of several the nearest
//  2. where the ray that Angles draws to crosses an edge within reach
//  3. the nearest point of the nearest edge within reach
//  4. the ray, at any distance
//  5. the grid
//
// (A crossing comes before the plain edge: it lies on that edge as well, and would never be found after it.) Equally near
// things: the shape that comes later, as it is drawn on top. Points are rounded to whole nanometres.
type Snap struct {
	Grid     int  // nm, from the frame's origin; 0: none
	Reach    int  // nm, for vertices and edges
	Vertices bool // corners of shapes
	Edges    bool
	Near     Nearby // the shapes; nil: none

	Angles bool       // multiples of 45° from Anchor
	Anchor geom.Point // where the line that is drawn begins
	Axis   float64    // degrees by which the die's own axes are turned against the frame's
}

// SnapKind says what caught a point.
type SnapKind string

const (
	SnapNothing      SnapKind = "nothing"
	SnapVertex       SnapKind = "vertex"
	SnapEdge         SnapKind = "edge"
	SnapAngleAndEdge SnapKind = "angle and edge"
	SnapAngle        SnapKind = "angle"
	SnapGrid         SnapKind = "grid"
)

// Snapped is where a point was drawn to.
type Snapped struct {
	At     geom.Point
	Kind   SnapKind
	Shape  int64  // of a vertex or edge
	Vertex Vertex // the vertex, or the edge
	Angle  float64
	// Angle is that of the ray in degrees, counterclockwise from the frame's x axis, in [0, 360).
}

// Point returns where a point is drawn to.
func (s *Snap) Point(p geom.Point) (Snapped, error) {
	if err := s.check(p); err != nil {
		return Snapped{}, err
	}
	ray, degrees := s.ray(p)
	if s.Reach > 0 && s.Near != nil && (s.Vertices || s.Edges) {
		f := newFinding(p, s.Reach)
		shapes, err := s.Near(f.box)
		if err != nil {
			return Snapped{}, err
		}
		for i := range shapes {
			f.shape(&shapes[i], s.Vertices, s.Edges, ray)
		}
		switch {
		case f.vertex.found:
			return f.vertex.snapped(SnapVertex, 0), nil
		case f.crossing.found:
			return f.crossing.snapped(SnapAngleAndEdge, degrees), nil
		case f.edge.found:
			return f.edge.snapped(SnapEdge, 0), nil
		}
	}
	switch {
	case ray != nil:
		return Snapped{At: s.along(ray, p), Kind: SnapAngle, Angle: degrees}, nil
	case s.Grid > 0:
		return Snapped{At: geom.Point{X: toGrid(p.X, s.Grid), Y: toGrid(p.Y, s.Grid)}, Kind: SnapGrid}, nil
	}
	return Snapped{At: p, Kind: SnapNothing}, nil
}

func (s *Snap) check(p geom.Point) error {
	switch {
	case !p.InFrame():
		return fmt.Errorf("%s lies beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin", place(p))
	case s.Angles && !s.Anchor.InFrame():
		return fmt.Errorf("%s, where the angle has its corner, lies beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin", place(s.Anchor))
	case s.Grid < 0 || s.Grid > geom.Limit:
		return fmt.Errorf("a grid of %g µm: give a step of 0.001 µm or more, or 0 for none", um(s.Grid))
	case s.Reach < 0 || s.Reach > geom.Limit:
		return fmt.Errorf("a reach of %g µm: give 0 or more, within the frame", um(s.Reach))
	}
	return angle(s.Axis)
}

// toGrid returns the nearest multiple of a step that lies in the frame, halves up.
func toGrid(v, step int) int {
	k := int(math.Floor((float64(v) + float64(step)/2) / float64(step)))
	last := geom.Limit / step
	return min(max(k, -last), last) * step
}

// line is a ray from the anchor in one of eight directions.
type line struct {
	from   geom.Vec
	dir    geom.Vec   // of length 1
	whole  geom.Point // the direction in whole numbers, where the axes are the frame's; else zero
	anchor geom.Point
}

// ray returns the ray nearest to p in direction, nil if there is none to be drawn to, with its angle.
func (s *Snap) ray(p geom.Point) (*line, float64) {
	if !s.Angles || p == s.Anchor {
		return nil, 0
	}
	d := p.Sub(s.Anchor)
	towards := math.Atan2(float64(d.Y), float64(d.X)) * 180 / math.Pi
	eighth := int(math.Floor((towards-s.Axis)/45+0.5)) & 7
	degrees := normal(s.Axis + 45*float64(eighth))
	l := &line{from: vec(s.Anchor), anchor: s.Anchor}
	l.dir = turning(false, degrees, geom.Point{}).vec(geom.Vec{X: 1})
	if k := int(degrees / 45); degrees == float64(45*k) {
		l.whole = [8]geom.Point{{X: 1}, {X: 1, Y: 1}, {Y: 1}, {X: -1, Y: 1}, {X: -1}, {X: -1, Y: -1}, {Y: -1}, {X: 1, Y: -1}}[k]
	}
	return l, degrees
}

func vec(p geom.Point) geom.Vec { return geom.Vec{X: float64(p.X), Y: float64(p.Y)} }

// along returns the point of the ray nearest to p, on the grid as far as that is possible on a ray: one along an axis of
// the frame has its long coordinate on the grid, one at 45° its x; others go without.
func (s *Snap) along(l *line, p geom.Point) geom.Point {
	d := p.Sub(l.anchor)
	t := max(float64(d.X)*l.dir.X+float64(d.Y)*l.dir.Y, 0)
	if l.whole == (geom.Point{}) {
		return inside(l.from, geom.Vec{X: l.dir.X * t, Y: l.dir.Y * t})
	}
	if l.whole.X != 0 && l.whole.Y != 0 {
		t /= math.Sqrt2
	}
	n := geom.RoundHalfUp(t)
	if s.Grid > 0 {
		if l.whole.X != 0 {
			n = (toGrid(l.anchor.X+n*l.whole.X, s.Grid) - l.anchor.X) * l.whole.X
		} else {
			n = (toGrid(l.anchor.Y+n*l.whole.Y, s.Grid) - l.anchor.Y) * l.whole.Y
		}
		n = max(n, 0)
	}
	for _, room := range [2][2]int{{l.anchor.X, l.whole.X}, {l.anchor.Y, l.whole.Y}} {
		if room[1] != 0 {
			n = min(n, geom.Limit-room[0]*room[1])
		}
	}
	return geom.Point{X: l.anchor.X + n*l.whole.X, Y: l.anchor.Y + n*l.whole.Y}
}

// inside returns from + way on the grid, shortened so that it stays in the frame.
func inside(from, way geom.Vec) geom.Point {
	k := 1.0
	for _, c := range [2][2]float64{{from.X, way.X}, {from.Y, way.Y}} {
		if end := c[0] + c[1]; end > geom.Limit {
			k = min(k, (geom.Limit-c[0])/c[1])
		} else if end < -geom.Limit {
			k = min(k, (-geom.Limit-c[0])/c[1])
		}
	}
	return geom.Vec{X: from.X + k*way.X, Y: from.Y + k*way.Y}.Round()
}
