package graphics

import (
	"image"
	"image/color"
	"io"

	"github.com/mattn/go-sixel"
)

// SixelBand is how many rows of px a row of sixels has: a picture whose height is no multiple of it is continued in the
// terminal's background.
const SixelBand = 6

// Sixel sends pictures as sixels. It uses its memory again: it is for one goroutine.
type Sixel struct {
	Colours int // how many registers the terminal has, 2 or more; 0, or more than 256: 256

	p       palette
	indexed image.Paletted
	colours color.Palette
	encoder *sixel.Encoder
	to      forward
}

// forward is where the encoder writes to, by way of Show.
type forward struct{ w io.Writer }

func (f *forward) Write(b []byte) (int, error) { return f.w.Write(b) }

// Show writes a picture, to be shown from the cursor on, in the colours that suit it. What is transparent counts as black.
// The size is the terminal's to limit: xterm shows 1000 × 1000 px unless its maxGraphicSize says otherwise.
func (s *Sixel) Show(w io.Writer, img *image.RGBA) error {
	if img.Rect.Empty() {
		return nil
	}
	most := mostColours
	if s.Colours > 0 && s.Colours < most {
		most = max(2, s.Colours)
	}
	s.p.choose(img, most)
	width, height := img.Rect.Dx(), img.Rect.Dy()
	if n := width * height; cap(s.indexed.Pix) < n {
		s.indexed.Pix = make([]uint8, n)
	} else {
		s.indexed.Pix = s.indexed.Pix[:n]
	}
	s.indexed.Stride, s.indexed.Rect = width, image.Rect(0, 0, width, height)
	s.p.apply(s.indexed.Pix, img)
	s.colours = s.colours[:0]
	for _, c := range s.p.colours {
		s.colours = append(s.colours, color.RGBA{c[0], c[1], c[2], 255})
	}
	s.indexed.Palette = s.colours
	if s.encoder == nil {
		s.encoder = sixel.NewEncoder(&s.to)
	}
	s.to.w = w
	return s.encoder.Encode(&s.indexed)
}
