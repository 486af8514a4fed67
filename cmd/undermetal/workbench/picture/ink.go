package picture

import (
	"image"
	"image/color"
	"math/bits"

	"undermetal/layout"
	"undermetal/layout/shot"
)

// Layer is how one layer of a drawing is shown.
type Layer struct {
	Ink    shot.Ink
	Hidden bool
	Locked bool // drawn thinner: fainter, and its outline broken
}

// Layers returns how layers are shown as long as nobody says otherwise: each in an ink of its own.
func Layers(names []string) []Layer {
	all := make([]Layer, len(names))
	for i, name := range names {
		all[i].Ink = shot.InkFor(i, name)
	}
	return all
}

// manner is how a drawing is put on a picture.
type manner int

const (
	plain    manner = iota
	lit             // a net: nearly opaque, outlined in white
	selected        // faint, outlined in a chain of black and white
)

// stroke is what a layer looks like in a picture.
type stroke struct {
	colour          [3]int
	strong, faint   int // of 256, on the lines of the hatch and between them
	outline         [3]int
	broken, chained bool
}

// painter puts planes on pictures.
type painter struct {
	strokes [layout.MaxLayers]stroke
	hatch   [layout.MaxLayers][]bool // step × step px
	step    int
	inks    [layout.MaxLayers]shot.Ink // that hatch was made for
}

// set prepares the layers for a manner.
func (k *painter) set(layers []Layer, m manner, height int) {
	step := shot.HatchStep(height)
	for i := range k.strokes {
		l := Layer{Ink: shot.InkFor(i, "")}
		if i < len(layers) {
			l = layers[i]
		}
		c := l.Ink.Colour
		s := stroke{colour: rgb(c), strong: shot.Strong + 1, faint: shot.Faint, outline: rgb(c)}
		if l.Locked {
			s.strong, s.faint, s.broken = s.strong/2, s.faint/2, true
		}
		switch m {
		case lit:
			s.strong, s.faint, s.outline, s.broken = 255, 170, [3]int{255, 255, 255}, false
		case selected:
			s.strong, s.faint, s.chained, s.broken = 160, 110, true, false
		}
		k.strokes[i] = s
		if k.step != step || k.inks[i] != l.Ink || k.hatch[i] == nil {
			k.inks[i] = l.Ink
			k.hatch[i] = make([]bool, step*step)
			for n := range k.hatch[i] {
				k.hatch[i][n] = l.Ink.On(n%step, n/step, step)
			}
		}
	}
	k.step = step
}

func rgb(c color.NRGBA) [3]int { return [3]int{int(c.R), int(c.G), int(c.B)} }

// paint puts a plane on the rows of a picture from y0 to y1-1: what covers, layer over layer, and over all of it outlines,
// of which the topmost is seen.
func (k *painter) paint(img *image.RGBA, p *plane, y0, y1 int) {
	for y := y0; y < y1; y++ {
		s := p.spans[y]
		at := y % k.step * k.step
		for x := s.from; x < s.to; x++ {
			i := y*p.width + x
			covers, outlines := p.covers[i], p.outlines[i]
			if covers|outlines == 0 {
				continue
			}
			px := img.Pix[y*img.Stride+4*x:][:4:4]
			r, g, b := int(px[0]), int(px[1]), int(px[2])
			for ; covers != 0; covers &= covers - 1 {
				l := bits.TrailingZeros64(covers)
				s := &k.strokes[l]
				part := s.faint
				if k.hatch[l][at+x%k.step] {
					part = s.strong
				}
				r, g, b = r+(s.colour[0]-r)*part>>8, g+(s.colour[1]-g)*part>>8, b+(s.colour[2]-b)*part>>8
			}
			for ; outlines != 0; outlines &^= 1 << (63 - bits.LeadingZeros64(outlines)) {
				s := &k.strokes[63-bits.LeadingZeros64(outlines)]
				if s.broken && (x+y)%3 == 0 {
					continue // what is beneath is seen
				}
				c := s.outline
				if s.chained {
					c = [3]int{255, 255, 255}
					if (x+y)/3%2 == 0 {
						c = [3]int{}
					}
				}
				r, g, b = c[0], c[1], c[2]
				break
			}
			px[0], px[1], px[2], px[3] = uint8(r), uint8(g), uint8(b), 255
		}
	}
}

// dim darkens rows of a picture by half, so that what is lit stands out.
func dim(img *image.RGBA, y0, y1 int) {
	row := img.Pix[y0*img.Stride : y1*img.Stride]
	for i := 0; i+4 <= len(row); i += 4 {
		row[i], row[i+1], row[i+2] = row[i]>>1, row[i+1]>>1, row[i+2]>>1
	}
}
