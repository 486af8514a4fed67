package dossier

import (
	"path/filepath"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestExcerpt: what lies on other layers is left out, and each shape says where it comes from.
func TestExcerpt(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	defer d.Close()
	add := func(cell int64, layer, method, file string, sigma float64, x int) {
		edit(t, d, "add", func(tx *Tx) error {
			return tx.AddShape(&Shape{Cell: cell, Layer: layer, Polygon: square(x, 0, 10), Method: method, File: file, SigmaNm: sigma})
		})
	}
	c := Cell{Name: "C"}
	edit(t, d, "add cell", func(tx *Tx) error {
		if err := tx.AddCell(&c); err != nil {
			return err
		}
		if err := tx.AddLabel(&Label{Cell: Frame, Layer: "poly", Text: "P"}); err != nil {
			return err
		}
		if err := tx.AddLabel(&Label{Cell: Frame, Layer: "metal1", Text: "M"}); err != nil {
			return err
		}
		return tx.AddArea(&Area{Layer: "poly", Polygon: square(0, 0, 9)})
	})
	add(Frame, "poly", "hand", "", 5, 0)
	add(Frame, "metal1", "file", "a.svg", 7, 1)
	add(Frame, "metal1", "file", "a.svg", 7, 2)
	add(c.ID, "metal1", "file", "b.svg", 7, 3)
	add(c.ID, "metal1", "hand", "a.svg", 7, 4)

	lib, origins, err := d.Excerpt("metal1")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(lib.Layers, []string{"metal1"}) || len(lib.Cells) != 2 || len(lib.Cells[0].Shapes) != 2 || len(lib.Cells[1].Shapes) != 2 || len(lib.Cells[0].Labels) != 1 || lib.Cells[0].Labels[0].Text != "M" || len(lib.Traced) != 0 {
		t.Errorf("%+v", lib)
	}
	first := &lib.Cells[0].Shapes[0]
	if o := origins[first]; o == nil || *o != (Origin{"file", 0, "a.svg", 7}) || origins[&lib.Cells[0].Shapes[1]] != o || first.Polygon[0][0] != (geom.Point{X: 1}) {
		t.Errorf("%+v", o)
	}
	if o := origins[&lib.Cells[1].Shapes[0]]; o == nil || o.File != "b.svg" {
		t.Errorf("%+v", o)
	}
	all, origins, err := d.Excerpt()
	if err != nil || len(origins) != 5 || len(all.Traced) != 1 {
		t.Errorf("%d shapes, %d areas, %v", len(origins), len(all.Traced), err)
	}
	plain, err := d.Library()
	if err != nil || !slices.EqualFunc(plain.Cells[0].Shapes, all.Cells[0].Shapes, func(a, b layout.Shape) bool { return a.Layer == b.Layer }) {
		t.Errorf("%v %v", plain, err)
	}

	from, err := d.ShapesFromFile("a.svg") // that of c was drawn by hand
	if err != nil || len(from) != 1 || len(from[Frame]) != 2 {
		t.Errorf("%v %v", from, err)
	}
	if from, err := d.ShapesFromFile("none.svg"); err != nil || len(from) != 0 {
		t.Errorf("%v %v", from, err)
	}
	if n, err := d.CountShapes(c.ID); err != nil || n != 2 {
		t.Errorf("%d %v", n, err)
	}
}
