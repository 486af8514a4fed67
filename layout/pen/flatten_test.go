package pen

import (
	"errors"
	"math"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// A circle of radius r cut into n chords has a sagitta of r(1 - cos(π/n)): at most 1 at r = 1000 needs n ≥ 71, at most
// 5 at r = 10000 needs 100 (derivable by hand). Halving quarters makes 128 of both, and not 256.
func TestFlattenCircle(t *testing.T) {
	for _, tc := range []struct {
		r, tol float64
		least  int
	}{{1000, 1, 71}, {10000, 5, 100}, {1e9, 1, 70248}} {
		f := Flattener{Place: UmPerUnit(0.001, geom.Vec{}), Tolerance: tc.tol}
		if err := f.Move(geom.Vec{X: tc.r}); err != nil {
			t.Fatal(err)
		}
		err := f.Curve(4, func(t float64) geom.Vec {
			s, c := math.Sincos(2 * math.Pi * t)
			return geom.Vec{X: tc.r * c, Y: tc.r * s}
		}, geom.Vec{X: tc.r})
		if err != nil {
			t.Fatal(err)
		}
		n := len(f.Points) - 1
		if n < tc.least || n >= 2*tc.least {
			t.Errorf("r=%g: %d chords, want %d to %d", tc.r, n, tc.least, 2*tc.least-1)
		}
		for i, p := range f.Points[1:] {
			q := f.Points[i]
			mid := math.Hypot(float64(p.X+q.X)/2, float64(p.Y+q.Y)/2)
			if off := math.Abs(mid - tc.r); off > tc.tol+0.71 {
				t.Errorf("r=%g: chord %d is %g nm from the circle", tc.r, i, off)
			}
		}
	}
}

// A straight edge stays one where the map is affine or projective, and is bent where the map bends it.
func TestFlattenLine(t *testing.T) {
	from, to := geom.Vec{X: 3, Y: 4}, geom.Vec{X: 900, Y: 400}
	for _, tc := range []struct {
		name  string
		place Place
		bent  bool
	}{
		{"scale", UmPerUnit(0.0123, geom.Vec{X: 1}), false},
		{"projective", func(p geom.Vec) geom.Vec {
			w := 1 + p.X/5000 + p.Y/9000
			return geom.Vec{X: (100*p.X + 7*p.Y) / w, Y: (90*p.Y - 3*p.X) / w}
		}, false},
		{"bent", func(p geom.Vec) geom.Vec { return geom.Vec{X: 100 * p.X, Y: 100*p.Y + 0.001*p.X*p.X} }, true},
	} {
		f := Flattener{Place: tc.place}
		if err := f.Move(from); err != nil {
			t.Fatal(err)
		}
		if err := f.Line(from, to); err != nil {
			t.Fatal(err)
		}
		if bent := len(f.Points) > 2; bent != tc.bent {
			t.Errorf("%s: %d points", tc.name, len(f.Points))
		}
		if f.Points[0] != tc.place(from).Round() || f.Points[len(f.Points)-1] != tc.place(to).Round() {
			t.Errorf("%s: from %v to %v", tc.name, f.Points[0], f.Points[len(f.Points)-1])
		}
	}
}

func TestFlattenOutside(t *testing.T) {
	for _, tc := range []struct {
		place Place
		want  string
	}{
		{UmPerUnit(1, geom.Vec{}), "(2e+06, 0) comes to (2e+06, 0) µm, outside the frame of ±1073741.824 µm"},
		{func(geom.Vec) geom.Vec { return geom.Vec{X: math.NaN()} }, "(2e+06, 0) is no place of the frame by the map that was given"},
	} {
		f := Flattener{Place: tc.place}
		err := f.Move(geom.Vec{X: 2e6})
		var e *PlaceError
		if !errors.As(err, &e) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%v, want %q", err, tc.want)
		}
	}
}

// The scale of a map at a place, by hand: 100 nm times 50 nm a unit.
func TestSize(t *testing.T) {
	place := Place(func(p geom.Vec) geom.Vec { return geom.Vec{X: 100 * p.X, Y: 7*p.X - 50*p.Y} })
	if s := place.Size(geom.Vec{X: 3, Y: 9}); math.Abs(s-math.Sqrt(5000)) > 1e-9 {
		t.Errorf("%g nm a unit, want √5000", s)
	}
}

// Discs at bends: three sides of a square of 1000 with a pen of 200. By hand the union of three rectangles and two
// quarter discs beyond the corners; flush ends.
func TestRoundBends(t *testing.T) {
	s := Stroke{Line: []geom.Point{{}, {X: 1000}, {X: 1000, Y: 1000}, {Y: 1000}}, Width: 200, RoundBends: true}
	pg, _ := new(Stroker).Outline(s, nil)
	for _, tc := range []struct {
		at   geom.Point
		want geom.Location
	}{
		{geom.Point{X: 1070, Y: -70}, geom.Inside}, // 99 from the bend
		{geom.Point{X: 1073, Y: -73}, geom.Outside},
		{geom.Point{X: 1098, Y: 500}, geom.Inside},
		{geom.Point{X: 500, Y: 101}, geom.Outside},
		{geom.Point{X: 950, Y: 50}, geom.Inside},
		{geom.Point{X: -1}, geom.Outside},
	} {
		if got := pg.Locate(tc.at); got != tc.want {
			t.Errorf("%v: %v, want %v", tc.at, got, tc.want)
		}
	}
}

// A place that may not be drawn at is refused before it is placed, with the reason.
func TestFlattenWithin(t *testing.T) {
	reason := errors.New("that is beside the photograph")
	f := Flattener{Place: UmPerUnit(1, geom.Vec{}), Within: func(p geom.Vec) error {
		if p.X > 5 {
			return reason
		}
		return nil
	}}
	if err := f.Move(geom.Vec{X: 5}); err != nil {
		t.Error(err)
	}
	var e *PlaceError
	if err := f.Line(geom.Vec{X: 5}, geom.Vec{X: 6}); !errors.As(err, &e) || !errors.Is(err, reason) || err.Error() != reason.Error() || e.At.X != 6 {
		t.Errorf("%v", err)
	}
}
