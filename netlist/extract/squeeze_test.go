package extract_test

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// TestContactBetweenLegs: a via over both legs of a U and over a finger between them joins the two, whichever of them the sweep comes to
// first: the U does not count as all that the via is on, since it is both the first and the last.
func TestContactBetweenLegs(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p2m")
	if !ok {
		t.Fatal("no such stack")
	}
	layer := func(name string) layout.Layer {
		l, ok := st.LayerNamed(name)
		if !ok {
			t.Fatal(name)
		}
		return l
	}
	u := geom.Polygon{{{X: 0, Y: 0}, {X: 500, Y: 0}, {X: 500, Y: 900}, {X: 400, Y: 900}, {X: 400, Y: 100}, {X: 100, Y: 100}, {X: 100, Y: 900}, {X: 0, Y: 900}}}
	finger := geom.Polygon{geom.Box(200, 200, 300, 1500).Ring()}
	via := geom.Polygon{geom.Box(0, 400, 500, 800).Ring()}
	for turn := range 4 {
		for _, order := range [][]geom.Polygon{{u, finger}, {finger, u}} {
			c := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{{Layer: layer("via1"), Polygon: via}, {Layer: layer("metal2"), Polygon: via}}}
			for _, pg := range order {
				c.Shapes = append(c.Shapes, layout.Shape{Layer: layer("metal1"), Polygon: pg})
			}
			for i := range c.Shapes {
				c.Shapes[i].Polygon = geom.NewTransform(false, 1, float64(90*turn), geom.Point{}).ApplyPolygon(c.Shapes[i].Polygon)
			}
			res, err := extract.Run(t.Context(), &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st, extract.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if res.LeftOut != 1 { // no device is there to keep a net
				t.Errorf("turned by %d degrees: %d nets, want one", 90*turn, res.LeftOut)
			}
		}
	}
}
