package dossier

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// TestEditUnderWay: a file in which somebody has written that an edit is under way is edited and undone as any other.
func TestEditUnderWay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	if _, err := d.writer.Exec("UPDATE recording SET edit = 1"); err != nil {
		t.Fatal(err)
	}
	d.Close()
	d = reopen(t, path)
	for _, step := range []func(context.Context) (string, error){d.Undo, d.Redo, d.Undo} {
		if _, err := step(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := d.count("SELECT count(*) FROM change"); err != nil || n != 1 {
		t.Errorf("%d changes, %v", n, err)
	}
	d.Close()
}

// TestEditTexts: what SQLite refuses is said in words of the trade, with the file.
func TestEditTexts(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	s := addShot(t, d, "one", 10, 10)
	two := addShot(t, d, "two", 10, 10)
	edit(t, d, "cells", func(tx *Tx) error { return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddCell(&Cell{Name: "B"})) })
	two.Name = "one"
	for want, f := range map[string]func(tx *Tx) error{
		"a.dossier: the name is taken already":                       func(tx *Tx) error { return tx.SetCell(&Cell{ID: 3, Name: "A"}) },
		`there is a shot "one" already`:                              func(tx *Tx) error { return tx.SetShot(two) },
		"a.dossier: it refers to a cell or a shot that is not there": func(tx *Tx) error { return tx.AddNote(&Note{Cell: 9}) },
		`the registration of shot 1: "" is no kind of map`:           func(tx *Tx) error { return tx.SetRegistration(&Registration{Shot: s.ID}) },
		"1 control points would leave the frame": func(tx *Tx) error {
			return errors.Join(tx.SetControlPoints(s.ID, []ControlPoint{{PX: 1, Y: geom.Limit / 2}}), tx.Rescale(2.5))
		},
		"a cell would contain itself": func(tx *Tx) error {
			return tx.AddPlacement(&Placement{Parent: 2, Child: 2, Magnification: 1, Columns: 1, Rows: 1})
		},
	} {
		if err := d.Edit(t.Context(), "x", f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	h, _ := d.History()
	edit(t, d, "to what it is", func(tx *Tx) error { return tx.SetCell(&Cell{ID: 2, Name: "A"}) })
	if again, err := d.History(); err != nil || len(again) != len(h) {
		t.Errorf("an edit that changes nothing is in the journal: %v", again)
	}
	d.Close()
	if _, err := d.Notes(); err == nil {
		t.Error("a closed dossier answers")
	}
}

// TestUndoKeepsStack: a journal that somebody gave a stack that is none does not put it in.
func TestUndoKeepsStack(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	text, err := d.StackText()
	if err != nil {
		t.Fatal(err)
	}
	edit(t, d, "stack", func(tx *Tx) error { return tx.SetStack(text + "\n# changed\n") })
	if _, err := d.writer.Exec("UPDATE change SET before = '1,''rubbish'''"); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Undo(t.Context()); err == nil || !strings.Contains(err.Error(), "edit 1 (stack)") {
		t.Error(err)
	}
	if after, err := d.StackText(); err != nil || after != text+"\n# changed\n" {
		t.Error(after, err)
	}
}

// TestUsedLayers: a layer is in use where a shape, an area, a label or a verdict lies on it.
func TestUsedLayers(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	edit(t, d, "draw", func(tx *Tx) error {
		return errors.Join(tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(0, 0, 9)}), tx.AddArea(&Area{Layer: "metal1", Polygon: square(0, 0, 9)}),
			tx.AddLabel(&Label{Cell: Frame, Layer: "nwell", Text: "x"}), tx.AddVerdict(&Verdict{Cell: Frame, Layer: "contact1"}), tx.AddVerdict(&Verdict{Cell: Frame}))
	})
	if used, err := d.UsedLayers(); err != nil || strings.Join(used, " ") != "contact1 metal1 nwell poly" {
		t.Error(used, err)
	}
}

// TestControlPointsOutside: a place that lies on no photograph, or beyond the frame, is not kept; one on the rim is. Shots
// are as they lie upright: one of 20 × 10 px that is turned has 10 × 20.
func TestControlPointsOutside(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 20, 10)
	s.Header.Orientation = shot.RightTop
	edit(t, d, "turn", func(tx *Tx) error { return tx.SetShot(s) })
	for want, p := range map[string]ControlPoint{
		`control point 2 of shot "one": (10.5, 3) lies outside of one, which has 10 × 20 pixels`:                  {PX: 10.5, PY: 3},
		`control point 2 of shot "one": (3, -0.5) lies outside of one, which has 10 × 20 pixels`:                  {PX: 3, PY: -0.5},
		`control point 2 of shot "one": (1.07375e+06, 0) µm lies outside the frame, which reaches to ±1073742 µm`: {X: 1073750e3},
		`control point 2 of shot "one": an uncertainty of -1 px: give a standard deviation, 0 or more`:            {SigmaPx: -1},
		`control point 2 of shot "one": NaN cannot be kept: numbers must be finite`:                               {PX: math.NaN()},
	} {
		err := d.Edit(t.Context(), "x", func(tx *Tx) error {
			return tx.SetControlPoints(s.ID, []ControlPoint{{PX: 10, PY: 20, X: geom.Limit, Y: -geom.Limit}, p})
		})
		if err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
	edit(t, d, "on the rim", func(tx *Tx) error {
		return tx.SetControlPoints(s.ID, []ControlPoint{{PX: 10, PY: 20, X: geom.Limit, Y: -geom.Limit}})
	})
	// A row that somebody else wrote is refused where it is read.
	edit(t, d, "by hand", func(tx *Tx) error { _, err := tx.exec("UPDATE control_point SET py = 21"); return err })
	if _, err := d.ControlPoints(s.ID); err == nil || !strings.Contains(err.Error(), `control point 1 of shot "one": (10, 21) lies outside of one`) {
		t.Error(err)
	}
	edit(t, d, "none", func(tx *Tx) error { return tx.SetControlPoints(s.ID, nil) }) // the last check of the file finds it too
	if err := d.Edit(t.Context(), "x", func(tx *Tx) error { return tx.SetControlPoints(9, nil) }); !errors.Is(err, ErrMissing) {
		t.Error(err)
	}
}
