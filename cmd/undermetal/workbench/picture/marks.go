package picture

import (
	"image"
	"image/color"
	"math"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// The colours of marks, of the set that shot.InkFor takes its from.
var (
	white     = color.NRGBA{255, 255, 255, 255}
	black     = color.NRGBA{0, 0, 0, 255}
	arrowInk  = shot.InkFor(3, "").Colour // yellow
	strangers = shot.InkFor(5, "").Colour // vermillion: residuals of outliers
)

// BarFor returns a scale bar for a view: its length in nm, in px, and what is written on it.
func BarFor(v view.View) (nm, px float64, text string) {
	nm = shot.BarLength(float64(v.Width) * v.NmPerPx)
	return nm, nm / v.NmPerPx, shot.LengthText(nm)
}

// Enlarging returns how many times as long as they are residuals are best drawn, for Scene.Enlarge: 1, 2 or 5 times a power
// of ten, so that the longest takes a tenth of the picture's width at most; 0.001 at least, and 1 where there are none.
func Enlarging(v view.View, arrows []Arrow) float64 {
	longest := 0.0
	for _, a := range arrows {
		longest = max(longest, math.Hypot(a.Residual.X, a.Residual.Y))
	}
	most := float64(v.Width) * v.NmPerPx / 10 / longest
	if longest == 0 || math.IsInf(most, 0) || math.IsNaN(most) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(most)))
	for _, k := range []float64{5, 2} {
		if k*ten <= most {
			return max(k*ten, 1e-3)
		}
	}
	return max(ten, 1e-3)
}

// marks draws what lies over everything.
func (d *drawing) marks() {
	s := d.s
	for _, a := range s.Arrows {
		d.arrow(a)
	}
	for _, l := range s.Lines {
		for i := range l.Places {
			switch {
			case i > 0:
				d.line(l.Places[i-1], l.Places[i], l.Ink.Colour)
			case l.Closed && len(l.Places) > 2:
				d.line(l.Places[len(l.Places)-1], l.Places[0], l.Ink.Colour)
			case len(l.Places) == 1:
				d.line(l.Places[0], l.Places[0], l.Ink.Colour)
			}
		}
	}
	if s.Ruler != nil {
		d.ruler(s.Ruler)
	}
	if s.Bar && d.scaled() {
		shot.DrawScaleBar(d.img, s.View.NmPerPx)
	}
}

// scaled reports whether lengths of the frame are nm.
func (d *drawing) scaled() bool { return d.s.Base.Photo == nil || d.s.Base.Photo.Scaled }

// at returns where a place of the frame lies in the picture.
func (d *drawing) at(p geom.Vec) pair {
	x, y := d.s.View.ToScreen(p)
	return pair{x, y}
}

func (d *drawing) line(a, b geom.Vec, c color.NRGBA) { d.stroke(d.at(a), d.at(b), c) }

// stroke draws a line with a dark rim, by which it is seen on any ground.
func (d *drawing) stroke(a, b pair, c color.NRGBA) {
	if large := d.s.View.Height >= largePx; large {
		for _, o := range [4]pair{{-1, 0}, {2, 0}, {0, -1}, {0, 2}} {
			shot.DrawLine(d.img, a.x+o.x, a.y+o.y, b.x+o.x, b.y+o.y, black)
		}
		shot.DrawLine(d.img, a.x+1, a.y, b.x+1, b.y, c)
		shot.DrawLine(d.img, a.x, a.y+1, b.x, b.y+1, c)
	} else {
		shot.DrawLine(d.img, a.x+1, a.y, b.x+1, b.y, black)
	}
	shot.DrawLine(d.img, a.x, a.y, b.x, b.y, c)
}

// across returns the directions along a line and square to it, as the screen shows them, one unit long; a unit is so many px of
// a square of the screen.
func (d *drawing) across(a, b pair, unit float64) (along, square pair) {
	_, tall := view.View{NmPerPx: 1, Aspect: d.s.View.Aspect}.Sides()
	dx, dy := b.x-a.x, (b.y-a.y)*tall
	n := math.Hypot(dx, dy)
	if n == 0 {
		dx, n = 1, 1
	}
	dx, dy = dx/n*unit, dy/n*unit
	return pair{dx, dy / tall}, pair{-dy, dx / tall}
}

// unit is the size of small marks, in px.
func (d *drawing) unit() float64 { return max(2, float64(d.s.View.Height)/100) }

// ruler draws a line with a stroke across either end.
func (d *drawing) ruler(r *Ruler) {
	a, b := d.at(r.A), d.at(r.B)
	_, q := d.across(a, b, d.unit())
	d.stroke(a, b, white)
	for _, end := range [2]pair{a, b} {
		d.stroke(pair{end.x - q.x, end.y - q.y}, pair{end.x + q.x, end.y + q.y}, white)
	}
	if d.s.Text && r.Text != "" {
		x, y := (a.x+b.x)/2, (a.y+b.y)/2
		if w, h := float64(d.s.View.Width), float64(d.s.View.Height); x >= 0 && y >= 0 && x < w && y < h {
			shot.DrawText(d.img, int(x+2*d.unit()), int(y-d.unit()), r.Text)
		}
	}
}

// arrow draws a residual from where a point was to lie to where the map puts it.
func (d *drawing) arrow(r Arrow) {
	k := d.s.Enlarge
	if k == 0 {
		k = 1
	}
	a, b := d.at(r.At), d.at(geom.Vec{X: r.At.X + k*r.Residual.X, Y: r.At.Y + k*r.Residual.Y})
	if !finite(a) || !finite(b) {
		return
	}
	c, u := arrowInk, d.unit()
	along, square := d.across(a, b, u)
	if r.Outlier {
		c = strangers
		const corners = 12
		before := pair{a.x + 2*along.x, a.y + 2*along.y}
		for i := range corners {
			sin, cos := math.Sincos(2 * math.Pi * float64(i+1) / corners)
			next := pair{a.x + 2*(cos*along.x+sin*square.x), a.y + 2*(cos*along.y+sin*square.y)}
			d.stroke(before, next, c)
			before = next
		}
	}
	d.stroke(a, b, c)
	if math.Hypot(b.x-a.x, b.y-a.y) > 1 { // else it has no direction that could be seen
		d.stroke(b, pair{b.x - along.x + square.x/2, b.y - along.y + square.y/2}, c)
		d.stroke(b, pair{b.x - along.x - square.x/2, b.y - along.y - square.y/2}, c)
	}
	d.dot(a, c)
}

// dot marks the px of a place and its neighbours.
func (d *drawing) dot(p pair, c color.NRGBA) {
	x, y := int(math.Floor(p.x)), int(math.Floor(p.y))
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if at := (image.Point{X: x + dx, Y: y + dy}); dx*dy == 0 && at.In(d.img.Rect) {
				d.img.SetRGBA(at.X, at.Y, color.RGBA(c))
			}
		}
	}
}

// finite reports whether a place can be drawn.
func finite(p pair) bool { return math.Abs(p.x) < 1<<30 && math.Abs(p.y) < 1<<30 }
