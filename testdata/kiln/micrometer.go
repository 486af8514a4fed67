package kiln

import (
	"context"
	"image"
	"math"
	"math/rand/v2"

	"undermetal/layout/geom"
	"undermetal/testdata/photo"
)

// The stage micrometer that gives the photograph with metal its scale. Rulings of 1 mm in a hundred parts are usual, and a maker states
// 1 µm for the whole of it (common practice).
const (
	RulingPitch = 10_000 // from line to line as it is engraved, nm
	RulingSigma = 10     // how well that is known: one standard uncertainty, nm
)

// The lines of the ruling: how wide they are, and how long; every fifth is longer, every tenth longer still. In nm.
const (
	rulingLine  = 1800
	rulingLines = 29
)

var rulingLengths = [3]float64{50_000, 75_000, 100_000}

// rulingTrue is how far apart the lines really lie, nm: off by as much as the maker states, and nobody but us knows.
func rulingTrue() float64 {
	return RulingPitch + RulingSigma*rand.New(rand.NewPCG(Seed, 3)).NormFloat64()
}

// Micrometer renders the photograph of the stage micrometer, taken as the first of Photos was. Its only error is the context's.
func Micrometer(ctx context.Context) (*image.Gray, error) {
	camera := Photos()[0].Camera
	camera.Middle, camera.Degrees = geom.Vec{X: 38_000, Y: (rulingLines - 1) / 2 * RulingPitch}, -0.8
	p := photo.Photo{Name: "micrometer", Camera: camera, Ground: 0.82, Noise: 0.014, Tilt: geom.Vec{X: -0.14, Y: 0.12}, Specks: 40, Seed: [2]uint64{Seed, 4},
		Looks: []photo.Look{{Layer: "line", Tone: 0.12, Hides: 0.95, Rim: 0.04}}}
	return p.Image(ctx, func(_ string, ring func([]geom.Vec)) {
		for i := range rulingLines {
			long := rulingLengths[0]
			switch {
			case i%10 == 0:
				long = rulingLengths[2]
			case i%5 == 0:
				long = rulingLengths[1]
			}
			y := float64(i)*rulingTrue() - rulingLine/2
			ring([]geom.Vec{{Y: y}, {X: long, Y: y}, {X: long, Y: y + rulingLine}, {Y: y + rulingLine}})
		}
	})
}

// Pitch is the pitch of the imager as the hand reads it off the photograph with metal, over all rows and by the scale that the micrometer gives,
// in whole nm. The frame has its lengths from it: all that comes into a dossier is larger by Pitch over the drawn one.
func (h Hand) Pitch() int {
	rnd := rand.New(rand.NewPCG(h.seed, 5))
	read := markSigma * math.Sqrt2 * Photos()[0].NmPerPx / (Rows - 1) // of a mark at either end
	return int(math.Round((Pitch + read*rnd.NormFloat64()) * RulingPitch / rulingTrue()))
}
