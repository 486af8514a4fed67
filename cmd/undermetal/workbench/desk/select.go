package desk

import (
	"slices"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

// choose takes something for what edits are about.
func (d *Desk) choose(sel edit.Selection) {
	d.sel = sel
	d.showSelected()
}

// nothing reports whether nothing is selected.
func (d *Desk) nothing() bool {
	return len(d.sel.Shapes)+len(d.sel.Labels)+len(d.sel.Placements) == 0
}

// keepSelected drops what is gone.
func (d *Desk) keepSelected() {
	d.sel.Shapes = there(d.sel.Shapes, func(ids ...int64) error { _, err := d.file.ShapesWith(ids...); return err })
	d.sel.Labels = there(d.sel.Labels, func(ids ...int64) error { _, err := d.file.LabelsWith(ids...); return err })
	d.sel.Placements = there(d.sel.Placements, func(ids ...int64) error { _, err := d.file.PlacementsWith(ids...); return err })
	d.showSelected()
}

// there are those of some ids that look finds: it is asked for all first.
func there(ids []int64, look func(...int64) error) []int64 {
	if len(ids) == 0 || look(ids...) == nil {
		return ids
	}
	return slices.DeleteFunc(slices.Clone(ids), func(id int64) bool { return look(id) != nil })
}

// showSelected makes the drawing of what is selected.
func (d *Desk) showSelected() {
	d.selShown, d.selBox = nil, geom.EmptyRect()
	if d.nothing() {
		return
	}
	byLayer := make([][]geom.Polygon, max(1, len(d.layers)))
	shapes, err := d.file.ShapesWith(d.sel.Shapes...)
	if err != nil {
		d.fail(err)
		return
	}
	for _, s := range shapes {
		i, err := d.layerNamed(s.Layer)
		if err != nil {
			continue
		}
		byLayer[i] = append(byLayer[i], s.Polygon)
		d.selBox = d.selBox.Union(s.Polygon.Bounds())
	}
	placements, err := d.file.PlacementsWith(d.sel.Placements...)
	if err != nil {
		d.fail(err)
		return
	}
	for _, p := range placements {
		in := inLayout(p)
		if box := around(&in, d.ownBox(p.Child)); !box.Empty() && box.Width() > 0 && box.Height() > 0 {
			byLayer[0] = append(byLayer[0], geom.Polygon{box.Ring()})
			d.selBox = d.selBox.Union(box)
		}
	}
	labels, err := d.file.LabelsWith(d.sel.Labels...)
	if err != nil {
		d.fail(err)
		return
	}
	for _, l := range labels {
		d.selBox = d.selBox.Extend(l.At)
	}
	d.selShown = picture.NewSet(byLayer)
}

// ownBox is the box of a cell as it was arranged last; empty where it is placed nowhere yet.
func (d *Desk) ownBox(cell int64) geom.Rect {
	for i := range d.placed {
		if d.placed[i].child == cell {
			return d.placed[i].own
		}
	}
	return geom.EmptyRect()
}

// hit is what a click at the cursor means.
func (d *Desk) hit() (edit.Hit, error) { return edit.HitTest(d.near(), d.inDie(), d.reach()) }

// click selects what lies under the cursor; more keeps what is selected already, and lets go of what is hit then.
func (d *Desk) click(more bool) {
	h, err := d.hit()
	if !d.try(err) {
		return
	}
	var sel edit.Selection
	if more {
		sel = edit.Selection{Shapes: slices.Clone(d.sel.Shapes), Labels: slices.Clone(d.sel.Labels), Placements: slices.Clone(d.sel.Placements)}
	}
	switch {
	case d.labelAt() != nil:
		sel.Labels = toggled(sel.Labels, d.labelAt().ID)
	case h.Kind != edit.HitNothing:
		sel.Shapes = toggled(sel.Shapes, h.Shape)
	default:
		if p := d.placementAt(); p != nil {
			sel.Placements = toggled(sel.Placements, p.id)
		}
	}
	d.choose(sel)
	d.saySelected()
}

func toggled(ids []int64, id int64) []int64 {
	if i := slices.Index(ids, id); i >= 0 {
		return slices.Delete(ids, i, i+1)
	}
	return append(ids, id)
}

func (d *Desk) saySelected() {
	if d.nothing() {
		d.say("nothing is selected")
		return
	}
	text := ""
	for _, n := range []struct {
		n    int
		what string
	}{{len(d.sel.Shapes), "shape"}, {len(d.sel.Labels), "label"}, {len(d.sel.Placements), "placement"}} {
		if n.n > 0 {
			if text != "" {
				text += ", "
			}
			text += counted(n.n, n.what)
		}
	}
	d.say("selected: %s", text)
}

// labelAt is the label at the cursor, within reach; nil where there is none.
func (d *Desk) labelAt() *dossier.Label {
	p, reach := d.inDie(), d.reach()
	for i := range d.labels {
		l := &d.labels[i]
		if by := l.At.Sub(p); max(by.X, -by.X) <= reach && max(by.Y, -by.Y) <= reach && d.isOpen(l.Layer) {
			if _, err := d.file.LabelsWith(l.ID); err == nil {
				return l
			}
		}
	}
	return nil
}

// placementAt is the smallest placement about the cursor; nil where there is none.
func (d *Desk) placementAt() *placed {
	var best *placed
	for i := range d.placed {
		p := &d.placed[i]
		if !p.box.Empty() && p.box.Contains(d.inDie()) && (best == nil || area(p.box) < area(best.box)) {
			if _, err := d.file.PlacementsWith(p.id); err == nil {
				best = p
			}
		}
	}
	return best
}

func area(r geom.Rect) float64 { return float64(r.Width()) * float64(r.Height()) }

// chooseBox selects what lies wholly within a box.
func (d *Desk) chooseBox(pts []geom.Point) error {
	box := geom.Box(pts[0].X, pts[0].Y, pts[1].X, pts[1].Y)
	shapes, err := d.near()(box)
	if err != nil {
		return err
	}
	var sel edit.Selection
	in := func(r geom.Rect) bool { return !r.Empty() && box.Contains(r.Min) && box.Contains(r.Max) }
	for _, s := range shapes {
		if in(s.Polygon.Bounds()) {
			sel.Shapes = append(sel.Shapes, s.ID)
		}
	}
	labels, err := d.file.Labels(d.cell())
	if err != nil {
		return err
	}
	for _, l := range labels {
		if box.Contains(l.At) && d.isOpen(l.Layer) {
			sel.Labels = append(sel.Labels, l.ID)
		}
	}
	for _, p := range d.placed {
		if in(p.box) {
			sel.Placements = append(sel.Placements, p.id)
		}
	}
	d.choose(sel)
	d.keepSelected()
	d.saySelected()
	return nil
}

// chooseAll selects all that is open, or of one layer.
func (d *Desk) chooseAll(layer string) error {
	shapes, err := d.file.Shapes(d.cell())
	if err != nil {
		return err
	}
	var sel edit.Selection
	for _, s := range shapes {
		if d.isOpen(s.Layer) && (layer == "" || s.Layer == layer) {
			sel.Shapes = append(sel.Shapes, s.ID)
		}
	}
	labels, err := d.file.Labels(d.cell())
	if err != nil {
		return err
	}
	for _, l := range labels {
		if d.isOpen(l.Layer) && (layer == "" || l.Layer == layer) {
			sel.Labels = append(sel.Labels, l.ID)
		}
	}
	if layer == "" {
		for _, p := range d.placed {
			sel.Placements = append(sel.Placements, p.id)
		}
	}
	d.choose(sel)
	d.keepSelected()
	d.saySelected()
	return nil
}
