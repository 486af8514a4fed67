package align

import (
	"errors"
	"strings"
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

// TestContradicted: what three marks may be off together. By hand: of the sum of six squares of normal numbers, 2y, more comes by chance
// with exp(−y)·(1 + y + y²/2), the sixth order's Erlang form of the chi-squared distribution (textbooks of statistics): once in a million at
// y = 19.13. One mark alone has d²/(2·20²) of that: 123.7 px; three alike 71.4 px each.
func TestContradicted(t *testing.T) {
	identity := matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for _, tc := range []struct {
		off  [3]float64
		want string
	}{{[3]float64{0, 123, 0}, ""}, {[3]float64{0, 124.4, 0}, "mark 2 is 124 px off, and marks good to 80 px"}, {[3]float64{71, -71, 71}, ""}, {[3]float64{71, -71.5, -72}, "mark 3 is 72 px off"}} {
		var marks []Mark
		for i, at := range []geom.Vec{{X: 100, Y: 100}, {X: 900, Y: 200}, {X: 400, Y: 800}} {
			marks = append(marks, Mark{A: at, B: geom.Vec{X: at.X + tc.off[i], Y: at.Y}})
		}
		s := &space{}
		if err := s.near(marks, 80, []float64{0}, []float64{0}); err != nil && !errors.Is(err, ErrRefused) {
			t.Fatal(err)
		}
		err := s.contradicted(&identity, marks, 80)
		if (err == nil) != (tc.want == "") || err != nil && (!errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), tc.want)) {
			t.Errorf("%v: %v, want %q", tc.off, err, tc.want)
		}
	}
	if err := (&space{}).contradicted(&identity, nil, 80); err != nil {
		t.Error(err)
	}
}
