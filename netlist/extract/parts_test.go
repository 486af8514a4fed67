package extract_test

import (
	"context"
	"fmt"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// TestManyPartsInOneContact: one shape of 18,000 diamonds, with more left edges than 16 bits can number; each lies on metal of its own. None
// of the metals is joined to another.
func TestManyPartsInOneContact(t *testing.T) {
	st, err := stack.Parse("two.stack.toml", []byte(`name = "two metals"
[[layer]]
name = "metal2"
role = "metal"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "via"
role = "contact"
joins = ["metal2", "metal1"]
`))
	if err != nil {
		t.Fatal(err)
	}
	const metal2, metal1, via = 0, 1, 2
	top := &layout.Cell{Name: "MANY"}
	var diamonds geom.Polygon
	const rows, pitch = 150, 1000
	for i := range 18000 {
		x, y := i/rows*pitch, i%rows*pitch
		diamonds = append(diamonds, geom.Ring{{X: x, Y: y - 100}, {X: x + 100, Y: y}, {X: x, Y: y + 100}, {X: x - 100, Y: y}})
		pad := geom.Polygon{geom.Rect{Min: geom.Point{X: x - 300, Y: y - 300}, Max: geom.Point{X: x + 300, Y: y + 300}}.Ring()}
		top.Shapes = append(top.Shapes, layout.Shape{Layer: metal2, Polygon: pad}, layout.Shape{Layer: metal1, Polygon: pad})
		top.Labels = append(top.Labels, layout.Label{Layer: metal2, At: geom.Point{X: x, Y: y}, Text: fmt.Sprint("N", i)})
	}
	top.Shapes = append(top.Shapes, layout.Shape{Layer: via, Polygon: diamonds})
	lib := &layout.Library{Layers: []string{"metal2", "metal1", "via"}, Cells: []*layout.Cell{top}}
	res, err := extract.Run(context.Background(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Circuit.Nets) != 18000 || len(res.Warnings) != 0 {
		t.Errorf("%d nets, want 18000; %d warnings", len(res.Circuit.Nets), len(res.Warnings))
	}
}
