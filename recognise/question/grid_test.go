package question

import (
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
)

// TestGrid: what overlaps a box is found, where bins are full and where they are nearly all empty, among boxes that fill many bins, and after more
// were added.
func TestGrid(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 6))
	for _, c := range []struct {
		side, size int
		bins       bool // a map holds them
	}{{2000, 100, false}, {1 << 29, 100, true}, {50, 100, false}} {
		g := newGrid(c.size)
		g.near(geom.Box(-c.side, -c.side, c.side, c.side), func(int32) bool { t.Fatal("something among nothing"); return true })
		box := func(most int) geom.Rect {
			x, y := rnd.IntN(2*c.side)-c.side, rnd.IntN(2*c.side)-c.side
			return geom.Box(x, y, x+rnd.IntN(most), y+rnd.IntN(most))
		}
		var boxes []geom.Rect
		hits := 0
		for range 3 {
			for range 200 {
				b := box(300)
				if rnd.IntN(50) == 0 {
					b = box(1 + c.side/2)
				}
				g.add(int32(len(boxes)), b)
				boxes = append(boxes, b)
			}
			for k := range 300 {
				near := box(500)
				switch k % 3 {
				case 1:
					near = grown(boxes[rnd.IntN(len(boxes))], rnd.IntN(400))
				case 2:
					near = box(c.side)
				}
				found := map[int32]bool{}
				g.near(near, func(k int32) bool { found[k] = true; return true })
				for i, b := range boxes {
					if b.Overlaps(near) {
						if hits++; !found[int32(i)] {
							t.Fatalf("%v is not found by %v", b, near)
						}
					}
				}
				if len(found) > 1 {
					told := 0
					g.near(near, func(int32) bool { told++; return false })
					if told != 1 {
						t.Fatalf("told of %d after the first", told)
					}
				}
			}
		}
		if (g.bins != nil) != c.bins || hits < 1000 {
			t.Errorf("bins in a map: %v, %d hits", g.bins != nil, hits)
		}
	}
}
