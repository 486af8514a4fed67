package align

import (
	"math"
	"math/rand/v2"
	"testing"
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
	// For the first window, the other three have 48 of each pair that there is, of 24 by chance; 5 more on either side. It
	// has pairs of its own, which count for the others only: 32 of 128, 16 by chance of each of its classes alone.
	odd := classed(func(x, y int) uint8 { return 2 })
	tables := learn([]*window{odd, a, a, a}, []*window{odd, same, same, same})
	for _, tc := range []struct {
		fold, i, j int
		want       float64
	}{{0, 0, 1, math.Log(53.0 / 29)}, {0, 1, 0, math.Log(53.0 / 29)}, {0, 0, 0, math.Log(5.0 / 29)}, {0, 2, 2, 0}, {0, 2, 3, 0}, {3, 2, 2, math.Log(37 / (32.0*32/96 + 5))}, {3, 0, 1, math.Log(37 / (32.0*32/96 + 5))}} {
		if got := float64(tables[tc.fold][tc.i][tc.j]); math.Abs(got-tc.want) > 1e-6 {
			t.Errorf("for part %d, classes %d and %d: %v, want %v", tc.fold, tc.i, tc.j, got, tc.want)
		}
	}
}

// TestSurfaceOf: a surface is the sum of what the table says of the classes that lie on each other, less the mean of all sums;
// its rows are the classes of b, for what is learnt, too.
func TestSurfaceOf(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 1))
	said := &table{}
	for i := range said {
		for j := range said[i] {
			said[i][j] = float32(rnd.NormFloat64())
		}
	}
	random := func(side int) *window {
		w := &window{x: 100, y: 200, w: side, h: side}
		for range side * side {
			w.classes = append(w.classes, uint8(rnd.IntN(allClasses)))
		}
		return w
	}
	for _, reach := range []int{3, 4, 6, 8} {
		b := random(10)
		a := random(10 + 2*reach)
		s := said.surfaceOf(a, b)
		n := 2*reach + 1
		want, mean := make([]float64, n*n), 0.0
		for k := range want {
			for i, c := range b.classes {
				want[k] += float64(said[c][a.classes[(i/10+k/n)*a.w+i%10+k%n]])
			}
			mean += want[k] / float64(n*n)
		}
		if s.x != 105 || s.y != 205 || s.reach != reach || len(s.v) != n*n {
			t.Fatalf("%v, %v, %d, %d", s.x, s.y, s.reach, len(s.v))
		}
		for k, v := range s.v {
			if math.Abs(float64(v)-(want[k]-mean)) > 1e-3 {
				t.Fatalf("reach %d, step %d: %v, want %v", reach, k, v, want[k]-mean)
			}
		}
	}
	a, b := classed(func(x, y int) uint8 { return uint8(x % 2) }), classed(func(x, y int) uint8 { return uint8(2 + x%2) })
	learnt := learn([]*window{a, a, a, a}, []*window{b, b, b, b})[0]
	if got, want := float64(learnt[2][0]), math.Log(53.0/29); math.Abs(got-want) > 1e-6 || learnt[0][2] != 0 {
		t.Errorf("%v, want %v; the other way round %v", got, want, learnt[0][2])
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

// TestWays: a way is the axis that the number of twice the angle is nearest to; none is 0.
func TestWays(t *testing.T) {
	for degree := range 360 {
		want := []uint8{0, 2, 1, 3}[(degree+45)%360/90] // from the diagonal before it to the one after it
		sin, cos := math.Sincos(float64(degree) * math.Pi / 180)
		if got := wayOf(float32(3*cos), float32(3*sin)); degree%90 != 45 && got != want {
			t.Errorf("%d degrees: way %d, want %d", degree, got, want)
		}
	}
	if got := wayOf(0, 0); got != 0 {
		t.Error(got)
	}
}
