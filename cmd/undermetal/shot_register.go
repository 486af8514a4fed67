package main

import (
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
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
does better. Two points more than a map needs are little, five are well.

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
		if err := checkMarks(s, points); err != nil {
			return err
		}
		fit, err := register.FitPoints(kind, points, register.ToFrame)
		if err == nil {
			_, err = fit.Map.Inverse()
		}
		if err == nil {
			err = reachesCorners(fit.Map, s)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", s.Name, err)
		}
		r := &registering{d, s, points, fit, kind, f, moved{}}
		if err := r.store(c); err != nil {
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

// reachesCorners returns an error where a map turns over, or has no end, between the middle of a photograph and its corners.
func reachesCorners(m register.Map, s *dossier.Shot) error {
	w, h := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	sense := m.Jacobian(geom.Vec{X: float64(w) / 2, Y: float64(h) / 2}).Det()
	for _, x := range []int{0, w} {
		for _, y := range []int{0, h} {
			if det := m.Jacobian(geom.Vec{X: float64(x), Y: float64(y)}).Det(); !(det*sense > 0) || math.IsInf(det, 0) {
				return fmt.Errorf("the %s map by these points has its horizon, or folds, between the photograph's middle and the corner (%d, %d)\n    set points near that corner too, or take --map affine", m.Kind(), x, y)
			}
		}
	}
	return nil
}

// registering is a call of undermetal shot register under way.
type registering struct {
	d      *dossier.Dossier
	s      *dossier.Shot
	points []register.Point
	fit    *register.Fit
	kind   register.Kind
	flags  *registerFlags
	moved  moved
}

// store keeps the points and the map and moves what was traced, as one edit; with --dry-run it only counts.
func (r *registering) store(c *cobra.Command) error {
	before, err := locate(r.d, r.s)
	if err != nil && !r.flags.keepShapes {
		return fmt.Errorf("%w\n    --keep-shapes registers it all the same, and leaves what was traced over it", err)
	}
	err = nil // forgiven
	move := before != nil && before.from != nil && !r.flags.keepShapes
	if r.flags.dryRun {
		if move {
			r.moved, err = moveShapes(r.d, r.s.ID, before.from, r.fit.Map, func(*dossier.Shape) error { return nil })
		}
		return err
	}
	g, points := r.kept()
	what := fmt.Sprintf("register shot %s: %s, %s, rms %.3g px", r.s.Name, r.kind, counted(len(points), "control point"), tidy(g.RmsPx))
	return r.d.Edit(c.Context(), what, func(tx *dossier.Tx) (err error) {
		if move {
			if r.moved, err = moveShapes(tx, r.s.ID, before.from, r.fit.Map, tx.SetShape); err != nil {
				return err
			}
		}
		return errors.Join(tx.SetControlPoints(r.s.ID, points), tx.SetRegistration(g))
	})
}

// kept is what the dossier keeps of a fit.
func (r *registering) kept() (*dossier.Registration, []dossier.ControlPoint) {
	f := r.fit
	g := &dossier.Registration{Shot: r.s.ID, Kind: string(f.Map.Kind()), Parameters: f.Map.Parameters(), RmsPx: f.RmsFrom, RmsNm: f.Rms}
	var points []dossier.ControlPoint
	for i, p := range r.points {
		g.Residuals = append(g.Residuals, lengthOf(f.ResidualsFrom[i]))
		points = append(points, dossier.ControlPoint{PX: p.From.X, PY: p.From.Y, X: p.To.X, Y: p.To.Y, SigmaPx: p.Sigma})
	}
	return g, points
}

// moved is what became of the shapes that were traced over a photograph.
type moved struct {
	byLayer  map[string]int
	furthest float64 // nm
	inCells  int     // that stay
}

// drawn is what reads shapes: a dossier, or an edit under way.
type drawn interface {
	Cells() ([]dossier.Cell, error)
	Shapes(cell int64) ([]dossier.Shape, error)
}

// moveShapes takes the shapes of the die that were traced over a shot back to its pixels and from there to where these lie
// now. Those in other cells stay: a cell has coordinates of its own, and may be placed elsewhere too.
func moveShapes(d drawn, shot int64, back, there register.Map, set func(*dossier.Shape) error) (m moved, err error) {
	m.byLayer = map[string]int{}
	cells, err := d.Cells()
	if err != nil {
		return m, err
	}
	for _, cell := range cells {
		shapes, err := d.Shapes(cell.ID)
		if err != nil {
			return m, err
		}
		for i := range shapes {
			s := &shapes[i]
			switch {
			case s.Shot != shot:
				continue
			case cell.ID != dossier.Frame:
				m.inCells++
				continue
			}
			far, err := moveShape(s, back, there)
			if err == nil && far > 0 {
				m.furthest = max(m.furthest, far)
				m.byLayer[s.Layer]++
				err = set(s)
			}
			if err != nil {
				return m, err
			}
		}
	}
	return m, nil
}

// moveShape moves a shape, its edges as uncertain in pixels as before, and returns how far its corners went, in nm.
func moveShape(s *dossier.Shape, back, there register.Map) (far float64, err error) {
	for i, ring := range s.Polygon {
		before := make(geom.Ring, len(ring))
		for k, pt := range ring {
			from := geom.Vec{X: float64(pt.X), Y: float64(pt.Y)}
			px := back.Apply(from)
			to := there.Apply(px)
			if i == 0 && k == 0 {
				if grows := register.Size(back, from) * register.Size(there, px); s.SigmaNm > 0 && grows > 0 {
					s.SigmaNm *= grows
				}
			}
			if !(lengthOf(to) <= geom.Limit) {
				return 0, fmt.Errorf("a shape on %s at (%g, %g) µm, traced over it, would leave the frame\n    look at the control points again; --keep-shapes leaves it where it is", s.Layer, um(from.X), um(from.Y))
			}
			ring[k] = to.Round()
			before[k] = pt
			far = max(far, lengthOf(geom.Vec{X: float64(ring[k].X - pt.X), Y: float64(ring[k].Y - pt.Y)}))
		}
		if before.Area() != 0 && ring.Area() == 0 {
			return 0, fmt.Errorf("a shape on %s at (%g, %g) µm, traced over it, would become smaller than the frame's grid of 1 nm\n    look at the control points again, they are in µm; --keep-shapes leaves it where it is", s.Layer, um(float64(before[0].X)), um(float64(before[0].Y)))
		}
	}
	return far, nil
}
