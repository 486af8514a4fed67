package photo

import (
	"math"
	"math/rand/v2"

	"undermetal/layout/geom"
)

// Outline traces a ring of places in nm over the photograph: it moves each edge along its normal, by a normal error of
// SigmaPx, and returns where neighbours cross then, in px.
func (p *Photo) Outline(rnd *rand.Rand, ring []geom.Vec) []geom.Vec {
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
