package photo

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"

	"undermetal/layout/geom"
)

// sample is a photograph of three bands, turned, with a scene of a box, a frame around it and a strip on another layer.
func sample() (*Photo, Scene) {
	p := &Photo{Camera: Camera{Width: 300, Height: 2*bandRows + 77, Middle: geom.Vec{X: 5000, Y: -2000}, NmPerPx: 50, Degrees: 7},
		SigmaPx: 1, Ground: 0.3, Noise: 0.01, Tilt: geom.Vec{X: 0.1, Y: -0.2}, Specks: 9, Seed: [2]uint64{3, 4},
		Looks: []Look{{"low", 0.6, 0.9, 0.1}, {"high", 0.9, 0.8, 0.2}}}
	return p, func(layer string, ring func([]geom.Vec)) {
		if layer == "high" {
			ring(box(-2000, -11000, 600, 6000))
			return
		}
		ring(box(2000, -8000, 9000, 4000))
		hole := box(3000, -7000, 8000, 3000)
		hole[1], hole[3] = hole[3], hole[1]
		ring(hole)
		ring(box(4000, -6000, 5000, -4000))
	}
}

func box(x0, y0, x1, y1 float64) []geom.Vec {
	return []geom.Vec{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func rendered(t *testing.T, p *Photo, s Scene) *image.Gray {
	t.Helper()
	img, err := p.Image(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// ending is a context that ends at the n-th look at it.
type ending struct {
	context.Context
	left *atomic.Int64
}

func (e ending) Err() error {
	if e.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// TestImageEnds: the end of the context is heard before each band, before rows become grey, and at the end.
func TestImageEnds(t *testing.T) {
	p, scene := sample()
	looks := int64(0)
	for ; looks < 100; looks++ {
		left := new(atomic.Int64)
		left.Store(looks)
		img, err := p.Image(ending{t.Context(), left}, scene)
		if err == nil {
			break
		}
		if img != nil || !errors.Is(err, context.Canceled) {
			t.Fatalf("ended at look %d: %v, %v", looks+1, img != nil, err)
		}
	}
	if looks != 3+3+1 { // bands, as many rows of grey, and the end
		t.Errorf("the context is looked at %d times", looks)
	}
}

// TestBands: a picture made band by band is the one that is made in one go.
func TestBands(t *testing.T) {
	p, scene := sample()
	layers := make([]outlines, len(p.Looks))
	for i, l := range p.Looks {
		scene(l.Layer, func(ring []geom.Vec) { layers[i].add(p, ring) })
	}
	specks := []speck{{20, bandRows, 3}, {150, 2*bandRows - 1, 2}}
	whole, bands := make([]float32, p.Width*p.Height), make([]float32, p.Width*p.Height)
	p.band(whole, 0, p.Height, layers, specks)
	for y := 0; y < p.Height; y += bandRows {
		p.band(bands, y, min(p.Height, y+bandRows), layers, specks)
	}
	for i, v := range whole {
		// Coverage is rounded to 1/255, and rounded otherwise where a band begins elsewhere.
		if math.Abs(float64(v-bands[i])) > 2.0/255 {
			t.Fatalf("pixel %d, %d: %g in bands, %g in one", i%p.Width, i/p.Width, bands[i], v)
		}
	}
	a, b := rendered(t, p, scene), rendered(t, p, scene)
	for i := range a.Pix {
		if a.Pix[i] != b.Pix[i] {
			t.Fatal("two pictures of one scene differ")
		}
	}
}

// TestCovered: what is white on black is as bright in all as it is large, wherever it lies and however it is blurred; and
// its middle is where the camera says.
func TestCovered(t *testing.T) {
	p, _ := sample()
	p.Ground, p.Noise, p.Tilt, p.Specks, p.Looks = 0, 0, geom.Vec{}, 0, []Look{{"low", 1, 1, 0}}
	img := rendered(t, p, func(_ string, ring func([]geom.Vec)) {
		ring(box(2000, -8000, 9000, 4000))
		hole := box(3000, -7000, 8000, 3000)
		hole[1], hole[3] = hole[3], hole[1]
		ring(hole)
	})
	var sum, x, y float64
	for i, v := range img.Pix {
		f := float64(v) / 255
		sum += f
		x += f * (float64(i%p.Width) + 0.5)
		y += f * (float64(i/p.Width) + 0.5)
	}
	// Each edge pixel is rounded to 1/255: far below a thousandth of 13,600 px.
	want := (7000*12000 - 5000*10000) / (p.NmPerPx * p.NmPerPx)
	if math.Abs(sum/want-1) > 1e-3 {
		t.Errorf("%.1f px are white, %.1f are covered", sum, want)
	}
	if at := p.Px(geom.Vec{X: 5500, Y: -2000}); math.Hypot(x/sum-at.X, y/sum-at.Y) > 0.05 {
		t.Errorf("its middle lies at %.2f, %.2f, want %v", x/sum, y/sum, at)
	}
	if v := p.Nm(p.Px(geom.Vec{X: 1234, Y: -567})); math.Hypot(v.X-1234, v.Y+567) > 1e-6 {
		t.Errorf("to px and back leads to %v", v)
	}
}

// TestOutline: edges that are traced are off by SigmaPx, and not to one side. Of n = 8000 independent errors the mean square
// is 1 ± √(2/n), the mean 0 ± 1/√n; four of these are allowed.
func TestOutline(t *testing.T) {
	p, _ := sample()
	rnd := rand.New(rand.NewPCG(1, 2))
	ring := box(0, 0, 6000, 3000)
	n, sum, square := 0.0, 0.0, 0.0
	for range 2000 {
		for i, v := range p.Outline(rnd, ring) {
			// Of the edge from corner i on: how far it lies from where it was, in px.
			a, b := p.Px(ring[i]), p.Px(ring[(i+1)%4])
			e := ((v.X-a.X)*(b.Y-a.Y) - (v.Y-a.Y)*(b.X-a.X)) / math.Hypot(b.X-a.X, b.Y-a.Y) / p.SigmaPx
			n, sum, square = n+1, sum+e, square+e*e
		}
	}
	if math.Abs(square/n-1) > 4*math.Sqrt(2/n) || math.Abs(sum/n) > 4/math.Sqrt(n) {
		t.Errorf("%.0f edges: mean %.3f, mean square %.3f", n, sum/n, square/n)
	}
}
