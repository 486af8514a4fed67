package edit

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// pixelDrawing is a top cell that places a cell twice, with labels and a traced area.
func pixelDrawing() *layout.Library {
	pixel := &layout.Cell{Name: "PIXEL", Shapes: []layout.Shape{{Layer: 0, Polygon: ring(0, 0, 10, 0, 10, 10)}}, Labels: []layout.Label{{Layer: 0, At: at(1, 1), Text: "G"}}}
	top := &layout.Cell{Name: "TOP",
		Shapes: []layout.Shape{{Layer: 1, Polygon: ring(0, 0, 4, 0, 0, 4, 4, 4)}}, // crosses itself
		Labels: []layout.Label{{Layer: 1, At: at(5, 5), Text: "VDD"}},
		Placements: []layout.Placement{{Name: "X1", Cell: pixel, Transform: geom.NewTransform(true, 2, 90, at(7, 8)), Columns: 3, Rows: 1, ColumnExtent: geom.Vec{X: 101}},
			{Cell: pixel, Transform: geom.Identity}}}
	return &layout.Library{Layers: []string{"poly", "metal1", "nowhere"}, Cells: []*layout.Cell{top, pixel},
		Traced: []layout.Shape{{Layer: 1, Polygon: ring(0, 0, 0, 9, 9, 9, 9, 0)}}}
}

func imports(t *testing.T, d *dossier.Dossier, lib *layout.Library, o Importing) (done Imported) {
	t.Helper()
	o.Top = lib.Cells[0]
	do(t, d, func(tx *dossier.Tx) (err error) { done, err = Import(tx, lib, o); return err })
	return done
}

func TestImport(t *testing.T) {
	d := create(t)
	lib := pixelDrawing()
	heard := 0
	for range 400 {
		lib.Cells[0].Shapes = append(lib.Cells[0].Shapes, lib.Cells[0].Shapes[0])
	}
	done := imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.gds", SigmaNm: func(s *layout.Shape) float64 { return float64(s.Layer) * 3 },
		Progress: func(n, total int) {
			if heard = n; total != 402 {
				t.Errorf("%d shapes in all, want 402", total)
			}
		}})
	if want := (Imported{Shapes: 402, Labels: 2, Placements: 2, Areas: 1, Cells: 1}); done != want || heard != 256 {
		t.Errorf("%+v, heard of %d", done, heard)
	}
	shapes, err := d.Shapes(dossier.Frame)
	if err != nil || len(shapes) != 401 {
		t.Fatal(len(shapes), err)
	}
	if s := shapes[0]; s.Method != "file" || s.File != "a.gds" || s.SigmaNm != 3 || s.Shot != 0 || s.Layer != "metal1" || fmt.Sprint(s.Polygon) != fmt.Sprint(ring(0, 0, 4, 0, 0, 4, 4, 4)) {
		t.Errorf("%+v", s)
	}
	placements, err := d.Placements(dossier.Frame)
	if err != nil || len(placements) != 2 {
		t.Fatal(err)
	}
	if p := placements[0]; p.Name != "X1" || !p.Mirror || p.Magnification != 2 || p.Degrees != 90 || p.At != at(7, 8) || p.Columns != 3 || p.Rows != 1 || p.ColumnExtent.X != 101 {
		t.Errorf("%+v", p)
	}
	if areas, err := d.Areas(); err != nil || len(areas) != 1 || areas[0].Polygon[0].Sense() < 0 {
		t.Errorf("%+v %v", areas, err)
	}
}

// Once more: without Replace shapes come twice; with it those of the file go, and others stay.
func TestImportAgain(t *testing.T) {
	d := create(t)
	lib := pixelDrawing()
	imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.gds"})
	fails(t, d, `cell "PIXEL" of the drawing: its name is taken by a cell of the dossier`, func(tx *dossier.Tx) error {
		_, err := Import(tx, lib, Importing{Cell: dossier.Frame, Top: lib.Cells[0], File: "a.gds"})
		if !errors.Is(err, ErrCell) {
			t.Errorf("%v is no ErrCell", err)
		}
		return err
	})
	alone := &layout.Library{Layers: lib.Layers, Cells: []*layout.Cell{{Name: "TOP", Shapes: lib.Cells[0].Shapes, Labels: lib.Cells[0].Labels}}, Traced: lib.Traced}
	if done := imports(t, d, alone, Importing{Cell: dossier.Frame, File: "a.gds"}); done != (Imported{Shapes: 1, Before: 2, There: 2}) {
		t.Errorf("%+v", done)
	}
	var hand int64
	do(t, d, func(tx *dossier.Tx) (err error) {
		hand, err = Rectangle(tx, On{Cell: dossier.Frame, Layer: "poly"}, at(0, 0), at(9, 9))
		return err
	})
	lib.Cells[0].Labels[0].Text = "VCC" // at the place of VDD
	if done := imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.gds", Replace: true}); done != (Imported{Shapes: 2, Labels: 2, Placements: 2, Replaced: 3, There: 1}) {
		t.Errorf("%+v", done)
	}
	shapes, err := d.Shapes(dossier.Frame)
	if err != nil || len(shapes) != 2 || !slices.ContainsFunc(shapes, func(s dossier.Shape) bool { return s.ID == hand }) {
		t.Errorf("%+v %v", shapes, err)
	}
	labels, err := d.Labels(dossier.Frame)
	if err != nil || len(labels) != 1 || labels[0].Text != "VCC" {
		t.Errorf("%+v %v", labels, err)
	}
	if p, err := d.Placements(dossier.Frame); err != nil || len(p) != 2 {
		t.Errorf("%+v %v", p, err)
	}
	cells, err := d.Cells()
	if err != nil || len(cells) != 2 {
		t.Fatalf("%+v %v", cells, err)
	}
	// What was drawn by hand in the cell is not replaced.
	do(t, d, func(tx *dossier.Tx) error {
		_, err := Rectangle(tx, On{Cell: cells[1].ID, Layer: "poly"}, at(0, 0), at(9, 9))
		return err
	})
	fails(t, d, `cell "PIXEL" of the drawing: its name is taken by a cell of the dossier that holds 1 shapes from elsewhere, which an import does not replace`, func(tx *dossier.Tx) error {
		_, err := Import(tx, lib, Importing{Cell: dossier.Frame, Top: lib.Cells[0], File: "a.gds", Replace: true})
		return err
	})
}

func TestImportRefused(t *testing.T) {
	d := create(t)
	var cell int64
	do(t, d, func(tx *dossier.Tx) (err error) {
		cell, err = newCell(tx, "HERE")
		if err == nil {
			err = Place(tx, &dossier.Placement{Parent: dossier.Frame, Child: cell, At: at(geom.Limit-5, 0)})
		}
		return err
	})
	try := func(want string, change func(*layout.Library)) {
		t.Helper()
		lib := pixelDrawing()
		change(lib)
		fails(t, d, want, func(tx *dossier.Tx) error {
			_, err := Import(tx, lib, Importing{Cell: cell, Top: lib.Cells[0], File: "a.gds"})
			return err
		})
	}
	try(`cell "HERE" of the drawing: its name is taken by the cell that it would come into, or by the die`, func(lib *layout.Library) { lib.Cells[1].Name = "HERE" })
	try(`cell "die" of the drawing: its name is taken by the cell that it would come into, or by the die`, func(lib *layout.Library) { lib.Cells[1].Name = "die" })
	try(`layer "nowhere" is not in the stack, which has diffusion, nwell, poly, contact, metal1, via1, metal2: take one of these, or add it to the stack`, func(lib *layout.Library) {
		lib.Cells[1].Shapes[0].Layer = 2
	})
	try(`cell "TOP": it would reach from (1.073741819e+06, 0) µm to (1.073741829e+06, 0.02) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, func(lib *layout.Library) {
		lib.Cells[0].Placements = lib.Cells[0].Placements[1:]
		lib.Cells[0].Labels[0].At = at(3, 20)
	})
	try(`cell "PIXEL" contains itself: PIXEL → PIXEL`, func(lib *layout.Library) {
		lib.Cells[1].Placements = []layout.Placement{{Cell: lib.Cells[1], Transform: geom.Identity}}
	})
	try(`cell "TOP": placement "X1": 40000 × 1 members: 1 to 32767 each way`, func(lib *layout.Library) {
		lib.Cells[0].Shapes, lib.Cells[0].Placements[1].Transform = nil, geom.Move(at(-100, 0))
		lib.Cells[0].Placements[0] = layout.Placement{Name: "X1", Cell: lib.Cells[1], Transform: geom.Move(at(-100, 0)), Columns: 40000}
	})
	try(`cell "PIXEL": poly: label "": a label without text`, func(lib *layout.Library) {
		lib.Cells[0].Placements, lib.Cells[1].Labels[0].Text = nil, ""
	})
}

// Areas are the die's; those that are not valid come in as what they cover, each hole a hole.
func TestImportAreas(t *testing.T) {
	d := create(t)
	lib := &layout.Library{Layers: []string{"poly"}, Cells: []*layout.Cell{{Name: "TOP"}}}
	two := geom.Polygon{ring(0, 0, 9, 0, 9, 9, 0, 9)[0], ring(20, 0, 29, 0, 29, 9, 20, 9)[0], ring(22, 2, 22, 7, 27, 7, 27, 2)[0]}
	lib.Traced = []layout.Shape{{Polygon: two}}
	if done := imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.svg"}); done != (Imported{Areas: 2}) {
		t.Errorf("%+v", done)
	}
	areas, err := d.Areas()
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, a := range areas {
		for _, r := range a.Polygon {
			sum += r.Area()
		}
	}
	if sum != 81+81-25 { // by hand
		t.Errorf("%v: %g nm²", areas, sum)
	}
	if done := imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.svg"}); done != (Imported{There: 2}) {
		t.Errorf("%+v", done)
	}
	var cell int64
	do(t, d, func(tx *dossier.Tx) (err error) { cell, err = newCell(tx, "C"); return err })
	if done := imports(t, d, lib, Importing{Cell: cell, File: "a.svg"}); done != (Imported{AreasLeft: 1}) {
		t.Errorf("%+v", done)
	}
	fails(t, d, "there is no cell 99: take one of the dossier's", func(tx *dossier.Tx) error {
		_, err := Import(tx, lib, Importing{Cell: 99, Top: lib.Cells[0]})
		return err
	})
}

// One edit, which undo takes back.
func TestImportUndo(t *testing.T) {
	d := create(t)
	before := dump(t, d)
	imports(t, d, pixelDrawing(), Importing{Cell: dossier.Frame, File: "a.gds"})
	if after := dump(t, d); after == before || !strings.Contains(after, "a.gds") {
		t.Error("nothing came in")
	}
	if _, err := d.Undo(t.Context()); err != nil {
		t.Fatal(err)
	}
	want(t, "after undo", dump(t, d), before)
}

// Labels that other formats refuse are left out, and the first three are told with their places.
func TestImportUnprintable(t *testing.T) {
	d := create(t)
	lib := pixelDrawing()
	lib.Cells[0].Labels, lib.Cells[1].Labels = nil, nil
	for i, text := range []string{"A\x00", "B\u200b", "good", "C\n", "D\x7f", "\xff", "VDD 3.3 V"} {
		lib.Cells[i/3%2].Labels = append(lib.Cells[i/3%2].Labels, layout.Label{At: at(1000*i, 500), Text: text})
	}
	var notes []string
	done := imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.svg", Note: func(text string) { notes = append(notes, text) }})
	if done.Labels != 2 || done.Unprintable != 5 {
		t.Errorf("%+v", done)
	}
	want := `labels with characters that cannot be printed, left out: "A\x00" on ` + lib.Layers[0] + ` at (0, 0.5) µm, "B\u200b" on ` + lib.Layers[0] + ` at (1, 0.5) µm, "C\n" on ` + lib.Layers[0] + ` at (3, 0.5) µm in cell PIXEL, and 2 more`
	if len(notes) != 1 || notes[0] != want {
		t.Errorf("%q\nwant %q", notes, want)
	}
}

// What the drawing says of a shape comes before what holds for all; a photograph that is not there is noted.
func TestImportStated(t *testing.T) {
	d := create(t)
	bare := addShot(t, d, "bare")
	square := layout.Shape{Polygon: geom.Polygon{geom.Box(0, 0, 9, 9).Ring()}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{square, square, square, square}}
	lib := &layout.Library{Layers: []string{"poly"}, Cells: []*layout.Cell{top}}
	var said layout.Statements
	said.Set(top, 0, layout.Stated{HasSigma: true})
	said.Set(top, 1, layout.Stated{HasSigma: true, SigmaNm: 3, Shot: "bare"})
	said.Set(top, 2, layout.Stated{Shot: "gone"})
	said.Set(top, 3, layout.Stated{})
	var notes []string
	imports(t, d, lib, Importing{Cell: dossier.Frame, File: "a.svg", Stated: said, SigmaNm: func(*layout.Shape) float64 { return 7 }, Note: func(text string) { notes = append(notes, text) }})
	shapes, err := d.Shapes(dossier.Frame)
	if err != nil || len(shapes) != 4 {
		t.Fatal(len(shapes), err)
	}
	for i, want := range []struct {
		sigma float64
		shot  int64
	}{{0, 0}, {3, bare}, {7, 0}, {7, 0}} {
		if s := shapes[i]; s.SigmaNm != want.sigma || s.Shot != want.shot {
			t.Errorf("shape %d: ± %g nm over %d, want %+v", i, s.SigmaNm, s.Shot, want)
		}
	}
	if len(notes) != 1 || notes[0] != "shapes traced over photographs that the dossier does not have, which came in without one: 1 (gone)" {
		t.Errorf("%q", notes)
	}
}
