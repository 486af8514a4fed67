package shot

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// grey is a picture in tones: a whole one, made smaller by a whole factor where it was large, or its middle.
type grey struct {
	w, h    int
	tone    []float32
	reduced float64
	hidden  float64 // the part of the variance of all tones that was lost in making it smaller, 0 to 1
}

// greySide is how large a picture of a ruling is kept; more pixels would not place its lines better.
const greySide = 3000

// readGrey reads a picture, in means of n × n pixels where it is large; then it returns the middle at full size, too.
func readGrey(ctx context.Context, r Reader) (whole, middle *grey, err error) {
	h := r.Header()
	n := (max(h.Width, h.Height) + greySide - 1) / greySide
	whole = &grey{w: h.Width / n, h: h.Height / n, reduced: float64(n)}
	if whole.w < 16 || whole.h < 16 {
		return nil, nil, fmt.Errorf("%d × %d pixels are too few for a ruling, or too long and narrow: 16 × 16 at least, and at most %d times as long as wide", h.Width, h.Height, greySide/16)
	}
	if n > 1 {
		middle = &grey{w: min(h.Width, greySide), h: min(h.Height, greySide), reduced: 1}
	}
	row, tones := make([]byte, h.RowBytes()), make([]float32, h.Width)
	var all spread
	for y := range whole.h * n {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if err := r.ReadRow(row); err != nil {
			return nil, nil, err // which says the row
		}
		tonesOf(tones, row, h)
		whole.add(tones, y, n)
		all.add(tones[:whole.w*n])
		if middle != nil && y >= (h.Height-middle.h)/2 && len(middle.tone) < middle.w*middle.h {
			middle.tone = append(middle.tone, tones[(h.Width-middle.w)/2:][:middle.w]...)
		}
	}
	if middle != nil {
		middle.h = len(middle.tone) / middle.w // the last rows may be left out
	}
	var kept spread
	kept.add(whole.tone)
	if v := all.variance(); v > 0 {
		whole.hidden = max(0, 1-kept.variance()/v)
	}
	return whole, middle, nil
}

// tonesOf writes the sum of each pixel's samples.
func tonesOf(tones []float32, row []byte, h *Header) {
	px := Pixels{Width: h.Width, Height: 1, Channels: h.Channels, Depth: h.Depth, Data: row}
	for x := range tones {
		tones[x] = 0
		for c := range h.Channels {
			tones[x] += float32(px.at(x, c))
		}
	}
}

// add adds row y of a large picture to the means of n × n pixels.
func (g *grey) add(tones []float32, y, n int) {
	if y%n == 0 {
		g.tone = append(g.tone, make([]float32, g.w)...)
	}
	out := g.tone[y/n*g.w:]
	for x, t := range tones[:g.w*n] {
		out[x/n] += t / float32(n*n)
	}
}

// spread sums up numbers for their variance.
type spread struct{ n, sum, squares float64 }

func (s *spread) add(tones []float32) {
	for _, t := range tones {
		s.sum += float64(t)
		s.squares += float64(t) * float64(t)
	}
	s.n += float64(len(tones))
}

func (s *spread) variance() float64 { return s.squares/s.n - s.sum/s.n*s.sum/s.n }

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
func (g *grey) sharpest(ctx context.Context, a float64) (float64, strip, error) {
	best, bestOf := math.Inf(-1), strip{}
	for _, s := range g.strips() {
		if v := g.profile(a, s).variation(); v > best {
			best, bestOf = v, s
		}
		if ctx.Err() != nil {
			return 0, strip{}, ctx.Err()
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
		if ctx.Err() != nil {
			return 0, strip{}, ctx.Err()
		}
	}
	return a, bestOf, nil
}

// strip is the part of a picture that a profile is taken from: from lo to hi across, 0 in the middle of the picture.
type strip struct{ lo, hi float64 }

// columns returns the columns of a row of width w that lie within the strip, where column x lies at across - sin·x.
func (s strip) columns(across, sin float64, w int) (lo, hi int) {
	if math.Abs(sin) < 1e-12 {
		if across < s.lo || across > s.hi {
			return 0, 0
		}
		return 0, w
	}
	x0, x1 := (across-s.lo)/sin, (across-s.hi)/sin
	x0, x1 = max(0, min(x0, x1)), min(float64(w-1), max(x0, x1))
	if x0 > x1 {
		return 0, 0
	}
	return int(math.Ceil(x0)), int(x1) + 1
}

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
		lo, hi := s.columns(across, sin, g.w)
		for x := lo; x < hi; x++ {
			t := g.tone[y*g.w+x]
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
