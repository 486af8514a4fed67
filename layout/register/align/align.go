package align

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// Mark is a place that is known in both pictures, roughly, in px; (0, 0) is the outer corner of the top left pixel.
type Mark struct{ A, B geom.Vec }

// Options says what is known before, and who hears how far it is.
type Options struct {
	Marks    []Mark             // set roughly by hand, two at least; none: it starts from nothing
	Within   float64            // how far off a mark may be, four standard deviations, in px of b; 0: 80
	Progress func(done float64) // of 1; may be nil
}

// Result is a map that can be relied on.
type Result struct {
	Map        register.Map // px of a to px of b
	Sigma      float64      // its standard uncertainty at the worst corner of what both show, px of b
	Confidence float64      // that it is the right one, from 0 to 1
}

// ErrRefused is wrapped by the error where no map can be relied on.
var ErrRefused = errors.New("no map can be relied on")

// What a map must have to be accepted: a confidence, and not too much uncertainty.
const (
	confidenceNeeded = 0.995
	sigmaAllowed     = 1.5 // px of b, at the worst corner
)

// sizeOfSearch is about how many px of a picture are across in the search, sizeOfFirst at the first level.
const sizeOfSearch, sizeOfFirst = 256.0, 280.0

// The range of scales, px of b for one of a, and the steps between them.
const smallest, largest, stepOfScale = 0.4, 2.5, 1.03

// Align finds the map from the pixels of a to those of b, two photographs of the same die that may look different. Where
// what they have in common does not say it beyond doubt, the error wraps ErrRefused and says why.
func Align(ctx context.Context, a, b *Image, o Options) (*Result, error) {
	if err := errors.Join(a.check(), b.check(), o.check()); err != nil {
		return nil, err
	}
	progress := func(done float64) {
		if o.Progress != nil {
			o.Progress(done)
		}
	}
	ha, hb := newHalvings(a), newHalvings(b)
	s := &space{ways: []int{0, 1, 2, 3, 4, 5, 6, 7}, scales: steps(smallest, largest, stepOfScale), most: 24}
	turnsA, turnsB := ha.directions(), hb.directions()
	s.turnA, s.turnB = turnsA[0], turnsB[0]
	within := cmp.Or(o.Within, 80)
	if len(o.Marks) > 0 {
		if err := s.near(o.Marks, within, turnsA, turnsB); err != nil {
			return nil, err
		}
	}
	var found []candidate
	var best candidate
	var v verdict
	for _, p := range s.passes(len(o.Marks) == 0) {
		part := func(from, to float64) func(done float64) {
			return func(done float64) { progress(p.from + (p.to-p.from)*(from+(to-from)*done)) }
		}
		s.scales = p.scales
		next := s.sift(ctx, ha, hb, s.search(ctx, ha, hb, part(0, 0.6)))
		if part(0.6, 0.8)(1); ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if len(next) == 0 {
			continue
		}
		found = append(next, found...) // those of the pass before are rivals
		best, v = s.decide(ctx, ha, hb, found, part(0.8, 1))
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if best.oneDie(ha, &v) >= confidenceNeeded {
			break
		}
	}
	if len(found) == 0 {
		return nil, fmt.Errorf("%w: nothing that both pictures show is alike", ErrRefused)
	}
	r, err := accept(ha, best, v, func() float64 { return newGrid(ha, hb, finest(ha, &best.m)).beside(ctx, best.m) })
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	progress(1)
	if err == nil {
		err = s.contradicted(&best.m, o.Marks, within)
	}
	if err != nil {
		return nil, err
	}
	return r, nil
}

// pass is a search through some scales, and what part of all the work it is told to be.
type pass struct {
	scales   []float64
	from, to float64
}

// passes are one by marks. From nothing there is a second one, where the first found no map of one die: it goes through the
// scales between, since a scale that is half a step off, together with a turn that is half a degree off, hides the right place
// from the search. Most pairs do not need it, so it is told as if it were short.
func (s *space) passes(fromNothing bool) []pass {
	if !fromNothing {
		return []pass{{s.scales, 0, 0.95}}
	}
	var between []float64
	for i := range len(s.scales) - 1 {
		between = append(between, math.Sqrt(s.scales[i]*s.scales[i+1]))
	}
	return []pass{{s.scales, 0, 0.9}, {between, 0.9, 0.98}}
}

// understated is by how much the errors of maps are larger than the scatter of patches says: patches that show the same
// cell err alike, and what is learnt is learnt from the pixels that are compared. Found on generated pairs, where the
// error at the worst corner had a median of 3.5 standard uncertainties.
const understated = 3

// disputed is how many standard errors the pictures alone may speak for a place that marks speak against: in arrays a place
// that is not the right one led by up to 10. Beyond, marks do not help.
const disputed = 2 * enoughLead

// accept makes the result, or says why there is none. How uncertain what lies beside it makes the best, beside says, which is
// asked where nothing else speaks against it.
func accept(a halvings, best candidate, v verdict, beside func() float64) (*Result, error) {
	one, alone := best.oneDie(a, &v), noRival(v.lead)
	sigma := understated * best.sigma
	switch {
	case !(one >= confidenceNeeded):
		definite := fmt.Sprintf("to %.1f px", sigma)
		if math.IsInf(sigma, 0) || math.IsNaN(sigma) {
			definite = "at no definite place"
		}
		return nil, fmt.Errorf("%w: the best has too little in common, or at no place as definite, for pictures of one die (%.0f standard errors, %s)", ErrRefused, best.score, definite)
	case !(alone >= confidenceNeeded):
		return nil, fmt.Errorf("%w: another, which puts a corner %.0f px elsewhere, is nearly as good (%.1f standard errors less), as in an array that matches itself a pitch away", ErrRefused, apart(a[0], &best.m, &v.rival.m), max(0, v.lead))
	case v.plain < -disputed:
		return nil, fmt.Errorf("%w: by the pictures alone another place is better by %.0f standard errors, and the marks are too far off there: they may be set wrong", ErrRefused, -v.plain)
	}
	if sigma <= sigmaAllowed {
		sigma = max(sigma, understated*beside())
	}
	if !(sigma <= sigmaAllowed) {
		return nil, fmt.Errorf("%w: what the pictures have in common leaves a corner uncertain by %.1f px", ErrRefused, sigma)
	}
	m, err := register.ParseMap(register.Projective, slices.Concat(best.m[0][:], best.m[1][:], best.m[2][:]))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	return &Result{m, sigma, min(one, alone)}, nil
}

// usualLead is the mean lead over its rivals, in standard errors, of the best map of pictures of two dies, of which none is
// right. It was about exponentially distributed on generated pairs.
const usualLead = 1.5

// usual is what pictures of two dies have in common under the best map: mean and spread of its sameness, which was about
// normally distributed on generated pairs.
type usual struct{ sameness, spread float64 }

// Marks leave far fewer maps, and of few the best has less in common than of many: of 39 generated pairs of two dies 9 had no
// definite place, and the others a sameness of 8.9 in the mean, with a spread of 5.7; the largest was 26.8, of an array.
var fromNothing, byMarks = usual{18, 9}, usual{12, 8}

// noRival is the confidence that it is this map and none of its rivals, of which marks tell, too.
func noRival(lead float64) float64 { return 1 - math.Exp(-max(0, lead)/usualLead) }

// oneDie is the confidence that there is a map at all, of which marks tell only by how many maps they leave: by sameness, or
// by it and by the lead of the pictures alone together (R. A. Fisher's way to combine two chances, Statistical methods for
// research workers, 1932, formula from memory).
//
// Sameness is what two pictures have in common and how sharply they have it just there: where rails lie on rails, pictures
// of two dies have as much in common as some of one have, but at no place as definite.
func (c *candidate) oneDie(a halvings, v *verdict) float64 {
	sameness := c.score - 15*math.Log(c.sigma*finest(a, &c.m))
	chance := math.Erfc((sameness-v.usual.sameness)/(v.usual.spread*math.Sqrt2)) / 2
	both := chance * math.Exp(-max(0, v.plain)/usualLead)
	return 1 - min(chance, both*(1-math.Log(max(both, math.SmallestNonzeroFloat64))))
}

// LeastSide is how many pixels a picture has across and down, at least, by which a place can be found.
const LeastSide = 128

// check returns an error where a picture is too small, or none.
func (img *Image) check() error {
	if len(img.Pix) != img.Width*img.Height {
		return fmt.Errorf("%d samples for a picture of %d × %d pixels", len(img.Pix), img.Width, img.Height)
	}
	if img.Width < LeastSide || img.Height < LeastSide {
		return fmt.Errorf("%w: a picture of %d × %d pixels: %d a side at least are needed to find a place", ErrRefused, img.Width, img.Height, LeastSide)
	}
	for i, v := range img.Pix {
		if !(math.Abs(float64(v)) < 1e9) {
			return fmt.Errorf("the sample at (%d, %d) is %g", i%img.Width, i/img.Width, v)
		}
	}
	return nil
}

// check returns an error where marks say nothing.
func (o *Options) check() error {
	if len(o.Marks) == 0 {
		return nil
	}
	if !(o.Within >= 0 && o.Within < 1e9) {
		return fmt.Errorf("marks that are off by up to %g px: give a distance", o.Within)
	}
	var farA, farB float64
	for i, m := range o.Marks {
		if !(math.Abs(m.A.X)+math.Abs(m.A.Y)+math.Abs(m.B.X)+math.Abs(m.B.Y) < 1e9) {
			return fmt.Errorf("mark %d goes from (%g, %g) to (%g, %g)", i+1, m.A.X, m.A.Y, m.B.X, m.B.Y)
		}
		farA = max(farA, math.Hypot(m.A.X-o.Marks[0].A.X, m.A.Y-o.Marks[0].A.Y))
		farB = max(farB, math.Hypot(m.B.X-o.Marks[0].B.X, m.B.Y-o.Marks[0].B.Y))
	}
	if min(farA, farB) < 16 {
		return errors.New("the marks lie on each other: give two at least, three better, far apart")
	}
	return nil
}
