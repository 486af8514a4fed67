package svg

import (
	"bytes"
	"maps"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// What is said of shapes comes back with them, by cell; read with a place of its own a drawing says nothing.
func TestStatedComesBack(t *testing.T) {
	square := geom.Polygon{geom.Box(0, 0, 1000, 1000).Ring()}
	a, b := &layout.Cell{Name: "A"}, &layout.Cell{Name: "B"}
	for range 3 {
		a.Shapes = append(a.Shapes, layout.Shape{Polygon: square})
		b.Shapes = append(b.Shapes, layout.Shape{Layer: 1, Polygon: square})
	}
	a.Placements = []layout.Placement{{Cell: b, Transform: geom.Identity}}
	said := layout.Statements{}
	said.Set(a, 1, layout.Stated{SigmaNm: 0.1, HasSigma: true, Shot: `<"&'>`})
	said.Set(b, 0, layout.Stated{HasSigma: true})
	said.Set(b, 2, layout.Stated{Shot: "bare"})
	lib := &layout.Library{Layers: []string{"poly", "metal1"}, Cells: []*layout.Cell{a, b}, Traced: []layout.Shape{{Polygon: square}}}
	var out bytes.Buffer
	err := Write(&out, lib, nil, nil, func(s *layout.Shape) layout.Stated {
		for c, list := range said {
			for i, v := range list {
				if s == &c.Shapes[i] {
					return v
				}
			}
		}
		return layout.Stated{}
	})
	if err != nil {
		t.Fatal(err)
	}
	d, err := Parse("back.svg", &out)
	if err != nil {
		t.Fatal(err)
	}
	back, rep, err := d.Library(Options{})
	if err != nil || len(back.Cells) != 2 || len(rep.Stated) != 2 {
		t.Fatalf("%v, %v", rep, err)
	}
	for i, c := range lib.Cells {
		if got := rep.Stated[back.Cells[i]]; !maps.Equal(got, said[c]) {
			t.Errorf("of cell %s: %v, want %v", c.Name, got, said[c])
		}
	}
	if _, rep, err = d.Library(Options{Place: pen.UmPerUnit(1, geom.Vec{}), Layers: lib.Layers}); err != nil || rep.Stated != nil {
		t.Errorf("placed: %v, %v", rep, err)
	}
}

func TestStatedFaults(t *testing.T) {
	for _, text := range []string{"", "x", "-1", "NaN", "Inf", "1e999", strings.Repeat("9", 50) + "x"} {
		d := mustParse(t, `<svg data-um-per-unit="1"><rect data-layer="m" width="2" height="2" data-sigma-nm="`+text+`"/></svg>`)
		_, _, err := d.Library(Options{})
		if err == nil || !strings.Contains(err.Error(), "it is the standard uncertainty of the edges in nm, 0 or more\n    correct it, or leave it out") {
			t.Errorf("%q: %v", text, err)
		}
	}
	d := mustParse(t, `<svg data-um-per-unit="1"><rect data-layer="m" width="2" height="2" data-sigma-nm="12.5"/><path data-layer="m" data-sigma-nm="3" fill="none" stroke="red" d="M0 0H9"/></svg>`)
	lib, rep, err := d.Library(Options{})
	if err != nil || !slices.Equal([]float64{rep.Stated[lib.Cells[0]][0].SigmaNm, rep.Stated[lib.Cells[0]][1].SigmaNm}, []float64{12.5, 3}) {
		t.Errorf("%v, %v", rep, err)
	}
}
