package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"undermetal/layout/gds"
	"undermetal/layout/geojson"
	"undermetal/layout/mask"
	"undermetal/layout/shot"
	"undermetal/layout/svg"
)

func (t *taking) gds(c *cobra.Command, in *input, f *foreign) error {
	if t.over != "" || t.umPerUnit > 0 {
		return usagef("%s: --over, --um-per-unit and --at are for SVG and masks: a GDSII file has µm of its own, which are taken as those of the frame", in.name)
	}
	m, err := t.forGDS(in.name, t.stack)
	if err != nil {
		return err
	}
	from := newReading(c, in)
	lib, rep, err := gds.Read(in.name, from, m.Map)
	from.end()
	if err != nil {
		return err
	}
	f.kind, f.lib = "GDSII", lib
	for i, text := range t.texts {
		what, _, _ := cutRule(text)
		p, _ := parsePair(what)
		t.holds(i, rep.Met[p])
	}
	for _, s := range rep.Skipped {
		text := fmt.Sprintf("%s: %s, %s", s.Pair, counted(s.Shapes, "shape"), counted(s.Labels, "text"))
		switch {
		case m.out[s.Pair]:
			f.notes = append(f.notes, "left out by a rule: "+text)
		case slices.Contains(m.substrate, s.Pair) && s.Shapes == 0:
			f.notes = append(f.notes, text+" that name the substrate, for which a dossier has no layer: left out")
		default:
			f.left = append(f.left, text)
			if f.rule == "" {
				f.rule = s.Pair.String()
			}
		}
	}
	for _, n := range rep.Notes {
		f.notes = append(f.notes, n.String())
	}
	f.layers = countLayers(lib)
	return t.pick(f)
}

func (t *taking) svg(c *cobra.Command, in *input, f *foreign) error {
	rules, err := t.forSVG()
	if err != nil {
		return err
	}
	from := newReading(c, in)
	doc, err := svg.Parse(in.name, from)
	from.end()
	if err != nil {
		return err
	}
	o := svg.Options{Layers: t.stack.LayerNames(), Rules: rules, Default: t.layer, ToleranceNm: t.toleranceNm, LeaveUnmapped: true, Ended: c.Context().Err}
	place, border, notes, err := t.placing.svg(in.name, doc)
	if err != nil {
		return err
	}
	if o.Place = place; border != nil {
		o.Within = border.within
	}
	lib, rep, err := doc.Library(o)
	if err != nil && !t.any { // where all layers count there is no --map
		err = svg.WithRules(err, "--map 'id:NAME='")
	}
	if err != nil {
		return err
	}
	for i, held := range rep.Held {
		t.holds(i, held)
	}
	if f.notes = notes; border != nil {
		f.notes = append(f.notes, border.note()...)
	}
	f.kind, f.lib, f.top, f.over = "SVG", lib, lib.Cells[0], t.shot != nil
	f.atUm, f.size = t.umPerUnit > 0, [2]float64{doc.View.Width, doc.View.Height}
	f.stated = rep.Stated
	for _, n := range rep.Layers {
		f.layers = append(f.layers, layerCount{n.Layer, n.Polygons, n.Wires, n.Labels, n.Areas})
	}
	for _, u := range rep.Unmapped {
		f.left = append(f.left, u.String())
		f.callsAlike(t.stack, u.Group, "group:")
		f.callsAlike(t.stack, u.Class, "class:")
	}
	if len(rep.Unmapped) > 0 {
		switch u := rep.Unmapped[0]; {
		case u.Colour != "" && !u.Shared:
			f.rule = u.Colour
		case u.Shared && u.Group != "":
			f.rule = "group:" + u.Group
		case u.Class != "":
			f.rule = "class:" + u.Class
		case u.Group != "":
			f.rule = "group:" + u.Group
		default:
			f.rule = u.Colour
		}
	}
	for _, n := range rep.Notes {
		f.notes = append(f.notes, n.String())
	}
	return nil
}

func (t *taking) geojson(c *cobra.Command, in *input, f *foreign) error {
	if t.over != "" || t.umPerUnit > 0 && !t.noShot { // as an input it may stand beside an SVG drawing
		return usagef("%s: --over, --um-per-unit and --at are for SVG and masks: GeoJSON is in µm of the frame", in.name)
	}
	from := newReading(c, in)
	lib, rep, err := geojson.Read(in.name, from, geojson.Options{Layers: t.stack.LayerNames(), Rename: t.forGeoJSON(), Default: t.layer, LeaveUnmapped: true})
	from.end()
	if err != nil {
		return err
	}
	f.kind, f.lib, f.top, f.stated = "GeoJSON", lib, lib.Cells[0], rep.Stated
	for i, text := range t.texts {
		what, _, _ := cutRule(text)
		t.holds(i, rep.Renamed[what])
	}
	for _, n := range rep.Layers {
		f.layers = append(f.layers, layerCount{n.Layer, n.Polygons, n.Wires, n.Labels, n.Areas})
	}
	for _, u := range rep.Unmapped {
		f.left = append(f.left, u.String())
		f.callsAlike(t.stack, u.Value, "")
		if f.rule == "" {
			f.rule = u.Value
		}
	}
	for _, n := range rep.Notes {
		f.notes = append(f.notes, n.String())
	}
	return nil
}

func (t *taking) mask(c *cobra.Command, in *input, f *foreign) error {
	meanings, err := t.forMask(in.name)
	if err != nil {
		return err
	}
	if t.dark && len(meanings) > 0 {
		return usagef("%s: --dark is for a mask of one --layer: here colours say what is covered", in.name)
	}
	r, err := shot.Open(c.Context(), in.name, 0)
	if err != nil {
		return err
	}
	defer r.Close()
	h := r.Header()
	o := mask.Options{ToleranceNm: t.toleranceNm, Layer: t.layer, Dark: t.dark, Meanings: meanings, LeaveUnmapped: true}
	if o.Place, err = t.placing.mask(in.name, h.Width, h.Height); err != nil {
		return err
	}
	b := newBar(c, "reading "+in.name)
	lib, rep, err := mask.Read(in.name, &maskRows{r, b, 0}, o)
	b.end()
	if err != nil {
		return err
	}
	for i, m := range meanings {
		t.holds(i, rep.Met[m.Colour] || m.Layer == "") // a mask need not have a background
	}
	byName := map[string]layerCount{}
	for _, n := range rep.Layers {
		byName[n.Layer] = layerCount{name: n.Layer, shapes: n.Polygons}
	}
	for _, name := range t.stack.LayerNames() {
		if n, ok := byName[name]; ok {
			f.layers = append(f.layers, n)
		}
	}
	f.kind, f.lib, f.top, f.over, f.notes = "mask", lib, lib.Cells[0], t.shot != nil, rep.Notes
	f.atUm, f.size = t.umPerUnit > 0, [2]float64{float64(h.Width), float64(h.Height)}
	for _, u := range rep.Unmapped {
		f.left = append(f.left, u.String())
		if f.rule == "" {
			f.rule = u.Colour.String()
		}
	}
	return nil
}

// maskRows are rows that show how far they are.
type maskRows struct {
	shot.File
	bar  *bar
	done int
}

func (r *maskRows) ReadRow(dst []byte) error {
	r.done++
	r.bar.set(r.done, max(r.done, r.Header().Height))
	return r.File.ReadRow(dst)
}
