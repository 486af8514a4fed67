package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

// calibrateFlags are the flags of undermetal shot calibrate; lengths in µm.
type calibrateFlags struct {
	scale, sigma            float64
	points                  string
	pointSigma              float64
	distance, distanceSigma float64
	pitch, pitchSigma       float64
	periods                 int
	micrometer              string
	keepShapes              bool
}

func newShotCalibrate() *cobra.Command {
	var f calibrateFlags
	c := &cobra.Command{
		Use:   "calibrate DOSSIER SHOT",
		Short: "say how large a pixel of a photograph is",
		Long: `calibrate gives a photograph its scale, in one of four ways:

  --micrometer FILE --pitch UM       a photograph of a stage micrometer, taken as this one was: its lines are found
  --points X,Y:X,Y --distance UM     two places, in pixels, that lie a known distance apart
  --points X,Y:X,Y --pitch UM --periods N    two places N periods of a known pitch apart
  --scale UM --sigma UM              µm a pixel, as somebody states it

The scale always has an uncertainty (one standard deviation), which every length carries afterwards. It is made of what
is uncertain about the places (--point-sigma, in pixels) and about the distance or the pitch.

The first calibrated photograph fixes the frame. Calibrating it anew makes everything traced larger or smaller with it,
as one edit that undo takes back; --keep-shapes leaves the tracing as it is.`,
		Example: `  undermetal shot calibrate kiln.dossier bare --micrometer ruling-50x.tif --pitch 10
  undermetal shot calibrate kiln.dossier bare --points 812,400:3316,404 --pitch 19 --periods 12
  undermetal shot calibrate kiln.dossier bare --scale 0.0691 --sigma 0.0002`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error { return doCalibrate(c, args, &f) },
	}
	c.Flags().Float64Var(&f.scale, "scale", 0, "µm a pixel")
	c.Flags().Float64Var(&f.sigma, "sigma", 0, "its uncertainty, in µm a pixel")
	c.Flags().StringVar(&f.points, "points", "", "two places in pixels from the top left corner, as in 812,400:3316,404")
	c.Flags().Float64Var(&f.pointSigma, "point-sigma", 1, "how well each coordinate of a place is known, in pixels")
	c.Flags().Float64Var(&f.distance, "distance", 0, "how far apart the places lie, in µm")
	c.Flags().Float64Var(&f.distanceSigma, "distance-sigma", 0, "its uncertainty, in µm")
	c.Flags().Float64Var(&f.pitch, "pitch", 0, "from line to line of the micrometer, or of what repeats, in µm")
	c.Flags().Float64Var(&f.pitchSigma, "pitch-sigma", 0, "its uncertainty, in µm")
	c.Flags().IntVar(&f.periods, "periods", 0, "how many periods lie between the places")
	c.Flags().StringVar(&f.micrometer, "micrometer", "", "photograph of a stage micrometer")
	c.Flags().BoolVar(&f.keepShapes, "keep-shapes", false, "leave what was traced as it is")
	return c
}

func doCalibrate(c *cobra.Command, args []string, f *calibrateFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	return editShot(c, args, func(d *dossier.Dossier, s *dossier.Shot) error {
		scale, err := f.measure(c)
		if err != nil {
			return err
		}
		factor := 0.0 // by which the tracing grows
		if fixes, err := fixesFrame(d, s); err != nil {
			return err
		} else if fixes && !f.keepShapes && s.Scale.NmPerPx > 0 {
			factor = scale.NmPerPx / s.Scale.NmPerPx
		}
		s.Scale = scale
		err = d.Edit(c.Context(), "calibrate shot "+s.Name, func(tx *dossier.Tx) error {
			if factor != 0 && factor != 1 {
				if err := tx.Rescale(factor); err != nil {
					return err
				}
			}
			return tx.SetShot(s)
		})
		if err != nil {
			return err
		}
		p := &printer{w: c.OutOrStdout()}
		p.f("%s: %s\n    %s\n", s.Name, scale, scale.How)
		if factor != 0 && factor != 1 {
			p.f("    everything traced is %.6g times as large as it was\n", factor)
		}
		return errors.Join(p.err, warnOptics(c.ErrOrStderr(), s))
	})
}

// fixesFrame reports whether the frame has its scale from this shot: the first that is calibrated.
func fixesFrame(d *dossier.Dossier, s *dossier.Shot) (bool, error) {
	shots, err := d.Shots()
	for _, other := range shots {
		if other.Scale.NmPerPx > 0 {
			return other.ID == s.ID, err
		}
	}
	return false, err
}

// check says which flags go together.
func (f *calibrateFlags) check() error {
	ways := 0
	for _, given := range []bool{f.micrometer != "", f.points != "", f.scale != 0} {
		if given {
			ways++
		}
	}
	switch {
	case ways != 1:
		return usagef("give one of --micrometer, --points and --scale\n    undermetal shot calibrate --help shows an example of each")
	case f.scale != 0 && f.sigma == 0:
		return usagef("--sigma says how uncertain --scale is: a scale without it measures nothing")
	case f.micrometer != "" && f.pitch == 0:
		return usagef("--pitch says how far apart the lines of the micrometer lie, in µm")
	case f.points != "" && (f.distance != 0) == (f.pitch != 0):
		return usagef("--points wants --distance, or --pitch with --periods")
	case f.points != "" && f.pitch != 0 && f.periods < 1:
		return usagef("--periods says how many periods lie between the places")
	}
	for _, v := range []struct {
		flag  string
		value float64
	}{{"sigma", f.sigma}, {"point-sigma", f.pointSigma}, {"distance", f.distance}, {"distance-sigma", f.distanceSigma}, {"pitch", f.pitch}, {"pitch-sigma", f.pitchSigma}, {"scale", f.scale}} {
		if !(v.value >= 0 && v.value < 1e9) {
			return usagef("--%s %g: give a number above 0", v.flag, v.value)
		}
	}
	return nil
}

// measure finds the scale in the way that was asked for.
func (f *calibrateFlags) measure(c *cobra.Command) (shot.Scale, error) {
	switch {
	case f.scale != 0:
		return shot.Typed(f.scale*1000, f.sigma*1000)
	case f.micrometer != "":
		r, err := shot.Open(f.micrometer, 0)
		if err != nil {
			return shot.Scale{}, err
		}
		defer r.Close()
		b := newClock(c, "measuring the lines of "+f.micrometer)
		ruling, err := shot.MeasureRuling(r)
		b.end()
		if err != nil {
			return shot.Scale{}, fmt.Errorf("%s: %w", f.micrometer, err)
		}
		return ruling.Scale(f.pitch*1000, f.pitchSigma*1000)
	}
	first, second, _ := strings.Cut(f.points, ":")
	p, err := numbers(first, 2)
	if err == nil {
		var q []float64
		if q, err = numbers(second, 2); err == nil {
			if f.distance != 0 {
				return shot.FromPoints(p[0], p[1], q[0], q[1], f.distance*1000, f.distanceSigma*1000, f.pointSigma)
			}
			return shot.FromPitch(p[0], p[1], q[0], q[1], f.periods, f.pitch*1000, f.pitchSigma*1000, f.pointSigma)
		}
	}
	return shot.Scale{}, usagef("--points %s: %v\n    give two places in pixels, as in 812,400:3316,404", f.points, err)
}
