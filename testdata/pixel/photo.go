package pixel

import (
	"context"
	"image"
	"math"

	"undermetal/layout/geom"
	"undermetal/testdata/photo"
)

// Photo is one of the two photographs.
type Photo struct {
	photo.Photo
	Metal bool // with all metal on it; else stripped to poly, diffusion and contacts
}

// Photos returns both: the stripped one, which was taken at the higher magnification, first.
func Photos() []*Photo {
	stripped := photo.Camera{Width: 680, Height: 640, Middle: at(45.5, 38), NmPerPx: 16.5, Degrees: -1.7}
	metal := photo.Camera{Width: 540, Height: 520, Middle: at(45, 38.5), NmPerPx: 21, Degrees: 3.4}
	seed := func(name string) [2]uint64 { return [2]uint64{Seed, uint64(len(name))} }
	return []*Photo{
		{Photo: photo.Photo{Name: "stripped", Camera: stripped, SigmaPx: 1, Ground: 0.47, Noise: 0.012, Tilt: geom.Vec{X: 0.16, Y: -0.10},
			Specks: specks, Seed: seed("stripped"), Looks: []photo.Look{
				{Layer: "diffusion", Tone: 0.66, Hides: 0.9, Rim: 0.14}, {Layer: "poly", Tone: 0.84, Hides: 0.85, Rim: 0.22},
				{Layer: "contact", Tone: 0.10, Hides: 0.9, Rim: 0.05},
			}}},
		{Metal: true, Photo: photo.Photo{Name: "metal", Camera: metal, SigmaPx: 1, Ground: 0.30, Noise: 0.014, Tilt: geom.Vec{X: -0.14, Y: 0.12},
			Specks: specks, Seed: seed("metal"), Looks: []photo.Look{
				{Layer: "diffusion", Tone: 0.34, Hides: 0.7, Rim: 0.03}, {Layer: "poly", Tone: 0.38, Hides: 0.6, Rim: 0.05},
				{Layer: "metal1", Tone: 0.62, Hides: 0.93, Rim: 0.20}, {Layer: "contact", Tone: 0.45, Hides: 0.7, Rim: 0.06},
				{Layer: "metal2", Tone: 0.86, Hides: 0.86, Rim: 0.28}, {Layer: "via1", Tone: 0.55, Hides: 0.8, Rim: 0.08},
			}}},
	}
}

// specks is how much dust lies on each photograph.
const specks = 14

// Image renders the photograph: the pixel and its neighbours. The same photograph is the same at every call.
func (p *Photo) Image() *image.Gray {
	img, err := p.Photo.Image(context.Background(), scene)
	if err != nil {
		panic(err) // nothing ends that context
	}
	return img
}

// scene is the pixel with its eight neighbours.
func scene(layer string, draw func([]geom.Vec)) {
	for _, part := range Parts() {
		if part.Layer != layer {
			continue
		}
		for n := range 9 {
			var moved []geom.Vec
			for _, v := range part.ring() {
				moved = append(moved, geom.Vec{X: v.X + float64(n%3-1)*Pitch, Y: v.Y + float64(n/3-1)*Pitch})
			}
			draw(moved)
		}
	}
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
