package extract_test

import (
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestAsk: places on one net have one number, and the net's labels; asking changes nothing else.
func TestAsk(t *testing.T) {
	st := kilnStack(t)
	lib := &layout.Library{Layers: st.LayerNames()}
	metal, _ := lib.LayerNamed("metal1")
	contact, _ := lib.LayerNamed("contact")
	rect := func(x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: metal, Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	cell := &layout.Cell{Name: "CELL", Shapes: []layout.Shape{rect(0, 0, 100, 100)}, Labels: []layout.Label{{Layer: metal, At: geom.Point{X: 50, Y: 50}, Text: "IN"}}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{rect(0, 0, 1000, 100), rect(900, 0, 1000, 900), rect(2000, 0, 3000, 100)},
		Labels:     []layout.Label{{Layer: metal, At: geom.Point{X: 10, Y: 10}, Text: "B"}, {Layer: metal, At: geom.Point{X: 20, Y: 10}, Text: "A"}},
		Placements: []layout.Placement{{Cell: cell, Name: "X", Transform: geom.Move(geom.Point{X: 5000})}}}
	lib.Cells = []*layout.Cell{top, cell}
	var ask []layout.Place
	for _, p := range []geom.Point{{X: 500, Y: 50}, {X: 950, Y: 800}, {X: 2500, Y: 50}, {X: 1500, Y: 50}, {X: 5050, Y: 20}, {X: 900000, Y: 50}} {
		ask = append(ask, layout.Place{Layer: metal, At: p})
	}
	ask = append(ask, layout.Place{Layer: contact, At: geom.Point{X: 500, Y: 50}})
	d := drawn{"ask", lib, top, st}
	with, without := run(t, d, extract.Options{Ask: ask}), run(t, d, extract.Options{})
	want := []extract.Asked{{Net: 1, Labels: []string{"A", "B"}}, {Net: 1, Labels: []string{"A", "B"}}, {Net: 2}, {}, {Net: 3, Placed: "X/IN"}, {}, {}}
	if !reflect.DeepEqual(with.Asked, want) {
		t.Errorf("got  %+v\nwant %+v", with.Asked, want)
	}
	for k, name := range []string{"A", "A", "", "", "X/IN", "", ""} { // the third has no label and no device
		if n := with.AskedNet(k); name == "" && n != netlist.NoNet || name != "" && (n == netlist.NoNet || with.Circuit.Nets[n].Name != name) {
			t.Errorf("place %d: net %d, want %q", k, n, name)
		}
	}
	if !reflect.DeepEqual(with.Circuit, without.Circuit) || !slices.Equal(with.Warnings, without.Warnings) || len(without.Asked) != 0 {
		t.Errorf("asking changes the circuit or its warnings: %v, %v", with.Warnings, without.Warnings)
	}
}
