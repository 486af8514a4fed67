package layout_test

import (
	"fmt"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestVerdictsOfPlaced: each verdict comes once for every member of every placement, where its cell lies there.
func TestVerdictsOfPlaced(t *testing.T) {
	leaf := &layout.Cell{Name: "LEAF", Verdicts: []layout.Verdict{{At: geom.Point{X: 10, Y: 20}, Kind: "k", Reading: "r"}}}
	bare := &layout.Cell{Name: "BARE"}
	mid := &layout.Cell{Name: "MID", Placements: []layout.Placement{{Name: "A", Cell: leaf, Transform: geom.Move(geom.Point{X: 100}), Columns: 2, ColumnExtent: geom.Vec{X: 1000}}, {Cell: bare, Transform: geom.Identity}}}
	top := &layout.Cell{Name: "TOP", Verdicts: []layout.Verdict{{At: geom.Point{X: 1}}}, Placements: []layout.Placement{{Name: "M", Cell: mid, Transform: geom.NewTransform(false, 1, 90, geom.Point{})}}}
	flat, err := layout.Flatten(top)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	flat.Verdicts(func(v *layout.Verdict, at geom.Point, in layout.Instance) {
		got = append(got, fmt.Sprint(in.Path, in.Cell.Name, at, v.Kind))
	})
	want := []string{"TOP{1 0}", "M/A[0,0]LEAF{-20 110}k", "M/A[0,1]LEAF{-20 1110}k"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
