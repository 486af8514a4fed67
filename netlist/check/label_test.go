package check_test

import (
	"context"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/check"
)

// TestLabels: what extraction says of labels, each at the place of the label that it is about.
func TestLabels(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 5000, 1000), box("metal1", 6000, 0, 9000, 1000))
	label(t, lib, "metal1", 4500, 700, "RST")
	label(t, lib, "metal1", 800, 300, "SEL")
	label(t, lib, "metal1", 8500, 300, "RST")
	label(t, lib, "metal1", 5500, 300, "LOST")
	label(t, lib, "contact", 800, 300, "C")
	lib.Cells[0].Labels = append(lib.Cells[0].Labels, layout.Label{Layer: st.SubstrateLayer(), At: geom.Point{X: 1, Y: 2}, Text: "SUB"},
		layout.Label{Layer: st.SubstrateLayer(), At: geom.Point{X: 3, Y: 4}, Text: "BULK"})
	found, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range found {
		if f.Layer == st.SubstrateLayer() {
			got = append(got, f.Code+" substrate: "+f.Text)
			continue
		}
		got = append(got, short(st, []check.Finding{f})[0]+": "+f.Text)
	}
	want := []string{
		"equal-labels metal1 8500,300: another net is labelled RST too; nothing joins them here, this one becomes RST#2",
		"label-on-nothing contact 800,300: label C is on contact, whose shapes are no nets",
		"label-on-nothing metal1 5500,300: label LOST lies on no metal1",
		"two-names metal1 800,300: one net carries the labels RST and SEL: it is called RST",
		"two-names substrate: one net carries the labels BULK and SUB: it is called BULK",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
	only, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100, Layers: []layout.Layer{layerOf(t, lib, "contact")}})
	if err != nil || len(only) != 1 {
		t.Errorf("on the contact layer %v, %v: want its label only", only, err)
	}
}
