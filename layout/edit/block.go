package edit

import (
	"fmt"
	"math"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// array is a placement that is taken apart into blocks of its members.
type array struct {
	dossier.Placement
	drawn layout.Placement
}

// block is the members of columns c0 to c1-1 and rows r0 to r1-1.
type block struct{ c0, c1, r0, r1 int }

func (b block) columns() int { return b.c1 - b.c0 }
func (b block) rows() int    { return b.r1 - b.r0 }
func (b block) members() int { return b.columns() * b.rows() }

const (
	maxBlocks  = 4096    // that an array falls into
	maxMembers = 1 << 24 // that are looked at one by one
)

// without returns the placements of all members but one.
func (a *array) without(column, row int) (rest []dossier.Placement, err error) {
	for _, b := range []block{
		{0, a.Columns, 0, row}, {0, column, row, row + 1}, {column + 1, a.Columns, row, row + 1}, {0, a.Columns, row + 1, a.Rows},
	} {
		if b.members() == 0 {
			continue
		}
		if rest, err = a.cover(rest, b); err != nil {
			return nil, err
		}
	}
	return rest, nil
}

// cover appends placements that have exactly the members of a block: one if that can be, else those of its two parts.
func (a *array) cover(all []dossier.Placement, b block) ([]dossier.Placement, error) {
	if !a.quick() && b.members() > maxMembers || len(all) >= maxBlocks {
		return nil, fmt.Errorf("an array of %d × %d members at %s whose pitch is not whole cannot be taken apart so that all others stay where they are: round its pitch to whole nanometres first",
			a.Columns, a.Rows, place(a.At))
	}
	if p, ok := a.fitBlock(b); ok {
		return append(all, p), nil
	}
	one, two := a.divide(b)
	all, err := a.cover(all, one)
	if err != nil {
		return nil, err
	}
	return a.cover(all, two)
}

// divide divides a block that does not fit: where columns and rows do not depend on each other, behind as many columns as
// fit, or as many rows; else in the middle.
func (a *array) divide(b block) (one, two block) {
	one, two = b, b
	columns, rows := b.columns()/2, b.rows()/2
	if apart(a.Placement) {
		columns = longest(b.columns(), func(n int) block { return block{b.c0, b.c0 + n, b.r0, b.r0 + 1} }, a.fits)
		rows = longest(b.rows(), func(n int) block { return block{b.c0, b.c0 + 1, b.r0, b.r0 + n} }, a.fits)
	}
	if columns < b.columns() && (b.columns() > b.rows() || rows == b.rows()) {
		one.c1, two.c0 = b.c0+columns, b.c0+columns
	} else {
		rows = min(rows, b.rows()-1)
		one.r1, two.r0 = b.r0+rows, b.r0+rows
	}
	return one, two
}

func (a *array) fits(b block) bool {
	_, ok := a.fitBlock(b)
	return ok
}

// longest returns the largest number up to n for which a block fits. One always does, and a part of what fits does, too.
func longest(n int, of func(int) block, fits func(block) bool) int {
	lo, hi := 1, n+1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; fits(of(mid)) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// fitBlock returns one array with exactly the members of a block, if it finds one. Members are rounded one by one, on the
// way from the first: a block that begins elsewhere begins at a rounded place, and where the pitch is not whole the
// same pitch need not lead to the same places from there. It is tried from all four corners, since an array mostly begins
// and ends on the grid, then with pitches that suit the first row and the first column of the block.
func (a *array) fitBlock(b block) (dossier.Placement, bool) {
	for corner := range 4 {
		if p := a.from(b, corner&1 != 0, corner&2 != 0); a.same(b, p, corner&1 != 0, corner&2 != 0) {
			return p, true
		}
	}
	p := a.from(b, false, false)
	p.ColumnExtent = a.suited(b.columns(), func(i int) geom.Point { return a.place(b.c0+i, b.r0) })
	p.RowExtent = a.suited(b.rows(), func(i int) geom.Point { return a.place(b.c0, b.r0+i) })
	return p, a.same(b, p, false, false)
}

// at returns the placement of a block as its lower left corner and the pitch say.
func (a *array) at(b block) dossier.Placement { return a.from(b, false, false) }

// from returns the placement of a block with the array's pitch, counted from its last column or row where those are set.
func (a *array) from(b block, lastColumn, lastRow bool) dossier.Placement {
	p := a.Placement
	p.ID, p.Columns, p.Rows = 0, b.columns(), b.rows()
	p.ColumnExtent, p.RowExtent = part(a.ColumnExtent, b.columns(), a.Columns), part(a.RowExtent, b.rows(), a.Rows)
	c, r := b.c0, b.r0
	if lastColumn {
		c, p.ColumnExtent = b.c1-1, p.ColumnExtent.Scale(-1)
	}
	if lastRow {
		r, p.RowExtent = b.r1-1, p.RowExtent.Scale(-1)
	}
	p.At = a.place(c, r)
	return p
}

// part returns the extent of n of all members.
func part(extent geom.Vec, n, all int) geom.Vec {
	if n == 1 {
		return geom.Vec{}
	}
	if n == all {
		return extent
	}
	return geom.Vec{X: extent.X * float64(n-1) / float64(all-1), Y: extent.Y * float64(n-1) / float64(all-1)}
}

// place returns where a member has its origin.
func (a *array) place(c, r int) geom.Point { return a.drawn.Member(c, r).Apply(geom.Point{}) }

// same reports whether p has the members of a block, from its last column or row where those are set, exactly.
func (a *array) same(b block, p dossier.Placement, lastColumn, lastRow bool) bool {
	q := toLayout(p)
	equal := func(i, j int) bool {
		c, r := b.c0+i, b.r0+j
		if lastColumn {
			c = b.c1 - 1 - i
		}
		if lastRow {
			r = b.r1 - 1 - j
		}
		return q.Member(i, j).Apply(geom.Point{}) == a.place(c, r)
	}
	if whole(a.Placement) && whole(p) {
		i, j := b.columns()-1, b.rows()-1
		return equal(0, 0) && equal(i, 0) && equal(0, j) && equal(i, j)
	}
	rows := b.rows()
	if apart(a.Placement) && apart(p) { // x depends on the column only, y on the row, or the other way round
		rows = 1
		for j := range b.rows() {
			if !equal(0, j) {
				return false
			}
		}
	}
	for j := range rows {
		for i := range b.columns() {
			if !equal(i, j) {
				return false
			}
		}
	}
	return true
}

// quick reports whether a few members tell of all of them.
func (a *array) quick() bool { return whole(a.Placement) || apart(a.Placement) }

// whole reports whether the pitch is a whole number of nanometres each way, so that no member has to be rounded.
func whole(p dossier.Placement) bool {
	is := func(extent float64, n int) bool { return n == 1 || math.Mod(extent, float64(n-1)) == 0 }
	return is(p.ColumnExtent.X, p.Columns) && is(p.ColumnExtent.Y, p.Columns) && is(p.RowExtent.X, p.Rows) && is(p.RowExtent.Y, p.Rows)
}

// apart reports whether neither coordinate of a member depends on both its column and its row.
func apart(p dossier.Placement) bool {
	return (p.ColumnExtent.X == 0 || p.RowExtent.X == 0) && (p.ColumnExtent.Y == 0 || p.RowExtent.Y == 0)
}

// suited returns an extent that leads from the first of n places to all others, rounded one by one, if there is one.
func (a *array) suited(n int, at func(i int) geom.Point) geom.Vec {
	if n == 1 {
		return geom.Vec{}
	}
	first := at(0)
	low, high := geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}, geom.Vec{X: math.Inf(1), Y: math.Inf(1)}
	for i := 1; i < n; i++ { // place i is i·pitch, rounded halves up: from half a nanometre below to less than half above
		d, k := at(i).Sub(first), float64(i)
		low.X, low.Y = max(low.X, (float64(d.X)-0.5)/k), max(low.Y, (float64(d.Y)-0.5)/k)
		high.X, high.Y = min(high.X, (float64(d.X)+0.5)/k), min(high.Y, (float64(d.Y)+0.5)/k)
	}
	middle := func(lo, hi float64) float64 {
		if lo < 0 && hi > 0 { // none at all, so that what was apart stays apart
			return 0
		}
		return (lo + hi) / 2 * float64(n-1)
	}
	return geom.Vec{X: middle(low.X, high.X), Y: middle(low.Y, high.Y)}
}
