package main

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// showFlags are the flags of undermetal shot show.
type showFlags struct {
	at, width, out string
	pixels         int
	shapes, plain  bool
}

func newShotShow() *cobra.Command {
	var f showFlags
	c := &cobra.Command{
		Use:   "show DOSSIER SHOT --out FILE.png",
		Short: "write a part of a photograph as PNG, with a scale bar",
		Long: `show writes the part of a photograph around a place. --at and --width are in µm of the frame, once the photograph is
calibrated, or in its pixels from the top left corner, as in --at 1200,800px --width 400px. As long as it is not
registered, the frame begins at the photograph's lower left corner, x to the right, y up. Without --at the whole
photograph is shown. A place left of 0 is given as --at=-5,3.

--shapes draws the tracing over it, each layer in its colour and hatch, with their names.`,
		Example: `  undermetal shot show kiln.dossier bare --out bare.png
  undermetal shot show kiln.dossier bare --at 41.5,120 --width 30 --shapes --out pixel.png`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error {
			if f.out == "" {
				return usagef("--out says where to write the picture, - for standard output")
			}
			if f.pixels < 16 || f.pixels > 16384 {
				return usagef("--pixels %d: give 16 to 16384", f.pixels)
			}
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				s, err := findShot(d, args[1])
				if err != nil {
					return err
				}
				img, err := render(d, s, &f)
				if err != nil {
					return err
				}
				return writeTo(c, f.out, func(w io.Writer) error { return png.Encode(w, img) })
			})
		},
	}
	c.Flags().StringVar(&f.at, "at", "", "the middle of the part, X,Y in µm, or in pixels as X,Ypx")
	c.Flags().StringVar(&f.width, "width", "", "how wide it is, in µm, or in pixels as in 400px")
	c.Flags().StringVar(&f.out, "out", "", "the PNG file to write, - for standard output")
	c.Flags().IntVar(&f.pixels, "pixels", 1200, "how wide the picture becomes")
	c.Flags().BoolVar(&f.shapes, "shapes", false, "draw the tracing over it")
	c.Flags().BoolVar(&f.plain, "plain", false, "no scale bar")
	return c
}

// render draws what show was asked for.
func render(d *dossier.Dossier, s *dossier.Shot, f *showFlags) (*image.RGBA, error) {
	p := d.Pyramid(s)
	w, h := p.Size()
	cx, cy, wide, err := f.part(s, float64(w), float64(h))
	if err != nil {
		return nil, err
	}
	tall := wide * 3 / 4
	if f.at == "" && f.width == "" {
		tall = float64(h)
	}
	height := min(16384, max(16, int(math.Round(float64(f.pixels)*tall/wide))))
	k := wide / float64(f.pixels) // pixels of the photograph in one of the picture
	x0, y0 := cx-wide/2, cy-float64(height)*k/2
	img := image.NewRGBA(image.Rect(0, 0, f.pixels, height))
	for i := 3; i < len(img.Pix); i += 4 {
		img.Pix[i] = 255 // black where the photograph ends
	}
	if err := p.View(img, shot.Window(x0, y0, wide, f.pixels), s.Display); err != nil {
		return nil, err
	}
	if f.shapes {
		nm := s.Scale.NmPerPx
		box := geom.Box(int(x0*nm), int((float64(h)-y0-float64(height)*k)*nm), int((x0+wide)*nm), int((float64(h)-y0)*nm))
		err = paintShapes(d, s, img, box, func(pt geom.Point) (float64, float64) {
			return (float64(pt.X)/nm - x0) / k, (float64(h) - float64(pt.Y)/nm - y0) / k
		})
	}
	if s.Scale.NmPerPx > 0 && !f.plain {
		shot.DrawScaleBar(img, s.Scale.NmPerPx*k)
	}
	return img, err
}

// part returns the middle and the width of the part to show, in pixels of the photograph.
func (f *showFlags) part(s *dossier.Shot, w, h float64) (cx, cy, wide float64, err error) {
	cx, cy, wide = w/2, h/2, w
	if f.at != "" {
		text, px := strings.CutSuffix(f.at, "px")
		v, err := numbers(text, 2)
		if err != nil {
			return 0, 0, 0, usagef("--at %s: %v\n    give X,Y in µm, or in pixels as in 1200,800px", f.at, err)
		}
		if cx, cy = v[0], v[1]; !px {
			if s.Scale.NmPerPx == 0 {
				return 0, 0, 0, uncalibrated(s, "--at", f.at+"px")
			}
			cx, cy = v[0]*1000/s.Scale.NmPerPx, h-v[1]*1000/s.Scale.NmPerPx
		}
		if !(cx >= 0 && cx <= w && cy >= 0 && cy <= h) {
			return 0, 0, 0, fmt.Errorf("--at %s lies outside of %s, which has %.0f × %.0f pixels%s", f.at, s.Name, w, h, extent(s, w, h))
		}
		wide = w / 4
	}
	if f.width != "" {
		text, px := strings.CutSuffix(f.width, "px")
		if wide, err = strconv.ParseFloat(text, 64); err != nil || !(wide > 0 && wide < 1e9) {
			return 0, 0, 0, usagef("--width %s: give a length in µm, or in pixels as in 400px", f.width)
		}
		if !px {
			if s.Scale.NmPerPx == 0 {
				return 0, 0, 0, uncalibrated(s, "--width", f.width+"px")
			}
			wide *= 1000 / s.Scale.NmPerPx
		}
		if !(wide >= 1) {
			return 0, 0, 0, usagef("--width %s is less than a pixel of %s", f.width, s.Name)
		}
	}
	return cx, cy, wide, nil
}

// extent says how large a calibrated photograph is.
func extent(s *dossier.Shot, w, h float64) string {
	if s.Scale.NmPerPx == 0 {
		return ""
	}
	return fmt.Sprintf(", or %.5g × %.5g µm", w*s.Scale.NmPerPx/1000, h*s.Scale.NmPerPx/1000)
}

func uncalibrated(s *dossier.Shot, flag, px string) error {
	return usagef("%s is in µm, and %s is not calibrated\n    undermetal shot calibrate gives it a scale; in pixels: %s %s", flag, s.Name, flag, px)
}

// paintShapes draws what of the tracing lies within a box of the frame, cells that are placed there too.
func paintShapes(d *dossier.Dossier, s *dossier.Shot, img *image.RGBA, box geom.Rect, at func(geom.Point) (x, y float64)) error {
	if s.Scale.NmPerPx == 0 {
		return usagef("--shapes: %s is not calibrated, so that nobody knows where shapes lie on it\n    undermetal shot calibrate gives it a scale", s.Name)
	}
	lib, err := d.Library()
	if err != nil {
		return err
	}
	flat, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		return err
	}
	polygons := make([][]geom.Polygon, len(lib.Layers))
	walk := layout.Walk{Layers: ^uint64(0), Overlaps: box.Overlaps, Yield: func(p *layout.Placed) bool {
		polygons[p.Shape.Layer] = append(polygons[p.Shape.Layer], p.Transform.ApplyPolygon(p.Shape.Polygon))
		return true
	}}
	walk.Run(flat)
	var inks []shot.Ink
	for i, name := range lib.Layers {
		if len(polygons[i]) > 0 {
			ink := shot.InkFor(i, name)
			shot.Paint(img, ink, polygons[i], at)
			inks = append(inks, ink)
		}
	}
	shot.DrawLegend(img, inks)
	return nil
}
