package register

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
)

// bentBack is the inverse of a spline through points of a bent picture of 1200 × 900 px, that are moved by some px at random.
func bentBack(t testing.TB, n int, by float64) Map {
	t.Helper()
	rnd := rand.New(rand.NewPCG(5, uint64(n)))
	var points []Point
	for range n {
		p := geom.Vec{X: 1200 * rnd.Float64(), Y: 900 * rnd.Float64()}
		points = append(points, Point{From: p, To: geom.Vec{X: 1.3*p.X - 0.2*p.Y + by*rnd.NormFloat64(), Y: 0.2*p.X + 1.3*p.Y + by*rnd.NormFloat64()}})
	}
	f, err := FitPoints(Spline, points, ToShot)
	if err != nil {
		t.Fatal(err)
	}
	back, err := f.Map.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	return back
}

// TestTable: at every eleventh pixel of a picture a table says what the map says, but for 0.05, and asks the map far less often.
// Splines are smooth but at their control points, where their second derivative is without bound (r² ln r).
func TestTable(t *testing.T) {
	tilted := Linear{Projective, [3][3]float64{{1, 0.1, 5}, {-0.1, 1.1, 7}, {4e-4, 2e-4, 1}}}
	for _, tc := range []struct {
		name  string
		m     Map
		fewer float64 // calls than pixels, at least so many times; 64 at best
		wide  float64 // the same with cells of 64 px; 1024 at best
	}{
		{"similarity", Linear{Similarity, [3][3]float64{{2, 0, 5}, {0, 2, 7}, {0, 0, 1}}}, 55, 500},
		{"tilted", tilted, 50, 30},
		{"spline of 12", bentBack(t, 12, 2), 40, 100},
		{"spline of 60", bentBack(t, 60, 1), 20, 60},
		{"chain", Compose(bentBack(t, 12, 2), tilted), 30, 30},
	} {
		testTable(t, tc.name, tc.m, 0, tc.fewer)
		testTable(t, tc.name, tc.m, 64, tc.wide)
	}
}

func testTable(t *testing.T, name string, m Map, side int, most float64) {
	t.Helper()
	calls, worst, asked := 0, 0.0, 0
	table := &Table{Map: func(p geom.Vec) geom.Vec { calls++; return m.Apply(p) }, Width: 1201, Within: 0.05, Side: side}
	for y := 0.5; y < 901; y++ {
		for x := 0.5; x < 1201; x++ {
			got := table.At(geom.Vec{X: x, Y: y})
			if asked++; asked%11 == 0 {
				d := distance(got, m.Apply(geom.Vec{X: x, Y: y}))
				if worst = max(worst, d); math.IsNaN(d) {
					t.Fatal(name, x, y, got)
				}
			}
		}
	}
	if worst > 0.05 {
		t.Errorf("%s: off by %.3f", name, worst)
	}
	if fewer := float64(asked) / float64(calls); fewer < most {
		t.Errorf("%s: asked %d times for %d pixels", name, calls, asked)
	} else {
		t.Logf("%s: off by %.4f at most, asked 1/%.0f as often", name, worst, fewer)
	}
}

// TestTableRuns: along rows, runs say what single places say; they are not longer than they may be, and few.
func TestTableRuns(t *testing.T) {
	m := bentBack(t, 60, 1)
	one := &Table{Map: m.Apply, Width: 1201, Within: 0.05, Side: 64}
	runs := &Table{Map: m.Apply, Width: 1201, Within: 0.05, Side: 64}
	n := 0
	for y := 0.25; y < 901; y += 7.5 {
		for x := 0; x < 1201; n++ {
			at, step, k := runs.Run(geom.Vec{X: float64(x) + 0.5, Y: y}, min(1201-x, 50))
			if k < 1 || k > min(1201-x, 50) {
				t.Fatalf("a run of %d from %d on", k, x)
			}
			for i := range k {
				if got, want := (geom.Vec{X: at.X + float64(i)*step.X, Y: at.Y + float64(i)*step.Y}), one.At(geom.Vec{X: float64(x+i) + 0.5, Y: y}); distance(got, want) > 1e-6 {
					t.Fatalf("%d, %g: %v, want %v", x+i, y, got, want)
				}
			}
			x += k
		}
	}
	if rows := 121; n > rows*1201/8 {
		t.Errorf("%d runs in %d rows", n, rows)
	}
}

// TestTableBreaks: where a map has no place, or breaks off, a table says so at each pixel. By hand: nowhere right of a slanted
// line, and within a circle of a radius of 30 px.
func TestTableBreaks(t *testing.T) {
	m := func(p geom.Vec) geom.Vec {
		if p.X > 150+p.Y/3 || math.Hypot(p.X-60, p.Y-70) < 30 {
			return noVec
		}
		return geom.Vec{X: 2 * p.X, Y: 3 * p.Y}
	}
	table := &Table{Map: m, Width: 250, Within: 0.05} // Side 16: of larger cells the circle could lie between nine places
	for y := 0.5; y < 200; y++ {
		for x := 0.5; x < 250; x++ {
			p := geom.Vec{X: x, Y: y}
			got, want := table.At(p), m(p)
			if finite(got.X) != finite(want.X) || finite(want.X) && distance(got, want) > 1e-9 {
				t.Fatal(p, got, want)
			}
		}
	}
	// Out of turn, and beyond the picture.
	for _, p := range []geom.Vec{{X: 10.5, Y: 3}, {X: -5, Y: 20}, {X: 100, Y: -7.5}, {X: 20, Y: 190}, {X: 20.5, Y: 100}, {X: 21, Y: 164}} {
		if got := table.At(p); distance(got, m(p)) > 1e-9 {
			t.Error(p, got)
		}
	}
}

// BenchmarkTable: the inverse of a spline, for each pixel of a picture of 1200 × 900, and from a table.
func BenchmarkTable(b *testing.B) {
	for _, n := range []int{12, 60} {
		m := bentBack(b, n, 1)
		for name, at := range map[string]func() func(geom.Vec) geom.Vec{
			"exact": func() func(geom.Vec) geom.Vec { return m.Apply },
			"table": func() func(geom.Vec) geom.Vec { return (&Table{Map: m.Apply, Width: 1200, Within: 0.05}).At },
		} {
			b.Run(fmt.Sprintf("points=%d/by=%s", n, name), func(b *testing.B) {
				for b.Loop() {
					f := at()
					for y := 0.5; y < 900; y++ {
						for x := 0.5; x < 1200; x++ {
							f(geom.Vec{X: x, Y: y})
						}
					}
				}
			})
		}
	}
}
