package extract_test

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// TestStripsSmall: small drawings for which 16 strips, with borders at every 100 nm, made another circuit than one.
func TestStripsSmall(t *testing.T) {
	st := kilnStack(t)
	box := func(l, x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: layout.Layer(l), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	label := func(l, x, y int, text string) layout.Label {
		return layout.Label{Layer: layout.Layer(l), At: geom.Point{X: x, Y: y}, Text: text}
	}
	left, right := box(metal2, 1, 9000, 21, 9020), box(metal2, 1579, 9000, 1599, 9020) // strips begin at 0, end at 1600
	leaning := layout.Shape{Layer: contact, Polygon: geom.Polygon{{{X: 10, Y: 0}, {X: 50, Y: 0}, {X: 90, Y: 40}, {X: 300, Y: 40}, {X: 300, Y: 200}, {X: 210, Y: 200}}}}
	for name, c := range map[string]*layout.Cell{
		"a contact wider than a strip that begins on its border": {
			Shapes: []layout.Shape{left, right, box(metal1, 100, 0, 900, 100), box(poly, 100, 0, 900, 100), box(contact, 100, 0, 900, 100)},
			Labels: []layout.Label{label(metal1, 500, 50, "A"), label(poly, 500, 50, "B")}},
		"a contact that leans into the strip of another": {
			Shapes: []layout.Shape{left, right, leaning, box(contact, 95, -50, 150, 20), box(metal1, 200, 100, 400, 200), box(metal1, 95, -50, 150, -10)},
			Labels: []layout.Label{label(metal1, 350, 150, "A"), label(metal1, 120, -30, "B")}},
		"two diffusions that meet a channel in one corner": {
			Shapes: []layout.Shape{left, right, box(poly, 300, 300, 500, 500), box(diffusion, 100, 300, 500, 500), box(diffusion, 300, 100, 500, 300)}},
	} {
		d := drawn{name, &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
		want := run(t, d, extract.Options{Strips: 1})
		got := run(t, d, extract.Options{Strips: 16})
		if diff := difference(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
			showDifference(t, want, got)
		}
	}
}
