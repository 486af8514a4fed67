package geom

import (
	"math/rand/v2"
	"testing"
)

// TestTransformBounds: the box around an image is that of its four corners, however it is turned, mirrored and magnified.
func TestTransformBounds(t *testing.T) {
	rnd, uprights := rand.New(rand.NewPCG(5, 3)), 0
	for range 2000 {
		turn := float64(90 * rnd.IntN(4))
		if rnd.IntN(3) == 0 {
			turn = 360 * rnd.Float64()
		}
		mag := 1.0
		if rnd.IntN(2) == 0 {
			mag = 0.1 + 3*rnd.Float64()
		}
		tr := NewTransform(rnd.IntN(2) == 0, mag, turn, Point{rnd.IntN(2001) - 1000, rnd.IntN(2001) - 1000})
		x, y := rnd.IntN(2001)-1000, rnd.IntN(2001)-1000
		r := Box(x, y, x+rnd.IntN(300), y+rnd.IntN(300))
		want := EmptyRect()
		for _, p := range r.Ring() {
			want = want.Extend(tr.Apply(p))
		}
		if got := tr.Bounds(r); got != want {
			t.Fatalf("%v of %v: %v, want %v", tr, r, got, want)
		}
		if turn, upright := tr.Turn(); upright {
			if got := turn.Bounds(r); got != want {
				t.Fatalf("%v in whole numbers of %v: %v, want %v", tr, r, got, want)
			}
			uprights++
		}
	}
	if uprights < 500 {
		t.Errorf("only %d upright ones of magnification 1", uprights)
	}
	turn, _ := Identity.Turn()
	for _, got := range []Rect{Identity.Bounds(EmptyRect()), turn.Bounds(EmptyRect())} {
		if !got.Empty() {
			t.Errorf("of nothing: %v", got)
		}
	}
}
