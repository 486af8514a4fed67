package shot

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strconv"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// BarLength returns the length in nm of a scale bar for a view of a width in nm: 1, 2 or 5 times a power of ten, the
// longest that is at most a third of the width.
func BarLength(viewNm float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(viewNm/3)))
	for _, k := range []float64{5, 2} {
		if k*ten <= viewNm/3 {
			return k * ten
		}
	}
	return ten
}

// LengthText writes a length in nm for a bar, as in "20 µm".
func LengthText(nm float64) string {
	switch {
	case nm < 1000:
		return strconv.FormatFloat(nm, 'g', 4, 64) + " nm"
	case nm < 1e6:
		return strconv.FormatFloat(nm/1000, 'g', 4, 64) + " µm"
	}
	return strconv.FormatFloat(nm/1e6, 'g', 4, 64) + " mm"
}

// DrawScaleBar draws a bar with its length into the lower left corner of a view whose pixels are nmPerPx wide. It lies on
// a dark ground of its own, so that it shows on any photograph.
func DrawScaleBar(dst *image.RGBA, nmPerPx float64) {
	r := dst.Bounds()
	length := BarLength(float64(r.Dx()) * nmPerPx)
	size := textSize(r)
	text := newPen(dst, size)
	defer text.close()
	long, high, gap := int(math.Round(length/nmPerPx)), max(2, size/5), size/2
	label := LengthText(length)
	wide := max(long, text.width(label))
	ground := image.Rect(r.Min.X+gap, r.Max.Y-gap-(high+size+2*gap), r.Min.X+gap+wide+2*gap, r.Max.Y-gap)
	shade(dst, ground)
	bar := image.Rect(ground.Min.X+gap, ground.Max.Y-gap-high, ground.Min.X+gap+long, ground.Max.Y-gap)
	draw.Draw(dst, bar, image.White, image.Point{}, draw.Src)
	text.write(ground.Min.X+gap, bar.Min.Y-gap/2, label)
}

// DrawText writes a line on a dark ground of its own, its lower left corner at (x, y), but within the view where it has room
// there.
func DrawText(dst *image.RGBA, x, y int, s string) {
	r := dst.Bounds()
	size := textSize(r)
	text := newPen(dst, size)
	defer text.close()
	gap := size / 2
	wide, high := text.width(s)+2*gap, size+gap
	x, y = max(r.Min.X, min(x, r.Max.X-wide)), max(r.Min.Y+high, min(y, r.Max.Y))
	shade(dst, image.Rect(x, y-high, x+wide, y))
	text.write(x+gap, y-gap*2/3, s)
}

// textSize is the height of letters in px that suits a view.
func textSize(r image.Rectangle) int { return max(11, min(48, r.Dy()/30)) }

// shade darkens a part of a picture so that white shows on it.
func shade(dst *image.RGBA, r image.Rectangle) {
	draw.Draw(dst, r, image.NewUniform(color.NRGBA{A: 170}), image.Point{}, draw.Over)
}

// loadFont parses the typeface of the Go project, which comes with its module.
var loadFont = sync.OnceValue(func() *opentype.Font {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic("shot: the embedded typeface: " + err.Error())
	}
	return f
})

// pen writes white text.
type pen struct {
	font.Drawer
}

func newPen(dst draw.Image, size int) *pen {
	face, err := opentype.NewFace(loadFont(), &opentype.FaceOptions{Size: float64(size), DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		panic("shot: the embedded typeface: " + err.Error())
	}
	return &pen{font.Drawer{Dst: dst, Src: image.White, Face: face}}
}

func (p *pen) close() { p.Face.Close() }

func (p *pen) width(s string) int { return p.MeasureString(s).Ceil() }

// write writes s from x on, above the line at y.
func (p *pen) write(x, y int, s string) {
	p.Dot = fixed.P(x, y)
	p.DrawString(s)
}
