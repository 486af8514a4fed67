package layout

import (
	"fmt"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestShapesAt: every shape over a place is told, of its layer only, where it is placed.
func TestShapesAt(t *testing.T) {
	box := func(l Layer, x0, x1 int) Shape {
		return Shape{Layer: l, Polygon: geom.Polygon{geom.Box(x0, 0, x1, 10).Ring()}}
	}
	inner := &Cell{Name: "INNER", Shapes: []Shape{box(0, 0, 10), box(1, 0, 10)}}
	top := &Cell{Name: "TOP", Shapes: []Shape{box(0, 5, 30), box(0, 40, 50)}, Placements: []Placement{
		{Cell: inner, Transform: geom.Identity}, {Cell: inner, Transform: geom.NewTransform(false, 2, 0, geom.Point{X: 20})}}}
	f, err := Flatten(top)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	f.ShapesAt([]Place{{0, geom.Point{X: 7, Y: 5}}, {1, geom.Point{X: 35, Y: 15}}, {0, geom.Point{X: 60, Y: 5}}}, func(k int, s *Shape, at geom.Transform) {
		_, mag, _, _ := at.Parts()
		got = append(got, fmt.Sprint(k, s.Layer, s.Polygon.Bounds().Min.X, mag))
	})
	slices.Sort(got)
	// Over x = 7 on layer 0 the top's own first shape and the inner cell's; over x = 35 on layer 1 that of the larger placement.
	if want := []string{"0 0 0 1", "0 0 5 1", "1 1 0 2"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
