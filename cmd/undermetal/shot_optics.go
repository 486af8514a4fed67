package main

import (
	"fmt"
	"io"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

// optics says what the objective resolves, and whether the pixels are fine enough for it.
func optics(s *dossier.Shot) (resolves, warning string) {
	f := s.Facts
	if f.NA == 0 || f.WavelengthNm == 0 {
		return "", ""
	}
	r := shot.Resolution(f.NA, f.WavelengthNm)
	resolves = fmt.Sprintf("%.3f µm", r/1000)
	if coarsest := shot.CoarsestPixel(f.NA, f.WavelengthNm); s.Scale.NmPerPx > coarsest {
		warning = fmt.Sprintf("pixels of %.3f µm are too coarse for what the objective shows: %.3f µm at most (λ/4NA); take it again with more magnification behind the objective, or a finer camera",
			s.Scale.NmPerPx/1000, coarsest/1000)
	}
	return resolves, warning
}

// warnOptics prints what optics has to say of a shot.
func warnOptics(w io.Writer, s *dossier.Shot) error {
	if _, warning := optics(s); warning != "" {
		_, err := fmt.Fprintf(w, "warning: %s: %s\n", s.Name, warning)
		return err
	}
	return nil
}

// farOff is by which part a scale may differ from what camera and objective make before it is warned of: tube lenses and
// objectives are good to a few per cent.
const farOff = 0.2

// warnScale prints a warning where the scale of a shot is far from what its camera and its objective make.
func warnScale(w io.Writer, s *dossier.Shot) error {
	times, ok := shot.Magnification(s.Facts.Objective)
	if !ok || s.Facts.CameraUm == 0 || s.Scale.NmPerPx == 0 {
		return nil
	}
	expected := s.Facts.CameraUm / times
	if math.Abs(um(s.Scale.NmPerPx)/expected-1) <= farOff {
		return nil
	}
	_, err := fmt.Fprintf(w, "warning: %s: %.4g µm a pixel, where camera pixels of %g µm behind an objective of %g× make %.4g µm\n    right with an adapter, binning or a scaled picture; else look at the figures again\n",
		s.Name, um(s.Scale.NmPerPx), s.Facts.CameraUm, times, expected)
	return err
}
