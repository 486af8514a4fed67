package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"undermetal/layout"
	"undermetal/layout/edit"
)

// print says what was read from a file, and what was not.
func (in *importing) print(f *foreign, done *edit.Imported) {
	in.out.f("%s: %s%s\n", f.name, f.kind, in.how(f))
	printLayers(in.out, f.layers)
	for _, text := range f.left {
		in.out.f("    left out: %s\n", text)
	}
	if done.Placements > 0 {
		in.out.f("    %s of %s\n", counted(done.Placements, "placement"), counted(len(f.lib.Cells)-1, "cell"))
	}
	if done.Replaced > 0 {
		in.out.f("    replaced: %s that came from %s before\n", counted(done.Replaced, "shape"), filepath.Base(f.name))
	}
	for _, n := range f.notes {
		in.err.f("warning: %s: %s\n", f.name, n)
	}
	if done.Before > 0 {
		in.err.f("warning: %s: %s that came from a file of this name before stay as well: --replace takes them away first\n", f.name, counted(done.Before, "shape"))
	}
	if done.There > 0 && !in.f.replace {
		in.err.f("warning: %s: labels and traced areas that were there already, and were not added again: %d\n", f.name, done.There)
	}
	if done.AreasLeft > 0 {
		in.err.f("warning: %s: %s left out: it is the die that has them, not a cell\n", f.name, counted(done.AreasLeft, "traced area"))
	}
	if in.f.replace && done.Labels+done.Areas > 0 {
		in.err.f("warning: %s: labels and traced areas do not know their file: those that lie elsewhere now are still where they were, too\n", f.name)
	}
	in.done.Shapes += done.Shapes
	in.done.Labels += done.Labels
	in.done.Areas += done.Areas
	in.done.Cells += done.Cells
	in.done.Placements += done.Placements
}

// how says where a drawing lies, and how uncertain its edges are.
func (in *importing) how(f *foreign) string {
	text := ""
	if f.over {
		text = " over " + in.f.shot.Name
	}
	if n := f.uncertain(); n > 0 && in.f.sigma == "" {
		return fmt.Sprintf("%s, edges of %s as uncertain as it says, all others exact", text, counted(n, "shape"))
	}
	return text + in.f.uncertain.text()
}

// uncertain counts the shapes of which the drawing says how uncertain their edges are.
func (f *foreign) uncertain() (n int) {
	for _, said := range f.stated {
		for _, s := range said {
			if s.HasSigma {
				n++
			}
		}
	}
	return n
}

// onlyShots keeps of what the drawing says only the photographs.
func (f *foreign) onlyShots() {
	var kept layout.Statements
	for c, said := range f.stated {
		for i, s := range said {
			kept.Set(c, i, layout.Stated{Shot: s.Shot})
		}
	}
	f.stated = kept
}

func (in *importing) total(path string) {
	var parts []string
	for _, n := range []struct {
		n    int
		what string
	}{{in.done.Shapes, "shape"}, {in.done.Labels, "label"}, {in.done.Areas, "traced area"}, {in.done.Cells, "cell"}, {in.done.Placements, "placement"}} {
		if n.n > 0 {
			parts = append(parts, counted(n.n, n.what))
		}
	}
	switch {
	case len(parts) == 0:
		in.out.f("nothing to store\n")
	case in.f.dryRun:
		in.out.f("%s; nothing was stored\n", strings.Join(parts, ", "))
	default:
		in.out.f("%s stored; undermetal undo %s takes them back\n", strings.Join(parts, ", "), word(path))
	}
}

// printLayers prints a table of what lies on the layers, as far as there is anything.
func printLayers(p *printer, layers []layerCount) {
	width, any := len("layer"), false
	for _, l := range layers {
		if l != (layerCount{name: l.name}) {
			width, any = max(width, len([]rune(l.name))), true
		}
	}
	if !any {
		p.f("    nothing is drawn in it\n")
		return
	}
	p.f("    %-*s %8s %8s %8s %8s\n", width, "layer", "shapes", "wires", "labels", "areas")
	for _, l := range layers {
		if l != (layerCount{name: l.name}) {
			p.f("    %-*s %8d %8d %8d %8d\n", width, l.name, l.shapes, l.wires, l.labels, l.areas)
		}
	}
}

// uncertain is how far the edges of what is read may be off: in pixels of a shot, or in nm.
type uncertain struct {
	value float64
	px    bool
}

// parseUncertain reads --sigma; 1 px where nothing is said of a drawing over a shot.
func parseUncertain(text string, over bool) (u uncertain, err error) {
	switch number, px := strings.CutSuffix(text, "px"); {
	case text == "" && over:
		return uncertain{1, true}, nil
	case text == "":
		return u, nil
	case px && !over:
		return u, usagef("--sigma %s: a pixel has a size where --over names the photograph\n    give a length, as in 50nm", text)
	case px:
		u.px = true
		u.value, err = finite(strings.TrimSpace(number))
	default:
		u.value, err = parseQuantity(text, "nm")
	}
	if err != nil || !(u.value >= 0 && u.value <= 1e6) {
		return u, usagef("--sigma %s: give a standard deviation, 0 or more, as in 1px or 50nm", text)
	}
	return u, nil
}

func (u uncertain) of(p *placing) func(*layout.Shape) float64 {
	if u.px {
		return sigmaPx(p.shot, u.value)
	}
	return func(*layout.Shape) float64 { return u.value }
}

func (u uncertain) text() string {
	switch {
	case u.px:
		return fmt.Sprintf(", edges ± %g px", u.value)
	case u.value > 0:
		return fmt.Sprintf(", edges ± %g nm", u.value)
	}
	return ", edges taken as exact"
}
