package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	"undermetal/layout/register"
)

// registerFlags are the flags of undermetal shot register.
type registerFlags struct {
	points     []string
	file       string
	kind       string
	keepShapes bool
	dryRun     bool
}

func newShotRegister() *cobra.Command {
	var f registerFlags
	c := &cobra.Command{
		Use:   "register DOSSIER SHOT --point PX,PY=X,Y … | --points FILE",
		Short: "say where a photograph lies in the frame",
		Long: `register finds the map from a photograph's pixels to the frame by control points: places that are known in both, PX,PY in
pixels from the top left corner of the upright photograph, X,Y in µm of the frame, or with units as in 20um,1.2mm. FILE
is CSV with the columns px,py,x_um,y_um and, where marks are not equally good, sigma_px; a first line with these names
may stand before them, in any order.

  similarity    turn, size and shift                       2 points at least
  affine        also two sizes, and axes not square        3
  projective    also a tilted camera                       4
  spline        through all points, smooth between them    3

Without --map it is a similarity, the simplest map, which three points overdetermine. What the fit misses each point by
is listed, and what a fit without the point misses it by; the last figure for the other maps tells whether one of them
does better. Two points more than a map needs are little, five are well. A point that does not go with the others is
stored with them, and warned about.

The first registered photograph fixes the frame's origin and axes, by the places that are given for it; the others
are registered to places that are known from it. Registering a photograph anew moves the shapes of the die that were
traced over it with it (before, where it was calibrated, its lower left corner was the frame's origin); --keep-shapes
leaves them. Points and map are one edit, which undo takes back. --dry-run stores nothing.`,
		Example: `  undermetal shot register kiln.dossier bare --point 212,3004=0,0 --point 3988,3010=260,0 --point 220,190=0,195
  undermetal shot register kiln.dossier metal1 --points metal1.csv --map affine --dry-run`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error { return doRegister(c, args, &f) },
	}
	c.Flags().StringArrayVar(&f.points, "point", nil, "a control point, PX,PY=X,Y; give one for each")
	c.Flags().StringVar(&f.file, "points", "", "CSV file of control points")
	c.Flags().StringVar(&f.kind, "map", "", "similarity, affine, projective or spline")
	c.Flags().BoolVar(&f.keepShapes, "keep-shapes", false, "leave what was traced over it where it is")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "show the fit, and store nothing")
	return c
}

func doRegister(c *cobra.Command, args []string, f *registerFlags) error {
	kind := register.Similarity
	if f.kind != "" {
		var err error
		if kind, err = register.ParseKind(f.kind); err != nil {
			return usagef("--map %s: %v", f.kind, err)
		}
	}
	points, err := f.read()
	if err != nil {
		return err
	}
	work := func(d *dossier.Dossier, s *dossier.Shot) error {
		kept, err := keptPoints(s, points)
		if err != nil {
			return err
		}
		fit, err := register.FitPoints(kind, points, register.ToFrame)
		if err != nil {
			return fmt.Errorf("%s: %w", s.Name, err)
		}
		r := &registering{d: d, file: args[0], s: s, points: points, fit: fit, kind: kind, flags: f}
		if err := r.store(c, kept); err != nil {
			return err
		}
		return errors.Join(r.print(c.OutOrStdout()), r.warn(c.ErrOrStderr()))
	}
	if f.dryRun {
		return readDossier(c, args[0], func(d *dossier.Dossier) error {
			s, err := findShot(d, args[1])
			if err != nil {
				return err
			}
			return work(d, s)
		})
	}
	return editShot(c, args, work)
}

// registering is a call of undermetal shot register under way.
type registering struct {
	d      *dossier.Dossier
	file   string // the dossier's
	s      *dossier.Shot
	points []register.Point
	fit    *register.Fit
	kind   register.Kind
	flags  *registerFlags
	moved  dossier.Moved
}

// store keeps the points and the map and moves what was traced; with --dry-run it only counts.
func (r *registering) store(c *cobra.Command, points []dossier.ControlPoint) (err error) {
	f := r.fit
	n := &dossier.Registering{Map: f.Map, Points: points, RmsPx: f.RmsFrom, RmsNm: f.Rms, KeepShapes: r.flags.keepShapes}
	for _, e := range f.ResidualsFrom {
		n.Residuals = append(n.Residuals, lengthOf(e))
	}
	what := fmt.Sprintf("register shot %s: %s, %s, rms %.3g px", r.s.Name, r.kind, counted(len(points), "control point"), shared.Tidy(n.RmsPx))
	r.moved, err = registerShot(c, r.d, r.s, n, what, r.flags.dryRun)
	if errors.Is(err, dossier.ErrCorner) {
		err = fmt.Errorf("%w\n    set points near that corner too, or take --map affine", err)
	}
	return err
}
