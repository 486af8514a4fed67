package main

import (
	"fmt"
	"image"
	"image/draw"
	"math"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// checkWith says which flags of a second photograph go together.
func (f *showFlags) checkWith(c *cobra.Command, name string) error {
	ways := given(c, []string{"blend", "beside", "split"})
	switch {
	case f.with == "" && len(ways) > 0:
		return usagef("--%s is for two photographs: --with names the other", ways[0])
	case len(ways) > 1:
		return usagef("give one of --blend, --beside and --split")
	case f.with != "" && f.with == name:
		return usagef("--with %s: that is the photograph itself: give another", f.with)
	case !(f.blend >= 0 && f.blend <= 1):
		return usagef("--blend %g: give a number from 0, this photograph alone, to 1, the other alone", f.blend)
	case !(f.split >= 0 && f.split <= 1):
		return usagef("--split %g: give the line's place as a part of the width, from 0 to 1", f.split)
	}
	return nil
}

// lay finds another photograph and the map from the pixels of this one to its own.
func (v *view) lay(name string) (*dossier.Located, register.Map, error) {
	s, err := findShot(v.d, name)
	if err != nil {
		return nil, nil, err
	}
	other, err := v.d.Locate(s)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range []*dossier.Located{v.p, other} {
		if p.Registration == nil {
			return nil, nil, notRegistered(v.d.Path, p)
		}
	}
	return other, register.Compose(v.p.ToFrame, other.FromFrame), nil
}

// notRegistered is the error for a photograph of which nobody knows where it lies on another; for one that is calibrated
// with the call that puts it where it lies as long as it is alone.
func notRegistered(path string, p *dossier.Located) error {
	text := fmt.Sprintf("%s is not registered, so that nobody knows where it lies on another photograph\n    undermetal shot register %s %s --point PX,PY=X,Y … gives it its place", p.Name, word(path), word(p.Name))
	if p.ToFrame != nil {
		q := p.ToFrame.Apply(geom.Vec{X: p.Width})
		text += fmt.Sprintf("; with its lower left corner at the frame's origin:\n    undermetal shot register %s %s --point 0,%.0f=0,0 --point %.0f,0=%.10g,%.10g", word(path), word(p.Name), p.Height, p.Width, um(q.X), um(q.Y))
	}
	return fmt.Errorf("%s", text)
}

// overlay takes points of the picture to the other photograph. What is no matrix is looked up in a table, to a twentieth of
// a pixel of the picture.
func (v *view) overlay() shot.Map {
	at := v.window()
	exact := func(p geom.Vec) geom.Vec {
		x, y := at(p.X, p.Y)
		return v.through.Apply(geom.Vec{X: x, Y: y})
	}
	through := exact
	if _, quick := v.through.(register.Linear); !quick {
		through = (&register.Table{Map: exact, Width: v.width, Within: 0.05 * v.k * v.leastSize()}).At
	}
	return func(x, y float64) (float64, float64) {
		q := through(geom.Vec{X: x, Y: y})
		return q.X, q.Y
	}
}

// leastSize is how many px of the other photograph, at least, one of this is long: at the places of a grid over the view.
func (v *view) leastSize() float64 {
	const n = 8
	at, least := v.window(), math.Inf(1)
	for i := range (n + 1) * (n + 1) {
		x, y := at(float64(i%(n+1)*v.width)/n, float64(i/(n+1)*v.height)/n)
		if s := register.Size(v.through, geom.Vec{X: x, Y: y}); s > 0 {
			least = min(least, s)
		}
	}
	if math.IsInf(least, 0) { // it is nowhere in the view
		return 1
	}
	return least
}

// beside puts two pictures of one size next to each other, a white line between them.
func beside(left, right *image.RGBA) *image.RGBA {
	w, h := left.Rect.Dx(), left.Rect.Dy()
	img := image.NewRGBA(image.Rect(0, 0, 2*w, h))
	draw.Draw(img, left.Rect, left, image.Point{}, draw.Src)
	draw.Draw(img, image.Rect(w, 0, 2*w, h), right, image.Point{}, draw.Src)
	draw.Draw(img, image.Rect(w, 0, w+1, h), image.White, image.Point{}, draw.Src)
	return img
}
