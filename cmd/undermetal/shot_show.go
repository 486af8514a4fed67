package main

import (
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// showFlags are the flags of undermetal shot show.
type showFlags struct {
	at, width, out       string
	pixels               int
	shapes, plain, ticks bool
	force                bool
}

func newShotShow() *cobra.Command {
	var f showFlags
	c := &cobra.Command{
		Use:   "show DOSSIER SHOT --out FILE.png",
		Short: "write a part of a photograph as PNG, with a scale bar",
		Long: `show writes the part of a photograph around a place. --at and --width are in µm of the frame, once the photograph is
calibrated, or in its pixels from the top left corner, as in --at 1200,800px --width 400px. As long as it is not
registered, the frame begins at the photograph's lower left corner, x to the right, y up. Without --at the whole
photograph is shown. A place left of 0 is given as --at=-5,3. Lengths may have their unit behind them, as in 1.2mm.

--ticks draws marks with the photograph's pixel coordinates along the top and the left edge, so that the places which
shot calibrate --points wants can be read off. --shapes draws the tracing over it, each layer in its colour and hatch,
with their names.`,
		Example: `  undermetal shot show kiln.dossier bare --out bare.png
  undermetal shot show kiln.dossier bare --at 41.5,120 --width 30 --shapes --out pixel.png
  undermetal shot show kiln.dossier bare --at 1200,800px --width 400px --ticks --out corner.png`,
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
	return readDossier(c, args[0], func(d *dossier.Dossier) error {
		s, err := findShot(d, args[1])
		if err != nil {
			return err
		}
		if err := mayReplace(d, f.out, f.force); err != nil {
			return err
		}
		img, of, err := render(c.Context(), d, s, f)
		if err != nil {
			return err
		}
		if err := writeTo(c, f.out, func(w io.Writer) error { return png.Encode(w, img) }); err != nil || f.out == "-" {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: %d × %d px: %s\n", f.out, img.Rect.Dx(), img.Rect.Dy(), of)
		return err
	})
}

// render draws what show was asked for, and says in words what it is.
func render(ctx context.Context, d *dossier.Dossier, s *dossier.Shot, f *showFlags) (picture *image.RGBA, of string, err error) {
	p := d.Pyramid(s)
	w, h := p.Size()
	cx, cy, wide, err := f.part(s, float64(w), float64(h))
	if err != nil {
		return nil, "", err
	}
	tall := wide * 3 / 4
	if f.at == "" && f.width == "" {
		tall = float64(h)
	}
	width, height := f.size(wide, tall)
	k := wide / float64(width) // pixels of the photograph in one of the picture
	x0, y0 := cx-wide/2, cy-float64(height)*k/2
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for i := 3; i < len(img.Pix); i += 4 {
		img.Pix[i] = 255 // black where the photograph ends
	}
	if err := p.View(ctx, img, shot.Window(x0, y0, wide, width), s.Display); err != nil {
		return nil, "", fmt.Errorf("%s: shot %q: %w\n    undermetal check %s says what else is wrong", d.Path, s.Name, err, word(d.Path))
	}
	var inks []shot.Ink
	if f.shapes {
		nm := s.Scale.NmPerPx
		box := geom.Box(int(x0*nm), int((float64(h)-y0-float64(height)*k)*nm), int((x0+wide)*nm), int((float64(h)-y0)*nm))
		inks, err = paintShapes(d, s, img, box, func(pt geom.Point) (float64, float64) {
			return (float64(pt.X)/nm - x0) / k, (float64(h) - float64(pt.Y)/nm - y0) / k
		})
	}
	free := img
	if f.ticks {
		free = shot.DrawTicks(img, x0, y0, k, w, h)
	}
	shot.DrawLegend(free, inks)
	if s.Scale.NmPerPx > 0 && !f.plain {
		shot.DrawScaleBar(free, s.Scale.NmPerPx*k)
	}
	return img, f.describe(s, wide, float64(height)*k), err
}

// size returns that of the picture of a part: as wide as was asked for, or as a picture may be high.
func (f *showFlags) size(wide, tall float64) (width, height int) {
	width = f.pixels
	if float64(width)*tall > mostPixels*wide {
		width = max(1, int(mostPixels*wide/tall))
	}
	return width, max(16, int(math.Round(float64(width)*tall/wide)))
}

// mostPixels is the longest side of a picture that is written.
const mostPixels = 16384

// describe says what part of a photograph a picture shows; its sides are in pixels of the photograph.
func (f *showFlags) describe(s *dossier.Shot, wide, tall float64) string {
	nm := s.Scale.NmPerPx
	switch {
	case nm > 0:
		return fmt.Sprintf("%.5g × %.5g µm of %s", um(wide*nm), um(tall*nm), s.Name)
	case f.plain:
		return fmt.Sprintf("%.6g × %.6g px of %s", wide, tall, s.Name)
	}
	return fmt.Sprintf("%.6g × %.6g px of %s, which is not calibrated, so without a scale bar", wide, tall, s.Name)
}

// part returns the middle and the width of the part to show, in pixels of the photograph.
func (f *showFlags) part(s *dossier.Shot, w, h float64) (cx, cy, wide float64, err error) {
	cx, cy, wide = w/2, h/2, w
	if f.at != "" {
		x, y, px, err := parsePlace(f.at)
		if err != nil {
			return 0, 0, 0, usagef("--at %s: %v\n    give X,Y in µm, or with a unit as in 20um,1.2mm, or in pixels as in 1200,800px", f.at, err)
		}
		if cx, cy = x, y; !px {
			if s.Scale.NmPerPx == 0 {
				return 0, 0, 0, uncalibrated(s, "--at", "1200,800px")
			}
			cx, cy = x*1000/s.Scale.NmPerPx, h-y*1000/s.Scale.NmPerPx
		}
		if !(cx >= 0 && cx <= w && cy >= 0 && cy <= h) {
			return 0, 0, 0, fmt.Errorf("--at %s lies outside of %s, which has %.0f × %.0f pixels%s", f.at, s.Name, w, h, extent(s, w, h))
		}
		wide = w / 4
	}
	if f.width != "" {
		wide, err = f.partWidth(s, w, h)
	}
	return cx, cy, wide, err
}

// partWidth returns the width of the part to show, in pixels of the photograph.
func (f *showFlags) partWidth(s *dossier.Shot, w, h float64) (wide float64, err error) {
	text, px := strings.CutSuffix(f.width, "px")
	if px {
		wide, err = finite(strings.TrimSpace(text))
	} else {
		wide, err = parseQuantity(text, "µm")
	}
	if err != nil || !(wide > 0) {
		return 0, usagef("--width %s: give a length in µm, or with a unit as in 0.1mm, or in pixels as in 400px", f.width)
	}
	if !px {
		if s.Scale.NmPerPx == 0 {
			return 0, uncalibrated(s, "--width", "400px")
		}
		wide *= 1000 / s.Scale.NmPerPx
	}
	switch {
	case !(wide >= 1):
		return 0, usagef("--width %s is less than a pixel of %s", f.width, s.Name)
	case wide > 10*w:
		return 0, usagef("--width %s is more than ten times as wide as %s, which has %.0f × %.0f pixels%s", f.width, s.Name, w, h, extent(s, w, h))
	}
	return wide, nil
}

// extent says how large a calibrated photograph is.
func extent(s *dossier.Shot, w, h float64) string {
	if s.Scale.NmPerPx == 0 {
		return ""
	}
	return fmt.Sprintf(", or %.5g × %.5g µm", w*s.Scale.NmPerPx/1000, h*s.Scale.NmPerPx/1000)
}

func uncalibrated(s *dossier.Shot, flag, px string) error {
	return usagef("%s is in µm, and %s is not calibrated\n    undermetal shot calibrate gives it a scale; in pixels, as in %s %s", flag, s.Name, flag, px)
}

// paintShapes draws what of the tracing lies within a box of the frame, cells that are placed there too, and returns the
// inks that it took.
func paintShapes(d *dossier.Dossier, s *dossier.Shot, img *image.RGBA, box geom.Rect, at func(geom.Point) (x, y float64)) (inks []shot.Ink, err error) {
	if s.Scale.NmPerPx == 0 {
		return nil, usagef("--shapes: %s is not calibrated, so that nobody knows where shapes lie on it\n    undermetal shot calibrate gives it a scale", s.Name)
	}
	lib, err := d.Library()
	if err != nil {
		return nil, err
	}
	flat, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		return nil, err
	}
	polygons := make([][]geom.Polygon, len(lib.Layers))
	walk := layout.Walk{Layers: ^uint64(0), Overlaps: box.Overlaps, Yield: func(p *layout.Placed) bool {
		polygons[p.Shape.Layer] = append(polygons[p.Shape.Layer], p.Transform.ApplyPolygon(p.Shape.Polygon))
		return true
	}}
	walk.Run(flat)
	for i, name := range lib.Layers {
		if len(polygons[i]) > 0 {
			ink := shot.InkFor(i, name)
			shot.Paint(img, ink, polygons[i], at)
			inks = append(inks, ink)
		}
	}
	return inks, nil
}
