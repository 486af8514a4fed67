package edit

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// Clip is what was copied, or cut out, with places relative to a reference point. It is plain data of its own: what becomes
// of the things it was made of does not change it. It is for the dossier that it came from, whose cells and shots it names
// by their ids.
type Clip struct {
	Shapes     []dossier.Shape
	Labels     []dossier.Label
	Placements []dossier.Placement
}

// Copy returns what is selected, relative to a reference point.
func Copy(r Reader, sel Selection, reference geom.Point) (Clip, error) {
	t, err := load(r, sel)
	if err != nil {
		return Clip{}, err
	}
	t.asNew(0)
	err = moving(geom.Point{X: -reference.X, Y: -reference.Y}).move(&t)
	return Clip{t.shapes, t.labels, t.placements}, err
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
// what those did that were copied; a shot that is gone since is none.
func Paste(tx *dossier.Tx, cell int64, c Clip, at geom.Point) (Selection, error) {
	if len(c.Shapes)+len(c.Labels)+len(c.Placements) == 0 {
		return Selection{}, fmt.Errorf("there is nothing to paste: copy something first")
	}
	if err := checkCell(tx, cell); err != nil {
		return Selection{}, err
	}
	shots, err := tx.Shots()
	if err != nil {
		return Selection{}, err
	}
	t := things{cell, slices.Clone(c.Shapes), slices.Clone(c.Labels), slices.Clone(c.Placements)}
	t.asNew(cell)
	if err := checkLayers(tx, t.layers()...); err != nil {
		return Selection{}, err
	}
	for i := range t.shapes {
		s := &t.shapes[i]
		if !slices.ContainsFunc(shots, func(shot dossier.Shot) bool { return shot.ID == s.Shot }) {
			s.Shot = 0
		}
	}
	if err := moving(at).move(&t); err != nil {
		return Selection{}, err
	}
	if err := t.write(tx); err != nil {
		return Selection{}, err
	}
	return t.ids(), nil
}
