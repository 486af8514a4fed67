package main

import (
	"os"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// twoShots makes a dossier with two photographs of 800 × 600 px that differ, each calibrated to 0.1 µm/px, and a shape over
// px (200, 100) to (300, 200) of the second.
func twoShots(t *testing.T) {
	t.Helper()
	amongPhotos(t)
	must(t, "new k.dossier")
	must(t, "shot add k.dossier bare.png --name one")
	must(t, "shot show k.dossier one --ticks --pixels 800 --out two.png")
	must(t, "shot add k.dossier two.png")
	must(t, "shot calibrate k.dossier one --scale 0.1 --sigma 0.001")
	must(t, "shot calibrate k.dossier two --scale 0.1 --sigma 0.001")
	edited(t, func(tx *dossier.Tx) error {
		s, err := tx.Shot("two")
		if err != nil {
			return err
		}
		return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "poly", Polygon: geom.Polygon{geom.Box(20000, 40000, 30000, 50000).Ring()}, Method: "hand", Shot: s.ID})
	})
}

func shapeBox(t *testing.T) geom.Rect {
	t.Helper()
	d, err := dossier.OpenToRead(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	shapes, err := d.Shapes(dossier.Frame)
	if err != nil || len(shapes) != 1 {
		t.Fatal(shapes, err)
	}
	return shapes[0].Polygon.Bounds()
}

// TestCalibrateAlone: what was traced over a photograph that is not registered goes with its own calibration, not with
// another's, and undo takes both back.
func TestCalibrateAlone(t *testing.T) {
	twoShots(t)
	must(t, "shot calibrate k.dossier two --scale 0.2 --sigma 0.001")
	if box := shapeBox(t); box != geom.Box(40000, 80000, 60000, 100000) {
		t.Error(box)
	}
	must(t, "undo k.dossier")
	if box := shapeBox(t); box != geom.Box(20000, 40000, 30000, 50000) {
		t.Error(box)
	}
	must(t, "shot calibrate k.dossier two --scale 0.2 --sigma 0.001 --keep-shapes")
	if box := shapeBox(t); box != geom.Box(20000, 40000, 30000, 50000) {
		t.Error(box)
	}
}

// TestFrameIsTheRegistered: where a photograph is registered, the calibration of another that is not changes no map.
func TestFrameIsTheRegistered(t *testing.T) {
	twoShots(t)
	must(t, "shot register k.dossier two --point 0,600=0,0 --point 800,600=80,0 --point 0,0=0,60")
	if out := must(t, "shot calibrate k.dossier one --scale 0.4 --sigma 0.001"); strings.Contains(out, "registration") {
		t.Error(out)
	}
	if out := must(t, "shot measure k.dossier two 0,600:800,600 --px"); !strings.Contains(out, "two: 80.0") {
		t.Error(out)
	}
	if out := must(t, "shot calibrate k.dossier two --scale 0.101 --sigma 0.001"); !strings.Contains(out, "1 registration grew with it, by 1.01") {
		t.Error(out)
	}
}

// TestRegisterRefuses: a map that would make a shape vanish, or whose horizon runs across the photograph.
func TestRegisterRefuses(t *testing.T) {
	twoShots(t)
	edited(t, func(tx *dossier.Tx) error {
		shapes, err := tx.Shapes(dossier.Frame)
		if err != nil {
			return err
		}
		shapes[0].Polygon = geom.Polygon{geom.Box(20000, 40000, 20100, 40100).Ring()}
		return tx.SetShape(&shapes[0])
	})
	if errs := fails(t, "shot register k.dossier two --point 0,600=0,0 --point 800,600=0.08,0 --point 0,0=0,0.06"); !strings.Contains(errs, "would become smaller than the frame's grid of 1 nm\n    if its new place is right, --keep-shapes registers it all the same, and leaves what was traced over it") {
		t.Error(errs)
	}
	if box := shapeBox(t); box.Width() != 100 {
		t.Error(box)
	}
	// X = x/(12 - x/50), Y = -y/(12 - x/50): the horizon is at x = 600.
	if errs := fails(t, "shot register k.dossier two --map projective --point 0,0=0,0 --point 200,0=25,0 --point 0,200=0,-16.6666667 --point 200,200=25,-25 --keep-shapes"); !strings.Contains(errs, "two: the map does not hold for the whole photograph: the projective map has its horizon, or folds, between the photograph's middle and the corner (800, 0)\n    set points near that corner too") {
		t.Error(errs)
	}
}

// TestPointFiles: a mark of byte order before a quotation mark, and what is no file of points.
func TestPointFiles(t *testing.T) {
	twoShots(t)
	if err := os.WriteFile("p.csv", []byte("\ufeff\"px\",\"py\",x_um,y_um\n0,600,0,0\n800,600,80,0\n0,0,0,60\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	must(t, "shot register k.dossier two --points p.csv --dry-run")
	if err := os.WriteFile("large.csv", make([]byte, 1<<20+1), 0o666); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"large.csv": "are no list of control points", ".": "not a file"} {
		if errs := fails(t, "shot register k.dossier two --points "+name); !strings.Contains(errs, want) {
			t.Error(errs)
		}
	}
}
