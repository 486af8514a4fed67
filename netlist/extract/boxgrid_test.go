package extract

import (
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
)

// TestBoxGrid: what touches a box is found, among small boxes, long ones and empty ones, and hardly anything else is looked at.
func TestBoxGrid(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 7))
	place := func() geom.Point {
		return geom.Point{X: rnd.IntN(1_000_000) - 500_000, Y: rnd.IntN(1_000_000) - 500_000}
	}
	boxes := []geom.Rect{geom.EmptyRect(), geom.Box(-500_000, 0, 500_000, 200)}
	for range 10_000 {
		p := place()
		boxes = append(boxes, geom.Box(p.X, p.Y, p.X+rnd.IntN(2000), p.Y+rnd.IntN(2000)))
	}
	g := newBoxGrid(boxes)
	looked := 0
	for range 300 {
		p := place()
		r := geom.Box(p.X, p.Y, p.X+rnd.IntN(20_000), p.Y+rnd.IntN(20_000))
		found := map[int]bool{}
		g.near(r, func(i int) { found[i] = true; looked++ })
		for i, b := range boxes {
			if !b.Empty() && touch(r, b) && !found[i] {
				t.Fatalf("%v is not found by %v", b, r)
			}
		}
	}
	if looked > 300*100 { // some ten are near by chance
		t.Errorf("%d boxes were looked at", looked)
	}
	together := map[[2]int]bool{}
	g.pairs(boxes, func(i, k int) {
		if k >= i || !touch(boxes[i], boxes[k]) || together[[2]int{i, k}] {
			t.Fatalf("%d before %d: %v and %v", i, k, boxes[i], boxes[k])
		}
		together[[2]int{i, k}] = true
	})
	for i, a := range boxes {
		for k, b := range boxes[:i] {
			if !a.Empty() && !b.Empty() && touch(a, b) && !together[[2]int{i, k}] {
				t.Fatalf("%v and %v are no pair", a, b)
			}
		}
	}
	newBoxGrid(nil).pairs(nil, func(int, int) { t.Error("a pair among none") })
	newBoxGrid(nil).near(geom.Box(0, 0, 1, 1), func(int) { t.Error("a box among none") })
}
