package check_test

import (
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

// TestNearMissesAgainstBruteForce compares rectangle by rectangle: pieces are what shares an edge or overlaps. Two pieces
// must be found, with their distance, where nothing of a third one meets the box around the way between their nearest
// rectangles; what is found are two pieces that lie no farther apart than it says.
func TestNearMissesAgainstBruteForce(t *testing.T) {
	st := testStack(t)
	const tol = 6
	misses := 0
	for seed := range uint64(400) {
		rnd := rand.New(rand.NewPCG(seed, 11))
		var boxes []geom.Rect
		var shapes []drawn
		for range 4 + rnd.IntN(12) {
			x, y := rnd.IntN(60), rnd.IntN(60)
			b := geom.Box(x, y, x+6+rnd.IntN(14), y+6+rnd.IntN(14))
			boxes = append(boxes, b)
			shapes = append(shapes, box("metal1", b.Min.X, b.Min.Y, b.Max.X, b.Max.Y))
		}
		of := pieces(boxes)
		lib := library(t, st, shapes...)
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: tol})
		if err != nil {
			t.Fatal(err)
		}
		found := map[[3]int]bool{} // the pieces, the gap
		for _, f := range fs {
			if f.Code != check.NearMiss {
				continue
			}
			a, others := sides(boxes, of, f.At, f.Gap)
			if len(others) == 0 {
				t.Fatalf("seed %d: no other piece within %d of %v", seed, f.Gap, f.At)
			}
			for _, b := range others {
				found[[3]int{a, b, f.Gap}], found[[3]int{b, a, f.Gap}] = true, true
			}
		}
		for i := range boxes {
			for k := range i {
				if of[i] == of[k] || !nearest(boxes, of, i, k) || apart(boxes[i], boxes[k]) > tol || disturbed(boxes, of, i, k) {
					continue
				}
				misses++
				want := int(math.Round(apart(boxes[i], boxes[k])))
				if !found[[3]int{of[i], of[k], want}] {
					t.Fatalf("seed %d: %v and %v: not found with a gap of %d: %q", seed, boxes[i], boxes[k], want, short(st, fs))
				}
			}
		}
	}
	if misses < 200 {
		t.Errorf("only %d near misses in all", misses)
	}
}

// TestStrips: into how many strips a sweep is cut, and by how many goroutines they are swept, changes nothing: upright and slanted rectangles on all layers, many of
// which end on the borders of strips.
func TestStrips(t *testing.T) {
	st := testStack(t)
	names := []string{"diffusion", "poly", "contact", "metal1", "via", "metal2"}
	codes := map[string]int{}
	for seed := range uint64(60) {
		rnd := rand.New(rand.NewPCG(seed, 13))
		grid := 1 + 9*int(seed%2) // what is narrower than 1 nm, as slanted edges make it, is known to have a net or not by chance
		var shapes []drawn
		for range 10 + rnd.IntN(30) {
			x, y, w, h := grid*rnd.IntN(60), grid*rnd.IntN(60), grid*(1+rnd.IntN(20)), grid*(1+rnd.IntN(20))
			layer := names[rnd.IntN(len(names))]
			if seed%2 == 0 || rnd.IntN(2) == 0 {
				shapes = append(shapes, box(layer, x, y, x+w, y+h))
			} else {
				shapes = append(shapes, ring(layer, x, y, x+4*w, y+3*w, x+4*w-3*h, y+3*w+4*h, x-3*h, y+4*h))
			}
		}
		lib := library(t, st, shapes...)
		look := func(strips, workers int) (out []string) {
			fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.InStrips(check.Options{ToleranceNm: 5 * grid, Workers: workers}, strips))
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range fs {
				codes[f.Code]++
				switch f.Code {
				case check.Sliver, check.ContactOnOne, check.ContactOnNone: // told at any point within
					f.At = geom.Point{}
				}
				out = append(out, short(st, []check.Finding{f})...)
			}
			slices.Sort(out)
			return out
		}
		one := look(1, 1)
		for i, strips := range []int{2, 3, 7, 60} {
			if got := look(strips, 2*i); !slices.Equal(got, one) {
				t.Fatalf("seed %d, %d strips, %d workers:\n%q\n1 strip:\n%q", seed, strips, 2*i, got, one)
			}
		}
	}
	for _, c := range []string{check.NearMiss, check.NearOverlap, check.Sliver, check.ContactOnOne, check.GateEndsInside, check.ShortEndCap} {
		if codes[c] < 100 {
			t.Errorf("only %d %s in all", codes[c], c)
		}
	}
}

// pieces numbers rectangles by what they hang together with.
func pieces(boxes []geom.Rect) []int {
	of := make([]int, len(boxes))
	for i := range of {
		of[i] = i
	}
	for changed := true; changed; {
		changed = false
		for i, a := range boxes {
			for k, b := range boxes {
				x, y := min(a.Max.X, b.Max.X)-max(a.Min.X, b.Min.X), min(a.Max.Y, b.Max.Y)-max(a.Min.Y, b.Min.Y)
				if x >= 0 && y >= 0 && x+y > 0 && of[i] != of[k] {
					of[i], of[k] = min(of[i], of[k]), min(of[i], of[k])
					changed = true
				}
			}
		}
	}
	return of
}

// between is the box of the way from one rectangle to another.
func between(a, b geom.Rect) geom.Rect {
	axis := func(a0, a1, b0, b1 int) (int, int) {
		lo, hi := max(a0, b0), min(a1, b1)
		return min(lo, hi), max(lo, hi)
	}
	x0, x1 := axis(a.Min.X, a.Max.X, b.Min.X, b.Max.X)
	y0, y1 := axis(a.Min.Y, a.Max.Y, b.Min.Y, b.Max.Y)
	return geom.Box(x0, y0, x1, y1)
}

func apart(a, b geom.Rect) float64 {
	return math.Hypot(float64(max(0, a.Min.X-b.Max.X, b.Min.X-a.Max.X)), float64(max(0, a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)))
}

func nearest(boxes []geom.Rect, of []int, i, k int) bool {
	for m := range boxes {
		for n := range boxes {
			if of[m] == of[i] && of[n] == of[k] && apart(boxes[m], boxes[n]) < apart(boxes[i], boxes[k]) {
				return false
			}
		}
	}
	return true
}

func disturbed(boxes []geom.Rect, of []int, i, k int) bool {
	way := between(boxes[i], boxes[k])
	for m := range boxes {
		if of[m] != of[i] && of[m] != of[k] && boxes[m].Overlaps(way) {
			return true
		}
	}
	return false
}

// sides returns the piece that a place lies on, and the others that lie as far from it as a gap is wide, which is rounded.
func sides(boxes []geom.Rect, of []int, p geom.Point, gap int) (a int, others []int) {
	for i := range boxes {
		if boxes[i].Contains(p) {
			a = of[i]
			break
		}
	}
	for i := range boxes {
		if of[i] != a && math.Abs(apart(geom.Rect{Min: p, Max: p}, boxes[i])-float64(gap)) <= 0.5 { // p is rounded along the edge only
			others = append(others, of[i])
		}
	}
	return a, others
}

// BenchmarkCheck looks at the published SRAM macro of 280,000 shapes.
func BenchmarkCheck(b *testing.B) {
	root := corpus(b)
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		b.Fatal(err)
	}
	lib := readGDS(b, filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	for _, tol := range []int{20, 200} {
		b.Run(map[int]string{20: "tolerance=20nm", 200: "tolerance=200nm"}[tol], func(b *testing.B) {
			for b.Loop() {
				fs, err := check.Run(context.Background(), lib, lib.Tops()[0], st, check.Options{ToleranceNm: tol})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(fs)), "findings")
			}
		})
	}
}
