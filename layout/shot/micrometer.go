package shot

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// Ruling is what was measured of the lines of a stage micrometer.
type Ruling struct {
	Period float64 // in px, from one line to the next, at right angles to the lines; the mean over them
	Sigma  float64 // its standard uncertainty for lengths anywhere along the lines: scatter and distortion
	Lines  int     // found
	Angle  float64 // of the way from line to line against the x axis, in degrees, y downward; good to half a degree
	Uneven float64 // root mean square by which the period departs from its mean, as a part of it; 0 where none shows
}

// Scale is the scale of a photograph of a ruling whose lines are pitch nm apart.
func (r Ruling) Scale(pitch, sigmaPitch float64) (Scale, error) {
	if !(pitch > 0) {
		return Scale{}, fmt.Errorf("a pitch of %g µm: give the distance of two neighbouring lines, above 0", pitch/1000)
	}
	s := pitch / r.Period
	how := fmt.Sprintf("stage micrometer: %d lines %g µm apart, period %s px", r.Lines, pitch/1000, Uncertain(r.Period, r.Sigma))
	if r.Uneven > 0 {
		how += fmt.Sprintf("; it changes by %.2g %% across the picture (the lens distorts, or the stage was tilted)", 100*r.Uneven)
	}
	return Scale{s, s * math.Hypot(sigmaPitch/pitch, r.Sigma/r.Period), how}.checked()
}

// minLines is how few lines are taken for a ruling: with fewer the scatter about equal distances says little.
const minLines = 6

// MeasureRuling finds the parallel, equidistant lines in a photograph of a stage micrometer, whatever their direction
// and whether they are bright or dark; longer lines at every fifth or tenth and figures beside them do no harm.
//
//  1. the direction in which the tone changes most is the main axis of the structure tensor of the gradient
//     (J. Bigün, G. Granlund, 1987, from memory), refined by the sharpest profile
//  2. the profile along it is the mean tone, pixel by pixel
//  3. the period is the first high peak of its autocorrelation
//  4. each line is where a smooth window about as wide as a line holds most of the profile, and the period the slope of
//     the curve through their places; see fitSpacing
//
// A large photograph is measured made smaller, and its middle at full size, where finer lines show; the first counts
// where the two agree, since it holds more lines.
//
// It returns an error where there are fewer than six lines or they are not equidistant to a tenth of the period, that
// of the reader, or the context's.
func MeasureRuling(ctx context.Context, r Reader) (Ruling, error) {
	whole, middle, err := readGrey(ctx, r)
	if err != nil {
		return Ruling{}, err
	}
	if middle == nil {
		return whole.ruling(ctx)
	}
	fine, errFine := middle.ruling(ctx)
	if ctx.Err() != nil {
		return Ruling{}, ctx.Err()
	}
	n := int(whole.reduced)
	if errors.Is(errFine, errTooFine) { // made smaller, it would show every fifth of them at most
		return Ruling{}, fmt.Errorf("in the middle %d × %d pixels: %w", middle.w, middle.h, errFine)
	}
	if errFine != nil && whole.hidden > 0.5 {
		return Ruling{}, fmt.Errorf("in the middle %d × %d pixels: %w; made %d times smaller, the photograph loses most of what changes in it: cut it to the ruling, at most %d pixels a side", middle.w, middle.h, errFine, n, greySide)
	}
	coarse, errCoarse := whole.ruling(ctx)
	switch {
	case errFine == nil && (errCoarse != nil || math.Abs(coarse.Period/fine.Period-1) > 0.02):
		return fine, nil
	case errFine != nil && errCoarse != nil && ctx.Err() == nil:
		return Ruling{}, fmt.Errorf("made %d times smaller: %w; in the middle %d × %d pixels: %w", n, errCoarse, middle.w, middle.h, errFine)
	}
	return coarse, errCoarse
}

// ruling measures the lines of a picture.
func (g *grey) ruling(ctx context.Context) (Ruling, error) {
	angle, s, err := g.sharpest(ctx, g.direction())
	if err != nil {
		return Ruling{}, err
	}
	lines, err := g.finest(angle, s).lines()
	if err != nil {
		return Ruling{}, err
	}
	f := fitSpacing(lines)
	if scatter := math.Hypot(f.scatter, f.uneven); scatter > 0.1*f.period {
		return Ruling{}, fmt.Errorf("%d lines about %.1f px apart scatter by %.1f px: this is no ruling, or it is badly distorted; cut the picture to the lines", len(lines), f.period, scatter)
	}
	r := Ruling{Period: f.period * g.reduced, Sigma: f.total() * g.reduced, Lines: len(lines), Angle: angle * 180 / math.Pi}
	if f.bent() {
		r.Uneven = f.uneven / f.period
	}
	return r, nil
}

// finest returns the profile of strip s, or of another one whose lines are clearly closer: where the lines of a ruling
// are hardly resolved, every fifth, which is longer, stands out more where it stands alone.
func (g *grey) finest(angle float64, s strip) profile {
	best := g.profile(angle, s)
	least, _ := best.period()
	for _, other := range g.strips() {
		p := g.profile(angle, other)
		if px, height := p.period(); px > 0 && px < 0.7*least && height > 0.5 {
			best, least = p, px
		}
	}
	return best
}

// The errors for a profile without lines, and with lines too close to each other to be placed.
var (
	errNoLines = errors.New("found no lines at equal distances: cut the picture to the ruling")
	errTooFine = errors.New("the lines are less than 4 px apart: take a larger magnification")
)
