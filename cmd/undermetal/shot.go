package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

func newShot() *cobra.Command {
	c := group("shot", "photographs: add, list, show, calibrate", `shot is about the photographs of a dossier. A shot is one photograph, or a stitched mosaic, of the die after one
delayering step.`)
	c.AddCommand(newShotAdd(), newShotList(), newShotShow(), newShotSet(), newShotCalibrate(), newShotOriginal(), newShotRemove())
	return c
}

// facts are the flags that say what is known of a photograph.
type facts struct{ dossier.Facts }

func (f *facts) flags(c *cobra.Command) {
	c.Flags().StringVar(&f.Step, "step", "", "the delayering step that it shows, as in \"metal 1 stripped\"")
	c.Flags().StringVar(&f.Objective, "objective", "", "the objective, as it says on it")
	c.Flags().Float64Var(&f.NA, "na", 0, "its numerical aperture")
	c.Flags().Float64Var(&f.WavelengthNm, "wavelength", 0, "of the light, in nm; about 550 for white light")
	c.Flags().StringVar(&f.Illumination, "illumination", "", "how the die was lit")
	c.Flags().Float64Var(&f.CameraUm, "camera-pixel", 0, "pitch of the camera's pixels, in µm")
	c.Flags().StringVar(&f.Taken, "date", "", "when it was taken")
	c.Flags().StringVar(&f.Note, "note", "", "anything else")
}

// check returns an error where a figure cannot be.
func (f *facts) check() error {
	switch {
	case !(f.NA >= 0 && f.NA <= 1.7):
		return usagef("--na %g: a numerical aperture lies between 0 and 1.7", f.NA)
	case f.WavelengthNm != 0 && !(f.WavelengthNm >= 1 && f.WavelengthNm <= 20000):
		return usagef("--wavelength %g: give it in nm, as in 550", f.WavelengthNm)
	case !(f.CameraUm >= 0 && f.CameraUm <= 1000):
		return usagef("--camera-pixel %g: give it in µm, as in 3.45", f.CameraUm)
	}
	return nil
}

// into copies the facts whose flags were given.
func (f *facts) into(c *cobra.Command, to *dossier.Facts) (changed bool) {
	for name, set := range map[string]func(){
		"step": func() { to.Step = f.Step }, "objective": func() { to.Objective = f.Objective }, "na": func() { to.NA = f.NA }, "wavelength": func() { to.WavelengthNm = f.WavelengthNm },
		"illumination": func() { to.Illumination = f.Illumination }, "camera-pixel": func() { to.CameraUm = f.CameraUm }, "date": func() { to.Taken = f.Taken }, "note": func() { to.Note = f.Note },
	} {
		if c.Flags().Changed(name) {
			set()
			changed = true
		}
	}
	return changed
}

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

func newShotList() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "list DOSSIER",
		Short: "list the photographs of a dossier",
		Example: `  undermetal shot list kiln.dossier
  undermetal shot list kiln.dossier --json`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				shots, err := d.Shots()
				if err != nil {
					return err
				}
				if asJSON {
					return writeShots(c.OutOrStdout(), shots)
				}
				return printShots(c.OutOrStdout(), shots)
			})
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func printShots(w io.Writer, shots []dossier.Shot) error {
	p := &printer{w: w}
	for i := range shots {
		s := &shots[i]
		width, height := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
		p.f("%s: %d × %d px, %s of %d bits", s.Name, width, height, map[int]string{1: "grey", 3: "colour"}[s.Header.Channels], s.Header.Depth)
		if s.Facts.Step != "" {
			p.f(", %s", s.Facts.Step)
		}
		p.f("\n    from %s, SHA-256 %.16s…", s.File, s.SHA256)
		if s.Linked {
			p.f(", not kept here")
		}
		p.f("\n")
		if s.Scale.NmPerPx > 0 {
			p.f("    %s (%s)\n", s.Scale, s.Scale.How)
		} else {
			p.f("    not calibrated\n")
		}
		if resolves, warning := optics(s); resolves != "" {
			p.f("    resolves %s (0.61 λ/NA, λ %g nm, NA %g)\n", resolves, s.Facts.WavelengthNm, s.Facts.NA)
			if warning != "" {
				p.f("    %s\n", warning)
			}
		}
		for _, said := range []struct{ what, text string }{{"objective", s.Facts.Objective}, {"light", s.Facts.Illumination}, {"taken", s.Facts.Taken}, {"note", s.Facts.Note}} {
			if said.text != "" {
				p.f("    %s: %s\n", said.what, said.text)
			}
		}
	}
	if len(shots) == 0 {
		p.f("no photographs yet: undermetal shot add puts them in\n")
	}
	return p.err
}

// shotJSON is the contract of shot list --json.
type shotJSON struct {
	ID       int64    `json:"id"`
	Name     string   `json:"name"`
	Step     string   `json:"step"`
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	SHA256   string   `json:"sha256"`
	NmPerPx  *float64 `json:"nm_per_px"`
	Sigma    *float64 `json:"sigma"`
	Map      any      `json:"map"`
	RmsPx    *float64 `json:"rms_px"`
	File     string   `json:"file"`
	Linked   bool     `json:"linked"`
	Channels int      `json:"channels"`
	Depth    int      `json:"depth"`
}

func writeShots(w io.Writer, shots []dossier.Shot) error {
	all := []shotJSON{}
	for i := range shots {
		s := &shots[i]
		j := shotJSON{ID: s.ID, Name: s.Name, Step: s.Facts.Step, SHA256: s.SHA256, File: s.File, Linked: s.Linked, Channels: s.Header.Channels, Depth: s.Header.Depth}
		j.Width, j.Height = s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
		if s.Scale.NmPerPx > 0 {
			j.NmPerPx, j.Sigma = &s.Scale.NmPerPx, &s.Scale.Sigma
		}
		all = append(all, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(all)
}

func newShotRemove() *cobra.Command {
	return &cobra.Command{
		Use:   "remove DOSSIER SHOT",
		Short: "remove a photograph from a dossier",
		Long: `remove takes a shot out of the dossier, with its control points and registration. What was traced over it stays. undo
brings it back; compact --forget gives back its room.`,
		Example: `  undermetal shot remove kiln.dossier blurred`,
		Args:    exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error {
			return editShot(c, args, func(d *dossier.Dossier, s *dossier.Shot) error {
				if err := d.Edit(c.Context(), "remove shot "+s.Name, func(tx *dossier.Tx) error { return tx.RemoveShot(s.ID) }); err != nil {
					return err
				}
				_, err := fmt.Fprintf(c.OutOrStdout(), "%s: removed; undermetal undo %s brings it back\n", s.Name, args[0])
				return err
			})
		},
	}
}

// editShot runs f on a shot of a dossier that may be edited; args are the dossier and the shot's name.
func editShot(c *cobra.Command, args []string, f func(*dossier.Dossier, *dossier.Shot) error) error {
	return editDossier(c, args[0], func(d *dossier.Dossier) error {
		s, err := findShot(d, args[1])
		if err != nil {
			return err
		}
		return f(d, s)
	})
}

// findShot returns a shot by its name, or says which there are.
func findShot(d *dossier.Dossier, name string) (*dossier.Shot, error) {
	s, err := d.Shot(name)
	if !errors.Is(err, dossier.ErrMissing) {
		return s, err
	}
	shots, err := d.Shots()
	if err != nil {
		return nil, err
	}
	var names []string
	for _, s := range shots {
		names = append(names, s.Name)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s: there is no shot %q\n    it has none yet; undermetal shot add puts them in", d.Path, name)
	}
	return nil, fmt.Errorf("%s: there is no shot %q\n    it has %s", d.Path, name, someNames(names))
}

func newShotOriginal() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:     "original DOSSIER SHOT --out FILE",
		Short:   "write the file that a photograph came from, as it was",
		Example: `  undermetal shot original kiln.dossier bare --out bare.tif`,
		Args:    exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usagef("--out says where to write it, - for standard output")
			}
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				s, err := findShot(d, args[1])
				if err != nil {
					return err
				}
				return writeTo(c, out, func(w io.Writer) error { return d.WriteOriginal(s, w) })
			})
		},
	}
	c.Flags().StringVar(&out, "out", "", "the file to write, - for standard output")
	return c
}

func newShotSet() *cobra.Command {
	var f facts
	var name, contrast, channel string
	var gamma float64
	c := &cobra.Command{
		Use:   "set DOSSIER SHOT",
		Short: "change what is known of a photograph, and how it is shown",
		Long: `set changes only what is given. --contrast takes the samples shown as black and as white, from 0 to 1, or auto, which
finds them. --gamma above 1 brightens the middle. --channel shows red, green or blue alone, or all.`,
		Example: `  undermetal shot set kiln.dossier bare --na 0.9 --wavelength 550
  undermetal shot set kiln.dossier bare --contrast auto --gamma 1.4 --channel green`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := f.check(); err != nil {
				return err
			}
			return editShot(c, args, func(d *dossier.Dossier, s *dossier.Shot) error {
				changed := f.into(c, &s.Facts)
				if c.Flags().Changed("name") {
					s.Name, changed = name, true
				}
				for _, flag := range []string{"contrast", "gamma", "channel"} {
					changed = changed || c.Flags().Changed(flag)
				}
				if !changed {
					return usagef("nothing to set\n    %s --help lists what there is", c.CommandPath())
				}
				if err := setDisplay(d.Pyramid(s), &s.Display, contrast, gamma, channel); err != nil {
					return err
				}
				if err := d.Edit(c.Context(), "set shot "+args[1], func(tx *dossier.Tx) error { return tx.SetShot(s) }); err != nil {
					return err
				}
				return errors.Join(printShots(c.OutOrStdout(), []dossier.Shot{*s}), warnOptics(c.ErrOrStderr(), s))
			})
		},
	}
	f.flags(c)
	c.Flags().StringVar(&name, "name", "", "another name")
	c.Flags().StringVar(&contrast, "contrast", "", "LOW,HIGH from 0 to 1, or auto")
	c.Flags().Float64Var(&gamma, "gamma", 0, "from 0.1 to 10; 1 shows samples as they are")
	c.Flags().StringVar(&channel, "channel", "", "red, green, blue or all")
	return c
}

// setDisplay changes what is given; an empty text or 0 is not.
func setDisplay(p *shot.Pyramid, d *shot.Display, contrast string, gamma float64, channel string) error {
	switch {
	case contrast == "auto":
		auto, err := p.AutoContrast()
		if err != nil {
			return err
		}
		d.Low, d.High = auto.Low, auto.High
	case contrast != "":
		pair, err := numbers(contrast, 2)
		if err != nil {
			return usagef("--contrast %s: %v\n    give two numbers from 0 to 1, as in 0.1,0.8, or auto", contrast, err)
		}
		d.Low, d.High = pair[0], pair[1]
	}
	if gamma != 0 {
		d.Gamma = gamma
	}
	if channel != "" {
		n, ok := map[string]int{"all": 0, "red": 1, "green": 2, "blue": 3}[channel]
		if !ok {
			return usagef("--channel %s: there are red, green, blue and all", channel)
		}
		d.Channel = n
	}
	if err := d.Check(p.Channels); err != nil {
		return usagef("%v", err)
	}
	return nil
}

// numbers reads n finite numbers with commas between them.
func numbers(text string, n int) ([]float64, error) {
	parts := strings.Split(text, ",")
	if len(parts) != n {
		return nil, fmt.Errorf("%s, not %d", counted(len(parts), "number"), n)
	}
	v := make([]float64, n)
	for i, p := range parts {
		var err error
		if v[i], err = strconv.ParseFloat(strings.TrimSpace(p), 64); err != nil || math.IsNaN(v[i]) || math.IsInf(v[i], 0) {
			return nil, fmt.Errorf("%q is no number", p)
		}
	}
	return v, nil
}
