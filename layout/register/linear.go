package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"undermetal/layout/geom"
)

// rows returns the two rows of the matrix, and of the right side, that belong to point i.
type rows func(i int) (x, y []float64, right geom.Vec)

// solve solves 2n equations for the unknowns, each pair weighted, by singular value decomposition.
//
// hat is, for each point, its 2×2 block of the hat matrix U·Uᵀ: how much of a fitted place is its own given one. An
// error means that an unknown is all but open: of what passes checkPoints, points whose weights are very different.
func (s *system) solve(unknowns int, at rows) (q []float64, hat []Matrix, err error) {
	n := len(s.u)
	a, b := mat.NewDense(2*n, unknowns, nil), mat.NewVecDense(2*n, nil)
	for i, w := range s.root {
		x, y, right := at(i)
		for j := range x {
			a.Set(2*i, j, w*x[j])
			a.Set(2*i+1, j, w*y[j])
		}
		b.SetVec(2*i, w*right.X)
		b.SetVec(2*i+1, w*right.Y)
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) || svd.Cond() > 1e8 {
		return nil, nil, fmt.Errorf("the %s hardly determine the map: add points far from the others, or let them count more alike", counted(n))
	}
	var x mat.VecDense
	svd.SolveVecTo(&x, b, unknowns)
	var u mat.Dense
	svd.UTo(&u)
	hat = make([]Matrix, n)
	for i := range hat {
		for r := range 2 {
			for c := range 2 {
				hat[i][r][c] = mat.Dot(u.RowView(2*i+r), u.RowView(2*i+c))
			}
		}
	}
	return x.RawVector().Data, hat, nil
}

// affine fits X = a·x + b·y + c, Y = d·x + e·y + f.
func (s *system) affine() (result, error) {
	q, hat, err := s.solve(6, func(i int) (x, y []float64, right geom.Vec) {
		u := s.u[i]
		return []float64{u.X, u.Y, 1, 0, 0, 0}, []float64{0, 0, 0, u.X, u.Y, 1}, s.v[i]
	})
	if err != nil {
		return result{}, err
	}
	r, _, err := s.linear(Linear{Affine, [3][3]float64{{q[0], q[1], q[2]}, {q[3], q[4], q[5]}, {0, 0, 1}}}, hat, 6)
	return r, err
}

// similarity fits X = a·x − b·y + c, Y = b·x + a·y + d, or turned over X = a·x + b·y + c, Y = b·x − a·y + d, which is the
// same for (x, −y). It also returns the weighted sum of squares.
func (s *system) similarity(over bool) (result, float64, error) {
	sign := 1.0
	if over {
		sign = -1
	}
	q, hat, err := s.solve(4, func(i int) (x, y []float64, right geom.Vec) {
		u := geom.Vec{X: s.u[i].X, Y: sign * s.u[i].Y}
		return []float64{u.X, -u.Y, 1, 0}, []float64{u.Y, u.X, 0, 1}, s.v[i]
	})
	if err != nil {
		return result{}, 0, err
	}
	return s.linear(Linear{Similarity, [3][3]float64{{q[0], -q[1] * sign, q[2]}, {q[1], q[0] * sign, q[3]}, {0, 0, 1}}}, hat, 4)
}

// eitherSide takes the better of both similarities where the points tell, else the usual one.
func (s *system) eitherSide(target Target) (result, error) {
	usual, rss, err := s.similarity(target == ToFrame)
	all := make([]int, len(s.u))
	for i := range all {
		all[i] = i
	}
	for _, places := range [][]geom.Vec{s.u, s.v} {
		if m := momentsOf(places, all); len(s.u) < 3 || m.narrow() < tellsSides*m.long() {
			return usual, err
		}
	}
	other, rssOther, errOther := s.similarity(target != ToFrame)
	if errOther == nil && (err != nil || rssOther < rss) {
		return other, nil
	}
	return usual, err
}

// linear makes the result of a map of u to v that depends linearly on its parameters. The map without point i follows
// from its residual r and its block H of the hat matrix: it misses the point by (1 − H)⁻¹·r, and the sum of squares
// falls by rᵀ(1 − H)⁻¹·r (R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982, from memory).
func (s *system) linear(l Linear, hat []Matrix, parameters int) (result, float64, error) {
	n := len(s.u)
	missed, without := make([]geom.Vec, n), make([]float64, n)
	rss := s.rss(l)
	for i := range s.u {
		e := minus(l.Apply(s.u[i]), s.v[i])
		rest := Matrix{{1 - hat[i][0][0], -hat[i][0][1]}, {-hat[i][1][0], 1 - hat[i][1][1]}}
		if rest.Det() < 1e-9 {
			missed[i], without[i] = noVec, math.NaN()
			continue
		}
		m := rest.inverse().apply(e)
		missed[i] = m.Scale(s.to.unit)
		without[i] = rss - s.root[i]*s.root[i]*(e.X*m.X+e.Y*m.Y)
	}
	out, err := s.unscaled(l)
	return result{out, missed, outliers(rss, without, parameters)}, rss, err
}

// rss is the weighted sum of squared residuals.
func (s *system) rss(m Map) (sum float64) {
	for i, w := range s.root {
		sum += w * w * square(minus(m.Apply(s.u[i]), s.v[i]))
	}
	return sum
}
