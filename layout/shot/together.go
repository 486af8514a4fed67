package shot

import (
	"image"
	"image/color"
	"image/draw"
	"math"
)

// Blend puts a part of over, from 0 to 1, on img; both begin at (0, 0) and are of one size. Where only one of them is, that
// one is seen.
func Blend(img, over *image.RGBA, part float64) {
	b := int(math.Round(part * (1 << 16)))
	a := 1<<16 - b
	for i := 0; i+4 <= len(img.Pix); i += 4 {
		p, q := img.Pix[i:i+4:i+4], over.Pix[i:i+4:i+4]
		switch {
		case q[3] == 0:
		case p[3] == 0:
			copy(p, q)
		default:
			for k := range 3 {
				p[k] = uint8((int(p[k])*a + int(q[k])*b + 1<<15) >> 16)
			}
		}
	}
}

// Split puts over on img right of a line at a part of the width; the line is white between two dark ones.
func Split(img, over *image.RGBA, part float64) {
	x := int(math.Round(part * float64(img.Rect.Dx())))
	draw.Draw(img, image.Rect(x, 0, img.Rect.Max.X, img.Rect.Max.Y), over, image.Pt(x, 0), draw.Src)
	if x == 0 || x == img.Rect.Dx() {
		return // one of them alone
	}
	line := func(x int, c color.Color) {
		draw.Draw(img, image.Rect(x, 0, x+1, img.Rect.Max.Y), image.NewUniform(c), image.Point{}, draw.Src)
	}
	line(x-1, color.Black)
	line(x, color.White)
	line(x+1, color.Black)
}

// Blacken fills what is transparent.
func Blacken(img *image.RGBA) {
	for i := 0; i+4 <= len(img.Pix); i += 4 {
		if img.Pix[i+3] == 0 {
			copy(img.Pix[i:i+4], []uint8{0, 0, 0, 255})
		}
	}
}
