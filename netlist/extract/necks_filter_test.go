package extract

import (
	"math/rand/v2"
	"slices"
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
		if len(pieces) > 1 && !together(boxes) {
			continue // they are no group: some touch nothing
		}
		found := false
		for _, p := range pieces {
			_, ok := neckIn(p.Polygon)
			found = found || ok
			if cut := boxesOf(p.Polygon); ok && cut != nil && (thin(cut) || !w.may(cut)) {
				t.Fatalf("a neck of %v is not told, cut into %v", p.Polygon, cut)
			}
		}
		switch may := !thin(boxes) && w.may(boxes); {
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
	if necks < 500 || spared < none*4/5 {
		t.Errorf("%d with necks, %d of %d without are spared", necks, spared, none)
	}
}

// TestBoxesOf: the boxes that a polygon is cut into tile it, holes and all, whichever way its rings go. What is slanted, has no area or many
// corners or several pieces is not cut, and nothing is cut by corners of another stretch.
func TestBoxesOf(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	cut, holes := 0, 0
	for range 2000 {
		var pgs []geom.Polygon
		for range 1 + rnd.IntN(14) {
			x, y := rnd.IntN(12), rnd.IntN(12)
			w, h := 1+rnd.IntN(9), 1+rnd.IntN(3)
			if rnd.IntN(2) == 0 {
				w, h = h, w
			}
			pgs = append(pgs, geom.Polygon{geom.Box(x, y, x+w, y+h).Ring()})
		}
		for _, p := range polygons.Union(pgs...) {
			if rnd.IntN(2) == 0 {
				for _, r := range p.Polygon {
					slices.Reverse(r)
				}
			}
			boxes := boxesOf(p.Polygon)
			var twice geom.Polygon // so that its edges pass beside odd numbers
			for _, r := range p.Polygon {
				var ring geom.Ring
				for _, c := range r {
					ring = append(ring, geom.Point{X: 2 * c.X, Y: 2 * c.Y})
				}
				twice = append(twice, ring)
			}
			for x := range 21 {
				for y := range 21 {
					in := 0
					for _, b := range boxes {
						if b.Min.X <= x && x < b.Max.X && b.Min.Y <= y && y < b.Max.Y {
							in++
						}
					}
					if want := twice.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}); (want == geom.Inside) != (in == 1) || in > 1 {
						t.Fatalf("%d boxes of %v lie right above (%d, %d) of %v", in, boxes, x, y, p.Polygon)
					}
				}
			}
			cut++
			holes += len(p.Polygon) - 1
		}
	}
	if cut < 2000 || holes < 100 {
		t.Errorf("%d polygons with %d holes", cut, holes)
	}
	comb := geom.Ring{{X: 0, Y: -10}, {X: 0, Y: 0}}
	for x := 0; len(comb) < mostCut; x += 2 {
		comb = append(comb, geom.Point{X: x + 1, Y: 0}, geom.Point{X: x + 1, Y: 9}, geom.Point{X: x + 2, Y: 9}, geom.Point{X: x + 2, Y: 0})
	}
	comb = append(comb, geom.Point{X: comb[len(comb)-1].X, Y: -10})
	two := geom.Polygon{geom.Box(0, 0, 4, 4).Ring(), geom.Box(5, 0, 9, 4).Ring()}
	for _, pg := range []geom.Polygon{{comb}, two, {{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 0, Y: 4}}}, {{{X: 0, Y: 0}, {X: 4, Y: 0}}}} {
		if boxes := boxesOf(pg); boxes != nil {
			t.Errorf("%v is cut into %v", pg, boxes)
		}
	}
	teeth := geom.Ring{{X: 0, Y: 0}} // of 15 lengths, from a back
	for i := range 15 {
		end := 2 + i*7%15
		teeth = append(teeth, geom.Point{X: end, Y: 2 * i}, geom.Point{X: end, Y: 2*i + 1})
		if i < 14 {
			teeth = append(teeth, geom.Point{X: 1, Y: 2*i + 1}, geom.Point{X: 1, Y: 2*i + 2})
		}
	}
	teeth = append(teeth, geom.Point{X: 0, Y: 29})
	if boxes := boxesOf(geom.Polygon{teeth}); len(boxes) != 16 {
		t.Errorf("a back and 15 teeth are cut into %v", boxes)
	}
}
