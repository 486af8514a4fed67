package shot

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/vector"

	"undermetal/layout/geom"
)

// Ink is how a layer is drawn: its colour, and a hatch by which it is told without colour.
type Ink struct {
	Name   string
	Colour color.NRGBA
	Hatch  int // 0 to Hatches-1
}

// Hatches is how many hatches there are: rising, falling, level and upright lines, and two crossings of them.
const Hatches = 6

// palette is the set of colours for all kinds of sight by M. Okabe and K. Ito, "Color Universal Design" (2008; values
// from memory), without black.
var palette = []color.NRGBA{{0xe6, 0x9f, 0x00, 255}, {0x56, 0xb4, 0xe9, 255}, {0x00, 0x9e, 0x73, 255}, {0xf0, 0xe4, 0x42, 255}, {0x00, 0x72, 0xb2, 255}, {0xd5, 0x5e, 0x00, 255}, {0xcc, 0x79, 0xa7, 255}}

// InkFor returns the ink of the n-th layer: 42 layers have pairs of colour and hatch of their own.
func InkFor(n int, name string) Ink { return Ink{name, palette[n%len(palette)], n % Hatches} }

// hatched is a picture without end in one ink: strong on the lines of its hatch, faint between them.
type hatched struct {
	ink  Ink
	step int
}

func (h hatched) ColorModel() color.Model { return color.NRGBAModel }
func (h hatched) Bounds() image.Rectangle {
	return image.Rect(math.MinInt32, math.MinInt32, math.MaxInt32, math.MaxInt32)
}

func (h hatched) At(x, y int) color.Color {
	c := h.ink.Colour
	c.A = Faint
	if h.ink.On(x, y, h.step) {
		c.A = Strong
	}
	return c
}

// over draws the hatch over a picture through a mask of its size: the lines and what is between them each in one colour, for which
// image/draw looks at nothing but the mask.
func (h hatched) over(dst *image.RGBA, mask *image.Alpha) {
	r := dst.Rect
	lines, between := image.NewAlpha(r), image.NewAlpha(r)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for i, v := range mask.Pix[mask.PixOffset(r.Min.X, y):][:r.Dx()] {
			switch at := lines.PixOffset(r.Min.X+i, y); {
			case v == 0:
			case h.ink.On(r.Min.X+i, y, h.step):
				lines.Pix[at] = v
			default:
				between.Pix[at] = v
			}
		}
	}
	c := h.ink.Colour
	c.A = Strong
	draw.DrawMask(dst, r, image.NewUniform(c), image.Point{}, lines, r.Min, draw.Over)
	c.A = Faint
	draw.DrawMask(dst, r, image.NewUniform(c), image.Point{}, between, r.Min, draw.Over)
}

// How much of a layer's colour is seen on the lines of its hatch and between them, of 255.
const Strong, Faint = 210, 60

// HatchStep returns how far apart the lines of hatches are in a picture so many px high.
func HatchStep(height int) int { return max(6, height/90) }

// On reports whether a px lies on a line of the ink's hatch; lines are step px apart, and repeat after as many each way.
func (k Ink) On(x, y, step int) bool {
	on := func(v int) bool { return v%step == 0 }
	switch k.Hatch {
	case 0:
		return on(x + y)
	case 1:
		return on(x - y)
	case 2:
		return on(y)
	case 3:
		return on(x)
	case 4:
		return on(x+y) || on(x-y)
	}
	return on(x) || on(y)
}

// Paint draws the polygons of a layer over a view; at takes points of the frame to pixels of the view. Polygons are
// filled by themselves, with non-zero winding, and outlined.
func Paint(dst *image.RGBA, ink Ink, polygons []geom.Polygon, at func(geom.Point) (x, y float64)) {
	mask := image.NewAlpha(dst.Rect)
	for _, pg := range polygons {
		fill(mask, pg, at)
	}
	hatched{ink, HatchStep(dst.Rect.Dy())}.over(dst, mask)
	for _, pg := range polygons {
		for _, ring := range pg {
			for i := range ring {
				x0, y0 := at(ring[i])
				x1, y1 := at(ring[(i+1)%len(ring)])
				DrawLine(dst, x0, y0, x1, y1, ink.Colour)
			}
		}
	}
}

// fill adds a polygon to a mask.
func fill(mask *image.Alpha, pg geom.Polygon, at func(geom.Point) (x, y float64)) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, ring := range pg {
		for _, p := range ring {
			x, y := at(p)
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
		}
	}
	m := mask.Rect
	x0, y0, x1, y1 = max(x0, float64(m.Min.X)), max(y0, float64(m.Min.Y)), min(x1, float64(m.Max.X)), min(y1, float64(m.Max.Y))
	if !(x0 < x1 && y0 < y1) {
		return // all of it is outside
	}
	box := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1)))
	// The rasteriser draws from (0, 0) on only.
	r := vector.NewRasterizer(box.Dx(), box.Dy())
	for _, ring := range pg {
		for i, p := range ring {
			x, y := at(p)
			fx, fy := float32(x-float64(box.Min.X)), float32(y-float64(box.Min.Y))
			if i == 0 {
				r.MoveTo(fx, fy)
			} else {
				r.LineTo(fx, fy)
			}
		}
		r.ClosePath()
	}
	part := image.NewAlpha(image.Rect(0, 0, box.Dx(), box.Dy()))
	r.Draw(part, part.Rect, image.Opaque, image.Point{})
	draw.Draw(mask, box, part, image.Point{}, draw.Over)
}

// DrawLine draws a thin line, as far as the picture shows it.
func DrawLine(dst *image.RGBA, x0, y0, x1, y1 float64, c color.NRGBA) {
	if t0, t1, ok := ClipLine(dst.Rect, x0, y0, x1, y1); ok {
		dx, dy := x1-x0, y1-y0
		steps := int(math.Ceil(max(math.Abs(dx), math.Abs(dy)) * (t1 - t0)))
		for i := range steps + 1 {
			t := t0 + (t1-t0)*float64(i)/float64(max(steps, 1))
			dst.Set(int(x0+t*dx), int(y0+t*dy), c)
		}
	}
}

// ClipLine returns the part of a line, from 0 at its first end to 1 at its second, that lies on px of a picture; ok is false
// where none does. Source: Y.-D. Liang, B. Barsky, "A new concept and method for line clipping" (1984, from memory).
func ClipLine(r image.Rectangle, x0, y0, x1, y1 float64) (t0, t1 float64, ok bool) {
	t1 = 1
	for _, edge := range [4][2]float64{{x0 - x1, x0 - float64(r.Min.X)}, {x1 - x0, float64(r.Max.X-1) - x0}, {y0 - y1, y0 - float64(r.Min.Y)}, {y1 - y0, float64(r.Max.Y-1) - y0}} {
		switch p, q := edge[0], edge[1]; {
		case p < 0:
			t0 = max(t0, q/p)
		case p > 0:
			t1 = min(t1, q/p)
		case q < 0:
			return 0, 0, false
		}
	}
	return t0, t1, t0 <= t1
}

// Swatch returns a piece of what an ink draws over a photograph, on grey and outlined as shapes are: for a legend beside a picture.
func Swatch(ink Ink, width, height int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	draw.Draw(img, img.Rect, image.NewUniform(ink.Colour), image.Point{}, draw.Src)
	inner := img.Rect.Inset(1)
	draw.Draw(img, inner, image.NewUniform(color.Gray{Y: 0x60}), image.Point{}, draw.Src)
	draw.Draw(img, inner, hatched{ink, HatchStep(0)}, inner.Min, draw.Over)
	return img
}

// DrawLegend lists inks by name in the upper right corner of a view.
func DrawLegend(dst *image.RGBA, inks []Ink) {
	if len(inks) == 0 {
		return
	}
	size := textSize(dst.Rect)
	text := newPen(dst, size)
	defer text.close()
	wide := 0
	for _, ink := range inks {
		wide = max(wide, text.width(ink.Name))
	}
	gap, row := size/2, size*3/2
	ground := image.Rect(dst.Rect.Max.X-wide-2*row-3*gap, dst.Rect.Min.Y+gap, dst.Rect.Max.X-gap, dst.Rect.Min.Y+gap+row*len(inks)+gap)
	shade(dst, ground)
	for i, ink := range inks {
		y := ground.Min.Y + gap/2 + i*row
		swatch := image.Rect(ground.Min.X+gap, y+2, ground.Min.X+gap+row*3/2, y+row-2)
		draw.Draw(dst, swatch, hatched{ink, max(5, size/3)}, swatch.Min, draw.Over)
		text.write(swatch.Max.X+gap, y+row-size/3, ink.Name)
	}
}
