package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"undermetal/layout/dossier"
	editing "undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// writeBroken makes a dossier with what a tracing by hand gets wrong, all lengths in nm:
//
//	metal1, a wire along y = 0 … 1000: A from x = 0 to 10000, a gap of 150, then on to 20000
//	metal1, another along y = 3000 … 4000 with labels B and C on either side of a gap of 100
//	metal1, two pieces along y = 6000 … 7000 with a gap of 200, in which a stub of 100 of D stands, 50 from each
//	metal2, a bow-tie whose outline crosses itself at (2000, 12000)
//	a via at (30000, 0) over nothing, one at (5000, 400) over metal1 only
//	a transistor: diffusion 40000 … 46000 × 0 … 2000, poly 42000 … 43000 from y = -500 to 1900, which ends inside, and another
//	at 44000 … 45000 from y = -500 to 2050, which passes the edge by 50
func writeBroken(name string) error {
	ctx := context.Background()
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		return err
	}
	d, err := dossier.Create(ctx, name, st)
	if err != nil {
		return err
	}
	err = d.Edit(ctx, "draw", func(tx *dossier.Tx) error {
		for _, b := range []struct {
			layer          string
			x0, y0, x1, y1 int
		}{
			{"metal1", 0, 0, 10000, 1000}, {"metal1", 10150, 0, 20000, 1000},
			{"metal1", 0, 3000, 5000, 4000}, {"metal1", 5100, 3000, 10000, 4000},
			{"metal1", 0, 6000, 5000, 7000}, {"metal1", 5200, 6000, 10000, 7000}, {"metal1", 5050, 5000, 5150, 9000},
			{"via1", 30000, 0, 30500, 500}, {"via1", 5000, 400, 5500, 900},
			{"diffusion", 40000, 0, 46000, 2000}, {"poly", 42000, -500, 43000, 1900}, {"poly", 44000, -500, 45000, 2050},
		} {
			on := editing.On{Cell: dossier.Frame, Layer: b.layer, Origin: editing.Origin{SigmaNm: 30}}
			if _, err := editing.Rectangle(tx, on, geom.Point{X: b.x0, Y: b.y0}, geom.Point{X: b.x1, Y: b.y1}); err != nil {
				return err
			}
		}
		bow := dossier.Shape{Cell: dossier.Frame, Layer: "metal2", Method: "file", Polygon: geom.Polygon{{{X: 0, Y: 10000}, {X: 4000, Y: 14000}, {X: 4000, Y: 10000}, {X: 0, Y: 14000}}}}
		if err := tx.AddShape(&bow); err != nil {
			return err
		}
		for text, at := range map[string]geom.Point{"A": {X: 100, Y: 500}, "B": {X: 100, Y: 3500}, "C": {X: 9000, Y: 3500}, "D": {X: 5100, Y: 8000}} {
			if _, err := editing.SetLabel(tx, dossier.Frame, "metal1", at, text); err != nil {
				return err
			}
		}
		return nil
	})
	return errors.Join(err, d.Close())
}

// call runs the command and wants it to succeed.
func call(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(args, &stdout, &stderr); status != exitDone {
		t.Fatalf("%v: exit status %d\n%s", args, status, stderr.String())
	}
	return stdout.String()
}

func shapesOf(t *testing.T, name string) (all []dossier.Shape) {
	t.Helper()
	d, err := dossier.OpenToRead(context.Background(), name)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if all, err = d.Shapes(dossier.Frame); err != nil {
		t.Fatal(err)
	}
	return all
}

// TestHealIsOneEdit: nothing but the new shapes is changed, these know where they come from, undo takes all of them back and
// redo brings them again, to the last field.
func TestHealIsOneEdit(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := errors.Join(writeBroken("broken.dossier"), writePhotos(".")); err != nil {
		t.Fatal(err)
	}
	call(t, "shot", "add", "broken.dossier", "bare.png")
	call(t, "shot", "calibrate", "broken.dossier", "bare", "--scale", "0.1", "--sigma", "0.0002")
	ctx := context.Background()
	d, err := dossier.Open(ctx, "broken.dossier")
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(ctx, "trace", func(tx *dossier.Tx) error { // a gap between what was traced over one photograph, and one of it and of none
		s, err := tx.Shot("bare")
		for _, b := range []struct {
			x0, x1 int
			shot   int64
			sigma  float64
		}{{0, 5000, s.ID, 20}, {5100, 9000, s.ID, 45}, {9100, 12000, 0, 10}} {
			on := editing.On{Cell: dossier.Frame, Layer: "metal2", Origin: editing.Origin{Shot: b.shot, SigmaNm: b.sigma}}
			_, e := editing.Rectangle(tx, on, geom.Point{X: b.x0, Y: 20000}, geom.Point{X: b.x1, Y: 21000})
			err = errors.Join(err, e)
		}
		return err
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	before := shapesOf(t, "broken.dossier")
	call(t, "trace", "heal", "broken.dossier")
	after := shapesOf(t, "broken.dossier")
	if !reflect.DeepEqual(after[:len(before)], before) {
		t.Error("healing changed what was there")
	}
	var got []string
	for _, s := range after[len(before):] {
		if s.Method != "heal" || s.Cell != dossier.Frame || s.File != "" {
			t.Errorf("%+v", s)
		}
		got = append(got, fmt.Sprintf("%s %v σ %g over %d", s.Layer, s.Polygon.Bounds(), s.SigmaNm, s.Shot))
	}
	want := []string{ // the gaps, and 2 nm on either side
		"metal1 {{9998 0} {10152 1000}} σ 30 over 0", "metal1 {{4998 6000} {5052 7000}} σ 30 over 0", "metal1 {{5148 6000} {5202 7000}} σ 30 over 0",
		"metal2 {{4998 20000} {5102 21000}} σ 45 over 1", "metal2 {{8998 20000} {9102 21000}} σ 45 over 0",
	}
	if !slices.Equal(slices.DeleteFunc(got, func(s string) bool { return strings.Contains(s, "σ 0") }), want) { // without the bow-tie's
		t.Errorf("got  %q\nwant %q", got, want)
	}
	call(t, "undo", "broken.dossier")
	if !reflect.DeepEqual(shapesOf(t, "broken.dossier"), before) {
		t.Error("undo does not bring back what was there")
	}
	call(t, "redo", "broken.dossier")
	if !reflect.DeepEqual(shapesOf(t, "broken.dossier"), after) {
		t.Error("redo does not bring back what was healed")
	}
}

// TestCheckOffShot: a photograph of 800 × 600 px of 0.1 µm lies from (0, 0) to (80, 60) µm.
func TestCheckOffShot(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := errors.Join(writeBroken("broken.dossier"), writePhotos(".")); err != nil {
		t.Fatal(err)
	}
	call(t, "shot", "add", "broken.dossier", "bare.png")
	call(t, "shot", "calibrate", "broken.dossier", "bare", "--scale", "0.1", "--sigma", "0.0002")
	ctx := context.Background()
	d, err := dossier.Open(ctx, "broken.dossier")
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(ctx, "trace", func(tx *dossier.Tx) error {
		s, err := tx.Shot("bare")
		for _, b := range []geom.Rect{geom.Box(70000, 50000, 80150, 51000), geom.Box(70000, 52000, 80300, 53000)} { // by less and by more than 2 px
			_, e := editing.Rectangle(tx, editing.On{Cell: dossier.Frame, Layer: "metal2", Origin: editing.Origin{Shot: s.ID}}, b.Min, b.Max)
			err = errors.Join(err, e)
		}
		_, e := editing.Rectangle(tx, editing.On{Cell: dossier.Frame, Layer: "metal2"}, geom.Point{X: 90000}, geom.Point{X: 91000, Y: 1000})
		return errors.Join(err, e)
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	out := call(t, "trace", "check", "broken.dossier")
	for _, want := range []string{"tolerance 0.2 µm, 2 px of bare", "80.300, 52.000     0.300  reaches 0.3 µm beyond the photograph bare", "90.000, 0.000            lies on no photograph", "2 off-shot"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// TestHealInterrupted: a heal that is interrupted before it is done has changed nothing, and neither has a check.
func TestHealInterrupted(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writeBroken("broken.dossier"); err != nil {
		t.Fatal(err)
	}
	before := shapesOf(t, "broken.dossier")
	for _, verb := range []string{"check", "heal"} {
		stopped := 0
		for n := int64(0); ; n += 1 + n/4 {
			left := new(atomic.Int64)
			left.Store(n)
			var stdout, stderr bytes.Buffer
			status := runContext(countdown{t.Context(), left}, []string{"trace", verb, "broken.dossier", "--tolerance", "0.25"}, &stdout, &stderr)
			if status == exitDone {
				break
			}
			stopped++
			if !strings.Contains(stderr.String(), "interrupted") {
				t.Fatalf("%s, at the %d-th look: exit status %d, %s", verb, n, status, stderr.String())
			}
			if !reflect.DeepEqual(shapesOf(t, "broken.dossier"), before) {
				t.Fatalf("%s, at the %d-th look: something was changed", verb, n)
			}
		}
		if stopped < 5 {
			t.Errorf("%s looked at its context %d times only", verb, stopped)
		}
	}
	if reflect.DeepEqual(shapesOf(t, "broken.dossier"), before) {
		t.Error("a heal that is done has changed nothing")
	}
}
