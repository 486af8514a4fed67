package extract

import (
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Drawn says which drawn shape covers a place.
type Drawn struct {
	Shape *layout.Shape // nil where none does
	At    geom.Point    // the place in the cell that the shape is drawn in, to the nearest nm
	Path  string        // the instance of that cell, empty for the top cell
}

// Drawn returns, for each place, the first shape that covers it. Places in placements of one cell that lie on the same shape at
// the same place are alike.
func (r *Result) Drawn(places []layout.Place) []Drawn {
	out := make([]Drawn, len(places))
	r.flat.FirstAt(places, func(k int, s *layout.Shape, t geom.Transform, in layout.Instance) {
		out[k] = Drawn{s, inverse(t, places[k].At), in.Path}
	})
	return out
}

// inverse returns where a place of the frame lies in the cell that t places.
func inverse(t geom.Transform, p geom.Point) geom.Point {
	xx, xy, yx, yy, dx, dy := t.Matrix()
	det := xx*yy - xy*yx
	x, y := float64(p.X)-dx, float64(p.Y)-dy
	return geom.Point{X: int(math.Round((yy*x - xy*y) / det)), Y: int(math.Round((xx*y - yx*x) / det))}
}

// Pitches returns, for each place, the pitches of the arrays that it is drawn in (layout.Flat.PitchesAt).
func (r *Result) Pitches(places []layout.Place) [][]layout.Pitch { return r.flat.PitchesAt(places) }

// Place returns a point within a device on the layer that it is drawn on: of its gate, its body, its upper plate.
func (r *Result) Place(device int) layout.Place { return r.places[device] }
