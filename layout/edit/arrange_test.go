package edit

import (
	"errors"
	"fmt"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// world is a die with an L on poly (id 1), a label (1) and a cell "c" with a rectangle, placed once (1).
func world(t testing.TB) (d *dossier.Dossier, all Selection, cell int64) {
	d = create(t)
	do(t, d, func(tx *dossier.Tx) error {
		c := dossier.Cell{Name: "c"}
		_, err1 := Polygon(tx, on("poly"), ring(0, 0, 10, 0, 10, 2, 2, 2, 2, 6, 0, 6))
		_, err2 := SetLabel(tx, dossier.Frame, "poly", at(1, 5), "A")
		err3 := tx.AddCell(&c)
		cell = c.ID
		_, err4 := Rectangle(tx, On{Cell: cell, Layer: "metal1"}, at(0, 0), at(4, 1))
		err5 := Place(tx, &dossier.Placement{Parent: dossier.Frame, Child: cell, At: at(20, 0), Columns: 2, ColumnExtent: geom.Vec{X: 10, Y: 3}})
		return errors.Join(err1, err2, err3, err4, err5)
	})
	return d, Selection{[]int64{1}, []int64{1}, []int64{1}}, cell
}

// TestArrange: the L, the label at (1, 5), rectangles 4 × 1 at (20, 0) and (30, 3).
func TestArrange(t *testing.T) {
	for _, tc := range []struct {
		name string
		f    func(tx *dossier.Tx, sel Selection) error
		want string
		at   geom.Point // of the label
	}{
		{"move", func(tx *dossier.Tx, sel Selection) error { return Move(tx, sel, at(100, -7)) },
			"metal1 [{120 -7} {124 -7} {124 -6} {120 -6}]\nmetal1 [{130 -4} {134 -4} {134 -3} {130 -3}]\n" +
				"poly [{100 -7} {110 -7} {110 -5} {102 -5} {102 -1} {100 -1}]", at(101, -2)},
		{"move what is named twice", func(tx *dossier.Tx, sel Selection) error {
			return Move(tx, Selection{append(sel.Shapes, sel.Shapes...), append(sel.Labels, 1), append(sel.Placements, 1)}, at(100, -7))
		}, "metal1 [{120 -7} {124 -7} {124 -6} {120 -6}]\nmetal1 [{130 -4} {134 -4} {134 -3} {130 -3}]\n" +
			"poly [{100 -7} {110 -7} {110 -5} {102 -5} {102 -1} {100 -1}]", at(101, -2)},
		{"quarter", func(tx *dossier.Tx, sel Selection) error { return Turn(tx, sel, at(0, 0), 90) }, // (x, y) → (-y, x)
			"metal1 [{-1 20} {0 20} {0 24} {-1 24}]\nmetal1 [{-4 30} {-3 30} {-3 34} {-4 34}]\n" +
				"poly [{-6 0} {0 0} {0 10} {-2 10} {-2 2} {-6 2}]", at(-5, 1)},
		{"quarter back, about a point", func(tx *dossier.Tx, sel Selection) error { return Turn(tx, sel, at(10, 0), -90) }, // (x, y) → (10 + y, 10 - x)
			"metal1 [{10 -14} {11 -14} {11 -10} {10 -10}]\nmetal1 [{13 -24} {14 -24} {14 -20} {13 -20}]\n" +
				"poly [{10 0} {12 0} {12 8} {16 8} {16 10} {10 10}]", at(15, 9)},
		{"half", func(tx *dossier.Tx, sel Selection) error { return Turn(tx, sel, at(0, 0), 540) },
			"metal1 [{-24 -1} {-20 -1} {-20 0} {-24 0}]\nmetal1 [{-34 -4} {-30 -4} {-30 -3} {-34 -3}]\n" +
				"poly [{-10 -2} {-2 -2} {-2 -6} {0 -6} {0 0} {-10 0}]", at(-1, -5)},
		{"four quarters", func(tx *dossier.Tx, sel Selection) error {
			return errors.Join(Turn(tx, sel, at(3, 4), 90), Turn(tx, sel, at(3, 4), 270))
		}, "metal1 [{20 0} {24 0} {24 1} {20 1}]\nmetal1 [{30 3} {34 3} {34 4} {30 4}]\npoly [{0 0} {10 0} {10 2} {2 2} {2 6} {0 6}]", at(1, 5)},
		{"mirror at the level line y = 3", func(tx *dossier.Tx, sel Selection) error { return Mirror(tx, sel, at(7, 3), 0) }, // y → 6 - y
			"metal1 [{20 5} {24 5} {24 6} {20 6}]\nmetal1 [{30 2} {34 2} {34 3} {30 3}]\n" +
				"poly [{0 0} {2 0} {2 4} {10 4} {10 6} {0 6}]", at(1, 1)},
		{"mirror at the upright line x = 5", func(tx *dossier.Tx, sel Selection) error { return Mirror(tx, sel, at(5, 0), 90) }, // x → 10 - x
			"metal1 [{-14 0} {-10 0} {-10 1} {-14 1}]\nmetal1 [{-24 3} {-20 3} {-20 4} {-24 4}]\n" +
				"poly [{0 0} {10 0} {10 6} {8 6} {8 2} {0 2}]", at(9, 5)},
		{"mirror at 45 degrees", func(tx *dossier.Tx, sel Selection) error { return Mirror(tx, sel, at(0, 0), 45) }, // x ↔ y
			"metal1 [{0 20} {1 20} {1 24} {0 24}]\nmetal1 [{3 30} {4 30} {4 34} {3 34}]\n" +
				"poly [{0 0} {6 0} {6 2} {2 2} {2 10} {0 10}]", at(5, 1)},
		{"mirror twice", func(tx *dossier.Tx, sel Selection) error {
			return errors.Join(Turn(tx, sel, at(0, 0), 90), Mirror(tx, sel, at(1, 2), 45), Mirror(tx, sel, at(1, 2), 45), Turn(tx, sel, at(0, 0), -90))
		}, "metal1 [{20 0} {24 0} {24 1} {20 1}]\nmetal1 [{30 3} {34 3} {34 4} {30 4}]\npoly [{0 0} {10 0} {10 2} {2 2} {2 6} {0 6}]", at(1, 5)},
	} {
		d, all, _ := world(t)
		do(t, d, func(tx *dossier.Tx) error { return tc.f(tx, all) })
		want(t, tc.name, flat(t, d), tc.want)
		if labels, _ := d.Labels(dossier.Frame); len(labels) != 1 || labels[0].At != tc.at {
			t.Errorf("%s: label %v, want it at %v", tc.name, labels, tc.at)
		}
		shapes, _ := d.Shapes(dossier.Frame)
		if s := shapes[0]; s.Polygon[0].Sense() != 1 || s.ID != 1 {
			t.Errorf("%s: %v", tc.name, s)
		}
	}
}

// TestTurnSlanted: 5-12-13. cos = 12/13, sin = 5/13: (130, 0) → (120, 50), and (0, 26) → (-10, 24).
func TestTurnSlanted(t *testing.T) {
	d, _, cell := world(t)
	id := add(t, d, "poly", box(0, 0, 130, 26))
	do(t, d, func(tx *dossier.Tx) error {
		p := dossier.Placement{Parent: dossier.Frame, Child: cell, At: at(130, 0), Rows: 2, RowExtent: geom.Vec{Y: 26}}
		err := Place(tx, &p)
		return errors.Join(err, Turn(tx, Selection{Shapes: []int64{id}, Placements: []int64{p.ID}}, at(0, 0), 22.619864948040426))
	})
	shapes, _ := d.ShapesWith(id)
	want(t, "turned", fmt.Sprint(shapes[0].Polygon), "[[{0 0} {120 50} {110 74} {-10 24}]]")
	p, _ := d.PlacementsWith(2)
	q := toLayout(p[0])
	want(t, "placed", fmt.Sprint(q.Member(0, 0).Apply(at(0, 0)), q.Member(0, 1).Apply(at(0, 0)), q.Transform.Apply(at(1300, 0))), "{120 50} {110 74} {1320 550}")
}

// TestTurnTooSmall: the corners of a square of 1 nm, turned by 45°, are (0, 0), (0.71, 0.71), (0, 1.41), (-0.71, 0.71).
// Rounded they are (0, 0), (1, 1), (0, 1), (-1, 1): a triangle, which is kept.
func TestTurnTooSmall(t *testing.T) {
	d, _, _ := world(t)
	id := add(t, d, "poly", box(0, 0, 1, 1))
	do(t, d, func(tx *dossier.Tx) error { return Turn(tx, Selection{Shapes: []int64{id}}, at(0, 0), 45) })
	shapes, _ := d.ShapesWith(id)
	want(t, "turned", fmt.Sprint(shapes[0].Polygon), "[[{0 0} {1 1} {0 1} {-1 1}]]")
	line := add(t, d, "poly", ring(0, 0, 2, 1, 4, 3)) // by -30°: (2.23, -0.13), (4.96, 0.6): (2, 0), (5, 1)
	do(t, d, func(tx *dossier.Tx) error { return Turn(tx, Selection{Shapes: []int64{line}}, at(0, 0), -30) })
	again, _ := d.ShapesWith(line)
	want(t, "turned", fmt.Sprint(again[0].Polygon), "[[{0 0} {2 0} {5 1}]]")
	// (3, 1) and (4, 1) by -15°: (3.16, 0.19) and (4.12, -0.07): on one line with (0, 0).
	thin := add(t, d, "poly", ring(0, 0, 4, 1, 3, 1))
	fails(t, d, "poly: shape 5 at (0, 0) µm would become smaller than the frame's grid of 1 nm: leave it out, or turn it by quarters",
		func(tx *dossier.Tx) error { return Turn(tx, Selection{Shapes: []int64{thin}}, at(0, 0), -15) })
}

func TestDuplicateDelete(t *testing.T) {
	d, all, _ := world(t)
	before := dump(t, d)
	var made Selection
	do(t, d, func(tx *dossier.Tx) (err error) {
		made, err = Duplicate(tx, all, at(0, 100))
		return err
	})
	want(t, "made", fmt.Sprint(made), "{[3] [2] [2]}")
	want(t, "drawing", flat(t, d), "metal1 [{20 0} {24 0} {24 1} {20 1}]\nmetal1 [{20 100} {24 100} {24 101} {20 101}]\nmetal1 [{30 103} {34 103} {34 104} {30 104}]\n"+
		"metal1 [{30 3} {34 3} {34 4} {30 4}]\npoly [{0 0} {10 0} {10 2} {2 2} {2 6} {0 6}]\npoly [{0 100} {10 100} {10 102} {2 102} {2 106} {0 106}]")
	do(t, d, func(tx *dossier.Tx) error { return Delete(tx, made) })
	want(t, "deleted", dump(t, d), before)
}

func TestSelectionErrors(t *testing.T) {
	d, all, cell := world(t)
	var inCell int64
	do(t, d, func(tx *dossier.Tx) (err error) {
		inCell, err = Rectangle(tx, On{Cell: cell, Layer: "poly"}, at(0, 0), at(1, 1))
		return err
	})
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"nothing is selected: select shapes, labels or placements first", func(tx *dossier.Tx) error { return Move(tx, Selection{}, at(1, 1)) }},
		{"nothing is selected: select shapes, labels or placements first", func(tx *dossier.Tx) error { return Delete(tx, Selection{}) }},
		{"there is no such thing in the dossier: shape 99", func(tx *dossier.Tx) error { return Delete(tx, Selection{Shapes: []int64{1, 99}}) }},
		{"there is no such thing in the dossier: label 99", func(tx *dossier.Tx) error { return Move(tx, Selection{Labels: []int64{99}}, at(1, 1)) }},
		{"there is no such thing in the dossier: placement 99", func(tx *dossier.Tx) error { return Move(tx, Selection{Placements: []int64{99}}, at(1, 1)) }},
		{`what is selected lies in cell "die" and in cell "c": take one cell at a time`, func(tx *dossier.Tx) error { return Move(tx, Selection{Shapes: []int64{1, inCell}}, at(1, 1)) }},
		{"an angle of 1e+07°: give one between 0 and 360", func(tx *dossier.Tx) error { return Turn(tx, all, at(0, 0), 1e7) }},
		{"an angle of 1e+07°: give one between 0 and 360", func(tx *dossier.Tx) error { return Mirror(tx, all, at(0, 0), 1e7) }},
		{`poly: it would reach from (1.073741818e+06, 0) µm to (1.073741828e+06, 0.006) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`,
			func(tx *dossier.Tx) error { return Move(tx, all, at(geom.Limit-6, 0)) }},
		{`poly: label "A": it would reach from (1.073741825e+06, 0.005) µm to (1.073741825e+06, 0.005) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`,
			func(tx *dossier.Tx) error { return Move(tx, Selection{Labels: []int64{1}}, at(geom.Limit, 0)) }},
		{`it would reach from (1.073741811e+06, 0) µm to (1.073741825e+06, 0.004) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`,
			func(tx *dossier.Tx) error { return Move(tx, Selection{Placements: []int64{1}}, at(geom.Limit-33, 0)) }},
		// What is drawn in a cell must fit wherever the cell is placed: at (30, 3) too.
		{`metal1: it would reach from (0.02, 1.073741822e+06) µm to (0.031, 1.073741826e+06) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`,
			func(tx *dossier.Tx) error {
				_, err := Rectangle(tx, On{Cell: cell, Layer: "metal1"}, at(0, geom.Limit-2), at(1, geom.Limit-1))
				return err
			}},
	} {
		fails(t, d, tc.want, tc.f)
	}
	do(t, d, func(tx *dossier.Tx) error { return Move(tx, Selection{Placements: []int64{1}}, at(geom.Limit-34, 0)) })
}
