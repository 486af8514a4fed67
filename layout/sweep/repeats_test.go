package sweep

import (
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestRepeatedEdges: edges that are there several times, either way, next to each other or far apart, are led through the
// same points as if each were there once, in frames of any size, and as the definition of snap rounding says.
func TestRepeatedEdges(t *testing.T) {
	rnd := rand.New(rand.NewPCG(81, 82))
	led := 0
	for range 400 {
		size := []int{6, 40, 20_000, geom.Limit}[rnd.IntN(4)]
		point := func() geom.Point {
			return geom.Point{X: rnd.IntN(2*size+1) - size, Y: rnd.IntN(2*size+1) - size}
		}
		var once []Seg
		for range 2 + rnd.IntN(12) {
			if s := (Seg{A: point(), B: point()}); s.A != s.B {
				once = append(once, s)
			}
		}
		var all []Seg
		for _, s := range once {
			for range 1 + rnd.IntN(3) {
				all = append(all, s, Seg{A: s.B, B: s.A})
			}
		}
		for range rnd.IntN(20) {
			all = append(all, once[rnd.IntN(len(once))])
		}
		chains := nodeAll(all)
		if err := checkNoding(all, chains); err != nil {
			t.Fatalf("%v\n%v", err, all)
		}
		want := map[Line][]geom.Point{}
		alone := nodeAll(once)
		for _, s := range once {
			if s.Slanted() {
				want[s.Line()], alone = alone[0], alone[1:]
			}
		}
		for _, s := range all {
			if !s.Slanted() {
				continue
			}
			c := slices.Clone(chains[0])
			if l := s.Line(); c[0] != l.low() != (want[l][0] != l.low()) {
				slices.Reverse(c)
			}
			if !slices.Equal(c, want[s.Line()]) {
				t.Fatalf("%v is led through %v, alone through %v", s, c, want[s.Line()])
			}
			led += len(c) - 2
			chains = chains[1:]
		}
	}
	if led < 10_000 {
		t.Errorf("only %d points within edges", led)
	}
}

// TestDistinct: of lines each stays at least once, in order, and what follows its like is dropped.
func TestDistinct(t *testing.T) {
	a, b, c := Line{0, 0, 1, 1}, Line{0, 0, -1, 1}, Line{-5, -7, 1, 1}
	got := distinct([]Line{a, a, a})
	if !slices.Equal(got, []Line{a}) {
		t.Errorf("%v", got)
	}
	got = distinct([]Line{a, b, b, c, c, c})
	if !slices.Equal(got, []Line{a, b, c}) {
		t.Errorf("%v", got)
	}
	if got := distinct(nil); len(got) != 0 {
		t.Errorf("%v", got)
	}
}
