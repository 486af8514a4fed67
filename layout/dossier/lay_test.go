package dossier

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// TestLay: by hand. The shot one, 100 × 50 px of 10 nm, lies with its corner at the origin. A pixel (x, y) of two is (2x +
// 10, 50 − 2y) of one, turned over, and so at (20x + 100, 20y) nm. Half a pixel of one is 5 nm and a quarter of a pixel of two.
// A shape over the pixels (5, 5) to (10, 10) of two, which was calibrated to 1 nm/px and 50 px high, goes from (5, 40) to
// (10, 45) nm to (200, 100) to (300, 200).
func TestLay(t *testing.T) {
	d, one := tracedShot(t)
	two := addShot(t, d, "two", 40, 50)
	two.Scale = shot.Scale{NmPerPx: 1, Sigma: 0.1, How: "stated"}
	edit(t, d, "trace", func(tx *Tx) error {
		return errors.Join(tx.SetShot(two), tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: box(5, 40, 10, 45), Method: "hand", Shot: two.ID}))
	})
	before := dump(t, d.reads)
	l := &Laying{On: one, Map: mapped(t, register.Affine, 2, 0, 10, 0, -2, 50), SigmaPx: 0.5}
	want := Moved{ByLayer: map[string]int{"poly": 1}, Furthest: math.Hypot(290, 160)}
	if got, err := d.TryLay(two, l); err != nil || !reflect.DeepEqual(got, want) || dump(t, d.reads) != before {
		t.Error(got, err)
	}
	edit(t, d, "lay", func(tx *Tx) error {
		got, err := tx.Lay(two, l)
		if !reflect.DeepEqual(got, want) {
			t.Error(got)
		}
		return err
	})
	shapes, err := d.Shapes(Frame)
	if err != nil || shapes[2].Polygon.Bounds() != geom.Box(200, 100, 300, 200) || shapes[0].Polygon.Bounds() != geom.Box(200, 300, 300, 400) {
		t.Error(shapes, err)
	}
	g, err := d.Registration(two.ID)
	if err != nil || !g.Laid() || math.Abs(g.RmsPx-0.25) > 1e-12 || math.Abs(g.RmsNm-5) > 1e-12 {
		t.Error(g, err)
	}
	if at, err := d.Locate(two); err != nil || at.ToFrame.Apply(geom.Vec{X: 3, Y: 4}) != (geom.Vec{X: 160, Y: 80}) {
		t.Error(at, err)
	}
	// The other one fixes the frame now.
	if g, err := d.Registration(one.ID); err != nil || g.Laid() {
		t.Error(g, err)
	}
	if s, fixes, err := d.FrameScale(); err != nil || s.Name != "one" || !fixes {
		t.Error(s, fixes, err)
	}
	if _, err := d.Undo(t.Context()); err != nil || dump(t, d.reads) != before {
		t.Error("one undo does not take back both", err)
	}
	l.KeepShapes = true
	edit(t, d, "lay", func(tx *Tx) error { _, err := tx.Lay(two, l); return err })
	if shapes, err := d.Shapes(Frame); err != nil || shapes[2].Polygon.Bounds() != geom.Box(5, 40, 10, 45) {
		t.Error("a shape moved that was to be kept", shapes, err)
	}
}

// TestLayNowhere: on a shot that is nowhere nothing is laid, nor on a calibrated one beside registered ones.
func TestLayNowhere(t *testing.T) {
	d, one := tracedShot(t)
	two, bare := addShot(t, d, "two", 40, 50), addShot(t, d, "bare", 10, 10)
	lay := func(on *Shot, want string) {
		t.Helper()
		err := d.Edit(t.Context(), "x", func(tx *Tx) error { _, err := tx.Lay(two, &Laying{On: on, Map: register.Identity}); return err })
		if _, try := d.TryLay(two, &Laying{On: on, Map: register.Identity}); !errors.Is(err, ErrNowhere) || !errors.Is(try, ErrNowhere) || !strings.Contains(err.Error(), want) {
			t.Error(err, try)
		}
	}
	lay(bare, "bare is neither calibrated nor registered: nobody knows where it lies in the frame")
	edit(t, d, "register", func(tx *Tx) error {
		return tx.SetRegistration(&Registration{Shot: bare.ID, Kind: "affine", Parameters: []float64{1, 0, 0, 0, 1, 0}})
	})
	lay(one, "one is calibrated but not registered, while others are")
}

// TestLayOnTilted: by hand. A pixel (x, y) of two, 40 × 50 px, is at (100x, 100y)/(1 + x/50) of one, whose pixels are 10 nm:
// in the middle of two, at x = 20, that is stretched by 100·(1.4)^(−3/2) = 60.37 on the average of both directions, since the
// Jacobian's determinant is 100²·1.4⁻³. Half a pixel of one is 0.5/60.37 px of two, and 5 nm.
func TestLayOnTilted(t *testing.T) {
	d, one := tracedShot(t)
	two := addShot(t, d, "two", 40, 50)
	edit(t, d, "lay", func(tx *Tx) error {
		_, err := tx.Lay(two, &Laying{On: one, Map: mapped(t, register.Projective, 100, 0, 0, 0, 100, 0, 0.02, 0, 1), SigmaPx: 0.5})
		return err
	})
	g, err := d.Registration(two.ID)
	if want := 0.5 / (100 * math.Pow(1.4, -1.5)); err != nil || math.Abs(g.RmsPx-want) > 1e-9 || math.Abs(g.RmsNm-5) > 1e-9 {
		t.Error(g, want, err)
	}
}

// TestLayOnSpline: a spline goes through all its points (that is what one is), so that what lies under them is known by hand: a
// pixel (x, y) of two is (2x + 10, 2y + 10) of one, and so are those of two in the table the points of one. A shape with corners
// over the first four of these, at (5, 5) to (30, 15) nm while two lies by itself, 1 nm a pixel and 20 px high, goes to theirs.
func TestLayOnSpline(t *testing.T) {
	d, one := tracedShot(t)
	two := addShot(t, d, "two", 40, 20)
	two.Scale = shot.Scale{NmPerPx: 1, Sigma: 0.1, How: "stated"}
	table := []struct{ two, one, frame geom.Vec }{
		{geom.Vec{X: 5, Y: 5}, geom.Vec{X: 20, Y: 20}, geom.Vec{X: 200, Y: 310}},
		{geom.Vec{X: 30, Y: 5}, geom.Vec{X: 70, Y: 20}, geom.Vec{X: 700, Y: 290}},
		{geom.Vec{X: 30, Y: 15}, geom.Vec{X: 70, Y: 40}, geom.Vec{X: 720, Y: 100}},
		{geom.Vec{X: 5, Y: 15}, geom.Vec{X: 20, Y: 40}, geom.Vec{X: 190, Y: 110}},
		{geom.Vec{X: 20, Y: 10}, geom.Vec{X: 50, Y: 30}, geom.Vec{X: 530, Y: 180}},
		{geom.Vec{X: -5, Y: -5}, geom.Vec{X: 0, Y: 0}, geom.Vec{X: 0, Y: 500}},
	}
	var points []register.Point
	var control []ControlPoint
	for _, row := range table {
		points = append(points, register.Point{From: row.one, To: row.frame})
		control = append(control, ControlPoint{PX: row.one.X, PY: row.one.Y, X: row.frame.X, Y: row.frame.Y})
	}
	f, err := register.FitPoints(register.Spline, points, register.ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	edit(t, d, "register, trace", func(tx *Tx) error {
		_, err := tx.Register(one, &Registering{Map: f.Map, Points: control, Residuals: make([]float64, len(control)), KeepShapes: true})
		return errors.Join(err, tx.SetShot(two), tx.AddShape(&Shape{Cell: Frame, Layer: "metal1", Polygon: box(5, 5, 30, 15), Method: "hand", Shot: two.ID}))
	})
	edit(t, d, "lay", func(tx *Tx) error {
		_, err := tx.Lay(two, &Laying{On: one, Map: mapped(t, register.Similarity, 2, 0, 10, 0, 2, 10), SigmaPx: 0.5})
		return err
	})
	at, err := d.Locate(two)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table {
		if got := at.ToFrame.Apply(row.two); math.Hypot(got.X-row.frame.X, got.Y-row.frame.Y) > 1e-6 {
			t.Errorf("%v goes to %v, want %v", row.two, got, row.frame)
		}
	}
	shapes, err := d.Shapes(Frame)
	if err != nil {
		t.Fatal(err)
	}
	moved := shapes[len(shapes)-1].Polygon[0]
	for _, row := range table[:4] {
		if want := (geom.Point{X: int(row.frame.X), Y: int(row.frame.Y)}); !slices.Contains(moved, want) {
			t.Errorf("no corner of %v goes to %v", moved, want)
		}
	}
	if g, err := d.Registration(two.ID); err != nil || !g.Laid() || g.RmsPx != 0.25 || !(g.RmsNm > 0) {
		t.Error(g, err)
	}
}

// TestLayFixes: the shot by which the others lie cannot be laid on one of them; another one can, and what is not known by
// its map any more is known as well as its corners are (here 0.25 px of 25 across half the diagonal: 1 %).
func TestLayFixes(t *testing.T) {
	d, one := tracedShot(t)
	two := addShot(t, d, "two", 30, 40)
	points := []ControlPoint{{PX: 0, PY: 0, X: 0, Y: 500}, {PX: 100, PY: 0, X: 1000, Y: 500}}
	m := mapped(t, register.Similarity, 10, 0, 0, 0, -10, 500)
	edit(t, d, "register", func(tx *Tx) error {
		_, err := tx.Register(one, &Registering{Map: m, Points: points, Residuals: []float64{0, 0}})
		return err
	})
	lay := func(s, on *Shot) error {
		l := &Laying{On: on, Map: mapped(t, register.Similarity, 2, 0, 0, 0, 2, 0), SigmaPx: 0.5}
		_, try := d.TryLay(s, l)
		err := d.Edit(t.Context(), "lay", func(tx *Tx) error { _, err := tx.Lay(s, l); return err })
		if (try == nil) != (err == nil) {
			t.Error("tried:", try, "done:", err)
		}
		return err
	}
	if err := lay(two, one); err != nil {
		t.Fatal(err)
	}
	at, err := d.Locate(two)
	if err != nil {
		t.Fatal(err)
	}
	if s, err := d.MapScale(at); err != nil || math.Abs(s.NmPerPx-20) > 1e-9 || math.Abs(s.Sigma-0.2) > 1e-9 {
		t.Error(s, err)
	}
	if err := lay(one, two); !errors.Is(err, ErrFixes) || !strings.Contains(err.Error(), one.Name+": it fixes the frame") {
		t.Error(err)
	}
	three := addShot(t, d, "three", 30, 40)
	edit(t, d, "register", func(tx *Tx) error {
		_, err := tx.Register(three, &Registering{Map: m, Points: points[:1], Residuals: []float64{0}})
		return err
	})
	if err := lay(three, one); err != nil {
		t.Error(err)
	}
	if points, err := d.ControlPoints(three.ID); err != nil || len(points) > 0 {
		t.Error("the points of a shot that was laid on another stay", points, err)
	}
}
