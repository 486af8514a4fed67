package extract

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestBoxesJoined compares what is read off joined boxes with what is read off the pieces one by one, of random regions that
// the sweep cuts as it likes: some with slanted edges, of pieces that change their node.
func TestBoxesJoined(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 3))
	var w boxJoiner
	joined, slanted, odd := 0, 0, 0
	for range 3000 {
		w.reset()
		pieces := randomPieces(rnd)
		for i := range pieces {
			w.add(rnd.IntN(2)*5, &pieces[i]) // of regions that do not know of each other
		}
		boxes := w.done()
		joined += len(pieces) - len(boxes)
		all := around(pieces)
		if got := around(boxes); got != all {
			t.Fatalf("around: %v, want %v", got, all)
		}
		corner := geom.Point{X: int(pieces[0].x0), Y: int(pieces[0].y0)}
		want, how := insidePlain(pieces, corner)
		if got := inside(boxes, all, corner); got != want {
			t.Fatalf("inside: %v, want %v, of\n%v\njoined to\n%v", got, want, pieces, boxes)
		}
		switch how {
		case "slanted":
			slanted++
		case "square":
			odd++
		}
		far := []box{{x0: -70, y0: int32(rnd.IntN(40)), x1: -65, y1: 50}}
		if got, want := distance(boxes, far), distance(pieces, far); got != want {
			t.Fatalf("distance: %v, want %v", got, want)
		}
		for range 8 {
			at := geom.Point{X: rnd.IntN(60) - 20, Y: rnd.IntN(50)}
			side := 1 + rnd.IntN(12)
			if got, want := fills(boxes, at, side), fills(pieces, at, side); got != want {
				t.Fatalf("fills %v, side %d: %v, want %v", at, side, got, want)
			}
		}
	}
	if joined < 10000 || slanted < 300 || odd < 300 {
		t.Errorf("%d pieces were joined, %d regions slanted, %d no rectangles: too few to say anything", joined, slanted, odd)
	}
}

// TestInsideWell compares the place in a well, by its walls and the boxes around all that came, with that of its pieces.
func TestInsideWell(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	var w boxJoiner
	ways := map[string]int{}
	for range 3000 {
		w.reset()
		xs, ys := cuts(rnd), cuts(rnd)
		holes, slants := rnd.IntN(2), rnd.IntN(2)
		in := map[[2]int]bool{}
		for c := range len(xs) - 1 {
			for r := range len(ys) - 1 {
				in[[2]int{c, r}] = holes == 0 || rnd.IntN(4) > 0
			}
		}
		var pieces []box
		var walls []wall
		area := 0.0
		for r := range len(ys) - 1 {
			for c := range len(xs) - 1 {
				x0, x1, y0, y1 := xs[c], xs[c+1], ys[r], ys[r+1]
				if !in[[2]int{c, r}] {
					continue
				}
				b := box{of: 1 + rnd.Int32N(8)/7*64, x0: x0, x1: x1, y0: y0, y1: y1, low: y0, high: y1, x: middle(x0, x1), width: x1 - x0}
				if slants > 0 && rnd.IntN(5) == 0 {
					b.width, b.slanted = rnd.Int32N(b.width), true
				}
				pieces = append(pieces, b)
				w.addWhole(&b)
				area += float64(x1-x0) * float64(y1-y0)
				fx0, fx1, fy0, fy1 := float64(x0), float64(x1), float64(y0), float64(y1)
				for _, side := range []struct {
					beyond [2]int
					wall   wall
				}{{[2]int{c - 1, r}, wall{ax: fx0, ay: fy1, bx: fx0, by: fy0}}, {[2]int{c + 1, r}, wall{ax: fx1, ay: fy0, bx: fx1, by: fy1}},
					{[2]int{c, r - 1}, wall{ax: fx0, ay: fy0, bx: fx1, by: fy0}}, {[2]int{c, r + 1}, wall{ax: fx1, ay: fy1, bx: fx0, by: fy1}}} {
					if !in[side.beyond] {
						walls = append(walls, side.wall)
					}
				}
			}
		}
		if len(pieces) == 0 {
			continue
		}
		all := around(pieces)
		if got := around(w.done()); got != all {
			t.Fatalf("around: %v, want %v", got, all)
		}
		corner := geom.Point{X: int(pieces[0].x0), Y: int(pieces[0].y0)}
		want, how := insidePlain(pieces, corner)
		if got := insideWell(w.done(), walls, area, all, corner); got != want {
			t.Fatalf("inside: %v, want %v, of\n%v", got, want, pieces)
		}
		ways[how]++
	}
	if len(ways) < 3 || min(ways["slanted"], ways["square"], ways["rectangle"]) < 300 {
		t.Errorf("ways to find a place: %v; too few of some", ways)
	}
}

// randomPieces returns pieces that do not overlap, in the order of a sweep, the first one lowest and leftmost. Each column of a few is cut
// at heights of its own or at those of all.
func randomPieces(rnd *rand.Rand) []box {
	const columns = 6
	var pieces []box
	x := int32(-20)
	common := cuts(rnd)
	kind := rnd.IntN(3)
	for c := range int32(columns) {
		width := 1 + rnd.Int32N(9)
		ys := common
		if rnd.IntN(4) == 0 {
			ys = cuts(rnd)
		}
		for i := range len(ys) - 1 {
			b := box{of: 1 + rnd.Int32N(8)/7, x0: x, x1: x + width, y0: ys[i], y1: ys[i+1], low: ys[i], high: ys[i+1], width: width}
			b.x = int32(math.Round(float64(b.x0+b.x1) / 2))
			switch {
			case kind == 1 && c > 0 && rnd.IntN(3) == 0:
				continue // a hole
			case kind == 2 && rnd.IntN(4) == 0:
				b.width = rnd.Int32N(width)
				b.slanted = true
			}
			pieces = append(pieces, b)
		}
		x += width
	}
	slices.SortFunc(pieces, func(a, b box) int { return cmp.Or(cmp.Compare(a.y1, b.y1), cmp.Compare(a.x0, b.x0)) })
	first := slices.IndexFunc(pieces, func(b box) bool { return b.y0 == 0 && b.x0 == -20 })
	pieces[0], pieces[first] = pieces[first], pieces[0]
	return pieces
}

// cuts returns heights from 0 to 50, ascending.
func cuts(rnd *rand.Rand) []int32 {
	ys := []int32{0, 50}
	for range rnd.IntN(5) {
		ys = append(ys, 1+rnd.Int32N(49))
	}
	slices.Sort(ys)
	return slices.Compact(ys)
}

// insidePlain is inside for single pieces, as simple as it can be.
func insidePlain(pieces []box, corner geom.Point) (at geom.Point, how string) {
	all, area := around(pieces), 0
	for _, b := range pieces {
		area += int(b.x1-b.x0) * int(b.y1-b.y0)
	}
	if slices.ContainsFunc(pieces, func(b box) bool { return b.width != b.x1-b.x0 }) {
		size := func(b box) int { return int(b.width) * (int(b.y1) - int(b.y0)) }
		b := slices.MaxFunc(pieces, func(a, b box) int {
			return cmp.Or(cmp.Compare(size(a), size(b)), cmp.Compare(b.y0, a.y0), cmp.Compare(b.x0, a.x0))
		})
		return geom.Point{X: int(b.x), Y: (int(b.y0) + int(b.y1)) / 2}, "slanted"
	}
	if area == all.Width()*all.Height() {
		return geom.Point{X: (all.Min.X + all.Max.X) / 2, Y: (all.Min.Y + all.Max.Y) / 2}, "rectangle"
	}
	side := 1
	for fills(pieces, corner, side+1) {
		side++
	}
	return geom.Point{X: corner.X + side/2, Y: corner.Y + side/2}, "square"
}
