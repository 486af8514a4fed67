package main

import (
	"fmt"
	"io"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geojson"
	"undermetal/layout/geom"
)

// gds writes a stream by the numbers of the stack, or by those of --map.
func (x *exporting) gds() (func(io.Writer) error, error) {
	type numbers struct{ shapes, labels gds.Pair }
	of := make([]*numbers, len(x.lib.Layers))
	for i, name := range x.lib.Layers {
		k, _ := x.stack.LayerNamed(name)
		if l := x.stack.Layers[k]; len(l.GDS) > 0 {
			of[i] = &numbers{l.GDS[0], l.GDS[0]}
			if len(l.Labels) > 0 {
				of[i].labels = l.Labels[0]
			}
		}
	}
	for _, text := range x.f.pairs {
		name, number, _ := cutRule(text)
		p, err := parsePair(number)
		if err != nil {
			return nil, usagef("--map %s: write the layer and its GDSII number, as in metal1=34/0", text)
		}
		if err := inStack(x.stack, "--map "+text, name); err != nil {
			return nil, err
		}
		if l, ok := x.lib.LayerNamed(name); ok {
			of[l] = &numbers{p, p}
			x.again += fmt.Sprintf(" --map %s=%s", p, name)
		}
	}
	for i, n := range countLayers(x.lib) {
		if of[i] == nil && n.shapes+n.labels > 0 {
			return nil, fmt.Errorf("layer %s has no number for a GDSII file\n    --map %[1]s=34/0 gives it one, or gds = [\"34/0\"] at the layer in the stack", n.name)
		}
	}
	named := 0
	for _, cell := range x.lib.Cells {
		for i := range cell.Placements {
			if cell.Placements[i].Name != "" {
				named++
			}
		}
	}
	x.lost(named, "names of placements", "GDSII")
	x.lost(len(x.lib.Traced), "traced areas", "GDSII")
	x.counts = func(p *printer) { printLayers(p, countLayers(x.lib)) }
	shapes := func(l layout.Layer) gds.Pair { return of[l].shapes }
	labels := func(l layout.Layer) gds.Pair { return of[l].labels }
	return func(w io.Writer) error { return gds.Write(w, x.lib, shapes, labels) }, nil
}

func (x *exporting) lost(n int, what, format string) {
	if n > 0 {
		x.notes.f("warning: %s: %s left out, for which %s has no place: %d\n", x.name, what, format, n)
	}
}

func (x *exporting) withAreas(layers []layerCount) []layerCount {
	for i := range x.lib.Traced {
		layers[x.lib.Traced[i].Layer].areas++
	}
	return layers
}

// shotNames returns the names of the photographs by their ids.
func (x *exporting) shotNames() (map[int64]string, error) {
	shots, err := x.d.Shots()
	names := map[int64]string{}
	for _, s := range shots {
		names[s.ID] = s.Name
	}
	return names, err
}

// geojson writes the flattened drawing, with where each shape comes from.
func (x *exporting) geojson() (func(io.Writer) error, error) {
	names, err := x.shotNames()
	if err != nil {
		return nil, err
	}
	more := func(s *layout.Shape) map[string]any {
		o := x.origins[s]
		if o == nil { // of a traced area
			return nil
		}
		m := map[string]any{"method": o.Method, "sigma_nm": o.SigmaNm}
		if o.Shot != 0 {
			m["shot"] = names[o.Shot]
		}
		if o.File != "" {
			m["file"] = o.File
		}
		return m
	}
	flat, err := layout.Flatten(x.top)
	if err != nil {
		return nil, err
	}
	layers := make([]layerCount, len(x.lib.Layers))
	for i, name := range x.lib.Layers {
		layers[i] = layerCount{name: name, shapes: flat.Count(layout.Layer(i))}
	}
	flat.Labels(func(l *layout.Label, _ geom.Point, _ string) { layers[l.Layer].labels++ })
	x.counts = func(p *printer) { printLayers(p, x.withAreas(layers)) }
	return func(w io.Writer) error { return geojson.Write(w, x.lib, x.top, more) }, nil
}
