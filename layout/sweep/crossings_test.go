package sweep

import (
	"cmp"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestCrossings: against each vertical edge held against each level one.
func TestCrossings(t *testing.T) {
	rnd := rand.New(rand.NewPCG(71, 72))
	marks := 0
	for range 2000 {
		var vertical, level []Seg
		side := 1 + rnd.IntN(20)
		for range rnd.IntN(15) {
			x, y := rnd.IntN(side), rnd.IntN(side)
			vertical = append(vertical, Seg{A: geom.Point{X: x, Y: y}, B: geom.Point{X: x, Y: rnd.IntN(side)}})
			level = append(level, Seg{A: geom.Point{X: rnd.IntN(side), Y: y}, B: geom.Point{X: x, Y: y}})
		}
		slices.SortStableFunc(vertical, func(a, b Seg) int { return cmp.Compare(a.A.X, b.A.X) })
		got, want := map[geom.Point]bool{}, map[geom.Point]bool{}
		kept := slices.Clone(level)
		crossings(vertical, level, func(p geom.Point) { got[p] = true })
		for _, v := range vertical {
			for _, l := range level {
				if p := (geom.Point{X: v.A.X, Y: l.A.Y}); min(v.A.Y, v.B.Y) <= p.Y && p.Y <= max(v.A.Y, v.B.Y) && min(l.A.X, l.B.X) <= p.X && p.X <= max(l.A.X, l.B.X) {
					want[p] = true
				}
			}
		}
		if !maps.Equal(got, want) || !slices.Equal(level, kept) {
			t.Fatalf("%v and %v: %v, want %v", vertical, level, got, want)
		}
		marks += len(want)
	}
	if marks < 10_000 {
		t.Errorf("%d marks show nothing", marks)
	}
}
