package desk

import (
	"math"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// The inks of marks; each mark has a shape of its own, too.
var (
	cursorInk = shot.InkFor(0, "cursor")
	snapInk   = shot.InkFor(3, "snap")
	drawInk   = shot.InkFor(1, "drawn")
	labelInk  = shot.InkFor(2, "label")
	pairInk   = shot.InkFor(5, "pair")
)

// Scene is what the first pane shows.
func (d *Desk) Scene() picture.Scene { return d.Panes()[0].Scene }

// Panes are all panes, from left to right.
func (d *Desk) Panes() []Pane {
	boxes := d.boxes()
	if len(boxes) == 1 {
		if d.station == registering && d.pairs != nil && d.eye == 1 {
			return []Pane{{Box: boxes[0], Scene: d.otherScene(), Title: d.photos[d.over].l.Name}}
		}
		return []Pane{{Box: boxes[0], Scene: d.mainScene(), Title: d.shotName(d.base)}}
	}
	return []Pane{{boxes[0], d.mainScene(), d.shotName(d.base)}, {boxes[1], d.otherScene(), d.shotName(d.over)}}
}

func (d *Desk) shotName(i int) string {
	if i < 0 || i >= len(d.photos) {
		return ""
	}
	return d.photos[i].l.Name
}

func (d *Desk) shownOf(i int) picture.Shown {
	if i < 0 || d.photos[i].shown == nil {
		return picture.Shown{}
	}
	return picture.Shown{Photo: d.photos[i].shown, Display: d.photos[i].display}
}

// mainScene is what the first eye sees.
func (d *Desk) mainScene() picture.Scene {
	s := picture.Scene{View: d.eyes[0].view, Base: d.shownOf(d.base), Mode: d.mode, Part: d.part, Second: d.second,
		Layers: append([]picture.Layer(nil), d.layers...), Bar: true, Text: true, Ruler: d.ruler, Selected: d.selShown}
	if d.mode != picture.Alone {
		s.Over = d.shownOf(d.over)
	}
	d.together(&s)
	if s.Base.Photo == nil || s.Base.Photo.Scaled {
		s.Drawing = d.drawing
		s.Net = d.litDrawing()
		s.Lines = append(s.Lines, d.labelMarks()...)
		s.Lines = append(s.Lines, d.areaLines()...)
		s.Lines = append(s.Lines, d.blockLines()...)
		s.Lines = append(s.Lines, d.toolLines()...)
	}
	d.pairMarks(&s, 0)
	if d.eye == 0 {
		s.Lines = append(s.Lines, d.cross(&d.eyes[0], 5, cursorInk)...)
	}
	return s
}

// otherScene is what the second eye sees: the photograph that is being registered, as it lies.
func (d *Desk) otherScene() picture.Scene {
	s := picture.Scene{View: d.eyes[1].view, Base: d.shownOf(d.over), Layers: append([]picture.Layer(nil), d.layers...), Bar: true}
	d.pairMarks(&s, 1)
	if d.eye == 1 {
		s.Lines = append(s.Lines, d.cross(&d.eyes[1], 5, cursorInk)...)
	}
	return s
}

// cross is a cross at an eye's cursor, of so many px to each side, with a gap in the middle.
func (d *Desk) cross(e *eye, size float64, ink shot.Ink) []picture.Line {
	return crossAt(e, e.cursor, size, ink)
}

func crossAt(e *eye, at geom.Vec, size float64, ink shot.Ink) (out []picture.Line) {
	x, y := e.view.ToScreen(at)
	for _, v := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		gap := size * 0.3
		out = append(out, picture.Line{Ink: ink, Places: []geom.Vec{e.view.ToFrame(x+gap*v[0], y+gap*v[1]), e.view.ToFrame(x+size*v[0], y+size*v[1])}})
	}
	return out
}

// mark is a small closed figure about a place, of so many corners: what caught a point is told by its shape.
func mark(e *eye, at geom.Vec, corners int, size float64, ink shot.Ink) picture.Line {
	x, y := e.view.ToScreen(at)
	l := picture.Line{Closed: true, Ink: ink}
	for i := range corners {
		s, c := math.Sincos(2*math.Pi*(float64(i)+0.5)/float64(corners) + math.Pi/2)
		l.Places = append(l.Places, e.view.ToFrame(x+size*c, y-size*s))
	}
	return l
}

// mostLabelMarks is how many labels are marked in a picture.
const mostLabelMarks = 400

func (d *Desk) labelMarks() (out []picture.Line) {
	box := d.eyes[0].view.Box()
	for _, l := range d.labels {
		if box.Contains(l.At) && len(out) < mostLabelMarks {
			ink := labelInk
			if i, err := d.layerNamed(l.Layer); err == nil {
				if d.layers[i].Hidden {
					continue
				}
				ink = d.layers[i].Ink
			}
			out = append(out, mark(&d.eyes[0], vec(l.At), 3, 3, ink))
		}
	}
	return out
}

// areaLines are the traced areas of the layer to draw on, while they are listed or drawn.
func (d *Desk) areaLines() (out []picture.Line) {
	if (d.list == nil || d.list.kind != "areas") && (d.tool == nil || d.tool.name != "area") {
		return nil
	}
	for _, a := range d.areas {
		if i := d.layerOf(a.Layer); i >= 0 && i == d.layer {
			for _, r := range a.Polygon {
				out = append(out, outline(r, true, d.layers[i].Ink))
			}
		}
	}
	return out
}

// blockLines are the regions of the block map, while it is listed.
func (d *Desk) blockLines() (out []picture.Line) {
	if d.list == nil || d.list.kind != "blocks" {
		return nil
	}
	for _, b := range d.blocks {
		for _, r := range b.Polygon {
			out = append(out, outline(r, true, labelInk))
		}
	}
	return out
}
