package measure

import (
	"errors"
	"math"
	"testing"
)

func within(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g to %g of it", what, got, want, rel)
	}
}

// TestOxide: 3.9·ε0/t in exact arithmetic (Python), ε0 of CODATA 2018; fF/µm², to 1e-6.
func TestOxide(t *testing.T) {
	for nm, want := range map[float64]float64{5: 6.906266, 7.5: 4.604178, 10: 3.453133, 12.5: 2.762507, 15: 2.302089, 20: 1.726567,
		25: 1.381253, 30: 1.151044} {
		if got := OxideAF(nm) / 1000; math.Abs(got-want) > 1e-6 {
			t.Errorf("%g nm: %.7f fF/µm², want %.6f", nm, got, want)
		}
	}
	within(t, "100 µm² at 10 nm", PlateAF(100, OxideAF(10), 0, 0), 345313.3, 1e-5)
	within(t, "1 µm² at 40 nm", OxideAF(40), 863.283, 1e-5)
	within(t, "1 µm² at 1 µm", OxideAF(1000), 34.53133, 1e-5)
	within(t, "10 × 2 µm at 10 nm", 20*OxideAF(10), 69062.665, 1e-8) // ngspice has 69062.876, with its own ε0
	if !math.IsInf(OxideAF(0), 1) {
		t.Error("no oxide has a capacitance")
	}
}

// TestPlate: by hand.
func TestPlate(t *testing.T) {
	if got := PlateAF(250, 38, 220, 41); got != 18520 {
		t.Errorf("%g aF, want 18520", got)
	}
}

// TestLineOverPlane: what the formula gives, worked out apart (to 1e-5), and what is true: boundary elements with an image, panels
// graded towards the corners, 100 to 800 a side (Python).
func TestLineOverPlane(t *testing.T) {
	for _, x := range []struct{ w, t, h, formula, truth float64 }{
		{1, 1, 1, 3.89000, 3.96100}, {2, 1, 1, 5.09056, 5.12491}, {1, 0.5, 1, 3.57953, 3.60909}, {4, 1, 1, 7.32907, 7.34153},
		{10, 1, 1, 13.71498, 13.71233}, {1, 1, 2, 2.91088, 2.95997}, {2, 0.5, 0.8, 5.44088, 5.46302},
	} {
		for _, unit := range []float64{1, 730} {
			got, err := LineOverPlane(unit*x.w, unit*x.t, unit*x.h)
			if err != nil {
				t.Error(err)
			}
			if math.Abs(got-x.formula) > 1e-5 {
				t.Errorf("%v: %.6f, want %.5f", x, got, x.formula)
			}
			within(t, "truth", got, x.truth, 0.018)
		}
	}
	within(t, "in oxide, aF/µm", must(LineAF(1, 1, 1)), 3.89*34.53133, 1e-6)
}

func must(v float64, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return v
}

// TestLineRange: a value from outside of what was compared says so, and what has none is none.
func TestLineRange(t *testing.T) {
	for _, x := range [][3]float64{{0.4, 1, 1}, {11, 1, 1}, {1, 0.4, 1}, {1, 1.1, 1}} {
		got, err := LineOverPlane(x[0], x[1], x[2])
		var r *RangeError
		if !errors.As(err, &r) || r.WidthOverHeight != x[0] || !(got > 1) {
			t.Errorf("%v: %g, %v", x, got, err)
		}
	}
	for _, x := range [][3]float64{{0, 1, 1}, {1, 1, 0}, {1, 1, -1}, {-1, 1, 1}, {math.Inf(1), 1, 1}, {math.NaN(), 1, 1}} {
		var r *RangeError
		if got, err := LineOverPlane(x[0], x[1], x[2]); err == nil || errors.As(err, &r) || !math.IsNaN(got) {
			t.Errorf("%v: %g, %v", x, got, err)
		}
	}
}

// TestJunction: worked out apart (Python), and the same to 1e-9 by an AC analysis of ngspice 39.
func TestJunction(t *testing.T) {
	j := Junction{CJ: 5.6e-4, MJ: 0.45, CJSW: 3.5e-10, MJSW: 0.2, PB: 0.8}
	for v, want := range map[float64]float64{0: 19.6, 0.5: 16.624593, 1: 14.918013, 2.5: 12.246345, 3.3: 11.426692, 5: 10.244801} {
		got, err := j.Farad(20e-12, 24e-6, v)
		if err != nil {
			t.Error(err)
		}
		within(t, "junction", got*1e15, want, 1e-6)
	}
	for _, v := range []float64{-0.4, -1, math.NaN()} {
		if got, err := j.Farad(20e-12, 24e-6, v); err == nil || !math.IsNaN(got) {
			t.Errorf("%g V: %g, no error", v, got)
		}
	}
}

// TestAbruptJunction: worked out apart (Python), to the digits there.
func TestAbruptJunction(t *testing.T) {
	for _, x := range []struct{ n, v, depth, c, depthTol float64 }{
		{1e16, 0, 0.3216, 0.32208, 2e-4}, {1e16, 2.5, 0.6533, 0.15858, 1e-4}, {1e17, 0, 0.1017, 1.01850, 5e-4}, {1e15, 2.5, 2.0658, 0.05015, 1e-4},
	} {
		depth, c := AbruptJunction(0.8, x.v, x.n)
		within(t, "depth", depth, x.depth, x.depthTol) // four digits are stated
		within(t, "capacitance", c, x.c, 1e-4)
	}
	if d, c := AbruptJunction(0.8, -1, 1e16); !math.IsNaN(d) || !math.IsNaN(c) {
		t.Errorf("%g, %g of a junction without a barrier", d, c)
	}
}
