package main

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// newPlates makes plates.dossier: three plates of 10 × 10 µm in diffusions of 30 × 30 µm, drawn one by one.
func newPlates(t *testing.T) {
	t.Helper()
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		t.Fatal(err)
	}
	d, err := dossier.Create(t.Context(), "plates.dossier", st)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "draw", func(tx *dossier.Tx) error {
		var errs []error
		for i := range 3 {
			x := 100000 * i
			for layer, b := range map[string]geom.Rect{"diffusion": geom.Box(x, 0, x+30000, 30000), "poly": geom.Box(x+10000, 10000, x+20000, 20000)} {
				errs = append(errs, tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: layer, Method: "hand", Polygon: geom.Polygon{b.Ring()}}))
			}
			errs = append(errs, tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "poly", At: geom.Point{X: x + 15000, Y: 15000}, Text: fmt.Sprint("UP", i)}),
				tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "diffusion", At: geom.Point{X: x + 5000, Y: 5000}, Text: fmt.Sprint("DOWN", i)}))
		}
		return errors.Join(errs...)
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
}

// capacitors counts those of plates.dossier.
func capacitors(t *testing.T) int {
	t.Helper()
	return len(linesOf(said(t, "extract plates.dossier --spice -"), "C"))
}

// want fails where a text lacks any of some others.
func want(t *testing.T, text string, all ...string) {
	t.Helper()
	for _, s := range all {
		if !strings.Contains(text, s) {
			t.Errorf("no %q in\n%s", s, text)
		}
	}
}

// TestAnswerCongruent: what is drawn three times is one question; its answer holds in all three places, as one edit, and so does another one
// and the taking back.
func TestAnswerCongruent(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlates(t)
	want(t, said(t, "questions plates.dossier --kind transistor-or-capacitor"), "1 question open, 0 answered")
	want(t, said(t, "questions plates.dossier --answer transistor=capacitor"), "at 15.000, 15.000 µm of the die and in 2 places like it")
	if n := capacitors(t); n != 3 {
		t.Errorf("%d capacitors", n)
	}
	want(t, said(t, "questions plates.dossier --kind transistor-or-capacitor"), "0 questions open, 1 answered")
	said(t, "undo plates.dossier")
	if n := capacitors(t); n != 0 {
		t.Errorf("%d capacitors after undo", n)
	}
	said(t, "redo plates.dossier")
	want(t, said(t, "questions plates.dossier --answer transistor=dummy"), "is dummy, was capacitor", "2 places like it")
	if n := capacitors(t); n != 0 {
		t.Errorf("%d capacitors that are dummies", n)
	}
	want(t, said(t, "info plates.dossier"), "3  answers")
	want(t, said(t, "questions plates.dossier --withdraw transistor"), "is open again, was dummy; it had 3 answers, and all are taken back:", "\n    v1 at 15.000, 15.000 µm of cell die\n", "\n    v3 at 215.000, 15.000 µm")
	want(t, said(t, "questions plates.dossier --kind transistor-or-capacitor"), "1 question open, 0 answered")
}

// TestWithdrawOne: of two answers for single places, one can be taken back by what it is called, and the question tells both.
func TestWithdrawOne(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlates(t)
	for range 2 { // the second is for the first of those that are still open
		id := shortOpen(t)
		said(t, "questions plates.dossier --here --answer "+id+"=capacitor")
	}
	if n := capacitors(t); n != 2 {
		t.Fatalf("%d capacitors", n)
	}
	want(t, said(t, "questions plates.dossier --kind transistor-or-capacitor"), "1 question open, 1 answered")
	list := strings.Fields(lineWith(t, said(t, "questions plates.dossier --kind transistor-or-capacitor"), "capacitor  ", " capacitor"))
	want(t, said(t, "questions plates.dossier --show "+list[0]), "v1 at 15.000, 15.000 µm of cell die", "v2 at 115.000, 15.000 µm of cell die")
	want(t, said(t, "questions plates.dossier --withdraw v2"), "v2: the answer capacitor")
	if n := capacitors(t); n != 1 {
		t.Errorf("%d capacitors", n)
	}
	said(t, "undo plates.dossier")
	want(t, said(t, "questions plates.dossier --withdraw "+list[0]), "it had 2 answers, and all are taken back:", "v1 at", "v2 at")
	if n := capacitors(t); n != 0 {
		t.Errorf("%d capacitors", n)
	}
}

// lineWith returns the line of a text that has one text and ends in another.
func lineWith(t *testing.T, text, has, end string) string {
	t.Helper()
	for l := range strings.Lines(text) {
		if l = strings.TrimSpace(l); strings.Contains(l, has) && strings.HasSuffix(l, end) {
			return l
		}
	}
	t.Fatalf("no line with %q and %q in\n%s", has, end, text)
	return ""
}

// shortOpen returns what the open question of plates.dossier is called by.
func shortOpen(t *testing.T) string {
	t.Helper()
	for l := range strings.Lines(said(t, "questions plates.dossier --kind transistor-or-capacitor")) {
		if f := strings.Fields(l); len(f) > 3 && f[1] == "transistor-or-capacitor" && f[len(f)-1] != "capacitor" {
			return f[0]
		}
	}
	t.Fatal("no question is open")
	return ""
}
