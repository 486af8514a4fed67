package gds

import (
	"slices"
	"testing"

	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

func ring(xy ...int) (r geom.Ring) {
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geom.Point{X: xy[i], Y: xy[i+1]})
	}
	return r
}

// Areas of polygons with holes: exact rational arithmetic, checked with a general geometry library.
func TestHolesBecomeSlits(t *testing.T) {
	for _, tc := range []struct {
		polygon geom.Polygon
		area    float64
	}{
		{geom.Polygon{ring(0, 0, 100, 0, 100, 80, 0, 80), ring(20, 20, 20, 60, 60, 20)}, 7200},
		{geom.Polygon{ring(0, 0, 100, 0, 100, 100, 0, 100), ring(50, 20, 20, 50, 50, 80, 80, 50)}, 8200},
		{geom.Polygon{ring(0, 0, 120, 0, 120, 50, 0, 50), ring(10, 10, 10, 40, 40, 40, 40, 10), ring(80, 25, 95, 40, 110, 25, 95, 10)}, 4650},
		{geom.Polygon{ring(0, 0, 90, 15, 110, 90, 20, 100), ring(30, 30, 25, 60, 60, 75, 70, 40)}, 6512.5},
	} {
		out, most := boundaries(tc.polygon)
		if len(out) != 1 || most != len(out[0]) {
			t.Errorf("%v: %d outlines, %d corners at most", tc.polygon, len(out), most)
			continue
		}
		if a := out[0].Area(); a != tc.area {
			t.Errorf("%v: area %g, want %g; outline %v", tc.polygon, a, tc.area, out[0])
		}
		if n := countCells(tc.polygon); n != countCells(geom.Polygon{out[0]}) {
			t.Errorf("%v: covers %d cells, its outline %d", tc.polygon, n, countCells(geom.Polygon{out[0]}))
		}
	}
}

// By hand: the slit goes from the hole's lower left corner straight to the left edge, and Manhattan stays Manhattan.
func TestSlitIsLevel(t *testing.T) {
	out, _ := boundaries(geom.Polygon{ring(0, 0, 100, 0, 100, 100, 0, 100), ring(30, 30, 30, 70, 70, 70, 70, 30)})
	want := ring(0, 0, 100, 0, 100, 100, 0, 100, 0, 30, 30, 30, 30, 70, 70, 70, 70, 30, 30, 30, 0, 30)
	if len(out) != 1 || !slices.Equal(out[0], want) {
		t.Errorf("got %v, want %v", out, want)
	}
	if !out[0].Manhattan() {
		t.Error("the outline is not Manhattan")
	}
}

func TestBoundariesOfSeveralRings(t *testing.T) {
	square := func(x, y, a int) geom.Ring { return geom.Box(x, y, x+a, y+a).Ring() }
	hole := func(x, y, a int) geom.Ring {
		r := square(x, y, a)
		slices.Reverse(r)
		return r
	}
	for _, tc := range []struct {
		name    string
		polygon geom.Polygon
		want    int
	}{
		{"one", geom.Polygon{square(0, 0, 10)}, 1},
		{"apart", geom.Polygon{square(0, 0, 10), square(20, 0, 10)}, 2},
		{"apart, of opposite sense", geom.Polygon{square(0, 0, 10), hole(20, 0, 10)}, 2},
		{"overlapping, of one sense", geom.Polygon{square(0, 0, 10), square(5, 5, 10)}, 2},
		{"overlapping, of one sense, clockwise", geom.Polygon{hole(0, 0, 10), hole(5, 5, 10)}, 2},
		{"overlapping, of opposite sense", geom.Polygon{square(0, 0, 10), hole(5, 5, 10)}, 1},
		{"island in a hole", geom.Polygon{square(0, 0, 50), hole(10, 10, 30), square(20, 20, 10)}, 1},
		{"two with a hole each", geom.Polygon{square(0, 0, 50), square(100, 0, 50), hole(10, 10, 30), hole(110, 10, 30)}, 2},
		{"hole that touches the edge", geom.Polygon{square(0, 0, 50), hole(0, 10, 30)}, 1},
		{"hole that touches a corner", geom.Polygon{square(0, 0, 50), hole(0, 0, 30)}, 1},
		{"bow-tie over a square", geom.Polygon{ring(0, 0, 10, 10, 10, 0, 0, 10), square(2, 2, 6)}, 1},
		{"none", geom.Polygon{}, 0},
	} {
		out, _ := boundaries(tc.polygon)
		if len(out) != tc.want {
			t.Errorf("%s: %d outlines, want %d: %v", tc.name, len(out), tc.want, out)
		}
		checkSameCover(t, tc.polygon, out, 60)
	}
}

// checkSameCover compares cell by cell what a polygon covers with what the outlines cover, each filled by itself.
func checkSameCover(t interface{ Fatalf(string, ...any) }, pg geom.Polygon, out []geom.Ring, size int) {
	b := pg.Bounds()
	for y := max(b.Min.Y, -size); y < min(b.Max.Y, size); y++ {
		for x := max(b.Min.X, -size); x < min(b.Max.X, size); x++ {
			want := locateCell(pg, x, y)
			if want == geom.OnEdge {
				continue
			}
			got, edge := geom.Outside, false
			for _, r := range out {
				switch locateCell(geom.Polygon{r}, x, y) {
				case geom.Inside:
					got = geom.Inside
				case geom.OnEdge:
					edge = true // a slit, which has no width
				}
			}
			if got != want && !edge {
				t.Fatalf("cell (%d, %d): %d by %v, want %d by %v", x, y, got, out, want, pg)
			}
		}
	}
}

// locateCell says where the centre of the unit square at (x, y) lies.
func locateCell(pg geom.Polygon, x, y int) geom.Location {
	double := make(geom.Polygon, len(pg))
	for i, r := range pg {
		for _, p := range r {
			double[i] = append(double[i], geom.Point{X: 2 * p.X, Y: 2 * p.Y})
		}
	}
	return double.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1})
}

// Whatever the rings: crossing, nested, of any sense, degenerate.
func TestBoundariesCoverTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var pg geom.Polygon
		for range rapid.IntRange(1, 5).Draw(t, "rings") {
			var r geom.Ring
			for range rapid.IntRange(3, 6).Draw(t, "corners") {
				r = append(r, geom.Point{X: rapid.IntRange(-12, 12).Draw(t, "x"), Y: rapid.IntRange(-12, 12).Draw(t, "y")})
			}
			pg = append(pg, r)
		}
		out, most := boundaries(pg)
		before, after, longest := 0.0, 0.0, 0
		for _, r := range pg {
			before += r.Area()
		}
		for _, r := range out {
			after += r.Area()
			longest = max(longest, len(r))
		}
		if before != after || longest != most {
			t.Fatalf("signed area %g became %g, longest %d (said %d): %v became %v", before, after, longest, most, pg, out)
		}
		checkSameCover(t, pg, out, 12)
	})
}
