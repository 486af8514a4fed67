package align

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestSharp: spots with clear edges, reversed in the other picture, which shows them 0.3 px to the right and 0.2 px up. From maps
// that are off by 1 px to either side, what is learnt leads to one map, and no farther from the right one than three times
// the uncertainty that is told. Learning once leaves them farther apart, and more uncertain.
func TestSharp(t *testing.T) {
	const side = 320
	rnd := rand.New(rand.NewPCG(12, 13))
	var waves [24][3]float64
	for i := range waves {
		sin, cos := math.Sincos(2 * math.Pi * rnd.Float64())
		k := 2 * math.Pi / (12 + 30*rnd.Float64())
		waves[i] = [3]float64{k * cos, k * sin, 2 * math.Pi * rnd.Float64()}
	}
	picture := func(dx, dy, gain float64) *Image {
		img := &Image{Width: side, Height: side}
		for i := range side * side {
			sum := 0.0
			for _, w := range waves {
				sum += math.Cos(w[0]*(float64(i%side)-dx) + w[1]*(float64(i/side)-dy) + w[2])
			}
			img.Pix = append(img.Pix, float32(gain*math.Tanh(sum)+0.3*rnd.NormFloat64()))
		}
		return img
	}
	a, b := newHalvings(picture(0, 0, 1)), newHalvings(picture(0.3, -0.2, -0.7))
	truth := matrix{{1, 0, 0.3}, {0, 1, -0.2}, {0, 0, 1}}
	g := newGrid(a, b, 1)
	var once, sharp [2]candidate
	for i, off := range []float64{-0.7, 0.7} {
		c := candidate{m: truth.then(matrix{{1, 0, off}, {0, 1, -off}, {0, 0, 1}})}
		once[i], sharp[i] = g.learnt(c.m, 8), g.sharp(t.Context(), c)
		if e := apart(a[0], &truth, &sharp[i].m); !(e < 3*sharp[i].sigma && sharp[i].sigma < once[i].sigma) {
			t.Errorf("from %v px: off by %v px, uncertain by %v px, after one step by %v px", off, e, sharp[i].sigma, once[i].sigma)
		}
	}
	if one, both := apart(a[0], &once[0].m, &once[1].m), apart(a[0], &sharp[0].m, &sharp[1].m); !(both < one*2/3) {
		t.Errorf("they end %v px from each other, after one step %v px", both, one)
	}
}
