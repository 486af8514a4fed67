package desk

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// inside is a placed cell that one draws in. While one does, the cell's own coordinates are those of the desk: what is drawn, snapped
// to and listed is the cell's, and all of its placements follow, since they are that drawing. Photographs lie as they do under the
// member that was entered. Photographs are not registered from within.
type inside struct {
	cell        int64
	name        string
	placement   int64
	column, row int
	from        eye // where one was
	axis        float64
	back        []eye
}

// cell is what is drawn in: the die, or the cell that was entered.
func (d *Desk) cell() int64 {
	if n := len(d.within); n > 0 {
		return d.within[n-1].cell
	}
	return dossier.Frame
}

// cellTitle says where one draws; empty in the die.
func (d *Desk) cellTitle() string {
	text := ""
	for i, in := range d.within {
		if i > 0 {
			text += " › "
		}
		text += in.name
		if in.column > 0 || in.row > 0 {
			text += fmt.Sprintf(" (column %d, row %d)", in.column, in.row) // in brackets a name of the circuit has the row first
		}
	}
	return harmless(text)
}

// onlyInDie says why something cannot be done inside a cell.
func (d *Desk) onlyInDie(what string) error {
	if len(d.within) == 0 {
		return nil
	}
	return fmt.Errorf("%s is of the whole die: { comes back out of %s first", what, d.cellTitle())
}

// goInto enters the cell that is placed under the cursor, or that is selected; of an array the member next to the cursor, or the one
// that is named.
func (d *Desk) goInto(member *[2]int) error {
	if d.drawing == nil {
		return errors.New("the drawing is being arranged: once more in a moment")
	}
	if !d.inFrame() {
		return errNoScale
	}
	if p := d.pairs; p != nil && (p.from != nil || p.to != nil || !p.stored(d)) {
		return errors.New("pairs are not accepted yet: a in the station register accepts them, Esc and x there take them away")
	}
	var under *placed
	for i := range d.placed {
		if len(d.sel.Placements) == 1 && d.placed[i].id == d.sel.Placements[0] {
			under = &d.placed[i]
		}
	}
	if under == nil {
		if under = d.placementAt(); under == nil {
			return errors.New("no placed cell lies under the cursor: F11 lists them")
		}
	}
	found, err := d.file.PlacementsWith(under.id)
	if err != nil {
		return err
	}
	p := inLayout(found[0])
	in := inside{cell: found[0].Child, placement: under.id, from: d.eyes[0], axis: d.axis, back: d.back}
	columns, rows := p.Members()
	if member != nil {
		if in.column, in.row = member[0], member[1]; in.column < 0 || in.row < 0 || in.column >= columns || in.row >= rows {
			return fmt.Errorf("there is no member %d,%d: the array has %d × %d, counted from 0,0", in.column, in.row, columns, rows)
		}
	} else {
		in.column, in.row = memberNear(&p, under.own, d.eyes[0].cursor)
	}
	cells, err := d.file.Cells()
	if err != nil {
		return err
	}
	for _, c := range cells {
		if c.ID == in.cell {
			in.name = c.Name
		}
	}
	t := p.Member(in.column, in.row)
	to := placing(t)
	back, err := to.Inverse()
	if err != nil {
		return err
	}
	_, grows, _, _ := t.Parts()
	d.within = append(d.within, in)
	if d.station == registering {
		d.station = tracing
	}
	d.atOther()
	own := under.own
	e := &d.eyes[0]
	e.cursor = back.Apply(e.cursor)
	e.cursor = e.clamped()
	e.view.NmPerPx /= grows
	if !own.Empty() && own.Width() > 0 && own.Height() > 0 {
		e.view = e.view.Fit(own, 0.1)
	}
	if e.view.Turn = 0; !own.Empty() && !own.Contains(e.cursor.Round()) {
		e.cursor = e.view.Middle
	}
	d.axis, d.back = 0, nil
	d.good("inside %s, whose %s; { comes back", d.cellTitle(), d.follow(in.cell))
	return nil
}

// follow says how many placements a change to a cell shows in.
func (d *Desk) follow(cell int64) string {
	all, err := d.file.PlacementsOf(cell)
	n := 0
	for _, p := range all {
		n += max(p.Columns, 1) * max(p.Rows, 1)
	}
	if err != nil || n == 1 {
		return "placement follows what is drawn"
	}
	return fmt.Sprintf("%d placements follow what is drawn", n)
}

// comeOut goes back to what the cell is placed in.
func (d *Desk) comeOut() error {
	n := len(d.within)
	if n == 0 {
		return errors.New("this is the whole die: } goes into the cell under the cursor")
	}
	d.leaveCell()
	d.atOther()
	if len(d.within) == 0 {
		d.good("back in the die")
		return nil
	}
	d.good("back in %s", d.cellTitle())
	return nil
}

func (d *Desk) leaveCell() {
	n := len(d.within) - 1
	in := d.within[n]
	d.within = d.within[:n]
	e := in.from
	e.view = e.view.Resize(d.eyes[0].view.Width, d.eyes[0].view.Height, d.aspect)
	d.eye, d.eyes[0], d.axis, d.back = 0, e, in.axis, in.back
}

// atOther lays down what belongs to the coordinates before, and shows those that hold now.
func (d *Desk) atOther() {
	d.begin(nil)
	d.choose(edit.Selection{})
	d.pairs, d.eye, d.ruler, d.net = nil, 0, nil, lit{}
	d.forgetDrawing()
	e := d.eyes[0]
	if err := d.reload(); err != nil {
		d.fail(err)
	}
	d.fitPanes()
	d.eyes[0] = e
	d.wake()
	d.refresh()
}

// forgetDrawing drops what the background made of other coordinates.
func (d *Desk) forgetDrawing() {
	d.drawing, d.placed, d.labels, d.areas, d.live = nil, nil, nil, nil, nil
}

// outOfWhatIsGone leaves cells whose placements are gone, and finds where the frame lies for those that are there.
func (d *Desk) outOfWhatIsGone() {
	d.toCell, d.toFrame = nil, nil
	t := geom.Identity // from the cell to the frame
	for i, in := range d.within {
		found, err := d.file.PlacementsWith(in.placement)
		var member geom.Transform
		ok := err == nil && found[0].Child == in.cell
		if ok {
			p := inLayout(found[0])
			columns, rows := p.Members()
			ok = in.column < columns && in.row < rows
			member = p.Member(in.column, in.row)
		}
		if !ok {
			for len(d.within) > i {
				d.leaveCell()
			}
			d.begin(nil)
			d.choose(edit.Selection{})
			d.net, d.ruler = lit{}, nil
			d.forgetDrawing()
			d.warn("the placement of %s is gone: this is what it was placed in", in.name)
			break
		}
		t = member.Then(t)
	}
	if len(d.within) > 0 {
		to := placing(t)
		if back, err := to.Inverse(); err == nil {
			d.toFrame, d.toCell = to, back
		}
	}
}

// seenHere is a located shot in the coordinates that one draws in.
func (d *Desk) seenHere(l *dossier.Located) *dossier.Located {
	if d.toCell == nil || l.ToFrame == nil {
		return l
	}
	in := *l
	in.ToFrame, in.FromFrame = register.Compose(l.ToFrame, d.toCell), register.Compose(d.toFrame, l.FromFrame)
	return &in
}

// inLayout is a placement as the engine has it, without its cell.
func inLayout(p dossier.Placement) layout.Placement {
	return layout.Placement{Name: p.Name, Transform: geom.NewTransform(p.Mirror, p.Magnification, p.Degrees, p.At),
		Columns: p.Columns, Rows: p.Rows, ColumnExtent: p.ColumnExtent, RowExtent: p.RowExtent}
}

// placing is a transform as a map of nm to nm.
func placing(t geom.Transform) register.Map {
	xx, xy, yx, yy, dx, dy := t.Matrix()
	m, err := register.ParseMap(register.Affine, []float64{xx, xy, dx, yx, yy, dy})
	if err != nil {
		panic("desk: " + err.Error()) // a placement can be undone
	}
	return m
}

// memberNear is the member of an array whose middle is next to a place; own is the box of the cell.
func memberNear(p *layout.Placement, own geom.Rect, at geom.Vec) (column, row int) {
	columns, rows := p.Members()
	middle := func(c, r int) geom.Vec {
		b := p.Member(c, r).Bounds(own)
		return geom.Vec{X: float64(b.Min.X+b.Max.X) / 2, Y: float64(b.Min.Y+b.Max.Y) / 2}
	}
	pitch := func(extent geom.Vec, n int) geom.Vec {
		if n < 2 {
			return geom.Vec{}
		}
		return extent.Scale(1 / float64(n-1))
	}
	a, b := pitch(p.ColumnExtent, columns), pitch(p.RowExtent, rows)
	first := middle(0, 0)
	by := geom.Vec{X: at.X - first.X, Y: at.Y - first.Y}
	// Least squares: by = c·a + r·b.
	aa, bb, ab := a.X*a.X+a.Y*a.Y, b.X*b.X+b.Y*b.Y, a.X*b.X+a.Y*b.Y
	ca, cb := a.X*by.X+a.Y*by.Y, b.X*by.X+b.Y*by.Y
	var c, r float64
	switch det := aa*bb - ab*ab; {
	case det > 1e-9*aa*bb:
		c, r = (ca*bb-cb*ab)/det, (cb*aa-ca*ab)/det
	case aa > 0:
		c = ca / aa
	case bb > 0:
		r = cb / bb
	}
	hold := func(v float64, n int) int { return int(max(0, min(float64(n-1), math.Round(v)))) }
	return hold(c, columns), hold(r, rows)
}
