package shot

import (
	"context"
	"errors"
	"math"
	"testing"
)

// TestGrey: every sample is the luma of the stored pixel that it stands for, turned upright at full size, of the halved
// picture where there may be fewer; of 16 bits what lies between the two thousandths at either end, found by counting.
func TestGrey(t *testing.T) {
	for _, tc := range []struct {
		o                     Orientation
		channels, depth, most int
		perPx                 float64
		width, height         int
	}{
		{RightTop, 3, 8, 301 * 270, 1, 270, 301},
		{BottomLeft, 1, 8, 301 * 270, 1, 301, 270},
		{TopLeft, 3, 8, 301*270 - 1, 2, 150, 135},
		{TopLeft, 1, 16, 301 * 270, 1, 301, 270},
		{TopLeft, 1, 8, 75 * 67, 4, 75, 67},
	} {
		d := noise(301, 270, tc.channels, tc.depth, 7)
		d.header.Orientation = tc.o
		stored := pixelsOf(t, d)
		for k := tc.perPx; k > 1; k /= 2 {
			stored = halved(stored)
		}
		low, high := 0.0, 1.0
		p := pyramidOf(t, d)
		if tc.depth == 16 {
			a, err := p.AutoContrast()
			if err != nil {
				t.Fatal(err)
			}
			low, high = a.Low, a.High
		}
		last := 0.0
		g, err := p.Grey(t.Context(), tc.most, func(done float64) { last = done })
		if err != nil || g.Width != tc.width || g.Height != tc.height || g.PerPx != tc.perPx || len(g.Pix) != g.Width*g.Height || last != 1 {
			t.Fatal(tc, err, g.Width, g.Height, g.PerPx, last)
		}
		full := float64(int(1)<<tc.depth - 1)
		for y := range g.Height {
			for x := range g.Width {
				sx, sy := x, y
				if tc.perPx == 1 {
					sx, sy = tc.o.Stored(x, y, 301, 270)
				}
				want := 0.0
				for c, part := range []float64{0.299, 0.587, 0.114} {
					v := float64(stored.sample(sx, sy, min(c, tc.channels-1))) / full
					want += part * max(0, min(1, (v-low)/(high-low)))
				}
				if got := float64(g.Pix[y*g.Width+x]); math.Abs(got-want) > 0.6/255 {
					t.Fatalf("%v: (%d, %d) is %.4f, want %.4f", tc, x, y, got, want)
				}
			}
		}
	}
}

// TestGreyEnds: with the context, and with a tile that is missing.
func TestGreyEnds(t *testing.T) {
	p := pyramidOf(t, noise(300, 300, 1, 8, 1))
	ctx, cancel := context.WithCancel(t.Context())
	if _, err := p.Grey(ctx, 1<<20, func(float64) { cancel() }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	broken := errors.New("broken")
	p = NewPyramid(*noise(300, 300, 1, 8, 1).Header(), func(int, int, int) ([]byte, error) { return nil, broken })
	if _, err := p.Grey(t.Context(), 1<<20, func(float64) {}); !errors.Is(err, broken) {
		t.Error(err)
	}
}
