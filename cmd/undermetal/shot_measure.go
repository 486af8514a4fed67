package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// measureFlags are the flags of undermetal shot measure.
type measureFlags struct {
	px        bool
	periods   int
	markSigma float64
}

func newShotMeasure() *cobra.Command {
	var f measureFlags
	c := &cobra.Command{
		Use:   "measure DOSSIER SHOT X,Y:X,Y",
		Short: "measure a length, or a pitch, in a photograph",
		Long: `measure says how far apart two places of a calibrated or registered photograph lie. They are given in µm of the frame, or
with units as in 20um,1.2mm:25um,1.2mm, or with --px in pixels from the top left corner. What begins with a minus stands
behind --, as in: measure kiln.dossier bare -- -5,3:7,3

--periods N says that the two places lie N periods of a row apart, and gives the pitch, which is the better known the
more there are.

Every length has an uncertainty (one standard deviation) of two parts: that of the marks, --mark-sigma pixels in each
coordinate, and that of the scale, which all lengths of a photograph have in common, so that it cancels in ratios. The
scale's comes from the calibration that gave the frame its scale and, for a registered photograph, from what the map
misses the control points by.`,
		Example: `  undermetal shot measure kiln.dossier bare 41.5,120:60.5,120
  undermetal shot measure kiln.dossier bare 812,400:3316,404 --px --periods 12 --mark-sigma 0.5`,
		Args: exactly(3, "a dossier, the name of a shot and two places"),
		RunE: func(c *cobra.Command, args []string) error { return doMeasure(c, args, &f) },
	}
	f.markSigma = 1
	c.Flags().BoolVar(&f.px, "px", false, "the places are in pixels")
	c.Flags().IntVar(&f.periods, "periods", 0, "how many periods lie between the places")
	c.Flags().Var(quantity{&f.markSigma, ""}, "mark-sigma", "how well each coordinate of a mark is known, in pixels")
	return c
}

func doMeasure(c *cobra.Command, args []string, f *measureFlags) error {
	switch {
	case c.Flags().Changed("periods") && f.periods < 1:
		return usagef("--periods %d: count those between the two places, at least 1", f.periods)
	case !(f.markSigma >= 0 && f.markSigma <= 1e6):
		return usagef("--mark-sigma %g px: give one from 0 to 1000000 px", f.markSigma)
	}
	return readDossier(c, args[0], func(d *dossier.Dossier) error {
		s, err := findShot(d, args[1])
		if err != nil {
			return err
		}
		p, err := d.Locate(s)
		if err != nil {
			return err
		}
		if p.ToFrame == nil {
			return fmt.Errorf("%s is neither calibrated nor registered, so that its pixels have no length\n    undermetal shot calibrate gives it a scale", s.Name)
		}
		a, b, err := f.places(p, args[2])
		if err != nil {
			return err
		}
		ruler := register.Ruler{Map: p.ToFrame, SigmaPx: f.markSigma}
		var notes []string
		frame, own, missing, err := scaleSigma(d, p)
		if ruler.SigmaScale, notes = math.Hypot(frame, own), missing; err != nil {
			return err
		}
		l, err := ruler.Pitch(a, b, max(1, f.periods))
		if err != nil {
			return fmt.Errorf("%s: %w", s.Name, err)
		}
		if err := f.print(c.OutOrStdout(), p, a, b, l); err != nil {
			return err
		}
		e := &printer{w: c.ErrOrStderr()}
		for _, n := range notes {
			e.f("warning: %s: %s\n", s.Name, n)
		}
		return e.err
	})
}

// places reads the two places, in px.
func (f *measureFlags) places(p *dossier.Located, text string) (a, b geom.Vec, err error) {
	first, second, ok := strings.Cut(text, ":")
	if !ok {
		return a, b, usagef("%s: there is no : between two places\n    give them in µm, as in 41.5,120:60.5,120, or in pixels with --px", text)
	}
	for i, t := range []string{first, second} {
		v, err := f.place(p, t)
		if err != nil {
			return a, b, usagef("%s: %v\n    give two places in µm, as in 41.5,120:60.5,120, or in pixels with --px", text, err)
		}
		if !p.Inside(v) {
			return a, b, fmt.Errorf("%s: %s lies outside of %s, which has %.0f × %.0f pixels%s%s", text, t, p.Name, p.Width, p.Height, extent(p), reaches(p))
		}
		if i == 0 {
			a = v
		} else {
			b = v
		}
	}
	return a, b, nil
}

func (f *measureFlags) place(p *dossier.Located, text string) (geom.Vec, error) {
	if f.px {
		v, err := numbers(strings.TrimSuffix(text, "px"), 2)
		if err != nil {
			return geom.Vec{}, err
		}
		return geom.Vec{X: v[0], Y: v[1]}, nil
	}
	x, y, px, err := parsePlace(text)
	if err == nil && px {
		err = fmt.Errorf("pixels want --px")
	}
	return p.FromFrame.Apply(geom.Vec{X: x * 1000, Y: y * 1000}), err
}

// scaleSigma returns the standard uncertainty of a photograph's scale as a part of it, that which it has with the frame, and so with all
// that are registered, and its own; and what is missing in it.
func scaleSigma(d *dossier.Dossier, p *dossier.Located) (frame, own float64, notes []string, err error) {
	if p.Registration == nil {
		return 0, p.Scale.Sigma / p.Scale.NmPerPx, nil, nil
	}
	first, fixes, err := d.FrameScale()
	if err != nil {
		return 0, 0, nil, err
	}
	switch {
	case fixes:
		frame = first.Scale.Sigma / first.Scale.NmPerPx
	case first != nil:
		notes = append(notes, fmt.Sprintf("the frame has its scale from the control points, which the calibration of %s contradicts: how well the lengths between them are known is not in the uncertainty", first.Name))
	default:
		notes = append(notes, "no photograph is calibrated that has its place by control points: how well the lengths between the control points are known is not in the uncertainty")
	}
	k, err := d.MapScale(p)
	if err != nil {
		return 0, 0, nil, err
	}
	if math.IsNaN(k.Sigma) {
		k.Sigma = 0
		if first != nil && first.ID == p.ID {
			return frame, 0, notes, nil // it is the one that the frame has its scale from
		}
		notes = append(notes, "the control points do not say how well its map knows the scale: that is not in the uncertainty; give more, or another --map")
	}
	return frame, k.Sigma / k.NmPerPx, notes, nil
}

func (f *measureFlags) print(w io.Writer, p *dossier.Located, a, b geom.Vec, l register.Length) error {
	o := &printer{w: w}
	o.f("%s: %s", p.Name, l.String())
	if f.periods > 0 {
		o.f(", the pitch over %s", counted(f.periods, "period"))
	}
	o.f("\n    marks ± %.2g µm (%g px in each coordinate), scale ± %.2g µm\n", um(tidy(l.SigmaMarks)), f.markSigma, um(tidy(l.SigmaScale)))
	qa, qb := p.ToFrame.Apply(a), p.ToFrame.Apply(b)
	o.f("    from (%.5g, %.5g) to (%.5g, %.5g) µm, %.5g px apart\n", um(tidy(qa.X)), um(tidy(qa.Y)), um(tidy(qb.X)), um(tidy(qb.Y)), math.Hypot(b.X-a.X, b.Y-a.Y))
	return o.err
}
