package recognise

import (
	"cmp"
	"math"
	"math/rand"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// The nearest points are those that a look at all of them finds; a place far from a few points that lie close together takes no longer.
func TestNearest(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	for _, n := range []int{1, 2, 7, 60} {
		for _, spread := range []float64{0, 1, 5000, 1e6} {
			points := make([]geom.Vec, n)
			for i := range points {
				points[i] = geom.Vec{X: rnd.Float64() * spread, Y: rnd.Float64() * spread / float64(1+rnd.Intn(3))}
			}
			c := newCloud(points)
			for _, far := range []float64{0, 1e3, 1e9} {
				p := geom.Vec{X: spread/2 + far, Y: far * rnd.Float64()}
				for _, radius := range []float64{spread / 4, far + spread, math.Inf(1)} {
					dist := func(i int32) float64 { return math.Hypot(points[i].X-p.X, points[i].Y-p.Y) }
					var want []int32
					for i := range points {
						if dist(int32(i)) <= radius {
							want = append(want, int32(i))
						}
					}
					slices.SortFunc(want, func(a, b int32) int { return cmp.Or(cmp.Compare(dist(a), dist(b)), cmp.Compare(a, b)) })
					want = want[:min(len(want), 5)]
					if got := c.nearest(p, 5, radius); !slices.Equal(got, want) {
						t.Errorf("%d points over %g, from %g, radius %g: %v, want %v", n, spread, far, radius, got, want)
					}
				}
			}
		}
	}
}
