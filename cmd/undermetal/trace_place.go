package main

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"path"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/register"
	"undermetal/layout/svg"
)

// placing says where drawings lie that do not say it themselves: over a photograph, or by the size of their units.
type placing struct {
	over        string  // the name of a shot
	umPerUnit   float64 // 0: not said
	at          string  // where the lower left corner lies in the frame
	toleranceNm float64 // how far a chord may be from its curve

	noShot bool             // there is no photograph to draw over
	corner geom.Vec         // nm
	shot   *dossier.Located // nil: none
	shots  []dossier.Shot   // all that the dossier has
}

func (p *placing) flags(c *cobra.Command) {
	c.Flags().StringVar(&p.over, "over", "", "the shot that it was drawn over: units are its pixels")
	p.unitFlag(c)
	c.Flags().StringVar(&p.at, "at", "", "where its lower left corner lies in the frame, X,Y in µm; default 0,0")
	c.Flags().Var(quantity{&p.toleranceNm, "nm"}, "tolerance", "how far a chord may be from its curve, in nm; default 1")
}

func (p *placing) unitFlag(c *cobra.Command) {
	c.Flags().Var(quantity{&p.umPerUnit, "µm"}, "um-per-unit", "how large a unit of an SVG drawing, or a pixel of a mask, is, in µm")
}

// check reads the flags.
func (p *placing) check(c *cobra.Command) error {
	switch changed := c.Flags().Changed; {
	case changed("um-per-unit") && !(p.umPerUnit > 0 && p.umPerUnit <= 1e6):
		return usagef("--um-per-unit %g: give the size of a unit in µm, above 0, as in 0.05", p.umPerUnit)
	case p.over != "" && (p.umPerUnit != 0 || p.at != ""):
		return usagef("--over says where the drawing lies: leave --um-per-unit and --at out")
	case p.toleranceNm != 0 && !(p.toleranceNm >= 0.1 && p.toleranceNm <= 1e6):
		return usagef("--tolerance %g nm: give one from 0.1 nm to 1 mm", p.toleranceNm)
	case p.at != "" && p.umPerUnit == 0:
		return usagef("--at says where the lower left corner of a drawing lies: --um-per-unit says how large its units are")
	case p.at == "":
		return nil
	}
	x, y, px, err := parsePlace(p.at)
	if err == nil && px {
		err = errors.New("that is a place in pixels")
	}
	if err != nil {
		return usagef("--at %s: %v\n    give a place of the frame in µm, as in --at=-5,3", p.at, err)
	}
	p.corner = geom.Vec{X: x * 1000, Y: y * 1000}
	return nil
}

// locate finds the shot.
func (p *placing) locate(d *dossier.Dossier) (err error) {
	if p.over != "" {
		if p.shot, err = overShot(d, p.over); err != nil {
			return err
		}
	}
	p.shots, err = d.Shots()
	return err
}

// overShot returns a shot that something may be drawn over.
func overShot(d *dossier.Dossier, name string) (*dossier.Located, error) {
	s, err := findShot(d, name)
	if err != nil {
		return nil, err
	}
	l, err := d.Locate(s)
	if err != nil {
		return nil, err
	}
	if l.ToFrame == nil {
		return nil, fmt.Errorf("%s is neither calibrated nor registered, so that nobody knows where its pixels lie\n    undermetal shot calibrate gives it a scale, shot register its place", name)
	}
	return l, nil
}

// onShot takes pixels of a shot to the frame.
func onShot(l *dossier.Located) pen.Place { return l.ToFrame.Apply }

// sigmaPx returns the uncertainty of the edges of a shape that is so many pixels uncertain: by the map's scale at the
// middle of its box.
func sigmaPx(l *dossier.Located, pixels float64) func(*layout.Shape) float64 {
	return func(s *layout.Shape) float64 {
		b := s.Polygon.Bounds()
		middle := geom.Vec{X: float64(b.Min.X+b.Max.X) / 2, Y: float64(b.Min.Y+b.Max.Y) / 2}
		size := register.Size(l.ToFrame, l.FromFrame.Apply(middle))
		if !(size < geom.Limit) { // the map has no way back there
			size = register.Size(l.ToFrame, l.Middle())
		}
		return shared.Tidy(pixels * size)
	}
}

// svg returns where an SVG drawing lies, and how to say it. place is nil where the drawing says it itself.
//
// Over a photograph, within refuses what lies beyond its rim.
func (p *placing) svg(name string, doc *svg.Document) (place pen.Place, within *svgRim, notes []string, err error) {
	switch {
	case doc.UmPerUnit > 0 && (p.over != "" || p.umPerUnit > 0):
		return nil, nil, nil, usagef("%s says itself that a unit is %g µm of the frame: leave --over, --um-per-unit and --at out", name, doc.UmPerUnit)
	case doc.UmPerUnit > 0:
		return nil, nil, nil, nil
	case p.umPerUnit > 0:
		return p.moved(doc.PlaceUm(p.umPerUnit)), nil, p.overWhich(doc), nil
	case p.shot == nil:
		return nil, nil, nil, p.unplaced(name, "an SVG drawing", "unit")
	}
	pixels, notes, err := p.pixels(name, doc)
	if err != nil {
		return nil, nil, nil, err
	}
	there := onShot(p.shot)
	return func(v geom.Vec) geom.Vec { return there(pixels(v)) }, &svgRim{newRim(p.shot), pixels}, notes, nil
}

func (p *placing) moved(place pen.Place) pen.Place {
	return func(v geom.Vec) geom.Vec {
		q := place(v)
		return geom.Vec{X: q.X + p.corner.X, Y: q.Y + p.corner.Y}
	}
}

func (p *placing) unplaced(name, what, unit string) error {
	if p.noShot {
		return usagef("%s is %s, which does not say how large a %s is\n    --um-per-unit says it, in µm", name, what, unit)
	}
	return usagef("%s is %s, which does not say where it lies\n    --over SHOT says which photograph it was drawn over, --um-per-unit how large a %s is", name, what, unit)
}

// pixels returns the way from the units of an SVG drawing to the pixels of the shot: by the picture in it that stands for
// the photograph, or, where there is none, as they are.
func (p *placing) pixels(name string, doc *svg.Document) (pixels func(geom.Vec) geom.Vec, notes []string, err error) {
	w, h := p.shot.Width, p.shot.Height
	if len(doc.Images) == 0 {
		if v := doc.View; v.Width > 0 && (v.Width != w || v.Height != h || v.X != 0 || v.Y != 0) {
			notes = append(notes, fmt.Sprintf("it holds no picture, so its units are taken as pixels of %s; but it reaches from (%g, %g) over %g × %g units, and the photograph has %.0f × %.0f pixels: put the photograph into the drawing, below it, and its scale there is known", p.shot.Name, v.X, v.Y, v.Width, v.Height, w, h))
		}
		return func(v geom.Vec) geom.Vec { return v }, notes, nil
	}
	im, err := p.picture(name, doc)
	if err != nil {
		return nil, nil, err
	}
	if b := im.Box; b.Width > 0 && b.Height > 0 && math.Abs(b.Width/b.Height*h/w-1) > 0.01 {
		notes = append(notes, fmt.Sprintf("the picture in line %d is taken as all of %s, but is %g times as wide as high, and the photograph %g times", im.Line, p.shot.Name, tidy3(b.Width/b.Height), tidy3(w/h)))
	}
	if pixels, err = im.Pixels(int(w), int(h)); err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	return pixels, notes, nil
}

func tidy3(v float64) float64 { return math.Round(v*1000) / 1000 }

// picture returns the picture that stands for the shot: the only one, or the one that is called as the shot's file is.
func (p *placing) picture(name string, doc *svg.Document) (*svg.Image, error) {
	if len(doc.Images) == 1 {
		im := &doc.Images[0]
		if other := p.otherShot(im); other != "" {
			return nil, fmt.Errorf("%s:%d: the picture in it is called %s, as the shot %s or its file is, not as %s: it was drawn over that one\n    --over %s takes it so; if it was drawn over %[5]s, call the picture as that one's file is", name, im.Line, called(im), other, p.shot.Name, word(other))
		}
		return im, nil
	}
	var found []*svg.Image
	var names []string
	for i := range doc.Images {
		im := &doc.Images[i]
		names = append(names, fmt.Sprintf("%s (line %d)", called(im), im.Line))
		if calledAs(im, p.shot.Shot) {
			found = append(found, im)
		}
	}
	if len(found) != 1 {
		return nil, fmt.Errorf("%s: holds %d pictures, %d of which are called as %s or its file are: nobody knows over which one it was drawn\n    leave one in it; there are %s", name, len(doc.Images), len(found), p.shot.Name, someNames(names))
	}
	return found[0], nil
}

// overWhich tells of a picture in a drawing that is placed by the size of its units, where a photograph is called so.
func (p *placing) overWhich(doc *svg.Document) (notes []string) {
	for i := range doc.Images {
		for j := range p.shots {
			if im := &doc.Images[i]; calledAs(im, &p.shots[j]) {
				notes = append(notes, fmt.Sprintf("the picture in line %d is called %s, as the shot %s or its file is, but --um-per-unit says how large a unit is: --over %s takes the drawing through the place of that photograph", im.Line, called(im), p.shots[j].Name, word(p.shots[j].Name)))
			}
		}
	}
	return notes
}

// otherShot returns the name of a shot that a picture is called as, where it is not called as the one that it stands for.
func (p *placing) otherShot(im *svg.Image) string {
	if calledAs(im, p.shot.Shot) {
		return ""
	}
	for i := range p.shots {
		if calledAs(im, &p.shots[i]) {
			return p.shots[i].Name
		}
	}
	return ""
}

// calledAs reports whether a picture is called as a shot or its file is, whatever the ending.
func calledAs(im *svg.Image, s *dossier.Shot) bool {
	n := called(im)
	return n != "" && (n == fileBase(s.File) || n == s.Name)
}

// called is the name of a picture without folders and ending; empty where it lies in the drawing itself.
func called(im *svg.Image) string { // a reference is a URL, in which a blank is %20
	if name, err := url.PathUnescape(im.Href); err == nil {
		return fileBase(name)
	}
	return fileBase(im.Href)
}

func fileBase(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	return strings.TrimSuffix(name, path.Ext(name))
}

// mask returns where a mask lies.
func (p *placing) mask(name string, width, height int) (pen.Place, error) {
	switch {
	case p.umPerUnit > 0:
		return p.moved(pen.UmPerUnit(p.umPerUnit, geom.Vec{Y: float64(height)})), nil
	case p.shot == nil:
		return nil, p.unplaced(name, "a mask", "pixel")
	case float64(width) != p.shot.Width || float64(height) != p.shot.Height:
		return nil, fmt.Errorf("%s: has %d × %d pixels, and %s has %.0f × %.0f: a mask over a photograph has its size\n    scale it, or fill it up, without smoothing", name, width, height, p.shot.Name, p.shot.Width, p.shot.Height)
	}
	return onShot(p.shot), nil
}

// pixelPair reads X,Y in pixels, with px behind it or without.
func pixelPair(text string) (geom.Vec, error) {
	v, err := numbers(strings.TrimSuffix(text, "px"), 2)
	if err != nil {
		return geom.Vec{}, err
	}
	return geom.Vec{X: v[0], Y: v[1]}, nil
}

// parseBox reads X0,Y0,X1,Y1: lengths in µm or with units, or, where that is asked for or px stands behind them, pixels.
func parseBox(text string, pixels bool) (v [4]float64, px bool, err error) {
	text, px = strings.CutSuffix(text, "px")
	px = px || pixels
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return v, px, fmt.Errorf("%s, not 4", counted(len(parts), "number"))
	}
	for i, part := range parts {
		if px {
			v[i], err = finite(strings.TrimSpace(part))
		} else {
			v[i], err = parseQuantity(part, "µm")
		}
		if err != nil {
			return v, px, fmt.Errorf("%q is no number", part)
		}
	}
	return v, px, nil
}
