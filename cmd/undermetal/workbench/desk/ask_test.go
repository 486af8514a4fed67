package desk

import (
	"errors"
	"path/filepath"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// plates makes a dossier with three plates of 10 × 10 µm in diffusions of 30 × 30 µm, drawn one by one.
func plates(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plates.dossier")
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		t.Fatal(err)
	}
	d, err := dossier.Create(t.Context(), path, st)
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
		}
		return errors.Join(errs...)
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestAnswerCongruent: what is drawn three times is one question. Its answer holds in all three places, as one edit; so does another one,
// and the taking back.
func TestAnswerCongruent(t *testing.T) {
	b := open(t, plates(t), Options{})
	defer b.close()
	b.settle()
	holds := func(when string, verdicts, capacitors int) {
		t.Helper()
		b.settle()
		kept, err := b.dos.Verdicts()
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, d := range b.live.res.Circuit.Devices {
			if d.Kind == netlist.Capacitor {
				n++
			}
		}
		if len(kept) != verdicts || n != capacitors {
			t.Errorf("%s: %d verdicts and %d capacitors, want %d and %d", when, len(kept), n, verdicts, capacitors)
		}
	}
	answer := func(reading string) {
		t.Helper()
		for _, q := range b.live.questions {
			if q.Kind == "transistor-or-capacitor" {
				if q.Count != 3 {
					t.Fatalf("the question is asked for %d places", q.Count)
				}
				if err := b.answer(q, reading); err != nil {
					t.Fatal(err)
				}
				return
			}
		}
		t.Fatal("there is no such question")
	}
	holds("before", 0, 0)
	answer("capacitor")
	holds("answered", 3, 3)
	answer("dummy")
	holds("answered otherwise", 3, 0)
	b.keys("u")
	holds("undone", 3, 3)
	answer("")
	holds("taken back", 0, 0)
	b.keys("u u")
	holds("all undone", 0, 0)
}

// TestQuestionMeanwhile: a question that is open on its page when there is another circuit is answered as it is in that one, and the reading that
// was chosen stays so; where what it asked about is gone, the page is, too.
func TestQuestionMeanwhile(t *testing.T) {
	b := open(t, plates(t), Options{})
	defer b.close()
	b.settle()
	b.keys("4", "F6")
	for i, q := range b.live.questions {
		if q.Kind == "transistor-or-capacitor" {
			b.showQuestion(i)
		}
	}
	b.keys("Down")
	chosen := b.Page().Choose[b.Page().Chosen].Text
	// Another hand, as a verb in the background is, answers it and draws before it.
	elsewhere := func(what string, f func(tx *dossier.Tx) error) {
		t.Helper()
		if err := b.dos.Edit(t.Context(), what, f); err != nil {
			t.Fatal(err)
		}
		b.changed()
		b.settle()
	}
	elsewhere("answer", func(tx *dossier.Tx) error {
		return tx.AddVerdict(&dossier.Verdict{Cell: dossier.Frame, Layer: "poly", At: geom.Point{X: 15000, Y: 15000}, Kind: "transistor-or-capacitor", Reading: "capacitor"})
	})
	p := b.Page()
	if p == nil {
		t.Fatal("the page is closed")
	}
	if got := p.Choose[p.Chosen].Text; got != chosen {
		t.Errorf("chosen is %s, it was %s", got, chosen)
	}
	if q := b.page.asks; q.Verdict != "capacitor" {
		t.Errorf("the page says that the answer is %q", q.Verdict)
	}
	elsewhere("erase", func(tx *dossier.Tx) error {
		shapes, err := tx.Shapes(dossier.Frame)
		for _, s := range shapes {
			err = errors.Join(err, tx.RemoveShape(s.ID))
		}
		return err
	})
	if b.Page() != nil {
		t.Errorf("still asked: %s", b.Page().Title)
	}
}
