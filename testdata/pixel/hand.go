package pixel

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"

	"undermetal/layout/geom"
)

// Seed is that of the hand whose tracings lie beside this file, and of the photographs' noise. One hand in four draws one or more of the
// six lengths off by more than twice its standard uncertainty, as it should (1 − 0.9545⁶; TestPixelHands looks at many). This
// one does not; it is the first from 1 on.
const Seed = 2

// markSigma is how well the hand finds the middle of a contact, in px: the standard deviation of each coordinate.
const markSigma = 0.5

// Hand traces photographs. Each edge that it draws lies off by a normal error of the photograph's SigmaPx, along its own
// normal and apart from all others; so do both ends of a wire's middle line, and each side of it.
type Hand struct{ seed uint64 }

// NewHand returns the hand of a seed; the same seed draws the same.
func NewHand(seed uint64) Hand { return Hand{seed} }

func (h Hand) random(p *Photo, what uint64) *rand.Rand {
	if p.Metal {
		what += 100
	}
	return rand.New(rand.NewPCG(h.seed, what))
}

// Points is the file of control points of a photograph: the middle of one contact, that of the reset transistor's drain,
// in this pixel and in three neighbours, which lie a pitch apart.
func (h Hand) Points(p *Photo) []byte {
	rnd := h.random(p, 1)
	var b bytes.Buffer
	b.WriteString("px,py,x_um,y_um,sigma_px\n")
	for _, shift := range []geom.Vec{{}, {X: Pitch}, {Y: -Pitch}, {X: Pitch, Y: -Pitch}} {
		nm := geom.Vec{X: 15*unit + shift.X, Y: 73*unit + shift.Y}
		px := p.Px(nm)
		fmt.Fprintf(&b, "%.1f,%.1f,%g,%g,%g\n", px.X+markSigma*rnd.NormFloat64(), px.Y+markSigma*rnd.NormFloat64(), nm.X/1000, nm.Y/1000, markSigma)
	}
	return b.Bytes()
}

// styles are what the hand draws the layers with.
var styles = []struct{ layer, color string }{
	{"diffusion", "#009e73"}, {"poly", "#d55e00"}, {"photo", "#f0e442"}, {"contact", "#000000"},
	{"metal1", "#0072b2"}, {"via1", "#000000"}, {"metal2", "#cc79a7"},
}

// SVG is the tracing of a photograph as a vector editor keeps it: the photograph itself below, a group a layer above,
// places in px of the photograph.
func (h Hand) SVG(p *Photo) []byte {
	rnd := h.random(p, 2)
	var b bytes.Buffer
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%[2]d\" viewBox=\"0 0 %[1]d %[2]d\">\n", p.Width, p.Height)
	fmt.Fprintf(&b, "<image href=\"%s.png\" x=\"0\" y=\"0\" width=\"%d\" height=\"%d\"/>\n", p.Name, p.Width, p.Height)
	for _, s := range styles {
		var in bytes.Buffer
		for _, part := range Parts() {
			if part.Layer == s.layer && part.Metal == p.Metal {
				h.part(&in, rnd, p, &part, s.color)
			}
		}
		for _, l := range Labels() {
			if l.Layer == s.layer && l.Metal == p.Metal {
				at := p.Px(l.At)
				fmt.Fprintf(&in, "<text x=\"%.0f\" y=\"%.0f\" font-size=\"12\">%s</text>\n", at.X, at.Y, l.Text)
			}
		}
		if in.Len() > 0 {
			fmt.Fprintf(&b, "<g id=\"%s\" fill=\"%s\" opacity=\"0.6\">\n%s</g>\n", s.layer, s.color, in.Bytes())
		}
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

func (h Hand) part(b *bytes.Buffer, rnd *rand.Rand, p *Photo, part *Part, color string) {
	if part.Outline == nil {
		from, to, width := h.wire(rnd, p, part)
		fmt.Fprintf(b, "<path d=\"M %.1f %.1f L %.1f %.1f\" fill=\"none\" stroke=\"%s\" stroke-width=\"%.1f\"/>\n", from.X, from.Y, to.X, to.Y, color, width)
		return
	}
	b.WriteString("<path d=\"M")
	for i, v := range h.Outline(rnd, p, part.Outline) {
		if i > 0 {
			b.WriteString(" L")
		}
		fmt.Fprintf(b, " %.1f %.1f", v.X, v.Y)
	}
	b.WriteString(" Z\"/>\n")
}

// wire draws a line that runs through the pixel from half a µm before it to half a µm beyond it.
func (h Hand) wire(rnd *rand.Rand, p *Photo, part *Part) (from, to geom.Vec, width float64) {
	clip := func(v geom.Vec) geom.Vec {
		const beyond = 500
		return geom.Vec{X: max(-beyond, min(Pitch+beyond, v.X)), Y: max(-beyond, min(Pitch+beyond, v.Y))}
	}
	from, to = p.Px(clip(part.Wire[0])), p.Px(clip(part.Wire[1]))
	for _, v := range []*geom.Vec{&from, &to} {
		v.X += p.SigmaPx * rnd.NormFloat64()
		v.Y += p.SigmaPx * rnd.NormFloat64()
	}
	return from, to, part.Width/p.NmPerPx + math.Sqrt2*p.SigmaPx*rnd.NormFloat64()
}

// Outline traces a ring of places in nm: it moves each edge along its normal, and returns where neighbours cross then, in px.
func (h Hand) Outline(rnd *rand.Rand, p *Photo, ring []geom.Vec) []geom.Vec {
	type line struct{ nx, ny, d float64 } // nx·x + ny·y = d
	lines := make([]line, len(ring))
	for i := range ring { // from corner i to the next
		a, b := p.Px(ring[i]), p.Px(ring[(i+1)%len(ring)])
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		nx, ny := (b.Y-a.Y)/length, -(b.X-a.X)/length
		lines[i] = line{nx, ny, nx*a.X + ny*a.Y + p.SigmaPx*rnd.NormFloat64()}
	}
	out := make([]geom.Vec, len(ring))
	for i := range ring {
		k, l := lines[(i+len(ring)-1)%len(ring)], lines[i]
		det := k.nx*l.ny - k.ny*l.nx
		out[i] = geom.Vec{X: (k.d*l.ny - l.d*k.ny) / det, Y: (k.nx*l.d - l.nx*k.d) / det}
	}
	return out
}
