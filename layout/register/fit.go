package register

import (
	"fmt"
	"math"

	"undermetal/layout/geom"
)

// Point is a control point: a place in a photograph and where it belongs.
type Point struct {
	From  geom.Vec // in px, y downward
	To    geom.Vec // in nm of the frame, y up, or in px of another shot
	Sigma float64  // standard uncertainty of each pixel coordinate; weight 1/Sigma². 0 in all points: all count alike
}

// Target is what control points lead to. It tells which way round a picture usually is.
type Target int

const (
	ToFrame Target = iota // axes x right, y up: seen from above, a photograph (y downward) is turned over on the way
	ToShot                // axes as in the photograph itself: x right, y downward
)

// Fit is a fitted map and how well it fits. Lists are in the order of the points.
type Fit struct {
	Map           Map
	Residuals     []geom.Vec // fitted − given, in the target's unit
	ResidualsFrom []geom.Vec // the same in px of the source, through the map's derivative: first order
	LeaveOneOut   []float64  // how far the map fitted without a point misses it, in the target's unit; NaN where too little is left to fit
	Outlier       []bool     // does not go with the others: see outlier.go
	Rms, RmsFrom  float64    // √(Σ|residual|²/n), points counted alike, in the target's unit and in px of the source
	SigmaScale    float64    // standard uncertainty of the scale at the centre of the points, as a part of it, by the residuals; NaN without any to spare, and for a spline
	Mirrored      bool       // one side is seen from behind: the map turns over what the axes would leave, or the reverse
}

// FitPoints fits a map of the kind to the points, by least squares in the target; a spline goes through all of them,
// and weights do not matter to it.
//
// A similarity cannot tell by itself whether the picture is seen from behind. Of three or more points that do not lie
// about a line the better of both is taken; with less to go by it is as the axes of the target say.
//
// Errors name the points that are too few, at the same place, on one line, or do not follow any map of the kind. The
// source's and the target's places must both determine it.
func FitPoints(kind Kind, points []Point, target Target) (*Fit, error) {
	if err := checkPoints(kind, points); err != nil {
		return nil, err
	}
	s := newSystem(points)
	var r result
	var err error
	switch kind {
	case Similarity:
		r, err = s.eitherSide(target)
	case Affine:
		r, err = s.affine()
	case Projective:
		r, err = s.projective()
	default:
		r, err = s.spline()
	}
	if err != nil {
		return nil, err
	}
	return r.fit(s, target), nil
}

// result is what a solver found, in the units of the points.
type result struct {
	m       Map
	missed  []geom.Vec // by the map fitted without the point; NaN where there is none
	outlier []bool
	sigma   float64 // of the scale, relative
}

func (r result) fit(s *system, target Target) *Fit {
	n := len(s.points)
	f := &Fit{Map: r.m, Outlier: r.outlier, SigmaScale: r.sigma, LeaveOneOut: make([]float64, n), Residuals: make([]geom.Vec, n), ResidualsFrom: make([]geom.Vec, n)}
	var sum, sumFrom float64
	for i, p := range s.points {
		e := minus(r.m.Apply(p.From), p.To)
		b := r.m.Jacobian(p.From).inverse().apply(e)
		f.Residuals[i], f.ResidualsFrom[i] = e, b
		f.LeaveOneOut[i] = math.Hypot(r.missed[i].X, r.missed[i].Y)
		sum, sumFrom = sum+square(e), sumFrom+square(b)
	}
	f.Rms, f.RmsFrom = math.Sqrt(sum/float64(n)), math.Sqrt(sumFrom/float64(n))
	turnsOver := r.m.Jacobian(s.from.centre).Det() < 0
	f.Mirrored = turnsOver != (target == ToFrame)
	return f
}

func minus(a, b geom.Vec) geom.Vec { return geom.Vec{X: a.X - b.X, Y: a.Y - b.Y} }
func square(a geom.Vec) float64    { return a.X*a.X + a.Y*a.Y }

var noVec = geom.Vec{X: math.NaN(), Y: math.NaN()}

// system holds the points centred on their means and scaled to a root mean square distance of √2 (R. Hartley, In
// defence of the eight-point algorithm, 1997, from memory), which keeps the matrices well conditioned. The target's
// scale is one number for both axes, so that least squares mean the same.
type system struct {
	points   []Point
	u, v     []geom.Vec // source and target
	root     []float64  // of the weights, whose mean is 1
	from, to scaling
}

// scaling takes a place to (place − centre)/unit.
type scaling struct {
	centre geom.Vec
	unit   float64
}

func newSystem(points []Point) *system {
	n := len(points)
	s := &system{points: points, u: make([]geom.Vec, n), v: make([]geom.Vec, n), root: make([]float64, n)}
	var sum float64
	for i, p := range points {
		s.u[i], s.v[i], s.root[i] = p.From, p.To, 1
		if p.Sigma > 0 {
			s.root[i] = points[0].Sigma / p.Sigma
		}
		sum += s.root[i] * s.root[i]
	}
	for i := range s.root {
		s.root[i] /= math.Sqrt(sum / float64(n))
	}
	s.from, s.to = scaled(s.u), scaled(s.v)
	return s
}

// scaled moves and scales the places themselves.
func scaled(places []geom.Vec) scaling {
	n := float64(len(places))
	var s scaling
	for _, p := range places {
		s.centre.X += p.X / n
		s.centre.Y += p.Y / n
	}
	for _, p := range places {
		s.unit += square(minus(p, s.centre)) / (2 * n)
	}
	s.unit = math.Sqrt(s.unit)
	for i, p := range places {
		places[i] = minus(p, s.centre).Scale(1 / s.unit)
	}
	return s
}

// unscaled takes a map of u to v to one of the points themselves, and refuses what flattens them.
func (s *system) unscaled(l Linear) (Linear, error) {
	a, b := s.from.unit, s.to.unit
	into := Linear{l.kind, [3][3]float64{{1 / a, 0, -s.from.centre.X / a}, {0, 1 / a, -s.from.centre.Y / a}, {0, 0, 1}}}
	out := Linear{l.kind, [3][3]float64{{b, 0, s.to.centre.X}, {0, b, s.to.centre.Y}, {0, 0, 1}}}
	for i := range s.u {
		j := l.Jacobian(s.u[i])
		if size := math.Hypot(math.Hypot(j[0][0], j[0][1]), math.Hypot(j[1][0], j[1][1])); !(math.Abs(j.Det()) > 1e-9*size*size) || size < 1e-9 {
			return l, fmt.Errorf("the best %s map takes the neighbourhood of point %d to a line or point: the targets do not follow the places; check which point belongs to which target", l.kind, i+1)
		}
	}
	return out.times(l).times(into), nil
}
