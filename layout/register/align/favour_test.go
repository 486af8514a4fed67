package align

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"undermetal/layout/geom"
)

// TestAnyPlace: stripes from top to bottom, which are the same in both pictures, with waves down one picture and waves a
// quarter of their length further down the other. These tell as much of each other wherever they are laid, and always
// agree about it, but nobody can tell where they belong. Waves that grow longer, reversed in the other picture, tell it. With
// UNDERMETAL_FULL the first are aligned, and refused.
func TestAnyPlace(t *testing.T) {
	const side, length = 300, 120
	rnd := rand.New(rand.NewPCG(8, 9))
	stripes, tone := make([]float64, side), 0.0
	for i := range side {
		if i%(9+i%7) == 0 {
			tone = rnd.Float64()
		}
		stripes[i] = tone
	}
	picture := func(down func(y int) float64) *Image {
		img := &Image{Width: side, Height: side}
		for i := range side * side {
			img.Pix = append(img.Pix, float32(stripes[i%side]+down(i/side)+0.02*rnd.NormFloat64()))
		}
		return img
	}
	wave := func(y int) float64 { return math.Sin(2 * math.Pi * float64(y) / length) }
	growing := func(y int) float64 { return math.Sin(2 * math.Pi * float64((y+60)*(y+60)) / (side * length)) }
	beside := func(a, b *Image) float64 {
		return newGrid(newHalvings(a), newHalvings(b), 1).beside(t.Context(), scaling(1))
	}
	a, b := picture(wave), picture(func(y int) float64 { return wave(y + length/4) })
	if sigma := beside(a, b); !(sigma > sigmaAllowed) {
		t.Errorf("of waves: uncertain by %v px", sigma)
	}
	if sigma := beside(picture(growing), picture(func(y int) float64 { return -growing(y) })); !(sigma < 0.3) {
		t.Errorf("of waves that grow longer: uncertain by %v px", sigma)
	}
	if !full {
		return
	}
	var marks []Mark
	for _, at := range []geom.Vec{{X: 30, Y: 40}, {X: 260, Y: 60}, {X: 150, Y: 270}} {
		marks = append(marks, Mark{at, geom.Vec{X: at.X + 1, Y: at.Y + 2}})
	}
	r, err := Align(t.Context(), a, b, Options{Marks: marks, Within: 15})
	if !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), "leaves a corner uncertain") {
		t.Errorf("%v, %v", r, err)
	}
}

// TestSomeViews: whatever the size of the pictures, there are about as many views as are enough, or all there are, and each
// quarter of a picture has its share.
func TestSomeViews(t *testing.T) {
	for side := 400; side < 4000; side += 32 { // a patch more in either direction
		h := halvings{{Width: side, Height: side}}
		g := newGrid(h, h, 1)
		all, at := len(g.shown(scaling(1), 6, g.all())), g.some(scaling(1), 6)
		var quarters [2][2]int
		for _, p := range at {
			x, y := g.corner(p)
			quarters[(2*y+g.side)/side][(2*x+g.side)/side]++
		}
		least := min(quarters[0][0], quarters[0][1], quarters[1][0], quarters[1][1])
		if enough := min(enoughViews, all); len(at)*10 < enough*7 || len(at)*10 > enough*13 || least*6 < len(at) {
			t.Errorf("%d px: %d of %d patches, by quarters %v", side, len(at), all, quarters)
		}
	}
}

// TestFollows: of what a map goes along with by a tenth across, and by nine tenths down together with what it is stretched
// by, that is the one.
func TestFollows(t *testing.T) {
	favour := mat.NewDense(3, 3, []float64{0.1, 0, 0, 0, 0.5, 0.4, 0, 0.4, 0.5})
	p, by := follows(favour)
	if len(p) != 3 || math.Abs(by-0.9) > 1e-9 || math.Abs(p[0]) > 1e-9 || math.Abs(p[1]-p[2]) > 1e-9 || math.Abs(slices.Max(p)-1) > 1e-9 {
		t.Errorf("%v by %v", p, by)
	}
}
