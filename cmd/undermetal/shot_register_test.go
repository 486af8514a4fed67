package main

import (
	"bytes"
	"database/sql"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// asItIs runs f on k.dossier as it is.
func asItIs(t *testing.T, f func(*dossier.Dossier)) {
	t.Helper()
	d, err := dossier.OpenToRead(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	f(d)
}

// TestRegisterReference: control points that go through a file, the command and the dossier give what the project's
// reference values say (section 6, registration; numpy and scipy): rms of the fit and of points left out, and where
// pixels go. The tolerances are those stated there.
func TestRegisterReference(t *testing.T) {
	sets, err := filepath.Abs("../../layout/register/testdata")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	var flat bytes.Buffer
	if err := errors.Join(png.Encode(&flat, image.NewGray(image.Rect(0, 0, 4200, 3200))), os.WriteFile("flat.png", flat.Bytes(), 0o600)); err != nil {
		t.Fatal(err)
	}
	must(t, "new k.dossier")
	must(t, "shot add k.dossier flat.png")
	for _, tc := range []struct {
		set, kind string
		rms, loo  float64 // nm; 0: not in the table
		at        [3]geom.Vec
		tolerance float64
	}{
		{"similarity", "similarity", 88.0470, 0, [3]geom.Vec{{X: 141284.248, Y: 324994.890}, {X: 267190.888, Y: 242302.277}, {X: 456598.704, Y: 99760.859}}, 1e-3},
		{"affine", "affine", 72.2249, 93.9770, [3]geom.Vec{{X: 133193.544, Y: 338189.826}, {X: 286556.262, Y: 236307.063}, {X: 517065.518, Y: 61073.925}}, 1e-3},
		{"projective", "projective", 62.0479, 84.3743, [3]geom.Vec{{X: 128170.245, Y: 271961.542}, {X: 245824.418, Y: 185586.913}, {X: 420788.493, Y: 40030.589}}, 1e-2},
		{"distorted", "spline", 0, 132.6252, [3]geom.Vec{{X: 132510.512, Y: 338367.934}, {X: 286514.479, Y: 236315.304}, {X: 518046.097, Y: 61279.143}}, 1e-3},
	} {
		convertSet(t, filepath.Join(sets, "reg_"+tc.set+".csv"))
		out := must(t, "shot register k.dossier flat --points set.csv --map "+tc.kind)
		if want := fmt.Sprintf("left out one by one, %.4g µm", tc.loo/1000); tc.loo > 0 && !strings.Contains(out, want) {
			t.Errorf("%s: %q is not in\n%s", tc.set, want, out)
		}
		asItIs(t, func(d *dossier.Dossier) {
			s, err := d.Shot("flat")
			if err != nil {
				t.Fatal(err)
			}
			p, err := d.Locate(s)
			if err != nil {
				t.Fatal(err)
			}
			if got := p.Registration.RmsNm; math.Abs(got-tc.rms) > 1e-4 {
				t.Errorf("%s: rms %.5f nm, want %.4f", tc.set, got, tc.rms)
			}
			for i, px := range []geom.Vec{{X: 1000, Y: 800}, {X: 2000, Y: 1500}, {X: 3500, Y: 2700}} {
				got := p.ToFrame.Apply(px)
				if math.Hypot(got.X-tc.at[i].X, got.Y-tc.at[i].Y) > tc.tolerance*1.5 {
					t.Errorf("%s: %v goes to %v, want %v", tc.set, px, got, tc.at[i])
				}
				if back := p.FromFrame.Apply(got); math.Hypot(back.X-px.X, back.Y-px.Y) > 1e-6 {
					t.Errorf("%s: and back to %v", tc.set, back)
				}
			}
		})
	}
}

// convertSet writes a set of reference points in nm as set.csv in µm.
func convertSet(t *testing.T, name string) {
	t.Helper()
	in, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	lines, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, l := range lines[1:] {
		fmt.Fprintf(&b, "%s,%s,%snm,%snm\n", l[1], l[2], l[3], l[4])
	}
	if err := os.WriteFile("set.csv", []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
}

// boxes returns the bounds of the shapes of a cell.
func boxes(t *testing.T, cell int64) (all []geom.Rect) {
	t.Helper()
	asItIs(t, func(d *dossier.Dossier) {
		shapes, err := d.Shapes(cell)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range shapes {
			all = append(all, s.Polygon.Bounds())
		}
	})
	return all
}

// TestRegisterMovesShapes: what was traced over a photograph goes with it; other shapes, and those of cells, stay. The
// shape lies over the pixels 200 to 300 and 400 to 500, which is (20, 10) to (30, 20) µm of the lower left corner at
// 0.1 µm a pixel. By hand: X = 5 + 0.2·px, Y = 7 + 0.2·(600 − py) puts it at (45, 27) to (65, 47) µm.
func TestRegisterMovesShapes(t *testing.T) {
	traced(t)
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	other := geom.Box(0, 0, 1000, 1000)
	err = d.Edit(t.Context(), "another", func(tx *dossier.Tx) error {
		return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "metal1", Polygon: geom.Polygon{other.Ring()}, Method: "hand"})
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	first, moved := geom.Box(20000, 10000, 30000, 20000), geom.Box(45000, 27000, 65000, 47000)
	same := func(when string, want geom.Rect) {
		t.Helper()
		if got := boxes(t, dossier.Frame); !reflect.DeepEqual(got, []geom.Rect{want, other}) {
			t.Errorf("%s: %v, want %v", when, got, want)
		}
		if got := boxes(t, 2); !reflect.DeepEqual(got, []geom.Rect{geom.Box(0, 0, 5000, 5000)}) {
			t.Errorf("%s: in the cell %v", when, got)
		}
	}
	call := "shot register k.dossier bare --point 0,600=5,7 --point 800,600=165,7"
	// Its corner farthest from where it was goes from (30, 20) to (65, 47): √(35² + 27²) = 44.2 µm.
	if out := must(t, call+" --dry-run"); !strings.Contains(out, "would be moved with it: 1 shape that was traced over it (1 on diffusion), by up to 44.2 µm\n    nothing was stored") {
		t.Error(out)
	}
	same("dry run", first)
	if out := must(t, call); !strings.Contains(out, "    moved with it: 1 shape that was traced over it (1 on diffusion), by up to 44.2 µm\n") {
		t.Error(out)
	}
	same("registered", moved)
	if out := must(t, call); strings.Contains(out, "moved") {
		t.Error("the same map moves shapes:\n" + out)
	}
	// Turned by 90°, X = 0.1·py, Y = 0.1·px: pixels 200 to 300, 400 to 500 are (40, 20) to (50, 30) µm.
	must(t, "shot register k.dossier bare --point 0,0=0,0 --point 800,0=0,80 --point 0,600=60,0")
	same("anew", geom.Box(40000, 20000, 50000, 30000))
	must(t, "undo k.dossier")
	must(t, "undo k.dossier")
	must(t, "undo k.dossier")
	same("undone", first)
	asItIs(t, func(d *dossier.Dossier) {
		s, err := d.Shot("bare")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := d.Registration(s.ID); !errors.Is(err, dossier.ErrMissing) {
			t.Error("the registration is still there", err)
		}
		if points, err := d.ControlPoints(s.ID); err != nil || len(points) > 0 {
			t.Error("control points are still there", points, err)
		}
	})
	must(t, "redo k.dossier")
	same("redone", moved)
	must(t, "undo k.dossier")
	if out := must(t, call+" --keep-shapes"); strings.Contains(out, "moved") {
		t.Error(out)
	}
	same("kept", first)
}

// fails runs a command line that has to fail and returns what it says.
func fails(t *testing.T, call string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields(call), &stdout, &stderr); status == exitDone {
		t.Fatalf("undermetal %s succeeds\n%s", call, stdout.String())
	}
	return stderr.String()
}

// TestRegisterWarnings: what did not go with the photograph is said. A shape keeps its uncertainty in pixels: where a pixel
// becomes twice as long, so does it in nm.
func TestRegisterWarnings(t *testing.T) {
	traced(t)
	edited(t, func(tx *dossier.Tx) error {
		shapes, err := tx.Shapes(dossier.Frame)
		if err != nil {
			return err
		}
		shapes[0].SigmaNm = 30
		return errors.Join(tx.SetShape(&shapes[0]), tx.AddNote(&dossier.Note{Cell: dossier.Frame, Text: "x"}), tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "diffusion", Text: "VDD"}))
	})
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields("shot register k.dossier bare --point 0,600=5,7 --point 800,600=165,7"), &stdout, &stderr); status != exitDone {
		t.Fatal(stderr.String())
	}
	for _, want := range []string{
		"warning: bare: 1 shape in cells that was traced over it stayed, since cells have coordinates of their own: look where their placements lie\n",
		"warning: bare: labels, placements, traced areas, answers, notes, blocks and the die's outline (3 in all) stay where they are: nobody knows which photograph they are from\n",
		"warning: bare: by its registration 0.2 µm/px, by its calibration 0.10000 ± 0.00020 µm/px: more than three standard deviations apart",
	} {
		if !strings.Contains(stderr.String(), want) {
			t.Errorf("%q is not in\n%s", want, stderr.String())
		}
	}
	asItIs(t, func(d *dossier.Dossier) {
		if shapes, err := d.Shapes(dossier.Frame); err != nil || math.Abs(shapes[0].SigmaNm-60) > 1e-9 {
			t.Error(err, shapes[0].SigmaNm)
		}
	})
}

// edited changes k.dossier.
func edited(t *testing.T, f func(*dossier.Tx) error) {
	t.Helper()
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(d.Edit(t.Context(), "edit", f), d.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestRegisterBroken: a map that is none, from a damaged dossier or another program, is named and can be replaced.
func TestRegisterBroken(t *testing.T) {
	traced(t)
	edited(t, func(tx *dossier.Tx) error {
		s, err := tx.Shot("bare")
		return errors.Join(err, tx.SetRegistration(&dossier.Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{1, 0, 0, 0, 1, 0}}))
	})
	db, err := sql.Open("sqlite3", "k.dossier")
	if err == nil {
		_, err = db.Exec("UPDATE registration SET kind = 'cubic'")
	}
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	call := "shot register k.dossier bare --point 0,600=5,7 --point 800,600=85,7"
	for _, c := range []string{"shot show k.dossier bare --out x.png", "shot measure k.dossier bare 1,1:2,2", "shot calibrate k.dossier bare --scale 0.1 --sigma 0.001", call} {
		if errs := fails(t, c); !strings.Contains(errs, `the registration of bare: "cubic" is no kind of map`) {
			t.Error(c, errs)
		}
	}
	if errs := fails(t, call); !strings.Contains(errs, "\n    if its new place is right, --keep-shapes registers it all the same, and leaves what was traced over it") {
		t.Error(errs)
	}
	if out := must(t, "shot list k.dossier --json"); !strings.Contains(out, `"kind": "cubic"`) {
		t.Error(out)
	}
	must(t, call+" --keep-shapes")
	must(t, "shot measure k.dossier bare 10,10:20,10")
}

// FuzzPoints: whatever a file of control points holds, it is read or refused with the line; what is read can be written
// and read again.
func FuzzPoints(f *testing.F) {
	for _, seed := range []string{"px,py,x_um,y_um\n1,2,3,4\n", "1,2,3nm,4mm,0.5\n", "\ufeffpx,py,y_um,x_um,sigma_px\n1e3,2,3,4,5\n", "\"1\",2,3,4\n# x\n\n5,6,7,8\n", "1,2,3\n", "\"\n", "x\n", ";"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		points, err := parsePoints(strings.NewReader(text))
		if err != nil {
			if err.Error() == "" || !strings.HasPrefix(err.Error(), "line ") && !strings.HasPrefix(err.Error(), "holds no control point") {
				t.Fatal(err)
			}
			return
		}
		var b strings.Builder
		for _, p := range points {
			if math.IsInf(p.To.X, 0) || math.IsInf(p.To.Y, 0) {
				return // near the end of the numbers, in µm; refused as outside the frame
			}
			fmt.Fprintf(&b, "%g,%g,%gnm,%gnm,%g\n", p.From.X, p.From.Y, p.To.X, p.To.Y, p.Sigma)
		}
		again, err := parsePoints(strings.NewReader(b.String()))
		if err != nil || len(again) != len(points) {
			t.Fatal(err, again, points)
		}
		for i, p := range points {
			near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(a)+1e-300 }
			if q := again[i]; p.From != q.From || p.Sigma != q.Sigma || !near(p.To.X, q.To.X) || !near(p.To.Y, q.To.Y) {
				t.Fatal(p, q)
			}
		}
	})
}

// TestRegisterBeyond: what would carry a shape out of the frame is refused, and nothing of it is stored. A pixel of 100 mm
// puts the shape at some 20 m, the frame ends at 1.07 m.
func TestRegisterBeyond(t *testing.T) {
	traced(t)
	errs := fails(t, "shot register k.dossier bare --point 0,600=0,0 --point 1,600=100mm,0")
	if !strings.Contains(errs, "what was traced over it cannot go with it: a shape on diffusion at (20, 10) µm would leave the frame\n    if its new place is right, --keep-shapes") {
		t.Error(errs)
	}
	if got := boxes(t, dossier.Frame); got[0] != geom.Box(20000, 10000, 30000, 20000) {
		t.Error(got)
	}
}

// TestCalibrateRegistered: calibrating the photograph that gives the frame its scale takes the maps with it: the frame's
// places of the same pixels are 1.2 times as far.
func TestCalibrateRegistered(t *testing.T) {
	traced(t)
	must(t, "shot register k.dossier bare --point 0,600=0,0 --point 800,600=80,0")
	must(t, "shot add k.dossier ruling.png")
	must(t, "shot register k.dossier ruling --point 0,0=10,10 --point 600,0=40,10 --point 0,200=10,0 --map spline")
	must(t, "shot calibrate k.dossier bare --scale 0.12 --sigma 0.0002")
	asItIs(t, func(d *dossier.Dossier) {
		for name, want := range map[string]geom.Vec{"bare": {X: 96000, Y: 0}, "ruling": {X: 12000, Y: 0}} {
			s, err := d.Shot(name)
			if err != nil {
				t.Fatal(err)
			}
			p, err := d.Locate(s)
			if err != nil {
				t.Fatal(err)
			}
			at := map[string]geom.Vec{"bare": {X: 800, Y: 600}, "ruling": {X: 0, Y: 200}}[name]
			if got := p.ToFrame.Apply(at); math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-3 {
				t.Errorf("%s: %v goes to %v, want %v", name, at, got, want)
			}
		}
	})
	if got := boxes(t, dossier.Frame); got[0] != geom.Box(24000, 12000, 36000, 24000) {
		t.Error(got)
	}
}

// TestListMap: the rows are those of the matrix: X = 100·px + 5000 nm, Y = −200·py + 7000 nm.
func TestListMap(t *testing.T) {
	traced(t)
	must(t, "shot register k.dossier bare --point 0,0=5,7 --point 800,0=85,7 --point 0,600=5,-113 --point 800,600=85,-113 --map affine")
	var shots []struct {
		Map   [3][3]float64
		RmsPx float64 `json:"rms_px"`
	}
	if err := json.Unmarshal([]byte(must(t, "shot list k.dossier --json")), &shots); err != nil {
		t.Fatal(err)
	}
	for i, row := range [3][3]float64{{100, 0, 5000}, {0, -200, 7000}, {0, 0, 1}} {
		for j, want := range row {
			if got := shots[0].Map[i][j]; math.Abs(got-want) > 1e-6 {
				t.Errorf("row %d, column %d: %g, want %g", i, j, got, want)
			}
		}
	}
	if shots[0].RmsPx > 1e-6 {
		t.Error(shots[0].RmsPx)
	}
}
