package dossier

import (
	"errors"
	"path/filepath"
	"slices"
	"testing"

	"undermetal/layout"
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

// TestLibraryVerdicts: verdicts come with their cells; those whose cell is gone, or that are of no layer, are listed.
func TestLibraryVerdicts(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	defer d.Close()
	kept, gone := Cell{Name: "KEPT"}, Cell{Name: "GONE"}
	edit(t, d, "draw", func(tx *Tx) error {
		if err := errors.Join(tx.AddCell(&kept), tx.AddCell(&gone)); err != nil {
			return err
		}
		return errors.Join(tx.AddVerdict(&Verdict{Cell: kept.ID, Layer: "poly", At: geom.Point{X: 1, Y: 2}, Kind: "polarity", Reading: "n"}),
			tx.AddVerdict(&Verdict{Cell: gone.ID, Layer: "metal1", At: geom.Point{X: 3}, Kind: "near-miss", Reading: "joined"}),
			tx.AddVerdict(&Verdict{Cell: Frame, Kind: "bulk", Reading: "VSS"}))
	})
	edit(t, d, "remove", func(tx *Tx) error { return tx.RemoveCell(gone.ID) })
	lib, err := d.Library()
	if err != nil {
		t.Fatal(err)
	}
	poly, _ := lib.LayerNamed("poly")
	metal, _ := lib.LayerNamed("metal1")
	if got, want := lib.Cell("KEPT").Verdicts, []layout.Verdict{{Layer: poly, At: geom.Point{X: 1, Y: 2}, Kind: "polarity", Reading: "n"}}; !slices.Equal(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	want := []layout.LostVerdict{{Verdict: layout.Verdict{Layer: metal, At: geom.Point{X: 3}, Kind: "near-miss", Reading: "joined"}, Cell: "GONE"},
		{Verdict: layout.Verdict{Kind: "bulk", Reading: "VSS"}, Cell: lib.Cells[0].Name}}
	if !slices.Equal(lib.Lost, want) || len(lib.Cells[0].Verdicts) != 0 {
		t.Errorf("%+v, want %+v", lib.Lost, want)
	}
	lib, _, err = d.Excerpt("poly")
	if err != nil || len(lib.Cell("KEPT").Verdicts) != 1 || len(lib.Lost) != 1 {
		t.Errorf("of poly only: %+v, %v", lib.Lost, err)
	}
}
