package question

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestAnchors: an answer is kept in the cell, at the place that comes back to the question's through the placement: what a shape
// covers, and a gap, which goes by its path.
func TestAnchors(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("CELL")
	b.mos("unruly", 0, 0, 6000, 1000, "OUT", "-", "GND")
	b.on = b.lib.Cells[0]
	turn := geom.NewTransform(true, 1, 90, geom.Point{X: 50000, Y: 7000})
	b.on.Placements = append(b.on.Placements, layout.Placement{Cell: cell, Transform: turn})
	res := b.extract()
	q := b.one(TransistorOrCapacitor, Options{All: true})
	first := func(q Question) (*layout.Cell, geom.Point) {
		a := q.Anchors(res, b.lib, b.lib.Cells[0])
		if len(a) != 1 {
			t.Fatalf("%d anchors", len(a))
		}
		return a[0].Cell, a[0].At
	}
	if c, at := first(q); c != cell || turn.Apply(at) != q.At {
		t.Errorf("covered: cell %s at %v, which is %v in the frame, want %v", c.Name, at, turn.Apply(at), q.At)
	}
	gap := Question{Path: q.Path, layer: q.layer, At: turn.Apply(geom.Point{X: -900000, Y: 123})}
	if c, at := first(gap); c != cell || at != (geom.Point{X: -900000, Y: 123}) {
		t.Errorf("gap: cell %s at %v", c.Name, at)
	}
	gap.Path = ""
	if c, at := first(gap); c != b.lib.Cells[0] || at != gap.At {
		t.Errorf("gap of the die: cell %s at %v", c.Name, at)
	}
}
