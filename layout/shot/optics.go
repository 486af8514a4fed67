package shot

import (
	"regexp"
	"strconv"
)

// Resolution returns the smallest distance in nm of two points that an objective of numerical aperture na resolves in
// light of a wavelength in nm: Rayleigh's criterion, 3.8317/2π · λ/NA (the first zero of the Airy pattern; M. Born,
// E. Wolf, Principles of Optics), for self-luminous points; illumination and contrast may do a little better or worse.
func Resolution(na, wavelength float64) float64 { return 0.6098 * wavelength / na }

// CoarsestPixel returns the largest pixel in nm on the die that loses nothing of what the objective transmits: half the
// period of its cut-off, 2NA/λ (incoherent light), by the sampling theorem.
func CoarsestPixel(na, wavelength float64) float64 { return wavelength / (4 * na) }

// magnification is a number before an x or a times sign, as objectives carry it.
var magnification = regexp.MustCompile(`(?:^|[^\d.,])(\d{1,3}(?:\.\d+)?)\s?[xX×]`)

// Magnification reads that of an objective from what it says on it, as in "50x", "Plan 50×/0.8" or "2.5 x"; false where
// it says none.
func Magnification(objective string) (float64, bool) {
	m := magnification.FindStringSubmatch(objective)
	if m == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(m[1], 64)
	return v, err == nil && v > 0
}
