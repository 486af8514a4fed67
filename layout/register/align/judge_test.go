package align

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

const cellPitch = 64 // px, of the arrays below

// arrayOf makes two photographs, noise of their own, of an array of equal cells of random boxes, each its own mirror image where that is asked for.
func arrayOf(seed uint64, side int, mirrored bool) (a, b *Image) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	var cell [cellPitch][cellPitch]float64
	for range 14 {
		x, y, w, h, tone := rnd.IntN(cellPitch-12), rnd.IntN(cellPitch-12), 5+rnd.IntN(20), 5+rnd.IntN(20), rnd.Float64()
		for j := y; j < min(cellPitch, y+h); j++ {
			for i := x; i < min(cellPitch, x+w); i++ {
				cell[j][i] = tone
				if mirrored {
					cell[j][cellPitch-1-i] = tone
				}
			}
		}
	}
	photo := func() *Image {
		img := &Image{side, side, make([]float32, side*side)}
		for i := range img.Pix {
			img.Pix[i] = float32(cell[i/side%cellPitch][i%side%cellPitch] + 0.05*rnd.NormFloat64())
		}
		return img
	}
	return photo(), photo()
}

// TestAhead: what both pictures say decides, unless what is learnt from each map alone speaks against it clearly; nothing decides that both
// do not say.
func TestAhead(t *testing.T) {
	for _, tc := range []struct {
		alone, both float64
		enough      bool
	}{{2, 9, true}, {-1, 9, true}, {9, 9, true}, {20, 3, false}, {20, -3, false}, {-3, 20, false}, {-18, 20, false}, {2, 2, false}} {
		if enough := noRival(ahead(tc.alone, tc.both)) >= confidenceNeeded; enough != tc.enough {
			t.Errorf("%.0f and %.0f standard errors are enough: %v", tc.alone, tc.both, enough)
		}
	}
}

// TestTurns: the seven other ways leave a picture's middle where it is and all lengths, and go with the directions of its edges.
func TestTurns(t *testing.T) {
	s := &space{turnA: 0.1}
	img := &Image{Width: 400, Height: 300}
	along := func(m *matrix, angle float64) float64 {
		x, y := m.at(200+math.Cos(angle), 150+math.Sin(angle))
		return math.Atan2(y-150, x-200)
	}
	var seen []int
	for _, m := range s.turns(img) {
		if x, y := m.at(200, 150); math.Hypot(x-200, y-150) > 1e-9 || math.Abs(m.stretch(20, 30)-1) > 1e-9 {
			t.Errorf("%v moves the middle to %v, %v", m, x, y)
		}
		to, across := along(&m, s.turnA), along(&m, s.turnA+math.Pi/2)
		quarters := math.Mod((to-s.turnA)/(math.Pi/2)+4, 4)
		if off := quarters - math.Round(quarters); math.Abs(off) > 1e-9 {
			t.Errorf("edges are turned by %v quarters", quarters)
		}
		way := int(math.Round(quarters)) % 4
		if math.Sin(across-to) < 0 {
			way += 4
		}
		seen = append(seen, way)
	}
	slices.Sort(seen)
	if !slices.Equal(seen, []int{1, 2, 3, 4, 5, 6, 7}) {
		t.Errorf("ways %v", seen)
	}
}

// TestMirroredRival: of an array whose cells are their own mirror images the right map is among the rivals of one that is mirrored.
func TestMirroredRival(t *testing.T) {
	const side = 400
	a, b := arrayOf(1, side, true)
	s := &space{ways: []int{0, 1, 2, 3, 4, 5, 6, 7}}
	mirrored := matrix{{-1, 0, 6 * cellPitch}, {0, 1, 0}, {0, 0, 1}}
	right := slices.ContainsFunc(s.shifted(t.Context(), newHalvings(a), newHalvings(b), mirrored), func(c candidate) bool {
		x, y := c.m.at(side/2, side/2)
		x, y = math.Remainder(x-side/2, cellPitch), math.Remainder(y-side/2, cellPitch) // any pitch away looks the same
		return c.m[0][0] > 0.99 && c.m[1][1] > 0.99 && math.Hypot(x, y) < 2
	})
	if !right {
		t.Error("it is not")
	}
}

// TestRivalKeepsItsScore: what leads over a wrong map is told with what it has in common itself, by which it may be taken over.
func TestRivalKeepsItsScore(t *testing.T) {
	a, b := arrayOf(1, 320, false)
	for _, at := range [][2]int{{100, 100}, {100, 220}, {220, 160}} {
		a.paint(at[0], at[1], 40, 1)
		b.paint(at[0], at[1], 40, 0.1)
	}
	ha, hb := newHalvings(a), newHalvings(b)
	wrong := finish(t.Context(), ha, hb, candidate{m: matrix{{1, 0, cellPitch}, {0, 1, 0}, {0, 0, 1}}})
	v := (&space{}).judge(t.Context(), ha, hb, wrong, nil)
	if off := v.rival.m[0][2]; !(v.lead < 0) || math.Abs(off) > 2 {
		t.Fatalf("what is %.1f px off leads by %.1f", off, -v.lead)
	}
	if own := newGrid(ha, hb, 1).learnt(v.rival.m, 6); math.Abs(v.rival.score-own.score) > own.score/5 {
		t.Errorf("the right map has %.1f standard errors in common, and is told with %.1f", own.score, v.rival.score)
	}
}
