package main

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"math"
	"strings"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// view is a part of a photograph that is to be shown, perhaps with another photograph.
type view struct {
	d             *dossier.Dossier
	f             *showFlags
	p             *dossier.Located
	x0, y0, k     float64          // where it begins, in px of the photograph, and how many of these are one of the picture
	width, height int              // in px of the picture
	other         *dossier.Located // nil: none
	through       register.Map

	lib  *layout.Library // what shapes are drawn of, and its cell; nil: all that the dossier holds
	top  *layout.Cell
	mark *geom.Rect // what a frame is drawn around; nil: nothing

	apart bool       // the legend stands elsewhere, and is not drawn
	inks  []shot.Ink // what render drew with
}

// newView finds the part that show was asked for.
func newView(d *dossier.Dossier, s *dossier.Shot, f *showFlags) (*view, error) {
	p, err := d.Locate(s)
	if err != nil {
		return nil, err
	}
	v := &view{d: d, f: f, p: p}
	at, wide, err := f.part(p)
	if err != nil {
		return nil, err
	}
	tall := wide * 3 / 4
	if f.at == "" && f.width == "" {
		tall = p.Height
	}
	v.width, v.height = f.size(wide, tall)
	v.k = wide / float64(v.width)
	v.x0, v.y0 = at.X-wide/2, at.Y-float64(v.height)*v.k/2
	if f.with != "" {
		if v.other, v.through, err = v.lay(f.with); err != nil {
			return nil, err
		}
	}
	if f.shapes && p.ToFrame == nil {
		return nil, usagef("--shapes: %s is not calibrated, so that nobody knows where shapes lie on it\n    undermetal shot calibrate gives it a scale", s.Name)
	}
	return v, nil
}

// mostPixels is the longest side of a picture that is written.
const mostPixels = 16384

// size returns that of the picture of a part: as wide as was asked for, or as a picture may be high. Two beside each other
// share the width.
func (f *showFlags) size(wide, tall float64) (width, height int) {
	width = f.pixels
	if f.beside {
		width /= 2
	}
	if float64(width)*tall > mostPixels*wide {
		width = max(1, int(mostPixels*wide/tall))
	}
	return width, max(16, int(math.Round(float64(width)*tall/wide)))
}

// window takes points of the picture to the photograph.
func (v *view) window() shot.Map {
	return shot.Window(v.x0, v.y0, v.k*float64(v.width), v.width)
}

// middle is the middle of the part, in px of the photograph.
func (v *view) middle() geom.Vec {
	return geom.Vec{X: v.x0 + v.k*float64(v.width)/2, Y: v.y0 + v.k*float64(v.height)/2}
}

// render draws it. split says whether the two photographs are parted by a line.
func (v *view) render(ctx context.Context, split bool) (*image.RGBA, error) {
	own, err := v.draw(ctx, v.p, v.window())
	if err != nil {
		return nil, err
	}
	var over *image.RGBA
	if v.other != nil {
		if over, err = v.draw(ctx, v.other, v.overlay()); err != nil {
			return nil, err
		}
	}
	switch {
	case v.f.beside:
		shot.Blacken(over)
		if _, err := v.paintShapes(ctx, over); err != nil {
			return nil, err
		}
		v.markPlace(over)
	case split:
		shot.Split(own, over, v.f.split)
	case over != nil:
		shot.Blend(own, over, v.f.blend)
	}
	shot.Blacken(own)
	if v.inks, err = v.paintShapes(ctx, own); err != nil {
		return nil, err
	}
	v.markPlace(own)
	free := own
	if v.f.ticks {
		free = shot.DrawTicks(own, v.x0, v.y0, v.k, int(v.p.Width), int(v.p.Height))
	}
	if !v.apart {
		shot.DrawLegend(free, v.inks)
	}
	if v.p.ToFrame != nil && !v.f.plain {
		if x, _ := v.p.NmPerPx(v.middle()); x*v.k > 0 && !math.IsInf(x, 0) {
			shot.DrawScaleBar(free, x*v.k)
		}
	}
	if v.f.beside {
		return beside(own, over), nil
	}
	return own, nil
}

// draw draws a photograph by the map m from the picture to its pixels; what lies beside it stays transparent.
func (v *view) draw(ctx context.Context, p *dossier.Located, m shot.Map) (*image.RGBA, error) {
	img := image.NewRGBA(image.Rect(0, 0, v.width, v.height))
	if v.d == nil { // no photograph
		draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
		return img, nil
	}
	if err := v.d.Pyramid(p.Shot).View(ctx, img, m, p.Display); err != nil {
		return nil, fmt.Errorf("%s: shot %q: %w\n    undermetal check %s says what else is wrong", v.d.Path, p.Name, err, word(v.d.Path))
	}
	return img, nil
}

// describe says what the picture shows.
func (v *view) describe() string {
	wide, tall := v.k*float64(v.width), v.k*float64(v.height)
	text := fmt.Sprintf("%.6g × %.6g px of %s", wide, tall, v.p.Name)
	if v.p.ToFrame != nil {
		x, y := v.p.NmPerPx(v.middle())
		text = fmt.Sprintf("%.5g × %.5g µm of %s", um(wide*x), um(tall*y), v.p.Name)
	} else if !v.f.plain {
		text += ", which is not calibrated, so without a scale bar"
	}
	if v.other != nil {
		text += " with " + v.other.Name
	}
	return harmless(text, "")
}

// part returns the middle and the width of the part to show, in pixels of the photograph.
func (f *showFlags) part(p *dossier.Located) (at geom.Vec, wide float64, err error) {
	at, wide = p.Middle(), p.Width
	if f.at != "" {
		x, y, px, err := parsePlace(f.at)
		if err != nil {
			return at, 0, usagef("--at %s: %v\n    give X,Y in µm, or with a unit as in 20um,1.2mm, or in pixels as in 1200,800px", f.at, err)
		}
		if at = (geom.Vec{X: x, Y: y}); !px {
			if p.ToFrame == nil {
				return at, 0, uncalibrated(p, "--at", "1200,800px")
			}
			at = p.FromFrame.Apply(geom.Vec{X: x * 1000, Y: y * 1000})
		}
		if !p.Inside(at) {
			return at, 0, fmt.Errorf("--at %s lies outside of %s, which has %.0f × %.0f pixels%s%s", f.at, p.Name, p.Width, p.Height, extent(p), reaches(p))
		}
		wide = p.Width / 4
	}
	if f.width != "" {
		wide, err = f.partWidth(p, at)
	}
	return at, wide, err
}

// partWidth returns the width of the part to show, in pixels of the photograph.
func (f *showFlags) partWidth(p *dossier.Located, at geom.Vec) (wide float64, err error) {
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
		if p.ToFrame == nil {
			return 0, uncalibrated(p, "--width", "400px")
		}
		nm, _ := p.NmPerPx(at)
		wide *= 1000 / nm
	}
	switch {
	case !(wide >= 1):
		return 0, usagef("--width %s is less than a pixel of %s", f.width, p.Name)
	case wide > 10*p.Width:
		return 0, usagef("--width %s is more than ten times as wide as %s, which has %.0f × %.0f pixels%s", f.width, p.Name, p.Width, p.Height, extent(p))
	}
	return wide, nil
}

func uncalibrated(p *dossier.Located, flag, px string) error {
	return usagef("%s is in µm, and %s is not calibrated\n    undermetal shot calibrate gives it a scale, shot register a place; in pixels, as in %s %s", flag, p.Name, flag, px)
}
