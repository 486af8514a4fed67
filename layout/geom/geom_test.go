package geom

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

const m = Limit

func ring(xy ...int) Ring {
	var r Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, Point{xy[i], xy[i+1]})
	}
	return r
}

// TestArea: signed areas and perimeters by exact rational arithmetic, checked against a general-purpose geometry
// library where that calls the ring valid (reference table 1.1 of the project).
func TestArea(t *testing.T) {
	for _, tc := range []struct {
		name      string
		ring      Ring
		area      float64
		perimeter float64 // 0: not given
		simple    bool
	}{
		{"right triangle", ring(0, 0, 4, 0, 0, 3), 6, 12, true},
		{"L", ring(0, 0, 40, 0, 40, 10, 10, 10, 10, 40, 0, 40), 700, 160, true},
		{"parallelogram", ring(0, 0, 10, 3, 14, 12, 4, 9), 78, 40.578328621, true},
		{"octagon", ring(30, 0, 70, 0, 100, 30, 100, 70, 70, 100, 30, 100, 0, 70, 0, 30), 8200, 329.705627485, true},
		{"concave arrow", ring(0, 0, 100, 50, 0, 100, 30, 50), 3500, 340.225835647, true},
		{"irregular", ring(13, 7, 91, -22, 160, 35, 148, 120, 77, 83, 60, 151, -12, 96), 35733. / 2, 591.761449126, true},
		{"keyhole", ring(0, 0, 100, 0, 100, 100, 0, 100, 0, 0, 30, 30, 30, 70, 70, 70, 70, 30, 30, 30), 8400, 644.852813742, false},
		{"bow-tie, equal", ring(0, 0, 10, 10, 10, 0, 0, 10), 0, 48.284271247, false},
		{"bow-tie, unequal", ring(0, 0, 40, 30, 40, 0, 0, 10), -400, 0, false},
		{"touches itself", ring(0, 0, 10, 0, 10, 10, 20, 10, 20, 20, 10, 20, 10, 10, 0, 10), 200, 80, false},
		{"pentagram", ring(0, 95, 59, -81, -95, 31, 95, 31, -59, -81), -14416, 942.093110266, false},
		{"wound twice", ring(0, 0, 10, 0, 10, 10, 0, 10, 0, 0, 10, 0, 10, 10, 0, 10), 200, 80, false},
		{"spike", ring(0, 0, 10, 0, 10, 10, 5, 10, 5, 20, 5, 10, 0, 10), 100, 60, false},
		{"sliver", ring(0, 0, 1e9, 1, 1e9, 2), 5e8, 0, true},
		{"whole frame", ring(-m, -m, m, -m, m, m, -m, m), 1 << 62, 1 << 33, true},
		{"whole frame, clockwise", ring(-m, -m, -m, m, m, m, m, -m), -(1 << 62), 1 << 33, true},
	} {
		if got := tc.ring.Area(); got != tc.area {
			t.Errorf("%s: area %v, want %v", tc.name, got, tc.area)
		}
		if got := tc.ring.Perimeter(); tc.perimeter != 0 && math.Abs(got-tc.perimeter) > 1e-8*max(1, tc.perimeter/1e3) {
			t.Errorf("%s: perimeter %v, want %v", tc.name, got, tc.perimeter)
		}
		if got := tc.ring.Simple(); got != tc.simple {
			t.Errorf("%s: simple %t, want %t", tc.name, got, tc.simple)
		}
		sense := 0
		if tc.area != 0 {
			sense = int(math.Copysign(1, tc.area))
		}
		if got := tc.ring.Sense(); got != sense {
			t.Errorf("%s: sense %d, want %d", tc.name, got, sense)
		}
	}
}

// TestSide: signs in exact integers; in the bold rows of the reference table 1.3 the same expression in float64 is 0.
func TestSide(t *testing.T) {
	for _, tc := range []struct {
		a, b, c Point
		want    int
	}{
		{Point{-m, -m}, Point{m, m}, Point{0, 0}, 0},
		{Point{-m, -m}, Point{m, m}, Point{1, 0}, -1},
		{Point{-m, -m}, Point{m, -m}, Point{m, m}, 1},
		{Point{-m, m}, Point{m, -m}, Point{-m, -m}, -1},
		{Point{-m, m}, Point{m, -m}, Point{m, m}, 1},
		{Point{-m, -m}, Point{m, m - 1}, Point{0, 0}, 1},
		{Point{-m, -m}, Point{m, m - 1}, Point{m - 1, m - 2}, -1},
		{Point{0, 0}, Point{m, m - 1}, Point{m - 1, m - 2}, -1},
		{Point{0, 0}, Point{m - 1, m - 2}, Point{m, m - 1}, 1},
		{Point{0, 0}, Point{m, m - 1}, Point{-m, -m + 1}, 0},
		{Point{-m, -m}, Point{3, 2}, Point{m, m - 1}, 1},
		{Point{23386169, 466156476}, Point{-949165329, 926092251}, Point{386570506, 294400564}, 1},
		{Point{-2874535, -1017416807}, Point{-142894430, 679253612}, Point{-47986193, -470782947}, 1},
		{Point{-293480851, -228152773}, Point{572190551, 209546736}, Point{591723300, 219422856}, -1},
		{Point{477557130, 708268945}, Point{-360966016, -447956892}, Point{55778226, 126684920}, 1},
	} {
		if got := Side(tc.a, tc.b, tc.c); got != tc.want {
			t.Errorf("Side(%v, %v, %v) = %d, want %d", tc.a, tc.b, tc.c, got, tc.want)
		}
	}
}

// TestSegments: reference table 1.4. Crossing rounds the exact point, halves up.
func TestSegments(t *testing.T) {
	p := func(x, y int) Point { return Point{x, y} }
	for _, tc := range []struct {
		a, b, c, d Point
		meet       bool
		cross      *Point
	}{
		{p(0, 0), p(10, 10), p(0, 10), p(10, 0), true, &Point{5, 5}},
		{p(0, 0), p(3, 1), p(0, 1), p(3, 0), true, &Point{2, 1}},  // (3/2, 1/2)
		{p(0, 0), p(7, 3), p(2, 5), p(4, -6), true, &Point{3, 1}}, // (224/83, 96/83)
		{p(0, 0), p(10, 0), p(10, 0), p(20, 5), true, nil},
		{p(0, 0), p(10, 0), p(5, 0), p(5, 8), true, nil},
		{p(0, 0), p(10, 0), p(4, 0), p(16, 0), true, nil},
		{p(0, 0), p(10, 0), p(10, 0), p(16, 0), true, nil},
		{p(0, 0), p(10, 0), p(11, 0), p(16, 0), false, nil},
		{p(0, 0), p(10, 5), p(0, 1), p(10, 6), false, nil},
		{p(0, 0), p(10, 5), p(4, 2), p(6, 3), true, nil},
		{p(0, 0), p(10, 5), p(5, 3), p(9, 9), false, nil},
		{p(-m, -m), p(m, m), p(-m, -m+1), p(m, m-1), true, &Point{0, 0}},
	} {
		if got := SegmentsMeet(tc.a, tc.b, tc.c, tc.d); got != tc.meet {
			t.Errorf("%v: meet %t, want %t", tc, got, tc.meet)
		}
		got, ok := Crossing(tc.a, tc.b, tc.c, tc.d)
		if ok != (tc.cross != nil) || ok && got != *tc.cross {
			t.Errorf("%v: crossing %v %t, want %v", tc, got, ok, tc.cross)
		}
	}
}

// TestCrossingExact holds Crossing against rational arithmetic of the standard library over the whole frame.
func TestCrossingExact(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	at := func(r int) Point { return Point{rnd.IntN(2*r+1) - r, rnd.IntN(2*r+1) - r} }
	crossings := 0
	for range 20000 {
		r := []int{5, 1000, m}[rnd.IntN(3)]
		a, b, c, d := at(r), at(r), at(r), at(r)
		got, ok := Crossing(a, b, c, d)
		want, exact := ratCrossing(a, b, c, d)
		if ok != exact || ok && got != want {
			t.Fatalf("Crossing(%v %v %v %v) = %v %t, want %v %t", a, b, c, d, got, ok, want, exact)
		}
		if ok {
			crossings++
		}
	}
	if crossings < 1000 {
		t.Errorf("only %d crossings were met", crossings)
	}
}

func ratCrossing(a, b, c, d Point) (Point, bool) {
	rat := func(x int) *big.Rat { return new(big.Rat).SetInt64(int64(x)) }
	mul := func(x, y *big.Rat) *big.Rat { return new(big.Rat).Mul(x, y) }
	sub := func(x, y *big.Rat) *big.Rat { return new(big.Rat).Sub(x, y) }
	u, v, w := b.Sub(a), d.Sub(c), c.Sub(a)
	den := sub(mul(rat(u.X), rat(v.Y)), mul(rat(u.Y), rat(v.X)))
	if den.Sign() == 0 {
		return Point{}, false
	}
	s := new(big.Rat).Quo(sub(mul(rat(w.X), rat(v.Y)), mul(rat(w.Y), rat(v.X))), den)
	q := new(big.Rat).Quo(sub(mul(rat(w.X), rat(u.Y)), mul(rat(w.Y), rat(u.X))), den)
	one := rat(1)
	if s.Sign() <= 0 || s.Cmp(one) >= 0 || q.Sign() <= 0 || q.Cmp(one) >= 0 {
		return Point{}, false
	}
	round := func(o, k int) int {
		x := new(big.Rat).Add(rat(o), mul(s, rat(k)))
		x.Add(x, big.NewRat(1, 2))
		f := new(big.Int)
		f.Div(x.Num(), x.Denom()) // Euclidean: rounds down for a positive denominator
		return int(f.Int64())
	}
	return Point{round(a.X, u.X), round(a.Y, u.Y)}, true
}

// TestLocate: reference table 1.5, exact winding counts.
func TestLocate(t *testing.T) {
	for _, tc := range []struct {
		ring                      Ring
		inside, boundary, outside []Point
	}{
		{ring(0, 0, 10, -10, 20, 0, 10, 10), ring(10, 0, 5, 4), ring(0, 0, 20, 0, 5, 5, 10, 10, 15, -5), ring(-5, 0, 25, 0)},
		{ring(0, 0, 100, 50, 0, 100, 30, 50), ring(31, 50, 15, 24, 16, 26), ring(30, 50, 15, 25, 50, 25, 100, 50), ring(29, 50, 0, 50, 101, 50)},
		{ring(0, 0, 1e9, 999999999, 0, 1), ring(1, 1), ring(500000000, 500000000, 0, 0), ring(500000000, 499999999, 500000001, 500000000, 999999999, 999999998)},
		{ring(-m, -m, m, m-1, m, m), nil, ring(0, 0, 1, 1, m-1, m-1), ring(0, -1, 1, 0, m-1, m-2)},
	} {
		for want, points := range map[Location][]Point{Inside: tc.inside, OnEdge: tc.boundary, Outside: tc.outside} {
			for _, p := range points {
				if got := (Polygon{tc.ring}).Locate(p); got != want {
					t.Errorf("%v: %v is %d, want %d", tc.ring, p, got, want)
				}
			}
		}
	}
}

// TestTransform: the worked table of section 11.1, magnification 2, origin (100, 200).
func TestTransform(t *testing.T) {
	points := ring(10, 0, 0, 5, 7, 3)
	for _, tc := range []struct {
		mirror bool
		deg    float64
		want   Ring
	}{
		{false, 0, ring(120, 200, 100, 210, 114, 206)}, {false, 90, ring(100, 220, 90, 200, 94, 214)},
		{false, 180, ring(80, 200, 100, 190, 86, 194)}, {false, 270, ring(100, 180, 110, 200, 106, 186)},
		{true, 0, ring(120, 200, 100, 190, 114, 194)}, {true, 90, ring(100, 220, 110, 200, 106, 214)},
		{true, 180, ring(80, 200, 100, 210, 86, 206)}, {true, 270, ring(100, 180, 90, 200, 94, 186)},
	} {
		tr := NewTransform(tc.mirror, 2, tc.deg, Point{100, 200})
		for i, p := range points {
			if got := tr.Apply(p); got != tc.want[i] {
				t.Errorf("mirror %t, %g°: %v goes to %v, want %v", tc.mirror, tc.deg, p, got, tc.want[i])
			}
		}
		if mirror, mag, deg, at := tr.Parts(); mirror != tc.mirror || math.Abs(mag-2) > 1e-12 || math.Abs(deg-tc.deg) > 1e-9 || at != (Point{100, 200}) {
			t.Errorf("parts of %v: %t %g %g %v", tr, mirror, mag, deg, at)
		}
		inner := NewTransform(true, 1, 90, Point{3, -4})
		for _, p := range points {
			if got, want := inner.Then(tr).Apply(p), tr.Apply(inner.Apply(p)); got != want {
				t.Errorf("composition: %v, one after the other: %v", got, want)
			}
		}
	}
}
