package field

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/geom"
)

// TestHostile: any few points of a tiny grid with any electrodes, most of which are no sheet: a figure that can be, or an error
// that names a place.
func TestHostile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		place := rapid.Custom(func(t *rapid.T) geom.Vec {
			return geom.Vec{X: float64(rapid.IntRange(0, 5).Draw(t, "x")), Y: float64(rapid.IntRange(0, 5).Draw(t, "y"))}
		})
		s := Shape{}
		for range rapid.IntRange(1, 2).Draw(t, "rings") {
			r := rapid.SliceOfN(place, 3, 7).Draw(t, "ring")
			s.Rings = append(s.Rings, r)
			s.Electrode = append(s.Electrode, rapid.SliceOfN(rapid.IntRange(-1, 1), len(r), len(r)).Draw(t, "electrodes"))
		}
		g, err := Solve(t.Context(), s, 1e-2)
		if err != nil {
			if !strings.Contains(err.Error(), "µm") {
				t.Errorf("%v: %v", s, err)
			}
			return
		}
		if v := g.Squares(); !(v > 0) || math.IsInf(v, 0) || !(g.Error <= 1e-2) || g.Conductance[0][1] != -v && math.Abs(g.Conductance[0][1]+v) > 1e-9*v {
			t.Errorf("%v: %+v", s, g)
		}
	})
}

// TestTiny: polygons of a few nm, whose corners nearly or really fall together, and the same between their other sides:
// either both are refused, or the one is one over the other.
func TestTiny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t, 4, 12)
		k := rapid.SampledFrom([]float64{1. / 100, 1. / 300, 1. / 1000}).Draw(t, "scale")
		for i, p := range r {
			r[i] = geom.Vec{X: math.Round(p.X * k), Y: math.Round(p.Y * k)}
		}
		arc := arcs(t, len(r))
		a, errA := Solve(t.Context(), single(r, on(len(r), arc, 0)...), 1e-2)
		b, errB := Solve(t.Context(), single(r, on(len(r), arc, 1)...), 1e-2)
		switch {
		case errA != nil || errB != nil: // a side of no length makes electrodes touch in one of them, and leaves none in the other
			for _, err := range []error{errA, errB} {
				if err != nil && !strings.Contains(err.Error(), "µm") {
					t.Error(err)
				}
			}
		case math.Abs(a.Squares()*b.Squares()-1) > 1.02*(a.Error+b.Error):
			t.Errorf("%v: %g · %g", r, a.Squares(), b.Squares())
		}
	})
}
