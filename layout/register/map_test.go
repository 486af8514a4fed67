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

// TestInverse: there and back, and back and there, for every kind, to 1e-9 of the picture.
func TestInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMap(t)
		if rapid.Bool().Draw(t, "chain") {
			m = chain{Linear{Affine, [3][3]float64{{0.9, 0.1, 5}, {-0.1, 1, 7}, {0, 0, 1}}}, m}
		}
		back, err := m.Inverse()
		if err != nil {
			t.Skip(err) // a spline of close points may fold
		}
		p := drawPlace(t)
		q := m.Apply(p)
		if got := back.Apply(q); !(distance(got, p) <= 1e-6) {
			t.Fatalf("%s: %v goes to %v and back to %v", m.Kind(), p, q, got)
		}
		again, err := back.Inverse()
		if err != nil {
			t.Fatal(err)
		}
		if got := again.Apply(p); !(distance(got, q) <= 1e-9*(1e6+math.Hypot(q.X, q.Y))) {
			t.Fatalf("%s: undone twice, %v goes to %v, not %v", m.Kind(), p, got, q)
		}
		if product := back.Jacobian(q).times(m.Jacobian(p)); math.Hypot(product[0][0]-1, product[0][1])+math.Hypot(product[1][0], product[1][1]-1) > 1e-6 {
			t.Fatalf("%s: the derivatives are not inverse to each other: %v", m.Kind(), product)
		}
	})
}

// TestJacobian: against central differences.
func TestJacobian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, p := drawMap(t), drawPlace(t)
		if rapid.Bool().Draw(t, "chain") {
			m = chain{Linear{Affine, [3][3]float64{{0.9, 0.1, 5}, {-0.1, 1, 7}, {0, 0, 1}}}, m}
		}
		const h = 0.01
		j, scale := m.Jacobian(p), Size(m, p)
		for c, d := range []geom.Vec{{X: h}, {Y: h}} {
			a, b := m.Apply(geom.Vec{X: p.X - d.X, Y: p.Y - d.Y}), m.Apply(geom.Vec{X: p.X + d.X, Y: p.Y + d.Y})
			if math.Hypot((b.X-a.X)/(2*h)-j[0][c], (b.Y-a.Y)/(2*h)-j[1][c]) > 1e-3*scale+1e-6 {
				t.Fatalf("%s at %v: column %d of %v, differences %v", m.Kind(), p, c, j, geom.Vec{X: (b.X - a.X) / (2 * h), Y: (b.Y - a.Y) / (2 * h)})
			}
		}
	})
}

// TestBump: by hand. A weight of 0.5 at (0, 0) adds r² ln r/2 to X: nothing at (1, 0), where it rises by r·(2 ln r + 1)/2,
// and 2 ln 2 at (2, 0).
func TestBump(t *testing.T) {
	m, err := ParseMap(Spline, []float64{1, 0, 0, 0, 1, 0, 0, 0, 0.5, 0, 9, 0, 0, 0, 0, 9, 0, 0})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "at 1", m.Apply(geom.Vec{X: 1}).X, 1, 1e-15)
	within(t, "at 2", m.Apply(geom.Vec{X: 2}).X, 2+2*math.Ln2, 1e-14)
	within(t, "slope at 1", m.Jacobian(geom.Vec{X: 1})[0][0], 1.5, 1e-15)
	within(t, "slope at 2", m.Jacobian(geom.Vec{X: 2})[0][0], 2+2*math.Ln2, 1e-14)
	within(t, "slope at 0", m.Jacobian(geom.Vec{})[0][0], 1, 0)
}

// TestCompose: one after the other; linear maps become one of the wider kind.
func TestCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first, then, last := drawMap(t), drawMap(t), drawMap(t)
		// Scaled down, so that the second map is used where it was made.
		small := Linear{Similarity, [3][3]float64{{1e-3, 0, 0}, {0, 1e-3, 0}, {0, 0, 1}}}
		first = Compose(first, small)
		p := drawPlace(t)
		both := Compose(first, then)
		want := then.Apply(first.Apply(p))
		if got := both.Apply(p); !(distance(got, want) <= 1e-9*(1e6+math.Hypot(want.X, want.Y))) && math.Hypot(want.X, want.Y) < 1e8 {
			t.Fatalf("%s then %s: %v goes to %v, want %v", first.Kind(), then.Kind(), p, got, want)
		}
		if a, ok := first.(Linear); ok {
			if b, ok := then.(Linear); ok {
				l, ok := both.(Linear)
				if !ok || l.kind != kinds[max(slices.Index(kinds, a.kind), slices.Index(kinds, b.kind))] {
					t.Fatalf("%s then %s is %s", a.kind, b.kind, both.Kind())
				}
			}
		}
		left, right := Compose(Compose(first, then), last).Apply(p), Compose(first, Compose(then, last)).Apply(p)
		if size := math.Hypot(left.X, left.Y); size < 1e10 && !(distance(left, right) <= 1e-6*(1e6+size)) {
			t.Fatalf("%v or %v by how three are bracketed", left, right)
		}
	})
}

// TestParseMap: what Parameters returns comes back to the bit, for all kinds, chains and their inverses.
func TestParseMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMap(t)
		if rapid.Bool().Draw(t, "chain") {
			m = Compose(m, drawMap(t))
		}
		if rapid.Bool().Draw(t, "inverse") {
			var err error
			if m, err = m.Inverse(); err != nil {
				t.Skip(err)
			}
		}
		again, err := ParseMap(m.Kind(), m.Parameters())
		if err != nil {
			t.Fatalf("%s %v: %v", m.Kind(), m.Parameters(), err)
		}
		p := drawPlace(t)
		got, want := again.Apply(p), m.Apply(p)
		if again.Kind() != m.Kind() || !slices.Equal(again.Parameters(), m.Parameters()) || got != want && !math.IsNaN(want.X) {
			t.Fatalf("%s: %v and %v", m.Kind(), want, got)
		}
	})
}

// TestSplineFarAway: far from its points a spline is nearly affine, and its inverse still finds the way.
func TestSplineFarAway(t *testing.T) {
	f, err := FitPoints(Spline, referencePoints(t, "reg_distorted"), ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	back, err := f.Map.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []geom.Vec{{X: 1e5, Y: -1e5}, {X: -3e6, Y: 10}, {X: 2000, Y: 1500}} {
		if got := back.Apply(f.Map.Apply(p)); !(distance(got, p) <= 1e-9*(1e4+math.Hypot(p.X, p.Y))) {
			t.Errorf("%v comes back as %v", p, got)
		}
	}
	if got := back.Apply(noVec); !math.IsNaN(got.X) {
		t.Errorf("no place comes from %v", got)
	}
}

// TestStronglyBent: splines that bend by a tenth of the picture, so far as they do not fold, are undone everywhere within,
// also where whole Newton steps lead astray.
func TestStronglyBent(t *testing.T) {
	r := rand.New(rand.NewPCG(300, 1))
	tried := 0
	for range 200 {
		f, err := FitPoints(Spline, scattered(r, 12, camera(Affine), 300*100), ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		back, err := f.Map.Inverse()
		if err != nil {
			continue
		}
		tried++
		for range 100 {
			p := geom.Vec{X: 4000 * r.Float64(), Y: 3000 * r.Float64()}
			if got := back.Apply(f.Map.Apply(p)); !(distance(got, p) < 1e-6) {
				t.Errorf("%v comes back as %v", p, got)
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d splines without fold", tried)
	}
}

// TestFolds: a spline whose control points change places goes over some places twice. Its inverse says where, the fit
// itself does not fail, so that what is wrong can be seen.
func TestFolds(t *testing.T) {
	var points []Point
	for i := range 25 {
		p := geom.Vec{X: float64(i%5) * 1000, Y: float64(i/5) * 1000}
		points = append(points, Point{From: p, To: geom.Vec{X: 100 * p.X, Y: -100 * p.Y}})
	}
	points[11].To, points[13].To = points[13].To, points[11].To // so that point 13 between them is gone through backwards
	f, err := FitPoints(Spline, points, ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.Map.Inverse()
	if err == nil || !strings.Contains(err.Error(), "a spline that folds at control point 13, (2000, 2000), so that two places go to one") {
		t.Errorf("%v", err)
	}
	// Two neighbours exchanged: the fold lies between them, at no control point.
	points[11].To, points[12].To, points[13].To = points[12].To, points[13].To, points[11].To
	f, err = FitPoints(Spline, points, ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.Map.Inverse()
	var x, y float64
	if n, _ := fmt.Sscanf(fmt.Sprint(err), "a spline that folds near (%g, %g), so that", &x, &y); n != 2 || math.Hypot(x-1500, y-2000) > 1000 {
		t.Errorf("%v", err)
	}
	if _, err := Compose(Compose(Identity, f.Map), Identity).Inverse(); err == nil || !strings.Contains(err.Error(), "map 2 of 3 in a chain: a spline that folds") {
		t.Errorf("%v", err)
	}
	if _, err := ParseMap(inverseSpline, f.Map.Parameters()); err == nil {
		t.Error("the inverse of what folds was read")
	}
}

// TestHorizon: by hand, w = 1 − x/2 is 0 at x = 2.
func TestHorizon(t *testing.T) {
	m, err := ParseMap(Projective, []float64{1, 0, 0, 0, 1, 0, -0.5, 0, 1})
	if err != nil {
		t.Fatal(err)
	}
	if q := m.Apply(geom.Vec{X: 1, Y: 3}); q != (geom.Vec{X: 2, Y: 6}) {
		t.Errorf("%v, want (2, 6)", q)
	}
	if q := m.Apply(geom.Vec{X: 2, Y: 3}); finite(q.X) || finite(q.Y) {
		t.Errorf("%v on the horizon", q)
	}
	// A map whose horizon goes through (0, 0) has a last entry of 0, and an inverse all the same.
	m, err = ParseMap(Projective, []float64{0, 0, 1, 0, 1, 0, 1, 0, 0}) // x → 1/x, y → y/x: its own inverse
	if err != nil {
		t.Fatal(err)
	}
	back, err := m.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	if q := back.Apply(geom.Vec{X: 4, Y: 8}); q != (geom.Vec{X: 0.25, Y: 2}) {
		t.Errorf("%v, want (0.25, 2)", q)
	}
}

func TestParseMapRefuses(t *testing.T) {
	nan := math.NaN()
	affine := []float64{1, 0, 0, 0, 1, 0}
	for _, tc := range []struct {
		kind Kind
		p    []float64
		want string
	}{
		{"cubic", nil, `"cubic" is no kind of map: there are similarity, affine, projective and spline, and inverse spline and chain of these`},
		{Affine, affine[:5], "an affine map with 5 parameters: it has 6"},
		{Projective, affine, "a projective map with 6 parameters: it has 9"},
		{Affine, []float64{1, 0, 0, 0, nan, 0}, "parameter 5 of an affine map is NaN, no finite number"},
		{Similarity, []float64{1, 0.1, 0, 0, 1, 0}, "a similarity with the matrix 1 0.1 0 1, which changes angles: call it affine"},
		{Affine, []float64{1, 2, 0, 2, 4, 0}, "an affine map that takes all places to one line or point, or beyond all numbers: it has no inverse"},
		{Affine, []float64{1, 1, 0, 1, 1 + 1e-14, 0}, "an affine map that takes all places"},
		{Similarity, make([]float64, 6), "a similarity map that takes all places to one line or point"},
		{Projective, []float64{1e300, 0, 0, 0, 1e300, 0, 0, 0, 1e300}, "or beyond all numbers"},
		{Spline, affine, "a spline with 6 parameters: it has 6, and 4 for each of its 3 to 2000 control points"},
		{Spline, make([]float64, 18), "the affine part of a spline: an affine map that takes all places"},
		{inverseSpline, affine, "a spline with 6 parameters"},
		{chained, []float64{0}, "a chain whose parameter 1 is left over"},
		{chained, []float64{7, 0}, "a chain whose map 1 has the kind 7: kinds go from 0 to 4"},
		{chained, []float64{1, 1e18}, "a chain whose map 1 says 1e+18 parameters, where 0 are left"},
		{chained, append([]float64{1, 6}, affine...), "a chain of 1 maps: it has two or more"},
		{chained, append([]float64{2, 6}, affine...), "map 1 of a chain: a projective map with 6 parameters"},
	} {
		if m, err := ParseMap(tc.kind, tc.p); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s %v: %v, %v, want %q", tc.kind, tc.p, m, err, tc.want)
		}
	}
}

func TestKinds(t *testing.T) {
	for k, n := range map[Kind]int{Similarity: 2, Affine: 3, Projective: 4, Spline: 3} { // reference tables, section 6
		if got, err := ParseKind(string(k)); err != nil || got != k || k.Points() != n {
			t.Errorf("%s: %v, %v, %d points", k, got, err, k.Points())
		}
	}
	for _, s := range []string{"", "chain", "Affine"} {
		if _, err := ParseKind(s); err == nil || !strings.Contains(err.Error(), "is no kind of map: take similarity, affine, projective or spline") {
			t.Errorf("%q: %v", s, err)
		}
	}
}

// FuzzParseMap: whatever is read is kept as it is, goes through Apply, Jacobian and Inverse without a panic, and is read again.
func FuzzParseMap(f *testing.F) {
	f.Add("affine", packed(1, 0, 0, 0, 1, 0))
	f.Add("projective", packed(1, 0, 0, 0, 1, 0, 1e-5, 0, 1))
	f.Add("spline", packed(1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 0, 0, 1, 0, 1, 1, 1))
	f.Add("inverse spline", packed(1, 0, 0, 0, 1, 0, 0, 0, 1e-3, 0, 1, 0, 0, 1e-3, 0, 1, 1e-3, 0))
	f.Add("chain", packed(0, 6, 1, 0, 0, 0, 1, 0, 1, 6, 1, 0, 0, 0, 1, 0))
	f.Fuzz(func(t *testing.T, kind string, b []byte) {
		parameters := unpacked(b)
		m, err := ParseMap(Kind(kind), parameters)
		if err != nil {
			if m != nil {
				t.Fatal("a map and an error")
			}
			return
		}
		if m.Kind() != Kind(kind) || !slices.Equal(m.Parameters(), parameters) {
			t.Fatalf("%s %v became %s %v", kind, parameters, m.Kind(), m.Parameters())
		}
		p := geom.Vec{X: 12, Y: -3.5}
		q := m.Apply(p)
		m.Jacobian(p)
		back, err := m.Inverse()
		if err != nil {
			return
		}
		back.Apply(q)
		l, ok := m.(Linear)
		if !ok || slices.ContainsFunc(parameters, func(v float64) bool { return v != 0 && !(math.Abs(v) > 1e-9 && math.Abs(v) < 1e9) }) {
			return
		}
		// Of ordinary size and well conditioned: the way back can be kept.
		if det, terms := l.determinant(); math.Abs(det) > 1e-3*terms {
			if _, err := ParseMap(back.Kind(), back.Parameters()); err != nil {
				t.Fatalf("the inverse of %s %v: %v", kind, parameters, err)
			}
		}
	})
}

func packed(all ...float64) (b []byte) {
	for _, v := range all {
		bits := math.Float64bits(v)
		for i := range 8 {
			b = append(b, byte(bits>>(8*i)))
		}
	}
	return b
}

func unpacked(b []byte) (all []float64) {
	for ; len(b) >= 8; b = b[8:] {
		var bits uint64
		for i := range 8 {
			bits |= uint64(b[i]) << (8 * i)
		}
		all = append(all, math.Float64frombits(bits))
	}
	return all
}

// TestScaled: every place lies so many times as far from the origin; what can be fitted keeps its kind, and comes back
// from its parameters. By the definition.
func TestScaled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, factor := drawMap(t), rapid.Float64Range(1e-3, 1e3).Draw(t, "factor")
		scaled := Scaled(m, factor)
		if scaled.Kind() != m.Kind() && m.Kind().Points() > 0 {
			t.Fatalf("%s from %s", scaled.Kind(), m.Kind())
		}
		again, err := ParseMap(scaled.Kind(), scaled.Parameters())
		if err != nil {
			t.Fatal(err)
		}
		p := geom.Vec{X: rapid.Float64Range(0, 4000).Draw(t, "x"), Y: rapid.Float64Range(0, 3000).Draw(t, "y")}
		want, got := m.Apply(p).Scale(factor), again.Apply(p)
		if d := math.Hypot(got.X-want.X, got.Y-want.Y); d > 1e-9*(factor*1e6+math.Hypot(want.X, want.Y)) {
			t.Fatalf("%v, want %v", got, want)
		}
	})
}
