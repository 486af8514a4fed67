package dossier

import (
	"errors"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// TestSetAndRemove: each kind of thing is changed and removed, nothing else is, and two undos bring back what was.
func TestSetAndRemove(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	one := addShot(t, d, "one", 10, 10)
	two := addShot(t, d, "two", 10, 10)
	at := func(x int) geom.Point { return geom.Point{X: x, Y: -x} }
	placement := func(x int) Placement {
		return Placement{Parent: Frame, Child: 2, Magnification: 1, At: at(x), Columns: 1, Rows: 1}
	}
	things := func(i int) (Cell, Shape, Placement, Label, Area, Verdict, Note, Block) {
		name := string(rune('A' + i))
		return Cell{Name: name}, Shape{Cell: Frame, Layer: "poly", Polygon: square(i, 0, 5), Method: "hand"}, placement(i), Label{Cell: Frame, Layer: "poly", At: at(i), Text: name},
			Area{Layer: "poly", Polygon: square(i, 0, 50)}, Verdict{Cell: Frame, At: at(i), Kind: "device", Reading: name}, Note{Cell: Frame, At: at(i), Text: name}, Block{Name: name, Polygon: square(i, 0, 7), Status: Seen}
	}
	edit(t, d, "two of each", func(tx *Tx) error {
		var errs []error
		for i := range 2 {
			c, s, p, l, a, v, n, b := things(i)
			errs = append(errs, tx.AddCell(&c), tx.AddShape(&s), tx.AddPlacement(&p), tx.AddLabel(&l), tx.AddArea(&a), tx.AddVerdict(&v), tx.AddNote(&n), tx.AddBlock(&b))
		}
		return errors.Join(errs...)
	})
	c, s, p, l, a, v, n, b := things(7)
	c.ID, s.ID, p.ID, l.ID, a.ID, v.ID, n.ID, b.ID = 3, 2, 2, 2, 2, 2, 2, 2
	shot := *two
	shot.Name = "renamed"
	for _, tc := range []struct {
		what   string
		set    func(*Tx) error
		remove func(*Tx) error
		all    func() (any, error) // a slice
		want   any                 // the second of it, once set
	}{
		{"shape", func(tx *Tx) error { return tx.SetShape(&s) }, func(tx *Tx) error { return tx.RemoveShape(2) }, func() (any, error) { return d.Shapes(Frame) }, s},
		{"placement", func(tx *Tx) error { return tx.SetPlacement(&p) }, func(tx *Tx) error { return tx.RemovePlacement(2) }, func() (any, error) { return d.Placements(Frame) }, p},
		{"label", func(tx *Tx) error { return tx.SetLabel(&l) }, func(tx *Tx) error { return tx.RemoveLabel(2) }, func() (any, error) { return d.Labels(Frame) }, l},
		{"area", func(tx *Tx) error { return tx.SetArea(&a) }, func(tx *Tx) error { return tx.RemoveArea(2) }, func() (any, error) { return d.Areas() }, a},
		{"verdict", func(tx *Tx) error { return tx.SetVerdict(&v) }, func(tx *Tx) error { return tx.RemoveVerdict(2) }, func() (any, error) { return d.Verdicts() }, v},
		{"note", func(tx *Tx) error { return tx.SetNote(&n) }, func(tx *Tx) error { return tx.RemoveNote(2) }, func() (any, error) { return d.Notes() }, n},
		{"block", func(tx *Tx) error { return tx.SetBlock(&b) }, func(tx *Tx) error { return tx.RemoveBlock(2) }, func() (any, error) { return d.Blocks() }, b},
		{"cell", func(tx *Tx) error { return tx.SetCell(&c) }, func(tx *Tx) error { return tx.RemoveCell(3) }, func() (any, error) { all, err := d.Cells(); return all[1:], err }, c},
		{"shot", func(tx *Tx) error { return tx.SetShot(&shot) }, func(tx *Tx) error { return tx.RemoveShot(two.ID) }, func() (any, error) { return d.Shots() }, shot},
	} {
		list := func() reflect.Value {
			all, err := tc.all()
			if err != nil {
				t.Fatal(tc.what, err)
			}
			return reflect.ValueOf(all)
		}
		before, first := dump(t, d.reads), list().Index(0).Interface()
		edit(t, d, "set", tc.set)
		if all := list(); all.Len() != 2 || !reflect.DeepEqual(all.Index(0).Interface(), first) || !reflect.DeepEqual(all.Index(1).Interface(), tc.want) {
			t.Errorf("%s: set %+v, want %+v beside %+v", tc.what, all, tc.want, first)
		}
		edit(t, d, "remove", tc.remove)
		if all := list(); all.Len() != 1 || !reflect.DeepEqual(all.Index(0).Interface(), first) {
			t.Errorf("%s: removed, %+v is left", tc.what, all)
		}
		if err := d.Edit(t.Context(), "again", tc.remove); err == nil || !strings.Contains(err.Error(), "there is no ") {
			t.Errorf("%s: removed twice: %v", tc.what, err)
		}
		if err := d.Edit(t.Context(), "again", tc.set); err == nil {
			t.Errorf("%s: set though it is not there", tc.what)
		}
		for range 2 {
			if _, err := d.Undo(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if dump(t, d.reads) != before {
			t.Errorf("%s: undo did not bring it back", tc.what)
		}
	}
	if shots, err := d.Shots(); err != nil || shots[0].ID != one.ID {
		t.Error(shots, err)
	}
}

// TestRemoveCell: a cell goes with all that is in it or places it, but for verdicts; undo brings all of it back.
func TestRemoveCell(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	edit(t, d, "draw", func(tx *Tx) error {
		return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddCell(&Cell{Name: "B"}),
			tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(0, 0, 5)}), tx.AddShape(&Shape{Cell: 3, Layer: "poly", Polygon: square(0, 0, 6)}),
			tx.AddLabel(&Label{Cell: 2, Layer: "poly", Text: "x"}), tx.AddVerdict(&Verdict{Cell: 2}), tx.AddNote(&Note{Cell: 2}),
			tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Columns: 1, Rows: 1}), tx.AddPlacement(&Placement{Parent: 2, Child: 3, Magnification: 1, Columns: 1, Rows: 1}), tx.AddPlacement(&Placement{Parent: Frame, Child: 3, Magnification: 1, Columns: 1, Rows: 1}))
	})
	before := dump(t, d.reads)
	edit(t, d, "remove", func(tx *Tx) error { return tx.RemoveCell(2) })
	for what, want := range map[string]int{"cell": 2, "shape": 1, "shape_box": 1, "label": 0, "verdict": 1, "note": 0, "placement": 1} {
		if n, err := d.count("SELECT count(*) FROM " + what); err != nil || n != want {
			t.Errorf("%d of %s, want %d, %v", n, what, want, err)
		}
	}
	if verdicts, err := d.Verdicts(); err != nil || verdicts[0].Cell != 0 || verdicts[0].Lost != "A" {
		t.Error(verdicts, err)
	}
	if _, err := d.Undo(t.Context()); err != nil {
		t.Fatal(err)
	}
	if dump(t, d.reads) != before {
		t.Error("undo did not bring it back")
	}
}
