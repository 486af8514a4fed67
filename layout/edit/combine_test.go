package edit

import (
	"errors"
	"fmt"
	"testing"

	"undermetal/layout/dossier"
)

func TestMerge(t *testing.T) {
	d := create(t)
	add(t, d, "poly", box(0, 0, 10, 10))
	add(t, d, "poly", box(5, 5, 15, 15))                          // overlaps 1
	add(t, d, "poly", box(15, 0, 20, 10))                         // shares a stretch with 2
	add(t, d, "poly", box(20, 10, 30, 20))                        // a corner of 3
	add(t, d, "poly", box(25, 25, 30, 30))                        // alone
	add(t, d, "poly", box(30, 15, 40, 20))                        // beside 4
	knot := add(t, d, "poly", ring(50, 0, 60, 10, 60, 0, 50, 10)) // not valid, alone
	do(t, d, func(tx *dossier.Tx) error {
		m, err := Merge(tx, []int64{1, 2, 3, 4, 5, 6, knot})
		want(t, "merged", fmt.Sprint(m), "{[1 4] [5 7] []}")
		return err
	})
	want(t, "drawing", show(t, d, 1), `1 poly [[{0 0} {10 0} {10 5} {15 5} {15 0} {20 0} {20 10} {15 10} {15 15} {5 15} {5 10} {0 10}]]
4 poly [[{20 10} {30 10} {30 15} {40 15} {40 20} {20 20}]]
5 poly [[{25 25} {30 25} {30 30} {25 30}]]
7 poly [[{50 0} {60 10} {60 0} {50 10}]]`)
}

// TestMergeOrder: the first that is named keeps its id.
func TestMergeOrder(t *testing.T) {
	d := create(t)
	add(t, d, "poly", box(0, 0, 10, 10))
	add(t, d, "poly", box(10, 0, 20, 10))
	do(t, d, func(tx *dossier.Tx) error {
		_, err := Merge(tx, []int64{2, 1})
		return err
	})
	want(t, "drawing", show(t, d, 1), "2 poly [[{0 0} {20 0} {20 10} {0 10}]]")
}

// TestMergePinched: four bars around a hole that reaches the rim in (1, 4); see layout/region.
func TestMergePinched(t *testing.T) {
	d := create(t)
	for _, b := range [][4]int{{0, 0, 4, 1}, {3, 1, 4, 4}, {1, 4, 4, 5}, {0, 1, 1, 4}} {
		add(t, d, "poly", box(b[0], b[1], b[2], b[3]))
	}
	do(t, d, func(tx *dossier.Tx) error {
		m, err := Merge(tx, []int64{1, 2, 3, 4})
		want(t, "merged", fmt.Sprint(m), "{[1 5 6] [] []}")
		return err
	})
	want(t, "drawing", show(t, d, 1), `1 poly [[{0 0} {2 0} {2 1} {1 1} {1 4} {0 4}]]
5 poly [[{1 4} {2 4} {2 5} {1 5}]]
6 poly [[{2 0} {4 0} {4 5} {2 5} {2 4} {3 4} {3 1} {2 1}]]`)
}

func TestMergeOrigins(t *testing.T) {
	d := create(t)
	top, bottom := addShot(t, d, "top"), addShot(t, d, "bottom")
	for _, tc := range []struct {
		name  string
		parts []Origin
		want  Origin
		mixed bool
	}{
		{"the same", []Origin{{"file", top, "a.gds", 3}, {"file", top, "a.gds", 3}}, Origin{"file", top, "a.gds", 3}, false},
		{"other method", []Origin{{"automatic", top, "", 3}, {"file", top, "", 3}, {"automatic", top, "", 3}}, Origin{"hand", top, "", 3}, true},
		{"other shot", []Origin{{"hand", top, "", 3}, {"hand", bottom, "", 3}, {"hand", top, "", 3}}, Origin{"hand", 0, "", 3}, true},
		{"one without shot", []Origin{{"hand", top, "", 3}, {"hand", 0, "", 3}}, Origin{"hand", 0, "", 3}, true},
		{"other files", []Origin{{"file", 0, "b.svg", 3}, {"file", 0, "a.gds", 3}, {"file", 0, "b.svg", 3}}, Origin{"file", 0, "b.svg, a.gds", 3}, true},
		{"one without file", []Origin{{"hand", 0, "", 3}, {"hand", 0, "a.gds", 3}}, Origin{"hand", 0, "a.gds", 3}, true},
		{"the largest uncertainty", []Origin{{"hand", 0, "", 3}, {"hand", 0, "", 7}, {"hand", 0, "", 5}}, Origin{"hand", 0, "", 7}, true},
	} {
		do(t, d, func(tx *dossier.Tx) error {
			var ids []int64
			for i, o := range tc.parts {
				id, err := Rectangle(tx, On{dossier.Frame, "poly", o}, at(10*i, 0), at(10*i+15, 5))
				if err != nil {
					return err
				}
				ids = append(ids, id)
			}
			m, err := Merge(tx, ids)
			if err != nil {
				return err
			}
			shapes, err := tx.ShapesWith(m.Shapes...)
			if s := shapes[0]; (Origin{s.Method, s.Shot, s.File, s.SigmaNm}) != tc.want || len(m.Mixed) > 0 != tc.mixed {
				t.Errorf("%s: %v, mixed %v", tc.name, s, m.Mixed)
			}
			return errors.Join(err, Delete(tx, Selection{Shapes: m.Shapes}))
		})
	}
}

func TestSplitShapes(t *testing.T) {
	d := create(t)
	s := addShot(t, d, "top")
	do(t, d, func(tx *dossier.Tx) error {
		on := On{dossier.Frame, "poly", Origin{"automatic", s, "x.png", 4}}
		_, err1 := Rectangle(tx, on, at(0, 0), at(10, 10))
		_, err2 := Rectangle(tx, on, at(20, 0), at(30, 4))
		_, err3 := Rectangle(tx, on, at(40, 6), at(50, 10))
		_, err4 := Polygon(tx, on, ring(60, 0, 70, 0, 70, 9, 66, 9, 66, 2, 64, 2, 64, 9, 60, 9))
		left, right, err5 := Split(tx, []int64{1, 2, 3, 4}, at(0, 5), at(1, 5))
		want(t, "left", fmt.Sprint(left, right), "[1 3 4 6] [5 2 7]")
		return errors.Join(err1, err2, err3, err4, err5)
	})
	want(t, "drawing", show(t, d, 1), `1 poly [[{0 5} {10 5} {10 10} {0 10}]]
2 poly [[{20 0} {30 0} {30 4} {20 4}]]
3 poly [[{40 6} {50 6} {50 10} {40 10}]]
4 poly [[{60 5} {64 5} {64 9} {60 9}]]
5 poly [[{0 0} {10 0} {10 5} {0 5}]]
6 poly [[{66 5} {70 5} {70 9} {66 9}]]
7 poly [[{60 0} {70 0} {70 5} {66 5} {66 2} {64 2} {64 5} {60 5}]]`)
	shapes, _ := d.Shapes(1)
	for _, p := range shapes {
		if (Origin{p.Method, p.Shot, p.File, p.SigmaNm}) != (Origin{"automatic", s, "x.png", 4}) {
			t.Errorf("%v does not say where it comes from", p)
		}
	}
}

func TestSubtract(t *testing.T) {
	d := create(t)
	s := addShot(t, d, "top")
	do(t, d, func(tx *dossier.Tx) error {
		on := On{dossier.Frame, "poly", Origin{"automatic", s, "x.png", 4}}
		_, err1 := Rectangle(tx, on, at(0, 0), at(20, 10))
		_, err2 := Rectangle(tx, on, at(9, 12), at(11, 13))              // goes
		_, err3 := Rectangle(tx, on, at(12, 0), at(30, 10))              // is only touched
		rest, err4 := Subtract(tx, []int64{1, 2, 3}, box(12, 20, 8, -5)) // drawn clockwise
		want(t, "rest", fmt.Sprint(rest), "[1 4 3]")
		return errors.Join(err1, err2, err3, err4)
	})
	want(t, "drawing", show(t, d, 1), `1 poly [[{0 0} {8 0} {8 10} {0 10}]]
3 poly [[{12 0} {30 0} {30 10} {12 10}]]
4 poly [[{12 0} {20 0} {20 10} {12 10}]]`)
	shapes, _ := d.ShapesWith(4)
	if p := shapes[0]; (Origin{p.Method, p.Shot, p.File, p.SigmaNm}) != (Origin{"automatic", s, "x.png", 4}) {
		t.Errorf("%v does not say where it comes from", p)
	}
}

// TestResolve: a bow tie is two triangles, a valid shape stays, one that covers nothing goes.
func TestResolve(t *testing.T) {
	d := create(t)
	add(t, d, "poly", ring(0, 0, 4, 4, 4, 0, 0, 4))
	add(t, d, "metal1", box(9, 0, 7, 2))
	add(t, d, "poly", ring(0, 0, 5, 5, 9, 9))
	do(t, d, func(tx *dossier.Tx) error {
		made, err := Resolve(tx, []int64{1, 2, 3})
		want(t, "made", fmt.Sprint(made), "[1 4]")
		return err
	})
	want(t, "drawing", show(t, d, 1), "1 poly [[{0 0} {2 2} {0 4}]]\n2 metal1 [[{7 0} {9 0} {9 2} {7 2}]]\n4 poly [[{2 2} {4 0} {4 4}]]")
}

// TestKnots: operations on shapes that are not valid resolve them, or carry them as they are.
func TestKnots(t *testing.T) {
	d := create(t)
	id := add(t, d, "poly", ring(0, 0, 8, 8, 8, 0, 0, 8))
	add(t, d, "poly", box(8, 0, 10, 8))
	do(t, d, func(tx *dossier.Tx) error { return Turn(tx, Selection{Shapes: []int64{id}}, at(4, 4), 180) })
	want(t, "turned", show(t, d, 1), "1 poly [[{8 8} {0 0} {0 8} {8 0}]]\n2 poly [[{8 0} {10 0} {10 8} {8 8}]]")
	do(t, d, func(tx *dossier.Tx) error {
		m, err := Merge(tx, []int64{1, 2})
		want(t, "merged", fmt.Sprint(m), "{[1 3] [] []}")
		return err
	})
	want(t, "merged", show(t, d, 1), "1 poly [[{0 0} {4 4} {0 8}]]\n3 poly [[{4 4} {8 0} {10 0} {10 8} {8 8}]]")
	do(t, d, func(tx *dossier.Tx) error {
		s := on("poly").shape()
		s.Polygon = ring(20, 0, 28, 8, 28, 0, 20, 8)
		if err := tx.AddShape(&s); err != nil {
			return err
		}
		left, right, err := Split(tx, []int64{s.ID}, at(24, 0), at(24, 1))
		want(t, "halves", fmt.Sprint(left, right), "[4] [5]")
		return err
	})
	want(t, "split", show(t, d, 1), "1 poly [[{0 0} {4 4} {0 8}]]\n3 poly [[{4 4} {8 0} {10 0} {10 8} {8 8}]]\n4 poly [[{20 0} {24 4} {20 8}]]\n5 poly [[{24 4} {28 0} {28 8}]]")
}

// TestKnotTurned: by 3-4-5, (x, y) → (0.8x - 0.6y, 0.6x + 0.8y): it stays a knot, as it was.
func TestKnotTurned(t *testing.T) {
	d := create(t)
	add(t, d, "poly", ring(0, 0, 10, 10, 10, 0, 0, 10))
	do(t, d, func(tx *dossier.Tx) error {
		return Turn(tx, Selection{Shapes: []int64{1}}, at(0, 0), 36.86989764584402)
	})
	want(t, "turned", show(t, d, 1), "1 poly [[{0 0} {2 14} {8 6} {-6 8}]]")
}

func TestCombineErrors(t *testing.T) {
	d := create(t)
	add(t, d, "poly", box(0, 0, 10, 10))
	add(t, d, "poly", box(10, 10, 20, 20))
	add(t, d, "metal1", box(0, 0, 10, 10))
	split := func(ids []int64, x0, y0, x1, y1 int) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, _, err := Split(tx, ids, at(x0, y0), at(x1, y1))
			return err
		}
	}
	merge := func(ids ...int64) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Merge(tx, ids)
			return err
		}
	}
	subtract := func(ids []int64, xy ...int) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Subtract(tx, ids, ring(xy...))
			return err
		}
	}
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"nothing is selected: select shapes, labels or placements first", merge()},
		{"what is selected lies on poly and on metal1: take one layer at a time", merge(1, 3)},
		{"poly: of 2 shapes at (0, 0) µm no two overlap or share an edge: move them together first", merge(1, 2)},
		{"nothing is selected: select shapes, labels or placements first", split(nil, 0, 0, 1, 1)},
		{"a line from (0.005, 0.001) µm to itself has no direction: give two points", split([]int64{1}, 5, 1, 5, 1)},
		{"poly: the line from (0.01, 0) µm to (0.01, 0.005) µm crosses none of 2 shapes: lead it across one", split([]int64{1, 2}, 10, 0, 10, 5)},
		{"nothing is selected: select shapes, labels or placements first", subtract(nil, 0, 0, 1, 0, 0, 1)},
		{"the part to be cut out: the outline crosses itself at (0.002, 0.002) µm: move a corner, or draw two shapes", subtract([]int64{1}, 0, 0, 4, 4, 4, 0, 0, 4)},
		{"poly: what is to be cut out at (0.01, 0) µm overlaps none of 1 shapes: move it onto one", subtract([]int64{1}, 10, 0, 20, 0, 20, 10, 10, 10)},
		{"there is no such thing in the dossier: shape 9", func(tx *dossier.Tx) error {
			_, err := Resolve(tx, []int64{9})
			return err
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}
