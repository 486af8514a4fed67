package shot

import (
	"math"
	"strings"
	"testing"
)

// TestOptics: Rayleigh's distance and the coarsest pixel as computed from the Airy pattern and the cut-off elsewhere
// (M. Born, E. Wolf, Principles of Optics; table of λ, NA, 0.61 λ/NA, λ/4NA in µm).
func TestOptics(t *testing.T) {
	for _, tc := range [][4]float64{
		{0.55, 0.25, 1.3420, 0.5500}, {0.55, 0.40, 0.8387, 0.3438}, {0.55, 0.55, 0.6100, 0.2500}, {0.55, 0.75, 0.4473, 0.1833},
		{0.55, 0.90, 0.3728, 0.1528}, {0.55, 0.95, 0.3532, 0.1447}, {0.405, 0.90, 0.2745, 0.1125},
	} {
		// The table rounds 3.8317/2π to 0.61.
		if got := Resolution(tc[1], tc[0]*1000) / 1000; math.Abs(got-tc[2]) > 4e-4*tc[2]+5e-5 {
			t.Errorf("λ %g µm, NA %g: resolves %.4f µm, want %.4f", tc[0], tc[1], got, tc[2])
		}
		if got := CoarsestPixel(tc[1], tc[0]*1000) / 1000; math.Abs(got-tc[3]) > 5e-5+1e-9 {
			t.Errorf("λ %g µm, NA %g: pixel %.4f µm, want %.4f", tc[0], tc[1], got, tc[3])
		}
	}
}

// TestScales: by hand, with the law of propagation of uncertainty (JCGM 100:2008, 5.1.2).
func TestScales(t *testing.T) {
	s, err := FromPoints(100, 50, 400, 450, 50000, 50, 1) // 500 px are 50 µm
	near(t, "scale", s.NmPerPx, 100, 1e-12)
	// (50/50000)² + 2·(1/500)² = 1e-6 + 8e-6
	near(t, "σ", s.Sigma, 100*math.Sqrt(9e-6), 1e-12)
	if err != nil || s.How == "" {
		t.Error(err)
	}
	nm, sigma := s.Length(20, 0.5)
	near(t, "length", nm, 2000, 1e-9)
	near(t, "its σ", sigma, math.Hypot(50, 20*0.3), 1e-9)

	s, err = FromPitch(0, 0, 0, 1200, 12, 10000, 5, 0)
	near(t, "scale by pitch", s.NmPerPx, 100, 1e-12)
	near(t, "its σ", s.Sigma, 100*5/10000.0, 1e-12) // twelve periods: twelve times the pitch's uncertainty on twelve times the length
	if err != nil || !strings.Contains(s.How, "12 periods of 10 µm") {
		t.Error(s.How, err)
	}
	s, err = Ruling{Period: 80, Sigma: 0.04, Lines: 20}.Scale(10000, 10)
	near(t, "scale by ruling", s.NmPerPx, 125, 1e-12)
	near(t, "its σ", s.Sigma, 125*math.Hypot(0.001, 0.0005), 1e-12)
	if err != nil {
		t.Error(err)
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.15g, want %.15g", what, got, want)
	}
}

// TestScalesRefused: what measures nothing is an error that says what to give.
func TestScalesRefused(t *testing.T) {
	for want, f := range map[string]func() (Scale, error){
		"two points lie 1 px apart":    func() (Scale, error) { return FromPoints(0, 0, 1, 0, 1000, 0, 1) },
		"a distance of -1 µm":          func() (Scale, error) { return FromPoints(0, 0, 100, 0, -1000, 0, 1) },
		"no uncertainty":               func() (Scale, error) { return FromPoints(0, 0, 100, 0, 1000, 0, 0) },
		"more than a third":            func() (Scale, error) { return FromPoints(0, 0, 3, 0, 1000, 0, 1) },
		"0 periods":                    func() (Scale, error) { return FromPitch(0, 0, 100, 0, 0, 1000, 0, 1) },
		"1e+09 µm a pixel":             func() (Scale, error) { return Typed(1e12, 1) },
		"NaN µm a pixel":               func() (Scale, error) { return Typed(math.NaN(), 1) },
		"a pitch of 0 µm":              func() (Scale, error) { return Ruling{Period: 10, Sigma: 1, Lines: 9}.Scale(0, 0) },
		"two points lie NaN px apart":  func() (Scale, error) { return FromPoints(math.NaN(), 0, 1, 0, 1000, 0, 1) },
		"a third of the scale, which":  func() (Scale, error) { return Typed(100, 50) },
		"state how far the scale may ": func() (Scale, error) { return Typed(100, math.NaN()) },
	} {
		if s, err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v, %v, want %q", s, err, want)
		}
	}
}

// TestUncertain: the digits that the uncertainty leaves, which has two (JCGM 100:2008, 7.2.6).
func TestUncertain(t *testing.T) {
	for want, v := range map[string][2]float64{"0.25040 ± 0.00031": {0.2504, 0.00031}, "12.35 ± 0.12": {12.3456, 0.123}, "1234 ± 99": {1234.4, 99}, "5": {5, 0}, "0.100 ± 0.010": {0.1, 0.01}} {
		if got := Uncertain(v[0], v[1]); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
