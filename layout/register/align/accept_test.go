package align

import (
	"testing"

	"undermetal/layout/geom"
)

// TestFewMaps: marks leave fewer maps to compare, so less in common is enough for one die. A map that is uncertain by 0.4 px
// has a sameness of its score + 13.74; that is exceeded by one pair of two dies in 200 from 2.576 spreads above the mean on
// (the normal distribution): at 41.18 from nothing and at 32.61 by marks.
func TestFewMaps(t *testing.T) {
	img := halvings{{200, 200, make([]float32, 200*200)}}
	identity := matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	nothing, marked := &space{}, &space{}
	if err := marked.near([]Mark{{geom.Vec{X: 20, Y: 20}, geom.Vec{X: 21, Y: 20}}, {geom.Vec{X: 180, Y: 150}, geom.Vec{X: 181, Y: 150}}}, 80, []float64{0}, []float64{0}); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		of    *space
		score float64
		want  bool
	}{{nothing, 27.5, true}, {nothing, 27.4, false}, {marked, 18.9, true}, {marked, 18.8, false}} {
		c := candidate{m: identity, score: tc.score, sigma: 0.4}
		if one := c.oneDie(img, &verdict{usual: tc.of.usual()}); (one >= confidenceNeeded) != tc.want {
			t.Errorf("%v by marks %v: a confidence of %v", tc.score, tc.of == marked, one)
		}
	}
}
