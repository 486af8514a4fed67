package check

import (
	"math"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// likeness is what findings in placements of one cell have in common: the drawn shapes that they lie on, and the place in
// the cell of the first of these.
type likeness struct {
	code       string
	gap        int
	one, other int32
	at, to     geom.Point
}

// fold sorts the findings, makes one of those that look the same, and tells in which instance they lie.
func (d *drawing) fold() []Finding {
	sortFindings(d.findings)
	first := map[likeness]int{}
	out := []Finding{} // not nil: somebody has looked
	var places []layout.Place
	for i := range d.findings {
		f := &d.findings[i]
		on, to := d.onShape(f.Layer, f.At), d.onShape(f.layer2, f.other)
		if !f.folded {
			one, other := d.shapeAt(f.Layer, on), d.shapeAt(f.layer2, to)
			if one != nil && other != nil {
				key := likeness{f.Code, f.Gap, one.index, other.index, inverse(one.transform, f.At), inverse(one.transform, f.other)}
				if k, ok := first[key]; ok {
					out[k].Count++
					continue
				}
				first[key] = len(out)
			}
		}
		out = append(out, *f)
		places = append(places, layout.Place{Layer: f.Layer, At: on}, layout.Place{Layer: f.layer2, At: to})
	}
	paths := d.flat.PathsAt(places)
	for i := range out {
		if !out[i].All {
			out[i].Path = commonPath(paths[2*i], paths[2*i+1])
		}
	}
	return out
}

// onShape returns a place on a shape of a layer: p, or where that was rounded off a slanted edge, its nearest neighbour on one.
func (d *drawing) onShape(l layout.Layer, p geom.Point) geom.Point {
	for _, by := range []geom.Point{{}, {X: 1}, {Y: 1}, {X: -1}, {Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}, {X: -1, Y: -1}, {X: 1, Y: -1}} {
		if q := p.Add(by); d.shapeAt(l, q) != nil {
			return q
		}
	}
	return p
}

// shapeAt returns the first shape that covers a place.
func (d *drawing) shapeAt(l layout.Layer, p geom.Point) *placed {
	var found *placed
	d.shapesNear(geom.Rect{Min: p, Max: p}, func(s *placed) bool {
		if s.layer == l && (found == nil || s.order < found.order) && (s.rect || d.polygon(s).Locate(p) != geom.Outside) {
			found = s
		}
		return true
	})
	return found
}

// inverse returns where a place of the frame lies in the cell that t places.
func inverse(t geom.Transform, p geom.Point) geom.Point {
	xx, xy, yx, yy, dx, dy := t.Matrix()
	det := xx*yy - xy*yx
	x, y := float64(p.X)-dx, float64(p.Y)-dy
	return geom.Point{X: int(math.Round((yy*x - xy*y) / det)), Y: int(math.Round((xx*y - yx*x) / det))}
}

// commonPath returns the innermost instance that two paths lead through.
func commonPath(a, b string) string {
	if a == b {
		return a
	}
	x, y := strings.Split(a, "/"), strings.Split(b, "/")
	n := 0
	for n < min(len(x), len(y)) && x[n] == y[n] {
		n++
	}
	return strings.Join(x[:n], "/")
}
