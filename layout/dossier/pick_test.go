package dossier

import (
	"errors"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

func TestPick(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	a, b := Shape{Cell: Frame, Layer: "poly", Polygon: square(0, 0, 5), Method: "hand"}, Shape{Cell: Frame, Layer: "poly", Polygon: square(-7, 8, 2), Method: "hand"}
	l := Label{Cell: Frame, Layer: "poly", At: geom.Point{X: 1, Y: 2}, Text: "A"}
	c := Cell{Name: "cell"}
	p := Placement{Parent: Frame, Magnification: 1, Columns: 2, Rows: 1}
	edit(t, d, "draw", func(tx *Tx) error {
		err := errors.Join(tx.AddShape(&a), tx.AddShape(&b), tx.AddLabel(&l), tx.AddCell(&c))
		p.Child = c.ID
		return errors.Join(err, tx.AddPlacement(&p))
	})
	shapes, err := d.ShapesWith(b.ID, a.ID, b.ID)
	if err != nil || !reflect.DeepEqual(shapes, []Shape{b, a, b}) {
		t.Errorf("%v %v", shapes, err)
	}
	if none, err := d.ShapesWith(); none != nil || err != nil {
		t.Error(none, err)
	}
	if _, err := d.ShapesWith(a.ID, 99); !errors.Is(err, ErrMissing) || err.Error() != "there is no such thing in the dossier: shape 99" {
		t.Error(err)
	}
	labels, err := d.LabelsWith(l.ID)
	if err != nil || !reflect.DeepEqual(labels, []Label{l}) {
		t.Error(labels, err)
	}
	placements, err := d.PlacementsWith(p.ID)
	of, err2 := d.PlacementsOf(c.ID)
	if err != nil || err2 != nil || !reflect.DeepEqual(placements, []Placement{p}) || !reflect.DeepEqual(of, placements) {
		t.Error(placements, of, err, err2)
	}
	if box, err := d.ShapesBox(Frame); err != nil || box != geom.Box(-7, 0, 5, 10) {
		t.Error(box, err)
	}
	if box, err := d.ShapesBox(c.ID); err != nil || !box.Empty() {
		t.Error(box, err)
	}
}

// TestShapesInPlan: the index of boxes is asked first.
func TestShapesInPlan(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	plan, err := query(d.reads, "EXPLAIN QUERY PLAN "+shapesIn, func(scan func(...any) error) (s string, err error) {
		var id, parent, unused int
		return s, scan(&id, &parent, &unused, &s)
	}, 1, 0, 1, 0, 1)
	if err != nil || len(plan) == 0 || !strings.HasPrefix(plan[0], "SCAN b VIRTUAL TABLE") {
		t.Errorf("%q %v", plan, err)
	}
}
