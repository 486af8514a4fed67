package report

import (
	"context"
	"errors"
	"image"
	"image/color"
	"testing"
)

// watched is a picture of noise that ends a context when its first pixel is asked for, and knows the last row that was.
type watched struct {
	image.Rectangle
	end  context.CancelFunc
	last int
}

func (w *watched) ColorModel() color.Model { return color.RGBAModel }
func (w *watched) Bounds() image.Rectangle { return w.Rectangle }
func (w *watched) Opaque() bool            { return true } // else an encoder looks for itself, at every pixel
func (w *watched) At(x, y int) color.Color {
	w.end()
	w.last = max(w.last, y)
	n := uint32(x*7919+y*104729) * 2654435761
	return color.RGBA{R: uint8(n >> 8), G: uint8(n >> 16), B: uint8(n >> 24), A: 255}
}

// TestNewPictureEnds: a picture whose making is interrupted at its first pixel is not made to its end. Noise packs badly, 3 bytes a
// pixel of which nearly all are written; the encoder holds back some 100 kB, 50 rows of 700 px.
func TestNewPictureEnds(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	defer end()
	w := &watched{Rectangle: image.Rect(0, 0, 700, 2000), end: end}
	if p, err := NewPicture(ctx, w, "", ""); p != nil || !errors.Is(err, context.Canceled) {
		t.Fatalf("%v, %v", p != nil, err)
	}
	if w.last > 200 {
		t.Errorf("%d rows of 2000 were packed after the end", w.last)
	}
}
