package desk

import (
	"errors"
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

// change is an edit of what is selected.
func (d *Desk) change(what string, f func(*dossier.Tx) error) error {
	if d.nothing() {
		d.click(false) // what lies under the cursor is meant then
		if d.nothing() {
			return errNothingSelected
		}
	}
	for _, name := range d.lockedSelected() {
		return fmt.Errorf("layer %s is locked: :unlock %[1]s opens it", name)
	}
	if err := d.doEdit(what, f); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// lockedSelected are the locked layers of what is selected.
func (d *Desk) lockedSelected() (names []string) {
	shapes, err := d.file.ShapesWith(d.sel.Shapes...)
	if err != nil {
		return nil
	}
	for _, s := range shapes {
		if i, err := d.layerNamed(s.Layer); err == nil && d.layers[i].Locked && !slices.Contains(names, s.Layer) {
			names = append(names, s.Layer)
		}
	}
	return names
}

// middle is the middle of what is selected; the cursor where nothing is.
func (d *Desk) middle() geom.Point {
	if d.selBox.Empty() {
		return d.inDie()
	}
	return geom.Point{X: d.selBox.Min.X + d.selBox.Width()/2, Y: d.selBox.Min.Y + d.selBox.Height()/2}
}

func (d *Desk) deleteSelected() error {
	return d.change("delete what is selected", func(tx *dossier.Tx) error { return edit.Delete(tx, d.sel) })
}

func (d *Desk) moveSelected(by geom.Point) error {
	return d.change(fmt.Sprintf("move by %s, %s µm", um(float64(by.X)), um(float64(by.Y))), func(tx *dossier.Tx) error { return edit.Move(tx, d.sel, by) })
}

func (d *Desk) duplicate(by geom.Point) error {
	var made edit.Selection
	err := d.change("draw it once more", func(tx *dossier.Tx) (err error) {
		made, err = edit.Duplicate(tx, d.sel, by)
		return err
	})
	if err == nil {
		d.choose(made)
	}
	return err
}

func (d *Desk) copySelected() error {
	if d.nothing() {
		d.click(false)
	}
	if d.nothing() {
		return errNothingSelected
	}
	c, err := edit.Copy(d.file, d.sel, d.middle())
	if err == nil {
		d.clip = c
		d.good("copied; y puts a copy down")
	}
	return err
}

func (d *Desk) cutOut() error {
	var c edit.Clip
	err := d.change("cut out what is selected", func(tx *dossier.Tx) (err error) {
		c, err = edit.Cut(tx, d.sel, d.middle())
		return err
	})
	if err == nil {
		d.clip = c
	}
	return err
}

func (d *Desk) mirrorSelected(degrees float64) error {
	about := d.middle()
	return d.change("mirror", func(tx *dossier.Tx) error { return edit.Mirror(tx, d.sel, about, degrees+d.axis) })
}

func (d *Desk) turnSelected(degrees float64) error {
	about := d.middle()
	return d.change(fmt.Sprintf("turn by %g°", degrees), func(tx *dossier.Tx) error { return edit.Turn(tx, d.sel, about, degrees) })
}

func (d *Desk) mergeSelected() error {
	var m edit.Merged
	err := d.change("merge", func(tx *dossier.Tx) (err error) {
		m, err = edit.Merge(tx, d.sel.Shapes)
		return err
	})
	if err == nil && len(m.Apart) > 0 {
		d.good("merge: %s of them touch nothing and stay as they are", counted(len(m.Apart), "shape"))
	}
	return err
}

func (d *Desk) resolveSelected() error {
	return d.change("make valid", func(tx *dossier.Tx) error {
		_, err := edit.Resolve(tx, d.sel.Shapes)
		return err
	})
}

func (d *Desk) cutSelected(pts []geom.Point) error {
	var left, right []int64
	err := d.change("split", func(tx *dossier.Tx) (err error) {
		left, right, err = edit.Split(tx, d.sel.Shapes, pts[0], pts[1])
		return err
	})
	if err == nil {
		d.choose(edit.Selection{Shapes: append(left, right...)})
	}
	return err
}

func (d *Desk) subtractFrom(pts []geom.Point) error {
	return d.change("take away", func(tx *dossier.Tx) error {
		_, err := edit.Subtract(tx, d.sel.Shapes, geom.Polygon{append(geom.Ring(nil), pts...)})
		return err
	})
}

// insertCorner puts a corner into the edge under the cursor.
func (d *Desk) insertCorner() error {
	h, err := d.hit()
	switch {
	case err != nil:
		return err
	case h.Kind != edit.HitEdge:
		return errors.New("no edge lies under the cursor: a corner goes into one")
	}
	if err := d.doEdit("insert a corner", func(tx *dossier.Tx) error { return edit.InsertVertex(tx, h.Shape, h.Vertex, h.At) }); err != nil {
		return err
	}
	d.good("a corner more: m takes it up")
	return nil
}

// removeCorner takes away the corner under the cursor.
func (d *Desk) removeCorner() error {
	h, err := d.hit()
	switch {
	case err != nil:
		return err
	case h.Kind != edit.HitVertex:
		return errors.New("no corner lies under the cursor")
	}
	if err := d.doEdit("remove a corner", func(tx *dossier.Tx) error { return edit.RemoveVertex(tx, h.Shape, h.Vertex) }); err != nil {
		return err
	}
	d.good("a corner less")
	return nil
}

// name puts a label on what lies at the cursor.
func (d *Desk) nameHere(text string) error {
	if !d.inFrame() {
		return errNoScale
	}
	layer := d.layerUnder()
	if layer == "" {
		return errors.New("the stack has no layers: :stack add-layer adds one")
	}
	at := d.inDie()
	what := fmt.Sprintf("label %s on %s", text, layer)
	if err := d.doEdit(what, func(tx *dossier.Tx) error {
		_, err := edit.SetLabel(tx, d.cell(), layer, at, text)
		return err
	}); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// layerUnder is the layer to draw on, where something of it lies under the cursor; else the topmost that has; else that to draw on.
func (d *Desk) layerUnder() string {
	shapes, err := d.near()(geom.Rect{Min: d.inDie(), Max: d.inDie()})
	if err != nil {
		return d.layerName(d.layer)
	}
	top := ""
	for _, s := range shapes {
		if s.Polygon.Locate(d.inDie()) == geom.Outside {
			continue
		}
		if s.Layer == d.layerName(d.layer) {
			return s.Layer
		}
		if d.conducts(s.Layer) {
			top = s.Layer
		}
	}
	if top == "" {
		return d.layerName(d.layer)
	}
	return top
}

// unname takes the label at the cursor away.
func (d *Desk) unname() error {
	l := d.labelAt()
	if l == nil {
		return errors.New("no label lies under the cursor")
	}
	id := l.ID
	what := fmt.Sprintf("remove label %s", l.Text)
	if err := d.doEdit(what, func(tx *dossier.Tx) error { return edit.RemoveLabel(tx, id) }); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// noteHere pins a note to the cursor's place.
func (d *Desk) noteHere(text string) error {
	n := dossier.Note{Cell: d.cell(), At: d.inDie(), Text: text}
	if err := d.doEdit("note: "+text, func(tx *dossier.Tx) error { return tx.AddNote(&n) }); err != nil {
		return err
	}
	d.good("noted")
	return nil
}

// makeCell, place, array, odd and explode are about cells.
func (d *Desk) makeCell(name string) error {
	var made int64
	err := d.change("make cell "+name, func(tx *dossier.Tx) (err error) {
		_, made, err = edit.MakeCell(tx, name, d.sel, geom.Point{X: d.selBox.Min.X, Y: d.selBox.Min.Y})
		return err
	})
	if err == nil {
		d.choose(edit.Selection{Placements: []int64{made}})
	}
	return err
}

func (d *Desk) placeCell(name string) error {
	cells, err := d.file.Cells()
	if err != nil {
		return err
	}
	for _, c := range cells {
		if c.Name == name && c.ID != dossier.Frame {
			p := dossier.Placement{Parent: d.cell(), Child: c.ID, At: d.inDie()}
			err := d.doEdit("place "+name, func(tx *dossier.Tx) error { return edit.Place(tx, &p) })
			if err == nil {
				d.choose(edit.Selection{Placements: []int64{p.ID}})
			}
			return err
		}
	}
	return fmt.Errorf("there is no cell %q: :cell NAME makes one of what is selected", name)
}

// onePlacement is the placement that is selected.
func (d *Desk) onePlacement() (int64, error) {
	if d.nothing() {
		d.click(false)
	}
	if len(d.sel.Placements) != 1 {
		return 0, errors.New("one placement has to be selected")
	}
	return d.sel.Placements[0], nil
}

func (d *Desk) arrayOf(columns, rows int, column, row geom.Vec) error {
	id, err := d.onePlacement()
	if err != nil {
		return err
	}
	return d.change(fmt.Sprintf("array of %d × %d", columns, rows), func(tx *dossier.Tx) error {
		return edit.Array(tx, id, columns, rows, edit.Extent(column, columns), edit.Extent(row, rows))
	})
}

func (d *Desk) oddOne(column, row int, name string) error {
	id, err := d.onePlacement()
	if err != nil {
		return err
	}
	return d.change(fmt.Sprintf("member %d, %d is %s", column, row, name), func(tx *dossier.Tx) error {
		_, err := edit.SingleOut(tx, id, column, row, name)
		return err
	})
}

func (d *Desk) explode() error {
	id, err := d.onePlacement()
	if err != nil {
		return err
	}
	var made edit.Selection
	err = d.change("take a placement apart", func(tx *dossier.Tx) (err error) {
		made, err = edit.Explode(tx, id)
		return err
	})
	if err == nil {
		d.choose(made)
	}
	return err
}
