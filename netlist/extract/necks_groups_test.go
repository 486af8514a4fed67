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
		parts := partsOf(t, top)
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

// partsOf are the shapes of a cell, all on one layer, with what is placed in it.
func partsOf(t *testing.T, top *layout.Cell) *drawnParts {
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
	return parts
}

// TestTouchingPieces: a shape in two pieces, one of which lies within another shape, touches it, whichever piece is drawn first.
func TestTouchingPieces(t *testing.T) {
	within := layout.Shape{Polygon: geom.Polygon{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 0, Y: 100}}}}
	near, far := geom.Box(10, 10, 20, 20).Ring(), geom.Box(90, 90, 95, 95).Ring()
	for _, pg := range []geom.Polygon{{near, far}, {far, near}} {
		for _, shapes := range [][]layout.Shape{{within, {Polygon: pg}}, {{Polygon: pg}, within}} {
			if got := partsOf(t, &layout.Cell{Name: "TOP", Shapes: shapes}).touching(); len(got) != 1 {
				t.Errorf("%v and %v are %d groups", shapes[0].Polygon, shapes[1].Polygon, len(got))
			}
		}
	}
}

// TestIslands: what lies in a hole of a plane is held against its edges once, however many boxes make it.
func TestIslands(t *testing.T) {
	islands := func(shape geom.Polygon) float64 {
		plane := geom.Polygon{geom.Box(0, 0, 1000, 1000).Ring()}
		cell := &layout.Cell{Name: "ISLAND", Shapes: []layout.Shape{{Polygon: shape}}}
		top := &layout.Cell{Name: "TOP"}
		for i := range 100 {
			x, y := i%10*100, i/10*100
			hole := geom.Box(x+10, y+10, x+90, y+90).Ring()
			slices.Reverse(hole)
			plane = append(plane, hole)
			top.Placements = append(top.Placements, layout.Placement{Cell: cell, Transform: geom.Move(geom.Point{X: x + 20, Y: y + 20})})
		}
		top.Shapes = []layout.Shape{{Polygon: plane}}
		parts := partsOf(t, top)
		if n := len(parts.touching()); n != 101 {
			t.Fatalf("%d groups", n)
		}
		return testing.AllocsPerRun(1, func() { parts.touching() })
	}
	comb := geom.Ring{{X: 0, Y: 10}, {X: 0, Y: 0}, {X: 31, Y: 0}, {X: 31, Y: 10}}
	for x := 30; x > 1; x -= 2 {
		comb = append(comb, geom.Point{X: x, Y: 10}, geom.Point{X: x, Y: 5}, geom.Point{X: x - 1, Y: 5}, geom.Point{X: x - 1, Y: 10})
	}
	if n := len(boxesOf(geom.Polygon{comb})); n < 16 {
		t.Fatalf("a comb of %d boxes", n)
	}
	if one, many := islands(geom.Polygon{geom.Box(0, 0, 40, 40).Ring()}), islands(geom.Polygon{comb}); many > 2*one {
		t.Errorf("memory is taken %.0f times for islands of one box, %.0f times for those of many", one, many)
	}
}
