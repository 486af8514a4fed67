package desk

import (
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestEachAt: blocks of pieces tell of all whose boxes hold a point, and of no other.
func TestEachAt(t *testing.T) {
	for seed := range uint64(50) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		l := &live{}
		for range rnd.IntN(300) {
			x, y := rnd.IntN(400)-200, rnd.IntN(400)-200
			box := geom.Box(x, y, x+rnd.IntN(40), y+rnd.IntN(40))
			if rnd.IntN(9) == 0 { // as wide as the die
				box = geom.Box(-200, y, 240, y+2)
			}
			l.pieces = append(l.pieces, piece{box: box})
		}
		l.arrange()
		for range 100 {
			p := geom.Point{X: rnd.IntN(460) - 210, Y: rnd.IntN(460) - 210}
			var got, want []int
			l.eachAt(p, func(k int) { got = append(got, k) })
			for k := range l.pieces {
				if l.pieces[k].box.Contains(p) {
					want = append(want, k)
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Fatalf("seed %d: at %v lie %v, want %v", seed, p, got, want)
			}
		}
	}
}
