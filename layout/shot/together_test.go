package shot

import (
	"image"
	"math"
	"testing"
)

// TestBlend: every pair of tones at every part is the mean with these weights, to half a tone (and 1/64 for the rounding of
// the weight); what one picture lacks the other shows.
func TestBlend(t *testing.T) {
	for _, part := range []float64{0, 0.1, 1. / 3, 0.5, 0.77, 1} {
		a, b := image.NewRGBA(image.Rect(0, 0, 256, 256)), image.NewRGBA(image.Rect(0, 0, 256, 256))
		for i := range 1 << 16 {
			copy(a.Pix[4*i:], []uint8{uint8(i), uint8(i), uint8(i >> 8), 255})
			copy(b.Pix[4*i:], []uint8{uint8(i >> 8), uint8(i), uint8(i), 255})
		}
		Blend(a, b, part)
		for i := range 1 << 16 {
			x, y := float64(i&255), float64(i>>8)
			for k, want := range []float64{x*(1-part) + y*part, x, y*(1-part) + x*part} {
				if got := float64(a.Pix[4*i+k]); math.Abs(got-want) > 0.5+1./64 {
					t.Fatalf("part %g of %g, %g, channel %d: %g, want %g", part, x, y, k, got, want)
				}
			}
		}
	}
	one, none := image.NewRGBA(image.Rect(0, 0, 1, 1)), image.NewRGBA(image.Rect(0, 0, 1, 1))
	copy(one.Pix, []uint8{9, 8, 7, 255})
	for _, pair := range [][2]*image.RGBA{{one, none}, {none, one}} {
		got := image.NewRGBA(pair[0].Rect)
		copy(got.Pix, pair[0].Pix)
		if Blend(got, pair[1], 0.5); [4]uint8(got.Pix) != [4]uint8{9, 8, 7, 255} {
			t.Errorf("one that is alone becomes %v", got.Pix)
		}
	}
	if Blacken(none); [4]uint8(none.Pix) != [4]uint8{0, 0, 0, 255} {
		t.Errorf("blackened: %v", none.Pix)
	}
}
