package kiln

import (
	"context"
	"image"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/testdata/photo"
)

// Shot is one of the two photographs.
type Shot struct {
	photo.Photo
	Metal bool // with all metal on it; else stripped
	die   map[string][]geom.Polygon
}

// pdiffusion is diffusion under the mark pplus, which a stripped die shows in a tone of its own after staining (common
// practice).
const pdiffusion = "diffusion, p"

// Photos returns both photographs: the whole die with its metal, and, at the higher magnification, what lies around the lower
// left corner of the imager, stripped: two rows of pixels, the loads, the row driver, the bias and the pump.
//
// The narrowest gate, 0.6 µm, is 6 px wide in the first and 15 px in the second.
func Photos() []*Shot {
	die := flat()
	metal := photo.Camera{Width: 1840, Height: 3160, Middle: geom.Vec{X: 61_000, Y: 92_000}, NmPerPx: 100, Degrees: 2.1}
	stripped := photo.Camera{Width: 2340, Height: 2240, Middle: geom.Vec{X: 21_500, Y: -16_500}, NmPerPx: 40, Degrees: -1.3}
	return []*Shot{
		{Metal: true, die: die, Photo: photo.Photo{Name: "metal", Camera: metal, SigmaPx: 1, Ground: 0.30, Noise: 0.014,
			Tilt: geom.Vec{X: -0.14, Y: 0.12}, Specks: 60, Seed: [2]uint64{Seed, 1}, Looks: []photo.Look{
				{Layer: "diffusion", Tone: 0.35, Hides: 0.7, Rim: 0.03}, {Layer: "poly", Tone: 0.40, Hides: 0.6, Rim: 0.05},
				{Layer: "metal1", Tone: 0.62, Hides: 0.95, Rim: 0.16}, {Layer: "contact", Tone: 0.47, Hides: 0.6, Rim: 0.05},
				{Layer: "metal2", Tone: 0.86, Hides: 0.92, Rim: 0.22}, {Layer: "via1", Tone: 0.60, Hides: 0.8, Rim: 0.07},
			}}},
		{die: die, Photo: photo.Photo{Name: "stripped", Camera: stripped, SigmaPx: 1, Ground: 0.44, Noise: 0.012,
			Tilt: geom.Vec{X: 0.16, Y: -0.10}, Specks: 50, Seed: [2]uint64{Seed, 2}, Looks: []photo.Look{
				{Layer: "nwell", Tone: 0.36, Hides: 0.6, Rim: 0.01},
				{Layer: "diffusion", Tone: 0.66, Hides: 0.9, Rim: 0.12}, {Layer: pdiffusion, Tone: 0.56, Hides: 0.8, Rim: 0.02},
				{Layer: "poly", Tone: 0.84, Hides: 0.85, Rim: 0.22}, {Layer: "contact", Tone: 0.10, Hides: 0.9, Rim: 0.05},
			}}},
	}
}

// Image renders the photograph. The same photograph is the same at every call; the only error is the context's.
func (s *Shot) Image(ctx context.Context) (*image.Gray, error) {
	return s.Photo.Image(ctx, func(layer string, draw func([]geom.Vec)) {
		for _, pg := range s.die[layer] {
			for _, r := range pg {
				draw(vecs(r))
			}
		}
	})
}

func vecs(r geom.Ring) []geom.Vec {
	out := make([]geom.Vec, len(r))
	for i, p := range r {
		out[i] = geom.Vec{X: float64(p.X), Y: float64(p.Y)}
	}
	return out
}

// flat returns what each layer of the die covers.
func flat() map[string][]geom.Polygon {
	lib := Die()
	drawn, err := layout.Flatten(lib.Cell("DIE"))
	if err != nil {
		panic(err) // the drawing is ours
	}
	shapes := map[string][]geom.Polygon{}
	drawn.Shapes(func(s *layout.Shape, at geom.Transform) bool {
		name := lib.Layers[s.Layer]
		shapes[name] = append(shapes[name], at.ApplyPolygon(s.Polygon))
		return true
	})
	die := map[string][]geom.Polygon{}
	for name, pgs := range shapes {
		die[name] = region.Polygons(region.Union(pgs...))
	}
	for _, pg := range die["diffusion"] {
		var marks []geom.Polygon
		for _, m := range shapes["pplus"] {
			if m.Bounds().Overlaps(pg.Bounds()) {
				marks = append(marks, m)
			}
		}
		if len(marks) > 0 {
			_, inside := region.Cut(pg, marks...)
			die[pdiffusion] = append(die[pdiffusion], inside...)
		}
	}
	return die
}
