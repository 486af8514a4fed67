package edit

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// TestSingleOut: member (1, 2) of 3 × 4 squares at a pitch of 10 × 20. By hand: rows 0 and 1 from (0, 0), one left of it at
// (0, 40), one right of it at (20, 40), row 3 from (0, 60).
func TestSingleOut(t *testing.T) {
	d := create(t)
	var array dossier.Placement
	var cell int64
	do(t, d, func(tx *dossier.Tx) (err error) {
		cell, err = newCell(tx, "pixel")
		_, err1 := Rectangle(tx, On{Cell: cell, Layer: "poly"}, at(0, 0), at(5, 5))
		_, err2 := SetLabel(tx, cell, "poly", at(1, 1), "A")
		err3 := tx.AddVerdict(&dossier.Verdict{Cell: cell, Layer: "poly", At: at(1, 1), Kind: "k", Reading: "r"})
		array = dossier.Placement{Parent: 1, Child: cell, Name: "px", Columns: 3, Rows: 4, ColumnExtent: geom.Vec{X: 20}, RowExtent: geom.Vec{Y: 60}}
		return errors.Join(err, err1, err2, err3, Place(tx, &array))
	})
	before := flat(t, d)
	do(t, d, func(tx *dossier.Tx) error {
		odd, err := SingleOut(tx, array.ID, 1, 2, "covered")
		want(t, "odd", fmt.Sprint(odd), "{3 5 [1 2 3 4]}")
		return err
	})
	want(t, "the same is seen", flat(t, d), before)
	placements, _ := d.Placements(1)
	got := ""
	for _, p := range placements {
		got += fmt.Sprintln(p)
	}
	want(t, "placements", got, `{1 1 2 px false 1 0 {0 0} 3 2 {20 0} {0 20}}
{2 1 2 px.2 false 1 0 {0 40} 1 1 {0 0} {0 0}}
{3 1 2 px.3 false 1 0 {20 40} 1 1 {0 0} {0 0}}
{4 1 2 px.4 false 1 0 {0 60} 3 1 {20 0} {0 0}}
{5 1 3 px[2,1] false 1 0 {10 40} 1 1 {0 0} {0 0}}
`)
	labels, _ := d.Labels(3)
	want(t, "labels", fmt.Sprint(labels), "[{2 3 poly {1 1} A}]")
	verdicts, _ := d.Verdicts()
	want(t, "verdicts", fmt.Sprint(verdicts), "[{1 2  poly {1 1} k r } {2 3  poly {1 1} k r }]")
	do(t, d, func(tx *dossier.Tx) error { // it is another cell now
		_, err := Rectangle(tx, On{Cell: 3, Layer: "metal1"}, at(0, 0), at(5, 5))
		return err
	})
	want(t, "one member differs", flat(t, d), "metal1 [{10 40} {15 40} {15 45} {10 45}]\n"+before)

	do(t, d, func(tx *dossier.Tx) error { // one that is no array keeps its placement
		odd, err := SingleOut(tx, 5, 0, 0, "again")
		want(t, "odd", fmt.Sprint(odd), "{4 5 []}")
		return err
	})
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"no member in column 3 and row 0 of an array of 3 × 2 at (0, 0) µm: count both from 0", func(tx *dossier.Tx) error {
			_, err := SingleOut(tx, 1, 3, 0, "x")
			return err
		}},
		{"no member in column 0 and row -1 of an array of 3 × 2 at (0, 0) µm: count both from 0", func(tx *dossier.Tx) error {
			_, err := SingleOut(tx, 1, 0, -1, "x")
			return err
		}},
		{`there is a cell "pixel" already: choose another name`, func(tx *dossier.Tx) error {
			_, err := SingleOut(tx, 1, 0, 0, "pixel")
			return err
		}},
		{"there is no such thing in the dossier: placement 99", func(tx *dossier.Tx) error {
			_, err := SingleOut(tx, 99, 0, 0, "x")
			return err
		}},
		{"an array of 10000 × 10000 members at (0, 0) µm whose pitch is not whole cannot be taken apart so that all others stay where they are: round its pitch to whole nanometres first", func(tx *dossier.Tx) error {
			p := dossier.Placement{Parent: 1, Child: cell, Columns: 10000, Rows: 10000, ColumnExtent: geom.Vec{X: 100001, Y: 7}, RowExtent: geom.Vec{X: -7, Y: 100001}}
			if err := Place(tx, &p); err != nil {
				return err
			}
			_, err := SingleOut(tx, p.ID, 5000, 5000, "x")
			return err
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}

// members lists where all members of placements have their origins, sorted.
func members(ps ...dossier.Placement) (all []geom.Point) {
	for _, p := range ps {
		q := toLayout(p)
		for r := range p.Rows {
			for c := range p.Columns {
				all = append(all, q.Member(c, r).Apply(geom.Point{}))
			}
		}
	}
	slices.SortFunc(all, func(a, b geom.Point) int {
		if a.X != b.X {
			return a.X - b.X
		}
		return a.Y - b.Y
	})
	return all
}

// TestWithoutExact: whatever the pitch, the placements of all other members have exactly their places; where all its
// parts are whole, there are four at most.
func TestWithoutExact(t *testing.T) {
	pieces := 0
	rapid.Check(t, func(t *rapid.T) {
		extent := func(what string) geom.Vec {
			v := geom.Vec{}
			for _, c := range []*float64{&v.X, &v.Y} {
				switch rapid.IntRange(0, 4).Draw(t, what) {
				case 0:
				case 1:
					*c = float64(rapid.IntRange(-400, 400).Draw(t, what))
				case 2:
					*c = float64(rapid.IntRange(-4000, 4000).Draw(t, what)) / 2 // many halves
				case 3:
					*c = rapid.Float64Range(-1e3, 1e3).Draw(t, what)
				case 4:
					*c = rapid.Float64Range(-1e9, 1e9).Draw(t, what)
				}
			}
			return v
		}
		p := dossier.Placement{Magnification: rapid.SampledFrom([]float64{1, 1.5}).Draw(t, "magnification"), Degrees: rapid.SampledFrom([]float64{0, 90, 33}).Draw(t, "degrees"),
			Mirror: rapid.Bool().Draw(t, "mirror"), At: at(rapid.IntRange(-1<<20, 1<<20).Draw(t, "x"), rapid.IntRange(-9, 9).Draw(t, "y")),
			Columns: rapid.IntRange(1, 30).Draw(t, "columns"), Rows: rapid.IntRange(1, 12).Draw(t, "rows"), ColumnExtent: extent("column"), RowExtent: extent("row")}
		c, r := rapid.IntRange(0, p.Columns-1).Draw(t, "column"), rapid.IntRange(0, p.Rows-1).Draw(t, "row")
		a := &array{Placement: p, drawn: toLayout(p)}
		rest, err := a.without(c, r)
		if err != nil {
			t.Fatal(err)
		}
		single := a.at(block{c, c + 1, r, r + 1})
		if got, want := members(append(rest, single)...), members(p); !slices.Equal(got, want) {
			t.Fatalf("%+v without (%d, %d): %+v", p, c, r, rest)
		}
		if single.Columns != 1 || single.Rows != 1 || single.At != a.place(c, r) {
			t.Fatal(single)
		}
		if whole(p) && len(rest) > 4 {
			t.Fatalf("%d placements for whole pitches", len(rest))
		}
		for _, q := range rest {
			if q.Mirror != p.Mirror || q.Degrees != p.Degrees || q.Magnification != p.Magnification {
				t.Fatal("turned", q)
			}
		}
		pieces = max(pieces, len(rest))
	})
	if pieces < 5 {
		t.Errorf("at most %d placements: no array was drawn that falls into more than four", pieces)
	}
	t.Log("at most", pieces, "placements")
}

// TestWithoutFew: usual arrays fall into few placements. 4 is what must be; what is larger is what was found when this was written
// and a little more, so that it does not grow unseen.
func TestWithoutFew(t *testing.T) {
	for _, tc := range []struct {
		name string
		p    dossier.Placement
		most int
	}{
		{"pitch of 2.5 × 3.25, upright, from the grid to the grid", dossier.Placement{Columns: 101, Rows: 201, ColumnExtent: geom.Vec{X: 250}, RowExtent: geom.Vec{Y: 650}}, 4},
		{"pitch of 10/3 × 10/7", dossier.Placement{Columns: 100, Rows: 78, ColumnExtent: geom.Vec{X: 330}, RowExtent: geom.Vec{Y: 110}}, 4},
		{"the same, turned a little", dossier.Placement{Columns: 100, Rows: 78, ColumnExtent: geom.Vec{X: 330, Y: 7}, RowExtent: geom.Vec{X: -2, Y: 110}}, 30},
		{"extents that are not whole", dossier.Placement{Columns: 50, Rows: 40, ColumnExtent: geom.Vec{X: 333.7}, RowExtent: geom.Vec{Y: 260.4}}, 16},
		{"a line whose ends are off the grid", dossier.Placement{Columns: 5, Rows: 1, ColumnExtent: geom.Vec{X: 5.2}}, 2},
		{"32767 × 32767, whole", dossier.Placement{Columns: 32767, Rows: 32767, ColumnExtent: geom.Vec{X: 32766 * 3}, RowExtent: geom.Vec{Y: 32766 * 3}}, 4},
		{"32767 × 32767, not whole", dossier.Placement{Columns: 32767, Rows: 32767, ColumnExtent: geom.Vec{X: 100000}, RowExtent: geom.Vec{Y: 100000}}, 4},
	} {
		tc.p.Magnification = 1
		a := &array{Placement: tc.p, drawn: toLayout(tc.p)}
		rest, err := a.without(tc.p.Columns/3, tc.p.Rows/2)
		if err != nil || len(rest) > tc.most {
			t.Errorf("%s: %d placements, %v", tc.name, len(rest), err)
		}
		t.Log(tc.name, len(rest))
	}
}
