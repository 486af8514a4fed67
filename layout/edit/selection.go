package edit

import (
	"errors"
	"fmt"
	"slices"

	"undermetal/layout/dossier"
)

// Selection is what an operation is about, by ids: things of one cell.
type Selection struct{ Shapes, Labels, Placements []int64 }

// Reader answers with what is selected: a dossier, a moment of it, or an edit under way.
type Reader interface {
	ShapesWith(ids ...int64) ([]dossier.Shape, error)
	LabelsWith(ids ...int64) ([]dossier.Label, error)
	PlacementsWith(ids ...int64) ([]dossier.Placement, error)
	Cells() ([]dossier.Cell, error)
	Shots() ([]dossier.Shot, error)
}

// things are what a selection names, each once.
type things struct {
	cell       int64
	shapes     []dossier.Shape
	labels     []dossier.Label
	placements []dossier.Placement
}

var errNothing = errors.New("nothing is selected: select shapes, labels or placements first")

func load(r Reader, sel Selection) (t things, err error) {
	if t.shapes, err = r.ShapesWith(once(sel.Shapes)...); err != nil {
		return t, err
	}
	if t.labels, err = r.LabelsWith(once(sel.Labels)...); err != nil {
		return t, err
	}
	if t.placements, err = r.PlacementsWith(once(sel.Placements)...); err != nil {
		return t, err
	}
	var cells []int64
	for _, s := range t.shapes {
		cells = append(cells, s.Cell)
	}
	for _, l := range t.labels {
		cells = append(cells, l.Cell)
	}
	for _, p := range t.placements {
		cells = append(cells, p.Parent)
	}
	if len(cells) == 0 {
		return t, errNothing
	}
	t.cell = cells[0]
	for _, c := range cells {
		if c != t.cell {
			return t, severalCells(r, t.cell, c)
		}
	}
	return t, nil
}

func severalCells(r Reader, one, two int64) error {
	cells, err := r.Cells()
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, c := range cells {
		names[c.ID] = c.Name
	}
	return fmt.Errorf("what is selected lies in cell %q and in cell %q: take one cell at a time", names[one], names[two])
}

// loadShapes is load for an operation that is about shapes of one layer.
func loadShapes(r Reader, ids []int64) (t things, err error) {
	if t, err = load(r, Selection{Shapes: ids}); err != nil {
		return t, err
	}
	for _, s := range t.shapes {
		if s.Layer != t.shapes[0].Layer {
			return t, fmt.Errorf("what is selected lies on %s and on %s: take one layer at a time", t.shapes[0].Layer, s.Layer)
		}
	}
	return t, nil
}

// once drops ids that were there before.
func once(ids []int64) (out []int64) {
	seen := make(map[int64]bool, len(ids))
	for _, id := range ids {
		if !seen[id] {
			seen[id] = true
			out = append(out, id)
		}
	}
	return out
}

// Delete removes what is selected.
func Delete(tx *dossier.Tx, sel Selection) error {
	t, err := load(tx, sel)
	if err != nil {
		return err
	}
	for _, s := range t.shapes {
		err = errors.Join(err, tx.RemoveShape(s.ID))
	}
	for _, l := range t.labels {
		err = errors.Join(err, tx.RemoveLabel(l.ID))
	}
	for _, p := range t.placements {
		err = errors.Join(err, tx.RemovePlacement(p.ID))
	}
	return err
}

// ids returns the selection of the things.
func (t *things) ids() (sel Selection) {
	for _, s := range t.shapes {
		sel.Shapes = append(sel.Shapes, s.ID)
	}
	for _, l := range t.labels {
		sel.Labels = append(sel.Labels, l.ID)
	}
	for _, p := range t.placements {
		sel.Placements = append(sel.Placements, p.ID)
	}
	return sel
}

// asNew forgets the ids, and puts the things into a cell.
func (t *things) asNew(cell int64) {
	for i := range t.shapes {
		t.shapes[i].ID, t.shapes[i].Cell = 0, cell
	}
	for i := range t.labels {
		t.labels[i].ID, t.labels[i].Cell = 0, cell
	}
	for i := range t.placements {
		t.placements[i].ID, t.placements[i].Parent = 0, cell
	}
	t.cell = cell
}

// write keeps the things as they are now. Those without an id are new and get one.
func (t *things) write(tx *dossier.Tx) error {
	for i := range t.shapes {
		if err := keep(tx, &t.shapes[i]); err != nil {
			return err
		}
	}
	for i := range t.labels {
		if err := keepLabel(tx, &t.labels[i]); err != nil {
			return err
		}
	}
	known := newChildren(tx)
	for i := range t.placements {
		if err := known.keep(&t.placements[i]); err != nil {
			return err
		}
	}
	return nil
}

// layers returns those of shapes and labels, each once.
func (t *things) layers() (names []string) {
	for _, s := range t.shapes {
		names = append(names, s.Layer)
	}
	for _, l := range t.labels {
		names = append(names, l.Layer)
	}
	slices.Sort(names)
	return slices.Compact(names)
}
