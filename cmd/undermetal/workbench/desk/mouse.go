package desk

import (
	"image"
	"math"

	"undermetal/layout/edit"
)

// drag is a mouse with a button held.
type drag struct {
	button int
	x, y   float64 // where it was last, px of the pane
	x0, y0 float64 // where it was pressed
	moved  bool
	does   dragDoes
}

type dragDoes int

const (
	dragNothing dragDoes = iota
	dragPan
	dragBox   // selects what lies within
	dragCarry // moves what was picked up
	dragTool  // sets the other corner
)

// dragPx is how far a button has to be dragged to mean more than a click.
const dragPx = 3

// Mouse does what a mouse means.
func (d *Desk) Mouse(m Mouse) {
	if d.done || math.IsNaN(m.X) || math.IsNaN(m.Y) {
		return
	}
	if d.line != nil || d.page != nil {
		if m.Kind == Release {
			d.leaveDrag()
		}
		return
	}
	boxes := d.boxes()
	if d.drag.button == 0 && len(boxes) == 2 && m.Kind != Release {
		d.eye = 0
		if image.Pt(int(m.X), 0).X >= boxes[1].Min.X {
			d.eye = 1
		}
	}
	if len(boxes) == 2 {
		m.X -= float64(boxes[d.eye].Min.X)
	}
	e := d.at()
	switch m.Kind {
	case Wheel:
		d.wheel(m)
	case Move:
		e.cursor = e.view.ToFrame(m.X, m.Y)
		d.clampCursor()
	case Press:
		d.press(m)
	case Drag:
		d.dragTo(m)
	case Release:
		d.release(m)
	}
	d.afterEvent()
}

func (d *Desk) clampCursor() {
	e := d.at()
	e.cursor = e.clamped()
}

func (d *Desk) wheel(m Mouse) {
	e := d.at()
	if m.Shift {
		d.acted["part"]++
		d.morePart(0.05 * float64(m.Steps))
		return
	}
	d.acted["zoom"]++
	steps := max(-20, min(20, m.Steps))
	e.cursor = e.view.ToFrame(m.X, m.Y)
	e.view = d.limitsOf(d.eye).Zoom(e.view, math.Pow(2, 0.25*float64(steps)), m.X, m.Y)
	e.cursor = e.view.ToFrame(m.X, m.Y)
	d.clampCursor()
}

func (d *Desk) press(m Mouse) {
	e := d.at()
	e.cursor = e.view.ToFrame(m.X, m.Y)
	d.clampCursor()
	if d.list != nil {
		d.list.focus = false
	}
	d.drag = drag{button: m.Button, x: m.X, y: m.Y, x0: m.X, y0: m.Y}
	switch {
	case m.Button == Middle || m.Button == Left && m.Ctrl:
		d.drag.does = dragPan
	case m.Button == Right:
		d.enterRight()
	case m.Button != Left:
	case d.carry != nil:
		d.putDown()
	case d.tool != nil:
		n := len(d.points)
		d.acted["here"]++
		d.addPoint(d.snapped().At)
		if d.tool != nil && d.tool.most == 2 && n == 0 {
			d.drag.does = dragTool
		}
	case d.station == tracing:
		d.pressTrace(m)
	default:
		d.drag.does = dragPan // dragged it pans, clicked it means here
	}
}

// pressTrace begins to drag what lies under the pointer, or a box.
func (d *Desk) pressTrace(m Mouse) {
	h, err := d.hit()
	if err != nil {
		d.fail(err)
		return
	}
	if h.Kind == edit.HitNothing && d.placementAt() == nil && d.labelAt() == nil {
		d.drag.does = dragBox
		return
	}
	d.drag.does = dragCarry
}

func (d *Desk) dragTo(m Mouse) {
	g := &d.drag
	e := d.at()
	if !g.moved && math.Hypot(m.X-g.x0, m.Y-g.y0) < dragPx {
		return
	}
	first := !g.moved
	g.moved = true
	switch g.does {
	case dragPan:
		d.acted["pan"]++
		e.view = d.limitsOf(d.eye).Pan(e.view, m.X-g.x, m.Y-g.y)
	case dragBox:
		if first {
			d.begin(toolNamed("box"))
			d.addPoint(d.inDie())
		}
	case dragCarry:
		if first && !d.pickDragged() {
			g.does = dragNothing
		}
	}
	g.x, g.y = m.X, m.Y
	e.cursor = e.view.ToFrame(m.X, m.Y)
	d.clampCursor()
}

// pickDragged picks up what lay under the pointer when it was pressed.
func (d *Desk) pickDragged() bool {
	e := d.at()
	e.cursor = e.view.ToFrame(d.drag.x0, d.drag.y0)
	d.clampCursor()
	if d.labelAt() != nil || d.nothing() {
		if h, err := d.hit(); err == nil && (h.Kind == edit.HitInside || h.Kind == edit.HitNothing || d.labelAt() != nil) {
			d.click(false)
		}
	}
	d.pickUp()
	return d.carry != nil
}

func (d *Desk) release(m Mouse) {
	g := d.drag
	d.drag = drag{}
	e := d.at()
	if g.button == 0 {
		return
	}
	e.cursor = e.view.ToFrame(m.X, m.Y)
	d.clampCursor()
	switch {
	case g.does == dragCarry && g.moved && d.carry != nil:
		d.putDown()
		if d.carry != nil { // it could not be put down there
			d.carry = nil
		}
	case g.does == dragCarry && !g.moved:
		d.acted["select"]++
		d.click(m.Shift)
	case g.does == dragBox && g.moved && d.tool != nil && d.tool.name == "box":
		d.acted["select"]++
		d.addPoint(d.inDie())
		d.tool, d.points = nil, nil
	case g.does == dragBox && !g.moved:
		d.choose(edit.Selection{})
		d.begin(nil)
	case g.does == dragTool && g.moved && d.tool != nil && len(d.points) == 1:
		d.addPoint(d.snapped().At)
	case g.does == dragPan && !g.moved && g.button == Left && !m.Ctrl:
		d.acted["here"]++
		d.here()
	}
}

// leaveDrag ends a drag that is of no use any more, as nobody saw where it ended.
func (d *Desk) leaveDrag() {
	g := d.drag
	d.drag = drag{}
	if g.moved && (g.does == dragCarry || g.does == dragBox && d.tool == toolNamed("box")) {
		d.begin(nil)
	}
}

// enterRight is the right button: done.
func (d *Desk) enterRight() {
	switch {
	case d.carry != nil:
		d.carry = nil
	case d.tool != nil && len(d.points) > 0 && d.tool.most == 0:
		d.finish()
	case d.tool != nil:
		d.escape()
	default:
		d.goBack()
	}
}
