package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"undermetal/layout/geom"
)

// maxSpline is how many points a spline takes: its matrix has as many rows and columns, and its fit takes seconds.
const maxSpline = 2000

// spline is a thin-plate spline: an affine map and, for each control point, a bump that bends it.
//
//	f(p) = affine(p) + Σ wᵢ·U(|p − pᵢ|)    U(r) = r² ln r    Σw = Σw·x = Σw·y = 0
//
// It is the map through all control points that bends least (J. Duchon, 1977; F. Bookstein, Principal Warps, 1989, both
// from memory). Far from the points it becomes affine.
type spline struct {
	affine Linear
	knots  []knot
}

type knot struct{ at, weight geom.Vec }

// spline solves for the weights. What the spline without a point misses it by is wᵢ/Pᵢᵢ, with P the inverse of the
// matrix (S. Rippa, Adv. Comput. Math. 11, 1999, from memory).
func (s *system) spline() (result, error) {
	n := len(s.u)
	var lu mat.LU
	lu.Factorize(s.splineMatrix())
	right := mat.NewDense(n+3, n+5, nil) // the places of the targets, then the unit matrix
	for i := range n + 3 {
		if i < n {
			right.Set(i, 0, s.v[i].X)
			right.Set(i, 1, s.v[i].Y)
		}
		right.Set(i, 2+i, 1)
	}
	var x mat.Dense
	// Of points that checkPoints lets pass, only two that all but coincide make the condition so bad.
	if err := lu.SolveTo(&x, false, right); err != nil || lu.Cond() > 1e11 {
		i, j, d := closest(s.u)
		return result{}, fmt.Errorf("points %d and %d lie %.3g px apart, too near to each other for a spline: keep one of them", i+1, j+1, d*s.from.unit)
	}
	m, err := s.splineOf(&x)
	if err != nil {
		return result{}, err
	}
	r := result{m: m, missed: make([]geom.Vec, n), sigma: math.NaN()}
	p, wx, wy := make([][]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		p[i] = mat.Row(nil, i, &x)[2 : 2+n]
		wx[i], wy[i] = x.At(i, 0), x.At(i, 1)
		r.missed[i] = noVec
		// Where the others are on a line, or are two, they determine no spline: then Pᵢᵢ is 0.
		if math.Abs(p[i][i]) > 1e-10 {
			r.missed[i] = geom.Vec{X: wx[i], Y: wy[i]}.Scale(-s.to.unit / p[i][i])
		}
	}
	r.outlier = splineOutliers(p, wx, wy)
	return r, nil
}

// splineMatrix is (K Q; Qᵀ 0) with K the bumps between the points and Q the rows (1, x, y).
func (s *system) splineMatrix() *mat.Dense {
	n := len(s.u)
	a := mat.NewDense(n+3, n+3, nil)
	for i, p := range s.u {
		for j, q := range s.u[:i] {
			v := bump(square(minus(p, q)))
			a.Set(i, j, v)
			a.Set(j, i, v)
		}
		for k, v := range []float64{1, p.X, p.Y} {
			a.Set(i, n+k, v)
			a.Set(n+k, i, v)
		}
	}
	return a
}

// bump is U as a function of r².
func bump(r2 float64) float64 {
	if r2 == 0 {
		return 0
	}
	return r2 * math.Log(r2) / 2
}

// splineOf takes the solution to the units of the points. With r in px, U(r/s) = (U(r) − r² ln s)/s², and because of the
// side conditions Σ wᵢ|p − pᵢ|² is the constant Σ wᵢ|pᵢ|².
func (s *system) splineOf(x *mat.Dense) (*spline, error) {
	n := len(s.u)
	m := &spline{knots: make([]knot, n)}
	var constant geom.Vec
	unit2 := s.from.unit * s.from.unit
	for i := range n {
		w := geom.Vec{X: x.At(i, 0), Y: x.At(i, 1)}
		r2 := square(s.u[i]) * math.Log(s.from.unit)
		constant.X, constant.Y = constant.X-w.X*r2, constant.Y-w.Y*r2
		m.knots[i] = knot{s.points[i].From, w.Scale(s.to.unit / unit2)}
	}
	l := Linear{Affine, [3][3]float64{{x.At(n+1, 0), x.At(n+2, 0), x.At(n, 0) + constant.X}, {x.At(n+1, 1), x.At(n+2, 1), x.At(n, 1) + constant.Y}, {0, 0, 1}}}
	var err error
	m.affine, err = s.unscaled(l)
	return m, err
}

func (s *spline) Kind() Kind { return Spline }

func (s *spline) Apply(p geom.Vec) geom.Vec {
	q := s.affine.Apply(p)
	for _, k := range s.knots {
		u := bump(square(minus(p, k.at)))
		q.X, q.Y = q.X+k.weight.X*u, q.Y+k.weight.Y*u
	}
	return q
}

// Jacobian: ∂U/∂x = (x − xᵢ)(ln r² + 1), and 0 at a control point itself.
func (s *spline) Jacobian(p geom.Vec) Matrix {
	j := s.affine.Jacobian(p)
	for _, k := range s.knots {
		d := minus(p, k.at)
		r2 := square(d)
		if r2 == 0 {
			continue
		}
		g := d.Scale(math.Log(r2) + 1)
		j[0][0], j[0][1] = j[0][0]+k.weight.X*g.X, j[0][1]+k.weight.X*g.Y
		j[1][0], j[1][1] = j[1][0]+k.weight.Y*g.X, j[1][1]+k.weight.Y*g.Y
	}
	return j
}

// Parameters are the six of the affine part, then x, y and the weights in X and Y of each control point.
func (s *spline) Parameters() []float64 {
	p := s.affine.Parameters()
	for _, k := range s.knots {
		p = append(p, k.at.X, k.at.Y, k.weight.X, k.weight.Y)
	}
	return p
}

func parseSpline(p []float64) (*spline, error) {
	if n := len(p); n < 6+4*3 || (n-6)%4 != 0 || (n-6)/4 > maxSpline {
		return nil, fmt.Errorf("a spline with %d parameters: it has 6, and 4 for each of its 3 to %d control points", n, maxSpline)
	}
	m, err := parseLinear(Affine, p[:6])
	if err != nil {
		return nil, fmt.Errorf("the affine part of a spline: %w", err)
	}
	s := &spline{affine: m.(Linear)}
	for p = p[6:]; len(p) > 0; p = p[4:] {
		s.knots = append(s.knots, knot{geom.Vec{X: p[0], Y: p[1]}, geom.Vec{X: p[2], Y: p[3]}})
	}
	return s, nil
}
