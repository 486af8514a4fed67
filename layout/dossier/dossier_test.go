package dossier

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
)

func builtin(t testing.TB) *stack.Stack {
	t.Helper()
	st, ok := stack.Builtin("cmos-1p2m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	return st
}

// create makes a dossier, which is closed, checked and left as one file when the test ends.
func create(t testing.TB, path string) *Dossier {
	t.Helper()
	d, err := Create(context.Background(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		d.Close()
		checked(t, path)
	})
	return d
}

// reopen opens a dossier again that create made.
func reopen(t testing.TB, path string) *Dossier {
	t.Helper()
	d, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

// checked sees that a dossier that nobody holds is whole, and that no other file is left.
func checked(t testing.TB, path string) {
	t.Helper()
	d, err := Open(context.Background(), path)
	if err != nil {
		t.Error(err)
		return
	}
	findings, err := d.Check(context.Background(), func(int, int) {})
	if err != nil || len(findings) > 0 {
		t.Errorf("check: %v, %q", err, findings)
	}
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	if files, _ := os.ReadDir(filepath.Dir(path)); len(files) > 1 {
		t.Errorf("left behind: %v", files)
	}
}

func square(x, y, side int) geom.Polygon { return geom.Polygon{geom.Box(x, y, x+side, y+side).Ring()} }

func edit(t testing.TB, d *Dossier, what string, f func(*Tx) error) {
	t.Helper()
	if err := d.Edit(context.Background(), what, f); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// dump is every row of every table that an edit can touch, and of the index.
func dump(t testing.TB, r reads) string {
	t.Helper()
	var b strings.Builder
	for _, tbl := range append([]table{{"shape_box", []string{"id", "x0", "x1", "y0", "y1"}}}, journaled()...) {
		var quoted []string
		for _, c := range tbl.columns {
			quoted = append(quoted, "quote("+c+")")
		}
		rows, err := query(r, "SELECT "+strings.Join(quoted, "||','||")+" FROM "+tbl.name+" ORDER BY id", scanString)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "%s\n%s\n", tbl.name, strings.Join(rows, "\n"))
	}
	return b.String()
}

// addShot adds a shot whose tiles are made up.
func addShot(t testing.TB, d *Dossier, name string, width, height int) *Shot {
	t.Helper()
	ctx := context.Background()
	picture, err := d.NewPicture(ctx)
	if err != nil {
		t.Fatal(err)
	}
	h := shot.Header{Width: width, Height: height, Channels: 1, Depth: 8, Orientation: shot.TopLeft, Pages: 1}
	if err := shot.Build(ctx, &flat{h, 0}, func(tiles []shot.Tile) error { return d.AddTiles(ctx, picture, tiles) }, func(int) {}); err != nil {
		t.Fatal(err)
	}
	s := &Shot{Name: name, File: "/photos/" + name + ".tif", SHA256: strings.Repeat("ab", 32), Page: 1, Linked: true, Header: h, Display: shot.Plain, Facts: Facts{Step: "metal 1 off", NA: 0.9, WavelengthNm: 550}}
	edit(t, d, "add shot "+name, func(tx *Tx) error { return tx.AddShot(s, picture) })
	return s
}

// flat is a photograph of one tone.
type flat struct {
	header shot.Header
	row    int
}

func (f *flat) Header() *shot.Header     { return &f.header }
func (f *flat) Close() error             { return nil }
func (f *flat) ReadRow(dst []byte) error { f.row++; clear(dst); return nil }

// TestKeeps: everything that a dossier holds comes back as it was put in, after closing too.
func TestKeeps(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a ?#%'\" ü.dossier")
	d := create(t, path)
	s := addShot(t, d, "bare", 700, 300)
	s.Facts = Facts{"poly", "50×", 0.8, 405, "ring light", 3.45, "2026-03-04", "residue at the left"}
	s.Display = shot.Display{Low: 0.1, High: 0.9, Gamma: 1.8}
	s.Scale = shot.Scale{NmPerPx: 69.123456789012345, Sigma: 0.1, How: "stated"}
	cell := &Cell{Name: "PIXEL"}
	shape := &Shape{Cell: Frame, Layer: "poly", Polygon: geom.Polygon{{{X: 1 << 30, Y: -1 << 30}, {X: 0, Y: 5}, {X: -7, Y: 3}}}, Method: "hand", Shot: s.ID, SigmaNm: 69.1}
	placement := &Placement{Parent: Frame, Name: "array", Mirror: true, Magnification: 1, Degrees: 90, At: geom.Point{X: 5, Y: -6}, Columns: 12, Rows: 20, ColumnExtent: geom.Vec{X: 1000.25, Y: 0.1}, RowExtent: geom.Vec{Y: -3e4}}
	label := &Label{Cell: Frame, Layer: "metal1", At: geom.Point{X: 1, Y: 2}, Text: "it's <3> µ \n\"x\""}
	area := &Area{Layer: "poly", Polygon: square(0, 0, 1000)}
	verdict := &Verdict{Cell: Frame, Layer: "poly", At: geom.Point{X: 9, Y: 9}, Kind: "device", Reading: "capacitor", Note: "plates"}
	note := &Note{Cell: Frame, At: geom.Point{X: -3, Y: 4}, Text: "look again"}
	block := &Block{Name: "pump", Polygon: square(5, 5, 50), Reason: "zigzag"}
	points := []ControlPoint{{PX: 0.5, PY: 1.25, X: 100.125, Y: -7, SigmaPx: 0.5}, {PX: 1, PY: 2, X: 3, Y: 4}}
	bias := &Bias{Shot: s.ID, Layer: "it's µ", OutNm: -0.1, SigmaNm: 1.0 / 3}
	registration := &Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{1.0 / 3, -2e-300, 1e300, 5e-324, 7, 0}, Residuals: []float64{0.1, -0.2}, RmsPx: 0.3, RmsNm: 20}
	edit(t, d, "all of it", func(tx *Tx) error {
		errs := []error{tx.SetShot(s), tx.AddCell(cell), tx.AddShape(shape)}
		placement.Child = cell.ID
		return errors.Join(append(errs, tx.AddPlacement(placement), tx.AddLabel(label), tx.AddArea(area), tx.AddVerdict(verdict), tx.AddNote(note), tx.AddBlock(block), tx.SetControlPoints(s.ID, points), tx.SetRegistration(registration), tx.SetBias(bias))...)
	})
	before := dump(t, d.reads)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	d = reopen(t, path)
	if dump(t, d.reads) != before {
		t.Error("closing and opening changed something")
	}
	same := func(what string, got any, err error, want any) {
		t.Helper()
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v, want %+v", what, got, err, want)
		}
	}
	gotShot, err := d.Shot("bare")
	want := *s
	same("shot", gotShot, err, &want)
	shapes, err := d.Shapes(Frame)
	same("shapes", shapes, err, []Shape{*shape})
	placements, err := d.Placements(Frame)
	same("placements", placements, err, []Placement{*placement})
	labels, err := d.Labels(Frame)
	same("labels", labels, err, []Label{*label})
	areas, err := d.Areas()
	same("areas", areas, err, []Area{*area})
	verdicts, err := d.Verdicts()
	same("verdicts", verdicts, err, []Verdict{*verdict})
	notes, err := d.Notes()
	same("notes", notes, err, []Note{*note})
	blocks, err := d.Blocks()
	same("blocks", blocks, err, []Block{*block})
	gotPoints, err := d.ControlPoints(s.ID)
	same("control points", gotPoints, err, points)
	gotRegistration, err := d.Registration(s.ID)
	same("registration", gotRegistration, err, registration)
	biases, err := d.Biases()
	same("biases", biases, err, []Bias{*bias})
	cells, err := d.Cells()
	same("cells", cells, err, []Cell{{Frame, "die"}, *cell})
	lib, err := d.Library()
	if err != nil || len(lib.Cells) != 2 || lib.Cells[0].Placements[0].Cell != lib.Cells[1] || lib.Cells[0].Placements[0].Columns != 12 || len(lib.Traced) != 1 || lib.Cells[0].Labels[0].Text != label.Text {
		t.Errorf("library: %+v, %v", lib, err)
	}
}

// TestShapesIn: against a look at every shape.
func TestShapesIn(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	rnd := rand.New(rand.NewPCG(1, 2))
	var all []Shape
	edit(t, d, "draw", func(tx *Tx) error {
		for range 300 {
			s := Shape{Cell: Frame, Layer: "poly", Polygon: square(rnd.IntN(2000)-1000, rnd.IntN(2000)-1000, 1+rnd.IntN(100)), Method: "hand"}
			if err := tx.AddShape(&s); err != nil {
				return err
			}
			all = append(all, s)
		}
		return nil
	})
	for range 100 {
		x, y := rnd.IntN(2000)-1000, rnd.IntN(2000)-1000
		box := geom.Box(x, y, x+rnd.IntN(400), y+rnd.IntN(400))
		var want []Shape
		for _, s := range all {
			if s.Polygon.Bounds().Overlaps(box) {
				want = append(want, s)
			}
		}
		got, err := d.ShapesIn(Frame, box)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%v: %d shapes, %v, want %d", box, len(got), err, len(want))
		}
	}
}

// TestRefuses: what cannot be kept is an error that says why, and nothing of the edit stays.
func TestRefuses(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 10, 10)
	edit(t, d, "cells", func(tx *Tx) error {
		return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddCell(&Cell{Name: "B"}), tx.AddPlacement(&Placement{Parent: 2, Child: 3, Magnification: 1, Columns: 1, Rows: 1}))
	})
	before := dump(t, d.reads)
	nan := func() float64 { z := 0.0; return z / z }()
	for _, tc := range []struct {
		want string
		f    func(tx *Tx) error
	}{
		{"outside the frame", func(tx *Tx) error {
			return tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(1<<30, 0, 5)})
		}},
		{"ring of 2 points", func(tx *Tx) error {
			return tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: geom.Polygon{{{}, {X: 1}}}})
		}},
		{"without rings", func(tx *Tx) error { return tx.AddArea(&Area{Layer: "poly"}) }},
		{"finite", func(tx *Tx) error {
			return tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(0, 0, 5), SigmaNm: nan})
		}},
		{"FOREIGN KEY", func(tx *Tx) error {
			return tx.AddShape(&Shape{Cell: 99, Layer: "poly", Polygon: square(0, 0, 5)})
		}},
		{"zero bytes", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "a\x00b"}) }},
		{"zero bytes", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "a\xffb"}) }},
		{"contain itself", func(tx *Tx) error {
			return tx.AddPlacement(&Placement{Parent: 3, Child: 2, Magnification: 1, Columns: 1, Rows: 1})
		}},
		{"magnification of 0", func(tx *Tx) error {
			return tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Columns: 1, Rows: 1})
		}},
		{"0 × 1 members", func(tx *Tx) error {
			return tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Rows: 1})
		}},
		{"label without text", func(tx *Tx) error { return tx.AddLabel(&Label{Cell: Frame, Layer: "poly"}) }},
		{"name is empty", func(tx *Tx) error { return tx.AddBlock(&Block{Polygon: square(0, 0, 1)}) }},
		{"cannot be removed", func(tx *Tx) error { return tx.RemoveCell(Frame) }},
		{"there is no note 7", func(tx *Tx) error { return tx.RemoveNote(7) }},
		{"there is no control point 7", func(tx *Tx) error { return tx.remove("control_point", 7) }},
		{`a shot "one" already`, func(tx *Tx) error { again := *s; return tx.AddShot(&again, s.picture) }},
		{"0 tiles of 1", func(tx *Tx) error { again := *s; again.Name = "two"; return tx.AddShot(&again, 99) }},
		{"numerical aperture of -1", func(tx *Tx) error { again := *s; again.Facts.NA = -1; return tx.SetShot(&again) }},
		{`shot named ""`, func(tx *Tx) error { again := *s; again.Name = ""; return tx.SetShot(&again) }},
		{"contrast from 0 to 0", func(tx *Tx) error { again := *s; again.Display.High = 0; return tx.SetShot(&again) }},
		{"stack:", func(tx *Tx) error { return tx.SetStack("[[layer]]\n") }},
		{"is of no layer", func(tx *Tx) error { return tx.SetBias(&Bias{Shot: s.ID, SigmaNm: 1}) }},
		{"a bias of 0 ± -1 nm on poly", func(tx *Tx) error { return tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", SigmaNm: -1}) }},
		{"a bias of NaN ± 0 nm on poly", func(tx *Tx) error { return tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", OutNm: nan}) }},
		{"a cell or a shot that is not there", func(tx *Tx) error { return tx.SetBias(&Bias{Shot: 99, Layer: "poly", SigmaNm: 1}) }},
		{"a factor of 0", func(tx *Tx) error { return tx.Rescale(0) }},
	} {
		err := d.Edit(t.Context(), "refused", func(tx *Tx) error {
			if err := tx.AddNote(&Note{Cell: Frame, Text: "must not stay"}); err != nil {
				t.Fatal(err)
			}
			return tc.f(tx)
		})
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%v, want %q", err, tc.want)
		}
	}
	if dump(t, d.reads) != before {
		t.Error("a refused edit left something")
	}
	h, err := d.History()
	if err != nil || len(h) != 2 {
		t.Errorf("history %v, %v", h, err)
	}
	edit(t, d, "nothing", func(*Tx) error { return nil })
	if h, _ := d.History(); len(h) != 2 {
		t.Errorf("an edit that changes nothing is in the journal: %v", h)
	}
	if _, err := d.Shot("none"); !errors.Is(err, ErrMissing) || !strings.Contains(err.Error(), `shot "none"`) {
		t.Error(err)
	}
	edit(t, d, "unknown layer", func(tx *Tx) error {
		return tx.AddShape(&Shape{Cell: Frame, Layer: "metal9", Polygon: square(0, 0, 5)})
	})
	if _, err := d.Library(); err == nil || !strings.Contains(err.Error(), `layer "metal9", which the stack does not have`) {
		t.Error(err)
	}
}

// TestRescale: every length by the factor, as one edit; what would leave the frame is refused.
func TestRescale(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 10, 10)
	edit(t, d, "draw", func(tx *Tx) error {
		return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(10, 20, 100), SigmaNm: 4}), tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Columns: 2, Rows: 1, At: geom.Point{X: 7}, ColumnExtent: geom.Vec{X: 0.5}}),
			tx.AddLabel(&Label{Cell: 2, Layer: "poly", At: geom.Point{X: 12, Y: 22}, Text: "x"}), tx.AddArea(&Area{Layer: "poly", Polygon: square(0, 0, 10)}), tx.AddBlock(&Block{Name: "b", Polygon: square(0, 0, 20)}),
			tx.AddVerdict(&Verdict{Cell: Frame, At: geom.Point{X: 2}}), tx.AddNote(&Note{Cell: Frame, At: geom.Point{Y: 4}}), tx.SetControlPoints(s.ID, []ControlPoint{{PX: 3, X: 8}}),
			tx.SetRegistration(&Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{10, 1, 100, 2, -20, 300}, Residuals: []float64{0.5}, RmsPx: 0.5, RmsNm: 8}),
			tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", OutNm: 2, SigmaNm: 5}))
	})
	before := dump(t, d.reads)
	edit(t, d, "rescale", func(tx *Tx) error { return tx.Rescale(1.5) })
	shapes, _ := d.Shapes(2)
	placements, _ := d.Placements(Frame)
	labels, _ := d.Labels(2)
	areas, _ := d.Areas()
	blocks, _ := d.Blocks()
	verdicts, _ := d.Verdicts()
	notes, _ := d.Notes()
	points, _ := d.ControlPoints(s.ID)
	if biases, err := d.Biases(); err != nil || biases[0].OutNm != 3 || biases[0].SigmaNm != 7.5 {
		t.Error(biases, err)
	}
	// An affine map and a scaling about the origin are the affine map with all six figures scaled.
	if g, err := d.Registration(s.ID); err != nil || !reflect.DeepEqual(*g, Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{15, 1.5, 150, 3, -30, 450}, Residuals: []float64{0.5}, RmsPx: 0.5, RmsNm: 12}) {
		t.Error(g, err)
	}
	if !reflect.DeepEqual(shapes[0].Polygon, square(15, 30, 150)) || shapes[0].SigmaNm != 6 || placements[0].At.X != 11 || placements[0].ColumnExtent.X != 0.75 || labels[0].At != (geom.Point{X: 18, Y: 33}) ||
		!reflect.DeepEqual(areas[0].Polygon, square(0, 0, 15)) || !reflect.DeepEqual(blocks[0].Polygon, square(0, 0, 30)) || verdicts[0].At.X != 3 || notes[0].At.Y != 6 || points[0].X != 12 || points[0].PX != 3 {
		t.Error(shapes, placements, labels, areas, blocks, verdicts, notes, points)
	}
	if err := d.Edit(t.Context(), "too far", func(tx *Tx) error { return tx.Rescale(1e6) }); err != nil {
		t.Error(err)
	}
	if err := d.Edit(t.Context(), "too far", func(tx *Tx) error { return tx.Rescale(1e6) }); err == nil || !strings.Contains(err.Error(), "outside the frame") {
		t.Error(err)
	}
	for range 2 {
		if _, err := d.Undo(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if dump(t, d.reads) != before {
		t.Error("undo did not bring the old lengths back")
	}
}
