package shot

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// profile is the mean tone along a direction, a value a pixel.
type profile []float64

// variation is the mean square of the change over two pixels.
func (p profile) variation() float64 {
	sum := 0.0
	for i := 2; i < len(p); i++ {
		sum += (p[i] - p[i-2]) * (p[i] - p[i-2])
	}
	return sum / float64(max(len(p)-2, 1))
}

// flattened returns the profile less its mean over n pixels around, by which uneven light falls away.
func (p profile) flattened(n int) profile {
	sums := make([]float64, len(p)+1)
	for i, v := range p {
		sums[i+1] = sums[i] + v
	}
	q := make(profile, len(p))
	for i := range p {
		lo, hi := max(0, i-n/2), min(len(p), i+n/2+1)
		q[i] = p[i] - (sums[hi]-sums[lo])/float64(hi-lo)
	}
	return q
}

// finer is how many steps of the autocorrelation make a pixel: the period of fine lines is far from a whole number, and
// at whole pixels a multiple of it would have the highest peak.
const finer = 4

// period returns the period in px by the autocorrelation, 0 where there is none, and how high its peak is, 1 at most.
func (p profile) period() (px, height float64) {
	q := p.flattened(len(p) / 3)
	n := 1
	for n < 2*len(q) {
		n *= 2
	}
	padded := make([]float64, n)
	copy(padded, q)
	c := fourier.NewFFT(n).Coefficients(nil, padded)
	for i := range c {
		c[i] = complex(real(c[i]*cmplx.Conj(c[i])), 0)
	}
	c = append(c, make([]complex128, finer*n/2-n/2)...)
	auto := fourier.NewFFT(finer*n).Sequence(nil, c)[:finer*len(q)/2]
	for i := range auto {
		auto[i] /= float64(len(q)) - float64(i)/finer
	}
	start := slices.IndexFunc(auto, func(v float64) bool { return v < 0 })
	if start < 0 {
		return 0, 0
	}
	high := slices.Max(auto[start:])
	for i := start + 1; i+1 < len(auto); i++ {
		if auto[i] > 0.6*high && auto[i] >= auto[i-1] && auto[i] >= auto[i+1] {
			return float64(i) / finer, auto[i] / auto[0]
		}
	}
	return 0, 0
}

// lines returns the places of the lines, one after the other, without a gap.
func (p profile) lines() ([]float64, error) {
	exact, _ := p.period()
	switch {
	case exact == 0:
		return nil, errNoLines
	case exact < 4:
		return nil, errTooFine
	}
	period := int(math.Round(exact))
	q := p.flattened(period)
	cube := 0.0
	for _, v := range q {
		cube += v * v * v
	}
	if cube < 0 { // dark lines: they take less room than what is between them
		for i := range q {
			q[i] = -q[i]
		}
	}
	var heights []float64
	for i := 0; i+period <= len(q); i += period {
		heights = append(heights, slices.Max(q[i:i+period]))
	}
	slices.Sort(heights)
	f := follower{q: q, period: period, least: 0.3 * heights[len(heights)/2]}
	f.window = f.width()
	middle := (len(q) - period) / 2
	around := q[middle : middle+period]
	middle += slices.Index(around, slices.Max(around))
	left := f.follow(middle-period, -period)
	slices.Reverse(left)
	lines := append(left, f.follow(middle, period)...)
	if len(lines) < minLines {
		return nil, fmt.Errorf("found %d lines at equal distances of %.1f px: a scale needs %d, the more the better", len(lines), exact, minLines)
	}
	return lines, nil
}

// follower goes along a profile from line to line.
type follower struct {
	q      profile
	period int
	least  float64 // the height of a line at least
	window float64 // px, from the middle of the window in which a line is placed to its rim
}

// width returns the width at half height of the highest line of all, in px; it is 2 at least and half a period at most.
func (f *follower) width() float64 {
	n := len(f.q) / f.period * f.period
	wide := 0
	for _, v := range f.q[:n] {
		if v > f.least { // 0.3 of the usual height above the mean of all is about half of that above the ground
			wide++
		}
	}
	return max(2, min(float64(wide)/float64(n/f.period), float64(f.period)/2))
}

// follow returns the lines from one near at on, step by step, as long as they stand out.
func (f *follower) follow(at, step int) (lines []float64) {
	for {
		c, ok := f.centre(at)
		if !ok {
			return lines
		}
		lines = append(lines, c)
		at = int(math.Round(c)) + step
	}
}

// centre returns the place of the line near at: where a window of weights (1 - t²)³ holds most of the profile above a
// straight ground, from the lowest place on its left to that on its right, since lines of unequal lengths tilt the
// ground. The window is smooth, so that the place does not lean to whole pixels: where the period is nearly a whole
// number, the leaning would be much the same from line to line, and no scatter would show it. It is found by going to
// the centre of gravity again and again (mean shift: K. Fukunaga, L. Hostetler, 1975, from memory).
//
// It is not ok where the end cuts the line off or it is lower than least.
func (f *follower) centre(at int) (float64, bool) {
	q, period := f.q, f.period
	reach := period/2 + period/8
	if at-reach < 0 || at+reach >= len(q) {
		return 0, false
	}
	near := q[at-period/3 : at+period/3+1]
	at += slices.Index(near, slices.Max(near)) - period/3
	lo, hi := max(0, at-period/2), min(len(q)-1, at+period/2)
	left, right := lo+lowest(q[lo:at+1]), at+lowest(q[at:hi+1])
	ground := func(i int) float64 {
		return q[left] + (q[right]-q[left])*float64(i-left)/float64(max(right-left, 1))
	}
	if q[at]-ground(at) < f.least {
		return 0, false
	}
	c := float64(at)
	for range 200 {
		sum, moment := 0.0, 0.0
		for i := max(0, int(c-f.window)); i <= min(len(q)-1, int(c+f.window)+1); i++ {
			t := (float64(i) - c) / f.window
			w := max(0, 1-t*t)
			sum += w * w * (q[i] - ground(i))
			moment += w * w * (q[i] - ground(i)) * float64(i)
		}
		next := moment / sum
		if !(math.Abs(next-float64(at)) <= float64(period)/2) {
			return 0, false
		}
		if math.Abs(next-c) < 1e-5 {
			return next, true
		}
		c = next
	}
	return c, true
}

func lowest(v []float64) int { return slices.Index(v, slices.Min(v)) }
