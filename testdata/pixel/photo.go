package pixel

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"

	"golang.org/x/image/vector"

	"undermetal/layout/geom"
)

// Photo is one of the two photographs.
type Photo struct {
	Name  string
	Metal bool // with all metal on it; else stripped to poly, diffusion and contacts
	Camera
	SigmaPx float64 // of an edge that is traced over it, px

	ground float64
	looks  []look
	noise  float64
	tilt   geom.Vec // how much brighter it is at the right and lower side
}

// look is how a photograph shows a layer, from below to above: its tone (0 black, 1 white), how much it hides of what is
// below, and how much darker its rim is.
type look struct {
	layer            string
	tone, hides, rim float64
}

// Photos returns both: the stripped one, which was taken at the higher magnification, first.
func Photos() []*Photo {
	stripped := Camera{Width: 680, Height: 640, Middle: at(45.5, 38), NmPerPx: 16.5, Degrees: -1.7}
	metal := Camera{Width: 540, Height: 520, Middle: at(45, 38.5), NmPerPx: 21, Degrees: 3.4}
	return []*Photo{
		{Name: "stripped", Camera: stripped, SigmaPx: 1, ground: 0.47, noise: 0.012, tilt: geom.Vec{X: 0.16, Y: -0.10}, looks: []look{
			{"diffusion", 0.66, 0.9, 0.14}, {"poly", 0.84, 0.85, 0.22}, {"contact", 0.10, 0.9, 0.05},
		}},
		{Name: "metal", Metal: true, Camera: metal, SigmaPx: 1, ground: 0.30, noise: 0.014, tilt: geom.Vec{X: -0.14, Y: 0.12}, looks: []look{
			{"diffusion", 0.34, 0.7, 0.03}, {"poly", 0.38, 0.6, 0.05}, {"metal1", 0.62, 0.93, 0.20},
			{"contact", 0.45, 0.7, 0.06}, {"metal2", 0.86, 0.86, 0.28}, {"via1", 0.55, 0.8, 0.08},
		}},
	}
}

// Image renders the photograph: the pixel and its neighbours, a little out of focus, unevenly lit, with noise and dust.
// The same photograph is the same at every call.
func (p *Photo) Image() *image.Gray {
	rnd := rand.New(rand.NewPCG(Seed, uint64(len(p.Name))))
	m := make([]float64, p.Width*p.Height)
	for i := range m {
		m[i] = p.ground
	}
	for _, l := range p.looks {
		mask := blurred(p.covered(l.layer), p.Width, p.Height, 0.8)
		for i, c := range mask {
			m[i] = m[i]*(1-c*l.hides) + l.tone*c*l.hides - 4*c*(1-c)*l.rim
		}
	}
	p.dust(rnd, m)
	m = blurred(m, p.Width, p.Height, 1.1)
	img := image.NewGray(image.Rect(0, 0, p.Width, p.Height))
	for i, v := range m {
		x, y := i%p.Width, i/p.Width
		light := 1 + p.tilt.X*(float64(x)/float64(p.Width)-0.5) + p.tilt.Y*(float64(y)/float64(p.Height)-0.5)
		v = v*light + p.noise*rnd.NormFloat64()
		img.SetGray(x, y, color.Gray{Y: uint8(math.Round(255 * max(0, min(1, v))))})
	}
	return img
}

// covered is how much of each pixel a layer of this and all neighbouring pixels of the imager covers.
func (p *Photo) covered(layer string) []float64 {
	z := vector.NewRasterizer(p.Width, p.Height)
	for _, part := range Parts() {
		if part.Layer != layer {
			continue
		}
		for n := range 9 {
			shift := geom.Vec{X: float64(n%3-1) * Pitch, Y: float64(n/3-1) * Pitch}
			for i, v := range part.ring() {
				px := p.Px(geom.Vec{X: v.X + shift.X, Y: v.Y + shift.Y})
				if i == 0 {
					z.MoveTo(float32(px.X), float32(px.Y))
				} else {
					z.LineTo(float32(px.X), float32(px.Y))
				}
			}
			z.ClosePath()
		}
	}
	a := image.NewAlpha(image.Rect(0, 0, p.Width, p.Height))
	z.Draw(a, a.Bounds(), image.Opaque, image.Point{})
	m := make([]float64, len(a.Pix))
	for i, v := range a.Pix {
		m[i] = float64(v) / 255
	}
	return m
}

// ring is what a part covers, counter-clockwise: all of one layer turn the same way, so that they never cancel.
func (p *Part) ring() []geom.Vec {
	if p.Outline != nil {
		return p.Outline
	}
	a, b := p.Wire[0], p.Wire[1]
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	nx, ny := -(b.Y-a.Y)/length*p.Width/2, (b.X-a.X)/length*p.Width/2
	return []geom.Vec{{X: a.X - nx, Y: a.Y - ny}, {X: b.X - nx, Y: b.Y - ny}, {X: b.X + nx, Y: b.Y + ny}, {X: a.X + nx, Y: a.Y + ny}}
}

// dust lays a few dark specks onto the photograph.
func (p *Photo) dust(rnd *rand.Rand, m []float64) {
	for range 14 {
		x, y := rnd.Float64()*float64(p.Width), rnd.Float64()*float64(p.Height)
		r := 1 + 2.5*rnd.Float64()
		for py := max(0, int(y-r)); py < min(p.Height, int(y+r)+1); py++ {
			for px := max(0, int(x-r)); px < min(p.Width, int(x+r)+1); px++ {
				if math.Hypot(float64(px)+0.5-x, float64(py)+0.5-y) < r {
					m[py*p.Width+px] *= 0.35
				}
			}
		}
	}
}

// blurred is m, w × h pixels, after a Gaussian of sigma px.
func blurred(m []float64, w, h int, sigma float64) []float64 {
	n := int(3*sigma + 1)
	kernel, sum := make([]float64, 2*n+1), 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-float64((i-n)*(i-n)) / (2 * sigma * sigma))
		sum += kernel[i]
	}
	// pass blurs lines of length along, step apart within a line, line apart from each other.
	pass := func(src []float64, lines, along, line, step int) []float64 {
		dst := make([]float64, len(src))
		for l := range lines {
			for i := range along {
				v := 0.0
				for k, weight := range kernel {
					v += weight * src[l*line+min(along-1, max(0, i+k-n))*step]
				}
				dst[l*line+i*step] = v / sum
			}
		}
		return dst
	}
	return pass(pass(m, h, w, w, 1), w, h, 1, w)
}
