package check

import (
	"context"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// TestProof: a bridge that makes a transistor, or joins a third net, does not pass, whatever was thought of it before.
func TestProof(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p2m")
	if !ok {
		t.Fatal("no stack cmos-1p2m")
	}
	lib := &layout.Library{Layers: st.LayerNames()}
	layer := func(name string) layout.Layer {
		l, ok := lib.LayerNamed(name)
		if !ok {
			t.Fatal(name)
		}
		return l
	}
	rect := func(name string, x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: layer(name), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{
		rect("poly", 0, 0, 1000, 500), rect("poly", 1080, 0, 2000, 500), rect("diffusion", 1020, -1000, 1060, -100), rect("poly", 1030, 700, 1050, 900),
		rect("diffusion", 1020, 550, 1060, 650),
	}}
	lib.Cells = []*layout.Cell{top}
	d, err := newDrawing(context.Background(), lib, top, st, Options{ToleranceNm: 100})
	if err == nil {
		err = d.nearMisses()
	}
	if err != nil || len(d.findings) != 1 {
		t.Fatal(err, d.findings)
	}
	h := &healer{drawing: d, nets: newSets(d.netCount() + 1), labels: map[int32][]string{}}
	for _, tc := range []struct {
		what string
		box  geom.Rect
		want bool
	}{
		{"from edge to edge", geom.Box(1000, 0, 1080, 500), true},
		{"from one edge only", geom.Box(1000, 0, 1070, 500), false},
		{"a transistor", geom.Box(1000, -200, 1080, 500), false},
		{"a third net", geom.Box(1000, 0, 1080, 700), false},
	} {
		b := h.candidate(&d.findings[0])
		b.Polygon = geom.Polygon{tc.box.Ring()}
		h.bridges = []Bridge{b}
		if got, err := h.asMeant(context.Background(), []int{0}); err != nil || got != tc.want {
			t.Errorf("%s: as meant %v, %v; want %v", tc.what, got, err, tc.want)
		}
	}
}
