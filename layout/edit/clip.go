package edit

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// Clip is what was copied, or cut out, with places relative to a reference point. It is plain data of its own: what becomes
// of the things it was made of does not change it. Cells and shots go by their names, since ids of what is gone are used
// again; so it can be pasted into another dossier as well.
type Clip struct {
	Shapes     []dossier.Shape
	Labels     []dossier.Label
	Placements []dossier.Placement
	Cells      map[int64]string // the names of the cells that Placements place, by Child
	Shots      map[int64]string // those of the shots that Shapes were traced over
}

// Copy returns what is selected, relative to a reference point.
func Copy(r Reader, sel Selection, reference geom.Point) (Clip, error) {
	t, err := load(r, sel)
	if err != nil {
		return Clip{}, err
	}
	t.asNew(0)
	if err := moving(geom.Point{X: -reference.X, Y: -reference.Y}).move(&t); err != nil {
		return Clip{}, err
	}
	c := Clip{t.shapes, t.labels, t.placements, map[int64]string{}, map[int64]string{}}
	cells, err := r.Cells()
	if err != nil {
		return Clip{}, err
	}
	shots, err := r.Shots()
	for _, cell := range cells {
		if slices.ContainsFunc(c.Placements, func(p dossier.Placement) bool { return p.Child == cell.ID }) {
			c.Cells[cell.ID] = cell.Name
		}
	}
	for _, shot := range shots {
		if slices.ContainsFunc(c.Shapes, func(s dossier.Shape) bool { return s.Shot == shot.ID }) {
			c.Shots[shot.ID] = shot.Name
		}
	}
	return c, err
}

// Cut is Copy, and deletes what is selected.
func Cut(tx *dossier.Tx, sel Selection, reference geom.Point) (Clip, error) {
	c, err := Copy(tx, sel, reference)
	if err == nil {
		err = Delete(tx, sel)
	}
	return c, err
}

// Paste draws a clip with its reference point at a point of a cell, and returns the new things. Shapes say of themselves
// what those did that were copied; a shot that is gone since is none. A cell that is gone is an error.
func Paste(tx *dossier.Tx, cell int64, c Clip, at geom.Point) (Selection, error) {
	if len(c.Shapes)+len(c.Labels)+len(c.Placements) == 0 {
		return Selection{}, fmt.Errorf("there is nothing to paste: copy something first")
	}
	if err := checkCell(tx, cell); err != nil {
		return Selection{}, err
	}
	t := things{cell, slices.Clone(c.Shapes), slices.Clone(c.Labels), slices.Clone(c.Placements)}
	t.asNew(cell)
	if err := checkLayers(tx, t.layers()...); err != nil {
		return Selection{}, err
	}
	if err := c.find(tx, &t); err != nil {
		return Selection{}, err
	}
	if err := moving(at).move(&t); err != nil {
		return Selection{}, err
	}
	if err := t.write(tx); err != nil {
		return Selection{}, err
	}
	return t.ids(), nil
}

// find gives the things the ids that cells and shots have now.
func (c *Clip) find(tx *dossier.Tx, t *things) error {
	cells, err := tx.Cells()
	if err != nil {
		return err
	}
	for i := range t.placements {
		name := c.Cells[t.placements[i].Child]
		k := slices.IndexFunc(cells, func(cell dossier.Cell) bool { return cell.Name == name })
		if k < 0 {
			return fmt.Errorf("cell %q, which is to be placed, is gone: bring it back, or copy without it", name)
		}
		t.placements[i].Child = cells[k].ID
	}
	shots, err := tx.Shots()
	for i := range t.shapes {
		name, shot := c.Shots[t.shapes[i].Shot], &t.shapes[i].Shot
		*shot = 0
		for _, s := range shots {
			if s.Name == name {
				*shot = s.ID
			}
		}
	}
	return err
}
