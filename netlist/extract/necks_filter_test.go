package extract

import (
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
)

// TestWaist: whatever boxes make, none has a neck where waist says so, and most of those that have none are told. Boxes are wires with pads, and
// any at random, on a coarse grid, so that many touch along edges and in corners.
func TestWaist(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 8))
	var w waist
	necks, spared, none := 0, 0, 0
	for range 8000 {
		var boxes []geom.Rect
		var pgs []geom.Polygon
		add := func(x, y, width, height int) {
			b := geom.Box(x, y, x+width, y+height)
			boxes, pgs = append(boxes, b), append(pgs, geom.Polygon{b.Ring()})
		}
		if rnd.IntN(2) == 0 {
			for range 2 + rnd.IntN(7) {
				add(rnd.IntN(9), rnd.IntN(9), 1+rnd.IntN(7), 1+rnd.IntN(7))
			}
		} else {
			length, width := 2+rnd.IntN(9), 1+rnd.IntN(2)
			add(0, 0, 3+rnd.IntN(5), 3+rnd.IntN(5))
			add(1+rnd.IntN(3), 1+rnd.IntN(2), length+6, width)
			add(length+rnd.IntN(4), -rnd.IntN(3), 3+rnd.IntN(5), 3+rnd.IntN(5))
			if rnd.IntN(3) == 0 {
				add(rnd.IntN(12), rnd.IntN(5)-2, 1+rnd.IntN(5), 1+rnd.IntN(5))
			}
			if rnd.IntN(2) == 0 {
				for k, b := range boxes {
					boxes[k] = geom.Box(b.Min.Y, b.Min.X, b.Max.Y, b.Max.X)
					pgs[k] = geom.Polygon{boxes[k].Ring()}
				}
			}
		}
		pieces := polygons.Union(pgs...)
		if len(pieces) > 1 && !cornersOnly(boxes) {
			continue // they are no group: some touch nothing
		}
		found := false
		for _, p := range pieces {
			_, ok := neckIn(p.Polygon)
			found = found || ok
		}
		switch may := w.may(boxes); {
		case found && !may:
			t.Fatalf("a neck of %v is not told", boxes)
		case found:
			necks++
		case !may:
			spared++
			fallthrough
		default:
			none++
		}
	}
	t.Logf("%d with necks, %d of %d without are spared", necks, spared, none)
	if necks < 500 || spared < none/3 {
		t.Errorf("%d with necks, %d of %d without are spared", necks, spared, none)
	}
}

// cornersOnly reports whether all boxes hang together, in corners too.
func cornersOnly(boxes []geom.Rect) bool {
	of := make(sets, len(boxes))
	for i := range of {
		of[i] = node(i)
	}
	for i, a := range boxes {
		for k, b := range boxes[:i] {
			if touch(a, b) && of.find(node(i)) != of.find(node(k)) {
				of.union(node(i), node(k))
			}
		}
	}
	for i := range boxes {
		if of.find(node(i)) != of.find(0) {
			return false
		}
	}
	return true
}
