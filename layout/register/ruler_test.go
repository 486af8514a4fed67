package register

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// TestRulerByHand: 300 by 400 px at 100 nm a pixel are 50 µm. Marks of 0.5 px: √2·0.5·100 = 70.7 nm; a scale good to 1 in
// 1000: 50 nm; together √(5000 + 2500) = 86.6 nm (JCGM 100:2008, 5.1.2).
func TestRulerByHand(t *testing.T) {
	r := Calibrated(shot.Scale{NmPerPx: 100, Sigma: 0.1}, 0.5)
	a, b := geom.Vec{X: 10, Y: 20}, geom.Vec{X: 310, Y: 420}
	l, err := r.Length(a, b)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "length", l.Nm, 50000, 1e-9)
	within(t, "marks", l.SigmaMarks, math.Sqrt(5000), 1e-9)
	within(t, "scale", l.SigmaScale, 50, 1e-9)
	within(t, "σ", l.Sigma(), math.Sqrt(7500), 1e-9)
	if got := l.String(); got != "50.000 ± 0.087 µm" {
		t.Errorf("%q", got)
	}
	// Twenty-five periods: all of it divided by 25.
	p, err := r.Pitch(a, b, 25)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "pitch", p.Nm, 2000, 1e-9)
	within(t, "σ", p.Sigma(), math.Sqrt(7500)/25, 1e-9)
	within(t, "scale's part", p.SigmaScale/p.Nm, 0.001, 1e-15)
	// The same as the scale by itself says, whose pixel length has √2 times the uncertainty of a mark.
	nm, sigma := shot.Scale{NmPerPx: 100, Sigma: 0.1}.Length(500, 0.5*math.Sqrt2)
	within(t, "by the scale", l.Nm, nm, 1e-9)
	within(t, "by the scale, σ", l.Sigma(), sigma, 1e-9)
}

// TestRulerAffine: by hand. X = 3x + 4y, Y = 5y. From (0, 0) to (3, 0) px are 9 nm along X, where marks err by
// |(3, 4)|·σ = 5σ each. To (−1, 2) px are (5, 10) nm: e = (1, 2)/√5 and Jᵀe = (3, 14)/√5, so by √41·σ each.
func TestRulerAffine(t *testing.T) {
	m, err := ParseMap(Affine, []float64{3, 4, 7, 0, 5, -2})
	if err != nil {
		t.Fatal(err)
	}
	r := Ruler{Map: m, SigmaPx: 2}
	for _, tc := range []struct{ x, y, length, sigma float64 }{{3, 0, 9, 2 * 5 * math.Sqrt2}, {-1, 2, math.Sqrt(125), 2 * math.Sqrt(2*41)}} {
		l, err := r.Length(geom.Vec{}, geom.Vec{X: tc.x, Y: tc.y})
		if err != nil {
			t.Fatal(err)
		}
		within(t, "length", l.Nm, tc.length, 1e-12)
		within(t, "σ", l.Sigma(), tc.sigma, 1e-12)
	}
}

// TestRulerMonteCarlo: marks that are moved about at random, through a projective map and a spline, scatter as the first
// order says (JCGM 101:2008). The standard deviation of 40000 draws is good to 0.35 %; 1.5 % is four times that.
func TestRulerMonteCarlo(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 1))
	fit, err := FitPoints(Spline, scattered(rnd, 16, camera(Projective), 200), ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	tilted := camera(Projective)
	tilted.m[2][0] = 1e-4 // so that the two ends differ by a third
	for _, m := range []Map{tilted, fit.Map} {
		r := Ruler{Map: m, SigmaPx: 0.7, SigmaScale: 0.0002}
		a, b := geom.Vec{X: 200, Y: 300}, geom.Vec{X: 3600, Y: 1700}
		l, err := r.Length(a, b)
		if err != nil {
			t.Fatal(err)
		}
		const draws = 40000
		var sum, sum2 float64
		for range draws {
			shake := func(p geom.Vec) geom.Vec {
				return m.Apply(geom.Vec{X: p.X + 0.7*rnd.NormFloat64(), Y: p.Y + 0.7*rnd.NormFloat64()})
			}
			d := distance(shake(a), shake(b))*(1+0.0002*rnd.NormFloat64()) - l.Nm
			sum, sum2 = sum+d, sum2+d*d
		}
		sd := math.Sqrt(sum2/draws - sum*sum/draws/draws)
		within(t, string(m.Kind())+" σ", sd/l.Sigma(), 1, 0.015)
		within(t, string(m.Kind())+" mean, in σ", sum/draws/l.Sigma(), 0, 0.02)
	}
}

func TestRulerRefuses(t *testing.T) {
	r := Ruler{Map: Identity, SigmaPx: 1}
	horizon := Ruler{Map: Linear{Projective, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {-0.5, 0, 1}}}}
	a, b := geom.Vec{X: 1}, geom.Vec{X: 2}
	for want, f := range map[string]func() (Length, error){
		"two marks at the same place have no direction and no length: set the second one elsewhere": func() (Length, error) { return r.Length(a, a) },
		"uncertainties of -1 px and 0 of the scale: give standard deviations, 0 or more":            func() (Length, error) { return Ruler{Map: Identity, SigmaPx: -1}.Length(a, b) },
		"uncertainties of 0 px and NaN of the scale":                                                func() (Length, error) { return Ruler{Map: Identity, SigmaScale: math.NaN()}.Length(a, b) },
		"a mark at (1, 0) or (2, 0) that the map takes nowhere":                                     func() (Length, error) { return horizon.Length(a, b) },
		"0 periods: count those between the two marks, at least 1":                                  func() (Length, error) { return r.Pitch(a, b, 0) },
	} {
		if l, err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, %v, want %q", l, err, want)
		}
	}
}

// TestRulerSides: by hand. With w = 1 − x/2 the horizon is at x = 2: marks at 1 and 3 lie on two sides of it, 3 and 4 on
// one, where X = x/w goes from −6 to −4. The spline lies flat but for a point that is pulled over its neighbours, so that
// between (0, 0) and (20, 0) it runs backward at the point.
func TestRulerSides(t *testing.T) {
	horizon := Linear{Projective, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {-0.5, 0, 1}}}
	at := func(x float64) geom.Vec { return geom.Vec{X: x} }
	if l, err := (Ruler{Map: horizon}).Length(at(3), at(4)); err != nil || math.Abs(l.Nm-2) > 1e-12 {
		t.Error(l, err)
	}
	var points []Point
	for x := -2.0; x <= 2; x++ {
		for y := -2.0; y <= 2; y++ {
			p := geom.Vec{X: 10 * x, Y: 10 * y}
			points = append(points, Point{From: p, To: p})
		}
	}
	points = append(points, Point{From: at(1), To: at(-5)}, Point{From: at(-1), To: at(5)})
	fold, err := FitPoints(Spline, points, ToShot)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range points[:25] {
		points[i].To = geom.Vec{X: p.From.X + 10, Y: p.From.Y}
	}
	moved, err := FitPoints(Spline, points[:25], ToShot)
	if err != nil {
		t.Fatal(err)
	}
	later := Compose(moved.Map, horizon) // the horizon is at x = −8
	if _, err := (Ruler{Map: later}).Length(at(1), at(3)); err != nil {
		t.Error(err)
	}
	for _, tc := range []struct {
		m    Map
		a, b float64
		want string
	}{
		{horizon, 1, 3, "marks on two sides of its horizon, (1, 0) and (3, 0), in the projective map: no length leads from one to the other; set both on one side, or register the photograph anew, with points near both"},
		{Compose(fold.Map, horizon), 4, 0.5, "a fold"},
		{later, -9, -7, "marks on two sides of its horizon, (1, 0) and (3, 0)"},
		{fold.Map, 0, 20, "marks on two sides of a fold, (0, 0) and (20, 0), in the spline map"},
	} {
		if l, err := (Ruler{Map: tc.m}).Length(at(tc.a), at(tc.b)); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("from %g to %g: %v, %v, want %q", tc.a, tc.b, l, err, tc.want)
		}
	}
	if _, err := (Ruler{Map: fold.Map}).Length(at(20), at(15)); err != nil {
		t.Error(err)
	}
}
