package desk

import (
	"errors"
	"slices"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// carry is something that was picked up and follows the cursor until it is put down.
type carry struct {
	what   string
	from   geom.Point
	shapes []int64      // that are on their way: they do not catch the point
	of     geom.Polygon // of a corner or an edge: the shape as it was picked up
	angles bool
	rings  []geom.Polygon                            // their outlines
	lines0 func(to geom.Point) [][]geom.Point        // what would be, where it is not rings moved
	put    func(tx *dossier.Tx, to geom.Point) error // in an edit
	after  func(d *Desk)
}

// pickUp takes up what is under the cursor: a corner, an edge, or what is selected.
func (d *Desk) pickUp() {
	if !d.inFrame() {
		return
	}
	d.begin(nil)
	h, err := d.hit()
	if !d.try(err) {
		return
	}
	switch h.Kind {
	case edit.HitVertex, edit.HitEdge:
		d.try(d.pickCorner(h))
	default:
		if d.nothing() || h.Kind == edit.HitInside && !slices.Contains(d.sel.Shapes, h.Shape) && d.labelAt() == nil {
			d.click(false)
		}
		if d.nothing() {
			d.warn("there is nothing under the cursor to pick up")
			return
		}
		d.try(d.pickSelected(d.snapped().At))
	}
	if d.carry != nil {
		d.toPicture()
		d.say("carrying %s: Space puts it down, Esc leaves it where it was", d.carry.what)
	}
}

// pickCorner takes up a corner or an edge of a shape.
func (d *Desk) pickCorner(h edit.Hit) error {
	shapes, err := d.file.ShapesWith(h.Shape)
	if err != nil {
		return err
	}
	pg := shapes[0].Polygon
	r := pg[h.Vertex.Ring]
	n := len(r)
	c := &carry{from: h.At, shapes: []int64{h.Shape}, of: pg, angles: true}
	i := h.Vertex.Index
	if h.Kind == edit.HitVertex {
		c.what = "a corner"
		c.lines0 = func(to geom.Point) [][]geom.Point { return [][]geom.Point{{r[(i+n-1)%n], to, r[(i+1)%n]}} }
		c.put = func(tx *dossier.Tx, to geom.Point) error { return edit.MoveVertex(tx, h.Shape, h.Vertex, to) }
	} else {
		c.what = "an edge"
		a, b := r[i], r[(i+1)%n]
		// An edge goes across itself only: along itself it would change nothing but the angles beside it.
		c.lines0 = func(to geom.Point) [][]geom.Point {
			by := across(a, b, to.Sub(c.from))
			return [][]geom.Point{{r[(i+n-1)%n], a.Add(by), b.Add(by), r[(i+2)%n]}}
		}
		c.angles = false
		c.put = func(tx *dossier.Tx, to geom.Point) error {
			return edit.MoveEdge(tx, h.Shape, h.Vertex, across(a, b, to.Sub(c.from)))
		}
	}
	d.carry = c
	return nil
}

// across is the part of a way that goes across an edge.
func across(a, b, by geom.Point) geom.Point {
	e, w := vec(b.Sub(a)), vec(by)
	l2 := e.X*e.X + e.Y*e.Y
	if l2 == 0 {
		return by
	}
	t := (e.X*w.X + e.Y*w.Y) / l2
	return geom.Vec{X: w.X - t*e.X, Y: w.Y - t*e.Y}.Round()
}

// pickSelected takes up what is selected, by a point.
func (d *Desk) pickSelected(by geom.Point) error {
	shapes, err := d.file.ShapesWith(d.sel.Shapes...)
	if err != nil {
		return err
	}
	sel := d.sel
	c := &carry{what: "what is selected", from: by, shapes: slices.Clone(sel.Shapes), angles: true}
	for _, s := range shapes {
		c.rings = append(c.rings, s.Polygon)
	}
	if len(shapes) == 0 {
		c.rings = []geom.Polygon{{d.selBox.Ring()}}
	}
	c.put = func(tx *dossier.Tx, to geom.Point) error { return edit.Move(tx, sel, to.Sub(by)) }
	d.carry = c
	return nil
}

// carryClip takes up what was copied.
func (d *Desk) carryClip() {
	c := d.clip
	if len(c.Shapes)+len(c.Labels)+len(c.Placements) == 0 {
		d.warn("nothing was copied")
		return
	}
	d.begin(nil)
	k := &carry{what: "a copy", angles: false}
	for _, s := range c.Shapes {
		k.rings = append(k.rings, s.Polygon)
	}
	var made edit.Selection
	k.put = func(tx *dossier.Tx, to geom.Point) (err error) {
		made, err = edit.Paste(tx, d.cell(), c, to)
		return err
	}
	k.after = func(d *Desk) { d.choose(made) }
	d.carry = k
	d.toPicture()
	d.say("carrying a copy: Space puts it down, Esc gives it up")
}

// putDown ends carrying with an edit.
func (d *Desk) putDown() {
	c := d.carry
	to := d.snapped().At
	if !d.inFrame() {
		d.fail(errors.New("this photograph has no place in the frame"))
		return
	}
	what := "move " + c.what
	if c.after != nil {
		what = "paste " + c.what
	}
	if d.edit(what, func(tx *dossier.Tx) error { return c.put(tx, to) }) {
		d.carry = nil
		if c.after != nil {
			c.after(d)
		}
	}
}

// keepCarried gives up a corner or an edge of a shape that is another one by now: the corner's number may be another's.
func (d *Desk) keepCarried() {
	if d.carry == nil || d.carry.of == nil {
		return
	}
	now, err := d.file.ShapesWith(d.carry.shapes...)
	if err != nil || !slices.EqualFunc(now[0].Polygon, d.carry.of, slices.Equal[geom.Ring]) {
		d.carry = nil
	}
}

// lines show what is carried where it would come to lie.
func (c *carry) lines(d *Desk, to geom.Point, ink shot.Ink) (out []picture.Line) {
	if c.lines0 != nil {
		for _, l := range c.lines0(to) {
			out = append(out, outline(l, false, ink))
		}
		return out
	}
	const most = 500
	for _, pg := range c.rings {
		for _, r := range pg {
			if len(out) == most {
				return out
			}
			moved := make([]geom.Point, len(r))
			for i, p := range r {
				moved[i] = p.Add(to.Sub(c.from))
			}
			out = append(out, outline(moved, true, ink))
		}
	}
	return out
}
