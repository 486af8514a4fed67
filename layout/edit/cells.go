package edit

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// children checks placements before they are kept, and remembers what it has found out about cells.
type children struct {
	tx    *dossier.Tx
	boxes map[int64]geom.Rect
	sound map[[2]int64]bool // parent and child that may be placed in it
}

func newChildren(tx *dossier.Tx) *children {
	return &children{tx, map[int64]geom.Rect{}, map[[2]int64]bool{}}
}

// keep writes a placement, a new one where it has no id. Counts of 0 are taken as 1, and a magnification of 0 as 1.
func (c *children) keep(p *dossier.Placement) error {
	p.Columns, p.Rows = max(p.Columns, 1), max(p.Rows, 1)
	if p.Magnification == 0 {
		p.Magnification = 1
	}
	if err := c.check(p); err != nil {
		return err
	}
	if p.ID == 0 {
		return c.tx.AddPlacement(p)
	}
	return c.tx.SetPlacement(p)
}

func (c *children) check(p *dossier.Placement) error {
	if !c.sound[[2]int64{p.Parent, p.Child}] {
		if err := c.noCycle(p.Parent, p.Child); err != nil {
			return err
		}
		c.sound[[2]int64{p.Parent, p.Child}] = true
	}
	for _, axis := range []struct {
		what   string
		n      int
		extent *geom.Vec
	}{{"columns", p.Columns, &p.ColumnExtent}, {"rows", p.Rows, &p.RowExtent}} {
		if axis.n == 1 {
			*axis.extent = geom.Vec{}
		} else if *axis.extent == (geom.Vec{}) {
			return fmt.Errorf("%d %s that lie on each other at %s: give the way from the first to the last", axis.n, axis.what, place(p.At))
		}
	}
	const most = 1 << 32 // nm; also keeps what is no number out of the sums
	for _, v := range []float64{p.ColumnExtent.X, p.ColumnExtent.Y, p.RowExtent.X, p.RowExtent.Y} {
		if !(v >= -most && v <= most) {
			return fmt.Errorf("an array at %s that reaches over %g µm: the frame reaches to ±2³⁰ nm (1.07 m)", place(p.At), v/1000)
		}
	}
	if !(p.Magnification > 0 && p.Magnification <= 1e6) {
		return fmt.Errorf("a magnification of %g at %s: give one above 0, up to 1e6", p.Magnification, place(p.At))
	}
	if err := angle(p.Degrees); err != nil {
		return err
	}
	if err := inFrame(c.tx, p.Parent, geom.Rect{Min: p.At, Max: p.At}); err != nil {
		return err
	}
	box, err := contents(c.tx, p.Child, c.boxes)
	if err != nil {
		return err
	}
	return fits(c.tx, p.Parent, membersBox(*p, box))
}

// noCycle returns an error where a cell placed in a parent would contain that parent, or where one of them is not there.
func (c *children) noCycle(parent, child int64) error {
	cells, err := c.tx.Cells()
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, cell := range cells {
		names[cell.ID] = cell.Name
	}
	for _, id := range []int64{parent, child} {
		if _, ok := names[id]; !ok {
			return fmt.Errorf("there is no cell %d: take one of the dossier's", id)
		}
	}
	way := []int64{child}
	seen := map[int64]bool{}
	var down func(id int64) (bool, error)
	down = func(id int64) (bool, error) {
		if id == parent {
			return true, nil
		}
		if seen[id] {
			return false, nil
		}
		seen[id] = true
		placements, err := c.tx.Placements(id)
		if err != nil {
			return false, err
		}
		for _, p := range placements {
			way = append(way, p.Child)
			if found, err := down(p.Child); found || err != nil {
				return found, err
			}
			way = way[:len(way)-1]
		}
		return false, nil
	}
	found, err := down(child)
	if err != nil || !found {
		return err
	}
	path := []string{names[parent]}
	for _, id := range way {
		path = append(path, names[id])
	}
	return fmt.Errorf("cell %q would contain itself: %s: place another one", names[parent], strings.Join(path, " → "))
}

// Place places a cell in another, once or as an array, and sets the placement's id. Counts and a magnification of 0 stand
// for 1.
func Place(tx *dossier.Tx, p *dossier.Placement) error {
	p.ID = 0
	return newChildren(tx).keep(p)
}

// Array makes an array of a placement, or changes the counts and extents of one. The extents lead from the first member to
// the last one; see Extent.
func Array(tx *dossier.Tx, placement int64, columns, rows int, columnExtent, rowExtent geom.Vec) error {
	found, err := tx.PlacementsWith(placement)
	if err != nil {
		return err
	}
	p := &found[0]
	if columns < 1 || rows < 1 {
		return fmt.Errorf("%d × %d members at %s: one at least each way", columns, rows, place(p.At))
	}
	p.Columns, p.Rows, p.ColumnExtent, p.RowExtent = columns, rows, columnExtent, rowExtent
	return newChildren(tx).keep(p)
}

// Extent returns the way from the first to the last of n members at a pitch, in nm.
func Extent(pitch geom.Vec, n int) geom.Vec { return pitch.Scale(float64(n - 1)) }

// newCell adds an empty cell. Its name must be free.
func newCell(tx *dossier.Tx, name string) (int64, error) {
	if err := freeName(tx, 0, name); err != nil {
		return 0, err
	}
	c := dossier.Cell{Name: name}
	err := tx.AddCell(&c)
	return c.ID, err
}

// freeName returns an error where another cell has a name.
func freeName(tx *dossier.Tx, cell int64, name string) error {
	cells, err := tx.Cells()
	if slices.ContainsFunc(cells, func(c dossier.Cell) bool { return c.Name == name && c.ID != cell }) {
		return fmt.Errorf("there is a cell %q already: choose another name", name)
	}
	return err
}

// RenameCell gives a cell another name.
func RenameCell(tx *dossier.Tx, cell int64, name string) error {
	if err := checkCell(tx, cell); err != nil {
		return err
	}
	if err := freeName(tx, cell, name); err != nil {
		return err
	}
	return tx.SetCell(&dossier.Cell{ID: cell, Name: name})
}

// MakeCell makes a cell of what is selected, and places it where that was. origin becomes the cell's origin. The labels
// then name nets of that instance; verdicts and notes stay where they are. What is seen stays the same; only in placements
// at an angle, corners that come to lie on half a nanometre may be rounded otherwise.
func MakeCell(tx *dossier.Tx, name string, sel Selection, origin geom.Point) (cell, placement int64, err error) {
	t, err := load(tx, sel)
	if err != nil {
		return 0, 0, err
	}
	parent := t.cell
	if cell, err = newCell(tx, name); err != nil {
		return 0, 0, err
	}
	if err := moving(geom.Point{X: -origin.X, Y: -origin.Y}).move(&t); err != nil {
		return 0, 0, err
	}
	for i := range t.shapes {
		t.shapes[i].Cell = cell
	}
	for i := range t.labels {
		t.labels[i].Cell = cell
	}
	for i := range t.placements {
		t.placements[i].Parent = cell
	}
	if err := t.write(tx); err != nil {
		return 0, 0, err
	}
	p := dossier.Placement{Parent: parent, Child: cell, At: origin}
	err = Place(tx, &p)
	return cell, p.ID, err
}

// copyCell makes a cell that is a copy of another one, with its verdicts and notes.
func copyCell(tx *dossier.Tx, from int64, name string) (int64, error) {
	cell, err := newCell(tx, name)
	if err != nil {
		return 0, err
	}
	shapes, err1 := tx.Shapes(from)
	labels, err2 := tx.Labels(from)
	placements, err3 := tx.Placements(from)
	if err := errors.Join(err1, err2, err3); err != nil {
		return 0, err
	}
	t := things{cell, shapes, labels, placements}
	t.asNew(cell)
	if err := t.write(tx); err != nil {
		return 0, err
	}
	return cell, copyMarks(tx, from, cell, []motion{moving(geom.Point{})})
}

// copyMarks repeats the verdicts and notes of a cell in another, once for each motion.
func copyMarks(tx *dossier.Tx, from, to int64, by []motion) error {
	verdicts, err1 := tx.Verdicts()
	notes, err2 := tx.Notes()
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	for _, m := range by {
		for _, v := range verdicts {
			if v.Cell == from {
				v.Cell, v.At = to, m.t.Apply(v.At)
				if err := tx.AddVerdict(&v); err != nil {
					return err
				}
			}
		}
		for _, n := range notes {
			if n.Cell == from {
				n.Cell, n.At = to, m.t.Apply(n.At)
				if err := tx.AddNote(&n); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
