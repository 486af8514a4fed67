package edit

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
)

// Odd is what SingleOut made.
type Odd struct {
	Cell      int64   // a copy of the placed cell, for that member alone
	Placement int64   // of the member
	Rest      []int64 // placements of the other members
}

// SingleOut makes one member of an array, counted from column 0 and row 0, a cell of its own, named name: the odd member,
// such as a pixel that is covered. The new cell is a copy of the old one with its labels, verdicts and notes. Every other
// member stays exactly where it is: the array becomes up to four, those of the rows below and above and of the row's own
// members left and right, and more where these would be rounded differently (see fitBlock). The one with the first member
// keeps the placement's id and name; the odd member keeps its name in paths, others are called NAME.2, NAME.3 and so on.
// A placement that is no array becomes one of the new cell.
func SingleOut(tx *dossier.Tx, placement int64, column, row int, name string) (odd Odd, err error) {
	found, err := tx.PlacementsWith(placement)
	if err != nil {
		return odd, err
	}
	p := found[0]
	if column < 0 || row < 0 || column >= p.Columns || row >= p.Rows {
		return odd, fmt.Errorf("no member in column %d and row %d of an array of %d × %d at %s: count both from 0", column, row, p.Columns, p.Rows, place(p.At))
	}
	names, err := newNaming(tx, p.Parent)
	if err != nil {
		return odd, err
	}
	a := &array{Placement: p, drawn: toLayout(p)}
	single := a.at(block{column, column + 1, row, row + 1})
	rest, err := a.without(column, row)
	if err != nil {
		return odd, err
	}
	if odd.Cell, err = copyCell(tx, p.Child, name); err != nil {
		return odd, err
	}
	single.Child = odd.Cell
	if len(rest) == 0 {
		single.ID = p.ID
	} else if p.Name != "" {
		single.Name = names.member(p.ID, column, row)
	}
	first := max(slices.IndexFunc(rest, func(q dossier.Placement) bool { return q.At == p.At }), 0)
	for i := range rest {
		if i == first {
			rest[i].ID = p.ID
		} else {
			rest[i].Name = names.free(p.Name)
		}
	}
	known := newChildren(tx)
	for i := range rest {
		if err := known.keep(&rest[i]); err != nil {
			return odd, err
		}
		odd.Rest = append(odd.Rest, rest[i].ID)
	}
	err = known.keep(&single)
	odd.Placement = single.ID
	return odd, err
}
