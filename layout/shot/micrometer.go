package shot

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Ruling is what was measured of the lines of a stage micrometer.
type Ruling struct {
	Period float64 // in px, from one line to the next, at right angles to the lines
	Sigma  float64 // its standard uncertainty by the scatter of the lines about equal distances
	Lines  int     // found
	Angle  float64 // of the way from line to line against the x axis, in degrees, y downward; good to half a degree
}

// Scale is the scale of a photograph of a ruling whose lines are pitch nm apart.
func (r Ruling) Scale(pitch, sigmaPitch float64) (Scale, error) {
	if !(pitch > 0) {
		return Scale{}, fmt.Errorf("a pitch of %g µm: give the distance of two neighbouring lines, above 0", pitch/1000)
	}
	s := pitch / r.Period
	how := fmt.Sprintf("stage micrometer: %d lines %g µm apart, period %s px", r.Lines, pitch/1000, Uncertain(r.Period, r.Sigma))
	return Scale{s, s * math.Hypot(sigmaPitch/pitch, r.Sigma/r.Period), how}.checked()
}

// minLines is how few lines are taken for a ruling: with fewer the scatter about equal distances says little.
const minLines = 6

// placing is how well the place of a line is taken to be known at best, in px: sampling and the lens leave so much even
// where lines happen to lie on equal distances.
const placing = 0.01

// MeasureRuling finds the parallel, equidistant lines in a photograph of a stage micrometer, whatever their direction
// and whether they are bright or dark; longer lines at every fifth or tenth and figures beside them do no harm.
//
//  1. the direction in which the tone changes most is the main axis of the structure tensor of the gradient
//     (J. Bigün, G. Granlund, 1987, from memory), refined by the sharpest profile
//  2. the profile along it is the mean tone, pixel by pixel
//  3. the period is the first high peak of its autocorrelation
//  4. each line is the centre of gravity of the profile about it, and the period the slope of the straight line
//     through their places by least squares, with the standard error of that slope
//
// It returns an error where there are fewer than six lines or they are not equidistant to a tenth of the period.
func MeasureRuling(r Reader) (Ruling, error) {
	g, err := readGrey(r)
	if err != nil {
		return Ruling{}, err
	}
	angle, s := g.sharpest(g.direction())
	lines, err := g.profile(angle, s).lines()
	if err != nil {
		return Ruling{}, err
	}
	period, sigma := slope(lines)
	sigma = max(sigma, placing/math.Sqrt(float64(len(lines)*(len(lines)*len(lines)-1))/12))
	if scatter := residual(lines); scatter > 0.1*period {
		return Ruling{}, fmt.Errorf("%d lines about %.1f px apart scatter by %.1f px: this is no ruling, or it is badly distorted; cut the picture to the lines", len(lines), period, scatter)
	}
	return Ruling{period * g.reduced, sigma * g.reduced, len(lines), angle * 180 / math.Pi}, nil
}

// grey is a picture in tones, made smaller by a whole factor where it was large.
type grey struct {
	w, h    int
	tone    []float32
	reduced float64
}

// greySide is how large a picture of a ruling is kept; more pixels would not place its lines better.
const greySide = 3000

// readGrey reads a picture, in means of n × n pixels where it is large.
func readGrey(r Reader) (*grey, error) {
	h := r.Header()
	n := (max(h.Width, h.Height) + greySide - 1) / greySide
	g := &grey{w: h.Width / n, h: h.Height / n, reduced: float64(n)}
	if g.w < 16 || g.h < 16 {
		return nil, fmt.Errorf("%d × %d pixels are too few for a ruling: 16 × 16 at least", h.Width, h.Height)
	}
	row := make([]byte, h.RowBytes())
	for y := range g.h * n {
		if err := r.ReadRow(row); err != nil {
			return nil, err // which says the row
		}
		if y%n == 0 {
			g.tone = append(g.tone, make([]float32, g.w)...)
		}
		out := g.tone[y/n*g.w:]
		px := Pixels{Width: h.Width, Height: 1, Channels: h.Channels, Depth: h.Depth, Data: row}
		for x := range g.w * n {
			for c := range h.Channels {
				out[x/n] += float32(px.at(x, c))
			}
		}
	}
	return g, nil
}

// at returns sample c of pixel x of the first row.
func (p *Pixels) at(x, c int) int {
	k := x*p.Channels + c
	if p.Depth == 8 {
		return int(p.Data[k])
	}
	return int(p.Data[2*k])<<8 | int(p.Data[2*k+1])
}

// direction returns the angle in which the tone changes most, in radians within ±π/2.
func (g *grey) direction() float64 {
	var xx, xy, yy float64
	for y := 1; y < g.h-1; y++ {
		for x := 1; x < g.w-1; x++ {
			i := y*g.w + x
			dx := float64(g.tone[i+1] - g.tone[i-1])
			dy := float64(g.tone[i+g.w] - g.tone[i-g.w])
			xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
		}
	}
	return math.Atan2(2*xy, xx-yy) / 2
}

// sharpest returns the angle near a and the strip with the profile of the most variation, the angle by ever finer steps.
func (g *grey) sharpest(a float64) (float64, strip) {
	best, bestOf := math.Inf(-1), strip{}
	for _, s := range g.strips() {
		if v := g.profile(a, s).variation(); v > best {
			best, bestOf = v, s
		}
	}
	for step := math.Pi / 180; step > 2e-5; step /= 4 {
		best := math.Inf(-1)
		from := a
		for i := -4; i <= 4; i++ {
			if v := g.profile(from+float64(i)*step, bestOf).variation(); v > best {
				best, a = v, from+float64(i)*step
			}
		}
	}
	return a, bestOf
}

// profile is the mean tone along a direction, a value a pixel.
type profile []float64

// strip is the part of a picture that a profile is taken from: from lo to hi across, 0 in the middle of the picture.
type strip struct{ lo, hi float64 }

// strips returns strips that overlap by half. A profile of one has the same number of pixels everywhere; with that of
// the whole picture, turned, lines would lean to where it has fewer.
func (g *grey) strips() (all []strip) {
	side := float64(min(g.w, g.h))
	for i := -3.0; i <= 3; i++ {
		all = append(all, strip{(i - 1) * side / 8, (i + 1) * side / 8})
	}
	return all
}

// profile returns the mean tone by the way along angle a. Each pixel counts for the two places that it lies between.
// The ends, where the picture cuts the strip, are left out.
func (g *grey) profile(a float64, s strip) profile {
	sin, cos := math.Sincos(a)
	n := int(math.Abs(cos)*float64(g.w)+math.Abs(sin)*float64(g.h)) + 3
	origin := min(0, cos*float64(g.w)) + min(0, sin*float64(g.h))
	sums, counts := make([]float64, n), make([]float64, n)
	middle := cos*float64(g.h)/2 - sin*float64(g.w)/2
	for y := range g.h {
		along, across := sin*float64(y)-origin, cos*float64(y)-middle
		for x, t := range g.tone[y*g.w : (y+1)*g.w] {
			if w := across - sin*float64(x); w < s.lo || w > s.hi {
				continue
			}
			v := along + cos*float64(x)
			i := int(v)
			f := v - float64(i)
			sums[i] += (1 - f) * float64(t)
			counts[i] += 1 - f
			sums[i+1] += f * float64(t)
			counts[i+1] += f
		}
	}
	sorted := slices.Sorted(slices.Values(counts))
	enough := 0.95 * sorted[n/2]
	lo, hi := 0, n
	for lo < hi && counts[lo] < enough {
		lo++
	}
	for hi > lo && counts[hi-1] < enough {
		hi--
	}
	p := make(profile, hi-lo)
	for i := range p {
		p[i] = sums[lo+i] / max(counts[lo+i], 1e-9)
	}
	return p
}

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

// period returns the period in px by the autocorrelation, 0 where there is none.
func (p profile) period() int {
	q := p.flattened(len(p) / 3)
	n := 1
	for n < 2*len(q) {
		n *= 2
	}
	fft := fourier.NewFFT(n)
	padded := make([]float64, n)
	copy(padded, q)
	c := fft.Coefficients(nil, padded)
	for i := range c {
		c[i] = complex(real(c[i]*cmplx.Conj(c[i])), 0)
	}
	auto := fft.Sequence(nil, c)[:len(q)/2]
	for i := range auto {
		auto[i] /= float64(len(q)-i) * float64(n)
	}
	start := slices.IndexFunc(auto, func(v float64) bool { return v < 0 })
	if start < 0 {
		return 0
	}
	high := slices.Max(auto[start:])
	for i := start + 1; i+1 < len(auto); i++ {
		if auto[i] > 0.6*high && auto[i] >= auto[i-1] && auto[i] >= auto[i+1] {
			return i
		}
	}
	return 0
}

// lines returns the places of the lines, one after the other, without a gap.
func (p profile) lines() ([]float64, error) {
	period := p.period()
	if period < 4 {
		return nil, errors.New("found no lines at equal distances of 4 px or more: cut the picture to the ruling, or take a larger magnification")
	}
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
	least := 0.3 * heights[len(heights)/2]
	middle := (len(q) - period) / 2
	around := q[middle : middle+period]
	middle += slices.Index(around, slices.Max(around))
	left := q.follow(middle-period, -period, least)
	slices.Reverse(left)
	lines := append(left, q.follow(middle, period, least)...)
	if len(lines) < minLines {
		return nil, fmt.Errorf("found %d lines at equal distances of %d px: a scale needs %d, the more the better", len(lines), period, minLines)
	}
	return lines, nil
}

// follow returns the lines from one near at on, step by step, as long as they stand out.
func (q profile) follow(at, step int, least float64) (lines []float64) {
	for {
		c, ok := q.centre(at, max(step, -step), least)
		if !ok {
			return lines
		}
		lines = append(lines, c)
		at = int(math.Round(c)) + step
	}
}

// centre returns the centre of gravity of the line near at: of what rises above the half of its height over a straight
// ground from the lowest place on its left to that on its right, since lines of unequal lengths tilt the ground. It is
// not ok where the end cuts the line off or it is lower than least.
func (q profile) centre(at, period int, least float64) (float64, bool) {
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
	top := q[at] - ground(at)
	if top < least {
		return 0, false
	}
	sum, moment := 0.0, 0.0
	for i := left; i <= right; i++ {
		if v := q[i] - ground(i) - top/2; v > 0 {
			sum += v
			moment += v * float64(i)
		}
	}
	return moment / sum, true
}

func lowest(v []float64) int { return slices.Index(v, slices.Min(v)) }

// slope returns the slope of the straight line through (i, v[i]) by least squares and its standard error.
func slope(v []float64) (b, sigma float64) {
	n := float64(len(v))
	mean := 0.0
	for _, x := range v {
		mean += x / n
	}
	sxy, sxx := 0.0, n*(n*n-1)/12
	for i, x := range v {
		sxy += (float64(i) - (n-1)/2) * (x - mean)
	}
	b = sxy / sxx
	return b, residualAbout(v, b, mean) / math.Sqrt(sxx)
}

// residual returns the standard deviation of the lines about equal distances, in px.
func residual(v []float64) float64 {
	b, _ := slope(v)
	mean := 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	return residualAbout(v, b, mean)
}

func residualAbout(v []float64, b, mean float64) float64 {
	n, sum := float64(len(v)), 0.0
	for i, x := range v {
		r := x - mean - b*(float64(i)-(n-1)/2)
		sum += r * r
	}
	return math.Sqrt(sum / (n - 2))
}
