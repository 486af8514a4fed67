package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/register"
	"undermetal/layout/register/align"
)

// alignFlags are the flags of undermetal shot align.
type alignFlags struct {
	marks      []string
	file       string
	within     float64
	keepShapes bool
	dryRun     bool
	json       bool
}

func newShotAlign() *cobra.Command {
	var f alignFlags
	c := &cobra.Command{
		Use:   "align DOSSIER A B",
		Short: "lay a photograph on another of the same die, and register it there",
		Long: `align finds by itself how photograph A lies on photograph B of the same die, which may look different: contrast reversed,
parts missing, turned, turned over, another magnification. B is registered, or calibrated while none is registered; A is
registered through B then, and the shapes of the die that were traced over A move with it, as one edit, which undo takes
back. A B that was calibrated only is registered too, with its lower left corner at the frame's origin. Control points that A
had go; if the frame has its place or its scale from A, it is refused: lay B on A then.

Both pictures need 128 pixels a side at least, and a pixel of A may be 0.4 to 2.5 pixels of B. A map is accepted only where nothing else is nearly as good; else nothing is stored, and the exit status is 1. Marks help
where that happens: places that are seen in both, roughly, in pixels from the top left corner, AX,AY=BX,BY, two at least,
three or more far apart are better. They may be off by --within pixels of B, which is taken for four standard deviations:
they tell between places that look alike, and no map is fitted to them. A map that they are together farther off than that is
refused, and the worst mark named. FILE is CSV with the columns ax,ay,bx,by.

Where A goes is printed with its standard uncertainty at the worst corner of what both show, and with the confidence that it
is the right place. --json writes

  {"accepted": true or false, "map": [[…],[…],[…]], "rms_px": …, "confidence": …, "reason": "…"}

where map takes homogeneous pixel coordinates of A to those of B ((0, 0) is the outer corner of the top left pixel, y grows
downward), rms_px is that standard uncertainty in pixels of B, and reason says why a map is not accepted; then map and
rms_px are null and confidence is 0. Other failures write no JSON. With --json or --dry-run a B that has no place yet is
allowed: nothing is stored then. Photographs of more than 16 megapixels are compared at half their size, or a quarter, and
so on.`,
		Example: `  undermetal shot align kiln.dossier metal1 bare
  undermetal shot align kiln.dossier metal1 bare --mark 212,3004=1870,2960 --mark 3988,3010=5640,2955 --mark 220,190=1880,150
  undermetal shot align kiln.dossier metal1 bare --dry-run --json`,
		Args: exactly(3, "a dossier, the name of a shot and that of another"),
		RunE: func(c *cobra.Command, args []string) error { return doAlign(c, args, &f) },
	}
	f.within = 80
	c.Flags().StringArrayVar(&f.marks, "mark", nil, "a place in both, AX,AY=BX,BY in pixels; give one for each")
	c.Flags().StringVar(&f.file, "marks", "", "CSV file of such places")
	c.Flags().Var(quantity{&f.within, ""}, "within", "how far off a mark may be, in pixels of B")
	c.Flags().BoolVar(&f.keepShapes, "keep-shapes", false, "leave what was traced over A where it is")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "say where it lies, and store nothing")
	c.Flags().BoolVar(&f.json, "json", false, "as JSON")
	return c
}

func doAlign(c *cobra.Command, args []string, f *alignFlags) error {
	if args[1] == args[2] {
		return usagef("%s cannot be laid on itself: give two photographs", args[1])
	}
	marks, err := f.read(c)
	if err != nil {
		return err
	}
	prepared := func(d *dossier.Dossier) (*aligning, error) {
		a, err := findShot(d, args[1])
		if err != nil {
			return nil, err
		}
		b, err := findShot(d, args[2])
		if err != nil {
			return nil, err
		}
		l := &aligning{c: c, d: d, a: a, b: b, marks: marks, flags: f, most: mostGrey}
		return l, l.check()
	}
	open := editDossier
	switch {
	case f.dryRun:
		open = readDossier
	case f.json: // nothing is stored where B has no place: somebody else may edit the dossier then
		if err := readDossier(c, args[0], func(d *dossier.Dossier) error {
			l, err := prepared(d)
			if err == nil && l.nowhere != nil {
				open = readDossier
			}
			return err
		}); err != nil {
			return err
		}
	}
	return open(c, args[0], func(d *dossier.Dossier) error {
		l, err := prepared(d)
		if err != nil {
			return err
		}
		if err := l.work(); err != nil {
			return l.refuse(err)
		}
		return errors.Join(l.print(), l.warn())
	})
}

// aligning is a call of undermetal shot align under way.
type aligning struct {
	c       *cobra.Command
	d       *dossier.Dossier
	a, b    *dossier.Shot
	marks   []align.Mark // in px of the upright photographs
	flags   *alignFlags
	most    int              // samples of each that are compared
	nowhere error            // why nothing can be stored
	on      *dossier.Located // b, where it lies somewhere
	found   *align.Result    // between the full photographs
	points  int              // that a was registered by
	moved   dossier.Moved
}

// check finds what stands against the work before it begins.
func (l *aligning) check() (err error) {
	if err := checkAlignMarks(l.a, l.b, l.marks); err != nil {
		return err
	}
	if _, err := l.d.Locate(l.a); err != nil && !l.flags.keepShapes {
		return registerError(l.a, fmt.Errorf("%w: %w", dossier.ErrTraced, err))
	}
	if l.on, err = l.d.CanLayOn(l.b); err == nil {
		err = l.d.CanBeLaid(l.a)
	}
	if errors.Is(err, dossier.ErrNowhere) || errors.Is(err, dossier.ErrFixes) {
		hint, err2 := l.hint(err)
		l.nowhere, l.on, err = fmt.Errorf("%w\n    %s", err, hint), nil, err2
		if err == nil && !l.flags.json && !l.flags.dryRun {
			return l.nowhere
		}
	}
	if err == nil {
		var points []dossier.ControlPoint
		points, err = l.d.ControlPoints(l.a.ID)
		l.points = len(points)
	}
	return err
}

// hint says what to do where the photographs do not lie so that one can be laid on the other.
func (l *aligning) hint(why error) (string, error) {
	maps, err := l.d.Registrations()
	path, a, b := word(l.d.Path), word(l.a.Name), word(l.b.Name)
	switch {
	case errors.Is(why, dossier.ErrFixes):
		return fmt.Sprintf("undermetal shot align %s %s %s lays the other one on it", path, b, a), err
	case maps[l.a.ID] != nil:
		return fmt.Sprintf("undermetal shot align %s %s %s lays it on %s, which is registered", path, b, a, l.a.Name), err
	case len(maps) == 0:
		return fmt.Sprintf("undermetal shot calibrate %s %s … gives it a scale", path, b), err
	}
	return fmt.Sprintf("undermetal shot register %s %s --point PX,PY=X,Y … gives it its place, or undermetal shot align lays it on one that is registered", path, b), err
}

// work finds the map and stores what comes of it.
func (l *aligning) work() (err error) {
	bar := newBar(l.c, fmt.Sprintf("laying %s on %s", l.a.Name, l.b.Name))
	l.found, err = l.find(l.c.Context(), func(done float64) { bar.set(int(1000*done), 1000) })
	bar.end()
	if err != nil || l.nowhere != nil {
		return err
	}
	lay := &dossier.Laying{On: l.b, Map: l.found.Map, SigmaPx: l.found.Sigma, KeepShapes: l.flags.keepShapes}
	if l.flags.dryRun {
		l.moved, err = l.d.TryLay(l.a, lay)
	} else {
		what := fmt.Sprintf("align shot %s with %s: ± %.2g px", l.a.Name, l.b.Name, l.found.Sigma)
		err = l.d.Edit(l.c.Context(), what, func(tx *dossier.Tx) (err error) {
			l.moved, err = tx.Lay(l.a, lay)
			return err
		})
	}
	if err = registerError(l.a, err); errors.Is(err, dossier.ErrCorner) {
		err = fmt.Errorf("%w\n    it reaches far beyond %s, whose own map does not hold there: register %s with --map projective", err, l.b.Name, l.b.Name)
	}
	return err
}

// mostGrey is how many samples of a photograph are compared: as float32 they take 64 MB.
const mostGrey = 16 << 20

// find compares the photographs, reduced where they are large, and returns the map between the full ones.
func (l *aligning) find(ctx context.Context, progress func(done float64)) (*align.Result, error) {
	const reading = 0.05 // of the time, for each
	read := func(s *dossier.Shot, from float64) (*align.Image, float64, error) {
		g, err := l.d.Pyramid(s).Grey(ctx, l.most, func(done float64) { progress(from + reading*done) })
		if err != nil {
			return nil, 0, fmt.Errorf("%s: shot %q: %w", l.d.Path, s.Name, err)
		}
		return &align.Image{Width: g.Width, Height: g.Height, Pix: g.Pix}, g.PerPx, nil
	}
	a, ka, err := read(l.a, 0)
	if err != nil {
		return nil, err
	}
	b, kb, err := read(l.b, reading)
	if err != nil {
		return nil, err
	}
	o := reducedMarks(l.marks, l.flags.within, ka, kb)
	o.Progress = func(done float64) { progress(2*reading + (1-2*reading)*done) }
	found, err := align.Align(ctx, a, b, o)
	if errors.Is(err, align.ErrRefused) && kb > 1 {
		err = fmt.Errorf("%w (a pixel here is %g of %s)", err, kb, l.b.Name)
	}
	if err != nil {
		return nil, fmt.Errorf("%s on %s: %w", l.a.Name, l.b.Name, err)
	}
	return enlarged(found, ka, kb), nil
}

// reducedMarks are marks between pictures whose pixels are ka and kb px of the photographs.
func reducedMarks(marks []align.Mark, within, ka, kb float64) (o align.Options) {
	for _, m := range marks {
		o.Marks = append(o.Marks, align.Mark{A: m.A.Scale(1 / ka), B: m.B.Scale(1 / kb)})
		o.Within = within / kb
	}
	return o
}

// enlarged is for the photographs what was found for such pictures.
func enlarged(r *align.Result, ka, kb float64) *align.Result {
	sized := func(factor float64) register.Map { return register.Scaled(register.Identity, factor) }
	m := register.Compose(register.Compose(sized(1/ka), r.Map), sized(kb))
	return &align.Result{Map: m, Sigma: r.Sigma * kb, Confidence: r.Confidence}
}
