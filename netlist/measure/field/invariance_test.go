package field

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// odd is a shape without symmetry, with a hole and three electrodes.
func odd() Shape {
	return Shape{
		Rings:     [][]geom.Vec{ring(0, 0, 5, 0, 6, 2, 4, 3, 4, 5, 1, 5, 1, 3, 0, 3), ring(1, 1, 2, 2.5, 3, 1)},
		Electrode: [][]int{{ins, 0, ins, ins, 1, ins, ins, ins}, {ins, 2, ins}},
	}
}

// same solves two shapes and reports where they differ by more than both errors.
func same(t *testing.T, what string, s Shape, want *Result, number func(int) int) {
	t.Helper()
	got, err := Solve(t.Context(), s, 1e-4)
	if err != nil {
		t.Error(what, err)
		return
	}
	for i := range got.Conductance {
		for j, g := range got.Conductance[i] {
			p, q := number(i), number(j)
			w := want.Conductance[p][q]
			size := math.Sqrt(want.Conductance[p][p] * want.Conductance[q][q])
			if math.Abs(g-w) > (got.Error+want.Error+1e-7)*size {
				t.Errorf("%s: between %d and %d %.9g, want %.9g", what, i, j, g, w)
			}
		}
	}
}

// TestInvariance: moved, turned, mirrored, larger, smaller, with corners twice and in the middle of edges, rings the other
// way round, in another order and from another corner, electrodes renumbered: all the same.
func TestInvariance(t *testing.T) {
	s := odd().scaled(1e5)
	want, err := Solve(t.Context(), s, 1e-4)
	if err != nil {
		t.Fatal(err)
	}
	id := func(i int) int { return i }
	for i := range 3 {
		sum := 0.0
		for j, g := range want.Conductance[i] {
			sum += g
			if g != want.Conductance[j][i] || (i == j) != (g > 0) {
				t.Errorf("conductances %v", want.Conductance)
			}
		}
		if math.Abs(sum) > 1e-9 {
			t.Errorf("row %d adds up to %g", i, sum)
		}
	}
	for _, k := range []float64{1e-2, 0.37, 1000} {
		same(t, "scaled", s.scaled(k), want, id)
	}
	for _, degrees := range []float64{17, 45, 90, 133.7, 270} {
		same(t, "turned", s.turned(degrees), want, id)
	}
	same(t, "moved", s.mapped(func(p geom.Vec) geom.Vec { return add(p, geom.Vec{X: -9e8, Y: 7e8}) }), want, id)
	same(t, "mirrored", s.mapped(func(p geom.Vec) geom.Vec { return geom.Vec{X: -p.X, Y: p.Y} }), want, id)
	same(t, "mirrored, turned", s.mapped(func(p geom.Vec) geom.Vec { return geom.Vec{X: p.Y, Y: p.X} }).turned(10), want, id)

	twice, halved := Shape{}, Shape{}
	for r, pts := range s.Rings {
		var a, b []geom.Vec
		var ea, eb []int
		for i, p := range pts {
			e := s.Electrode[r][i]
			a, ea = append(a, p, p, p), append(ea, 1-max(e, 0), e, e) // an edge of no length may be anything
			b, eb = append(b, p, middle(p, pts[(i+1)%len(pts)])), append(eb, e, e)
		}
		twice.Rings, twice.Electrode = append(twice.Rings, a), append(twice.Electrode, ea)
		halved.Rings, halved.Electrode = append(halved.Rings, b), append(halved.Electrode, eb)
	}
	same(t, "corners three times", twice, want, id)
	same(t, "corners on edges", halved, want, id)

	back := s.scaled(1)
	for r, pts := range back.Rings {
		slices.Reverse(pts)
		e := back.Electrode[r]
		slices.Reverse(e) // edge i went from i to i+1: now it goes from n-2-i
		back.Electrode[r] = append(e[1:len(e):len(e)], e[0])
	}
	same(t, "the other way round", back, want, id)
	slices.Reverse(back.Rings)
	slices.Reverse(back.Electrode)
	same(t, "holes first", back, want, id)
	for n := range 8 {
		from := s.scaled(1)
		from.Rings[0] = append(from.Rings[0][n:len(from.Rings[0]):len(from.Rings[0])], from.Rings[0][:n]...)
		from.Electrode[0] = append(from.Electrode[0][n:len(from.Electrode[0]):len(from.Electrode[0])], from.Electrode[0][:n]...)
		same(t, "from another corner", from, want, id)
	}
	renumbered := s.scaled(1)
	for _, e := range renumbered.Electrode {
		for i, v := range e {
			if v >= 0 {
				e[i] = (v + 1) % 3
			}
		}
	}
	same(t, "renumbered", renumbered, want, func(i int) int { return (i + 2) % 3 })
}

// TestSwapped: source and drain may change places, in all shapes of the tests with two.
func TestSwapped(t *testing.T) {
	for name, s := range map[string]Shape{"bend": bend(60), "waffle": waffle(2, 1, 1), "hand": handTraced(40, 0.03, 5), "ring": enclosed(boxRing(0, 0, 5, 5), boxRing(1, 1, 3, 2))} {
		want, err := Solve(t.Context(), s.scaled(1000), 1e-4)
		if err != nil {
			t.Fatal(name, err)
		}
		swapped := s.scaled(1000)
		for _, e := range swapped.Electrode {
			for i, v := range e {
				if v >= 0 {
					e[i] = 1 - v
				}
			}
		}
		same(t, name, swapped, want, func(i int) int { return 1 - i })
	}
}

// TestElectrodeInTwoPlaces: an electrode with two stretches carries what both carry with the same voltage, so it is the sum
// of two electrodes.
func TestElectrodeInTwoPlaces(t *testing.T) {
	s := odd().scaled(1000)
	three, err := Solve(t.Context(), s, 1e-7)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range s.Electrode {
		for i, v := range e {
			e[i] = min(v, 1)
		}
	}
	two, err := Solve(t.Context(), s, 1e-7)
	if err != nil {
		t.Fatal(err)
	}
	if want := three.Conductance[0][0]; math.Abs(two.Squares()/want-1) > 2.1e-7 {
		t.Errorf("%.9g, want %.9g", two.Squares(), want)
	}
}
