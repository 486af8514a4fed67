package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/layout/svg"
)

// exportFlags are the flags of undermetal trace export.
type exportFlags struct {
	format, cell, over string
	layers, pairs      []string
	umPerPixel         float64
	force              bool
}

// exportFormats are the formats with their usual endings, the first of which names the format.
var exportFormats = [][]string{{"gds", "gdsii", "gds2"}, {"svg"}, {"geojson", "json"}, {"png"}}

func newTraceExport() *cobra.Command {
	var f exportFlags
	c := &cobra.Command{
		Use:   "export DOSSIER FILE",
		Short: "write the tracing as GDSII, SVG, GeoJSON or PNG masks",
		Long: `export writes what was traced, in the format that the ending of FILE says, or --format for - and other endings. What goes
out comes back by trace import as the same drawing, as far as the format goes. SVG and GeoJSON bring back how uncertain the
edges are and which photograph each shape was traced over, the others as --sigma says then; and all comes from FILE then:

  gds      cells, placements and arrays; each layer by the number that the stack gives it, or --map LAYER=34/0.
           It has no place for traced areas and names of placements
  svg      all, in µm of the frame, for browsers and vector editors; trace import needs no scale for it. Every shape has
           data-sigma-nm and data-shot
  geojson  the drawing flattened, in µm of the frame, every shape with where it comes from (method, shot, file, sigma_nm)
  png      a mask: of one --layer white on black, of several one colour each, with the rules that trace import needs;
           --um-per-pixel says how large a pixel is, or --over SHOT takes those of a photograph. It has no place for labels and
           traced areas

--layer takes single layers, --cell a cell instead of the die.`,
		Example: `  undermetal trace export kiln.dossier kiln.gds
  undermetal trace export kiln.dossier metals.svg --layer metal1 --layer via1
  undermetal trace export kiln.dossier metal1.png --layer metal1 --over bare
  undermetal trace export kiln.dossier layers.png --um-per-pixel 0.05
  undermetal trace export kiln.dossier masks/{layer}.png --over bare
  undermetal trace export kiln.dossier - --format geojson`,
		Args: exactly(2, "a dossier and the file to write"),
		RunE: func(c *cobra.Command, args []string) error { return doExport(c, args[0], args[1], &f) },
	}
	c.Flags().StringVar(&f.format, "format", "", "gds, svg, geojson or png; default by the file's ending")
	c.Flags().StringArrayVar(&f.layers, "layer", nil, "a layer to write; give one for each, default all")
	c.Flags().StringVar(&f.cell, "cell", "", "write this cell with what it places; default the die")
	c.Flags().StringArrayVar(&f.pairs, "map", nil, "the GDSII number of a layer, as in metal1=34/0, in place of the stack's")
	c.Flags().Var(quantity{&f.umPerPixel, "µm"}, "um-per-pixel", "how large a pixel of a mask is, in µm")
	c.Flags().StringVar(&f.over, "over", "", "the shot whose pixels a mask has")
	c.Flags().BoolVar(&f.force, "force", false, "replace the file where it is there already")
	return c
}

// check returns the format.
func (f *exportFlags) check(c *cobra.Command, name string) (string, error) {
	ending := strings.ToLower(strings.TrimPrefix(filepath.Ext(name), "."))
	if f.format != "" {
		ending = f.format
	}
	i := slices.IndexFunc(exportFormats, func(names []string) bool { return slices.Contains(names, ending) })
	if i < 0 {
		return "", usagef("%s: nothing says in which format it is to be written\n    end it in .gds, .svg, .geojson or .png, or give one of these as --format", name)
	}
	format, sized := exportFormats[i][0], len(given(c, []string{"um-per-pixel", "over"}))
	switch {
	case format != "png" && sized > 0:
		return "", usagef("--um-per-pixel and --over are for masks (PNG): %s is written in µm", name)
	case format == "png" && sized != 1:
		return "", usagef("a mask has pixels: --um-per-pixel says how large they are, or --over SHOT takes those of a photograph")
	case format == "png" && f.over == "" && !(f.umPerPixel >= 1e-4 && f.umPerPixel <= 1e6):
		return "", usagef("--um-per-pixel %g: give the size of a pixel in µm, from 0.0001 on, as in 0.05", f.umPerPixel)
	case format != "gds" && len(f.pairs) > 0:
		return "", usagef("--map gives layers their numbers in a GDSII file: %s has them by name", name)
	}
	return format, nil
}

func doExport(c *cobra.Command, path, name string, f *exportFlags) error {
	format, err := f.check(c, name)
	if err != nil {
		return err
	}
	return readDossier(c, path, func(d *dossier.Dossier) error {
		x := &exporting{c: c, d: d, f: f, name: name, notes: &printer{w: c.ErrOrStderr()}}
		if strings.Contains(name, anyLayer) && name != "-" {
			return x.eachLayer(format)
		}
		if err := mayReplace(d, name, f.force); err != nil {
			return err
		}
		if err := x.load(); err != nil {
			return err
		}
		return x.export(format)
	})
}

// export writes a file, and says so.
func (x *exporting) export(format string) error {
	write, err := x.writer(format)
	if err != nil {
		return err
	}
	b := newClock(x.c, "writing "+x.name)
	err = writeTo(x.c, x.name, func(w io.Writer) error {
		err := write(&heardWriter{x.c.Context(), w})
		if err != nil && x.name != "-" {
			err = fmt.Errorf("%s: %w", x.name, err)
		}
		return err
	})
	b.end()
	if err != nil {
		return err
	}
	return x.say(format)
}

// heardWriter writes until a context ends.
type heardWriter struct {
	ctx context.Context
	w   io.Writer
}

func (h *heardWriter) Write(p []byte) (int, error) {
	if err := h.ctx.Err(); err != nil {
		return 0, err
	}
	return h.w.Write(p)
}

// exporting is a call of undermetal trace export under way.
type exporting struct {
	c       *cobra.Command
	d       *dossier.Dossier
	f       *exportFlags
	name    string
	stack   *stack.Stack
	lib     *layout.Library
	top     *layout.Cell
	origins dossier.Origins
	counts  func(*printer) // prints what was written
	again   string         // the flags by which trace import takes it again, where it needs some
	notes   *printer
	only    string // of a mask: the layer that it shows, of several that get one each
	further bool   // it is not the first of these
}

// load reads what is to be written.
func (x *exporting) load() (err error) {
	if x.stack, err = x.d.Stack(); err != nil {
		return err
	}
	for _, l := range x.f.layers {
		if err := inStack(x.stack, "--layer "+l, l); err != nil {
			return err
		}
	}
	if x.lib, x.origins, err = x.d.Excerpt(x.f.layers...); err != nil {
		return err
	}
	x.lib.Name = strings.TrimSuffix(filepath.Base(x.d.Path), filepath.Ext(x.d.Path))
	x.top = x.lib.Cells[0]
	if x.f.cell == "" {
		return nil
	}
	if x.top, err = pickTop(x.d.Path, x.lib, x.f.cell); err != nil {
		return err
	}
	x.lib.Traced = nil // they are the die's
	onlyBelow(x.lib, x.top)
	return nil
}

// writer returns what writes the file, after it has looked whether it can.
func (x *exporting) writer(format string) (func(io.Writer) error, error) {
	switch format {
	case "gds":
		return x.gds()
	case "svg":
		names, err := x.shotNames()
		if err != nil {
			return nil, err
		}
		stated := func(s *layout.Shape) layout.Stated {
			o := x.origins[s]
			return layout.Stated{SigmaNm: o.SigmaNm, HasSigma: true, Shot: names[o.Shot]}
		}
		x.counts = func(p *printer) { printLayers(p, x.withAreas(countLayers(x.lib))) }
		return func(w io.Writer) error { return svg.Write(w, x.lib, x.top, x.colour, stated) }, nil
	case "geojson":
		return x.geojson()
	}
	return x.png()
}

func (x *exporting) colour(l layout.Layer) string {
	i, _ := x.stack.LayerNamed(x.lib.Layers[l])
	return x.stack.Layers[i].Color
}

// say says what was written, and how it comes back.
func (x *exporting) say(format string) error {
	if x.name == "-" {
		return x.notes.err
	}
	p := &printer{w: x.c.OutOrStdout()}
	p.f("%s: %s\n", x.name, map[string]string{"gds": "GDSII", "svg": "SVG", "geojson": "GeoJSON", "png": "mask"}[format])
	x.counts(p)
	if x.again != "" {
		p.f("    this takes it in again:\n    undermetal trace import DOSSIER %s%s\n", word(x.name), x.again)
	}
	return errors.Join(p.err, x.notes.err)
}
