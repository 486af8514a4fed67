package register

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

// TestFitFindsMap: from points that lie exactly right, every kind finds the map that made them, either way round.
func TestFitFindsMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		made := rapid.SampledFrom(kinds[:3]).Draw(t, "made")
		kind := rapid.SampledFrom(kinds[slices.Index(kinds, made):3]).Draw(t, "kind") // as wide or wider
		target := rapid.SampledFrom([]Target{ToFrame, ToShot}).Draw(t, "target")
		m := drawLinear(t, made)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		points := scattered(r, rapid.IntRange(9, 40).Draw(t, "points"), m, 0)
		f, err := FitPoints(kind, points, target)
		if err != nil {
			t.Fatal(err)
		}
		p := drawPlace(t)
		want := m.Apply(p)
		if got := f.Map.Apply(p); distance(got, want) > 1e-9*(1e7+math.Hypot(want.X, want.Y)) {
			t.Fatalf("%s as %s: %v goes to %v, want %v", made, kind, p, got, want)
		}
		over := m.Jacobian(geom.Vec{X: 2000, Y: 1500}).Det() < 0
		if f.Mirrored == (over == (target == ToFrame)) {
			t.Fatalf("turned over %v, mirrored %v", over, f.Mirrored)
		}
		if slices.Contains(f.Outlier, true) {
			t.Fatal("rounding errors taken for wrong points")
		}
	})
}

// TestLeaveOneOut: for all kinds the same as fits without the point, done one by one.
func TestLeaveOneOut(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, kind := range kinds[:4] {
		for _, weighted := range []bool{false, true} {
			points := scattered(r, 14, camera(Projective), 80)
			for i := range points {
				if weighted {
					points[i].Sigma = 0.3 + r.Float64()
				}
			}
			f, err := FitPoints(kind, points, ToFrame)
			if err != nil {
				t.Fatal(err)
			}
			for i := range points {
				g, err := FitPoints(kind, slices.Delete(slices.Clone(points), i, i+1), ToFrame)
				if err != nil {
					t.Fatal(err)
				}
				miss := distance(g.Map.Apply(points[i].From), points[i].To)
				within(t, fmt.Sprintf("%s without point %d", kind, i+1), f.LeaveOneOut[i], miss, 1e-5)
			}
		}
	}
}

// TestLeaveOneOutOfMany: one Gauss–Newton step stands for the refit of projective maps with more than refitAll points;
// both ways of one set agree to a thousandth of the residuals' size.
func TestLeaveOneOutOfMany(t *testing.T) {
	points := scattered(rand.New(rand.NewPCG(4, 1)), refitAll+1, camera(Projective), 80)
	f, err := FitPoints(Projective, points, ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	s := newSystem(points)
	l, ok := s.refine(s.linearStart(), -1)
	if !ok {
		t.Fatal("no rest")
	}
	for i := range points {
		miss, _ := s.refitted(l, i)
		within(t, fmt.Sprintf("without point %d", i+1), f.LeaveOneOut[i], math.Hypot(miss.X, miss.Y), 0.1)
	}
}

// TestTooFewLeft: where what is left without a point determines no map, there is no residual either.
func TestTooFewLeft(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for _, kind := range kinds[:4] {
		f, err := FitPoints(kind, scattered(r, kind.Points(), camera(Similarity), 1), ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range f.LeaveOneOut {
			if !math.IsNaN(v) || f.Outlier[i] {
				t.Errorf("%s through as many points as it needs: %g without point %d, outlier %v", kind, v, i+1, f.Outlier[i])
			}
		}
	}
	// Five points, three on a line: a projective map can spare only those.
	points := scattered(r, 5, camera(Affine), 50)
	points[0].From, points[1].From, points[2].From = geom.Vec{X: 1000, Y: 1000}, geom.Vec{X: 1000, Y: 2000}, geom.Vec{X: 1000}
	points[3].From, points[4].From = geom.Vec{X: 3000, Y: 700}, geom.Vec{X: 2700, Y: 2700}
	for i := range points {
		points[i].To = camera(Affine).Apply(points[i].From)
		points[i].To.X += float64(i * i)
	}
	f, err := FitPoints(Projective, points, ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range f.LeaveOneOut {
		if math.IsNaN(v) != (i > 2) {
			t.Errorf("%g without point %d", v, i+1)
		}
	}
	// Four points, three on a line: only the fourth cannot be spared.
	points = scattered(r, 4, camera(Affine), 50)
	points[1].From, points[2].From = geom.Vec{X: 1000, Y: 1000}, geom.Vec{X: 1000, Y: 2000}
	points[0].From, points[3].From = geom.Vec{X: 1000, Y: 0}, geom.Vec{X: 3000, Y: 700}
	for _, kind := range []Kind{Affine, Spline} {
		f, err := FitPoints(kind, points, ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range f.LeaveOneOut {
			if math.IsNaN(v) != (i == 3) {
				t.Errorf("%s: %g without point %d", kind, v, i+1)
			}
		}
	}
}

// TestWeights: by hand. Four marks of one place and the like for a shift: with σ of 1 and 2 px the weights are 4 : 1, so
// that of targets 0 and 10 nm apart the fit takes 2.
func TestWeights(t *testing.T) {
	var points []Point
	for _, p := range []geom.Vec{{}, {X: 100}, {Y: 100}} {
		points = append(points, Point{From: p, To: p, Sigma: 1}, Point{From: p, To: geom.Vec{X: p.X + 10, Y: p.Y}, Sigma: 2})
	}
	for _, kind := range kinds[:2] {
		f, err := FitPoints(kind, points, ToShot)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range []geom.Vec{{X: 50, Y: 50}, {X: -20}} {
			q := f.Map.Apply(p)
			within(t, "x", q.X, p.X+2, 1e-11)
			within(t, "y", q.Y, p.Y, 1e-11)
		}
		// Residuals 2 and −8, all in x and at a scale of 1: rms √((4 + 64)/2), in the target and in the source.
		within(t, "rms", f.Rms, math.Sqrt(34), 1e-11)
		within(t, "rms in the source", f.RmsFrom, math.Sqrt(34), 1e-11)
		within(t, "residual", f.ResidualsFrom[1].X, -8, 1e-11)
	}
	// Only ratios of σ count.
	a := scattered(rand.New(rand.NewPCG(6, 1)), 12, camera(Projective), 80)
	b := slices.Clone(a)
	for i := range a {
		a[i].Sigma, b[i].Sigma = float64(1+i%3), 7*float64(1+i%3)
	}
	for _, kind := range kinds[:3] {
		f, err1 := FitPoints(kind, a, ToFrame)
		g, err2 := FitPoints(kind, b, ToFrame)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		within(t, string(kind)+" x", f.Map.Apply(geom.Vec{X: 9, Y: 9}).X, g.Map.Apply(geom.Vec{X: 9, Y: 9}).X, 1e-4)
	}
}

// TestSigmaScaleByHand: the corners of a square of 200 px, pushed by 1 nm to the right and left in turn, at a scale of 1. No
// linear map gives way to that; RSS = 4. Similarity: σ² = 4/(8 − 4), and the scale errs by σ/√Σ|u|² = 1/√80000. Affine:
// σ² = 4/(8 − 6), the two sizes err by σ/√40000 each, and their mean by 1/√2 of that.
func TestSigmaScaleByHand(t *testing.T) {
	var points []Point
	for i, p := range []geom.Vec{{X: 100, Y: 100}, {X: -100, Y: 100}, {X: -100, Y: -100}, {X: 100, Y: -100}} {
		points = append(points, Point{From: p, To: geom.Vec{X: p.X + 1 - 2*float64(i%2), Y: p.Y}})
	}
	for kind, want := range map[Kind]float64{Similarity: 1 / math.Sqrt(80000), Affine: math.Sqrt(2.0/40000) / math.Sqrt2} {
		f, err := FitPoints(kind, points, ToShot)
		if err != nil {
			t.Fatal(err)
		}
		within(t, string(kind), f.SigmaScale, want, 1e-12)
	}
	for _, kind := range []Kind{Projective, Spline} { // four points leave nothing over
		f, err := FitPoints(kind, points, ToShot)
		if err != nil || !math.IsNaN(f.SigmaScale) {
			t.Errorf("%s: %v, %v", kind, f, err)
		}
	}
}

// TestSigmaScale: over 2000 sets the scale of the fit scatters as stated, for points that err as their weights say. A
// standard deviation of 2000 draws is good to 1.6 %.
func TestSigmaScale(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	for _, kind := range kinds[:3] {
		clean := scattered(r, 12, camera(kind), 0)
		var sum, sum2, stated float64
		centre := newSystem(clean).from.centre
		const sets = 2000
		for range sets {
			points := slices.Clone(clean)
			for i := range points {
				p := &points[i]
				p.Sigma = 1 + float64(i%3)
				p.To.X += 30 * p.Sigma * r.NormFloat64()
				p.To.Y += 30 * p.Sigma * r.NormFloat64()
			}
			f, err := FitPoints(kind, points, ToFrame)
			if err != nil {
				t.Fatal(err)
			}
			d := Size(f.Map, centre)/Size(camera(kind), centre) - 1
			sum, sum2, stated = sum+d, sum2+d*d, stated+f.SigmaScale*f.SigmaScale/sets
		}
		within(t, string(kind), math.Sqrt(sum2/sets-sum*sum/sets/sets)/math.Sqrt(stated), 1, 0.06)
	}
}

// TestLeastSquares: no map nearby has a smaller weighted sum of squares, by changing each parameter either way.
func TestLeastSquares(t *testing.T) {
	points := scattered(rand.New(rand.NewPCG(7, 1)), 15, camera(Projective), 100)
	for i := range points {
		points[i].Sigma = 1 + float64(i%4)
	}
	sum := func(m Map) (sum float64) {
		for _, p := range points {
			sum += square(minus(m.Apply(p.From), p.To)) / (p.Sigma * p.Sigma)
		}
		return sum
	}
	for _, kind := range []Kind{Affine, Projective} {
		f, err := FitPoints(kind, points, ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		least := sum(f.Map)
		for i := range len(f.Map.Parameters()) {
			if kind == Projective && i == 8 {
				continue // fixed
			}
			for _, d := range []float64{-1e-5, 1e-5} {
				p := f.Map.Parameters()
				p[i] += d * math.Abs(p[i])
				m, err := ParseMap(kind, p)
				if err != nil {
					t.Fatal(err)
				}
				if s := sum(m); s < least {
					t.Errorf("%s: parameter %d changed by %g: %.12g, less than %.12g", kind, i, d, s, least)
				}
			}
		}
	}
}

// TestSides: what is seen from behind is found by three points, unless they lie about a line; then, and with two, the
// picture is as the axes say.
func TestSides(t *testing.T) {
	corner := []geom.Vec{{}, {X: 1000}, {Y: 500}}
	row := []geom.Vec{{}, {X: 1000}, {X: 2000, Y: 2}}
	for _, tc := range []struct {
		name     string
		places   []geom.Vec
		upturned bool // by the map that made the targets
		target   Target
		mirrored bool
	}{
		{"from above", corner, true, ToFrame, false},
		{"from behind", corner, false, ToFrame, true},
		{"two photographs", corner, false, ToShot, false},
		{"two photographs, one from behind", corner, true, ToShot, true},
		{"in a row", row, false, ToFrame, false},
		{"in a row, to a shot", row, true, ToShot, false},
		{"two", corner[:2], false, ToFrame, false},
	} {
		var points []Point
		for _, p := range tc.places {
			q := geom.Vec{X: 3*p.X - 4*p.Y + 7, Y: 4*p.X + 3*p.Y}
			if tc.upturned {
				q = geom.Vec{X: 3*p.X + 4*p.Y + 7, Y: 4*p.X - 3*p.Y}
			}
			q.Y += float64(len(points) % 2) // marks are not perfect
			points = append(points, Point{From: p, To: q})
		}
		f, err := FitPoints(Similarity, points, tc.target)
		if err != nil {
			t.Fatal(err)
		}
		if f.Mirrored != tc.mirrored {
			t.Errorf("%s: mirrored %v", tc.name, f.Mirrored)
		}
	}
}

// TestLargeOffsets: a mosaic whose pixels count from far away loses nothing: the frame's limit is 2^30 nm.
func TestLargeOffsets(t *testing.T) {
	points := referencePoints(t, "reg_projective")
	for _, kind := range kinds[:4] {
		f, err := FitPoints(kind, points, ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		moved := slices.Clone(points)
		for i := range moved {
			moved[i].From.X += 1e6
			moved[i].To.Y -= 1e9
		}
		g, err := FitPoints(kind, moved, ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		within(t, string(kind)+" rms", g.Rms, f.Rms, 1e-4)
		p := geom.Vec{X: 2000, Y: 1500}
		a, b := f.Map.Apply(p), g.Map.Apply(geom.Vec{X: p.X + 1e6, Y: p.Y})
		within(t, string(kind)+" x", b.X, a.X, 0.01)
		within(t, string(kind)+" y", b.Y, a.Y-1e9, 0.01)
	}
}

func at(places ...float64) []Point {
	var points []Point
	for i := 0; i+1 < len(places); i += 2 {
		p := geom.Vec{X: places[i], Y: places[i+1]}
		points = append(points, Point{From: p, To: geom.Vec{X: 100 * p.X, Y: -100*p.Y + p.X}})
	}
	return points
}

func with(points []Point, change func([]Point)) []Point {
	change(points)
	return points
}

// TestFitRefuses: every error, with the points it names.
func TestFitRefuses(t *testing.T) {
	grid := func() []Point { return at(0, 0, 100, 0, 0, 100, 100, 100, 50, 60) }
	var row []float64
	for i := range 14 {
		row = append(row, float64(10*i), float64(20*i))
	}
	for _, tc := range []struct {
		kind   Kind
		points []Point
		want   string
	}{
		{"cubic", grid(), `"cubic" is no kind of map that can be fitted: take similarity, affine, projective or spline`},
		{chained, grid(), `"chain" is no kind of map that can be fitted`},
		{Affine, at(0, 0), "1 control point for an affine map, which needs 3: add 2"},
		{Similarity, nil, "0 control points for a similarity map, which needs 2: add 2"},
		{Spline, make([]Point, 2001), "2001 control points for a spline, which takes at most 2000: thin them out, or fit a projective map"},
		{Affine, with(grid(), func(p []Point) { p[2].From.X = math.NaN() }), "point 3 goes from (NaN, 100) to (0, -10000): coordinates are numbers within ±1e+12"},
		{Affine, with(grid(), func(p []Point) { p[1].To.Y = 1e300 }), "point 2 goes from (100, 0) to (10000, 1e+300)"},
		{Affine, with(grid(), func(p []Point) { p[0].Sigma = -1 }), "point 1 has the uncertainty -1: give a standard deviation in px, or 0 for all points"},
		{Affine, with(grid(), func(p []Point) { p[0].Sigma, p[3].Sigma = 1, 1 }), "no uncertainty at points 2, 3 and 5, but at others: give it for all points, or for none"},
		{Affine, with(grid(), func(p []Point) { p[0].Sigma, p[1].Sigma, p[2].Sigma, p[3].Sigma = 1, 1, 1, 1 }), "no uncertainty at point 5, but"},
		{Similarity, at(3, 4, 3, 4), "points 1 and 2 lie at the same place, (3, 4); a similarity map needs 2 different ones"},
		{Affine, at(0, 0, 5, 6, 0, 0), "points 1 and 3 lie at the same place, (0, 0); an affine map needs 3 different ones"},
		{Projective, at(0, 0, 5, 6, 5, 6, 5, 6, 9, 0), "points 2, 3 and 4 lie at the same place, (5, 6); a projective map needs 4 different ones"},
		{Spline, at(0, 0, 5, 6, 7, 1, 8, 1, 5, 6), "points 2 and 5 lie at the same place, (5, 6); a spline map needs 3 different ones, each once"},
		{Similarity, with(at(0, 0, 5, 6), func(p []Point) { p[1].To = p[0].To }), "points 1 and 2 have their targets at the same place, (0, 0)"},
		{Spline, with(grid(), func(p []Point) { p[4].To = p[1].To }), "points 2 and 5 have their targets at the same place"},
		{Spline, at(0, 0, 5, 6, 7, 1, 5, 6.000001), "points 2 and 4 lie 1e-06 px apart, too near to each other for a spline: keep one of them"},
		{Affine, at(0, 0, 10, 20, 20, 40), "points 1, 2 and 3 lie on one line: add one well beside it, or take a similarity"},
		{Affine, at(0, 0, 1000, 2000, 2000, 4000.01), "points 1, 2 and 3 lie on one line"},
		{Affine, at(row...), "points 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 … (14 in all) lie on one line"},
		{Spline, at(0, 0, 10, 20, 20, 40), "points 1, 2 and 3 lie on one line"},
		{Affine, with(grid(), func(p []Point) {
			for i := range p {
				p[i].To.Y = 5
			}
		}), "have their targets on one line: add one well beside it"},
		{Projective, at(0, 0, 10, 20, 20, 40, 30, 60), "points 1, 2, 3 and 4 lie on one line"},
		{Projective, at(0, 0, 10, 20, 50, 5, 20, 40), "points 1, 2 and 4 lie on one line, all but point 3: a projective map needs four places of which no three are on a line; add one beside it, or take an affine map"},
		{Projective, at(0, 0, 10, 20, 50, 5, 20, 40, 50, 5), "points 1, 2 and 4 lie on one line, all but point 3"},
		// Two targets exchanged: a square that crosses itself. The horizon then runs between its corners.
		{Projective, with(at(0, 0, 100, 0, 100, 100, 0, 100), func(p []Point) { p[0].To, p[1].To = p[1].To, p[0].To }), "no camera sees that; look for exchanged targets, with the residuals of an affine map"},
		{Affine, with(grid(), func(p []Point) {
			for i := range p {
				p[i].Sigma = 1
			}
			p[0].Sigma, p[1].Sigma = 1e-9, 1e-9 // all weight on two points
		}), "the 5 control points hardly determine the map: add points far from the others, or let them count more alike"},
		// The corners of a square, whose targets depend on y alone: in X, opposite corners are alike.
		{Affine, with(at(0, 0, 100, 0, 100, 100, 0, 100), func(p []Point) {
			p[0].To, p[1].To, p[2].To, p[3].To = geom.Vec{X: 0, Y: 1}, geom.Vec{X: 4, Y: 1}, geom.Vec{X: 0, Y: -1}, geom.Vec{X: 4, Y: -1}
		}), "the best affine map takes the neighbourhood of point 1 to a line or point: the targets do not follow the places; check which point belongs to which target"},
	} {
		f, err := FitPoints(tc.kind, tc.points, ToFrame)
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s of %d points: %+v, %v,\nwant %q", tc.kind, len(tc.points), f, err, tc.want)
		}
	}
}

// TestExchanged: projective fits of more points with targets exchanged. From the linear start or the affine one, a fit
// ends at a map whose horizon is outside the points, or in one of two errors; both come up.
func TestExchanged(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	seen := map[string]int{}
	for range 300 {
		points := scattered(r, 5+r.IntN(4), camera(Projective), 50)
		r.Shuffle(len(points), func(i, j int) { points[i].To, points[j].To = points[j].To, points[i].To })
		f, err := FitPoints(Projective, points, ToFrame)
		switch {
		case err == nil:
			seen["fitted"]++
			side := f.Map.(Linear).depth(points[0].From) > 0
			for _, p := range points {
				if f.Map.(Linear).depth(p.From) > 0 != side {
					t.Fatal("the horizon runs between the points")
				}
			}
		case strings.Contains(err.Error(), "the projective map that fits has its horizon between the points, with point"):
			seen["torn"]++
		case strings.Contains(err.Error(), "the projective fit does not come to rest: look for exchanged targets, with the residuals of an affine map"):
			seen["restless"]++
		default:
			seen[err.Error()]++
		}
	}
	if len(seen) > 4 || seen["fitted"] == 0 || seen["torn"] == 0 || seen["restless"] == 0 {
		t.Errorf("%v", seen)
	}
}

// TestSamePlaceTwice: a place that was marked twice is no error where the others suffice.
func TestSamePlaceTwice(t *testing.T) {
	points := at(0, 0, 100, 0, 0, 100, 100, 90, 100, 90)
	for _, kind := range kinds[:3] {
		if _, err := FitPoints(kind, points, ToFrame); err != nil {
			t.Errorf("%s: %v", kind, err)
		}
	}
}
