package photo

import (
	"context"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"golang.org/x/image/vector"

	"undermetal/layout/geom"
)

// Photo is a photograph to be taken.
type Photo struct {
	Name string
	Camera
	SigmaPx float64 // of an edge that is traced over it, px

	Ground float64  // its tone where nothing is drawn
	Looks  []Look   // from below to above
	Noise  float64  // standard deviation of each pixel
	Tilt   geom.Vec // how much brighter it is at the right and lower side
	Specks int      // of dust
	Seed   [2]uint64
}

// Look is how a photograph shows a layer: its tone (0 black, 1 white), how much it hides of what is below, and how much
// darker its rim is.
type Look struct {
	Layer            string
	Tone, Hides, Rim float64
}

// Scene calls ring for each ring of a layer, in nm. Rings of one layer turn counter-clockwise, so that they never cancel, and
// holes clockwise; what lies in a hole is drawn in no other ring.
type Scene func(layer string, ring func([]geom.Vec))

// How far a layer's edge is smeared by its slope, and the picture by its focus, in px.
const (
	slope = 0.8
	focus = 1.1
)

// bandRows is how many rows are made at a time; beyond them as many more as the blur needs.
const bandRows = 192

type speck struct{ x, y, r float64 }

// Image renders the photograph of a scene: a little out of focus, unevenly lit, with noise and dust. Its only error is the context's, which is
// asked band by band.
func (p *Photo) Image(ctx context.Context, s Scene) (*image.Gray, error) {
	rnd := rand.New(rand.NewPCG(p.Seed[0], p.Seed[1]))
	specks := make([]speck, p.Specks)
	for i := range specks {
		specks[i].x, specks[i].y = rnd.Float64()*float64(p.Width), rnd.Float64()*float64(p.Height)
		specks[i].r = 1 + 2.5*rnd.Float64()
	}
	layers := make([]outlines, len(p.Looks))
	for i, l := range p.Looks {
		s(l.Layer, func(ring []geom.Vec) { layers[i].add(p, ring) })
	}
	m := make([]float32, p.Width*p.Height)
	var all sync.WaitGroup
	room := make(chan struct{}, runtime.GOMAXPROCS(0))
	for y0 := 0; y0 < p.Height; y0 += bandRows {
		all.Go(func() {
			room <- struct{}{}
			defer func() { <-room }()
			if ctx.Err() != nil {
				return
			}
			p.band(m, y0, min(p.Height, y0+bandRows), layers, specks)
		})
	}
	all.Wait()
	img := image.NewGray(image.Rect(0, 0, p.Width, p.Height))
	for i, v := range m {
		x, y := i%p.Width, i/p.Width
		if x == 0 && y%bandRows == 0 && ctx.Err() != nil {
			break
		}
		light := 1 + p.Tilt.X*(float64(x)/float64(p.Width)-0.5) + p.Tilt.Y*(float64(y)/float64(p.Height)-0.5)
		t := float64(v)*light + p.Noise*rnd.NormFloat64()
		img.SetGray(x, y, color.Gray{Y: uint8(math.Round(255 * max(0, min(1, t))))})
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return img, nil
}

// outlines are rings in px, with how far each reaches down and up.
type outlines struct {
	rings     [][]geom.Vec
	low, high []float64
}

func (o *outlines) add(p *Photo, ring []geom.Vec) {
	out := make([]geom.Vec, len(ring))
	low, high := math.Inf(1), math.Inf(-1)
	for i, v := range ring {
		out[i] = p.Px(v)
		low, high = min(low, out[i].Y), max(high, out[i].Y)
	}
	o.rings, o.low, o.high = append(o.rings, out), append(o.low, low), append(o.high, high)
}

// band renders the rows from y0 up to y1 into m.
func (p *Photo) band(m []float32, y0, y1 int, layers []outlines, specks []speck) {
	sloped, focused := gaussian(slope), gaussian(focus)
	beyond := len(sloped)/2 + len(focused)/2
	low, high := max(0, y0-beyond), min(p.Height, y1+beyond)
	b := blurrer{w: p.Width, h: high - low, tmp: make([]float32, p.Width*(high-low))}
	t, mask := make([]float32, len(b.tmp)), make([]float32, len(b.tmp))
	for i := range t {
		t[i] = float32(p.Ground)
	}
	for i, l := range p.Looks {
		if !b.cover(mask, &layers[i], low) {
			continue
		}
		b.blur(mask, sloped)
		tone, hides, rim := float32(l.Tone), float32(l.Hides), float32(l.Rim)
		for i, c := range mask {
			t[i] = t[i]*(1-c*hides) + tone*c*hides - 4*c*(1-c)*rim
		}
	}
	for _, s := range specks {
		s.lay(t, p.Width, low, high)
	}
	b.blur(t, focused)
	copy(m[y0*p.Width:y1*p.Width], t[(y0-low)*p.Width:])
}

// floating is the width from which on vector.Rasterizer reckons in floating point. Below it, in fixed point, slanted edges lie
// 0.2 px beside where they should (seen by TestCovered).
const floating = 513

// cover says how much of each pixel of a band, from row low on, rings cover; false where that is nothing.
func (b *blurrer) cover(mask []float32, o *outlines, low int) bool {
	z := vector.NewRasterizer(max(b.w, floating), b.h)
	some := false
	for i, ring := range o.rings {
		if o.high[i] < float64(low) || o.low[i] > float64(low+b.h) {
			continue
		}
		some = true
		for k, v := range ring {
			if k == 0 {
				z.MoveTo(float32(v.X), float32(v.Y-float64(low)))
			} else {
				z.LineTo(float32(v.X), float32(v.Y-float64(low)))
			}
		}
		z.ClosePath()
	}
	if !some {
		return false
	}
	a := image.NewAlpha(z.Bounds())
	z.Draw(a, a.Bounds(), image.Opaque, image.Point{})
	for y := range b.h {
		row := mask[y*b.w : (y+1)*b.w]
		for x, v := range a.Pix[y*a.Stride:][:b.w] {
			row[x] = float32(v) / 255
		}
	}
	return true
}

// lay lays a dark speck onto the rows from low up to high.
func (s speck) lay(t []float32, w, low, high int) {
	for y := max(low, int(s.y-s.r)); y < min(high, int(s.y+s.r)+1); y++ {
		for x := max(0, int(s.x-s.r)); x < min(w, int(s.x+s.r)+1); x++ {
			if math.Hypot(float64(x)+0.5-s.x, float64(y)+0.5-s.y) < s.r {
				t[(y-low)*w+x] *= 0.35
			}
		}
	}
}
