package align

import (
	"math"
	"testing"
)

// TestSample: of a picture whose pixels are as bright as their column, every second place of which is drawn, each is the mean
// of two; and what lies in the outermost half pixel is seen, what lies beyond is not.
func TestSample(t *testing.T) {
	img := &Image{Width: 64, Height: 64}
	for i := range 64 * 64 {
		img.Pix = append(img.Pix, float32(i%64))
	}
	got, valid := newHalvings(img).sample(33, 32, scaling(2))
	for x := range 33 {
		if i := 5*33 + x; valid[i] != (x < 32) || valid[i] && got.Pix[i] != float32(2*x)+0.5 {
			t.Errorf("%d: %v, %v", x, got.Pix[i], valid[i])
		}
	}
	got, valid = newHalvings(img).sample(3, 1, matrix{{1, 0, -0.7}, {0, 1, 10}, {0, 0, 1}})
	if valid[0] || !valid[1] || math.Abs(float64(got.Pix[1])-0.3) > 1e-6 || math.Abs(float64(got.Pix[2])-1.3) > 1e-6 {
		t.Error(valid, got.Pix)
	}
	got, valid = newHalvings(img).sample(2, 1, matrix{{1, 0, -0.3}, {0, 1, 10}, {0, 0, 1}})
	if !valid[0] || got.Pix[0] != 0 || math.Abs(float64(got.Pix[1])-0.7) > 1e-6 {
		t.Error(valid, got.Pix)
	}
}

// TestSampleTilted: of a picture that grows brighter evenly each pixel is as bright as its place, in rows that lie within it and in
// those that leave it on either side.
func TestSampleTilted(t *testing.T) {
	const side = 200
	img := &Image{Width: side, Height: side}
	bright := func(x, y float64) float64 { return 0.3*x + 0.1*y }
	for i := range side * side {
		img.Pix = append(img.Pix, float32(bright(float64(i%side)+0.5, float64(i/side)+0.5)))
	}
	h := halvings{img}
	for _, from := range []matrix{
		turned(0.3).then(matrix{{1, 0, 40}, {0, 1, -20}, {2e-4, -1e-4, 1}}),
		{{1, 0.1, 80}, {-0.1, 1, 60}, {0, 0, 1}},
		{{1, 0.1, -60}, {1, 0.3, -65}, {0.01, 0, -0.7}}, // both ends of a row lie within, its middle beyond the horizon
	} {
		got, valid := h.sample(150, 120, from)
		drawn := &Image{Width: 150, Height: 120, Pix: make([]float32, 150*120)}
		h.draw(drawn, nil, from)
		seen := 0
		for y := range 120 {
			for x := range 150 {
				i := y*150 + x
				sx, sy := from.at(float64(x)+0.5, float64(y)+0.5)
				in := sx >= 0 && sy >= 0 && sx <= side && sy <= side
				if valid[i] != in {
					t.Fatalf("(%d, %d), which is (%v, %v): seen %v", x, y, sx, sy, valid[i])
				}
				want := 0.0
				if in {
					want = bright(max(0.5, min(side-0.5, sx)), max(0.5, min(side-0.5, sy)))
					seen++
				}
				if math.Abs(float64(got.Pix[i])-want) > 1e-3 || drawn.Pix[i] != got.Pix[i] {
					t.Fatalf("(%d, %d), which is (%v, %v): %v and %v, want %v", x, y, sx, sy, got.Pix[i], drawn.Pix[i], want)
				}
			}
		}
		if seen < 2000 || seen > 150*119 {
			t.Errorf("%d of %d seen", seen, 150*120)
		}
	}
}
