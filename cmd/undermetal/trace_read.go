package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geojson"
	"undermetal/layout/mask"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
	"undermetal/layout/svg"
)

// taking says how drawings from elsewhere are taken.
type taking struct {
	mapping
	placing
	top   string // the cell of a GDSII file
	dark  bool   // of a mask of one layer: covered where it is dark
	stack *stack.Stack
}

// foreign is a drawing from elsewhere, with what is to be said of how it was taken.
type foreign struct {
	name   string
	kind   string // such as "SVG"
	lib    *layout.Library
	top    *layout.Cell
	layers []layerCount // in the stack's order
	left   []string     // what was left out because nothing gives it a layer
	rule   string       // that would give the first of them one
	notes  []string
	over   bool // it lies by a photograph
}

// layerCount is what was read onto a layer.
type layerCount struct {
	name                         string
	shapes, wires, labels, areas int
}

// read reads a drawing, told by its content. Errors name the file.
func (t *taking) read(c *cobra.Command, name string) (*foreign, error) {
	in, err := openAny(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	f := &foreign{name: name}
	switch in.format {
	case gdsFormat:
		err = t.gds(c, in, f)
	case svgFormat:
		err = t.svg(c, in, f)
	case geojsonFormat:
		err = t.geojson(c, in, f)
	case unknownFormat:
		if shot.Known(name) == nil {
			err = t.mask(c, in, f)
			break
		}
		fallthrough
	default:
		err = fmt.Errorf("%s: no drawing: GDSII, SVG, GeoJSON and masks (PNG, TIFF) are read, not compressed", name)
		if in.format == dossierFormat {
			err = fmt.Errorf("%s: is a dossier, not a drawing\n    undermetal trace export %s FILE.gds writes its tracing as one", name, word(name))
		}
	}
	if err == nil && len(f.left) > 0 && !t.leave {
		err = f.unmapped()
	}
	return f, err
}

// unmapped is the error for what nothing gives a layer.
func (f *foreign) unmapped() error {
	const shown = 12
	lines := slices.Clone(f.left)
	if len(lines) > shown {
		lines = append(lines[:shown], fmt.Sprintf("and %d kinds more", len(f.left)-shown))
	}
	say := fmt.Sprintf("--map '%s=LAYER' says it, --map '%[1]s=' leaves it out", f.rule)
	if f.rule == "" {
		say = "--layer LAYER says it"
	}
	return fmt.Errorf("%s: nothing says to what layer this belongs:\n    %s\n    %s, --leave-unmapped leaves out all of it", f.name, strings.Join(lines, "\n    "), say)
}

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

// pick finds the cell that is drawn: the one that was asked for, with what it places; the only one that no other places; or,
// of several, the one that is called as the die is.
func (t *taking) pick(f *foreign) (err error) {
	if t.top == "" {
		if tops := f.lib.Tops(); len(tops) > 1 {
			i := slices.IndexFunc(tops, func(c *layout.Cell) bool { return c.Name == dieName })
			if i >= 0 {
				f.top = tops[i]
				return nil
			}
		}
	}
	if f.top, err = pickTop(f.name, f.lib, t.top); err != nil || t.top == "" {
		return err
	}
	onlyBelow(f.lib, f.top)
	f.layers = countLayers(f.lib)
	return nil
}

// onlyBelow leaves in a library a cell and what it places.
func onlyBelow(lib *layout.Library, top *layout.Cell) {
	below := map[*layout.Cell]bool{}
	var visit func(*layout.Cell)
	visit = func(c *layout.Cell) {
		if !below[c] {
			below[c] = true
			for i := range c.Placements {
				visit(c.Placements[i].Cell)
			}
		}
	}
	visit(top)
	lib.Cells = slices.DeleteFunc(lib.Cells, func(c *layout.Cell) bool { return !below[c] })
}

// dieName is what a dossier calls the die, and a drawing that comes from one its first cell.
const dieName = "die"

// countLayers counts what there is on the layers in all cells; wires are shapes there.
func countLayers(lib *layout.Library) []layerCount {
	layers := make([]layerCount, len(lib.Layers))
	for i, name := range lib.Layers {
		layers[i].name = name
	}
	for _, cell := range lib.Cells {
		for i := range cell.Shapes {
			layers[cell.Shapes[i].Layer].shapes++
		}
		for i := range cell.Labels {
			layers[cell.Labels[i].Layer].labels++
		}
	}
	return layers
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
	o := svg.Options{Layers: t.stack.LayerNames(), Rules: rules, Default: t.layer, ToleranceNm: t.toleranceNm, LeaveUnmapped: true}
	place, border, notes, err := t.placing.svg(in.name, doc)
	if err != nil {
		return err
	}
	if o.Place = place; border != nil {
		o.Within = border.within
	}
	lib, rep, err := doc.Library(o)
	if err != nil {
		return err
	}
	if f.notes = notes; border != nil {
		f.notes = append(f.notes, border.note()...)
	}
	f.kind, f.lib, f.top, f.over = "SVG", lib, lib.Cells[0], t.shot != nil
	for _, n := range rep.Layers {
		f.layers = append(f.layers, layerCount{n.Layer, n.Polygons, n.Wires, n.Labels, n.Areas})
	}
	for _, u := range rep.Unmapped {
		f.left = append(f.left, u.String())
	}
	if len(rep.Unmapped) > 0 {
		switch u := rep.Unmapped[0]; {
		case u.Colour != "":
			f.rule = u.Colour
		case u.Class != "":
			f.rule = "class:" + u.Class
		case u.Group != "":
			f.rule = "group:" + u.Group
		}
	}
	for _, n := range rep.Notes {
		f.notes = append(f.notes, n.String())
	}
	return nil
}

func (t *taking) geojson(c *cobra.Command, in *input, f *foreign) error {
	if t.over != "" || t.umPerUnit > 0 {
		return usagef("%s: --over, --um-per-unit and --at are for SVG and masks: GeoJSON is in µm of the frame", in.name)
	}
	from := newReading(c, in)
	lib, rep, err := geojson.Read(in.name, from, geojson.Options{Layers: t.stack.LayerNames(), Rename: t.forGeoJSON(), Default: t.layer, LeaveUnmapped: true})
	from.end()
	if err != nil {
		return err
	}
	f.kind, f.lib, f.top = "GeoJSON", lib, lib.Cells[0]
	for _, n := range rep.Layers {
		f.layers = append(f.layers, layerCount{n.Layer, n.Polygons, n.Wires, n.Labels, n.Areas})
	}
	for _, u := range rep.Unmapped {
		f.left = append(f.left, u.String())
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
	shot.Reader
	bar  *bar
	done int
}

func (r *maskRows) ReadRow(dst []byte) error {
	r.done++
	r.bar.set(r.done, max(r.done, r.Header().Height))
	return r.Reader.ReadRow(dst)
}
