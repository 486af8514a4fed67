package edit

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// Importing says how a drawing that was read from a file comes into a dossier.
type Importing struct {
	Cell int64        // that gets what is drawn in Top; dossier.Frame: the die
	Top  *layout.Cell // of the library; all its other cells become cells of the dossier
	File string       // where the shapes come from
	Shot int64        // that it was drawn over; 0: none
	// SigmaNm is the standard uncertainty of the edges of a shape, in nm; nil: 0.
	SigmaNm func(*layout.Shape) float64
	// Stated is what the drawing says of its shapes, which comes before Shot and SigmaNm. A photograph that the dossier does
	// not have is noted.
	Stated layout.Statements
	// Replace takes away first what came from a file of the same name: its shapes, wherever they are, all that is in the
	// cells that the drawing has too, and the placements of these in Cell. A label at the very place of one of the drawing's
	// gets its text. Other labels and traced areas do not know their file, and stay.
	Replace bool
	// Progress hears how many shapes are stored; nil: nobody does.
	Progress func(done, total int)
	// Note hears what did not come in as the drawing has it; nil: nobody does.
	Note func(text string)
}

// Imported says what an import did.
type Imported struct {
	Shapes, Labels, Placements, Areas, Cells int // that were added
	Replaced                                 int // shapes that were taken away
	Before                                   int // shapes from a file of the same name that stay
	There                                    int // labels and areas that were there already, and were not added again
	Unprintable                              int // labels that were left out, since nobody could print them
	AreasLeft                                int // areas of a drawing that came into a cell: they are the die's
}

// ErrCell is wrapped by the error for a cell of a drawing whose name is taken.
var ErrCell = errors.New("its name is taken")

// Import puts a drawing into a cell of a dossier, with the method "file". Shapes are kept as they are, valid or not; areas
// that are not valid come in as what they cover. All layers are in the stack, and nothing leaves the frame, wherever the
// cell is placed. Labels with characters that cannot be printed, which other formats refuse, are left out and noted.
func Import(tx *dossier.Tx, lib *layout.Library, o Importing) (done Imported, err error) {
	if err := checkLayers(tx, used(lib)...); err != nil {
		return done, err
	}
	if err := checkCell(tx, o.Cell); err != nil {
		return done, err
	}
	if err := lib.CheckCycles(); err != nil {
		return done, err
	}
	im := &importer{tx: tx, lib: lib, o: o, ids: map[*layout.Cell]int64{o.Top: o.Cell}, done: &done}
	for _, step := range []func() error{im.before, im.cells, im.fits} {
		if err := step(); err != nil {
			return done, err
		}
	}
	for _, c := range lib.Cells {
		im.total += len(c.Shapes)
	}
	if im.shots, err = im.findShots(); err != nil {
		return done, err
	}
	for _, c := range lib.Cells {
		if err := im.fill(c); err != nil {
			return done, fmt.Errorf("cell %q: %w", c.Name, err)
		}
	}
	if done.Unprintable > 0 {
		im.note("labels with characters that cannot be printed, left out: %s", strings.Join(im.unprintable, ", "))
	}
	return done, im.areas()
}

// importer is an import under way.
type importer struct {
	tx    *dossier.Tx
	lib   *layout.Library
	o     Importing
	ids   map[*layout.Cell]int64 // of the cells in the dossier
	taken []int64                // those of cells that were there already
	done  *Imported
	shots map[string]int64 // by name, of those that the drawing names

	unprintable []string // the first few labels of that kind
	total       int      // shapes
}

// used returns the names of the layers that something lies on.
func used(lib *layout.Library) (names []string) {
	var on [layout.MaxLayers]bool
	for _, c := range lib.Cells {
		for i := range c.Shapes {
			on[c.Shapes[i].Layer] = true
		}
		for i := range c.Labels {
			on[c.Labels[i].Layer] = true
		}
	}
	for i := range lib.Traced {
		on[lib.Traced[i].Layer] = true
	}
	for l, name := range lib.Layers {
		if on[l] {
			names = append(names, name)
		}
	}
	return names
}

// before takes away what came from the same file, or counts it.
func (im *importer) before() error {
	from, err := im.tx.ShapesFromFile(im.o.File)
	if err != nil {
		return err
	}
	for cell, ids := range from {
		if !im.o.Replace {
			im.done.Before += len(ids)
			continue
		}
		for _, id := range ids {
			if err := im.tx.RemoveShape(id); err != nil {
				return err
			}
		}
		im.done.Replaced += len(ids)
		delete(from, cell)
	}
	return nil
}

// cells makes the cells of the drawing, or takes those of their names where they are to be replaced.
func (im *importer) cells() error {
	there, err := im.tx.Cells()
	if err != nil {
		return err
	}
	for _, c := range im.lib.Cells {
		if c == im.o.Top {
			continue
		}
		i := slices.IndexFunc(there, func(d dossier.Cell) bool { return d.Name == c.Name })
		if i < 0 {
			if im.ids[c], err = newCell(im.tx, c.Name); err != nil {
				return err
			}
			im.done.Cells++
			continue
		}
		if err := im.take(c, there[i].ID); err != nil {
			return err
		}
	}
	return im.unplace()
}

// take empties a cell of the dossier for one of the drawing.
func (im *importer) take(c *layout.Cell, id int64) error {
	if id == im.o.Cell || id == dossier.Frame {
		return fmt.Errorf("cell %q of the drawing: %w by the cell that it would come into, or by the die", c.Name, ErrCell)
	}
	if !im.o.Replace {
		return fmt.Errorf("cell %q of the drawing: %w by a cell of the dossier", c.Name, ErrCell)
	}
	others, err := im.tx.CountShapes(id)
	if err != nil {
		return err
	}
	if others > 0 {
		return fmt.Errorf("cell %q of the drawing: %w by a cell of the dossier that holds %d shapes from elsewhere, which an import does not replace", c.Name, ErrCell, others)
	}
	labels, err1 := im.tx.Labels(id)
	placements, err2 := im.tx.Placements(id)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	for _, l := range labels {
		if err := im.tx.RemoveLabel(l.ID); err != nil {
			return err
		}
	}
	for _, p := range placements {
		if err := im.tx.RemovePlacement(p.ID); err != nil {
			return err
		}
	}
	im.ids[c] = id
	im.taken = append(im.taken, id)
	return nil
}

// unplace takes away the placements of replaced cells in the cell that the drawing comes into.
func (im *importer) unplace() error {
	if len(im.taken) == 0 {
		return nil
	}
	placements, err := im.tx.Placements(im.o.Cell)
	for _, p := range placements {
		if err == nil && slices.Contains(im.taken, p.Child) {
			err = im.tx.RemovePlacement(p.ID)
		}
	}
	return err
}

// fits returns an error where a part of the drawing would leave the frame.
func (im *importer) fits() error {
	for _, c := range im.lib.Cells {
		flat, err := layout.Flatten(c)
		if err != nil {
			return err
		}
		box := flat.Bounds()
		flat.Labels(func(_ *layout.Label, at geom.Point, _ string) { box = box.Extend(at) })
		if id := im.ids[c]; id == im.o.Cell || slices.Contains(im.taken, id) {
			err = fits(im.tx, id, box)
		} else {
			err = inFrame(im.tx, id, box)
		}
		if err != nil {
			return fmt.Errorf("cell %q: %w", c.Name, err)
		}
	}
	return nil
}

// fill writes what is in a cell.
func (im *importer) fill(c *layout.Cell) error {
	id := im.ids[c]
	for i := range c.Shapes {
		s := &c.Shapes[i]
		out := dossier.Shape{Cell: id, Layer: im.lib.Layers[s.Layer], Polygon: s.Polygon, Method: "file", Shot: im.o.Shot, File: im.o.File}
		if im.o.SigmaNm != nil {
			out.SigmaNm = im.o.SigmaNm(s)
		}
		im.state(&out, im.o.Stated[c][i])
		if err := im.tx.AddShape(&out); err != nil {
			return err
		}
		im.done.Shapes++
		if im.o.Progress != nil && im.done.Shapes%256 == 0 {
			im.o.Progress(im.done.Shapes, im.total)
		}
	}
	if err := im.labels(c, id); err != nil {
		return err
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		columns, rows := p.Members()
		out := dossier.Placement{Parent: id, Child: im.ids[p.Cell], Name: p.Name, Columns: columns, Rows: rows, ColumnExtent: p.ColumnExtent, RowExtent: p.RowExtent}
		out.Mirror, out.Magnification, out.Degrees, out.At = p.Transform.Parts()
		if err := im.tx.AddPlacement(&out); err != nil {
			return err
		}
		im.done.Placements++
	}
	return nil
}

// labels writes the labels of a cell, but those that are there already.
func (im *importer) labels(c *layout.Cell, id int64) error {
	if len(c.Labels) == 0 {
		return nil
	}
	there, err := im.tx.Labels(id)
	if err != nil {
		return err
	}
	type spot struct {
		layer string
		at    geom.Point
	}
	at := map[spot][]dossier.Label{}
	for _, l := range there {
		k := spot{l.Layer, l.At}
		at[k] = append(at[k], l)
	}
	for i := range c.Labels {
		if !printable(c.Labels[i].Text) {
			im.leaveLabel(c, &c.Labels[i])
			continue
		}
		l := dossier.Label{Cell: id, Layer: im.lib.Layers[c.Labels[i].Layer], At: c.Labels[i].At, Text: c.Labels[i].Text}
		old := at[spot{l.Layer, l.At}]
		switch {
		case slices.ContainsFunc(old, func(o dossier.Label) bool { return o.Text == l.Text }):
			im.done.There++
			continue
		case im.o.Replace && len(old) == 1:
			l.ID = old[0].ID
			err = im.tx.SetLabel(&l)
		default:
			err = im.tx.AddLabel(&l)
		}
		if err != nil {
			return fmt.Errorf("%s: label %q: %w", l.Layer, l.Text, err)
		}
		im.done.Labels++
	}
	return nil
}

// areas writes the traced areas, but those that are there already.
func (im *importer) areas() error {
	if im.o.Cell != dossier.Frame {
		im.done.AreasLeft = len(im.lib.Traced)
		return nil
	}
	there, err := im.tx.Areas()
	if err != nil {
		return err
	}
	for i := range im.lib.Traced {
		layer := im.lib.Layers[im.lib.Traced[i].Layer]
		pgs := []geom.Polygon{oriented(im.lib.Traced[i].Polygon)}
		if _, bad := pgs[0].Fault(); bad {
			pgs = region.Clean(im.lib.Traced[i].Polygon)
		}
		for _, pg := range pgs {
			if HasArea(there, layer, pg) {
				im.done.There++
				continue
			}
			if _, err := AddArea(im.tx, layer, pg); err != nil {
				return err
			}
			im.done.Areas++
		}
	}
	return nil
}
