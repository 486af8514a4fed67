package field

import (
	"context"
	"fmt"
	"math"

	"undermetal/layout/geom"
)

// Gradient is what a conductance does when the border moves, to first order. All indices are those of the Shape.
type Gradient struct {
	// Corner[r][i] is its derivative by the place of Rings[r][i], in squares per nm.
	Corner [][]geom.Vec
	// Edge[r][i] is its derivative by how far the edge from Rings[r][i] to the next corner moves out of the sheet, parallel to
	// itself, in squares per nm. Edges beside it stay on their lines, so that they become longer or shorter. Where two edges
	// are in line to within 15°, or turn back as far, the lines do not tell where they meet: their corner then goes with the
	// mean of what both want.
	Edge [][]float64
}

// SolveGradient is Solve, with the gradient of Between(i, j) as well.
//
// With ∇u and ∇w the fields of 1 V at electrode i and at j, and V how the plane moves,
//
//	δ∫∇u·∇w = ∫ ∇u·∇w div V - ∇u·(∇V + ∇Vᵀ)·∇w
//
// (the first variation of Dirichlet's integral; J. Hadamard's formula is what partial integration makes of it: |∇u|² times how
// far the border moves out, where it is insulated, and minus that along electrodes. The integral over the sheet is taken here, since
// it also holds at sharp corners.) It is the mean of what potential and stream function give.
func SolveGradient(ctx context.Context, s Shape, tol float64, i, j int) (*Result, *Gradient, error) {
	r, sol, err := solve(ctx, s, tol, false)
	if err != nil {
		return nil, nil, err
	}
	if k := len(r.Conductance); i < 0 || j < 0 || i >= k || j >= k || i == j {
		return nil, nil, fmt.Errorf("there is no conductance between electrodes %d and %d of %d", i, j, k)
	}
	at := sol.corners(i, j)
	g := &Gradient{}
	for _, pts := range s.Rings {
		g.Corner, g.Edge = append(g.Corner, make([]geom.Vec, len(pts))), append(g.Edge, make([]float64, len(pts)))
	}
	o := sol.o
	for v, c := range o.corners {
		d := at[v].Scale(1 / o.unit)
		g.Corner[c.from[0]][c.from[1]] = d
		before, after := o.moves(v)
		prev := o.corners[c.prev]
		g.Edge[prev.edge[0]][prev.edge[1]] += dot(d, before)
		g.Edge[c.edge[0]][c.edge[1]] += dot(d, after)
	}
	return r, g, nil
}

// Noise is the standard uncertainty of the conductance, in squares, from edges that lie off by chance. edge says how
// uncertain an edge is (one standard deviation, in nm) and what it belongs to: edges of one group move out alike,
// groups move independently of each other.
func (g *Gradient) Noise(edge func(ring, i int) (group int, sigmaNm float64)) float64 {
	sums := map[int]float64{}
	for r, edges := range g.Edge {
		for i, d := range edges {
			group, sigma := edge(r, i)
			sums[group] += d * sigma
		}
	}
	total := 0.0
	for _, s := range sums {
		total = math.Hypot(total, s)
	}
	return total
}

// Bias is how the conductance changes, in squares, if edges move out of the sheet by so many nm together: those of the
// diffusion by the bias of that layer, those of the gate by the bias of the gate.
func (g *Gradient) Bias(edge func(ring, i int) (outNm float64)) float64 {
	sum := 0.0
	for r, edges := range g.Edge {
		for i, d := range edges {
			sum += d * edge(r, i)
		}
	}
	return sum
}

// moves returns how a corner moves for each unit that the edge before it, and the edge after it, move out of the sheet.
func (o *outline) moves(v int) (before, after geom.Vec) {
	c := o.corners[v]
	out := func(a, b geom.Point) geom.Vec { // the sheet is on the left
		d := sub(toVec(b), toVec(a))
		return geom.Vec{X: d.Y, Y: -d.X}.Scale(1 / math.Hypot(d.X, d.Y))
	}
	p, q := out(o.corners[c.prev].at, c.at), out(c.at, o.corners[c.next].at)
	if sine := cross(p, q); math.Abs(sine) > math.Sin(15*math.Pi/180) {
		return geom.Vec{X: q.Y, Y: -q.X}.Scale(1 / sine), geom.Vec{X: -p.Y, Y: p.X}.Scale(1 / sine)
	}
	part := 1 / (1 + math.Abs(dot(p, q)))
	return p.Scale(part), q.Scale(part)
}

// corners returns the derivative by the place of each corner of the outline, per unit of the grid. The plane moves as the
// triangles of the outline alone do: all that is finer follows them.
func (s *solution) corners(i, j int) []geom.Vec {
	at := make([]geom.Vec, len(s.m.x))
	n, outer := s.b.n, s.b.outer
	k := make([]float64, n*n)
	u := [2][]float64{make([]float64, n), make([]float64, n)}
	for t := range int32(len(s.m.tri)) {
		s.full(t, k)
		eliminateBubbles(k, n, outer)
		var m [2][3]float64 // ∫∇u∇wᵀ + ∇w∇uᵀ, halved, in ξ and η: of the potential and of the stream function
		for f := range 2 {
			for side, electrode := range [2]int{i, j} {
				s.field(f, electrode, t, u[side][:outer])
				for p := outer; p < n; p++ {
					u[side][p] = 0
					for q := range p {
						u[side][p] -= k[p*n+q] * u[side][q]
					}
				}
			}
			for p, x := range u[0] {
				for q, y := range u[1] {
					m[f][0] += x * y * s.b.xx[p*n+q]
					m[f][1] += x * y * s.b.xy[p*n+q] / 2
					m[f][2] += x * y * s.b.yy[p*n+q]
				}
			}
		}
		v := s.m.tri[t].v
		e1, e2 := sub(s.m.x[v[1]], s.m.x[v[0]]), sub(s.m.x[v[2]], s.m.x[v[0]])
		det := cross(e1, e2)
		a, b := geom.Vec{X: e2.Y, Y: -e2.X}.Scale(1/det), geom.Vec{X: -e1.Y, Y: e1.X}.Scale(1/det)
		var xx, xy, yy float64
		for f := range 2 {
			px := det * (m[f][0]*a.X*a.X + 2*m[f][1]*a.X*b.X + m[f][2]*b.X*b.X)
			pxy := det * (m[f][0]*a.X*a.Y + m[f][1]*(a.X*b.Y+a.Y*b.X) + m[f][2]*b.X*b.Y)
			py := det * (m[f][0]*a.Y*a.Y + 2*m[f][1]*a.Y*b.Y + m[f][2]*b.Y*b.Y)
			if f == 1 { // the current is the stream function's gradient, turned by 90°
				px, pxy, py = py, -pxy, px
			}
			xx, xy, yy = xx+px/2, xy+pxy/2, yy+py/2
		}
		slopes := [3]geom.Vec{add(a, b).Scale(-1), a, b}
		for w, l := range slopes {
			// Conductance[i][j] is minus what joins the two
			at[v[w]] = add(at[v[w]], geom.Vec{X: (yy-xx)*-l.X + 2*xy*l.Y, Y: (xx-yy)*-l.Y + 2*xy*l.X})
		}
	}
	return s.gather(at)
}

// field puts the coefficients of the field of 1 V at an electrode into c.
func (s *solution) field(f, electrode int, t int32, c []float64) {
	if electrode < s.o.k-1 {
		coefficients(s.maps[f](t), s.x[f][electrode], c)
		return
	}
	for i := range c { // all electrodes together make no current
		c[i] = 0
	}
	one := make([]float64, len(c))
	for _, x := range s.x[f] {
		coefficients(s.maps[f](t), x, one)
		for i, v := range one {
			c[i] -= v
		}
	}
}

// gather adds what vertices have to the corners of the triangles of the outline that they lie in.
func (s *solution) gather(at []geom.Vec) []geom.Vec {
	sum := append([]geom.Vec(nil), at[:s.m.corners]...)
	for v := s.m.corners; v < len(at); v++ {
		best, in, share := math.Inf(-1), triangle{}, [3]float64{}
		p := s.m.x[v]
		for _, t := range s.base {
			a, b, c := s.m.x[t.v[0]], s.m.x[t.v[1]], s.m.x[t.v[2]]
			area := turn(a, b, c)
			l := [3]float64{turn(p, b, c) / area, turn(a, p, c) / area, turn(a, b, p) / area}
			if least := min(l[0], l[1], l[2]); least > best {
				best, in, share = least, t, l
			}
		}
		for i, w := range in.v {
			sum[w] = add(sum[w], at[v].Scale(share[i]))
		}
	}
	return sum
}
