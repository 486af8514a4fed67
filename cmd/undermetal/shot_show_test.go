package main

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"os"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// must runs a command line that has to succeed and returns what it prints.
func must(t *testing.T, call string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields(call), &stdout, &stderr); status != exitDone {
		t.Fatalf("undermetal %s: exit status %d\n%s", call, status, stderr.String())
	}
	return stdout.String()
}

func picture(t *testing.T, path string) image.Image {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// traced makes a dossier with a calibrated photograph, 0.1 µm a pixel, on which two cells of an array and a bar are traced.
func traced(t *testing.T) {
	t.Helper()
	amongPhotos(t)
	must(t, "new k.dossier --stack cmos-1p2m-well")
	must(t, "shot add k.dossier bare.png")
	must(t, "shot calibrate k.dossier bare --scale 0.1 --sigma 0.0002")
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	err = d.Edit(t.Context(), "trace", func(tx *dossier.Tx) error {
		s, err := tx.Shot("bare")
		if err != nil {
			return err
		}
		cell := &dossier.Cell{Name: "PIXEL"}
		square := func(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }
		if err := tx.AddCell(cell); err != nil {
			return err
		}
		return errors.Join(
			tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "diffusion", Polygon: square(20000, 10000, 30000, 20000), Method: "hand", Shot: s.ID}),
			tx.AddShape(&dossier.Shape{Cell: cell.ID, Layer: "poly", Polygon: square(0, 0, 5000, 5000), Method: "hand", Shot: s.ID}),
			tx.AddPlacement(&dossier.Placement{Parent: dossier.Frame, Child: cell.ID, Magnification: 1, At: geom.Point{X: 40000, Y: 40000}, Columns: 2, Rows: 1, ColumnExtent: geom.Vec{X: 20000}}))
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestShowShapes: shapes and placed cells are drawn where they lie: changed pixels are theirs, others are not touched.
func TestShowShapes(t *testing.T) {
	traced(t)
	must(t, "shot show k.dossier bare --pixels 800 --plain --out without.png")
	must(t, "shot show k.dossier bare --pixels 800 --plain --shapes --out with.png")
	a, b := picture(t, "without.png"), picture(t, "with.png")
	if a.Bounds() != image.Rect(0, 0, 800, 600) || b.Bounds() != a.Bounds() {
		t.Fatal(a.Bounds(), b.Bounds())
	}
	inside := func(x, y int) bool { // µm·10 from the lower left corner are pixels from there
		y = 599 - y
		in := func(x0, y0, x1, y1 int) bool { return x >= x0 && x < x1 && y >= y0 && y < y1 }
		return in(200, 100, 300, 200) || in(400, 400, 450, 450) || in(600, 400, 650, 450)
	}
	changed := 0
	for y := range 600 {
		for x := range 800 {
			touched := a.At(x, y) != b.At(x, y)
			if legend := x > 600 && y < 100; legend {
				continue
			}
			if inside(x, y) && touched {
				changed++
			}
			if touched && !(inside(x, y) || inside(x-1, y) || inside(x, y-1) || inside(x-1, y-1) || inside(x+1, y) || inside(x, y+1) || inside(x+1, y+1)) {
				t.Fatalf("(%d, %d) is painted, and nothing was traced there", x, y)
			}
		}
	}
	if want := 100*100 + 2*50*50; changed < want*98/100 {
		t.Errorf("%d pixels of %d are painted", changed, want)
	}
	// A part of it at another zoom: the left cell fills the middle.
	must(t, "shot show k.dossier bare --at 42.5,42.5 --width 10 --pixels 100 --plain --out part.png")
	must(t, "shot show k.dossier bare --at 42.5,42.5 --width 10 --pixels 100 --plain --shapes --out part2.png")
	a, b = picture(t, "part.png"), picture(t, "part2.png")
	if a.At(50, 37) == b.At(50, 37) || a.At(10, 70) != b.At(10, 70) {
		t.Error("the part shows another place")
	}
}

// TestCalibrateRescales: to calibrate the photograph that the frame has its scale from makes the tracing larger with it,
// as one edit; others do not.
func TestCalibrateRescales(t *testing.T) {
	traced(t)
	side := func() int {
		d, err := dossier.OpenToRead(t.Context(), "k.dossier")
		if err != nil {
			t.Fatal(err)
		}
		defer d.Close()
		shapes, err := d.Shapes(dossier.Frame)
		if err != nil || len(shapes) != 1 {
			t.Fatal(shapes, err)
		}
		return shapes[0].Polygon.Bounds().Width()
	}
	if out := must(t, "shot calibrate k.dossier bare --scale 0.12 --sigma 0.0002"); side() != 12000 || !strings.Contains(out, "everything traced is 1.2 times as large") {
		t.Error(side(), out)
	}
	must(t, "undo k.dossier")
	if side() != 10000 {
		t.Error(side())
	}
	must(t, "shot calibrate k.dossier bare --scale 0.12 --sigma 0.0002 --keep-shapes")
	if side() != 10000 {
		t.Error(side())
	}
	must(t, "shot add k.dossier ruling.png")
	must(t, "shot calibrate k.dossier ruling --scale 0.5 --sigma 0.01")
	must(t, "shot calibrate k.dossier ruling --scale 1 --sigma 0.01")
	if side() != 10000 {
		t.Error(side())
	}
}

// TestExtractDossier: what is traced in a dossier is extracted as a drawing is.
func TestExtractDossier(t *testing.T) {
	traced(t)
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "a gate", func(tx *dossier.Tx) error {
		return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "poly", Polygon: geom.Polygon{geom.Box(24000, 8000, 25000, 22000).Ring()}, Method: "hand"})
	})
	if err != nil {
		t.Fatal(err)
	}
	d.Close()
	// A gate 1 µm long over a diffusion 10 µm wide, this over a photograph of 0.1 ± 0.0002 µm/px: ± 0.2 %.
	if out := must(t, "extract k.dossier"); !strings.Contains(out, "die: 1 device") || !strings.Contains(out, "W 10.000 ± 0.020 µm, L 1.000 µm") {
		t.Error(out)
	}
	must(t, "extract k.dossier --spice k.sp")
	if out := must(t, "compare k.dossier k.sp"); !strings.Contains(out, "the same circuit: 1 device") {
		t.Error(out)
	}
}
