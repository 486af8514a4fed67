package align

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/vector"

	"undermetal/layout/geom"
)

// look is how a photograph shows each layer: its tone and how much of it hides what is below.
type look struct {
	ground float64
	tone   [layers]float64
	hides  [layers]float64
	edge   [layers]float64 // how much darker the edge of a shape is
}

var (
	withMetal = look{0.40, [layers]float64{0.48, 0.55, 0.3, 0.85}, [layers]float64{0.8, 0.8, 0.6, 0.97}, [layers]float64{0.05, 0.08, 0, 0.15}}
	bare      = look{0.55, [layers]float64{0.68, 0.38, 0.12, 0.5}, [layers]float64{0.9, 0.9, 0.9, 0.12}, [layers]float64{0.15, 0.15, 0.1, 0.04}}
	noPoly    = look{0.45, [layers]float64{0.62, 0.56, 0.25, 0.45}, [layers]float64{0.9, 0.25, 0.8, 0.03}, [layers]float64{0.2, 0.06, 0.1, 0}}
)

// camera is a map from the scene, in nm, to pixels: homogeneous.
type camera [3][3]float64

func (c *camera) at(x, y float64) (float64, float64) {
	w := c[2][0]*x + c[2][1]*y + c[2][2]
	return (c[0][0]*x + c[0][1]*y + c[0][2]) / w, (c[1][0]*x + c[1][1]*y + c[1][2]) / w
}

func (c camera) then(d camera) (e camera) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				e[i][j] += d[i][k] * c[k][j]
			}
		}
	}
	return e
}

func (c camera) inverse() (e camera) {
	cofactor := func(i, j int) float64 {
		a, b, d, f := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return c[a][d]*c[b][f] - c[a][f]*c[b][d]
	}
	det := c[0][0]*cofactor(0, 0) + c[0][1]*cofactor(0, 1) + c[0][2]*cofactor(0, 2)
	for i := range 3 {
		for j := range 3 {
			e[j][i] = cofactor(i, j) / det
		}
	}
	return e
}

// newCamera looks at (x, y) of the scene in the middle of a photograph of the size, k px a nm, one of eight ways and
// turned by degrees, with a little shear and perspective.
func newCamera(rnd *rand.Rand, size int, x, y, k float64, way int, degrees float64) camera {
	sin, cos := math.Sincos(degrees*math.Pi/180 + float64(way%4)*math.Pi/2)
	flip := -1.0
	if way >= 4 {
		flip = 1
	}
	shear := 1 + 0.004*(rnd.Float64()-0.5)
	c := camera{{k * cos * shear, k * sin * -flip, 0}, {k * -sin, k * cos * -flip, 0}, {0, 0, 1}}
	tilt := camera{{1, 0, 0}, {0, 1, 0}, {4e-6 * (rnd.Float64() - 0.5) * 1000 / float64(size), 4e-6 * (rnd.Float64() - 0.5) * 1000 / float64(size), 1}}
	middle := camera{{1, 0, float64(size) / 2}, {0, 1, float64(size) / 2}, {0, 0, 1}}
	return camera{{1, 0, -x}, {0, 1, -y}, {0, 0, 1}}.then(c).then(tilt).then(middle)
}

// photograph draws a scene.
func photograph(rnd *rand.Rand, scene *block, c camera, size int, l look) *Image {
	img := &Image{Width: size, Height: size, Pix: make([]float32, size*size)}
	for i := range img.Pix {
		img.Pix[i] = float32(l.ground)
	}
	for layer, rings := range scene.rings {
		mask := fill(rings, c, size)
		thin := blurred(mask, size, 1.5)
		for i, m := range mask {
			a := m * l.hides[layer]
			rim := 4 * thin[i] * (1 - thin[i]) * l.edge[layer]
			img.Pix[i] = float32(float64(img.Pix[i])*(1-a) + l.tone[layer]*a - rim)
		}
	}
	spoil(rnd, img)
	return img
}

// fill is how much of each pixel rings cover.
func fill(rings []geom.Ring, c camera, size int) []float64 {
	z := vector.NewRasterizer(size, size)
	for _, r := range rings {
		pts := make([][2]float64, len(r))
		area, inside := 0.0, false
		for i, p := range r {
			pts[i][0], pts[i][1] = c.at(float64(p.X), float64(p.Y))
			inside = inside || pts[i][0] > -200 && pts[i][0] < float64(size)+200 && pts[i][1] > -200 && pts[i][1] < float64(size)+200
		}
		if !inside && len(r) <= 4 {
			box := c.box(r)
			inside = box.Overlaps(image.Rect(0, 0, size, size))
		}
		if !inside {
			continue
		}
		for i, p := range pts {
			q := pts[(i+1)%len(pts)]
			area += p[0]*q[1] - p[1]*q[0]
		}
		for i := range pts {
			p := pts[i]
			if area < 0 {
				p = pts[len(pts)-1-i]
			}
			if i == 0 {
				z.MoveTo(float32(p[0]), float32(p[1]))
			} else {
				z.LineTo(float32(p[0]), float32(p[1]))
			}
		}
		z.ClosePath()
	}
	a := image.NewAlpha(image.Rect(0, 0, size, size))
	z.Draw(a, a.Bounds(), image.Opaque, image.Point{})
	m := make([]float64, size*size)
	for i := range m {
		m[i] = float64(a.Pix[i]) / 255
	}
	return m
}

func (c *camera) box(r geom.Ring) image.Rectangle {
	b := image.Rectangle{Min: image.Pt(1<<30, 1<<30), Max: image.Pt(-1<<30, -1<<30)}
	for _, p := range r {
		x, y := c.at(float64(p.X), float64(p.Y))
		b.Min = image.Pt(min(b.Min.X, int(x)), min(b.Min.Y, int(y)))
		b.Max = image.Pt(max(b.Max.X, int(x)+1), max(b.Max.Y, int(y)+1))
	}
	return b
}

// blurred is m after a Gaussian of sigma px.
func blurred(m []float64, size int, sigma float64) []float64 {
	n := int(3*sigma + 1)
	kernel := make([]float64, 2*n+1)
	sum := 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-float64((i-n)*(i-n)) / (2 * sigma * sigma))
		sum += kernel[i]
	}
	across, down := make([]float64, len(m)), make([]float64, len(m))
	for y := range size {
		src, dst := m[y*size:(y+1)*size], across[y*size:(y+1)*size]
		for x := range dst {
			v := 0.0
			if x >= n && x+n < size {
				near := src[x-n:][:len(kernel)]
				for k, w := range kernel {
					v += w * near[k]
				}
			} else {
				for k, w := range kernel {
					v += w * src[min(size-1, max(0, x+k-n))]
				}
			}
			dst[x] = v / sum
		}
	}
	for y := range size { // by whole rows, for the sake of the cache
		dst := down[y*size : (y+1)*size]
		for k, w := range kernel {
			src := across[min(size-1, max(0, y+k-n))*size:][:size]
			for x, v := range src {
				dst[x] += w * v
			}
		}
		for x := range dst {
			dst[x] /= sum
		}
	}
	return down
}

// spoil does to a photograph what life does: parts missing, residue, dust, a bond wire, blur, uneven light, noise, and
// perhaps contrast that is reversed.
func spoil(rnd *rand.Rand, img *Image) {
	size := img.Width
	m := make([]float64, len(img.Pix))
	for i, v := range img.Pix {
		m[i] = float64(v)
	}
	blob := func(x, y, r, tone, hides float64) {
		wobble := [4]float64{rnd.Float64(), rnd.Float64() * 6, rnd.Float64(), rnd.Float64() * 6}
		for py := max(0, int(y-1.6*r)); py < min(size, int(y+1.6*r)); py++ {
			for px := max(0, int(x-1.6*r)); px < min(size, int(x+1.6*r)); px++ {
				dx, dy := float64(px)-x, float64(py)-y
				angle := math.Atan2(dy, dx)
				if math.Hypot(dx, dy) < r*(1+0.3*wobble[0]*math.Sin(2*angle+wobble[1])+0.2*wobble[2]*math.Sin(5*angle+wobble[3])) {
					m[py*size+px] = m[py*size+px]*(1-hides) + tone*hides
				}
			}
		}
	}
	f := float64(size)
	for range rnd.IntN(4) { // missing
		blob(rnd.Float64()*f, rnd.Float64()*f, f*(0.03+0.07*rnd.Float64()), rnd.Float64(), 1)
	}
	for range rnd.IntN(6) { // residue
		blob(rnd.Float64()*f, rnd.Float64()*f, f*(0.02+0.05*rnd.Float64()), rnd.Float64(), 0.7)
	}
	for range 30 + rnd.IntN(60) { // dust
		blob(rnd.Float64()*f, rnd.Float64()*f, 1+f*0.004*rnd.Float64(), 0.2*rnd.Float64(), 0.9)
	}
	if rnd.IntN(4) == 0 { // a bond wire
		x0, y0, x1, y1 := rnd.Float64()*f, 0.0, rnd.Float64()*f, f
		for t := 0.0; t < 1; t += 0.3 / f {
			x, y := x0+(x1-x0)*t, y0+(y1-y0)*t
			for d := -f * 0.012; d < f*0.012; d++ {
				if px := int(x + d); px >= 0 && px < size {
					m[int(y)*size+px] = 0.9 - math.Abs(d)/f*30
				}
			}
		}
	}
	m = blurred(m, size, 0.6+1.0*rnd.Float64())
	gx, gy, gxy := 0.3*(rnd.Float64()-0.5), 0.3*(rnd.Float64()-0.5), 0.4*(rnd.Float64()-0.5)
	gain, offset := 0.6+0.4*rnd.Float64(), 0.1*rnd.Float64()
	reversed := rnd.IntN(3) == 0
	noise := 0.01 + 0.03*rnd.Float64()
	for i, v := range m {
		x, y := float64(i%size)/f-0.5, float64(i/size)/f-0.5
		v = (v*gain + offset) * (1 + gx*x + gy*y + gxy*x*y)
		if reversed {
			v = 1 - v
		}
		img.Pix[i] = float32(v + noise*rnd.NormFloat64())
	}
}

// pair is two photographs and the map between them.
type pair struct {
	seed  uint64
	a, b  *Image
	truth camera // pixels of a to pixels of b
	kind  string
	array bool
	alike bool // an array that matches itself a pitch away in all that both show of it

	pitches [2]geom.Vec // of an array, across and down, px of b in its middle
	pitch   float64     // the least of those along which it matches itself in all that both show; +Inf where there is none
}

var kinds = []string{"metal and stripped", "two magnifications", "two stripped steps"}

// newPair makes the pair of a seed: a quarter of them of arrays.
func newPair(seed uint64, size int) *pair {
	rnd := rand.New(rand.NewPCG(seed, 77))
	p := &pair{seed: seed, kind: kinds[seed%3], array: seed%4 == 3}
	perPx := 25 + 20*rnd.Float64() // nm, of b
	field := int(float64(size) * perPx)
	lookA, lookB, ratio := withMetal, bare, math.Exp((rnd.Float64()-0.5)*0.2)
	switch p.kind {
	case "two magnifications":
		ratio = math.Exp(math.Log(0.42) + rnd.Float64()*math.Log(2.4/0.42))
		if rnd.IntN(2) == 0 {
			lookA = bare
		}
	case "two stripped steps":
		lookA, lookB = bare, noPoly
	}
	if rnd.IntN(2) == 0 {
		lookA, lookB = lookB, lookA
	}
	// The field of both, with what may turn into the corners.
	wide := int(float64(field) * 1.6 * max(1, 1/ratio, ratio))
	scene := rows
	if p.array {
		scene = array
	}
	s := scene(rnd, wide, wide)
	x, y := float64(wide)/2, float64(wide)/2
	shift := 0.25 * float64(field) * min(1, ratio)
	kb := 1 / perPx
	ca := newCamera(rnd, size, x+shift*(rnd.Float64()*2-1), y+shift*(rnd.Float64()*2-1), kb/ratio, rnd.IntN(8), 4*(rnd.Float64()-0.5))
	cb := newCamera(rnd, size, x, y, kb, 0, 4*(rnd.Float64()-0.5))
	p.a, p.b = photograph(rnd, s, ca, size, lookA), photograph(rnd, s, cb, size, lookB)
	p.truth = ca.inverse().then(cb)
	p.pitch = math.Inf(1)
	if p.array {
		p.pitches = [2]geom.Vec{step(&cb, x, y, s.pitch.X, 0), step(&cb, x, y, 0, s.pitch.Y)}
		for i, ended := range endsShown(s.array, size, &ca, &cb) {
			if !ended {
				p.pitch = min(p.pitch, math.Hypot(p.pitches[i].X, p.pitches[i].Y))
			}
		}
	}
	p.alike = !math.IsInf(p.pitch, 1)
	return p
}

// endsShown tells whether photographs both show a part, a tenth at least, of an end of an array across, and of one down,
// without which nobody can say by how many pitches it is moved.
func endsShown(r geom.Rect, size int, cameras ...*camera) [2]bool {
	shown := func(x0, y0, x1, y1 int) bool {
		const steps, margin = 100, 20 // px
		n := 0
		for i := range steps {
			in := true
			for _, c := range cameras {
				x, y := c.at(float64(x0+(x1-x0)*i/(steps-1)), float64(y0+(y1-y0)*i/(steps-1)))
				in = in && min(x, y) > margin && max(x, y) < float64(size-margin)
			}
			if in {
				n++
			}
		}
		return n > steps/10
	}
	across := shown(r.Min.X, r.Min.Y, r.Min.X, r.Max.Y) || shown(r.Max.X, r.Min.Y, r.Max.X, r.Max.Y)
	down := shown(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y) || shown(r.Min.X, r.Max.Y, r.Max.X, r.Max.Y)
	return [2]bool{across, down}
}

// step is what a step in the scene, from (x, y), is in a photograph, px.
func step(c *camera, x, y float64, dx, dy int) geom.Vec {
	x0, y0 := c.at(x, y)
	x1, y1 := c.at(x+float64(dx), y+float64(dy))
	return geom.Vec{X: x1 - x0, Y: y1 - y0}
}

// cornerError is how far a map is from the truth at the worst corner of a that b shows, or of a's middle.
func (p *pair) cornerError(m *[3][3]float64) float64 {
	c := camera(*m)
	worst := 0.0
	f := float64(p.a.Width)
	for _, at := range [][2]float64{{0, 0}, {f, 0}, {0, f}, {f, f}, {f / 2, f / 2}} {
		// The corners of what both show.
		tx, ty := p.truth.at(at[0], at[1])
		tx, ty = max(0, min(float64(p.b.Width), tx)), max(0, min(float64(p.b.Height), ty))
		inv := p.truth.inverse()
		ax, ay := inv.at(tx, ty)
		ax, ay = max(0, min(f, ax)), max(0, min(f, ay))
		tx, ty = p.truth.at(ax, ay)
		mx, my := c.at(ax, ay)
		worst = max(worst, math.Hypot(mx-tx, my-ty))
	}
	return worst
}

// TestWritePairs writes pictures of some pairs where a folder is named, for people to look at.
func TestWritePairs(t *testing.T) {
	dir := os.Getenv("UNDERMETAL_PAIRS")
	if dir == "" {
		t.Skip("UNDERMETAL_PAIRS names no folder: no pictures are written")
	}
	for seed := range uint64(6) {
		p := newPair(seed, 800)
		for name, img := range map[string]*Image{"a": p.a, "b": p.b} {
			g := image.NewGray(image.Rect(0, 0, img.Width, img.Height))
			for i, v := range img.Pix {
				g.SetGray(i%img.Width, i/img.Width, color.Gray{uint8(max(0, min(255, v*255)))})
			}
			f, err := os.Create(filepath.Join(dir, fmt.Sprintf("%d-%s-%s.png", seed, strings.ReplaceAll(p.kind, " ", "_"), name)))
			if err != nil {
				t.Fatal(err)
			}
			if err := png.Encode(f, g); err != nil {
				t.Fatal(err)
			}
			f.Close()
		}
	}
}
