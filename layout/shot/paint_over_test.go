package shot

import (
	"bytes"
	"image"
	"image/draw"
	"math/rand/v2"
	"testing"
)

// TestHatchOver: the hatch through a mask is what the standard library's image/draw makes of it, in every byte.
func TestHatchOver(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 5))
	for hatch := range Hatches {
		r := image.Rect(0, 0, 40+rnd.IntN(30), 30+rnd.IntN(30)).Add(image.Pt(rnd.IntN(9)-4, rnd.IntN(9)-4))
		got, mask := image.NewRGBA(r), image.NewAlpha(r)
		for i := range got.Pix {
			got.Pix[i] = uint8(rnd.Uint32())
		}
		for i := range mask.Pix {
			mask.Pix[i] = []uint8{0, 255, uint8(rnd.Uint32())}[rnd.IntN(3)]
		}
		want := image.NewRGBA(r)
		copy(want.Pix, got.Pix)
		h := hatched{InkFor(hatch, ""), 6}
		draw.DrawMask(want, r, h, r.Min, mask, r.Min, draw.Over)
		h.over(got, mask)
		if !bytes.Equal(got.Pix, want.Pix) {
			t.Errorf("hatch %d: not what draw.DrawMask draws", hatch)
		}
	}
}
