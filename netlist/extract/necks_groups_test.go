package extract

import (
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
)

// TestTouchingGroups: in drawings of a few cells placed at random, upright and turned, boxes and other shapes, groups of shapes that touch are those
// that the plain way finds: each pair by the union of both, which is in one piece, or in two that have a corner in common.
func TestTouchingGroups(t *testing.T) {
	rnd := rand.New(rand.NewPCG(9, 2))
	groups := 0
	for range 60 {
		var cells []*layout.Cell
		for range 3 {
			c := &layout.Cell{Name: "C"}
			for range 1 + rnd.IntN(4) {
				x, y, w, h := rnd.IntN(12), rnd.IntN(12), 2+rnd.IntN(6), 2+rnd.IntN(6)
				ring := geom.Box(x, y, x+w, y+h).Ring()
				switch rnd.IntN(3) {
				case 0: // an L
					ring = geom.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + 1}, {X: x + 1, Y: y + 1}, {X: x + 1, Y: y + h}, {X: x, Y: y + h}}
				case 1: // half a square, so that slanted edges cross on the grid of halves
					ring = geom.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x, Y: y + w}}
				}
				for i := range ring {
					ring[i].X, ring[i].Y = 2*ring[i].X, 2*ring[i].Y
				}
				c.Shapes = append(c.Shapes, layout.Shape{Polygon: geom.Polygon{ring}})
			}
			cells = append(cells, c)
		}
		top := &layout.Cell{Name: "TOP"}
		for range 12 {
			top.Placements = append(top.Placements, layout.Placement{Cell: cells[rnd.IntN(3)], Transform: geom.NewTransform(rnd.IntN(2) == 0, 1, float64(90*rnd.IntN(4)), geom.Point{X: 10 * rnd.IntN(8), Y: 10 * rnd.IntN(8)})})
		}
		flat, err := layout.Flatten(top)
		if err != nil {
			t.Fatal(err)
		}
		parts := newDrawnParts(flat)
		walk := layout.Walk{Layers: 1, Yield: func(p *layout.Placed) bool {
			parts.add(p)
			return true
		}}
		walk.Run(flat)
		of := make(sets, len(parts.all))
		for i := range of {
			of[i] = node(i)
			for k := range i {
				a, b := parts.polygon(int32(i)), parts.polygon(int32(k))
				pieces := polygons.Union(a, b)
				meets := len(pieces) == 1
				for _, p := range pieces[1:] {
					for _, r := range p.Polygon {
						for _, c := range r {
							meets = meets || pieces[0].Polygon.Locate(c) != geom.Outside
						}
					}
					for _, c := range slices.Concat(pieces[0].Polygon...) {
						meets = meets || p.Polygon.Locate(c) != geom.Outside
					}
				}
				if meets && of.find(node(i)) != of.find(node(k)) {
					of.union(node(i), node(k))
				}
			}
		}
		got := parts.touching()
		groups += len(got)
		seen := map[node]bool{}
		for _, g := range got {
			root := of.find(node(g[0]))
			if seen[root] {
				t.Fatalf("two groups of what touches: %v", got)
			}
			seen[root] = true
			for _, i := range g {
				if of.find(node(i)) != root {
					t.Fatalf("a group of what does not touch: %v", g)
				}
			}
		}
	}
	if groups < 300 {
		t.Errorf("%d groups", groups)
	}
}
