package register

import (
	"fmt"
	"math"

	"undermetal/layout/geom"
)

// undone is the inverse of a spline.
type undone struct {
	s    *spline
	back Linear  // the inverse of its affine part: where the search starts
	unit float64 // extent of the control points in the source
}

// Inverse returns the way back. It is an error where the spline folds: where its determinant changes sign, or all but
// vanishes, at a control point or on a grid of 33 × 33 places over the box about them. A fold that is finer than that
// grid shows as places without a source.
func (s *spline) Inverse() (Map, error) {
	back, err := s.affine.Inverse()
	if err != nil {
		return nil, err
	}
	lo, hi := s.box()
	u := &undone{s, back.(Linear), math.Hypot(hi.X-lo.X, hi.Y-lo.Y)}
	const steps = 32
	places := make([]geom.Vec, 0, len(s.knots)+(steps+1)*(steps+1))
	for _, k := range s.knots {
		places = append(places, k.at)
	}
	for i := range steps + 1 {
		for j := range steps + 1 {
			places = append(places, geom.Vec{X: lo.X + (hi.X-lo.X)*float64(i)/steps, Y: lo.Y + (hi.Y-lo.Y)*float64(j)/steps})
		}
	}
	usual := s.affine.Jacobian(geom.Vec{}).Det()
	for i, p := range places {
		if !(s.Jacobian(p).Det()/usual > 1e-6) {
			where := fmt.Sprintf("near (%.6g, %.6g)", p.X, p.Y)
			if i < len(s.knots) {
				where = fmt.Sprintf("at control point %d, (%.6g, %.6g)", i+1, p.X, p.Y)
			}
			return nil, fmt.Errorf("a spline that folds %s, so that two places go to one: look for a wrong control point there, or take a projective map", where)
		}
	}
	return u, nil
}

func (s *spline) box() (lo, hi geom.Vec) {
	lo, hi = s.knots[0].at, s.knots[0].at
	for _, k := range s.knots {
		lo.X, lo.Y = min(lo.X, k.at.X), min(lo.Y, k.at.Y)
		hi.X, hi.Y = max(hi.X, k.at.X), max(hi.Y, k.at.Y)
	}
	return lo, hi
}

func (u *undone) Kind() Kind            { return inverseSpline }
func (u *undone) Inverse() (Map, error) { return u.s, nil }
func (u *undone) Parameters() []float64 { return u.s.Parameters() }

// Jacobian is the inverse of the spline's at the place found.
func (u *undone) Jacobian(q geom.Vec) Matrix { return u.s.Jacobian(u.Apply(q)).inverse() }

// Apply finds the p that the spline takes to q, by Newton's iteration from where the affine part alone would put it.
// A step that does not bring the image nearer is halved. Converged is what moves by less than 1e-12 of the extent of
// the control points and of p, in at most 60 steps.
func (u *undone) Apply(q geom.Vec) geom.Vec {
	p := u.back.Apply(q)
	miss := minus(u.s.Apply(p), q)
	for range 60 {
		step := u.s.Jacobian(p).inverse().apply(miss)
		size := math.Sqrt(square(step))
		if math.IsNaN(size) {
			break
		}
		if size <= 1e-12*(u.unit+math.Sqrt(square(p))) {
			return minus(p, step)
		}
		next := minus(p, step)
		nextMiss := minus(u.s.Apply(next), q)
		for halves := 0; !(square(nextMiss) < square(miss)) && halves < 40; halves++ {
			step = step.Scale(0.5)
			next = minus(p, step)
			nextMiss = minus(u.s.Apply(next), q)
		}
		if !(square(nextMiss) < square(miss)) {
			// Nothing nearer: rounding has the last word, unless the step was a real one.
			if size <= 1e-8*u.unit {
				return p
			}
			break
		}
		p, miss = next, nextMiss
	}
	return noVec
}
