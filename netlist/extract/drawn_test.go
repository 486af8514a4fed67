package extract_test

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// TestDrawn: the same place of a cell is told for all its placements, turned and mirrored; the first of several shapes is.
func TestDrawn(t *testing.T) {
	st := kilnStack(t)
	lib := &layout.Library{Layers: st.LayerNames()}
	metal, _ := lib.LayerNamed("metal1")
	rect := func(x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: metal, Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	cell := &layout.Cell{Name: "CELL", Shapes: []layout.Shape{rect(0, 0, 300, 100), rect(200, 0, 500, 100)}}
	turned := geom.NewTransform(true, 1, 90, geom.Point{X: 3000, Y: -700})
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{rect(-900, 0, -800, 50)}, Placements: []layout.Placement{
		{Name: "A", Cell: cell, Transform: geom.Move(geom.Point{X: 1000, Y: 20})}, {Name: "B", Cell: cell, Transform: turned}}}
	lib.Cells = []*layout.Cell{top, cell}
	res := run(t, drawn{"drawn", lib, top, st}, extract.Options{})
	var places []layout.Place
	for _, p := range []geom.Point{{X: 1250, Y: 60}, turned.Apply(geom.Point{X: 250, Y: 40}), turned.Apply(geom.Point{X: 450, Y: 7}), {X: -850, Y: 25}, {X: 90000, Y: 0}} {
		places = append(places, layout.Place{Layer: metal, At: p})
	}
	want := []extract.Drawn{{Shape: &cell.Shapes[0], At: geom.Point{X: 250, Y: 40}, Path: "A"}, {Shape: &cell.Shapes[0], At: geom.Point{X: 250, Y: 40}, Path: "B"},
		{Shape: &cell.Shapes[1], At: geom.Point{X: 450, Y: 7}, Path: "B"}, {Shape: &top.Shapes[0], At: geom.Point{X: -850, Y: 25}}, {}}
	for i, got := range res.Drawn(places) {
		if got != want[i] {
			t.Errorf("place %d: %+v, want %+v", i, got, want[i])
		}
	}
}

// TestPlaceWithin: a place within a channel that leans by 1 nm, as what was traced over a turned photograph does, is within: shapes of both
// layers cover it, wherever in the frame it lies. The lowest piece is 1 nm high, and half as wide at half its height as at its upper end.
func TestPlaceWithin(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p1m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	diffusion, _ := st.LayerNamed("diffusion")
	poly, _ := st.LayerNamed("poly")
	for _, dy := range []int{-100, 0, 1, 14, 15, 100} {
		c := &layout.Cell{Name: "TOP"}
		for _, s := range []layout.Shape{
			{Layer: diffusion, Polygon: geom.Polygon{{{X: -32, Y: -2036}, {X: 3008, Y: -2036}, {X: 3008, Y: 2987}, {X: -33, Y: 2987}}}},
			{Layer: poly, Polygon: geom.Polygon{{{X: -1011, Y: -14}, {X: 4023, Y: -15}, {X: 4023, Y: 790}, {X: -1011, Y: 790}}}},
		} {
			c.Shapes = append(c.Shapes, layout.Shape{Layer: s.Layer, Polygon: geom.NewTransform(false, 1, 0, geom.Point{Y: dy}).ApplyPolygon(s.Polygon)})
		}
		res, err := extract.Run(t.Context(), &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st, extract.Options{})
		if err != nil || len(res.Circuit.Devices) != 1 {
			t.Fatal(err, res.Circuit.Devices)
		}
		found := map[layout.Layer]bool{}
		res.DeviceShapes(func(int) []layout.Layer { return []layout.Layer{diffusion, poly} }, func(_ int, s *layout.Shape, _ geom.Transform) { found[s.Layer] = true })
		if len(found) != 2 {
			t.Errorf("moved by %d nm: %v", dy, found)
		}
	}
}
