package desk

import (
	"fmt"
	"math"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/shot"
)

// tool is something that is drawn point by point.
type tool struct {
	name   string
	least  int  // points that it needs
	most   int  // after which it is done by itself; 0: when the user says so
	angles bool // points are drawn to angles from the one before
	closed bool
	layer  bool // it draws on the layer
	stays  bool // it can be used again at once
	finish func(d *Desk, pts []geom.Point) error
	show   func(d *Desk, pts []geom.Point) []geom.Point // the outline that pts would make; nil: pts themselves
}

var tools = []*tool{
	{name: "rectangle", layer: true, least: 2, most: 2, stays: true, closed: true, finish: (*Desk).drawRectangle, show: (*Desk).upright},
	{name: "polygon", layer: true, least: 3, angles: true, stays: true, closed: true, finish: (*Desk).drawPolygon},
	{name: "wire", layer: true, least: 2, angles: true, stays: true, finish: (*Desk).drawWire},
	{name: "stamp", layer: true, least: 1, most: 1, stays: true, closed: true, finish: (*Desk).drawStamp, show: (*Desk).stampOutline},
	{name: "area", layer: true, least: 3, angles: true, closed: true, finish: (*Desk).drawArea},
	{name: "cut", least: 2, most: 2, angles: true, finish: (*Desk).cutSelected},
	{name: "subtract", least: 3, angles: true, closed: true, finish: (*Desk).subtractFrom},
	{name: "box", least: 2, most: 2, closed: true, finish: (*Desk).chooseBox, show: plainBox},
	{name: "ruler", least: 2, most: 2, finish: (*Desk).measure},
	{name: "axis", least: 2, most: 2, finish: (*Desk).setAxis},
}

func toolNamed(name string) *tool {
	for _, t := range tools {
		if t.name == name {
			return t
		}
	}
	return nil
}

// begin takes up a tool, or lays it down.
func (d *Desk) begin(t *tool) {
	d.tool, d.points, d.carry = t, nil, nil
	if t != nil {
		d.eye = 0
		d.toPicture()
		if t.layer && !d.inFrame() { // what it would draw has no size
			d.tool = nil
			d.fail(errNoScale)
			return
		}
		d.say("%s", d.toolHint(t))
	}
}

// toPicture gives the keys to the picture, if a list has them: what was begun there wants them.
func (d *Desk) toPicture() {
	if d.list != nil {
		d.list.focus = false
	}
}

// toolHint says what the keys do with a tool.
func (d *Desk) toolHint(t *tool) string {
	text := t.name
	if t.layer {
		text += " on " + d.layerName(d.layer)
	}
	switch t.name {
	case "wire":
		return fmt.Sprintf("%s, %s µm wide: W says how wide, Space sets a corner, Enter ends it", text, um(float64(d.wireWidth())))
	case "stamp":
		size := d.stampSize()
		return fmt.Sprintf("%s, %s × %s µm: C says how large, Space sets one at the cursor", text, um(float64(size.X)), um(float64(size.Y)))
	}
	switch {
	case t.most == 1:
		return text + ": Space sets one at the cursor, Esc ends"
	case t.most == 2:
		return text + ": Space sets one end, Space the other, Esc gives it up"
	}
	return text + ": Space sets a corner, Enter ends it, Esc gives it up"
}

// here sets a point of the tool at the cursor.
func (d *Desk) here() {
	switch {
	case d.station == registering && d.tool == nil:
		d.setHalf()
	case d.carry != nil:
		d.putDown()
	case d.tool != nil:
		d.addPoint(d.snapped().At)
	case d.station == tracing:
		d.click(false)
	default:
		d.pinNet()
	}
}

func (d *Desk) addPoint(p geom.Point) {
	t := d.tool
	if n := len(d.points); n > 0 && d.points[n-1] == p {
		return
	}
	if t.closed && t.most == 0 && len(d.points) >= t.least && d.points[0] == p {
		d.finish()
		return
	}
	if d.points = append(d.points, p); len(d.points) == t.most {
		d.finish()
	}
}

// finish ends the tool with the points that are set. If it fails, they stay.
func (d *Desk) finish() {
	t := d.tool
	if t == nil {
		return
	}
	pts := d.points
	if t.closed && t.most == 0 && len(pts) > 1 && pts[0] == pts[len(pts)-1] {
		pts = pts[:len(pts)-1]
	}
	if len(pts) < t.least {
		d.warn("%s wants %s: Space sets one at the cursor", t.name, counted(t.least, "point"))
		return
	}
	if err := t.finish(d, pts); err != nil {
		d.fail(err)
		if len(d.points) == t.most && t.most > 0 {
			d.points = d.points[:len(d.points)-1]
		}
		return
	}
	d.points = nil
	if !t.stays {
		d.tool = nil
	}
}

// unset takes the last point back.
func (d *Desk) unset() bool {
	if len(d.points) == 0 {
		return false
	}
	d.points = d.points[:len(d.points)-1]
	return true
}

// on is where new shapes are drawn.
func (d *Desk) on() (edit.On, error) {
	if !d.inFrame() {
		return edit.On{}, errNoScale
	}
	layer, err := d.drawable()
	on := edit.On{Cell: d.cell(), Layer: layer, Origin: edit.Origin{Method: "hand"}}
	if l := d.located(); l != nil && err == nil {
		on.Origin.Shot = l.ID
		// An edge that a hand draws over a photograph is off by about a pixel (DEVELOPERS.md, "How well W and L are known").
		x, y := l.NmPerPx(l.FromFrame.Apply(d.eyes[0].cursor))
		if k := max(x, y); k > 0 && !math.IsInf(k, 0) {
			on.Origin.SigmaNm = k
		}
	}
	return on, err
}

// draw is an edit that draws on the layer.
func (d *Desk) draw(what string, f func(*dossier.Tx, edit.On) error) error {
	on, err := d.on()
	if err != nil {
		return err
	}
	d.layers[d.layer].Hidden = false
	what = fmt.Sprintf("%s on %s", what, on.Layer)
	if err := d.doEdit(what, func(tx *dossier.Tx) error { return f(tx, on) }); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// upright is the rectangle between two corners, along the die's axes.
func (d *Desk) upright(pts []geom.Point) []geom.Point {
	if len(pts) < 2 {
		return pts
	}
	a, b := pts[0], pts[1]
	if d.axis == 0 {
		r := geom.Box(a.X, a.Y, b.X, b.Y).Ring()
		return r
	}
	s, c := math.Sincos(d.axis * math.Pi / 180)
	x, y := float64(b.X-a.X), float64(b.Y-a.Y)
	along, across := x*c+y*s, -x*s+y*c
	p := geom.Vec{X: float64(a.X) + along*c, Y: float64(a.Y) + along*s}.Round()
	q := geom.Vec{X: float64(a.X) - across*s, Y: float64(a.Y) + across*c}.Round()
	return []geom.Point{a, p, b, q}
}

func plainBox(_ *Desk, pts []geom.Point) []geom.Point {
	if len(pts) < 2 {
		return pts
	}
	return geom.Box(pts[0].X, pts[0].Y, pts[1].X, pts[1].Y).Ring()
}

func (d *Desk) drawRectangle(pts []geom.Point) error {
	return d.draw("draw a rectangle", func(tx *dossier.Tx, on edit.On) error {
		if d.axis == 0 {
			_, err := edit.Rectangle(tx, on, pts[0], pts[1])
			return err
		}
		_, err := edit.Polygon(tx, on, geom.Polygon{d.upright(pts)})
		return err
	})
}

func (d *Desk) drawPolygon(pts []geom.Point) error {
	return d.draw("draw a polygon", func(tx *dossier.Tx, on edit.On) error {
		_, err := edit.Polygon(tx, on, geom.Polygon{append(geom.Ring(nil), pts...)})
		return err
	})
}

// wireWidth is that of the next wire, in nm.
func (d *Desk) wireWidth() int {
	if d.width0 > 0 {
		return d.width0
	}
	return max(1, min(geom.Limit, geom.RoundHalfUp(10*d.px())))
}

func (d *Desk) drawWire(pts []geom.Point) error {
	return d.draw(fmt.Sprintf("draw a wire of width %s µm", um(float64(d.wireWidth()))), func(tx *dossier.Tx, on edit.On) error {
		_, err := edit.Wire(tx, on, pts, d.wireWidth(), pen.Flush)
		return err
	})
}

// stampSize is that of the next stamp, in nm.
func (d *Desk) stampSize() geom.Point {
	if d.stamp != (geom.Point{}) {
		return d.stamp
	}
	k := max(1, min(geom.Limit, geom.RoundHalfUp(20*d.px())))
	return geom.Point{X: k, Y: k}
}

func (d *Desk) drawStamp(pts []geom.Point) error {
	return d.draw("stamp", func(tx *dossier.Tx, on edit.On) error {
		if d.axis == 0 {
			_, err := edit.Stamp(tx, on, d.stampSize(), pts...)
			return err
		}
		for _, p := range pts {
			if _, err := edit.Polygon(tx, on, geom.Polygon{d.stampOutline([]geom.Point{p})}); err != nil {
				return err
			}
		}
		return nil
	})
}

// stampOutline is a stamp along the die's axes.
func (d *Desk) stampOutline(pts []geom.Point) []geom.Point {
	p, size := vec(pts[len(pts)-1]), d.stampSize()
	s, c := math.Sincos(d.axis * math.Pi / 180)
	var out []geom.Point
	for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		x, y := k[0]*float64(size.X)/2, k[1]*float64(size.Y)/2
		out = append(out, geom.Vec{X: p.X + x*c - y*s, Y: p.Y + x*s + y*c}.Round())
	}
	return out
}

func (d *Desk) drawArea(pts []geom.Point) error {
	if err := d.onlyInDie("what was looked at"); err != nil {
		return err
	}
	return d.draw("say what was looked at", func(tx *dossier.Tx, on edit.On) error {
		_, err := edit.AddArea(tx, on.Layer, geom.Polygon{append(geom.Ring(nil), pts...)})
		return err
	})
}

// setAxis takes the way between two points for one of the die's axes.
func (d *Desk) setAxis(pts []geom.Point) error {
	by := vec(pts[1].Sub(pts[0]))
	a := math.Atan2(by.Y, by.X) * 180 / math.Pi
	d.axis = a - 90*math.Round(a/90)
	d.good("the die's axes are turned by %.3g°", d.axis)
	return nil
}

// toolLines are what is being drawn, and where the next point would come to lie.
func (d *Desk) toolLines() (out []picture.Line) {
	if d.eye != 0 || d.tool == nil && d.carry == nil {
		return nil
	}
	at := d.snapped()
	ink := drawInk
	if d.layer >= 0 {
		ink = d.layers[d.layer].Ink
	}
	if d.carry != nil {
		out = d.carry.lines(d, at.At, ink)
	} else {
		pts := append(append([]geom.Point(nil), d.points...), at.At)
		if d.tool.show != nil {
			pts = d.tool.show(d, pts)
		}
		out = append(out, outline(pts, d.tool.closed && len(pts) > 2, ink))
	}
	if n := snapCorners[at.Kind]; n > 0 {
		out = append(out, mark(&d.eyes[0], vec(at.At), n, 4, snapInk))
	}
	return out
}

func outline(pts []geom.Point, closed bool, ink shot.Ink) picture.Line {
	l := picture.Line{Closed: closed, Ink: ink}
	for _, p := range pts {
		l.Places = append(l.Places, vec(p))
	}
	return l
}
