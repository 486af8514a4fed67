package shot

import (
	"context"
	"image"
)

// Grey is an upright photograph in grey, perhaps reduced: one sample stands for PerPx × PerPx of its pixels.
type Grey struct {
	Width, Height int
	PerPx         float64
	Pix           []float32 // row by row from the top, 0 black, 1 white
}

// Grey returns the photograph in grey, from the largest level of the pyramid that has no more than so many samples; (0, 0)
// is the same corner in both, and what does not fill a sample at the right and lower rim is left out. Samples have 8 bits,
// of photographs of 16 bits those between its darkest and brightest two thousandths. Beside the samples, memory goes with the
// width. progress hears the part that is done. It ends early with the context's error, or that of a tile.
func (p *Pyramid) Grey(ctx context.Context, most int, progress func(done float64)) (*Grey, error) {
	width, height := p.Size()
	g := &Grey{width, height, 1, nil}
	for g.Width*g.Height > most {
		g.PerPx *= 2
		g.Width, g.Height = width/int(g.PerPx), height/int(g.PerPx)
	}
	display := Plain
	if p.Depth > 8 {
		var err error
		if display, err = p.AutoContrast(); err != nil {
			return nil, err
		}
	}
	g.Pix = make([]float32, 0, g.Width*g.Height)
	const strip = TileSide / 2
	for y := 0; y < g.Height; y += strip {
		img := image.NewRGBA(image.Rect(0, y, g.Width, min(y+strip, g.Height)))
		if err := p.View(ctx, img, Window(0, 0, g.PerPx*float64(g.Width), g.Width), display); err != nil {
			return nil, err
		}
		for i := 0; i < len(img.Pix); i += 4 {
			s := img.Pix[i : i+3]
			g.Pix = append(g.Pix, (0.299*float32(s[0])+0.587*float32(s[1])+0.114*float32(s[2]))/255) // luma, ITU-R BT.601
		}
		progress(float64(min(y+strip, g.Height)) / float64(g.Height))
	}
	return g, nil
}
