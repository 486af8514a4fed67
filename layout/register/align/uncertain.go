package align

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// covariance is that of the parameters at the top of the surfaces' sum: H⁻¹·G·H⁻¹, where G is the sum of the squares of
// single surfaces' gradients (P. J. Huber, The behavior of maximum likelihood estimates under nonstandard conditions,
// 1967, from memory). nil where there is no top.
func covariance(all []surface, b *bend) *mat.Dense {
	_, hessian, squares, _ := slopes(all, b)
	var cholesky mat.Cholesky
	if !cholesky.Factorize(hessian) {
		return nil
	}
	var half, c mat.Dense
	if cholesky.SolveTo(&half, squares) != nil || cholesky.SolveTo(&c, half.T()) != nil {
		return nil
	}
	n := float64(len(all))
	c.Scale(n/max(1, n-float64(b.free)/2), &c)
	return &c
}

// What a microscope's picture is expected to differ by from another one beyond turn, size and shift, one standard
// deviation: tilt is the change of scale by perspective from the middle of the patches to their usual distance from it
// (microscopes look straight down), skew what pixels that are not square do (common practice; no source).
const tilt, skew = 0.0006, 0.0015

// steady takes back as much of perspective and skew as their uncertainty makes unlikely, and returns the covariance that
// is left: the mean of a normal distribution of which some sums are known beforehand (JCGM 102:2011 calls it prior
// knowledge). from takes px of the level to those of the other picture, where b is not bent.
func steady(c *mat.Dense, b *bend, from *matrix) *mat.Dense {
	if c == nil || b.free < 6 {
		return c
	}
	// What from has of each already, and how the parameters add to it.
	n := matrix{{b.unit, 0, b.cx}, {0, b.unit, b.cy}, {0, 0, 1}}.then(*from)
	w := n[2][2]
	var l [2][2]float64
	for i := range 2 {
		for j := range 2 {
			l[i][j] = (n[i][j] - n[i][2]/w*n[2][j]) / w
		}
	}
	xx, yy, xy := l[0][0]*l[0][0]+l[1][0]*l[1][0], l[0][1]*l[0][1]+l[1][1]*l[1][1], l[0][0]*l[0][1]+l[1][0]*l[1][1]
	known := []struct {
		row   [8]float64
		now   float64
		sigma float64
	}{
		{[8]float64{0, 0, 0.5, 0, 0, -0.5}, (xx - yy) / (xx + yy) / 2, skew},
		{[8]float64{0, 0, 0, 0.5, 0.5}, xy / (xx + yy), skew},
		{[8]float64{6: 1}, n[2][0] / w, tilt},
		{[8]float64{7: 1}, n[2][1] / w, tilt},
	}
	known = known[:b.free-4] // an affine map has no perspective
	h, t := mat.NewDense(len(known), b.free, nil), mat.NewDense(len(known), len(known), nil)
	off := mat.NewVecDense(len(known), nil)
	for i, k := range known {
		sum := k.now
		for j := range b.free {
			h.Set(i, j, k.row[j])
			sum += k.row[j] * b.p[j]
		}
		off.SetVec(i, sum)
		t.Set(i, i, k.sigma*k.sigma)
	}
	var ch, hch, gain, step, less mat.Dense
	ch.Mul(c, h.T())
	hch.Mul(h, &ch)
	hch.Add(&hch, t)
	if gain.Solve(hch.T(), ch.T()) != nil { // gainᵀ = (H·C·Hᵀ + T)⁻¹·H·Cᵀ
		return c
	}
	step.Mul(gain.T(), off)
	for j := range b.free {
		b.p[j] -= step.At(j, 0)
	}
	less.Mul(gain.T(), ch.T())
	less.Sub(c, &less)
	return &less
}

// spread is the standard uncertainty of where a place of the level lies, in px of it, of both coordinates together.
func (b *bend) spread(c *mat.Dense, px, py float64) float64 {
	rx, ry := b.rows((px-b.cx)/b.unit, (py-b.cy)/b.unit)
	sum := 0.0
	for i := range b.free {
		for j := range b.free {
			sum += (rx[i]*rx[j] + ry[i]*ry[j]) * c.At(i, j)
		}
	}
	return b.unit * math.Sqrt(max(0, sum))
}

// worst is the largest uncertainty at the corners of what the surfaces cover, in px of the resolution.
func worst(all []surface, b *bend, c *mat.Dense) (sigma float64) {
	if c == nil {
		return math.Inf(1)
	}
	x0, y0, x1, y1 := all[0].x, all[0].y, all[0].x, all[0].y
	for i := range all {
		x0, y0, x1, y1 = min(x0, all[i].x), min(y0, all[i].y), max(x1, all[i].x), max(y1, all[i].y)
	}
	for _, x := range []float64{x0, x1} {
		for _, y := range []float64{y0, y1} {
			sigma = max(sigma, b.spread(c, x, y))
		}
	}
	return sigma
}
