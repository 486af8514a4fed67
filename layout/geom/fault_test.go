package geom

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFault(t *testing.T) {
	box := func(x0, y0, x1, y1 int) Ring { return Box(x0, y0, x1, y1).Ring() }
	back := func(r Ring) Ring {
		out := Ring{}
		for i := range r {
			out = append(out, r[len(r)-1-i])
		}
		return out
	}
	many := func(r Ring) Ring { // more points than the quick test takes, on the same edges
		for len(r) <= 16 {
			out := Ring{}
			for i, p := range r {
				q := r[(i+1)%len(r)]
				out = append(out, p)
				if p.Add(q).X%2 == 0 && p.Add(q).Y%2 == 0 && p.Sub(q) != (Point{2, 0}) {
					out = append(out, Point{(p.X + q.X) / 2, (p.Y + q.Y) / 2})
				}
			}
			if len(out) == len(r) {
				return r
			}
			r = out
		}
		return r
	}
	for _, tc := range []struct {
		name string
		pg   Polygon
		want string // empty: valid
	}{
		{"square", Polygon{box(0, 0, 10, 10)}, ""},
		{"clockwise", Polygon{back(box(0, 0, 10, 10))}, ""},
		{"points on straight edges", Polygon{many(box(0, 0, 1024, 1024))}, ""},
		{"corners of the frame", Polygon{box(-Limit, -Limit, Limit, Limit)}, ""},
		{"hole", Polygon{box(0, 0, 10, 10), back(box(2, 2, 4, 4))}, ""},
		{"hole first, all turned", Polygon{box(2, 2, 4, 4), back(box(0, 0, 10, 10))}, ""},
		{"two holes", Polygon{box(0, 0, 10, 10), back(box(2, 2, 4, 4)), back(box(5, 2, 8, 4))}, ""},
		{"two holes above each other", Polygon{box(0, 0, 10, 10), back(box(2, 2, 4, 4)), back(box(3, 5, 8, 8))}, ""},

		{"nothing", nil, "a polygon without rings"},
		{"two points", Polygon{{{1, 2}, {3, 4}}}, "a ring of fewer than three points at (0.001, 0.002) µm"},
		{"no point", Polygon{{}}, "a ring of fewer than three points at (0, 0) µm"},
		{"beyond", Polygon{box(0, 0, Limit+1, 5)}, "a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m) at (1.073741825e+06, 0) µm"},
		{"twice", Polygon{{{0, 0}, {9, 0}, {9, 0}, {0, 9}}}, "a point that is there twice at (0.009, 0) µm"},
		{"closed by its first point", Polygon{{{5, 6}, {9, 6}, {5, 9}, {5, 6}}}, "a point that is there twice at (0.005, 0.006) µm"},
		{"bow tie", Polygon{{{0, 0}, {10, 10}, {10, 0}, {0, 10}}}, "the outline crosses itself at (0.005, 0.005) µm"},
		{"line", Polygon{{{0, 0}, {5, 5}, {9, 9}}}, "the outline runs along itself at (0, 0) µm"},
		{"spike right", Polygon{{{0, 0}, {10, 0}, {10, 5}, {20, 5}, {10, 5}, {10, 10}, {0, 10}}}, "the outline touches itself at (0.01, 0.005) µm"},
		{"spike left", Polygon{{{0, 0}, {10, 0}, {10, 10}, {-5, 10}, {0, 10}}}, "the outline runs along itself at (-0.005, 0.01) µm"},
		{"corner on edge", Polygon{{{0, 0}, {10, 0}, {10, 10}, {5, 0}, {0, 10}}}, "the outline touches itself at (0.005, 0) µm"},
		{"edges that share a stretch", Polygon{{{0, 0}, {10, 0}, {10, 10}, {8, 0}, {2, 0}, {0, 10}}}, "the outline touches itself at (0.002, 0) µm"},
		{"shared corner", Polygon{box(0, 0, 10, 10), back(Ring{{0, 0}, {4, 2}, {2, 4}})}, "the outline touches itself at (0, 0) µm"},
		{"hole beside an edge", Polygon{box(0, 0, 10, 10), back(box(0, 2, 4, 4))}, "the outline touches itself at (0, 0.002) µm"},
		{"hole across", Polygon{box(0, 0, 10, 10), back(box(6, 2, 14, 4))}, "the outline crosses itself at (0.01, 0.002) µm"},
		{"apart", Polygon{box(0, 0, 10, 10), box(20, 0, 30, 10)}, "a second ring that lies outside of the first at (0.02, 0) µm"},
		{"above", Polygon{box(0, 0, 10, 10), back(box(2, 20, 4, 30))}, "a second ring that lies outside of the first at (0.002, 0.02) µm"},
		{"island", Polygon{box(0, 0, 10, 10), back(box(2, 2, 8, 8)), box(4, 4, 6, 6)}, "a ring inside of a hole at (0.004, 0.004) µm"},
		{"same sense", Polygon{box(0, 0, 10, 10), box(2, 2, 4, 4)}, "a ring in another one that turns the same way, and so is no hole at (0.002, 0.002) µm"},
	} {
		got := ""
		if f, bad := tc.pg.Fault(); bad {
			got = f.String()
		}
		if got != tc.want {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
}

// faultTwin says by pairs whether a polygon is valid.
func faultTwin(pg Polygon) bool {
	type edge struct{ a, b Point }
	var edges []edge
	for _, r := range pg {
		if !r.Simple() {
			return true
		}
		for i, p := range r {
			edges = append(edges, edge{p, r[(i+1)%len(r)]})
		}
	}
	at := 0
	for k, r := range pg { // edges of different rings never meet
		for _, e := range edges[at : at+len(r)] {
			other := 0
			for j, q := range pg {
				for _, f := range edges[other : other+len(q)] {
					if j != k && SegmentsMeet(e.a, e.b, f.a, f.b) {
						return true
					}
				}
				other += len(q)
			}
		}
		at += len(r)
	}
	outer := 0
	for k, r := range pg {
		within := 0
		for j, q := range pg {
			if j != k && (Polygon{q}).Locate(r[0]) == Inside {
				within++
				if q.Sense() == r.Sense() {
					return true
				}
			}
		}
		if within == 0 {
			outer++
		}
		if within > 1 {
			return true
		}
	}
	return outer != 1
}

// TestFaultAgainstPairs: on few places, where everything touches, and on many.
func TestFaultAgainstPairs(t *testing.T) {
	valid := 0
	check := func(t *rapid.T) {
		side := rapid.SampledFrom([]int{3, 6, 40, 1 << 30}).Draw(t, "side")
		c := rapid.IntRange(-side, side)
		var pg Polygon
		if rapid.Bool().Draw(t, "frame") { // about all others, which may be holes then
			pg = Polygon{Box(-side, -side, side, side).Ring()}
		}
		for range rapid.IntRange(1, 3).Draw(t, "rings") {
			var r Ring
			if rapid.Bool().Draw(t, "box") {
				b := Box(c.Draw(t, "x0"), c.Draw(t, "y0"), c.Draw(t, "x1"), c.Draw(t, "y1"))
				r = b.Ring()
				if rapid.Bool().Draw(t, "back") {
					r[1], r[3] = r[3], r[1]
				}
			} else {
				for range rapid.IntRange(3, 9).Draw(t, "points") {
					r = append(r, Point{c.Draw(t, "x"), c.Draw(t, "y")})
				}
			}
			pg = append(pg, r)
		}
		if len(pg) == 1 { // past the quick test
			pg = append(pg, Ring{{-side - 4, -side - 4}, {-side - 4, -side - 3}, {-side - 3, -side - 3}})
			if side == 1<<30 {
				pg = pg[:1]
			}
		}
		f, bad := pg.Fault()
		if want := faultTwin(pg); bad != want {
			t.Fatalf("%v: %v (%v), by pairs %v", pg, bad, f, want)
		}
		if !bad {
			valid++
		}
	}
	const enough = 30
	for round := 0; round < 10 || valid < enough && round < 100; round++ { // few are valid, and with -short a round is a fifth
		rapid.Check(t, check)
	}
	if valid < enough {
		t.Errorf("only %d valid polygons were drawn", valid)
	}
}

// TestFaultLarge: outlines of many points, whole and with one point moved across.
func TestFaultLarge(t *testing.T) {
	for name, r := range map[string]Ring{"star": star(3000), "comb": comb(1000), "spiral": spiral(2000)} {
		if f, bad := (Polygon{r}).Fault(); bad {
			t.Errorf("%s: %v", name, f)
		}
		i, j := len(r)/3, len(r)/2
		r[i], r[j] = r[j], r[i]
		if f, bad := (Polygon{r}).Fault(); r.Simple() || !bad || !strings.Contains(f.String(), "itself") {
			t.Errorf("%s with two points changed: %v", name, f)
		}
	}
}

// star has n points by angle: simple by construction, if no two lie in one direction.
func star(n int) Ring {
	random := rand.New(rand.NewPCG(1, 2))
	var r Ring
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d := 1e8 * (1 + 9*random.Float64())
		r = append(r, Point{int(d * cos), int(d * sin)})
	}
	return r
}

// comb has n slanted teeth, all of which cross one line.
func comb(n int) Ring {
	r := Ring{{0, 20*n + 7}, {0, 0}}
	for i := range n {
		r = append(r, Point{100000, 20*i + 5000}, Point{10, 20*i + 10})
	}
	return r
}

// spiral goes inwards along the axes and out again beside itself.
func spiral(n int) Ring {
	var in, out Ring
	x, y, d := 0, 0, 10*n
	for i := range n {
		in, out = append(in, Point{x, y}), append(out, Point{x, y})
		switch k := &out[len(out)-1]; i % 4 {
		case 0:
			k.X, k.Y, x = k.X+3, k.Y+3, x+d
		case 1:
			k.X, k.Y, y = k.X-3, k.Y+3, y+d
		case 2:
			k.X, k.Y, x = k.X-3, k.Y-3, x-d
		case 3:
			k.X, k.Y, y = k.X+3, k.Y-3, y-d
		}
		if i%2 == 1 || i == 0 {
			d -= 10
		}
	}
	out[0] = Point{0, 3}
	for i := range out {
		in = append(in, out[len(out)-1-i])
	}
	return in
}

func BenchmarkFault(b *testing.B) {
	for _, bc := range []struct {
		name string
		ring Ring
	}{{"square", Box(0, 0, 9, 9).Ring()}, {"shape=star/points=100000", star(100000)}, {"shape=comb/points=100000", comb(50000)}} {
		b.Run(bc.name, func(b *testing.B) {
			pg := Polygon{bc.ring}
			for b.Loop() {
				if f, bad := pg.Fault(); bad {
					b.Fatal(f)
				}
			}
		})
	}
}
