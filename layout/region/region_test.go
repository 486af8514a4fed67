package region

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	sf "github.com/peterstace/simplefeatures/geom"
	"pgregory.net/rapid"

	"undermetal/layout/geom"
)

func box(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }

func ring(xy ...int) geom.Polygon {
	var r geom.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geom.Point{X: xy[i], Y: xy[i+1]})
	}
	return geom.Polygon{r}
}

func area(pgs []geom.Polygon) (sum float64) {
	for _, pg := range pgs {
		for _, r := range pg {
			sum += r.Area()
		}
	}
	return sum
}

// valid fails where a result is not what the package promises.
func valid(t rapid.TB, pgs []geom.Polygon) {
	t.Helper()
	for _, pg := range pgs {
		if f, bad := pg.Fault(); bad {
			t.Fatalf("%v: %v", pg, f)
		}
		if pg[0].Sense() != 1 {
			t.Fatalf("%v: the outer ring is not the first, or clockwise", pg)
		}
		for _, r := range pg {
			for i, p := range r {
				if geom.Side(r[(i+len(r)-1)%len(r)], p, r[(i+1)%len(r)]) == 0 {
					t.Fatalf("%v: %v lies on a straight edge", pg, p)
				}
			}
		}
	}
}

// TestUnion: results that can be drawn by hand.
func TestUnion(t *testing.T) {
	for _, tc := range []struct {
		name string
		in   []geom.Polygon
		want string
	}{
		{"none", nil, "[]"},
		{"one", []geom.Polygon{box(0, 0, 4, 3)}, "[{[[{0 0} {4 0} {4 3} {0 3}]] [0]}]"},
		{"clockwise", []geom.Polygon{ring(0, 0, 0, 3, 4, 3, 4, 0)}, "[{[[{0 0} {4 0} {4 3} {0 3}]] [0]}]"},
		{"points on edges", []geom.Polygon{ring(0, 0, 2, 0, 4, 0, 4, 3, 0, 3)}, "[{[[{0 0} {4 0} {4 3} {0 3}]] [0]}]"},
		{"overlap", []geom.Polygon{box(0, 0, 4, 4), box(2, 2, 6, 6)}, "[{[[{0 0} {4 0} {4 2} {6 2} {6 6} {2 6} {2 4} {0 4}]] [0 1]}]"},
		{"side by side", []geom.Polygon{box(2, 0, 4, 2), box(0, 0, 2, 2)}, "[{[[{0 0} {4 0} {4 2} {0 2}]] [0 1]}]"},
		{"one on the other", []geom.Polygon{box(0, 2, 2, 4), box(0, 0, 2, 2)}, "[{[[{0 0} {2 0} {2 4} {0 4}]] [0 1]}]"},
		{"apart", []geom.Polygon{box(5, 0, 6, 1), box(0, 0, 1, 1)}, "[{[[{0 0} {1 0} {1 1} {0 1}]] [1]} {[[{5 0} {6 0} {6 1} {5 1}]] [0]}]"},
		{"corner to corner", []geom.Polygon{box(0, 0, 1, 1), box(1, 1, 2, 2)}, "[{[[{0 0} {1 0} {1 1} {0 1}]] [0]} {[[{1 1} {2 1} {2 2} {1 2}]] [1]}]"},
		{"inside", []geom.Polygon{box(0, 0, 9, 9), box(2, 2, 3, 3)}, "[{[[{0 0} {9 0} {9 9} {0 9}]] [0 1]}]"},
		{"frame of four", []geom.Polygon{box(0, 0, 9, 1), box(0, 8, 9, 9), box(0, 1, 1, 8), box(8, 1, 9, 8)},
			"[{[[{0 0} {9 0} {9 9} {0 9}] [{1 1} {1 8} {8 8} {8 1}]] [0 1 2 3]}]"},
		{"bow tie", []geom.Polygon{ring(0, 0, 4, 4, 4, 0, 0, 4)}, "[{[[{0 0} {2 2} {0 4}]] [0]} {[[{2 2} {4 0} {4 4}]] [0]}]"},
		{"slanted pair", []geom.Polygon{ring(0, 0, 4, 0, 4, 4), ring(0, 0, 4, 4, 0, 4)}, "[{[[{0 0} {4 0} {4 4} {0 4}]] [0 1]}]"},
		{"six corners at one point", []geom.Polygon{ring(0, 0, 5, 1, 4, 2), ring(0, 0, 3, 3, 2, 4), ring(0, 0, 1, 5, -1, 5), ring(0, 0, -1, -5, 1, -5), ring(0, 0, 2, -4, 3, -3), ring(0, 0, 4, -2, 5, -1)},
			"[{[[{-1 -5} {1 -5} {0 0}]] [3]} {[[{-1 5} {0 0} {1 5}]] [2]} {[[{0 0} {2 -4} {3 -3}]] [4]} {[[{0 0} {3 3} {2 4}]] [1]} {[[{0 0} {4 -2} {5 -1}]] [5]} {[[{0 0} {5 1} {4 2}]] [0]}]"},
		// The hole meets the outside at (1, 4): cut through the hole, at x = 2, the two ends there are two pieces.
		{"hole that reaches the rim", []geom.Polygon{box(0, 0, 4, 1), box(3, 1, 4, 4), box(1, 4, 4, 5), box(0, 1, 1, 4)},
			"[{[[{0 0} {2 0} {2 1} {1 1} {1 4} {0 4}]] [0 1 2 3]} {[[{1 4} {2 4} {2 5} {1 5}]] [0 1 2 3]} {[[{2 0} {4 0} {4 5} {2 5} {2 4} {3 4} {3 1} {2 1}]] [0 1 2 3]}]"},
	} {
		got := Union(tc.in...)
		if s := fmt.Sprint(got); s != tc.want {
			t.Errorf("%s:\n%s, want\n%s", tc.name, s, tc.want)
		}
		valid(t, Polygons(got))
	}
}

func TestCut(t *testing.T) {
	for _, tc := range []struct {
		name         string
		pg           geom.Polygon
		others       []geom.Polygon
		want, inside string
	}{
		{"corner", box(0, 0, 4, 4), []geom.Polygon{box(2, 2, 9, 9)}, "[[[{0 0} {4 0} {4 2} {2 2} {2 4} {0 4}]]]", "[[[{2 2} {4 2} {4 4} {2 4}]]]"},
		{"hole", box(0, 0, 4, 4), []geom.Polygon{box(1, 1, 2, 2)}, "[[[{0 0} {4 0} {4 4} {0 4}] [{1 1} {1 2} {2 2} {2 1}]]]", "[[[{1 1} {2 1} {2 2} {1 2}]]]"},
		{"in two", box(0, 0, 6, 2), []geom.Polygon{box(2, -1, 4, 3)}, "[[[{0 0} {2 0} {2 2} {0 2}]] [[{4 0} {6 0} {6 2} {4 2}]]]", "[[[{2 0} {4 0} {4 2} {2 2}]]]"},
		{"all", box(0, 0, 6, 2), []geom.Polygon{box(-2, -1, 3, 3), box(3, -1, 6, 2)}, "[]", "[[[{0 0} {6 0} {6 2} {0 2}]]]"},
		// The hole's corner (1, 1) is the notch's; it is 1 nm wide, with its upright edge on the right. 100 - 1 - 8 nm².
		{"hole of 1 nm that reaches the rim", box(-5, -5, 5, 5), []geom.Polygon{ring(0, 0, 1, -1, 1, 1), ring(1, 1, 3, 5, -1, 5)},
			"[[[{-5 -5} {1 -5} {1 -1} {0 0} {1 1} {-1 5} {-5 5}]] [[{1 -5} {5 -5} {5 5} {3 5} {1 1}]]]",
			"[[[{-1 5} {1 1} {3 5}]] [[{0 0} {1 -1} {1 1}]]]"},
		{"nothing", box(0, 0, 6, 2), []geom.Polygon{box(6, 0, 8, 2)}, "[[[{0 0} {6 0} {6 2} {0 2}]]]", "[]"},
	} {
		out, in := Cut(tc.pg, tc.others...)
		if fmt.Sprint(out) != tc.want || fmt.Sprint(in) != tc.inside {
			t.Errorf("%s: %v and %v, want %s and %s", tc.name, out, in, tc.want, tc.inside)
		}
		valid(t, append(out, in...))
	}
}

func TestSplit(t *testing.T) {
	p := func(x, y int) geom.Point { return geom.Point{X: x, Y: y} }
	for _, tc := range []struct {
		name        string
		pg          geom.Polygon
		a, b        geom.Point
		left, right string
	}{
		{"upright", box(0, 0, 6, 2), p(2, 7), p(2, 8), "[[[{0 0} {2 0} {2 2} {0 2}]]]", "[[[{2 0} {6 0} {6 2} {2 2}]]]"},
		{"downwards", box(0, 0, 6, 2), p(2, 8), p(2, 7), "[[[{2 0} {6 0} {6 2} {2 2}]]]", "[[[{0 0} {2 0} {2 2} {0 2}]]]"},
		{"level", box(0, 0, 6, 2), p(-5, 1), p(-4, 1), "[[[{0 1} {6 1} {6 2} {0 2}]]]", "[[[{0 0} {6 0} {6 1} {0 1}]]]"},
		{"45 degrees", box(0, 0, 4, 4), p(1, 1), p(2, 2), "[[[{0 0} {4 4} {0 4}]]]", "[[[{0 0} {4 0} {4 4}]]]"},
		{"45 degrees back", box(0, 0, 4, 4), p(9, -5), p(8, -4), "[[[{0 0} {4 0} {0 4}]]]", "[[[{0 4} {4 0} {4 4}]]]"},
		{"past, right of it", box(0, 0, 4, 4), p(-1, 0), p(-1, 5), "[]", "[[[{0 0} {4 0} {4 4} {0 4}]]]"},
		{"along an edge", box(0, 0, 4, 4), p(4, 0), p(4, 5), "[[[{0 0} {4 0} {4 4} {0 4}]]]", "[]"},
		{"in three", ring(0, 0, 6, 0, 6, 4, 4, 4, 4, 2, 2, 2, 2, 4, 0, 4), p(0, 3), p(1, 3),
			"[[[{0 3} {2 3} {2 4} {0 4}]] [[{4 3} {6 3} {6 4} {4 4}]]]", "[[[{0 0} {6 0} {6 3} {4 3} {4 2} {2 2} {2 3} {0 3}]]]"},
		{"a long way", box(-geom.Limit, -geom.Limit, geom.Limit, geom.Limit), p(0, 0), p(1, 1),
			"[[[{-1073741824 -1073741824} {1073741824 1073741824} {-1073741824 1073741824}]]]",
			"[[[{-1073741824 -1073741824} {1073741824 -1073741824} {1073741824 1073741824}]]]"},
		// y = x·3/2^30 leaves the frame at y = ±3; the next whole steps lie beyond it.
		{"steps that leave the frame", box(-geom.Limit, -9, geom.Limit, 9), p(1, 0), p(geom.Limit, 3),
			"[[[{-1073741824 -3} {1073741824 3} {1073741824 9} {-1073741824 9}]]]",
			"[[[{-1073741824 -9} {1073741824 -9} {1073741824 3} {-1073741824 -3}]]]"},
		// y = (x + 2^30)/(2^31 - 1): the next whole step fits no 32 bits.
		{"a step out of all bounds", box(-geom.Limit, -9, geom.Limit, 9), p(-geom.Limit, 0), p(geom.Limit-1, 1),
			"[[[{-1073741824 0} {1073741824 1} {1073741824 9} {-1073741824 9}]]]",
			"[[[{-1073741824 -9} {1073741824 -9} {1073741824 1} {-1073741824 0}]]]"},
	} {
		left, right, err := Split(tc.pg, tc.a, tc.b)
		if err != nil || fmt.Sprint(left) != tc.left || fmt.Sprint(right) != tc.right {
			t.Errorf("%s: %v and %v (%v), want %s and %s", tc.name, left, right, err, tc.left, tc.right)
		}
	}
	if l, r, err := Split(nil, p(0, 0), p(1, 1)); l != nil || r != nil || err != nil {
		t.Error("a polygon without points", l, r, err)
	}
	if _, _, err := Split(box(0, 0, 1, 1), p(1500, 2), p(1500, 2)); fmt.Sprint(err) != "a line from (1.5, 0.002) µm to itself has no direction: give two points" {
		t.Error(err)
	}
}

// drawManhattan draws a polygon of boxes, or one outline along the axes that may cross itself.
func drawManhattan(t *rapid.T, c *rapid.Generator[int]) geom.Polygon {
	if rapid.Bool().Draw(t, "box") {
		x, y := c.Draw(t, "x"), c.Draw(t, "y")
		return box(x, y, x+rapid.IntRange(1, 5).Draw(t, "w"), y+rapid.IntRange(1, 5).Draw(t, "h"))
	}
	var r geom.Ring
	x, y := c.Draw(t, "x"), c.Draw(t, "y")
	start := x
	for range rapid.IntRange(1, 4).Draw(t, "corners") {
		r = append(r, geom.Point{X: x, Y: y})
		x = c.Draw(t, "x")
		r = append(r, geom.Point{X: x, Y: y})
		y = c.Draw(t, "y")
	}
	return geom.Polygon{append(r, geom.Point{X: x, Y: y}, geom.Point{X: start, Y: y})}
}

// covered says which unit cells of [-1, 12)² a polygon covers, by the winding number of their middles.
func covered(pgs ...geom.Polygon) map[geom.Point]bool {
	cells := map[geom.Point]bool{}
	for _, pg := range pgs {
		double := geom.Polygon{}
		for _, r := range pg {
			d := geom.Ring{}
			for _, p := range r {
				d = append(d, geom.Point{X: 2 * p.X, Y: 2 * p.Y})
			}
			double = append(double, d)
		}
		for x := -1; x < 17; x++ {
			for y := -1; y < 17; y++ {
				if double.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}) == geom.Inside {
					cells[geom.Point{X: x, Y: y}] = true
				}
			}
		}
	}
	return cells
}

// TestManhattanExact: on a small grid, where corners and edges meet all the time, every cell is covered as it must be, once.
func TestManhattanExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.IntRange(0, 11)
		draw := func() (pgs []geom.Polygon) {
			for range rapid.IntRange(1, 5).Draw(t, "polygons") {
				pgs = append(pgs, drawManhattan(t, c))
			}
			return pgs
		}
		as, bs := draw(), draw()
		same := func(what string, got []geom.Polygon, want func(a, b bool) bool, a map[geom.Point]bool) {
			valid(t, got)
			b, is, n := covered(bs...), covered(got...), 0
			for x := -1; x < 17; x++ {
				for y := -1; y < 17; y++ {
					p := geom.Point{X: x, Y: y}
					if is[p] != want(a[p], b[p]) {
						t.Fatalf("%s of %v and %v: %v: cell %v", what, as, bs, got, p)
					}
					if is[p] {
						n++
					}
				}
			}
			if area(got) != float64(n) {
				t.Fatalf("%s: pieces overlap: %v", what, got)
			}
		}
		all := Union(append(as, bs...)...)
		same("union", Polygons(all), func(a, b bool) bool { return a || b }, covered(as...))
		for _, p := range all { // what a polygon covers is part of the pieces that name it
			for i, pg := range append(as, bs...) {
				inside, outside := covered(p.Polygon), covered(pg)
				shared := false
				for c := range outside {
					shared = shared || inside[c]
				}
				if shared && !slices.Contains(p.Sources, i) {
					t.Fatalf("%v does not name source %d, %v", p, i, pg)
				}
			}
		}
		out, in := Cut(as[0], bs...)
		same("difference", out, func(a, b bool) bool { return a && !b }, covered(as[0]))
		same("intersection", in, func(a, b bool) bool { return a && b }, covered(as[0]))
		if again := Union(Polygons(all)...); area(Polygons(again)) != area(Polygons(all)) {
			t.Fatal("the union of the union is another", again)
		}
	})
}

// oracle is a polygon for simplefeatures. Pieces cut by rounding may touch themselves there, so it is not validated.
func oracle(t rapid.TB, pgs ...geom.Polygon) sf.Geometry {
	all := sf.Geometry{}
	for i, pg := range pgs {
		var coordinates []float64
		r := pg[0]
		for k := range len(r) + 1 {
			coordinates = append(coordinates, float64(r[k%len(r)].X), float64(r[k%len(r)].Y))
		}
		g := sf.NewPolygon([]sf.LineString{sf.NewLineString(sf.NewSequence(coordinates, sf.DimXY))}).AsGeometry()
		if i == 0 {
			all = g
			continue
		}
		var err error
		if all, err = sf.Union(all, g); err != nil {
			t.Skip("the oracle failed: ", err)
		}
	}
	return all
}

// TestSlantedAgainstOracle: unions, differences and intersections of stars against the overlay of simplefeatures, in
// floating point. No border moves by more than √2/2 nm, so areas differ by at most that times its length.
func TestSlantedAgainstOracle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]float64{40, 1000, 1e8}).Draw(t, "size")
		draw := func() (pgs []geom.Polygon) {
			for range rapid.IntRange(1, 4).Draw(t, "stars") {
				pgs = append(pgs, drawStar(t, size))
			}
			return pgs
		}
		as, bs := draw(), draw()
		length := 0.0
		for _, pg := range append(as, bs...) {
			length += pg[0].Perimeter()
		}
		compare := func(what string, got []geom.Polygon, want sf.Geometry, err error) {
			valid(t, got)
			if err != nil {
				t.Skip("the oracle failed: ", err)
			}
			if d := math.Abs(area(got) - want.Area()); d > length*math.Sqrt2/2 {
				t.Fatalf("%s of %v and %v: area %g, want %g", what, as, bs, area(got), want.Area())
			}
		}
		a, b := oracle(t, as...), oracle(t, bs...)
		u, err := sf.Union(a, b)
		compare("union", Polygons(Union(append(as, bs...)...)), u, err)
		out, in := Cut(as[0], bs...)
		first := oracle(t, as[0])
		d, err := sf.Difference(first, b)
		compare("difference", out, d, err)
		i, err := sf.Intersection(first, b)
		compare("intersection", in, i, err)
	})
}

func drawStar(t *rapid.T, size float64) geom.Polygon {
	n := rapid.IntRange(3, 12).Draw(t, "points")
	x, y := rapid.Float64Range(-size, size).Draw(t, "x"), rapid.Float64Range(-size, size).Draw(t, "y")
	var r geom.Ring
	for i := range n {
		d := size * rapid.Float64Range(0.1, 1.5).Draw(t, "d")
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.3) / float64(n))
		r = append(r, geom.Vec{X: x + d*cos, Y: y + d*sin}.Round())
	}
	return geom.Polygon{r}
}

// TestSplitAgainstSide: halves lie where they should, and make up the whole.
func TestSplitAgainstSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]float64{10, 1000, 4e8}).Draw(t, "size")
		pg := Clean(drawStar(t, size))
		if len(pg) == 0 {
			return
		}
		c := rapid.IntRange(-int(size), int(size))
		a, b := geom.Point{X: c.Draw(t, "x"), Y: c.Draw(t, "y")}, geom.Point{X: c.Draw(t, "x"), Y: c.Draw(t, "y")}
		if a == b {
			return
		}
		left, right, err := Split(pg[0], a, b)
		if err != nil {
			t.Fatal(err)
		}
		valid(t, append(left, right...))
		d := math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))
		away := func(p geom.Point) float64 {
			return (float64(b.X-a.X)*float64(p.Y-a.Y) - float64(b.Y-a.Y)*float64(p.X-a.X)) / d
		}
		for k, half := range [][]geom.Polygon{left, right} {
			for _, piece := range half {
				for _, p := range piece[0] {
					if s := away(p) * float64(1-2*k); s < -1.5 { // an end rounded, an edge rounded
						t.Fatalf("%v lies %g nm across the line", p, -s)
					}
				}
			}
		}
		length := pg[0][0].Perimeter() + 8*size
		if math.Abs(area(left)+area(right)-area(pg[:1])) > length*math.Sqrt2/2 {
			t.Fatalf("%v: %v and %v do not make up the whole", pg[0], left, right)
		}
	})
}

// TestChequered: the white fields of a board, in a frame, touch each other in corners only. All of it stays covered.
func TestChequered(t *testing.T) {
	const n = 20
	var white []geom.Polygon
	count := 0
	for x := range n {
		for y := range n {
			if (x+y)%2 == 0 {
				white = append(white, box(x, y, x+1, y+1))
				count++
			}
		}
	}
	out, in := Cut(box(-1, -1, n+1, n+1), white...)
	valid(t, append(out, in...))
	if len(in) != count || area(in) != float64(count) || area(out) != float64((n+2)*(n+2)-count) {
		t.Errorf("%d white fields of area %g, the rest %g", len(in), area(in), area(out))
	}
}

func BenchmarkUnion(b *testing.B) {
	random := rand.New(rand.NewPCG(3, 4))
	for _, slanted := range []bool{false, true} {
		var pgs []geom.Polygon
		for range 10000 {
			x, y := random.IntN(300000), random.IntN(300000)
			w, h := 500+random.IntN(5000), 500+random.IntN(5000)
			if slanted {
				pgs = append(pgs, ring(x, y, x+w, y+h/3, x+w-h/3, y+h+h/3, x-h/3, y+h))
			} else {
				pgs = append(pgs, box(x, y, x+w, y+h))
			}
		}
		b.Run(fmt.Sprintf("shapes=10000/slanted=%v", slanted), func(b *testing.B) {
			n := 0
			for b.Loop() {
				n += len(Union(pgs...))
			}
			if n == 0 {
				b.Fatal("nothing")
			}
		})
	}
}
