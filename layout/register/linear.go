package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"undermetal/layout/geom"
)

// solution is that of a least-squares problem.
type solution struct {
	q    []float64  // the unknowns
	hat  []Matrix   // of each point, its 2×2 block of the hat matrix U·Uᵀ: how much of a fitted place is its own given one
	root *mat.Dense // B with B·Bᵀ·σ² the covariance of the unknowns, for errors of σ: V·S⁻¹
}

// rows returns the two rows of the matrix, and of the right side, that belong to point i.
type rows func(i int) (x, y []float64, right geom.Vec)

// solve solves 2n equations for the unknowns, each pair weighted, by singular value decomposition.
//
// An error means that an unknown is all but open: of what passes checkPoints, points whose weights are very different.
func (s *system) solve(unknowns int, at rows) (solution, error) {
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
		return solution{}, fmt.Errorf("the %s hardly determine the map: add points far from the others, or let them count more alike", counted(n))
	}
	var x mat.VecDense
	svd.SolveVecTo(&x, b, unknowns)
	var u, v mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	singular := svd.Values(nil)
	v.Apply(func(_, c int, value float64) float64 { return value / singular[c] }, &v)
	hat := make([]Matrix, n)
	for i := range hat {
		for r := range 2 {
			for c := range 2 {
				hat[i][r][c] = mat.Dot(u.RowView(2*i+r), u.RowView(2*i+c))
			}
		}
	}
	return solution{x.RawVector().Data, hat, &v}, nil
}

// affine fits X = a·x + b·y + c, Y = d·x + e·y + f.
func (s *system) affine() (result, error) {
	l, found, err := s.solveAffine()
	if err != nil {
		return result{}, err
	}
	r, _, err := s.linear(l, found)
	return r, err
}

func (s *system) solveAffine() (Linear, solution, error) {
	found, err := s.solve(6, func(i int) (x, y []float64, right geom.Vec) {
		u := s.u[i]
		return []float64{u.X, u.Y, 1, 0, 0, 0}, []float64{0, 0, 0, u.X, u.Y, 1}, s.v[i]
	})
	if err != nil {
		return Linear{}, found, err
	}
	l := Linear{Affine, [3][3]float64{{}, {}, {0, 0, 1}}}
	copy(l.m[0][:], found.q[:3])
	copy(l.m[1][:], found.q[3:])
	return l, found, nil
}

// similarity fits X = a·x − b·y + c, Y = b·x + a·y + d, or turned over X = a·x + b·y + c, Y = b·x − a·y + d, which is the
// same for (x, −y). It also returns the weighted sum of squares.
func (s *system) similarity(over bool) (result, float64, error) {
	sign := 1.0
	if over {
		sign = -1
	}
	found, err := s.solve(4, func(i int) (x, y []float64, right geom.Vec) {
		u := geom.Vec{X: s.u[i].X, Y: sign * s.u[i].Y}
		return []float64{u.X, -u.Y, 1, 0}, []float64{u.Y, u.X, 0, 1}, s.v[i]
	})
	if err != nil {
		return result{}, 0, err
	}
	q := found.q
	return s.linear(Linear{Similarity, [3][3]float64{{q[0], -q[1] * sign, q[2]}, {q[1], q[0] * sign, q[3]}, {0, 0, 1}}}, found)
}

// FitSide fits a similarity to the points, by least squares, that turns over, or one that does not, as is asked for; of
// which FitPoints takes one.
func FitSide(points []Point, over bool) (Linear, error) {
	if err := checkPoints(Similarity, points); err != nil {
		return Linear{}, err
	}
	r, _, err := newSystem(points).similarity(over)
	if err != nil {
		return Linear{}, err
	}
	return r.m.(Linear), nil
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
func (s *system) linear(l Linear, found solution) (result, float64, error) {
	n, hat, parameters := len(s.u), found.hat, len(found.q)
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
	return result{out, missed, outliers(rss, without, parameters), found.sigmaSize(l, rss)}, rss, err
}

// sigmaSize is the standard uncertainty of ln Size at the centre of the points, from the covariance of the parameters and
// σ² = rss/(2n − parameters), by the law of propagation (JCGM 100:2008, 5.2); NaN where no residuals are left. As
// d ln √det J = ½·tr(J⁻¹·dJ), where J(0) is {a − cg, b − ch}, {d − fg, e − fh}, a parameter's share is half the sum of the
// entries of J⁻¹ᵀ times its derivatives of J(0).
func (found solution) sigmaSize(l Linear, rss float64) float64 {
	k, m := l.Jacobian(geom.Vec{}).inverse(), l.m
	share := []float64{
		k[0][0] / 2, k[1][0] / 2, -(m[2][0]*k[0][0] + m[2][1]*k[1][0]) / 2,
		k[0][1] / 2, k[1][1] / 2, -(m[2][0]*k[0][1] + m[2][1]*k[1][1]) / 2,
		-(m[0][2]*k[0][0] + m[1][2]*k[0][1]) / 2, -(m[0][2]*k[1][0] + m[1][2]*k[1][1]) / 2,
	}
	if l.kind == Similarity { // ln √(a² + b²)
		a, b := found.q[0], found.q[1]
		share = []float64{a / (a*a + b*b), b / (a*a + b*b), 0, 0}
	}
	freedom := 2*len(found.hat) - len(found.q)
	if freedom <= 0 {
		return math.NaN()
	}
	var shares mat.VecDense
	shares.MulVec(found.root.T(), mat.NewVecDense(len(found.q), share[:len(found.q)]))
	return math.Sqrt(rss/float64(freedom)) * mat.Norm(&shares, 2)
}

// rss is the weighted sum of squared residuals.
func (s *system) rss(m Map) (sum float64) {
	for i, w := range s.root {
		sum += w * w * square(minus(m.Apply(s.u[i]), s.v[i]))
	}
	return sum
}
