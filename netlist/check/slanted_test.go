package check

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// TestSlantedEndCap: a gate whose edges, and those of the diffusion, are not quite upright, as in a photograph that was laid by
// control points. Only where it goes beyond the diffusion does its end count, not the edges beside source and drain.
func TestSlantedEndCap(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p1m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	on := func(name string) layout.Layer { l, _ := st.LayerNamed(name); return layout.Layer(l) }
	for _, tc := range []struct {
		beyond, want int // nm past the diffusion's left edge; findings
	}{{500, 0}, {30, 1}} {
		for _, tilt := range []int{-6, -1, 0, 1, 6} { // nm along 1 µm
			x := -tc.beyond
			c := &layout.Cell{Name: "C", Shapes: []layout.Shape{
				{Layer: on("diffusion"), Polygon: geom.Polygon{{{X: 3 * tilt, Y: -3000}, {X: 1200 + 3*tilt, Y: -3000 - tilt}, {X: 1200 - 4*tilt, Y: 4000 - tilt}, {X: -4 * tilt, Y: 4000}}}},
				{Layer: on("poly"), Polygon: geom.Polygon{{{X: x, Y: 0}, {X: 1800, Y: -2 * tilt}, {X: 1800, Y: 600 - 2*tilt}, {X: x - tilt, Y: 600}}}},
			}}
			lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}
			found, err := Run(t.Context(), lib, c, st, Options{ToleranceNm: 60})
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, f := range found {
				if f.Code == ShortEndCap {
					n++
				}
			}
			if n != tc.want {
				t.Errorf("%d nm beyond, tilt %d: %d short end caps, want %d: %v", tc.beyond, tilt, n, tc.want, found)
			}
		}
	}
}
