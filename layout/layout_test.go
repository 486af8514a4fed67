package layout

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

func square(size int) Shape {
	return Shape{Polygon: geom.Polygon{geom.Box(0, 0, size, size).Ring()}}
}

// TestMembers: an array of 4 columns × 3 rows from (0, 0) to (3000, 4000), the worked example of section 11.1, and a pitch
// that is no whole number.
func TestMembers(t *testing.T) {
	p := Placement{Transform: geom.Identity, Columns: 4, Rows: 3, ColumnExtent: geom.Vec{X: 3000}, RowExtent: geom.Vec{Y: 4000}}
	for _, tc := range []struct{ c, r, x, y int }{{0, 0, 0, 0}, {1, 0, 1000, 0}, {0, 1, 0, 2000}, {3, 2, 3000, 4000}} {
		if got := p.Member(tc.c, tc.r).Apply(geom.Point{}); got != (geom.Point{X: tc.x, Y: tc.y}) {
			t.Errorf("member %d, %d at %v, want %d, %d", tc.c, tc.r, got, tc.x, tc.y)
		}
	}
	q := Placement{Transform: geom.Identity, Columns: 4, ColumnExtent: geom.Vec{X: 10}}
	for c, want := range []int{0, 3, 7, 10} { // 10/3 = 3.33, 6.67
		if got := q.Member(c, 0).Apply(geom.Point{}).X; got != want {
			t.Errorf("column %d at %d, want %d", c, got, want)
		}
	}
}

func nested() (*Library, *Cell) {
	leaf := &Cell{Name: "LEAF", Shapes: []Shape{square(10)}, Labels: []Label{{At: geom.Point{X: 5, Y: 5}, Text: "a"}}}
	mid := &Cell{Name: "MID", Placements: []Placement{{Cell: leaf, Transform: geom.Identity, Columns: 3, ColumnExtent: geom.Vec{X: 200}}}}
	top := &Cell{Name: "TOP", Shapes: []Shape{square(1)}, Placements: []Placement{{Name: "m", Cell: mid, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 1000})}, {Cell: leaf, Transform: geom.Move(geom.Point{Y: -500})}}}
	return &Library{Layers: []string{"l"}, Cells: []*Cell{leaf, mid, top}}, top
}

func TestFlat(t *testing.T) {
	lib, top := nested()
	if tops := lib.Tops(); len(tops) != 1 || tops[0] != top {
		t.Errorf("tops %v", tops)
	}
	f, err := Flatten(top)
	if err != nil {
		t.Fatal(err)
	}
	if f.Count(0) != 5 {
		t.Errorf("%d shapes, want 1 + 3 + 1", f.Count(0))
	}
	// Mirrored, then turned by 90°: (x, y) goes to (y, x), then moves by 1000.
	if want := geom.Box(0, -500, 1010, 210); f.Bounds() != want {
		t.Errorf("bounds %v, want %v", f.Bounds(), want)
	}
	var paths []string
	places := []Place{{0, geom.Point{X: 1, Y: 1}}, {1, geom.Point{X: 1, Y: 1}}, {0, geom.Point{X: 1, Y: -5000}}}
	f.Labels(func(l *Label, at geom.Point, path string) {
		paths = append(paths, path)
		places = append(places, Place{0, at})
	})
	if got, want := f.PathsAt(places), append([]string{"", "", ""}, paths...); !slices.Equal(got, want) {
		t.Errorf("PathsAt says %q, the labels there were drawn in %q", got, want)
	}
	if got := f.PathsAt(nil); len(got) != 0 {
		t.Errorf("no place: %q", got)
	}
	if got := strings.Join(paths, " "); got != "m/LEAF.1[0,0] m/LEAF.1[0,1] m/LEAF.1[0,2] LEAF.2" {
		t.Errorf("paths %s", got)
	}
	n := 0
	f.Shapes(func(*Shape, geom.Transform) bool { n++; return n < 2 })
	if n != 2 {
		t.Errorf("the stream went on after it was stopped: %d", n)
	}
}

// TestPathsAt: against a plain search through every member, on drawings with overlapping cells at random places.
func TestPathsAt(t *testing.T) {
	for seed := range uint64(50) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		at := func() geom.Point { return geom.Point{X: rnd.IntN(200), Y: rnd.IntN(200)} }
		var cells []*Cell
		for i := range 4 {
			c := &Cell{Name: string(rune('A' + i))}
			for range rnd.IntN(3) {
				p := at()
				c.Shapes = append(c.Shapes, Shape{Layer(rnd.IntN(2)), geom.Polygon{geom.Box(p.X, p.Y, p.X+1+rnd.IntN(60), p.Y+1+rnd.IntN(60)).Ring()}})
			}
			for range rnd.IntN(3) {
				if i > 0 {
					c.Placements = append(c.Placements, Placement{Cell: cells[rnd.IntN(i)], Columns: rnd.IntN(4), Rows: rnd.IntN(3), ColumnExtent: geom.Vec{X: 150}, RowExtent: geom.Vec{Y: 99},
						Transform: geom.NewTransform(rnd.IntN(2) == 0, 1, float64(rnd.IntN(4)*90), at())})
				}
			}
			cells = append(cells, c)
		}
		f, err := Flatten(cells[3])
		if err != nil {
			t.Fatal(err)
		}
		var search func(c *Cell, t geom.Transform, p Place, path string) (string, bool)
		search = func(c *Cell, t geom.Transform, p Place, path string) (string, bool) {
			for _, s := range c.Shapes {
				if s.Layer == p.Layer && t.ApplyPolygon(s.Polygon).Locate(p.At) != geom.Outside {
					return path, true
				}
			}
			for i := range c.Placements {
				cols, rows := c.Placements[i].Members()
				for r := range rows {
					for col := range cols {
						if found, ok := search(c.Placements[i].Cell, c.Placements[i].Member(col, r).Then(t), p, JoinPath(path, c.InstanceName(i, col, r))); ok {
							return found, true
						}
					}
				}
			}
			return "", false
		}
		var places []Place
		var want []string
		for range 100 {
			p := Place{Layer(rnd.IntN(2)), geom.Point{X: rnd.IntN(600) - 200, Y: rnd.IntN(600) - 200}}
			path, _ := search(cells[3], geom.Identity, p, "")
			places, want = append(places, p), append(want, path)
		}
		if got := f.PathsAt(places); !slices.Equal(got, want) {
			t.Errorf("seed %d: got %q, want %q", seed, got, want)
		}
	}
}

func TestFlattenErrors(t *testing.T) {
	lib, top := nested()
	lib.Cells[0].Placements = []Placement{{Cell: top, Transform: geom.Identity}}
	if err := lib.CheckCycles(); err == nil || !strings.Contains(err.Error(), "LEAF → TOP → MID → LEAF") {
		t.Errorf("cycle: %v", err)
	}
	far := &Cell{Name: "FAR", Placements: []Placement{{Cell: &Cell{Shapes: []Shape{square(10)}}, Transform: geom.Move(geom.Point{X: geom.Limit - 5})}}}
	if _, err := Flatten(far); err == nil || !strings.Contains(err.Error(), "the frame ends at ±1073741.824 µm") {
		t.Errorf("out of the frame: %v", err)
	}
}

// A slanted placement makes the box around what it places 1 nm wider, for rounding, and no other: what is drawn at the end
// of the frame stays in it.
func TestFlattenSlantedInFrame(t *testing.T) {
	small := &Cell{Name: "small", Shapes: []Shape{{0, geom.Polygon{geom.Box(0, 0, 10, 10).Ring()}}}}
	top := &Cell{Name: "top", Shapes: []Shape{{0, geom.Polygon{geom.Box(0, 0, geom.Limit, 20).Ring()}}},
		Placements: []Placement{{Cell: small, Transform: geom.NewTransform(false, 1, 45, geom.Point{})}}}
	f, err := Flatten(top)
	// The corners of the square are (0, 0), (7.07, 7.07), (0, 14.14) and (-7.07, 7.07).
	if err != nil || f.Bounds() != geom.Box(-8, -1, geom.Limit, 20) {
		t.Errorf("%v %v", f.Bounds(), err)
	}
}
