package main

import (
	"fmt"
	"image/png"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
)

// showFlags are the flags of undermetal shot show.
type showFlags struct {
	at, width, out       string
	pixels               int
	shapes, plain, ticks bool
	force                bool
	with                 string
	blend, split         float64
	beside               bool
}

func newShotShow() *cobra.Command {
	var f showFlags
	c := &cobra.Command{
		Use:   "show DOSSIER SHOT --out FILE.png",
		Short: "write a part of a photograph as PNG, with a scale bar",
		Long: `show writes the part of a photograph around a place. --at and --width are in µm of the frame, once the photograph is
calibrated or registered, or in its pixels from the top left corner, as in --at 1200,800px --width 400px. As long as it
is not registered, the frame begins at the photograph's lower left corner, x to the right, y up. Without --at the whole
photograph is shown. A place left of 0 is given as --at=-5,3. Lengths may have their unit behind them, as in 1.2mm. A
registered photograph is shown upright as it was taken; scale bar and --width have the scale in the middle of the part,
along its rows.

--ticks draws marks with the photograph's pixel coordinates along the top and the left edge, so that the places which
shot calibrate --points wants can be read off. --shapes draws the tracing over it, each layer in its colour and hatch,
with their names.

--with shows another registered photograph in the same picture, resampled to lie where this one does: blended (--blend
0 shows this one alone, 1 the other), --beside it, or --split by a line at a part of the width, this one on the left.`,
		Example: `  undermetal shot show kiln.dossier bare --out bare.png
  undermetal shot show kiln.dossier bare --at 41.5,120 --width 30 --shapes --out pixel.png
  undermetal shot show kiln.dossier bare --at 1200,800px --width 400px --ticks --out corner.png
  undermetal shot show kiln.dossier bare --with metal1 --at 41.5,120 --width 30 --split 0.5 --out seam.png`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error { return doShotShow(c, args, &f) },
	}
	c.Flags().StringVar(&f.at, "at", "", "the middle of the part, X,Y in µm, or with units as in 20um,1.2mm, or in pixels as X,Ypx")
	c.Flags().StringVar(&f.width, "width", "", "how wide it is, in µm, or in pixels as in 400px")
	c.Flags().StringVar(&f.out, "out", "", "the PNG file to write, - for standard output")
	c.Flags().IntVar(&f.pixels, "pixels", 1200, "how wide the picture becomes")
	c.Flags().BoolVar(&f.shapes, "shapes", false, "draw the tracing over it")
	c.Flags().BoolVar(&f.plain, "plain", false, "no scale bar")
	c.Flags().BoolVar(&f.ticks, "ticks", false, "draw the photograph's pixel coordinates along two edges")
	c.Flags().StringVar(&f.with, "with", "", "another photograph, to lie over this one")
	f.blend, f.split = 0.5, 0.5
	c.Flags().Var(quantity{&f.blend, ""}, "blend", "how much of the other is seen, 0 to 1")
	c.Flags().BoolVar(&f.beside, "beside", false, "the other on the right, the same part of both")
	c.Flags().Var(quantity{&f.split, ""}, "split", "the other right of a line at this part of the width, 0 to 1")
	c.Flags().BoolVar(&f.force, "force", false, "replace the file where it is there already")
	return c
}

func doShotShow(c *cobra.Command, args []string, f *showFlags) error {
	if f.out == "" {
		return usagef("--out says where to write the picture, - for standard output")
	}
	if ending := filepath.Ext(f.out); f.out != "-" && ending != "" && !strings.EqualFold(ending, ".png") {
		return usagef("--out %s: only PNG is written: give a name that ends in .png", f.out)
	}
	if f.pixels < 16 || f.pixels > mostPixels {
		return usagef("--pixels %d: give 16 to %d", f.pixels, mostPixels)
	}
	if err := f.checkWith(c, args[1]); err != nil {
		return err
	}
	return readDossier(c, args[0], func(d *dossier.Dossier) error {
		s, err := findShot(d, args[1])
		if err != nil {
			return err
		}
		if err := mayReplace(d, f.out, f.force); err != nil {
			return err
		}
		v, err := newView(d, s, f)
		if err != nil {
			return err
		}
		img, err := v.render(c.Context(), c.Flags().Changed("split"))
		if err != nil {
			return err
		}
		if err := writeTo(c, f.out, func(w io.Writer) error { return png.Encode(w, img) }); err != nil || f.out == "-" {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: %d × %d px: %s\n", f.out, img.Rect.Dx(), img.Rect.Dy(), v.describe())
		return err
	})
}
