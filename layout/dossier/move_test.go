package dossier

import (
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// mapped is a map by its parameters.
func mapped(t *testing.T, kind register.Kind, parameters ...float64) register.Map {
	t.Helper()
	m, err := register.ParseMap(kind, parameters)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// tracedShot makes a dossier with a shot of 100 × 50 px of 10 nm each, and a shape over its pixels (20, 10) to (30, 20),
// which is (200, 300) to (300, 400) nm from its lower left corner, another one of its cell, and one that is not its own.
func tracedShot(t *testing.T) (*Dossier, *Shot) {
	t.Helper()
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 100, 50)
	s.Scale = shot.Scale{NmPerPx: 10, Sigma: 0.1, How: "stated"}
	edit(t, d, "trace", func(tx *Tx) error {
		return errors.Join(tx.SetShot(s), tx.AddCell(&Cell{Name: "A"}), tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: box(200, 300, 300, 400), Method: "hand", Shot: s.ID, SigmaNm: 5}),
			tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(0, 0, 7), Method: "hand", Shot: s.ID}), tx.AddShape(&Shape{Cell: Frame, Layer: "metal1", Polygon: square(0, 0, 9), Method: "hand"}))
	})
	return d, s
}

func box(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }

// TestRegister: by hand. X = 1000 + 20·px, Y = 2000 − 20·py takes the pixels (20, 10) to (30, 20) to (1400, 1600) to (1600,
// 1800): the farthest corner goes from (300, 400) to (1600, 1800), by √(1300² + 1400²). An edge that is uncertain by half a
// pixel stays so, 10 nm instead of 5. Trying changes nothing, and says the same.
func TestRegister(t *testing.T) {
	d, s := tracedShot(t)
	before := dump(t, d.reads)
	n := &Registering{Map: mapped(t, register.Similarity, 20, 0, 1000, 0, -20, 2000), Points: []ControlPoint{{PX: 0, PY: 50, X: 1000, Y: 1000}, {PX: 100, PY: 50, X: 3000, Y: 1000}}, Residuals: []float64{0, 0}}
	want := Moved{ByLayer: map[string]int{"poly": 1}, Furthest: math.Hypot(1300, 1400), InCells: 1}
	if got, err := d.TryRegister(s, n); err != nil || !reflect.DeepEqual(got, want) {
		t.Error(got, err)
	}
	if dump(t, d.reads) != before {
		t.Error("to try has changed something")
	}
	var got Moved
	edit(t, d, "register", func(tx *Tx) (err error) { got, err = tx.Register(s, n); return err })
	if !reflect.DeepEqual(got, want) {
		t.Error(got)
	}
	shapes, err := d.Shapes(Frame)
	if err != nil || !reflect.DeepEqual(shapes[0].Polygon.Bounds(), geom.Box(1400, 1600, 1600, 1800)) || math.Abs(shapes[0].SigmaNm-10) > 1e-9 || !reflect.DeepEqual(shapes[1].Polygon, square(0, 0, 9)) {
		t.Error(shapes, err)
	}
	if inCell, err := d.Shapes(2); err != nil || !reflect.DeepEqual(inCell[0].Polygon, square(0, 0, 7)) {
		t.Error(inCell, err)
	}
	l, err := d.Locate(s)
	if err != nil || l.Registration.Laid() || l.ToFrame.Apply(geom.Vec{X: 20, Y: 10}) != (geom.Vec{X: 1400, Y: 1800}) {
		t.Error(l, err)
	}
	if points, err := d.ControlPoints(s.ID); err != nil || len(points) != 2 || points[1].X != 3000 {
		t.Error(points, err)
	}
	if _, err := d.Undo(t.Context()); err != nil || dump(t, d.reads) != before {
		t.Error("undo does not bring back all of it", err)
	}
	n.KeepShapes = true
	edit(t, d, "register", func(tx *Tx) (err error) { got, err = tx.Register(s, n); return err })
	if shapes, err := d.Shapes(Frame); err != nil || !reflect.DeepEqual(shapes[0].Polygon.Bounds(), geom.Box(200, 300, 300, 400)) || len(got.ByLayer) > 0 {
		t.Error("a shape moved that was to be kept", shapes, err)
	}
}

// TestFurthest: of two shapes that move the one that goes farther counts, wherever it stands. By hand: a map that makes all
// twice as large from the corner takes (300, 400) to (600, 800), 500 nm farther, and (100, 100) to (200, 200), 141 nm.
func TestFurthest(t *testing.T) {
	d, s := tracedShot(t)
	edit(t, d, "trace", func(tx *Tx) error {
		return tx.AddShape(&Shape{Cell: Frame, Layer: "contact", Polygon: box(50, 50, 100, 100), Method: "hand", Shot: s.ID})
	})
	n := &Registering{Map: mapped(t, register.Similarity, 20, 0, 0, 0, -20, 1000)}
	want := Moved{ByLayer: map[string]int{"poly": 1, "contact": 1}, Furthest: 500, InCells: 1}
	if got, err := d.TryRegister(s, n); err != nil || !reflect.DeepEqual(got, want) {
		t.Error(got, err)
	}
}

// TestRegisterRefused: what cannot be, with nothing stored. A map with w = 1 − x/80 has its horizon at x = 80, right of the
// middle at 50. A pixel of 100 mm puts the shape at 2 m, where the frame ends at 1.07 m; one of 1 pm makes it vanish.
func TestRegisterRefused(t *testing.T) {
	d, s := tracedShot(t)
	before := dump(t, d.reads)
	for _, tc := range []struct {
		m    register.Map
		is   error
		want string
	}{
		{mapped(t, register.Projective, 10, 0, 0, 0, -10, 500, -1.0/80, 0, 1), ErrCorner, "the projective map has its horizon, or folds, between the photograph's middle and the corner (100, 0)"},
		{mapped(t, register.Similarity, 1e8, 0, 0, 0, -1e8, 0), ErrTraced, "a shape on poly at (0.2, 0.3) µm would leave the frame"},
		{mapped(t, register.Similarity, 1e-3, 0, 0, 0, -1e-3, 0), ErrTraced, "a shape on poly at (0.2, 0.3) µm would become smaller than the frame's grid of 1 nm"},
	} {
		err := d.Edit(t.Context(), "x", func(tx *Tx) error { _, err := tx.Register(s, &Registering{Map: tc.m}); return err })
		if !errors.Is(err, tc.is) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%v, want %q", err, tc.want)
		}
	}
	if dump(t, d.reads) != before {
		t.Error("something was stored")
	}
}

// TestLocate: a shot that is not calibrated is nowhere, one that is lies with its lower left corner at the origin.
func TestLocate(t *testing.T) {
	d, s := tracedShot(t)
	bare := addShot(t, d, "bare", 10, 10)
	if l, err := d.Locate(bare); err != nil || l.ToFrame != nil || l.FromFrame != nil || l.Registration != nil {
		t.Error(l, err)
	}
	l, err := d.Locate(s)
	if err != nil {
		t.Fatal(err)
	}
	if got := l.ToFrame.Apply(geom.Vec{X: 100, Y: 0}); got != (geom.Vec{X: 1000, Y: 500}) {
		t.Error(got)
	}
	if got := l.FromFrame.Apply(geom.Vec{X: 1000, Y: 500}); math.Hypot(got.X-100, got.Y) > 1e-9 {
		t.Error(got)
	}
	if box := l.Around(20, 10, 30, 20); box != geom.Box(200, 300, 300, 400) {
		t.Error(box)
	}
	if x, y := l.NmPerPx(l.Middle()); x != 10 || y != 10 || !l.Inside(geom.Vec{X: 100, Y: 50}) || l.Inside(geom.Vec{X: 100, Y: 50.1}) {
		t.Error(x, y)
	}
}

// TestFrameScale: the first calibrated shot gives the frame its scale, of registered ones the first by control points, as
// long as its map agrees with its calibration: 10 ± 0.1 nm/px allow 10.2, and not 10.4.
func TestFrameScale(t *testing.T) {
	d, one := tracedShot(t)
	two := addShot(t, d, "two", 100, 50)
	two.Scale = shot.Scale{NmPerPx: 10, Sigma: 0.1, How: "stated"}
	edit(t, d, "calibrate", func(tx *Tx) error { return tx.SetShot(two) })
	is := func(when, name string, want bool) {
		t.Helper()
		s, fixes, err := d.FrameScale()
		if err != nil || s == nil || s.Name != name || fixes != want {
			t.Error(when, s, fixes, err)
		}
	}
	registered := func(s *Shot, nm float64, points bool) {
		n := &Registering{Map: mapped(t, register.Similarity, nm, 0, 0, 0, -nm, 0), KeepShapes: true}
		if points {
			n.Points, n.Residuals = []ControlPoint{{}, {PX: 100, X: 100 * nm}}, []float64{0, 0}
		}
		edit(t, d, "register", func(tx *Tx) error { _, err := tx.Register(s, n); return err })
	}
	is("none registered", "one", true)
	registered(two, 10.2, true)
	is("the second registered", "two", true)
	registered(one, 10, false)
	is("the first laid on it", "two", true)
	registered(two, 10.4, true)
	is("against its calibration", "two", false)
	registered(one, 10, true)
	is("both registered", "one", true)
}

// TestCalibrate: with the shot that gives the frame its scale all grows by 1.5; with another, not registered, what was
// traced over it goes from its corner; what is to be kept stays.
func TestCalibrate(t *testing.T) {
	d, one := tracedShot(t)
	scale := shot.Scale{NmPerPx: 15, Sigma: 0.1, How: "stated"}
	calibrate := func(s *Shot, keep bool, want float64) {
		t.Helper()
		edit(t, d, "calibrate", func(tx *Tx) error {
			factor, err := tx.Calibrate(s, scale, keep)
			if math.Abs(factor-want) > 1e-12 {
				t.Error(factor)
			}
			return err
		})
	}
	bounds := func(want ...geom.Rect) {
		t.Helper()
		shapes, err := d.Shapes(Frame)
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range shapes {
			if s.Polygon.Bounds() != want[i] {
				t.Error(s.Polygon.Bounds(), want[i])
			}
		}
	}
	calibrate(one, true, 1)
	bounds(geom.Box(200, 300, 300, 400), geom.Box(0, 0, 9, 9))
	scale.NmPerPx = 22.5
	calibrate(one, false, 1.5)
	bounds(geom.Box(300, 450, 450, 600), geom.Box(0, 0, 14, 14))
	two := addShot(t, d, "two", 100, 50)
	calibrate(two, false, 1)
	edit(t, d, "trace", func(tx *Tx) error {
		return tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: box(225, 225, 450, 450), Method: "hand", Shot: two.ID})
	})
	scale.NmPerPx = 45
	calibrate(two, false, 1)
	bounds(geom.Box(300, 450, 450, 600), geom.Box(0, 0, 14, 14), geom.Box(450, 450, 900, 900))
}

// TestSpoilt: by hand. A comb's slit of 4 nm, at (0, 0) … made ten times as small, closes: 4 nm become 0. What is not valid from the
// beginning is carried as it was.
func TestSpoilt(t *testing.T) {
	comb := geom.Polygon{geom.Ring{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 300}, {X: 152, Y: 300}, {X: 152, Y: 100}, {X: 148, Y: 100}, {X: 148, Y: 300}, {X: 0, Y: 300}}}
	for _, odd := range []bool{false, true} {
		d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
		s := addShot(t, d, "one", 100, 50)
		s.Scale = shot.Scale{NmPerPx: 10, Sigma: 0.1, How: "stated"}
		pg := cloned(comb)
		if odd {
			pg[0] = append(pg[0], geom.Point{X: 0, Y: 150}, geom.Point{X: 0, Y: 200}) // the outline runs along itself
		}
		edit(t, d, "trace", func(tx *Tx) error {
			return errors.Join(tx.SetShot(s), tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: pg, Method: "hand", Shot: s.ID}))
		})
		before := dump(t, d.reads)
		for _, do := range []func(tx *Tx) error{
			func(tx *Tx) error { return tx.Rescale(0.1) },
			func(tx *Tx) error {
				_, err := tx.Calibrate(s, shot.Scale{NmPerPx: 1, Sigma: 0.1, How: "stated"}, false)
				return err
			},
			func(tx *Tx) error {
				_, err := tx.Register(s, &Registering{Map: mapped(t, register.Similarity, 1, 0, 0, 0, -1, 50), Points: []ControlPoint{{PX: 0, PY: 50}, {PX: 100, PY: 50, X: 100}}, Residuals: []float64{0, 0}})
				return err
			},
		} {
			err := d.Edit(t.Context(), "shrink", do)
			switch {
			case odd && err != nil:
				t.Error(err)
			case odd:
				if _, err := d.Undo(t.Context()); err != nil {
					t.Fatal(err)
				}
			case !errors.Is(err, ErrTraced) || !strings.Contains(err.Error(), "a shape on poly at (0, 0) µm would be spoilt by rounding to the grid of 1 nm, "):
				t.Error(err)
			case dump(t, d.reads) != before:
				t.Error("something was changed")
			}
			s.Scale.NmPerPx = 10
		}
	}
}
