package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/edit"
)

// importFlags are the flags of undermetal trace import.
type importFlags struct {
	taking
	cell, sigma     string
	replace, dryRun bool

	uncertain uncertain
}

func newTraceImport() *cobra.Command {
	var f importFlags
	c := &cobra.Command{
		Use:   "import DOSSIER FILE…",
		Short: "take drawings into a dossier: SVG, GDSII, GeoJSON, masks",
		Long: `import takes drawings into a dossier: GDSII, SVG (.svgz, too), GeoJSON and masks (PNG or TIFF), told by their content.

Where it lies. --over SHOT: units of an SVG drawing, or pixels of a mask, are pixels of that photograph; where the drawing
holds the photograph as a picture, by where that lies in it. --um-per-unit: the size of a unit, the lower left corner at
--at in the frame, y pointing up. GDSII and GeoJSON are in µm of the frame, and so is an SVG drawing that trace export made.

What it is. What is filled is a shape; a path with a stroke and no fill is a wire; a text is a label. Which layer it belongs
to is said by --map, the first rule that holds:

  --map lime=metal1 --map '#ff0000=via1'   SVG by colour, masks by the colour of a pixel
  --map class:wire=metal1                  SVG by class; group:NAME and id:NAME as well
  --map METAL=metal1                       GeoJSON by the property "layer"
  --map 34/0=metal1                        GDSII by layer and datatype; else as the stack says
  --map gray=                              nothing behind the = leaves it out
  --layer metal1                           what nothing else gives a layer; of a mask all that is bright

Without a rule, a group that is called as a layer of the stack is that layer. What nothing gives a layer is an error, or
left out with --leave-unmapped. A pixel of a mask that is transparent, its alpha below half, covers nothing, whatever its
colour; of any other the colour counts.

Every shape remembers the file, the shot that it was drawn over, and how uncertain its edges are (--sigma: 1 px over a shot,
else what GeoJSON by sigma_nm, and SVG by trace export, says itself, or 0; they name the shot, too). Cells and arrays of GDSII files, and of SVG drawings by trace export, become cells and placements. All files of
a call are one edit, which undo takes back. --replace takes away what came from files of the same names before.`,
		Example: `  undermetal trace import kiln.dossier tracks.svg --over bare --map lime=metal1 --map red=via1
  undermetal trace import kiln.dossier poly.png --over bare --layer poly --sigma 2px
  undermetal trace import kiln.dossier pixel.svg --um-per-unit 0.05 --at=-20,3 --leave-unmapped
  undermetal trace import kiln.dossier imager.gds --map 34/0=metal1 --dry-run`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usagef("%s wants a dossier and drawings, got %s\n    %[1]s --help shows an example", c.CommandPath(), counted(len(args), "argument"))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return doImport(c, args[0], args[1:], &f) },
	}
	f.placing.flags(c)
	f.mapping.flags(c)
	c.Flags().StringVar(&f.layer, "layer", "", "the layer of what nothing else gives one")
	c.Flags().BoolVar(&f.dark, "dark", false, "a mask of one layer covers what is dark in it")
	c.Flags().StringVar(&f.top, "top", "", "the cell of a GDSII file that is drawn, with what it places; needed where several are placed by no other")
	c.Flags().StringVar(&f.cell, "cell", "", "the cell that gets the drawing, made where there is none; default the die itself")
	c.Flags().StringVar(&f.sigma, "sigma", "", "standard uncertainty of the edges, as in 1px or 50nm")
	c.Flags().BoolVar(&f.replace, "replace", false, "take away first what came from files of the same names")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "say what would come in, and store nothing")
	return c
}

// errDryRun ends an edit of which nothing is to stay.
var errDryRun = errors.New("a dry run")

func doImport(c *cobra.Command, path string, files []string, f *importFlags) (err error) {
	if err := f.placing.check(c); err != nil {
		return err
	}
	if f.over != "" && f.cell != "" {
		return usagef("--over and --cell: a cell has coordinates of its own, and does not lie over a photograph")
	}
	if err := oneLine("cell", f.cell); err != nil {
		return err
	}
	if f.uncertain, err = parseUncertain(f.sigma, f.over != ""); err != nil {
		return err
	}
	if name := repeated(bases(files)); name != "" && f.replace {
		return usagef("%s: two of the files are called so, and --replace goes by name: the second would take the place of the first\n    rename one of them", name)
	}
	return editDossier(c, path, func(d *dossier.Dossier) error {
		if f.stack, err = d.Stack(); err != nil {
			return err
		}
		if err := errors.Join(f.mapping.check(f.stack), f.locate(d)); err != nil {
			return err
		}
		var text, warnings strings.Builder
		in := &importing{c: c, f: f, out: &printer{w: &text}, err: &printer{w: &warnings}}
		err := d.Edit(c.Context(), "import "+someNames(bases(files)), func(tx *dossier.Tx) error {
			if err := in.run(tx, files); err != nil {
				return err
			}
			if f.dryRun {
				return errDryRun
			}
			return nil
		})
		if err != nil && err != errDryRun {
			if c.Context().Err() != nil {
				return interruptedError{err, fmt.Sprintf("nothing was stored in %s: the same call does it", path)}
			}
			return err
		}
		for _, n := range f.mapping.idle() {
			in.err.f("warning: %s\n", n)
		}
		in.total(path)
		_, err1 := io.WriteString(c.OutOrStdout(), text.String())
		_, err2 := io.WriteString(c.ErrOrStderr(), warnings.String())
		return errors.Join(err1, err2)
	})
}

func bases(files []string) (names []string) {
	for _, f := range files {
		names = append(names, filepath.Base(f))
	}
	return names
}

// repeated returns the first name that comes again; empty: none does.
func repeated(names []string) string {
	for i, name := range names {
		if slices.Contains(names[:i], name) {
			return name
		}
	}
	return ""
}

// importing is a call of undermetal trace import under way. What it says is kept until all is stored.
type importing struct {
	c        *cobra.Command
	f        *importFlags
	out, err *printer
	done     edit.Imported
	atUm     []*foreign // those that lie by --um-per-unit and --at
}

func (in *importing) run(tx *dossier.Tx, files []string) error {
	cell, err := in.target(tx)
	if err != nil {
		return err
	}
	for _, name := range files {
		if err := in.file(tx, cell, name); err != nil {
			return err
		}
	}
	return nil
}

// target is the cell that gets the drawings.
func (in *importing) target(tx *dossier.Tx) (int64, error) {
	if in.f.cell == "" {
		return dossier.Frame, nil
	}
	cells, err := tx.Cells()
	if err != nil {
		return 0, err
	}
	for _, cell := range cells {
		if cell.Name == in.f.cell {
			return cell.ID, nil
		}
	}
	made := dossier.Cell{Name: in.f.cell}
	err = tx.AddCell(&made)
	in.done.Cells++
	return made.ID, err
}

func (in *importing) file(tx *dossier.Tx, cell int64, name string) error {
	f, err := in.f.read(in.c, name)
	if err != nil {
		return err
	}
	if err := in.together(f); err != nil {
		return err
	}
	o := edit.Importing{Cell: cell, Top: f.top, File: filepath.Base(name), Replace: in.f.replace, SigmaNm: in.f.uncertain.of(&in.f.placing)}
	if f.over {
		o.Shot = in.f.shot.ID
	}
	if in.f.sigma != "" {
		f.onlyShots()
	}
	o.Stated = f.stated
	o.Note = func(text string) { f.notes = append(f.notes, text) }
	b := newBar(in.c, "storing "+name)
	o.Progress = b.set
	done, err := edit.Import(tx, f.lib, o)
	b.end()
	if errors.Is(err, edit.ErrCell) {
		remedy := "rename one of the two, or give --replace where the dossier's came from this file"
		if in.f.replace {
			remedy = "rename one of the two"
		}
		return fmt.Errorf("%s: %w\n    %s", name, err, remedy)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	in.print(f, &done)
	return nil
}

// together is the error for a drawing that --at puts on another one of the call. Those of one size that draw on different
// layers, such as a mask a layer, are one drawing.
func (in *importing) together(f *foreign) error {
	if !f.atUm {
		return nil
	}
	for _, g := range in.atUm {
		why := "and have not the same size"
		if f.size == g.size {
			layer := sharedLayer(f, g)
			if layer == "" {
				continue
			}
			why = "and both draw on " + layer
		}
		corner := in.f.corner.Round()
		return usagef("%s and %s would lie on each other, with their lower left corners at %s, %s\n    one call a file, each with its --at; only files of one size with different layers are taken for one drawing", g.name, f.name, microns(corner), why)
	}
	in.atUm = append(in.atUm, f)
	return nil
}

// sharedLayer returns a layer that both drawings have something on; empty: there is none.
func sharedLayer(f, g *foreign) string {
	for _, l := range f.layers {
		if l != (layerCount{name: l.name}) && slices.ContainsFunc(g.layers, func(m layerCount) bool { return m.name == l.name && m != (layerCount{name: m.name}) }) {
			return l.name
		}
	}
	return ""
}
