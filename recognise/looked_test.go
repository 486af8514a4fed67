package recognise

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// A place was looked at where each layer that has areas has it in one of them, its rim included.
func TestLookedAt(t *testing.T) {
	if LookedAt(nil) != nil {
		t.Error("without areas not all was looked at")
	}
	area := func(l layout.Layer, x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: l, Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	looked := LookedAt([]layout.Shape{area(1, 0, 0, 100, 100), area(1, 200, 0, 300, 100), area(2, 50, 50, 400, 400)})
	for p, want := range map[geom.Point]bool{{X: 10, Y: 10}: false, {X: 60, Y: 60}: true, {X: 100, Y: 100}: true, {X: 150, Y: 60}: false, {X: 250, Y: 60}: true, {X: 350, Y: 60}: false} {
		if looked(p) != want {
			t.Errorf("%v: %t", p, !want)
		}
	}
}
