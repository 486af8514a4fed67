package register

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"undermetal/layout/geom"
)

// refitAll is up to how many points a projective map is fitted anew without each of them. With more, one Gauss–Newton
// step stands for it; what that leaves out falls faster than 1/n.
const refitAll = 200

// projective fits a projective map: a start by equations that are linear, then the minimum in the target.
//
// The linear start is where the residuals, multiplied by the depth w, are least (direct linear transform on scaled points: R.
// Hartley, A. Zisserman, Multiple View Geometry, 2004, 4.4, from memory). Where its horizon runs between the points, the
// affine map is the start instead.
func (s *system) projective() (result, error) {
	start := s.linearStart()
	if torn := s.beyond(start); torn != nil {
		if len(s.u) == Projective.Points() {
			return result{}, tornError(torn)
		}
		if start = s.affineStart(); start.kind == "" {
			return result{}, tornError(torn)
		}
	}
	l, ok := s.refine(start, -1)
	if !ok {
		if torn := s.beyond(s.linearStart()); torn != nil {
			return result{}, tornError(torn)
		}
		return result{}, errors.New("the projective fit does not come to rest: look for exchanged targets, with the residuals of an affine map")
	}
	found, err := s.solve(8, func(i int) (x, y []float64, right geom.Vec) {
		jx, jy, e := derivatives(l, s.u[i], s.v[i])
		return jx[:], jy[:], e
	})
	if err != nil {
		return result{}, err
	}
	r, rss, err := s.linear(l, found)
	if n := len(s.u); err == nil && n <= refitAll {
		without := make([]float64, n)
		for i := range s.u {
			r.missed[i], without[i] = s.refitted(l, i)
		}
		r.outlier = outliers(rss, without, 8)
	}
	return r, err
}

func tornError(beyond []int) error {
	return fmt.Errorf("the projective map that fits has its horizon between the points, with %s beyond it: no camera sees that; look for exchanged targets, with the residuals of an affine map", named(beyond))
}

// refitted fits without point skip and returns by how much that map misses the point, in the target's unit, and the sum
// of squares of the others; NaN where they do not determine a map.
func (s *system) refitted(l Linear, skip int) (geom.Vec, float64) {
	rest := make([]geom.Vec, 0, len(s.u))
	rest = append(append(rest, s.u[:skip]...), s.u[skip+1:]...)
	if len(rest) < Projective.Points() || determines(Projective, rest, "") != nil {
		return noVec, math.NaN()
	}
	m, ok := s.refine(l, skip)
	if !ok {
		return noVec, math.NaN()
	}
	e := minus(m.Apply(s.u[skip]), s.v[skip])
	return e.Scale(s.to.unit), s.rss(m) - s.root[skip]*s.root[skip]*square(e)
}

// linearStart returns the null vector of the equations u×v = 0, two a point, scaled to depth 1 at the centre.
func (s *system) linearStart() Linear {
	n := len(s.u)
	a := mat.NewDense(2*n+1, 9, nil) // a row of zeros, so that four points too have nine right vectors
	for i, w := range s.root {
		u, v := s.u[i].Scale(w), s.v[i]
		a.SetRow(2*i, []float64{u.X, u.Y, w, 0, 0, 0, -v.X * u.X, -v.X * u.Y, -v.X * w})
		a.SetRow(2*i+1, []float64{0, 0, 0, u.X, u.Y, w, -v.Y * u.X, -v.Y * u.Y, -v.Y * w})
	}
	var svd mat.SVD
	svd.Factorize(a, mat.SVDThin)
	var right mat.Dense
	svd.VTo(&right)
	l := Linear{kind: Projective}
	for i := range 9 {
		l.m[i/3][i%3] = right.At(i, 8)
	}
	return l.unit()
}

// affineStart is the affine fit as a projective map; of no kind where there is none.
func (s *system) affineStart() Linear {
	l, _, err := s.solveAffine()
	if err != nil {
		return Linear{}
	}
	l.kind = Projective
	return l
}

// beyond returns the points that lie on the other side of the horizon than the centre, or on it.
func (s *system) beyond(l Linear) (ids []int) {
	for i, u := range s.u {
		if !(l.depth(u)*l.m[2][2] > 0) {
			ids = append(ids, i)
		}
	}
	return ids
}

// derivatives returns those of the two residuals by the eight parameters (the ninth is 1), and the residuals.
//
//	∂X/∂(a, b, c) = (x, y, 1)/w    ∂X/∂(g, h) = −X·(x, y)/w    and so for Y
func derivatives(l Linear, u, v geom.Vec) (x, y [8]float64, e geom.Vec) {
	w, q := l.depth(u), l.Apply(u)
	k := geom.Vec{X: u.X / w, Y: u.Y / w}
	x = [8]float64{k.X, k.Y, 1 / w, 0, 0, 0, -q.X * k.X, -q.X * k.Y}
	y = [8]float64{0, 0, 0, k.X, k.Y, 1 / w, -q.Y * k.X, -q.Y * k.Y}
	return x, y, minus(q, v)
}

// refine goes downhill from l to the least sum of squares in the target, over all points but skip (-1: over all), by
// Levenberg–Marquardt (D. Marquardt, 1963, from memory): steps of (JᵀJ + λ·diag JᵀJ)·δ = −Jᵀe, λ smaller after a step
// that helps and larger after one that does not or that puts a point beyond the horizon. It reports whether it came to
// rest, which is when a step changes nothing beyond rounding.
func (s *system) refine(l Linear, skip int) (Linear, bool) {
	normal, gradient, sum := s.normal(l, skip)
	for lambda, tries := 1e-6, 0; tries < 200; tries++ {
		step, ok := downhill(normal, gradient, lambda)
		if !ok {
			return l, false
		}
		next, size := l, 0.0
		for i, d := range step {
			next.m[i/3][i%3] += d
			size = math.Hypot(size, d)
		}
		resting := size < 1e-12
		if nextNormal, nextGradient, nextSum := s.normal(next, skip); nextSum <= sum {
			l, normal, gradient, sum = next, nextNormal, nextGradient, nextSum
			lambda = max(lambda/10, 1e-12)
		} else {
			lambda *= 10
		}
		if resting {
			return l, atRest(normal, gradient)
		}
	}
	return l, false
}

// atRest tells a minimum from a place where only small steps are left because of the horizon.
func atRest(normal [8][8]float64, gradient [8]float64) bool {
	step, ok := downhill(normal, gradient, 0)
	for _, d := range step {
		ok = ok && math.Abs(d) < 1e-6
	}
	return ok
}

// normal returns JᵀJ, −Jᵀe and the weighted sum of squares, which is infinite where a point is beyond the horizon.
func (s *system) normal(l Linear, skip int) (n [8][8]float64, g [8]float64, sum float64) {
	for i, u := range s.u {
		if i == skip {
			continue
		}
		if l.depth(u) <= 0 {
			return n, g, math.Inf(1)
		}
		x, y, e := derivatives(l, u, s.v[i])
		w := s.root[i] * s.root[i]
		sum += w * square(e)
		for r := range 8 {
			g[r] -= w * (x[r]*e.X + y[r]*e.Y)
			for c := range r + 1 {
				n[r][c] += w * (x[r]*x[c] + y[r]*y[c])
			}
		}
	}
	return n, g, sum
}

// downhill solves (N + λ·diag N)·δ = g by Cholesky's decomposition; only the lower half of N is looked at.
func downhill(n [8][8]float64, g [8]float64, lambda float64) (d [8]float64, ok bool) {
	for r := range 8 {
		n[r][r] *= 1 + lambda
		for c := range r + 1 {
			v := n[r][c]
			for k := range c {
				v -= n[r][k] * n[c][k]
			}
			if c < r {
				n[r][c] = v / n[c][c]
			} else if v > 1e-14*n[r][r] {
				n[r][r] = math.Sqrt(v)
			} else {
				return d, false
			}
		}
	}
	for r := range 8 {
		d[r] = g[r]
		for k := range r {
			d[r] -= n[r][k] * d[k]
		}
		d[r] /= n[r][r]
	}
	for r := 7; r >= 0; r-- {
		for k := r + 1; k < 8; k++ {
			d[r] -= n[k][r] * d[k]
		}
		d[r] /= n[r][r]
	}
	return d, true
}
