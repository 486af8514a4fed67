package layout

import (
	"math"
	"testing"

	"undermetal/layout/geom"
)

// TestPitchesAt: a square in an array of 3 columns, 10.5 µm apart, which is placed in 2 rows, 20 µm apart, turned by a quarter: columns
// then lead upwards, rows to the left.
func TestPitchesAt(t *testing.T) {
	leaf := &Cell{Name: "LEAF", Shapes: []Shape{square(1000)}}
	row := &Cell{Name: "ROW", Placements: []Placement{{Name: "L", Cell: leaf, Transform: geom.Identity, Columns: 3, ColumnExtent: geom.Vec{X: 21000}}}}
	block := &Cell{Name: "BLOCK", Placements: []Placement{{Name: "R", Cell: row, Transform: geom.Identity, Rows: 2, RowExtent: geom.Vec{Y: 20000}}}}
	top := &Cell{Name: "TOP", Shapes: []Shape{square(100)}, Placements: []Placement{{Name: "B", Cell: block, Transform: geom.NewTransform(false, 1, 90, geom.Point{X: 50000, Y: 1000})}}}
	f, err := Flatten(top)
	if err != nil {
		t.Fatal(err)
	}
	// The second member of the second row: (10500, 20000) of the block is (50000 - 20000, 1000 + 10500).
	got := f.PitchesAt([]Place{{0, geom.Point{X: 29500, Y: 12000}}, {0, geom.Point{X: 50, Y: 50}}, {0, geom.Point{X: -9000, Y: 0}}})
	want := []Pitch{{geom.Vec{Y: 10500}, "B/R[1,0]/L[0,1]"}, {geom.Vec{X: -20000}, "B/R[1,0]"}}
	if len(got[0]) != 2 || len(got[1]) != 0 || len(got[2]) != 0 {
		t.Fatalf("%v", got)
	}
	for i, w := range want {
		if g := got[0][i]; math.Hypot(g.By.X-w.By.X, g.By.Y-w.By.Y) > 1e-6 || g.Path != w.Path {
			t.Errorf("pitch %d: %v, want %v", i, g, w)
		}
	}
}
