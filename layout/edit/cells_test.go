package edit

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

func TestMakeCell(t *testing.T) {
	d, all, _ := world(t)
	add(t, d, "poly", box(50, 50, 60, 60)) // stays
	before := flat(t, d)
	do(t, d, func(tx *dossier.Tx) error {
		cell, p, err := MakeCell(tx, "new", all, at(3, 4))
		want(t, "made", fmt.Sprint(cell, p), "3 2")
		return err
	})
	want(t, "the same is seen", flat(t, d), before)
	want(t, "in the cell", show(t, d, 3), "1 poly [[{-3 -4} {7 -4} {7 -2} {-1 -2} {-1 2} {-3 2}]]")
	want(t, "in the die", show(t, d, 1), "3 poly [[{50 50} {60 50} {60 60} {50 60}]]")
	labels, _ := d.Labels(3)
	want(t, "labels", fmt.Sprint(labels), "[{1 3 poly {-2 1} A}]")
	placements, _ := d.Placements(1)
	want(t, "placements", fmt.Sprint(placements), "[{2 1 3  false 1 0 {3 4} 1 1 {0 0} {0 0}}]")
	for _, name := range []string{"new", "die"} {
		fails(t, d, fmt.Sprintf("there is a cell %q already: choose another name", name), func(tx *dossier.Tx) error {
			_, _, err := MakeCell(tx, name, Selection{Shapes: []int64{3}}, at(0, 0))
			return err
		})
	}
	do(t, d, func(tx *dossier.Tx) error { return errors.Join(RenameCell(tx, 3, "newer"), RenameCell(tx, 3, "newer")) })
	cells, _ := d.Cells()
	want(t, "cells", fmt.Sprint(cells), "[{1 die} {2 c} {3 newer}]")
	fails(t, d, `there is a cell "c" already: choose another name`, func(tx *dossier.Tx) error { return RenameCell(tx, 3, "c") })
	fails(t, d, "there is no cell 9: take one of the dossier's", func(tx *dossier.Tx) error { return RenameCell(tx, 9, "x") })
	fails(t, d, "a name is empty: give one", func(tx *dossier.Tx) error {
		_, _, err := MakeCell(tx, "", Selection{Shapes: []int64{3}}, at(0, 0))
		return err
	})
	fails(t, d, "nothing is selected: select shapes, labels or placements first", func(tx *dossier.Tx) error {
		_, _, err := MakeCell(tx, "x", Selection{}, at(0, 0))
		return err
	})
}

func TestArray(t *testing.T) {
	d, _, cell := world(t)
	do(t, d, func(tx *dossier.Tx) error {
		return Array(tx, 1, 3, 2, Extent(geom.Vec{X: 10.5}, 3), Extent(geom.Vec{Y: 20}, 2))
	})
	placements, _ := d.Placements(1)
	want(t, "array", fmt.Sprint(placements), "[{1 1 2  false 1 0 {20 0} 3 2 {21 0} {0 20}}]")
	do(t, d, func(tx *dossier.Tx) error { return Array(tx, 1, 1, 1, geom.Vec{X: 5}, geom.Vec{}) }) // an extent of nothing is none
	placements, _ = d.Placements(1)
	want(t, "single", fmt.Sprint(placements), "[{1 1 2  false 1 0 {20 0} 1 1 {0 0} {0 0}}]")

	in := func(p dossier.Placement) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error { return Place(tx, &p) }
	}
	var inner int64
	do(t, d, func(tx *dossier.Tx) error {
		id, err := newCell(tx, "inner")
		inner = id
		return errors.Join(err, Place(tx, &dossier.Placement{Parent: cell, Child: id}))
	})
	nan := math.NaN()
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"there is no cell 9: take one of the dossier's", in(dossier.Placement{Parent: 1, Child: 9})},
		{"there is no cell 9: take one of the dossier's", in(dossier.Placement{Parent: 9, Child: 1})},
		{`cell "c" would contain itself: c → c: place another one`, in(dossier.Placement{Parent: cell, Child: cell})},
		{`cell "inner" would contain itself: inner → die → c → inner: place another one`, in(dossier.Placement{Parent: inner, Child: 1})},
		{"2 columns that lie on each other at (0, 0) µm: give the way from the first to the last", in(dossier.Placement{Parent: 1, Child: cell, Columns: 2})},
		{"3 rows that lie on each other at (0.005, 0) µm: give the way from the first to the last", in(dossier.Placement{Parent: 1, Child: cell, At: at(5, 0), Rows: 3})},
		{"an array at (0, 0) µm that reaches over 1e+07 µm: the frame reaches to ±2³⁰ nm (1.07 m)", in(dossier.Placement{Parent: 1, Child: cell, Rows: 3, RowExtent: geom.Vec{Y: 1e10}})},
		{"an array at (0, 0) µm that reaches over NaN µm: the frame reaches to ±2³⁰ nm (1.07 m)", in(dossier.Placement{Parent: 1, Child: cell, Rows: 3, RowExtent: geom.Vec{Y: nan}})},
		{"a magnification of -1 at (0, 0) µm: give one above 0, up to 1e6", in(dossier.Placement{Parent: 1, Child: cell, Magnification: -1})},
		{"an angle of NaN°: give one between 0 and 360", in(dossier.Placement{Parent: 1, Child: cell, Degrees: nan})},
		{`it would reach from (2.147483648e+06, 0) µm to (2.147483648e+06, 0) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, in(dossier.Placement{Parent: 1, Child: inner, At: at(1<<31, 0)})},
		// Magnified places are rounded, for which 1 nm is allowed all around.
		{`it would reach from (1.069741824e+06, -0.001) µm to (1.073741826e+06, 1000.001) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, in(dossier.Placement{Parent: 1, Child: cell, Magnification: 1e6, At: at(geom.Limit-3999999, 0)})},
		{`placement "": 40000 × 1 members: 1 to 32767 each way`, in(dossier.Placement{Parent: 1, Child: cell, Columns: 40000, ColumnExtent: geom.Vec{X: 40000}})},
		{"0 × 1 members at (0.02, 0) µm: one at least each way", func(tx *dossier.Tx) error { return Array(tx, 1, 0, 1, geom.Vec{}, geom.Vec{}) }},
		{"there is no such thing in the dossier: placement 9", func(tx *dossier.Tx) error { return Array(tx, 9, 1, 1, geom.Vec{}, geom.Vec{}) }},
	} {
		fails(t, d, tc.want, tc.f)
	}
}

// TestExplode: a cell with a rectangle 4 × 1, a label, a verdict, a note and a placement of a square, twice, turned by 90°.
func TestExplode(t *testing.T) {
	d, _, cell := world(t)
	var array dossier.Placement
	do(t, d, func(tx *dossier.Tx) error {
		inner, err1 := newCell(tx, "inner")
		_, err2 := Rectangle(tx, On{Cell: inner, Layer: "poly"}, at(0, 0), at(1, 1))
		err3 := Place(tx, &dossier.Placement{Parent: cell, Child: inner, At: at(6, 0), Columns: 2, ColumnExtent: geom.Vec{X: 2}})
		_, err4 := SetLabel(tx, cell, "metal1", at(3, 1), "B")
		err5 := tx.AddVerdict(&dossier.Verdict{Cell: cell, Layer: "metal1", At: at(2, 0), Kind: "k", Reading: "r"})
		err6 := tx.AddNote(&dossier.Note{Cell: cell, At: at(2, 1), Text: "n"})
		array = dossier.Placement{Parent: 1, Child: cell, Name: "twice", Degrees: 90, At: at(100, 0), Rows: 2, RowExtent: geom.Vec{X: 50}}
		return errors.Join(err1, err2, err3, err4, err5, err6, Place(tx, &array))
	})
	before := flat(t, d)
	do(t, d, func(tx *dossier.Tx) error {
		made, err := Explode(tx, array.ID)
		want(t, "made", fmt.Sprint(len(made.Shapes), len(made.Labels), len(made.Placements)), "2 2 2")
		return err
	})
	want(t, "the same is seen", flat(t, d), before)
	labels, _ := d.Labels(1)
	want(t, "labels", fmt.Sprint(labels), "[{1 1 poly {1 5} A} {3 1 metal1 {99 3} twice[0,0]/B} {4 1 metal1 {149 3} twice[1,0]/B}]")
	placements, _ := d.Placements(1)
	want(t, "placements", fmt.Sprint(placements[1:]), "[{4 1 3 twice[0,0]/inner.1 false 1 90 {100 6} 2 1 {0 2} {0 0}} {5 1 3 twice[1,0]/inner.1 false 1 90 {150 6} 2 1 {0 2} {0 0}}]")
	verdicts, _ := d.Verdicts()
	want(t, "verdicts", fmt.Sprint(verdicts), "[{1 2  metal1 {2 0} k r } {2 1  metal1 {100 2} k r } {3 1  metal1 {150 2} k r }]")
	notes, _ := d.Notes()
	want(t, "notes", fmt.Sprint(notes), "[{1 2 {2 1} n} {2 1 {99 2} n} {3 1 {149 2} n}]")

	do(t, d, func(tx *dossier.Tx) error { // uncertain by 2 nm in the cell, by 6 where that is three times as large
		shapes, err := tx.Shapes(cell)
		shapes[0].SigmaNm = 2
		p := dossier.Placement{Parent: 1, Child: cell, Magnification: 3, Mirror: true}
		made, err2 := Selection{}, errors.Join(err, tx.SetShape(&shapes[0]), Place(tx, &p))
		if err2 == nil {
			made, err2 = Explode(tx, p.ID)
		}
		if err2 == nil {
			shapes, err2 = tx.ShapesWith(made.Shapes[0])
			want(t, "magnified", fmt.Sprint(shapes[0].SigmaNm, shapes[0].Polygon), "6 [[{0 -3} {12 -3} {12 0} {0 0}]]")
		}
		return err2
	})
	fails(t, d, "there is no such thing in the dossier: placement 99", func(tx *dossier.Tx) error {
		_, err := Explode(tx, 99)
		return err
	})
	many := dossier.Placement{Parent: 1, Child: cell, At: at(7, 7), Columns: 1024, Rows: 512, ColumnExtent: geom.Vec{X: 10230}, RowExtent: geom.Vec{Y: 10230}}
	fails(t, d, "1024 × 512 members of 3 things each at (0.007, 0.007) µm, and 1048576 are allowed in all: single out the members that differ instead", func(tx *dossier.Tx) error {
		if err := Place(tx, &many); err != nil {
			return err
		}
		_, err := Explode(tx, many.ID)
		return err
	})
}

func TestClip(t *testing.T) {
	d, all, _ := world(t)
	s := addShot(t, d, "top")
	do(t, d, func(tx *dossier.Tx) error {
		shapes, err := tx.ShapesWith(1)
		shapes[0].Shot, shapes[0].SigmaNm, shapes[0].File = s, 5, "f"
		return errors.Join(err, tx.SetShape(&shapes[0]))
	})
	c, err := Copy(d, all, at(2, 2))
	if err != nil {
		t.Fatal(err)
	}
	want(t, "clip", fmt.Sprint(c), fmt.Sprintf("{[{0 0 poly [[{-2 -2} {8 -2} {8 0} {0 0} {0 4} {-2 4}]] hand %d f 5}] [{0 0 poly {-1 3} A}] [{0 0 2  false 1 0 {18 -2} 2 1 {10 3} {0 0}}] map[2:c] map[%d:top]}", s, s))
	seen := flat(t, d)
	do(t, d, func(tx *dossier.Tx) error {
		again, err := Cut(tx, all, at(2, 2))
		want(t, "cut", fmt.Sprint(again), fmt.Sprint(c))
		return err
	})
	want(t, "cut out", flat(t, d), "")
	do(t, d, func(tx *dossier.Tx) error {
		made, err := Paste(tx, dossier.Frame, c, at(2, 2))
		want(t, "pasted", fmt.Sprint(made), "{[3] [1] [1]}")
		if shapes, _ := tx.ShapesWith(3); shapes[0].Shot != s {
			t.Error(shapes)
		}
		err2 := MoveVertex(tx, 3, Vertex{0, 1}, at(10, 1)) // which is none of the clip's business
		return errors.Join(err, err2, MoveVertex(tx, 3, Vertex{0, 1}, at(10, 0)))
	})
	want(t, "pasted", flat(t, d), seen)
	do(t, d, func(tx *dossier.Tx) error { return tx.RemoveShot(s) })
	var cell int64
	do(t, d, func(tx *dossier.Tx) (err error) {
		cell, err = newCell(tx, "other")
		if err == nil {
			_, err = Paste(tx, cell, c, at(0, 0))
		}
		return err
	})
	shapes, _ := d.Shapes(cell)
	want(t, "in another cell, without the shot", fmt.Sprint(shapes[0].Polygon, shapes[0].Shot, shapes[0].SigmaNm, " ", shapes[0].File), "[[{-2 -2} {8 -2} {8 0} {0 0} {0 4} {-2 4}]] 0 5 f")

	paste := func(cell int64, c Clip, p geom.Point) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Paste(tx, cell, c, p)
			return err
		}
	}
	odd := c
	odd.Labels = []dossier.Label{{Layer: "metl1", Text: "x"}}
	gone := c
	gone.Cells = map[int64]string{2: "gone"}
	self := Clip{Placements: []dossier.Placement{{Child: 5}}, Cells: map[int64]string{5: "other"}}
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"there is nothing to paste: copy something first", paste(1, Clip{}, at(0, 0))},
		{"there is no cell 99: take one of the dossier's", paste(99, c, at(0, 0))},
		{`layer "metl1" is not in the stack, which has diffusion, nwell, poly, contact, metal1, via1, metal2: take one of these, or add it to the stack`, paste(1, odd, at(0, 0))},
		{`cell "gone", which is to be placed, is gone: bring it back, or copy without it`, paste(1, gone, at(0, 0))},
		{`cell "other" would contain itself: other → other: place another one`, paste(cell, self, at(0, 0))},
		{`poly: it would reach from (1.073741822e+06, -0.002) µm to (1.073741832e+06, 0.004) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, paste(1, c, at(geom.Limit, 0))},
		{"nothing is selected: select shapes, labels or placements first", func(tx *dossier.Tx) error {
			_, err := Cut(tx, Selection{}, at(0, 0))
			return err
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}
