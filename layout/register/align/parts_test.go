package align

import (
	"math"
	"testing"

	"undermetal/layout/geom"
)

// TestShared: classes that always lie on each other tell all of each other, which is the entropy of either (here ln 2 nats
// each, of which there are 32); classes that have nothing to do with each other tell nothing.
func TestShared(t *testing.T) {
	a, same, other := classed(func(x, y int) uint8 { return uint8(x % 2) }), classed(func(x, y int) uint8 { return uint8(1 - x%2) }), classed(func(x, y int) uint8 { return uint8(y % 2) })
	for want, b := range map[float64]*window{32 * math.Ln2: same, 0: other} {
		if got := count([]*window{a}, []*window{b}, 0, 0, 1).shared(); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v, want %v", got, want)
		}
	}
	// 16 of each pair that there is, of 8 by chance; 5 more on either side.
	table := learn([]*window{a}, []*window{same})
	for _, tc := range []struct {
		i, j int
		want float64
	}{{0, 1, math.Log(21.0 / 13)}, {1, 0, math.Log(21.0 / 13)}, {0, 0, math.Log(5.0 / 13)}, {2, 3, 0}} {
		if got := float64(table[tc.i][tc.j]); math.Abs(got-tc.want) > 1e-6 {
			t.Errorf("classes %d and %d: %v, want %v", tc.i, tc.j, got, tc.want)
		}
	}
}

// classed is a window of 4 × 8 pixels with given classes.
func classed(class func(x, y int) uint8) *window {
	w := &window{w: 4, h: 8}
	for i := range w.w * w.h {
		w.classes = append(w.classes, class(i%w.w, i/w.w))
	}
	return w
}

// TestSettle: surfaces whose tops lie where an affine map takes their places lead to that map.
func TestSettle(t *testing.T) {
	truth := matrix{{1.004, -0.003, 0.9}, {0.005, 0.997, -1.6}, {0, 0, 1}}
	var all []surface
	for i := range 100 {
		s := surface{x: 20 + 30*float64(i%10), y: 20 + 30*float64(i/10), reach: 6}
		x, y := truth.at(s.x, s.y)
		for k := range 169 { // a parabola: cubic interpolation gives it back
			dx, dy := float64(k%13-6)-(x-s.x), float64(k/13-6)-(y-s.y)
			s.v = append(s.v, float32(40-dx*dx-dy*dy))
		}
		all = append(all, s)
	}
	c, values := settle(all, 1, matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 6, false)
	inverse := truth.inverse()
	for _, at := range []geom.Vec{{}, {X: 300}, {X: 300, Y: 300}} {
		x, y := c.m.at(at.X, at.Y)
		if wx, wy := inverse.at(at.X, at.Y); math.Hypot(x-wx, y-wy) > 0.02 {
			t.Errorf("%v goes to (%v, %v), not (%v, %v)", at, x, y, wx, wy)
		}
	}
	for _, v := range values {
		if math.Abs(v-40) > 0.01 {
			t.Errorf("a surface says %v where its top is 40", v)
		}
	}
}

// TestLead: a mean of 2 with a standard deviation of 2 over 4 patches is 2 standard errors; what only one map shows is
// compared with nothing.
func TestLead(t *testing.T) {
	own := map[place]float64{{0, 0}: 5, {1, 0}: 1, {2, 0}: 4}
	other := map[place]float64{{0, 0}: 1, {1, 0}: 1, {3, 0}: -0}
	if got := lead(own, other); math.Abs(got-2) > 1e-9 {
		t.Error(got)
	}
	if got := lead(nil, nil); !math.IsInf(got, -1) {
		t.Error(got)
	}
}

// TestTransform: the transform of one sample is a wave of length 1, and back it is n² times as large.
func TestTransform(t *testing.T) {
	const n = 12
	f := newTransform(n)
	v := make([]complex128, n*n)
	v[2*n+3] = 1
	f.forward(v)
	for i, c := range v {
		a := -2 * math.Pi * float64(3*(i%n)+2*(i/n)) / n
		if math.Hypot(real(c)-math.Cos(a), imag(c)-math.Sin(a)) > 1e-12 {
			t.Fatal(i, c)
		}
	}
	f.back(v)
	if math.Abs(real(v[2*n+3])-n*n) > 1e-9 {
		t.Error(v[2*n+3])
	}
}

// TestLengths: 5-smooth numbers (H. S. Warren or any table of regular numbers: 1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 15, …).
func TestLengths(t *testing.T) {
	for n, want := range map[int]int{7: 8, 8: 8, 11: 12, 13: 15, 257: 270, 601: 625} {
		if got := length(n); got != want {
			t.Errorf("%d: %d, want %d", n, got, want)
		}
	}
}

// TestMarks: two marks leave both sides open, three that lie apart only one.
func TestMarks(t *testing.T) {
	two := []Mark{{geom.Vec{X: 10, Y: 10}, geom.Vec{X: 20, Y: 30}}, {geom.Vec{X: 400, Y: 10}, geom.Vec{X: 800, Y: 30}}}
	three := append(two[:2:2], Mark{geom.Vec{X: 10, Y: 400}, geom.Vec{X: 20, Y: 810}})
	for want, marks := range map[int][]Mark{2: two, 1: three} {
		s := &space{}
		if err := s.near(marks, 80, []float64{0}, []float64{0}); err != nil || len(s.ways) != want {
			t.Errorf("%d marks: %d ways, want %d, %v", len(marks), len(s.ways), want, err)
		}
		low, high := s.scales[0], s.scales[len(s.scales)-1]
		if !(low < 1.95 && high > 2.05) {
			t.Errorf("%d marks at a scale of 2: %v to %v", len(marks), low, high)
		}
	}
}
