package squares

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.9g, want %.9g to %g", what, got, want, tol)
	}
}

// TestFigures: figures that were computed apart from the formulas, by finite elements of degree 8 with bounds from both
// sides (to 2e-8, written in Python), and by Schwarz-Christoffel maps (to nine digits), unless said otherwise.
func TestFigures(t *testing.T) {
	near(t, "bar", Bar(7, 2), 3.5, 0)
	near(t, "corner between bounds", Corner(), (0.558728789+0.558728811)/2, 1.1e-8)
	for a, want := range map[float64]float64{1.5: 0.588297, 2: 0.643537, 3: 0.763485, 4: 0.873438, 1: 0.558729} {
		near(t, "unequal corner", UnequalCorner(1, a), want, 1e-6)
		near(t, "unequal corner the other way", UnequalCorner(10*a, 10), want, 1e-6)
	}
	for degrees, want := range map[float64]float64{0: 0, 30: 0.229734, 45: 0.325186, 60: 0.410795, 72: 0.473318, 90: 0.558729, 120: 0.682953} {
		near(t, "bend", Bend(degrees*math.Pi/180), want, 1e-6)
	}
	for a, want := range map[float64]float64{1.5: 0.111371, 2: 0.249833, 3: 0.477325, 4: 0.649967, 1: 0} {
		near(t, "step", Step(1, a), want, 1e-6)
		near(t, "step down", Step(3*a, 3), want, 1e-6)
	}
	for a, want := range map[float64]float64{1.5: 0.055686, 2: 0.124916, 3: 0.238662, 4: 0.324984} {
		near(t, "centred step", CentredStep(1, a), want, 1e-6)
	}
	for c, want := range map[float64]float64{0.25: 0.305752, 0.5: 0.110318, 0.8: 0.015973, 1: 0} {
		near(t, "contact on an end", EndContact(3*c, 3), want, 1e-6)
	}
	near(t, "cross, straight on", CrossThrough, 0.720636, 1e-6)
	near(t, "cross, around the corner", CrossAdjacent, 0.5, 1e-6)
	near(t, "zigzag: 2e-5 higher than its field, 8.117663", Bent(1, []float64{2, 2, 3}, []float64{math.Pi / 2, math.Pi / 2}), 8.117458, 1e-6)
	for d, want := range map[float64][2]float64{10: {42.234915, 0}, 4: {18.234914, 8e-8}, 2: {10.234093, 8e-5}, 1: {6.215547, 3e-3}, 0.5: {4.134487, 0.024}} {
		near(t, "gate around a square, high by so much", SquareRing(d, 1)/want[0]-1, want[1], 0.07*want[1]+2e-8)
	}
}

// TestTextbook: 1/2π·ln 2 and the like, worked out by hand.
func TestTextbook(t *testing.T) {
	near(t, "ring", RingRadial(1, 2, 2*math.Pi), 0.110318, 1e-6)
	near(t, "quarter ring", RingRadial(3, 6, math.Pi/2), 0.441271, 1e-6)
	near(t, "quarter ring along", RingAlong(1, 2, math.Pi/2), 2.266180, 1e-6)
	for r, want := range map[float64]float64{2: 9.064720, 1.5: 15.496242, 3: 5.719202} {
		near(t, "gate around a circle", 1/RingRadial(1, r, 2*math.Pi), want, 1e-6)
	}
	for _, x := range [][4]float64{{2, 1, 2, 1.386294}, {3, 1, 3, 1.647918}, {1, 1, 2, 0.693147}, {2, 1, 5, 0.804719}} {
		near(t, "taper by slices", TaperSlices(x[0], x[1], x[2]), x[3], 1e-6)
		near(t, "taper the other way", TaperSlices(x[0], x[2], x[1]), x[3], 1e-6)
	}
	for _, d := range []float64{0, 1e-12, 1e-9, 1e-7} {
		near(t, "hardly a taper", TaperSlices(3, 2, 2*(1+d)), 1.5*(1-d/2), 1e-13)
	}
}
