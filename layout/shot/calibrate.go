package shot

import (
	"fmt"
	"math"
)

// Scale is the size of a photograph's pixels on the die.
type Scale struct {
	NmPerPx float64
	Sigma   float64 // standard uncertainty of NmPerPx; common to all lengths of the photograph
	How     string  // how it was found, for people
}

// Length returns a length in nm of so many pixels and its standard uncertainty, from sigmaPx, that of the pixels, and
// the scale's: first order, the two taken as independent (JCGM 100:2008, 5.1.2).
func (s Scale) Length(px, sigmaPx float64) (nm, sigma float64) {
	return px * s.NmPerPx, math.Hypot(sigmaPx*s.NmPerPx, px*s.Sigma)
}

// String is the scale in µm with the digits that its uncertainty leaves.
func (s Scale) String() string {
	return Uncertain(s.NmPerPx/1000, s.Sigma/1000) + " µm/px"
}

// Uncertain writes a value and its standard uncertainty, this with two digits, as in "0.25040 ± 0.00031".
func Uncertain(v, sigma float64) string {
	if !(sigma > 0) {
		return fmt.Sprintf("%g", v)
	}
	digits := max(0, 1-int(math.Floor(math.Log10(sigma))))
	return fmt.Sprintf("%.*f ± %.*f", digits, v, digits, sigma)
}

// Typed is a scale that somebody states.
func Typed(nmPerPx, sigma float64) (Scale, error) {
	return Scale{nmPerPx, sigma, "stated"}.checked()
}

// FromPoints is the scale by two points of a photograph, in pixels, that lie distance nm apart. Each coordinate of a
// point is good to sigmaPx, the distance to sigmaNm; both are standard uncertainties.
//
//	s = D/d    (σs/s)² = (σD/D)² + 2(σpx/d)²
func FromPoints(px0, py0, px1, py1, distance, sigmaNm, sigmaPx float64) (Scale, error) {
	d := math.Hypot(px1-px0, py1-py0)
	if !(d >= 2) {
		return Scale{}, fmt.Errorf("the two points lie %.3g px apart: take two that lie far apart, the farther the better", d)
	}
	if !(distance > 0) {
		return Scale{}, fmt.Errorf("a distance of %g µm: give the real one, above 0", distance/1000)
	}
	s := distance / d
	how := fmt.Sprintf("%.1f px are %g µm, between (%.1f, %.1f) and (%.1f, %.1f)", d, distance/1000, px0, py0, px1, py1)
	return Scale{s, s * math.Hypot(sigmaNm/distance, math.Sqrt2*sigmaPx/d), how}.checked()
}

// FromPitch is FromPoints for two points that lie n periods of a known pitch in nm apart; what is uncertain about the
// pitch counts n times.
func FromPitch(px0, py0, px1, py1 float64, n int, pitch, sigmaPitch, sigmaPx float64) (Scale, error) {
	if n < 1 {
		return Scale{}, fmt.Errorf("%d periods: count those between the two points, at least 1", n)
	}
	s, err := FromPoints(px0, py0, px1, py1, float64(n)*pitch, float64(n)*sigmaPitch, sigmaPx)
	periods := "periods"
	if n == 1 {
		periods = "period"
	}
	s.How = fmt.Sprintf("%d %s of %g µm, between (%.1f, %.1f) and (%.1f, %.1f)", n, periods, pitch/1000, px0, py0, px1, py1)
	return s, err
}

// The smallest and the largest scale in nm that a photograph of a die can have: a hundredth of an atom, a millimetre.
const minScale, maxScale = 1e-3, 1e6

func (s Scale) checked() (Scale, error) {
	switch {
	case !(s.NmPerPx >= minScale && s.NmPerPx <= maxScale):
		return Scale{}, fmt.Errorf("%g µm a pixel: a photograph has between %g and %g", s.NmPerPx/1000, minScale/1000, maxScale/1000)
	case !(s.Sigma > 0):
		return Scale{}, fmt.Errorf("no uncertainty: state how far the scale may be off, as one standard deviation")
	case s.Sigma > s.NmPerPx/3:
		return Scale{}, fmt.Errorf("%s: the uncertainty is more than a third of the scale, which measures nothing", s)
	}
	return s, nil
}
