package field

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"undermetal/layout/geom"
)

// offset moves the edges of a shape out by so many nm each, by crossing the moved lines: no use of what is tested.
func offset(s Shape, out func(ring, edge int) float64) Shape {
	m := s.scaled(1)
	for r, pts := range s.Rings {
		n := len(pts)
		line := func(i int) (a, d geom.Vec) {
			a = pts[i]
			d = sub(pts[(i+1)%n], a)
			normal := geom.Vec{X: d.Y, Y: -d.X}.Scale(1 / math.Hypot(d.X, d.Y))
			return add(a, normal.Scale(out(r, i))), d
		}
		for i := range pts {
			a, d := line((i + n - 1) % n)
			b, e := line(i)
			m.Rings[r][i] = add(a, d.Scale(cross(sub(b, a), e)/cross(d, e)))
		}
	}
	return m
}

func gradientShapes() map[string]Shape {
	return map[string]Shape{
		"bent gate":        single(ring(1, 0, 0, 0, 0, 1, -1, 1, -1, -1, 1, -1), 0, 0, ins, 1, 1, ins).scaled(1e6),
		"taper":            single(ring(0, -.5, 2, -1, 2, 1, 0, .5), ins, 1, ins, 0).scaled(1e6).turned(20),
		"closed gate":      Shape{[][]geom.Vec{boxRing(-2, -2, 2, 2), ring(-1, -1, -1, 1, 1, 1, 1, -1)}, [][]int{all(4, 0), all(4, 1)}}.scaled(1e6),
		"dog bone":         single(ring(-2, -.5, 0, -.5, 0, -1, 2, -1, 2, 1, 0, 1, 0, .5, -2, .5), ins, ins, ins, 1, ins, ins, ins, 0).scaled(1e6),
		"three electrodes": single(ring(0, 0, 5, 0, 6, 2, 4, 3, 4, 5, 1, 5, 1, 3, 0, 3), ins, 0, ins, ins, 1, ins, 2, ins).scaled(1e6),
	}
}

// TestGradient: against differences of shapes whose corners, or edges, really are elsewhere.
func TestGradient(t *testing.T) {
	const h = 10000. // nm: 1 % of the unit
	for name, s := range gradientShapes() {
		r, g, err := SolveGradient(t.Context(), s, 1e-6, 0, 1)
		if err != nil {
			t.Fatal(name, err)
		}
		difference := func(moved func(h float64) Shape) float64 {
			var v [2]float64
			for k, h := range []float64{h, -h} {
				r, err := Solve(t.Context(), moved(h), 3e-6)
				if err != nil {
					t.Fatal(name, err)
				}
				v[k] = r.Between(0, 1)
			}
			return (v[0] - v[1]) / (2 * h)
		}
		tol := 1e-3 * r.Between(0, 1) / 1e6
		for ring := range s.Rings {
			for i := range s.Rings[ring] {
				if i%3 != 0 && os.Getenv("UNDERMETAL_FULL") == "" {
					continue
				}
				d := []geom.Vec{{X: 0.6, Y: 0.8}, {X: 0.8, Y: -0.6}}[i%2]
				want := difference(func(h float64) Shape {
					m := s.scaled(1)
					m.Rings[ring][i] = add(m.Rings[ring][i], d.Scale(h))
					return m
				})
				if got := dot(g.Corner[ring][i], d); math.Abs(got-want) > tol {
					t.Errorf("%s: corner %d: %g, want %g", name, i, got, want)
				}
				want = difference(func(h float64) Shape {
					return offset(s, func(r, e int) float64 {
						if r == ring && e == i {
							return h
						}
						return 0
					})
				})
				if got := g.Edge[ring][i]; math.Abs(got-want) > tol {
					t.Errorf("%s: edge %d: %g, want %g", name, i, got, want)
				}
			}
		}
		all := difference(func(h float64) Shape { return offset(s, func(int, int) float64 { return h }) })
		if got := g.Bias(func(int, int) float64 { return 1 }); math.Abs(got-all) > 2*tol {
			t.Errorf("%s: all edges: %g, want %g", name, got, all)
		}
		for axis := range 2 { // to move all is to move nothing
			sum := 0.0
			for _, pts := range g.Corner {
				for _, d := range pts {
					sum += [2]float64{d.X, d.Y}[axis]
				}
			}
			if math.Abs(sum) > 1e-9*r.Between(0, 1)/1e6*1e3 {
				t.Errorf("%s: moved as a whole: %g", name, sum)
			}
		}
	}
}

// TestGradientOfBar: W/L by hand: an edge along the current moves out: 1/L; one across it: -W/L².
func TestGradientOfBar(t *testing.T) {
	s := single(boxRing(0, 0, 2000, 6000), 0, ins, 1, ins) // L = 6000 upwards, W = 2000
	_, g, err := SolveGradient(t.Context(), s, 1e-3, 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-2000. / 36e6, 1. / 6000, -2000. / 36e6, 1. / 6000} {
		if math.Abs(g.Edge[0][i]/want-1) > 1e-9 {
			t.Errorf("edge %d: %g per nm, want %g", i, g.Edge[0][i], want)
		}
	}
	// the rules for straight channels in netlist/measure: σ(W)² = 2σd², σ(L)² = 2σg², so (σ/(W/L))² = 2(σd/W)² + 2(σg/L)²
	want := 2000. / 6000 * math.Sqrt(2*math.Pow(30./2000, 2)+2*math.Pow(50./6000, 2))
	if got := g.Noise(func(_, i int) (int, float64) { return i, []float64{50, 30, 50, 30}[i] }); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("σ %g, want %g", got, want)
	}
	// both edges of a layer move alike: W + 2e, L unchanged
	if got := g.Noise(func(_, i int) (int, float64) { return i % 2, []float64{0, 30}[i%2] }); math.Abs(got/(2*30./6000)-1) > 1e-9 {
		t.Errorf("σ of a group %g", got)
	}
	if got := g.Bias(func(_, i int) float64 { return []float64{0, 7}[i%2] }); math.Abs(got/(2*7./6000)-1) > 1e-9 {
		t.Errorf("bias %g", got)
	}
}

// TestGradientMonteCarlo: edges that really lie off by chance spread the conductance as Noise says, to 10 % (400 draws know a
// standard deviation to 3.5 %), and by the gate's edges and the diffusion's apart.
func TestGradientMonteCarlo(t *testing.T) {
	const draws = 400
	for _, name := range []string{"bent gate", "taper"} {
		s := gradientShapes()[name]
		_, g, err := SolveGradient(t.Context(), s, 1e-4, 0, 1)
		if err != nil {
			t.Fatal(name, err)
		}
		for _, gate := range []bool{true, false} {
			sigma := func(r, i int) float64 {
				if (s.Electrode[r][i] != ins) == gate {
					return 10000
				}
				return 0
			}
			want := g.Noise(func(r, i int) (int, float64) { return 100*r + i, sigma(r, i) })
			rnd := rand.New(rand.NewPCG(7, 8))
			sum, squares := 0.0, 0.0
			for range draws {
				off := make([]float64, len(s.Rings[0]))
				for e := range off {
					off[e] = sigma(0, e) * rnd.NormFloat64()
				}
				r, err := Solve(t.Context(), offset(s, func(_, e int) float64 { return off[e] }), 1e-3)
				if err != nil {
					t.Fatal(name, err)
				}
				sum += r.Squares()
				squares += r.Squares() * r.Squares()
			}
			got := math.Sqrt(squares/draws - sum/draws*sum/draws)
			t.Logf("%s, gate %v: σ %.3g by first order, %.3g of %d draws", name, gate, want, got, draws)
			if math.Abs(got-want) > 0.1*want {
				t.Errorf("%s, gate %v: σ %g, of %d draws %g", name, gate, want, draws, got)
			}
		}
	}
}

// TestGradientOfTraced: corners along a line that was traced by hand; the whole edge of the gate moves out by e, so L falls.
func TestGradientOfTraced(t *testing.T) {
	s := handTraced(60, 0.003, 3).scaled(1e5)
	_, g, err := SolveGradient(t.Context(), s, 1e-5, 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	const h = 100.
	var v [2]float64
	for k, h := range []float64{h, -h} {
		up := s.scaled(1)
		for i := range up.Rings[0][:30] { // the lower side goes down
			up.Rings[0][i].Y -= h
		}
		r, err := Solve(t.Context(), up, 1e-6)
		if err != nil {
			t.Fatal(err)
		}
		v[k] = r.Squares()
	}
	want, got := (v[0]-v[1])/(2*h), 0.0
	for i := range 30 {
		got -= g.Corner[0][i].Y
	}
	if math.Abs(got/want-1) > 1e-3 {
		t.Errorf("lower side down: %g, want %g", got, want)
	}
	edges := g.Bias(func(_, i int) float64 { // out along each edge's own normal: along y by a factor of 1/cos of its slope
		if i < 29 {
			d := sub(s.Rings[0][i+1], s.Rings[0][i])
			return d.X / math.Hypot(d.X, d.Y)
		}
		return 0
	})
	if math.Abs(edges/want-1) > 0.05 {
		t.Errorf("lower edges out: %g, want %g", edges, want)
	}
}
