package edit

import (
	"errors"
	"fmt"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

func TestLabels(t *testing.T) {
	d := create(t)
	do(t, d, func(tx *dossier.Tx) error {
		a, err1 := SetLabel(tx, 1, "poly", at(5, 5), "A")
		b, err2 := SetLabel(tx, 1, "metal1", at(5, 5), "B") // another layer
		c, err3 := SetLabel(tx, 1, "poly", at(5, 5), "C")   // the same place
		_, err4 := SetLabel(tx, 1, "poly", at(6, 5), "D")
		want(t, "ids", fmt.Sprint(a, b, c), "1 2 1")
		return errors.Join(err1, err2, err3, err4)
	})
	show := func() string {
		labels, err := d.Labels(1)
		return fmt.Sprint(labels, err)
	}
	want(t, "set", show(), "[{1 1 poly {5 5} C} {2 1 metal1 {5 5} B} {3 1 poly {6 5} D}] <nil>")
	do(t, d, func(tx *dossier.Tx) error {
		return errors.Join(RenameLabel(tx, 1, "E"), MoveLabel(tx, 2, at(7, 8)), RemoveLabel(tx, 3))
	})
	want(t, "changed", show(), "[{1 1 poly {5 5} E} {2 1 metal1 {7 8} B}] <nil>")
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"poly: a label without text at (0.005, 0.005) µm: give a name, or remove the label", func(tx *dossier.Tx) error { return RenameLabel(tx, 1, "") }},
		{"there is no such thing in the dossier: label 3", func(tx *dossier.Tx) error { return RemoveLabel(tx, 3) }},
		{"there is no such thing in the dossier: label 3", func(tx *dossier.Tx) error { return MoveLabel(tx, 3, at(0, 0)) }},
		{`poly: label "E": it would reach from (0, 1.073741825e+06) µm to (0, 1.073741825e+06) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`,
			func(tx *dossier.Tx) error { return MoveLabel(tx, 1, at(0, geom.Limit+1)) }},
		{`layer "x" is not in the stack, which has diffusion, nwell, poly, contact, metal1, via1, metal2: take one of these, or add it to the stack`, func(tx *dossier.Tx) error {
			_, err := SetLabel(tx, 1, "x", at(0, 0), "A")
			return err
		}},
		{"there is no cell 4: take one of the dossier's", func(tx *dossier.Tx) error {
			_, err := SetLabel(tx, 4, "poly", at(0, 0), "A")
			return err
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}

func TestAreas(t *testing.T) {
	d := create(t)
	do(t, d, func(tx *dossier.Tx) error {
		a, err1 := AddArea(tx, "poly", box(9, 9, 0, 0))
		_, err2 := AddArea(tx, "metal1", box(0, 0, 5, 5))
		_, err3 := AddArea(tx, "poly", ring(0, 0, 0, 8, 8, 0)) // clockwise
		return errors.Join(err1, err2, err3, ReplaceArea(tx, a, box(0, 0, 7, 7)))
	})
	show := func() string {
		areas, err := d.Areas()
		return fmt.Sprint(areas, err)
	}
	want(t, "areas", show(), "[{1 poly [[{0 0} {7 0} {7 7} {0 7}]]} {2 metal1 [[{0 0} {5 0} {5 5} {0 5}]]} {3 poly [[{8 0} {0 8} {0 0}]]}] <nil>")
	do(t, d, func(tx *dossier.Tx) error {
		ids, err := SetAreas(tx, "poly", box(1, 1, 2, 2))
		want(t, "ids", fmt.Sprint(ids), "[3]")
		return err
	})
	want(t, "areas", show(), "[{2 metal1 [[{0 0} {5 0} {5 5} {0 5}]]} {3 poly [[{1 1} {2 1} {2 2} {1 2}]]}] <nil>")
	do(t, d, func(tx *dossier.Tx) error { return RemoveAreas(tx, 2, 2) })
	want(t, "areas", show(), "[{3 poly [[{1 1} {2 1} {2 2} {1 2}]]}] <nil>")
	do(t, d, func(tx *dossier.Tx) error {
		_, err := SetAreas(tx, "poly")
		return err
	})
	want(t, "areas", show(), "[] <nil>")
	unknown := `layer "x" is not in the stack, which has diffusion, nwell, poly, contact, metal1, via1, metal2: take one of these, or add it to the stack`
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"traced area on poly: the outline crosses itself at (0.005, 0.005) µm: move a corner, or draw two shapes", func(tx *dossier.Tx) error {
			_, err := AddArea(tx, "poly", ring(0, 0, 10, 10, 10, 0, 0, 10))
			return err
		}},
		{unknown, func(tx *dossier.Tx) error {
			_, err := AddArea(tx, "x", box(0, 0, 1, 1))
			return err
		}},
		{unknown, func(tx *dossier.Tx) error {
			_, err := SetAreas(tx, "x")
			return err
		}},
		{"there is no such thing in the dossier: traced area 7", func(tx *dossier.Tx) error { return RemoveAreas(tx, 7) }},
		{"there is no such thing in the dossier: traced area 7", func(tx *dossier.Tx) error { return ReplaceArea(tx, 7, box(0, 0, 1, 1)) }},
		{"traced area on poly: a polygon without rings: give a ring of three points or more", func(tx *dossier.Tx) error {
			id, err := AddArea(tx, "poly", box(0, 0, 1, 1))
			return errors.Join(err, ReplaceArea(tx, id, nil))
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}
