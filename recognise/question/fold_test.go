package question

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestTurned: a cell of odd sizes, placed in all eight ways, asks once what each of its transistors asks: the middle of what is odd
// is rounded to another side in each.
func TestTurned(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("CELL")
	b.mos("unruly", 0, 0, 6001, 1001, "OUT", "-", "GND")
	b.on = b.lib.Cells[0]
	for n := range 8 {
		turn := geom.NewTransform(n > 3, 1, float64(90*n), geom.Point{X: 200000 * n})
		b.on.Placements = append(b.on.Placements, layout.Placement{Cell: cell, Transform: turn})
	}
	for _, kind := range []string{TransistorOrCapacitor, Polarity, FloatingGate} {
		if q := b.one(kind, Options{All: true}); q.Count != 8 {
			t.Errorf("%s is asked of %d places, want 8", kind, q.Count)
		}
	}
}
