package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
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
is uncertain about the places (--point-sigma, in pixels) and about the distance or the pitch (--distance-sigma,
--pitch-sigma; without them they are taken as exact, which no ruling is). Lengths are in µm, or have
their unit behind them, as in 69.1nm. undermetal shot show --ticks shows the pixel coordinates of a place.

The frame has its scale from the first calibrated photograph in the list, and once some are registered from the first
of those that is calibrated. Calibrating it anew makes everything traced, and the maps of registered photographs, larger
or smaller with it, as one edit that undo takes back; --keep-shapes leaves them as they are. They stay, too, where that
photograph is registered and its map says another scale than its calibration: then the frame has its scale from the
control points. What was traced over another photograph that is not registered yet goes with that one.`,
		Example: `  undermetal shot calibrate kiln.dossier bare --micrometer ruling-50x.tif --pitch 10
  undermetal shot calibrate kiln.dossier bare --points 812,400:3316,404 --pitch 19 --periods 12
  undermetal shot calibrate kiln.dossier bare --scale 0.0691 --sigma 0.0002`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error { return doCalibrate(c, args, &f) },
	}
	length := func(v *float64, name, usage string) { c.Flags().Var(quantity{v, "µm"}, name, usage) }
	f.pointSigma = 1
	length(&f.scale, "scale", "µm a pixel")
	length(&f.sigma, "sigma", "its uncertainty, in µm a pixel")
	c.Flags().StringVar(&f.points, "points", "", "two places in pixels from the top left corner, as in 812,400:3316,404")
	c.Flags().Var(quantity{&f.pointSigma, ""}, "point-sigma", "how well each coordinate of a place is known, in pixels")
	length(&f.distance, "distance", "how far apart the places lie, in µm")
	length(&f.distanceSigma, "distance-sigma", "its uncertainty, in µm")
	length(&f.pitch, "pitch", "from line to line of the micrometer, or of what repeats, in µm")
	length(&f.pitchSigma, "pitch-sigma", "its uncertainty, in µm")
	c.Flags().IntVar(&f.periods, "periods", 0, "how many periods lie between the places")
	c.Flags().StringVar(&f.micrometer, "micrometer", "", "photograph of a stage micrometer")
	c.Flags().BoolVar(&f.keepShapes, "keep-shapes", false, "leave what was traced as it is")
	return c
}

func doCalibrate(c *cobra.Command, args []string, f *calibrateFlags) error {
	if err := f.check(c); err != nil {
		return err
	}
	return editShot(c, args, func(d *dossier.Dossier, s *dossier.Shot) error {
		scale, err := f.measure(c, d, s)
		if err != nil {
			return err
		}
		factor := 1.0 // by which the tracing grows
		err = d.Edit(c.Context(), fmt.Sprintf("calibrate shot %s: %s", s.Name, scale), func(tx *dossier.Tx) (err error) {
			factor, err = tx.Calibrate(s, scale, f.keepShapes)
			return err
		})
		if errors.Is(err, dossier.ErrTraced) {
			err = fmt.Errorf("%s: %w\n    look at the scale again; --keep-shapes leaves what was traced as it is", s.Name, err)
		}
		if err != nil {
			return err
		}
		return errors.Join(printCalibrated(c, d, s, factor), warnOptics(c.ErrOrStderr(), s), warnScale(c.ErrOrStderr(), s), warnCalibrated(c.ErrOrStderr(), d, s))
	})
}

// exact names the length of which nobody said how well it is known.
func exact(c *cobra.Command) string {
	for _, of := range []string{"pitch", "distance"} {
		if c.Flags().Changed(of) && !c.Flags().Changed(of+"-sigma") {
			return of
		}
	}
	return ""
}

// printCalibrated says what the scale is, and what grew with it by a factor.
func printCalibrated(c *cobra.Command, d *dossier.Dossier, s *dossier.Shot, factor float64) error {
	drawn, err := holds(d, "shapes", "placements", "labels", "traced areas", "answers", "notes", "blocks", "outlines of the die")
	if err != nil {
		return err
	}
	maps, err := holds(d, "of them registered")
	if err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	p.f("%s: %s\n    %s\n", s.Name, s.Scale.String(), s.Scale.How)
	if of := exact(c); of != "" {
		p.f("    the %s is taken as exact: --%s-sigma says how well it is known\n", of, of)
	}
	if factor != 1 && drawn > 0 {
		p.f("    everything traced is %.6g times as large as it was\n", factor)
	}
	if factor != 1 && maps > 0 {
		p.f("    %s with it, by %.6g\n", map[bool]string{true: "1 registration grew", false: fmt.Sprintf("%d registrations grew", maps)}[maps == 1], factor)
	}
	return p.err
}

// warnCalibrated prints a warning where a registered photograph's map says another scale than its calibration.
func warnCalibrated(w io.Writer, d *dossier.Dossier, s *dossier.Shot) error {
	p, err := d.Locate(s)
	if err != nil || p.Registration == nil {
		return err
	}
	k, err := d.MapScale(p)
	if err != nil {
		return err
	}
	look := "look at the control points again"
	if p.Registration.Laid() {
		look = "look at the calibrations of both photographs"
		first, _, err := d.FrameScale()
		if err != nil {
			return err
		}
		if first != nil { // the frame is as uncertain as its calibration
			k.Sigma = math.Hypot(k.Sigma, k.NmPerPx*first.Scale.Sigma/first.Scale.NmPerPx)
		}
	}
	return warnMapScale(w, s, k, look)
}

// holds counts what a dossier holds of some things, by their names in its summary.
func holds(d *dossier.Dossier, things ...string) (n int, err error) {
	sum, err := d.Summary()
	if err != nil {
		return 0, err
	}
	for _, c := range sum.Counts {
		if slices.Contains(things, c.What) {
			n += c.N
		}
	}
	return n, nil
}

// calibrateWays are the ways to a scale: the flags that choose one, and those that go with it.
var calibrateWays = []struct{ by, with []string }{
	{[]string{"micrometer"}, []string{"pitch", "pitch-sigma"}},
	{[]string{"points", "distance"}, []string{"point-sigma", "distance-sigma"}},
	{[]string{"points", "pitch"}, []string{"point-sigma", "pitch-sigma", "periods"}},
	{[]string{"scale"}, []string{"sigma"}},
}

// check says which flags go together, and which figures cannot be.
func (f *calibrateFlags) check(c *cobra.Command) error {
	has := c.Flags().Changed
	switch {
	case len(given(c, []string{"micrometer", "points", "scale"})) != 1:
		return usagef("give one of --micrometer, --points and --scale\n    undermetal shot calibrate --help shows an example of each")
	case has("scale") && !has("sigma"):
		return usagef("--sigma says how uncertain --scale is: a scale without it measures nothing")
	case has("micrometer") && !has("pitch"):
		return usagef("--pitch says how far apart the lines of the micrometer lie, in µm")
	case has("points") && has("distance") == has("pitch"):
		return usagef("--points wants --distance, or --pitch with --periods")
	case has("points") && has("pitch") && f.periods < 1:
		return usagef("--periods says how many periods lie between the places")
	}
	for _, way := range calibrateWays {
		if len(given(c, way.by)) == len(way.by) {
			if err := strangers(c, append(way.by[:len(way.by):len(way.by)], way.with...)); err != nil {
				return err
			}
		}
	}
	for _, v := range []struct {
		flag  string
		value float64
		unit  string
	}{{"sigma", f.sigma, "µm"}, {"point-sigma", f.pointSigma, "px"}, {"distance", f.distance, "µm"}, {"distance-sigma", f.distanceSigma, "µm"}, {"pitch", f.pitch, "µm"}, {"pitch-sigma", f.pitchSigma, "µm"}, {"scale", f.scale, "µm"}} {
		if !(v.value >= 0 && v.value <= 1e6) {
			return usagef("--%s %g %s: give one from 0 to 1000000 %s", v.flag, v.value, v.unit, v.unit)
		}
	}
	return nil
}

// strangers returns an error that names the flags of other ways to a scale.
func strangers(c *cobra.Command, own []string) error {
	var names []string
	for _, way := range calibrateWays {
		for _, name := range given(c, append(way.by[:len(way.by):len(way.by)], way.with...)) {
			if name = "--" + name; !slices.Contains(own, name[2:]) && !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	if len(names) == 0 {
		return nil
	}
	return usagef("%s: not with --%s, with which --%s go\n    undermetal shot calibrate --help shows an example of each way", strings.Join(names, ", "), own[0], strings.Join(own[1:], ", --"))
}

// measure finds the scale in the way that was asked for.
func (f *calibrateFlags) measure(c *cobra.Command, d *dossier.Dossier, s *dossier.Shot) (shot.Scale, error) {
	switch {
	case c.Flags().Changed("scale"):
		return shot.Typed(f.scale*1000, f.sigma*1000)
	case f.micrometer != "":
		return f.ruling(c, d, s)
	}
	p, q, err := f.places(s)
	switch {
	case err != nil:
		return shot.Scale{}, err
	case c.Flags().Changed("distance"):
		return shot.FromPoints(p[0], p[1], q[0], q[1], f.distance*1000, f.distanceSigma*1000, f.pointSigma)
	}
	return shot.FromPitch(p[0], p[1], q[0], q[1], f.periods, f.pitch*1000, f.pitchSigma*1000, f.pointSigma)
}

// places reads the two places, which lie on the photograph.
func (f *calibrateFlags) places(s *dossier.Shot) (p, q []float64, err error) {
	first, second, two := strings.Cut(f.points, ":")
	if !two {
		return nil, nil, usagef("--points %s: one place: give two in pixels, with : between them, as in 812,400:3316,404", f.points)
	}
	if p, err = numbers(first, 2); err == nil {
		q, err = numbers(second, 2)
	}
	if err != nil {
		return nil, nil, usagef("--points %s: %v\n    give two places in pixels, as in 812,400:3316,404", f.points, err)
	}
	w, h := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	for _, v := range [][]float64{p, q} {
		if !(v[0] >= 0 && v[0] <= float64(w) && v[1] >= 0 && v[1] <= float64(h)) {
			return nil, nil, fmt.Errorf("--points %s: (%g, %g) lies outside of %s, which has %d × %d pixels\n    undermetal shot show --ticks shows where its pixels are", f.points, v[0], v[1], s.Name, w, h)
		}
	}
	return p, q, nil
}

// ruling measures a photograph of a stage micrometer.
func (f *calibrateFlags) ruling(c *cobra.Command, d *dossier.Dossier, s *dossier.Shot) (shot.Scale, error) {
	if _, err := os.Stat(f.micrometer); err != nil {
		if of, err := d.Shot(f.micrometer); err == nil {
			return shot.Scale{}, notFile(d, of)
		}
		return shot.Scale{}, inputError(f.micrometer, err)
	}
	r, err := shot.Open(c.Context(), f.micrometer, 0)
	if err != nil {
		return shot.Scale{}, err
	}
	defer r.Close()
	width, height := r.Header().Orientation.Upright(r.Header().Width, r.Header().Height)
	w, h := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	if width != w || height != h {
		if _, err := fmt.Fprintf(c.ErrOrStderr(), "warning: %s has %d × %d pixels, %s %d × %d: taken with another binning or camera?\n    the scale is right only where the pixels of both are equally large, as those of a part that was cut out are\n", f.micrometer, width, height, s.Name, w, h); err != nil {
			return shot.Scale{}, err
		}
	}
	b := newClock(c, "measuring the lines of "+f.micrometer)
	ruling, err := shot.MeasureRuling(c.Context(), r)
	b.end()
	if err != nil {
		if !strings.HasPrefix(err.Error(), f.micrometer+": ") { // errors of reading name it
			err = fmt.Errorf("%s: %w", f.micrometer, err)
		}
		return shot.Scale{}, err
	}
	return ruling.Scale(f.pitch*1000, f.pitchSigma*1000)
}

// notFile is the error for the name of a shot where a file is wanted.
func notFile(d *dossier.Dossier, s *dossier.Shot) error {
	if s.Linked {
		return fmt.Errorf("--micrometer %s: that is a shot, and a file is wanted: give %s", s.Name, s.File)
	}
	out := s.Name + filepath.Ext(s.File)
	return fmt.Errorf("--micrometer %s: that is a shot, and a file is wanted\n    undermetal shot original %s %s --out %s writes it out", s.Name, word(d.Path), word(s.Name), word(out))
}
