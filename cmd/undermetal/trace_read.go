package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
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
	alike  []string     // rules for those of them that are called as a layer but for case
	near   []string     // rules for those that are called nearly as a layer
	notes  []string
	over   bool       // it lies by a photograph
	atUm   bool       // it lies by --um-per-unit and --at
	size   [2]float64 // in units or pixels, where it lies so
	stated layout.Statements
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
	return t.take(c, in)
}

// take reads a drawing from a file that is open.
func (t *taking) take(c *cobra.Command, in *input) (f *foreign, err error) {
	name := in.name
	f = &foreign{name: name}
	if err := t.unused(in); err != nil {
		return f, err
	}
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
		err = fmt.Errorf("%s: no drawing: GDSII, SVG, GeoJSON and masks (PNG, TIFF) are read, compressed only SVG (.svgz)", name)
		if in.format == dossierFormat {
			err = fmt.Errorf("%s: is a dossier, not a drawing\n    undermetal trace export %s FILE.gds writes its tracing as one", name, word(name))
		}
	}
	if err == nil && len(f.left) > 0 && !t.leave {
		err = f.unmapped()
	}
	return f, err
}

// unused is the error for a flag that is not about such a file.
func (t *taking) unused(in *input) error {
	alone := ", or import this file by itself"
	if t.any { // trace area takes one file
		alone = ""
	}
	mask := in.format == unknownFormat && shot.Known(in.name) == nil
	switch {
	case t.top != "" && in.format != gdsFormat && (mask || in.format == svgFormat || in.format == geojsonFormat):
		return usagef("%s: --top names a cell of a GDSII file, which this is not: leave it out%s", in.name, alone)
	case t.dark && (in.format == gdsFormat || in.format == svgFormat || in.format == geojsonFormat):
		return usagef("%s: --dark is about masks, of which this is none: leave it out, or import this file by itself", in.name)
	}
	return nil
}

// callsAlike adds the rule for what is called nearly as a layer of the stack.
func (f *foreign) callsAlike(st *stack.Stack, name, what string) {
	layer, alike := st.Nearest(name), &f.near
	if layer == "" {
		return
	}
	if strings.EqualFold(layer, name) {
		alike = &f.alike
	}
	if rule := word(what + name + "=" + layer); !slices.Contains(*alike, rule) {
		*alike = append(*alike, rule)
	}
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
	if len(f.alike) > 0 {
		say = fmt.Sprintf("--map %s takes what differs from a layer's name only in upper and lower case\n    %s", strings.Join(f.alike, " --map "), say)
	}
	if len(f.near) > 0 {
		say = fmt.Sprintf("--map %s takes what is called nearly as a layer is, if that is meant\n    %s", strings.Join(f.near, " --map "), say)
	}
	return fmt.Errorf("%s: nothing says to what layer this belongs:\n    %s\n    %s, --leave-unmapped leaves out all of it", f.name, strings.Join(lines, "\n    "), say)
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
