package edit

import (
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// inFrame returns an error where a box of a cell reaches beyond the frame.
func inFrame(tx *dossier.Tx, cell int64, box geom.Rect) error {
	if box.Empty() || box.Min.InFrame() && box.Max.InFrame() {
		return nil
	}
	name, err := cellName(tx, cell)
	if err != nil {
		return err
	}
	return fmt.Errorf("it would reach from %s to %s in cell %q, beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin", place(box.Min), place(box.Max), name)
}

// fits returns an error where something in a box of a cell leaves the frame, in the cell or wherever that is placed.
func fits(tx *dossier.Tx, cell int64, box geom.Rect) error {
	boxes := map[int64]geom.Rect{}
	type step struct {
		cell int64
		box  geom.Rect
	}
	for todo := []step{{cell, box}}; len(todo) > 0; {
		s := todo[0]
		todo = todo[1:]
		if err := inFrame(tx, s.cell, s.box); err != nil {
			return err
		}
		known, seen := boxes[s.cell]
		all := s.box
		if seen {
			all = all.Union(known)
		}
		if s.box.Empty() || seen && all == known {
			continue
		}
		boxes[s.cell] = all
		above, err := tx.PlacementsOf(s.cell)
		if err != nil {
			return err
		}
		for _, p := range above {
			todo = append(todo, step{p.Parent, membersBox(p, all)})
		}
	}
	return nil
}

// toLayout returns a placement as the engine has it, without its cell.
func toLayout(p dossier.Placement) layout.Placement {
	return layout.Placement{Name: p.Name, Transform: geom.NewTransform(p.Mirror, p.Magnification, p.Degrees, p.At),
		Columns: p.Columns, Rows: p.Rows, ColumnExtent: p.ColumnExtent, RowExtent: p.RowExtent}
}

// membersBox returns a box around what all members of a placement show of a box of its cell.
func membersBox(p dossier.Placement, box geom.Rect) geom.Rect {
	out := geom.EmptyRect()
	if box.Empty() {
		return out
	}
	q := toLayout(p)
	for _, at := range [][2]int{{0, 0}, {p.Columns - 1, 0}, {0, p.Rows - 1}, {p.Columns - 1, p.Rows - 1}} {
		out = out.Union(q.Member(at[0], at[1]).Bounds(box))
	}
	if !q.Transform.Upright() { // what is rounded below is not rounded here
		out.Min, out.Max = out.Min.Add(geom.Point{X: -1, Y: -1}), out.Max.Add(geom.Point{X: 1, Y: 1})
	}
	return out
}

// contents returns the box around all that a cell shows, its labels included. known holds those of cells that were asked
// for; there is no cell within itself.
func contents(tx *dossier.Tx, cell int64, known map[int64]geom.Rect) (geom.Rect, error) {
	if box, ok := known[cell]; ok {
		return box, nil
	}
	box, err := tx.ShapesBox(cell)
	if err != nil {
		return box, err
	}
	labels, err := tx.Labels(cell)
	if err != nil {
		return box, err
	}
	for _, l := range labels {
		box = box.Extend(l.At)
	}
	placements, err := tx.Placements(cell)
	if err != nil {
		return box, err
	}
	for _, p := range placements {
		below, err := contents(tx, p.Child, known)
		if err != nil {
			return box, err
		}
		box = box.Union(membersBox(p, below))
	}
	known[cell] = box
	return box, nil
}

func cellName(tx *dossier.Tx, id int64) (string, error) {
	cells, err := tx.Cells()
	if err != nil {
		return "", err
	}
	i := slices.IndexFunc(cells, func(c dossier.Cell) bool { return c.ID == id })
	if i < 0 {
		return "", fmt.Errorf("there is no cell %d: take one of the dossier's", id)
	}
	return cells[i].Name, nil
}

func checkCell(tx *dossier.Tx, id int64) error {
	if id == dossier.Frame {
		return nil
	}
	_, err := cellName(tx, id)
	return err
}
