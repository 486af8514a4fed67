package field

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Result is how well a sheet conducts between its electrodes.
type Result struct {
	// Conductance[i][j] is the current into electrode i per volt at electrode j, the others at 0, in squares of
	// conductance: times that of one square it is in siemens. Rows and columns add up to 0; only the diagonal is positive.
	Conductance [][]float64
	// Error bounds what is numerically wrong with it: entry i, j by Error·√(Conductance[i][i]·Conductance[j][j]).
	// With two electrodes that is the relative error of the one figure.
	Error float64
	// Triangles, Degree and Rounds tell what it took: triangles of the last mesh, degree of its polynomials, solutions.
	Triangles, Degree, Rounds int
}

// Squares is the conductance between the two electrodes of a shape with no more, W/L of a straight channel.
func (r *Result) Squares() float64 { return r.Conductance[0][0] }

// Between is the conductance that joins electrodes i and j directly, as in an equivalent circuit of one resistor for
// each pair.
func (r *Result) Between(i, j int) float64 { return -r.Conductance[i][j] }

const (
	maxRounds    = 24
	maxTriangles = 200000
)

// Solve returns the conductance of a shape, with an Error of tol or less. It refuses a tol beyond 1e-10…0.1, and shapes
// that are no valid polygon, or whose electrodes touch or are fewer than two, with the place; and it gives up, with the
// place that is worst, if tol cannot be reached. Places are taken to 2^-26 of half the shape's extent, which keeps whole nm of
// shapes up to 134 mm; what that changes in others is in no Error.
//
// The bounds are those of J. L. Synge and W. Prager (1947, from memory): a potential that has the right values at the
// electrodes gives no less than the conductance, a current that enters and leaves only there no less than the
// resistance. Both are found as piecewise polynomials; half of what lies between them is the Error, their mean the result.
func Solve(ctx context.Context, s Shape, tol float64) (*Result, error) {
	r, _, err := solve(ctx, s, tol, true)
	return r, err
}

// solve also returns the solution, unless short allows a rectangle to do without one.
func solve(ctx context.Context, s Shape, tol float64, short bool) (*Result, *solution, error) {
	if !(tol >= 1e-10 && tol <= 0.1) {
		return nil, nil, fmt.Errorf("a relative error of %g was asked for: it must be between 1e-10 and 0.1", tol)
	}
	o, err := newOutline(s)
	if err != nil {
		return nil, nil, err
	}
	if short {
		if g, ok := o.rectangle(); ok {
			return &Result{Conductance: [][]float64{{g, -g}, {-g, g}}, Error: 4e-16}, nil, nil
		}
	}
	m, err := triangulate(o)
	if err != nil {
		return nil, nil, err
	}
	base := append([]triangle(nil), m.tri...)
	m.roundUp(0.3)
	degree := min(max(int(math.Ceil(-math.Log10(tol))), minDegree), maxDegree)
	for round := 1; ; round++ {
		sol, err := newElements(o, m, degree).solve(ctx)
		if err != nil {
			return nil, nil, err
		}
		sol.base = base
		res := sol.result(round)
		if res.Error <= tol {
			return res, sol, nil
		}
		if round == maxRounds || len(m.tri) > maxTriangles {
			return nil, nil, fmt.Errorf("the current could not be found to %g of its value, only to %.2g: the field is too uneven at %s",
				tol, res.Error, um(sol.worst()))
		}
		degree = sol.refine(tol, degree)
	}
}

// rectangle returns the conductance of a rectangle that has its electrodes along two whole sides that lie opposite.
func (o *outline) rectangle() (squares float64, ok bool) {
	if o.rings != 1 || o.k != 2 {
		return 0, false
	}
	var turns []int
	for i, c := range o.corners {
		p, q := o.corners[c.prev].at, o.corners[c.next].at
		a, b := c.at.Sub(p), q.Sub(c.at)
		if a.X*b.Y == a.Y*b.X {
			if c.electrode != o.corners[c.prev].electrode {
				return 0, false
			}
			continue
		}
		if a.X*b.X+a.Y*b.Y != 0 {
			return 0, false
		}
		turns = append(turns, i)
	}
	if len(turns) != 4 {
		return 0, false
	}
	e := func(i int) int { return o.corners[turns[i%4]].electrode }
	side := func(i int) float64 {
		return distance(toVec(o.corners[turns[i%4]].at), toVec(o.corners[turns[(i+1)%4]].at))
	}
	for i := range 2 {
		if e(i) != Insulated && e(i+2) != Insulated && e(i) != e(i+2) && e(i+1) == Insulated && e(i+3) == Insulated {
			return side(i) / side(i+1), true
		}
	}
	return 0, false
}

// solution is what is known of the field on one mesh.
type solution struct {
	*elements
	base         []triangle
	upper, lower [][]float64
	maps         [2]func(t int32) [][]term // potential and stream function
	x            [2][][]float64            // their unknowns, for 1 V at each electrode but the last
	gap          []float64                 // of each triangle
	noise        float64                   // relative, from rounding
}

// solve finds both fields.
func (e *elements) solve(ctx context.Context) (*solution, error) {
	stop := func(t int32) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		return fmt.Errorf("the equations cannot be solved: the shape is too thin for double precision at %s", um(e.place(t)))
	}
	if t := e.condense(); t >= 0 {
		return nil, stop(t)
	}
	s := &solution{elements: e}
	order := dissect(e.m)
	ways, more := e.branches()
	k := e.o.k
	for i, nb := range []*numbering{e.primal(), e.dual()} {
		keep := k
		if i == 0 {
			s.maps[i] = e.mapper(nb, nil)
		} else {
			s.maps[i], keep = e.mapper(nb, more), len(ways)
		}
		sys := &system{maps: s.maps[i], local: func(t int32) []float64 { return e.k[t] }, n: e.b.outer}
		sys.count(len(e.m.tri), nb.n, keep)
		f, ok := sys.eliminate(ctx, order)
		if !ok {
			return nil, stop(sys.badAt)
		}
		left := remaining(f, keep)
		start := mat.NewDense(keep, k, nil)
		if i == 0 {
			s.upper = rows(left)
			for j := range k {
				start.Set(j, j, 1)
			}
		} else {
			drop := mat.NewDense(keep, k, nil) // of voltage along each branch
			for b, w := range ways {
				drop.Set(b, e.of[w.from], drop.At(b, e.of[w.from])+1)
				drop.Set(b, e.of[w.to], drop.At(b, e.of[w.to])-1)
			}
			var chol mat.Cholesky
			if !chol.Factorize(left) || chol.SolveTo(start, drop) != nil && chol.Cond() > 1e14 {
				return nil, stop(0)
			}
			var g mat.Dense
			g.Mul(drop.T(), start)
			sym := mat.NewSymDense(k, nil)
			for p := range k {
				for q := range p + 1 {
					sym.SetSym(p, q, (g.At(p, q)+g.At(q, p))/2)
				}
			}
			s.lower = rows(sym)
		}
		for j := range k - 1 {
			x := make([]float64, nb.n)
			for d := range keep {
				x[d] = start.At(d, j)
			}
			f.substitute(x)
			s.x[i] = append(s.x[i], x)
		}
	}
	s.measureGap()
	return s, nil
}

// remaining returns what is left of the equations, in the order of the unknowns that are kept.
func remaining(f *front, keep int) *mat.SymDense {
	a := mat.NewSymDense(keep, nil)
	n := len(f.dofs)
	for i := f.gone; i < n; i++ {
		for j := f.gone; j <= i; j++ {
			a.SetSym(int(f.dofs[i]), int(f.dofs[j]), f.row(i)[j])
		}
	}
	return a
}

func rows(a *mat.SymDense) [][]float64 {
	n := a.SymmetricDim()
	r := make([][]float64, n)
	for i := range r {
		r[i] = make([]float64, n)
		for j := range n {
			r[i][j] = a.At(i, j)
		}
	}
	return r
}

// coefficients puts the outer coefficients of one field in a triangle into c.
func coefficients(terms [][]term, x, c []float64) {
	for i, t := range terms {
		c[i] = 0
		for _, y := range t {
			c[i] += y.factor * x[y.dof]
		}
	}
}

// measureGap finds how far the two currents are apart in each triangle, as ∫|∇u + rot ψ|² over the conductance, summed over the
// electrodes; all together that is the gap between the bounds. What it differs by comes from rounding.
func (s *solution) measureGap() {
	n := s.b.outer
	s.gap = make([]float64, len(s.m.tri))
	u, v := make([]float64, n), make([]float64, n)
	electrodes := s.o.k
	if electrodes == 2 { // both tell the same
		electrodes = 1
	}
	want, sum := 0.0, 0.0
	for e := range electrodes {
		size := (s.upper[e][e] + s.lower[e][e]) / 2
		want += (s.upper[e][e] - s.lower[e][e]) / size
		for t := range int32(len(s.m.tri)) {
			k := s.k[t]
			s.field(0, e, t, u)
			s.field(1, e, t, v)
			gap := 0.0
			for i := range n {
				for j := range n {
					gap += k[i*n+j]*(u[i]*u[j]+v[i]*v[j]) + 2*s.b.skew[i*s.b.n+j]*u[i]*v[j]
				}
			}
			s.gap[t] += gap / size
			sum += gap / size
		}
	}
	s.noise = math.Abs(sum-want) + 1e-14
}

// result is the mean of both bounds.
func (s *solution) result(round int) *Result {
	k := s.o.k
	r := &Result{Triangles: len(s.m.tri), Degree: s.b.degree, Rounds: round}
	for i := range k {
		r.Conductance = append(r.Conductance, make([]float64, k))
		for j := range k {
			r.Conductance[i][j] = (s.upper[i][j] + s.lower[i][j]) / 2
		}
		if e := math.Abs(s.upper[i][i]-s.lower[i][i])/(2*r.Conductance[i][i]) + s.noise; !(e <= r.Error) {
			r.Error = e
		}
	}
	if math.IsNaN(r.Error) {
		r.Error = math.Inf(1)
	}
	return r
}
