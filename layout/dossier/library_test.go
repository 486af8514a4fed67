package dossier

import (
	"path/filepath"
	"testing"

	"undermetal/layout/geom"
)

// TestLibraryWithin: an edit sees what it has written, a reading what was there when it began.
func TestLibraryWithin(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	defer d.Close()
	edit(t, d, "draw", func(tx *Tx) error {
		if err := tx.AddShape(&Shape{Cell: Frame, Layer: "metal1", Method: "hand", Polygon: geom.Polygon{geom.Box(0, 0, 10, 10).Ring()}}); err != nil {
			return err
		}
		lib, err := tx.Library()
		if err == nil && len(lib.Cells[0].Shapes) != 1 {
			t.Errorf("%d shapes within the edit", len(lib.Cells[0].Shapes))
		}
		return err
	})
	err := d.Moment(func(m Moment) error {
		lib, err := m.Library()
		if err == nil && (len(lib.Cells[0].Shapes) != 1 || lib.Cells[0].Shapes[0].Polygon.Bounds() != geom.Box(0, 0, 10, 10)) {
			t.Errorf("%+v", lib.Cells[0].Shapes)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}
