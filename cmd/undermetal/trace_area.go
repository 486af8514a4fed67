package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/region"
)

// areaFlags are the flags of undermetal trace area.
type areaFlags struct {
	taking
	rect, from, allOf string
	replace, remove   bool
	json              bool
}

func newTraceArea() *cobra.Command {
	var f areaFlags
	c := &cobra.Command{
		Use:   "area DOSSIER [LAYER…]",
		Short: "say which part of the layers was really looked at",
		Long: `area says which part of a layer was really looked at. A net that reaches the rim of it is open there: it goes on where
nobody looked, and becomes a port. A layer without any traced area counts as looked at everywhere.

  --rect X0,Y0,X1,Y1   a rectangle in µm of the frame; with --over SHOT in pixels of that photograph
  --all-of SHOT        all that a photograph shows
  --from FILE          what a drawing covers, placed as trace import does (--over, --um-per-unit); all its layers count;
                       of a GDSII file the cell --top

What is said is added to the areas of each LAYER, but not a second time where the very same area is there; or it stands in their place with --replace; --remove takes them all away.
With the dossier alone, area lists them. What begins with a minus is written as in --rect=-5,3,20,30.`,
		Example: `  undermetal trace area kiln.dossier metal1 --all-of bare
  undermetal trace area kiln.dossier poly metal1 via1 --rect=-5,3,120,80 --replace
  undermetal trace area kiln.dossier poly --from looked-at.svg --over bare
  undermetal trace area kiln.dossier metal1 --remove
  undermetal trace area kiln.dossier --json`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return nil
			}
			return usagef("%s wants a dossier and a layer, or a dossier alone to list its areas, got %s\n    %[1]s --help shows an example", c.CommandPath(), counted(len(args), "argument"))
		},
		RunE: func(c *cobra.Command, args []string) error { return doArea(c, args, &f) },
	}
	f.placing.flags(c)
	c.Flags().StringVar(&f.rect, "rect", "", "a rectangle, X0,Y0,X1,Y1 in µm, or in pixels with --over")
	c.Flags().StringVar(&f.from, "from", "", "a drawing of what was looked at: SVG, GeoJSON, GDSII, or a mask")
	c.Flags().StringVar(&f.top, "top", "", "of a GDSII file: the cell that shows what was looked at")
	c.Flags().StringVar(&f.allOf, "all-of", "", "a shot: all that it shows")
	c.Flags().BoolVar(&f.replace, "replace", false, "take away the areas that the layer has")
	c.Flags().BoolVar(&f.remove, "remove", false, "take away all areas of the layer")
	c.Flags().BoolVar(&f.json, "json", false, "list as JSON")
	return c
}

func doArea(c *cobra.Command, args []string, f *areaFlags) error {
	ways := given(c, []string{"rect", "from", "all-of", "remove"})
	switch {
	case len(args) == 1 && len(ways) > 0:
		return usagef("say which layer: trace area %s LAYER --%s …", word(args[0]), ways[0])
	case len(args) == 1:
		return readDossier(c, args[0], func(d *dossier.Dossier) error { return listAreas(c.OutOrStdout(), d, f.json) })
	case f.json:
		return usagef("--json lists all traced areas: leave the layer out")
	case len(ways) != 1:
		return usagef("give one of --rect, --from, --all-of and --remove")
	case f.rect != "" && f.over != "" && f.umPerUnit == 0 && f.at == "": // pixels of a shot
	case f.from == "" && len(given(c, []string{"over", "um-per-unit", "at"})) > 0:
		return usagef("--over, --um-per-unit and --at say where the drawing of --from lies, --over which pixels --rect counts")
	}
	if f.top != "" && f.from == "" {
		return usagef("--top names the cell of a GDSII file that --from gives")
	}
	if err := f.placing.check(c); err != nil {
		return err
	}
	return editDossier(c, args[0], func(d *dossier.Dossier) (err error) {
		if f.stack, err = d.Stack(); err != nil {
			return err
		}
		layers := distinct(args[1:])
		for _, l := range layers {
			if err := inStack(f.stack, "area", l); err != nil {
				return err
			}
		}
		if err := f.locate(d); err != nil {
			return err
		}
		pgs, notes, err := f.polygons(c, d, layers[0])
		if err != nil {
			return err
		}
		return storeAreas(c, d, layers, f, pgs, notes)
	})
}

// polygons are the areas that the flags give; none to remove all.
func (f *areaFlags) polygons(c *cobra.Command, d *dossier.Dossier, layer string) (pgs []geom.Polygon, notes []string, err error) {
	switch {
	case f.rect != "":
		pgs, err = f.rectangle()
	case f.allOf != "":
		l, err := overShot(d, f.allOf)
		if err != nil {
			return nil, nil, err
		}
		pgs, err = onFrame(l, 0, 0, l.Width, l.Height, f.toleranceNm)
		return pgs, nil, err
	case f.from != "":
		return f.drawn(c, layer)
	}
	return pgs, nil, err
}

func (f *areaFlags) rectangle() ([]geom.Polygon, error) {
	v, px, err := parseBox(f.rect, f.shot != nil)
	switch {
	case err == nil && px && f.shot == nil:
		err = errors.New("pixels want --over, which names the shot")
	case err == nil && (v[0] == v[2] || v[1] == v[3]):
		err = errors.New("a rectangle without area: give two opposite corners")
	}
	if err != nil {
		return nil, usagef("--rect %s: %v\n    give X0,Y0,X1,Y1 in µm, as in --rect=-5,3,120,80, or in pixels with --over", f.rect, err)
	}
	if f.shot == nil {
		for i := range v {
			v[i] *= 1000
		}
		a, b := geom.Vec{X: v[0], Y: v[1]}, geom.Vec{X: v[2], Y: v[3]}
		if max(a.X, -a.X, a.Y, -a.Y, b.X, -b.X, b.Y, -b.Y) > geom.Limit {
			return nil, fmt.Errorf("--rect %s: reaches outside the frame, which ends at ±%.0f µm", f.rect, geom.Limit/1e3)
		}
		p, q := a.Round(), b.Round()
		return []geom.Polygon{{geom.Box(min(p.X, q.X), min(p.Y, q.Y), max(p.X, q.X), max(p.Y, q.Y)).Ring()}}, nil
	}
	for _, p := range []geom.Vec{{X: v[0], Y: v[1]}, {X: v[2], Y: v[3]}} {
		if err := withinShot(f.shot, p); err != nil {
			return nil, fmt.Errorf("--rect %s: %w", f.rect, err)
		}
	}
	return onFrame(f.shot, v[0], v[1], v[2], v[3], f.toleranceNm)
}

// onFrame returns a part of a photograph in the frame, its sides bent as the map bends them.
func onFrame(l *dossier.Located, x0, y0, x1, y1, toleranceNm float64) ([]geom.Polygon, error) {
	f := pen.Flattener{Place: onShot(l), Tolerance: toleranceNm}
	corners := []geom.Vec{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
	err := f.Move(corners[0])
	for i := 0; i < 4 && err == nil; i++ {
		err = f.Line(corners[i], corners[(i+1)%4])
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", l.Name, err)
	}
	return region.Clean(geom.Polygon{pen.ClosedOutline(slices.Clone(f.Points))}), nil
}

// drawn returns what a drawing covers, cells that it places too.
func (f *areaFlags) drawn(c *cobra.Command, layer string) (pgs []geom.Polygon, notes []string, err error) {
	t := f.taking
	t.layer, t.leave, t.any = layer, true, true
	d, err := t.read(c, f.from)
	if err != nil {
		return nil, nil, err
	}
	flat, err := layout.Flatten(d.top)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", f.from, err)
	}
	flat.Shapes(func(s *layout.Shape, at geom.Transform) bool {
		pgs = append(pgs, at.ApplyPolygon(s.Polygon))
		return true
	})
	for i := range d.lib.Traced {
		pgs = append(pgs, d.lib.Traced[i].Polygon)
	}
	if pgs = region.Polygons(region.Union(pgs...)); len(pgs) == 0 {
		return nil, nil, fmt.Errorf("%s: nothing is drawn in it that could be an area", f.from)
	}
	for _, text := range d.left {
		notes = append(notes, "left out: "+text)
	}
	return pgs, append(notes, d.notes...), nil
}

// storeAreas stores areas on some layers as one edit.
func storeAreas(c *cobra.Command, d *dossier.Dossier, layers []string, f *areaFlags, pgs []geom.Polygon, notes []string) error {
	areas, err := d.Areas()
	if err != nil {
		return err
	}
	before := map[string]int{}
	for _, a := range areas {
		before[a.Layer]++
	}
	for _, layer := range layers {
		if f.remove && before[layer] == 0 {
			return fmt.Errorf("%s: %s has no traced area to remove\n    undermetal trace area %s lists those that there are", d.Path, layer, word(d.Path))
		}
	}
	what := "add traced areas on " + someNames(layers)
	if f.remove {
		what = "remove the traced areas on " + someNames(layers)
	}
	added := map[string][]geom.Polygon{} // by layer
	change := f.remove
	for _, layer := range layers {
		added[layer] = f.notThere(layer, pgs, areas)
		change = change || f.replace || len(added[layer]) > 0
	}
	if change {
		err = d.Edit(c.Context(), what, func(tx *dossier.Tx) error {
			for _, layer := range layers {
				if err := f.store(tx, layer, added[layer]); err != nil {
					return err
				}
			}
			return nil
		})
	}
	if err != nil {
		return err
	}
	p, e := &printer{w: c.OutOrStdout()}, &printer{w: c.ErrOrStderr()}
	for _, n := range notes {
		e.f("warning: %s: %s\n", f.from, n)
	}
	for _, layer := range layers {
		if f.remove {
			p.f("%s: %s removed: it counts as looked at everywhere\n", layer, counted(before[layer], "traced area"))
			continue
		}
		for _, pg := range added[layer] {
			p.f("%s: %s\n", layer, areaText(pg))
		}
		if there := len(pgs) - len(added[layer]); there > 0 {
			p.f("%s: %s there already, not added again\n", layer, counted(there, "traced area"))
		}
		if f.replace && before[layer] > 0 {
			p.f("    in place of %s\n", counted(before[layer], "traced area"))
		}
	}
	return errors.Join(p.err, e.err)
}

// notThere returns those areas that a layer does not have yet, all of them where they are to replace what it has.
func (f *areaFlags) notThere(layer string, pgs []geom.Polygon, there []dossier.Area) (left []geom.Polygon) {
	if f.replace {
		return pgs
	}
	for _, pg := range pgs {
		if !edit.HasArea(there, layer, pg) {
			left = append(left, pg)
		}
	}
	return left
}

// distinct returns texts without those that came before.
func distinct(texts []string) (out []string) {
	for _, t := range texts {
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}

// store stores areas on one layer.
func (f *areaFlags) store(tx *dossier.Tx, layer string, pgs []geom.Polygon) (err error) {
	if f.remove || f.replace {
		_, err = edit.SetAreas(tx, layer, pgs...)
		return err
	}
	for i := 0; i < len(pgs) && err == nil; i++ {
		_, err = edit.AddArea(tx, layer, pgs[i])
	}
	return err
}
