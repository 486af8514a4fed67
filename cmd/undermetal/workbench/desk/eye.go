package desk

import (
	"image"
	"math"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// eye is where one looks, and the cursor there.
type eye struct {
	view   view.View
	cursor geom.Vec // nm of the frame, or px of a photograph that has no place (picture.Own)
}

// fitRim is the part of the picture that stays free at each side of what is shown whole.
const fitRim = 0.02

// at is the eye that keys are about.
func (d *Desk) at() *eye { return &d.eyes[d.eye] }

// boxes are the parts of the picture, one or two.
func (d *Desk) boxes() []image.Rectangle {
	if !d.beside() {
		return []image.Rectangle{image.Rect(0, 0, d.width, d.height)}
	}
	// The border lies between two character cells.
	half := d.width / 2
	if d.columns > 1 {
		half = d.width * (d.columns / 2) / d.columns
	}
	half = max(half, 1)
	return []image.Rectangle{image.Rect(0, 0, half, d.height), image.Rect(half, 0, max(d.width, half+1), d.height)}
}

// fitPanes gives the views the sizes of their panes. A view that shows all goes on doing so.
func (d *Desk) fitPanes() {
	boxes := d.boxes()
	for i := range d.eyes {
		b := boxes[min(i, len(boxes)-1)]
		v := &d.eyes[i].view
		if v.NmPerPx == 0 {
			v.NmPerPx = 1
		}
		all := d.limitsOf(i).Die
		fits := *v == v.Fit(all, fitRim)
		if *v = v.Resize(b.Dx(), b.Dy(), d.aspect); fits {
			*v = v.Fit(all, fitRim)
		}
	}
}

// bounds find out how far one can look.
func (d *Desk) bounds() {
	box, finest := geom.EmptyRect(), math.Inf(1)
	for i, p := range d.photos {
		if p.shown == nil || i != d.base && !p.shown.Registered {
			continue
		}
		box = box.Union(p.shown.Box())
		finest = min(finest, p.shown.NmPerPx)
	}
	if d.drawing != nil {
		box = box.Union(d.drawing.Box())
	}
	if box.Empty() {
		box = geom.Box(0, 0, 100_000, 100_000)
	}
	if box.Width() == 0 || box.Height() == 0 {
		box = geom.Rect{Min: box.Min.Sub(geom.Point{X: 500, Y: 500}), Max: box.Max.Add(geom.Point{X: 500, Y: 500})}
	}
	if math.IsInf(finest, 1) {
		finest = 16
	}
	d.limits = view.LimitsOf(box, finest)
}

// limitsOf are those of an eye.
func (d *Desk) limitsOf(i int) view.Limits {
	if i == 1 {
		if p := d.second2(); p != nil {
			return view.LimitsOf(p.Box(), p.NmPerPx)
		}
	}
	return d.limits
}

// look shows all that there is.
func (d *Desk) look() {
	d.bounds()
	d.fitPanes()
	for i := range d.eyes {
		d.eyes[i].view = d.eyes[i].view.Fit(d.limitsOf(i).Die, fitRim)
		d.eyes[i].cursor = d.eyes[i].view.Middle
	}
}

// seesAll reports whether the first eye sees all that there is, and no more.
func (d *Desk) seesAll() bool {
	v := d.eyes[0].view
	return v == v.Fit(d.limits.Die, fitRim)
}

func (d *Desk) fitAll() {
	e := d.at()
	d.bounds()
	e.view = e.view.Fit(d.limitsOf(d.eye).Die, fitRim)
}

// px is how wide a pixel of the photograph is that one looks at, in units of the view.
func (d *Desk) px() float64 {
	if d.eye == 1 {
		if p := d.second2(); p != nil {
			return p.NmPerPx
		}
	}
	if d.base >= 0 && d.photos[d.base].shown != nil {
		return d.photos[d.base].shown.NmPerPx
	}
	return 16 * d.limits.Finest
}

// nudge moves the cursor by so many steps to the right and up, as they are seen, and the view after it.
func (d *Desk) nudge(right, up, times float64) {
	e := d.at()
	s, c := math.Sincos(e.view.Turn * math.Pi / 180)
	k := d.px() * d.step * times
	// The frame is turned counterclockwise on the screen by Turn, so what points right there is turned the other way in it.
	d.moveCursor(geom.Vec{X: e.cursor.X + k*(right*c+up*s), Y: e.cursor.Y + k*(-right*s+up*c)})
}

// moveCursor brings the cursor to a place and keeps it in sight.
func (d *Desk) moveCursor(to geom.Vec) {
	e := d.at()
	to.X = max(-geom.Limit, min(geom.Limit, to.X))
	to.Y = max(-geom.Limit, min(geom.Limit, to.Y))
	e.cursor = to
	x, y := e.view.ToScreen(to)
	w, h := float64(e.view.Width), float64(e.view.Height)
	if x < 0 || y < 0 || x >= w || y >= h {
		rim := 0.15
		e.view = e.view.Pan(max(rim*w-x, 0)+min((1-rim)*w-x, 0), max(rim*h-y, 0)+min((1-rim)*h-y, 0))
	}
}

// pan moves what is seen by parts of the picture; the cursor stays on the screen.
func (d *Desk) pan(right, up float64) {
	e := d.at()
	x, y := e.view.ToScreen(e.cursor)
	e.view = d.limitsOf(d.eye).Pan(e.view, -right*float64(e.view.Width), up*float64(e.view.Height))
	e.cursor = e.view.ToFrame(x, y)
}

// zoom magnifies about the cursor.
func (d *Desk) zoom(by float64) {
	e := d.at()
	x, y := e.view.ToScreen(e.cursor)
	e.view = d.limitsOf(d.eye).Zoom(e.view, by, x, y)
	d.moveCursor(e.cursor)
}

func (d *Desk) turn(degrees float64) {
	e := d.at()
	e.view = e.view.Centre(e.cursor).TurnBy(degrees)
	e.view.Turn = math.Mod(e.view.Turn, 360)
}

// remember keeps where one is, for Backspace.
func (d *Desk) remember() {
	if len(d.back) == 100 {
		d.back = d.back[1:]
	}
	d.back = append(d.back, d.eyes[0])
}

// jump shows a place, and all of a box about it where that is larger than the picture; one can come back.
func (d *Desk) jump(at geom.Vec, box geom.Rect) {
	d.eye = 0
	d.remember()
	e := d.at()
	e.view = e.view.Centre(at)
	e.cursor = at
	if !box.Empty() {
		sx, sy := e.view.Sides()
		w, h := float64(box.Width())/sx, float64(box.Height())/sy
		switch big := max(w/float64(e.view.Width), h/float64(e.view.Height)); {
		case big > 0.9, big > 0 && big < 0.02:
			e.view = d.limits.Hold(e.view.Fit(box, 0.3))
			e.view = e.view.Centre(at)
		}
	}
}

// goBack shows what was seen before the last jump.
func (d *Desk) goBack() {
	if len(d.back) == 0 {
		d.say("there is nowhere to go back to")
		return
	}
	e := d.back[len(d.back)-1]
	d.back = d.back[:len(d.back)-1]
	e.view = e.view.Resize(d.eyes[0].view.Width, d.eyes[0].view.Height, d.aspect)
	d.eye, d.eyes[0] = 0, e
}

// inFrame reports whether places of the view are nm of the die.
func (d *Desk) inFrame() bool {
	return d.eye == 0 && (d.base < 0 || d.photos[d.base].shown == nil || d.photos[d.base].shown.Scaled)
}

// located is the shot that one traces over; nil where it has no place.
func (d *Desk) located() *dossier.Located {
	if d.base < 0 || d.photos[d.base].l.ToFrame == nil {
		return nil
	}
	return d.photos[d.base].l
}

// clamped is the cursor as a point of the frame's grid.
func (e *eye) clamped() geom.Vec {
	c := e.cursor
	return geom.Vec{X: max(-geom.Limit, min(geom.Limit, c.X)), Y: max(-geom.Limit, min(geom.Limit, c.Y))}
}
