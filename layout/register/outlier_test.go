package register

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestTail: the elementary tail of the F distribution with 2 and m degrees of freedom against the general one.
func TestTail(t *testing.T) {
	for _, m := range []float64{1, 2, 7, 30} {
		for _, f := range []float64{0.1, 1, 3, 12, 40} {
			within(t, "tail", math.Pow(1+2*f/m, -m/2), distuv.F{D1: 2, D2: m}.Survival(f), 1e-12)
		}
	}
}

// TestFalseAlarms: of 1000 sets of good points, as many have a flag as the test's level says, 5 %. Bonferroni's
// inequality is all but an equality for so rare events, so the count is binomial for linear maps: 50 ± 6.9, and
// 29 to 71 are three standard deviations. The spline's test is approximate, the more so where its lens bends; it is
// taken to stay below 8 %.
func TestFalseAlarms(t *testing.T) {
	for _, tc := range []struct {
		kind     Kind
		m        Map
		n        int
		min, max int
		uneven   bool // σ of 1, 2 and 3 in turn, which the fit is told
	}{
		{Similarity, camera(Similarity), 6, 29, 71, false},
		{Similarity, camera(Similarity), 25, 29, 71, false},
		{Affine, camera(Affine), 6, 29, 71, false},
		{Affine, camera(Affine), 12, 29, 71, false},
		{Affine, camera(Affine), 15, 29, 71, true},
		{Projective, camera(Projective), 8, 29, 71, false},
		{Projective, camera(Projective), 16, 29, 71, false},
		{Spline, bent{camera(Affine)}, 12, 29, 80, false},
		{Spline, bent{camera(Affine)}, 25, 29, 80, false},
	} {
		r := rand.New(rand.NewPCG(11, uint64(tc.n)))
		alarms := 0
		for range 1000 {
			points := scattered(r, tc.n, tc.m, 50)
			for i := range points {
				if tc.uneven {
					exact := tc.m.Apply(points[i].From)
					points[i].Sigma = float64(1 + i%3)
					points[i].To.X = exact.X + points[i].Sigma*(points[i].To.X-exact.X)
					points[i].To.Y = exact.Y + points[i].Sigma*(points[i].To.Y-exact.Y)
				}
			}
			f, err := FitPoints(tc.kind, points, ToFrame)
			if err != nil {
				t.Fatal(err)
			}
			if slices.Contains(f.Outlier, true) {
				alarms++
			}
		}
		t.Logf("%s, %d points: %d alarms in 1000", tc.kind, tc.n, alarms)
		if alarms < tc.min || alarms > tc.max {
			t.Errorf("%s, %d points: %d alarms in 1000, want %d to %d", tc.kind, tc.n, alarms, tc.min, tc.max)
		}
	}
}

// TestWrongPoint: a point that is off by eight standard deviations is found, and in nine of ten sets no other one with
// it. A spline gives way at its border, so that there it takes twelve.
func TestWrongPoint(t *testing.T) {
	for _, tc := range []struct {
		kind        Kind
		m           Map
		n           int
		sigmas      float64
		inside      bool
		found, from int
	}{
		{Similarity, camera(Similarity), 16, 8, false, 195, 200},
		{Affine, camera(Affine), 16, 8, false, 195, 200},
		{Projective, camera(Projective), 20, 8, false, 195, 200},
		{Spline, bent{camera(Affine)}, 30, 8, true, 185, 200},
		{Spline, bent{camera(Affine)}, 30, 12, false, 195, 200},
	} {
		r := rand.New(rand.NewPCG(12, 1))
		found, alone := 0, 0
		for range tc.from {
			points := scattered(r, tc.n, tc.m, 50)
			k, angle := r.IntN(tc.n), 2*math.Pi*r.Float64()
			if tc.inside { // the raster has 6 × 5 cells
				k = 1 + r.IntN(4) + 6*(1+r.IntN(3))
			}
			points[k].To.X += tc.sigmas * 50 * math.Cos(angle)
			points[k].To.Y += tc.sigmas * 50 * math.Sin(angle)
			f, err := FitPoints(tc.kind, points, ToFrame)
			if err != nil {
				t.Fatal(err)
			}
			if f.Outlier[k] {
				found++
				if f.Outlier[k] = false; !slices.Contains(f.Outlier, true) {
					alone++
				}
			}
		}
		t.Logf("%s, %g σ: found in %d of %d, alone in %d", tc.kind, tc.sigmas, found, tc.from, alone)
		if found < tc.found || alone < found*9/10 {
			t.Errorf("%s, %g σ: found in %d of %d, alone in %d; want %d, most of them alone", tc.kind, tc.sigmas, found, tc.from, alone, tc.found)
		}
	}
}

// TestSeveralWrong: a spline's points are judged by a scale that wrong points cannot spoil, so that three of thirty are
// all found.
func TestSeveralWrong(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 1))
	found := 0
	for range 50 {
		points := scattered(r, 30, bent{camera(Affine)}, 50)
		wrong := []int{3, 14, 25}
		for _, k := range wrong {
			points[k].To.X += 30 * 50
		}
		f, err := FitPoints(Spline, points, ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		if f.Outlier[3] && f.Outlier[14] && f.Outlier[25] {
			found++
		}
	}
	if found < 48 {
		t.Errorf("all three found in %d of 50", found)
	}
}
