package field

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// exact are shapes whose conductance has a closed form, or a value from outside with eight digits or more.
func exact() map[string]struct {
	s    Shape
	want float64
} {
	type row = struct {
		s    Shape
		want float64
	}
	corner := 1 - 2*math.Ln2/math.Pi // P. M. Hall, Thin Solid Films 1 (1968) 277, from memory
	return map[string]row{
		"corner, arms of 8: right to exp(-2π·8)": {single(ring(8, 0, 0, 0, 0, 8, -1, 8, -1, -1, 8, -1), 0, 0, ins, 1, 1, ins), 16 + corner},
		"cross, straight on":                     {single(ring(0, 0, 0, -8, 1, -8, 1, 0, 9, 0, 9, 1, 1, 1, 1, 9, 0, 9, 0, 1, -8, 1, -8, 0), ins, ins, ins, ins, 1, ins, ins, ins, ins, ins, 0, ins), 1 / (16.5 + math.Ln2/math.Pi)},
		"contact on an end, 1/4 of it":           {single(ring(0, -.5, 8, -.5, 8, .5, 0, .5, 0, .125, 0, -.125), ins, 1, ins, ins, 0, ins), 1 / (8 - math.Log(math.Sin(math.Pi/8))/math.Pi)},
		"square":                                 {single(boxRing(0, 0, 1, 1), 0, ins, 1, ins), 1},
	}
}

// TestErrorIsTrue: the stated error is at least the true one whatever is asked for, no more than that, and both become
// smaller together.
func TestErrorIsTrue(t *testing.T) {
	for name, x := range exact() {
		t.Run(name, func(t *testing.T) {
			for _, tol := range []float64{1e-1, 1e-2, 1e-3, 1e-4, 1e-6, 1e-8} {
				r, sol, err := solve(t.Context(), x.s.scaled(1000), tol, false)
				if err != nil {
					t.Fatal(err)
				}
				off := math.Abs(r.Squares()/x.want - 1)
				t.Logf("asked for %g: %.1e off, %.1e stated; %d triangles, degree %d", tol, off, r.Error, r.Triangles, r.Degree)
				if off > r.Error || r.Error > tol {
					t.Errorf("asked for %g, off by %g, stated %g", tol, off, r.Error)
				}
				slack := x.want * 1e-12
				if sol.lower[0][0] > x.want+slack || sol.upper[0][0] < x.want-slack {
					t.Errorf("bounds %.15g and %.15g of %.15g", sol.lower[0][0], sol.upper[0][0], x.want)
				}
			}
		})
	}
}

// TestRefinement: on one mesh each higher degree, and on finer meshes one degree, bring both bounds nearer, never further:
// the polynomials of the first are among those of the second. The known value stays between them.
func TestRefinement(t *testing.T) {
	x := exact()["corner, arms of 8: right to exp(-2π·8)"]
	o, err := newOutline(x.s.scaled(1000))
	if err != nil {
		t.Fatal(err)
	}
	m, err := triangulate(o)
	if err != nil {
		t.Fatal(err)
	}
	lower, upper := 0.0, math.Inf(1)
	next := func(what string, degree int) {
		t.Helper()
		sol, err := newElements(o, m, degree).solve(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		l, u := sol.lower[0][0], sol.upper[0][0]
		if l < lower*(1-1e-12) || u > upper*(1+1e-12) || l > x.want || u < x.want {
			t.Errorf("%s: from %.12g … %.12g to %.12g … %.12g, true %.12g", what, lower, upper, l, u, x.want)
		}
		lower, upper = l, u
	}
	for degree := minDegree; degree <= maxDegree; degree++ {
		next(fmt.Sprint("degree ", degree), degree)
	}
	coarse := upper - lower
	lower, upper = 0, math.Inf(1)
	for round := range 6 {
		next(fmt.Sprint("round ", round), 5)
		for v := range int32(m.corners) {
			m.grade(v)
		}
		for n := int32(len(m.tri)) - 1; n >= 0; n -= 3 {
			m.bisect(n)
		}
	}
	if upper-lower > coarse/100 {
		t.Errorf("six rounds leave %g of %g", upper-lower, coarse)
	}
}

// TestCircle: gates between regular polygons of ever more corners between two circles: 2π/ln(r2/r1) (textbook), from which they
// differ as 1/n².
func TestCircle(t *testing.T) {
	for _, r2 := range []float64{1.5, 2, 3} {
		want := 2 * math.Pi / math.Log(r2)
		var off [2]float64
		for i, n := range []int{48, 96} {
			r, err := Solve(t.Context(), enclosed(regular(n, r2), regular(n, 1)).scaled(1000), 1e-6)
			if err != nil {
				t.Fatal(err)
			}
			off[i] = r.Squares()/want - 1
		}
		if ratio := off[0] / off[1]; ratio < 3.4 || ratio > 8.2 || math.Abs(off[1]) > 2e-4 {
			t.Errorf("to %g: off by %g and %g", r2, off[0], off[1])
		}
	}
}

// TestThinAndNear: shapes that are hard on numbers. Values by hand.
func TestThinAndNear(t *testing.T) {
	for _, x := range []struct {
		name string
		s    Shape
		want float64
		tol  float64
		near float64 // how well the value by hand is known
	}{
		{"two corners 1 nm apart", single(ring(0, 0, 3e6, 0, 3e6, 1e6-1, 3e6-1, 1e6, 0, 1e6), ins, 1, ins, ins, 0), 1. / 3, 1e-5, 1e-6},
		{"corners within a nm of a line", single(ring(0, 0, 1e6, 1, 2e6, -1, 3e6, 0, 3e6, 1e6, 0, 1e6), ins, ins, ins, 1, ins, 0), 1. / 3, 1e-5, 2e-6},
		{"a strip 1 nm wide and 1 mm long", single(ring(0, 0, 1e6, 0, 1e6, 1, 0, 1), ins, 1, ins, 0), 1e-6, 1e-3, 1e-9},
		{"a slit 2 nm wide along the current", Shape{[][]geom.Vec{boxRing(0, 0, 4e6, 2e6), boxRing(1e6, 1e6, 3e6, 1e6+2)}, [][]int{{ins, 1, ins, 0}, all(4, ins)}}, 0.5, 1e-5, 2e-6},
		{"a whole frame", single(boxRing(-geom.Limit, -geom.Limit, geom.Limit, geom.Limit), ins, 1, ins, 0), 1, 1e-6, 1e-8},
	} {
		r, _, err := solve(t.Context(), x.s, x.tol, false)
		if err != nil {
			t.Error(x.name, err)
			continue
		}
		if off := math.Abs(r.Squares()/x.want - 1); off > r.Error+x.near {
			t.Errorf("%s: %.9g, want %.9g: off by %.2g, stated %.2g", x.name, r.Squares(), x.want, off, r.Error)
		}
	}
}

// TestMessages: what is no sheet is refused with the place.
func TestMessages(t *testing.T) {
	square := boxRing(0, 0, 1000, 1000)
	two := Shape{[][]geom.Vec{square, boxRing(5000, 0, 6000, 1000)}, [][]int{{0, ins, 1, ins}, all(4, ins)}}
	for _, x := range []struct {
		s    Shape
		tol  float64
		want string
	}{
		{single(square, 0, 1, ins, ins), 1e-3, "electrodes 0 and 1 touch at (1, 0) µm"},
		{single(square, 0, ins, 0, ins), 1e-3, "two are needed"},
		{single(square, 0, ins, 2, ins), 1e-3, "electrode 1 of 3 has no edge"},
		{single(square, -2, ins, 2, ins), 1e-3, "no electrode -2"},
		{single(square, ins, ins, ins, ins), 1e-3, "two are needed"},
		{single(square, 0, ins, 1), 1e-3, "as many"},
		{Shape{}, 1e-3, "one at least"},
		{single(ring(0, 0, 1000, 1000, 1000, 0, 0, 1000), 0, ins, 1, ins), 1e-3, "crosses itself at (0.5, 0.5) µm"},
		{single(ring(0, 0, 1000, 0, 2000, 0), 0, ins, 1), 1e-3, "µm"},
		{single(ring(5, 5, 5, 5, 5, 5), 0, ins, 1), 1e-3, "no area"},
		{single(ring(0, 0, math.NaN(), 0, 0, 5), 0, ins, 1), 1e-3, "beyond the frame"},
		{single(ring(0, 0, math.Inf(1), 0, 0, 5), 0, ins, 1), 1e-3, "beyond the frame"},
		{two, 1e-3, "outside of the first at (5, 0) µm"},
		{single(square, 0, ins, 1, ins), 0, "between"},
		{single(square, 0, ins, 1, ins), math.NaN(), "between"},
	} {
		r, err := Solve(t.Context(), x.s, x.tol)
		if err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%v: %v, %v; want %q", x.s, r, err, x.want)
		}
	}
	for _, ij := range [][2]int{{0, 0}, {-1, 0}, {0, 2}} {
		if _, _, err := SolveGradient(t.Context(), single(square, 0, ins, 1, ins), 1e-3, ij[0], ij[1]); err == nil {
			t.Errorf("a gradient between %v", ij)
		}
	}
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Solve(stopped, single(ring(0, 0, 3, 0, 2, 1, 0, 1), 0, ins, 1, ins), 1e-3); err != context.Canceled {
		t.Errorf("stopped: %v", err)
	}
}

// TestFromPolygon: stretches that begin and end anywhere, in the order of the ring, across its first corner, over all of it.
func TestFromPolygon(t *testing.T) {
	pg := geom.Polygon{geom.Box(0, 0, 4000, 1000).Ring(), {{X: 1000, Y: 400}, {X: 1000, Y: 600}, {X: 1200, Y: 600}, {X: 1200, Y: 400}}}
	v := func(x, y float64) geom.Vec { return geom.Vec{X: x, Y: y} }
	s, err := FromPolygon(pg, []Stretch{{v(4000, 250), v(4000.4, 750), 1}, {v(0, 500), v(500, 0), 0}, {v(1000, 400), v(1000, 400), 2}})
	if err != nil {
		t.Fatal(err)
	}
	lengths := map[int]float64{}
	for r, pts := range s.Rings {
		for i, p := range pts {
			lengths[s.Electrode[r][i]] += distance(p, pts[(i+1)%len(pts)])
		}
	}
	for e, want := range map[int]float64{0: 1000, 1: 500, 2: 800, ins: 8500} {
		if math.Abs(lengths[e]-want) > 1e-9 {
			t.Errorf("electrode %d is %g nm long, want %g", e, lengths[e], want)
		}
	}
	if _, err := Solve(t.Context(), s, 1e-3); err != nil {
		t.Error(err)
	}
	for _, st := range []Stretch{{v(2000, 500), v(4000, 0), 0}, {v(0, 0), v(1000, 400), 0}, {v(0, 0), v(2000, 2), 0}, {v(math.NaN(), 0), v(0, 0), 0}} {
		if _, err := FromPolygon(pg, []Stretch{st}); err == nil || !strings.Contains(err.Error(), "µm") {
			t.Errorf("%v: %v", st, err)
		}
	}
}
