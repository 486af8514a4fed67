package main

import (
	"context"
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	editing "undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

// healFlags are the flags of undermetal trace heal.
type healFlags struct {
	traceFlags
	dryRun, across bool
	only, at       string
}

func newTraceHeal() *cobra.Command {
	var f healFlags
	c := &cobra.Command{
		Use:   "heal DOSSIER",
		Short: "close the gaps between traced pieces that miss each other by little",
		Long: `heal closes what trace check lists as near-miss: each gap gets a shape of its own on the layer, which reaches from one
edge to the other, and 2 nm over both. Each is listed, all of them are one edit, and undermetal undo takes it back. A
second heal finds nothing more to do, unless the tolerance is as large as what was drawn: from a new shape there may be a
way around what stood in the first one's way.

A gap is left open, and listed with the reason, where its shape would meet anything of a third net, where gate and diffusion
would come to lie over each other, where it would do anything else than join the two nets, and, unless --across-labels is
given, where these have different labels, or are source and drain of one transistor without the same label. --dry-run lists and changes nothing.

--only crosses-itself, or --only odd-outline, draws anew the shapes that trace check lists so, each as what it covers.
--at X,Y heals only what lies within the tolerance of that place, in µm of the frame. What begins with a minus is given as
--at=-5,3.`,
		Example: `  undermetal trace heal kiln.dossier --dry-run
  undermetal trace heal kiln.dossier --tolerance 0.2um --layer metal1
  undermetal trace heal kiln.dossier --only crosses-itself`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error { return doTraceHeal(c, args[0], &f) },
	}
	f.flags(c)
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "list what would be done, and change nothing")
	c.Flags().BoolVar(&f.across, "across-labels", false, "join nets that have different labels, and source and drain of a transistor, too")
	c.Flags().StringVar(&f.only, "only", check.NearMiss, "what to heal: near-miss, crosses-itself or odd-outline")
	c.Flags().StringVar(&f.at, "at", "", "heal only at this place, X,Y in µm")
	return c
}

func doTraceHeal(c *cobra.Command, name string, f *healFlags) error {
	switch f.only {
	case check.NearMiss, check.CrossesItself, check.OddOutline:
	default:
		return usagef("--only %s: that cannot be healed\n    near-miss, crosses-itself and odd-outline can", f.only)
	}
	if f.only != check.NearMiss && f.across {
		return usagef("--across-labels is about near misses: leave it out with --only %s", f.only)
	}
	var at *geom.Point
	if f.at != "" {
		x, y, px, err := parsePlace(f.at)
		if p := (geom.Vec{X: x * 1000, Y: y * 1000}); err != nil || px || !(math.Abs(p.X) <= geom.Limit && math.Abs(p.Y) <= geom.Limit) {
			return usagef("--at %s: give a place in µm of the frame, as in --at 41.5,120", f.at)
		} else {
			q := p.Round()
			at = &q
		}
	}
	if f.dryRun {
		return readDossier(c, name, func(d *dossier.Dossier) error {
			return d.Moment(func(m dossier.Moment) error {
				h, err := f.plan(c, m, at)
				if err == nil {
					err = h.print(c.OutOrStdout(), name, true)
				}
				return err
			})
		})
	}
	return editDossier(c, name, func(d *dossier.Dossier) error {
		var h *healing
		err := d.Edit(c.Context(), "heal "+f.only, func(tx *dossier.Tx) (err error) {
			if h, err = f.plan(c, tx, at); err == nil {
				err = h.carryOut(tx)
			}
			return err
		})
		if err != nil {
			return err
		}
		return h.print(c.OutOrStdout(), name, false)
	})
}

// healable is what a plan is made from: one state of a dossier, or an edit under way.
type healable interface {
	tracing
	Cells() ([]dossier.Cell, error)
	Stack() (*stack.Stack, error)
	ShapesIn(cell int64, box geom.Rect) ([]dossier.Shape, error)
}

// healing is what is to be done.
type healing struct {
	st        *stack.Stack
	tolerance int
	basis     string
	only      string
	bridges   []check.Bridge
	origins   []editing.Origin // of those that are not refused
	outlines  []outline
}

// outline is a shape to be drawn anew.
type outline struct {
	shape dossier.Shape
	cell  string
	fault geom.Fault
}

func (f *healFlags) plan(c *cobra.Command, m healable, at *geom.Point) (*healing, error) {
	h := &healing{only: f.only}
	var err error
	if h.st, err = m.Stack(); err != nil {
		return nil, err
	}
	over, err := shared.ReadOver(m)
	if err != nil {
		return nil, err
	}
	if h.tolerance, h.basis, err = f.toleranceOf(c, h.st, over); err != nil && f.only == check.NearMiss {
		return nil, err
	}
	layers, err := f.layersOf(h.st)
	if err != nil {
		return nil, err
	}
	for _, l := range layers {
		switch role := h.st.Layers[l].Role; role {
		case stack.Metal, stack.Gate, stack.Diffusion:
		default:
			if f.only == check.NearMiss {
				return nil, usagef("--layer %s: a %s layer has no gaps that heal closes\n    name a metal, gate or diffusion layer", h.st.Layers[l].Name, role)
			}
		}
	}
	near := func(box geom.Rect) bool {
		t := geom.Point{X: h.tolerance, Y: h.tolerance}
		return at == nil || geom.Rect{Min: box.Min.Sub(t), Max: box.Max.Add(t)}.Contains(*at)
	}
	if f.only != check.NearMiss {
		return h, h.findOutlines(c.Context(), m, f, near)
	}
	lib, err := m.Library()
	if err != nil {
		return nil, err
	}
	b := newBar(c, "looking for gaps")
	h.bridges, err = check.Heal(c.Context(), lib, lib.Cells[0], h.st, check.HealOptions{ToleranceNm: h.tolerance, Layers: layers, AcrossLabels: f.across, At: near, Progress: b.set})
	b.end()
	if err != nil {
		return nil, err
	}
	return h, h.findOrigins(m)
}

// findOutlines lists the shapes that --only asks for.
func (h *healing) findOutlines(ctx context.Context, m healable, f *healFlags, near func(geom.Rect) bool) error {
	cells, err := m.Cells()
	if err != nil {
		return err
	}
	wanted := map[string]bool{}
	for _, l := range f.layers {
		wanted[l] = true
	}
	for _, cell := range cells {
		shapes, err := m.Shapes(cell.ID)
		if err != nil {
			return err
		}
		for _, s := range shapes {
			if err := ctx.Err(); err != nil {
				return err
			}
			if len(wanted) > 0 && !wanted[s.Layer] || f.at != "" && (cell.ID != dossier.Frame || !near(s.Polygon.Bounds())) {
				continue
			}
			if code, fault, bad := check.Outline(s.Polygon); bad && code == f.only {
				h.outlines = append(h.outlines, outline{s, cell.Name, fault})
			}
		}
	}
	return nil
}

// slack is how far in nm a place on a slanted edge, rounded to the grid, may lie from the shape.
const slack = 1

// findOrigins finds out what is to be known of where each new shape comes from: the photograph, if all that it joins was
// traced over one, and the greatest uncertainty of the edges. Where it joins what lies in placed cells, none is known.
func (h *healing) findOrigins(m healable) error {
	for i := range h.bridges {
		b := &h.bridges[i]
		o := editing.Origin{Method: "heal"}
		shots := map[int64]bool{}
		for _, p := range b.Beside {
			near := geom.Rect{Min: p.Sub(geom.Point{X: slack, Y: slack}), Max: p.Add(geom.Point{X: slack, Y: slack})}
			shapes, err := m.ShapesIn(dossier.Frame, near)
			if err != nil {
				return err
			}
			found := false
			for _, s := range shapes {
				if s.Layer != h.st.Layers[b.Layer].Name {
					continue
				}
				if _, in := region.Cut(s.Polygon, geom.Polygon{near.Ring()}); len(in) > 0 {
					found = true
					o.SigmaNm, shots[s.Shot] = max(o.SigmaNm, s.SigmaNm), true
				}
			}
			if !found {
				shots[0] = true
			}
		}
		if len(shots) == 1 {
			for o.Shot = range shots {
			}
		}
		h.origins = append(h.origins, o)
	}
	return nil
}

func (h *healing) carryOut(tx *dossier.Tx) error {
	for i := range h.bridges {
		b := &h.bridges[i]
		if b.Why != "" {
			continue
		}
		on := editing.On{Cell: dossier.Frame, Layer: h.st.Layers[b.Layer].Name, Origin: h.origins[i]}
		if _, err := editing.Polygon(tx, on, b.Polygon); err != nil {
			return err
		}
	}
	var ids []int64
	for _, o := range h.outlines {
		ids = append(ids, o.shape.ID)
	}
	if len(ids) == 0 {
		return nil
	}
	_, err := editing.Resolve(tx, ids)
	return err
}

func (h *healing) print(w io.Writer, name string, dryRun bool) error {
	p := &printer{w: w}
	if h.only != check.NearMiss {
		return h.printOutlines(p, name, dryRun)
	}
	p.f("%s: tolerance %g µm, %s\n\n", name, um(float64(h.tolerance)), h.basis)
	if len(h.bridges) > 0 {
		p.f("%-9s  %-10s  %17s  %8s  between\n", "gap", "layer", "place, µm", "gap, µm")
	}
	closed := 0
	for i := range h.bridges {
		b := &h.bridges[i]
		state := "closed"
		switch {
		case b.Why != "":
			state = "left open"
		case dryRun:
			state = "to close"
		}
		if b.Why == "" {
			closed++
		}
		p.f("%-9s  %-10s  %17s  %8.3f  %s\n", state, h.st.Layers[b.Layer].Name, fmt.Sprintf("%.3f, %.3f", um(float64(b.At.X)), um(float64(b.At.Y))), um(float64(b.Gap)), check.Between(b.Nets))
		if b.Why != "" {
			p.f("           %s\n", b.Why)
		}
	}
	if len(h.bridges) == 0 {
		p.f("no gaps to close\n")
		return p.err
	}
	left := len(h.bridges) - closed
	switch {
	case dryRun:
		p.f("\n%s to close, %d to leave open; nothing was changed\n", counted(closed, "gap"), left)
	case closed == 0:
		p.f("\nnothing was closed, %s left open\n", counted(left, "gap"))
	default:
		p.f("\n%s closed, %d left open; undermetal undo %s takes it back\n", counted(closed, "gap"), left, name)
	}
	return p.err
}

func (h *healing) printOutlines(p *printer, name string, dryRun bool) error {
	for _, o := range h.outlines {
		p.f("%-10s  %s", o.shape.Layer, o.fault)
		if o.shape.Cell != dossier.Frame {
			p.f(" [in cell %s]", o.cell)
		}
		p.f("\n")
	}
	switch n := len(h.outlines); {
	case n == 0:
		p.f("%s: no shape is listed as %s\n", name, h.only)
	case dryRun:
		p.f("\n%s to draw anew; nothing was changed\n", counted(n, "shape"))
	default:
		p.f("\n%s drawn anew; undermetal undo %s takes it back\n", counted(n, "shape"), name)
	}
	return p.err
}
