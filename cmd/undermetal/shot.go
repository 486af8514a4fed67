package main

import (
	"errors"
	"fmt"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
)

func newShot() *cobra.Command {
	c := group("shot", "photographs: add, list, show, calibrate, register, align, measure", `shot is about the photographs of a dossier. A shot is one photograph, or a stitched mosaic, of the die after one
delayering step.`)
	c.AddCommand(newShotAdd(), newShotList(), newShotShow(), newShotSet(), newShotCalibrate(), newShotRegister(), newShotAlign(), newShotMeasure(), newShotOriginal(), newShotRemove())
	return c
}

// facts are the flags that say what is known of a photograph.
type facts struct{ dossier.Facts }

func (f *facts) flags(c *cobra.Command) {
	c.Flags().StringVar(&f.Step, "step", "", "the delayering step that it shows, as in \"metal 1 stripped\"")
	c.Flags().StringVar(&f.Objective, "objective", "", "the objective, as it says on it")
	c.Flags().Var(quantity{&f.NA, ""}, "na", "its numerical aperture")
	c.Flags().Var(quantity{&f.WavelengthNm, "nm"}, "wavelength", "of the light, in nm; about 550 for white light")
	c.Flags().StringVar(&f.Illumination, "illumination", "", "how the die was lit")
	c.Flags().Var(quantity{&f.CameraUm, "µm"}, "camera-pixel", "pitch of the camera's pixels, in µm")
	c.Flags().StringVar(&f.Taken, "date", "", "when it was taken")
	c.Flags().StringVar(&f.Note, "note", "", "anything else")
}

// check returns an error where a figure or a text cannot be.
func (f *facts) check() error {
	switch {
	case !(f.NA >= 0 && f.NA <= 1.7):
		return usagef("--na %g: a numerical aperture lies between 0 and 1.7", f.NA)
	case f.WavelengthNm != 0 && !(f.WavelengthNm >= 1 && f.WavelengthNm <= 20000):
		return usagef("--wavelength %g: light has 1 to 20000 nm; a number without a unit is in nm, as in 550", f.WavelengthNm)
	case !(f.CameraUm >= 0 && f.CameraUm <= 1000):
		return usagef("--camera-pixel %g: the pixels of a camera lie 0 to 1000 µm apart; a number without a unit is in µm, as in 3.45", f.CameraUm)
	}
	for _, text := range []struct{ flag, value string }{{"step", f.Step}, {"objective", f.Objective}, {"illumination", f.Illumination}, {"date", f.Taken}, {"note", f.Note}} {
		if err := oneLine(text.flag, text.value); err != nil {
			return err
		}
	}
	return nil
}

// unprintable reports whether a sign would break a line of text or do something to a terminal.
func unprintable(r rune) bool { return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' }

func oneLine(flag, text string) error {
	if strings.ContainsFunc(text, unprintable) {
		return usagef("--%s %q: write it on one line, without control characters", flag, text)
	}
	return nil
}

// checkName returns an error where a shot cannot be called by a name.
func checkName(name string) error {
	if strings.HasPrefix(name, "-") {
		return usagef("--name %s: what begins with a dash is taken for a flag: give a name that does not", name)
	}
	return oneLine("name", name)
}

// nameTaken is the error for a shot that is to have the name of another.
func nameTaken(who string, other *dossier.Shot) error {
	return fmt.Errorf("%s: there is a shot %q already, from %s\n    give this one another name with --name, or remove that one", who, other.Name, other.File)
}

// factFlags are the flags of facts, in the order in which they are told.
var factFlags = []string{"step", "objective", "na", "wavelength", "illumination", "camera-pixel", "date", "note"}

// given returns which of some flags were given.
func given(c *cobra.Command, flags []string) (names []string) {
	for _, name := range flags {
		if c.Flags().Changed(name) {
			names = append(names, name)
		}
	}
	return names
}

// into copies the facts whose flags were given.
func (f *facts) into(c *cobra.Command, to *dossier.Facts) {
	for name, set := range map[string]func(){
		"step": func() { to.Step = f.Step }, "objective": func() { to.Objective = f.Objective }, "na": func() { to.NA = f.NA }, "wavelength": func() { to.WavelengthNm = f.WavelengthNm },
		"illumination": func() { to.Illumination = f.Illumination }, "camera-pixel": func() { to.CameraUm = f.CameraUm }, "date": func() { to.Taken = f.Taken }, "note": func() { to.Note = f.Note },
	} {
		if c.Flags().Changed(name) {
			set()
		}
	}
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
