package extract_test

import (
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// TestDrawnEdges: two slanted bars of a gate with a third across them, over one slanted diffusion. Edges of the outline that lie on one drawn edge
// have its number, and no others have; what is a part of none has none. Also where the same cell is placed twice, then by both outlines.
func TestDrawnEdges(t *testing.T) {
	st := kilnStack(t)
	turn := func(x, y int) geom.Point {
		sin, cos := math.Sincos(0.03)
		return geom.Vec{X: cos*float64(x) - sin*float64(y), Y: sin*float64(x) + cos*float64(y)}.Round()
	}
	slanted := func(l layout.Layer, x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: l, Polygon: geom.Polygon{{turn(x0, y0), turn(x1, y0), turn(x1, y1), turn(x0, y1)}}}
	}
	cell := &layout.Cell{Name: "H", Shapes: []layout.Shape{slanted(diffusion, 0, 0, 9000, 7000), slanted(poly, 2000, -1000, 3000, 8000), slanted(poly, 6000, -1000, 7000, 8000), slanted(poly, 2500, 3000, 6500, 4000)}}
	top := &layout.Cell{Name: "TOP", Placements: []layout.Placement{{Cell: cell, Transform: geom.Identity}, {Cell: cell, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 40000, Y: 500})}}}
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}
	for _, strips := range []int{1, 5} {
		res, err := extract.Run(t.Context(), lib, top, st, extract.Options{Outlines: true, Strips: strips})
		if err != nil || len(res.Outlines) != 2 {
			t.Fatalf("%v, %d outlines", err, len(res.Outlines))
		}
		// The H has 12 edges: the diffusion's lower and upper edge make two each, the inner sides of the bars two each, the outer sides and both
		// sides of the bar across one each.
		of := [2]map[int32]int{{}, {}}
		for k, o := range res.Outlines {
			for _, edges := range o.Edges {
				for _, e := range edges {
					of[k][e.Drawn]++
				}
			}
			ones, twos := 0, 0
			for n, count := range of[k] {
				switch {
				case n <= 0:
					t.Errorf("%d edges without a number", count)
				case count == 1:
					ones++
				case count == 2:
					twos++
				}
			}
			if len(of[k]) != 8 || ones != 4 || twos != 4 {
				t.Errorf("%d strips, outline %d: %v", strips, k, of[k])
			}
		}
		for n, count := range of[0] {
			if of[1][n] != count {
				t.Errorf("%d strips: %v and %v", strips, of[0], of[1])
			}
		}
	}
}
