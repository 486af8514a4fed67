package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/mask"
	"undermetal/layout/pen"
	"undermetal/layout/svg"
)

// anyLayer stands for the name of a layer in that of a file.
const anyLayer = "{layer}"

// eachLayer writes a mask for each layer that something is drawn on, or that was asked for. All have one size and lie at one
// place.
func (x *exporting) eachLayer(format string) error {
	if format != "png" {
		return usagef("%s: %s is for masks, one for each layer: other formats hold all layers, or those of --layer", x.name, anyLayer)
	}
	if err := x.load(); err != nil {
		return err
	}
	flat, err := layout.Flatten(x.top)
	if err != nil {
		return err
	}
	var layers []string
	for i, name := range x.lib.Layers {
		if slices.Contains(x.f.layers, name) || flat.Count(layout.Layer(i)) > 0 {
			layers = append(layers, name)
		}
	}
	if len(layers) == 0 {
		return x.nothing()
	}
	name := func(layer string) string { return strings.ReplaceAll(x.name, anyLayer, layer) }
	for _, layer := range layers {
		if err := mayReplace(x.d, name(layer), x.f.force); err != nil {
			return err
		}
	}
	for i, layer := range layers {
		one := *x
		one.name, one.only, one.further = name(layer), layer, i > 0
		if err := one.export(format); err != nil {
			return err
		}
	}
	return nil
}

func (x *exporting) nothing() error {
	return fmt.Errorf("%s: nothing is drawn that a mask could show\n    undermetal info %[1]s says what it holds", word(x.d.Path))
}

// single reports whether the mask shows one layer, in white.
func (x *exporting) single() bool { return len(x.f.layers) == 1 || x.only != "" }

// png writes a mask, of one layer in black and white, of several in colours.
func (x *exporting) png() (func(io.Writer) error, error) {
	flat, err := layout.Flatten(x.top)
	if err != nil {
		return nil, err
	}
	meanings := x.meanings(flat)
	if len(meanings) == 0 {
		return nil, x.nothing()
	}
	lib, top := x.lib, x.top
	var grid mask.Grid
	if x.f.over != "" {
		l, err := overShot(x.d, x.f.over)
		if err != nil {
			return nil, err
		}
		if lib, grid, err = inPixels(x.lib, flat, l); err != nil {
			return nil, fmt.Errorf("%s: %w", l.Name, err)
		}
		top = lib.Cells[0]
		x.again = " --over " + word(l.Name)
	} else {
		grid = mask.Around(flat.Bounds(), x.f.umPerPixel*1000)
		low := grid.Top - grid.NmPerPx*float64(grid.Height)
		x.again = fmt.Sprintf(" --um-per-unit %s --at=%s,%s", exactly64(x.f.umPerPixel), exactly64(grid.Left/1000), exactly64(low/1000))
	}
	if x.single() {
		x.again += " --layer " + word(meanings[0].Layer)
	} else {
		for _, m := range append(meanings, mask.Meaning{}) {
			x.again += fmt.Sprintf(" --map '%s=%s'", m.Colour, m.Layer)
		}
	}
	labels := 0
	for _, n := range countLayers(x.lib) {
		labels += n.labels
	}
	if !x.further {
		x.lost(labels, "labels", "a mask")
		x.lost(len(x.lib.Traced), "traced areas", "a mask")
	}
	return func(w io.Writer) error {
		done, err := mask.Write(w, lib, top, grid, mask.Colour{}, meanings)
		if err != nil {
			return err
		}
		x.counts = func(p *printer) {
			for i, m := range meanings {
				p.f("    %-12s %s %10d pixels\n", m.Layer, m.Colour.String(), done.Pixels[i])
			}
		}
		if done.Hidden > 0 {
			x.notes.f("warning: %s: %d pixels are covered by more than one layer, and show the last: %s in the file's name writes one mask for each layer, which keeps all\n", x.name, done.Hidden, anyLayer)
		}
		return nil
	}, nil
}

func exactly64(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// meanings gives every layer that something is drawn on a colour: white where there is one layer, else that of the stack as
// far as nobody has it yet.
func (x *exporting) meanings(flat *layout.Flat) (all []mask.Meaning) {
	taken := map[mask.Colour]bool{{}: true} // black is the background
	for i, name := range x.lib.Layers {
		if x.only != "" && name != x.only || flat.Count(layout.Layer(i)) == 0 && !x.single() {
			continue
		}
		c := mask.White
		if !x.single() {
			wanted, err := svg.ParseColour(x.colour(layout.Layer(i)))
			c = mask.Colour(wanted)
			for k := 1; err != nil || taken[c]; k++ { // steps that come by all colours
				c, err = mask.Colour{byte(60 + 97*k), byte(200 + 61*k), byte(40 + 151*k)}, nil
			}
		}
		taken[c] = true
		all = append(all, mask.Meaning{Colour: c, Layer: name})
	}
	return all
}

// pixelUnit is how many units of the grid stand for a pixel while a drawing lies over a photograph.
const pixelUnit = 1000

// inPixels returns what of a drawing lies on a photograph, in its pixels, flattened.
func inPixels(lib *layout.Library, flat *layout.Flat, l *dossier.Located) (*layout.Library, mask.Grid, error) {
	grid := mask.Grid{NmPerPx: pixelUnit, Width: int(l.Width), Height: int(l.Height)}
	f := pen.Flattener{Place: func(v geom.Vec) geom.Vec {
		px := l.FromFrame.Apply(v)
		return geom.Vec{X: px.X * pixelUnit, Y: -px.Y * pixelUnit}
	}}
	out := &layout.Cell{Name: "pixels"}
	box := l.Around(0, 0, l.Width, l.Height)
	var err error
	walk := layout.Walk{Layers: ^uint64(0), Overlaps: box.Overlaps, Yield: func(p *layout.Placed) bool {
		pg := p.Transform.ApplyPolygon(p.Polygon)
		if !pg.Bounds().Overlaps(box) {
			return true
		}
		s := layout.Shape{Layer: p.Layer}
		for _, ring := range pg {
			if len(ring) < 3 {
				continue
			}
			var bent geom.Ring
			if bent, err = bend(&f, ring); err != nil {
				return false
			}
			s.Polygon = append(s.Polygon, bent)
		}
		out.Shapes = append(out.Shapes, s)
		return true
	}}
	walk.Run(flat)
	return &layout.Library{Layers: lib.Layers, Cells: []*layout.Cell{out}}, grid, err
}

// bend takes a ring to where it lies, its edges bent as they are there.
func bend(f *pen.Flattener, ring geom.Ring) (geom.Ring, error) {
	vec := func(i int) geom.Vec { p := ring[i%len(ring)]; return geom.Vec{X: float64(p.X), Y: float64(p.Y)} }
	err := f.Move(vec(0))
	for i := 0; i < len(ring) && err == nil; i++ {
		err = f.Line(vec(i), vec(i+1))
	}
	return slices.Clone(f.Points), err
}
