package question

import (
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// Anchor returns where an answer to the question is to be kept, so that it holds for all placements: the cell of lib whose own
// drawing covers the question's place, however deep, and the place there, in nm of the cell. A gap is covered by none, and goes by
// its path. top is the cell that was extracted; what lies in none of its placements is its own.
func (q *Question) Anchor(res *extract.Result, lib *layout.Library, top *layout.Cell) (*layout.Cell, geom.Point) {
	drawn := res.Drawn([]layout.Place{{Layer: q.On(), At: q.At}})[0]
	if drawn.Shape != nil {
		k := slices.IndexFunc(lib.Cells, func(c *layout.Cell) bool { return hasShape(c, drawn.Shape) })
		return lib.Cells[k], drawn.At
	}
	if in, t, ok := instanceAt(top, q.Path, geom.Identity); ok {
		return in, backThrough(t, q.At)
	}
	return top, q.At
}

// hasShape reports whether a shape is one of a cell's own.
func hasShape(c *layout.Cell, s *layout.Shape) bool {
	for i := range c.Shapes {
		if &c.Shapes[i] == s {
			return true
		}
	}
	return false
}

// instanceAt returns the cell that a path leads to from another one, and how it is placed in the frame; t places that one.
func instanceAt(from *layout.Cell, path string, t geom.Transform) (*layout.Cell, geom.Transform, bool) {
	if path == "" {
		return from, t, true
	}
	for i := range from.Placements {
		p := &from.Placements[i]
		cols, rows := p.Members()
		for col := range cols {
			for row := range rows {
				name := from.InstanceName(i, col, row)
				rest, ok := strings.CutPrefix(path, name)
				if !ok || rest != "" && rest[0] != '/' {
					continue
				}
				if c, at, ok := instanceAt(p.Cell, strings.TrimPrefix(rest, "/"), p.Member(col, row).Then(t)); ok {
					return c, at, true
				}
			}
		}
	}
	return nil, t, false
}

// backThrough returns where a place of the frame lies in a cell that t places.
func backThrough(t geom.Transform, p geom.Point) geom.Point {
	xx, xy, yx, yy, dx, dy := t.Matrix()
	det := xx*yy - xy*yx
	x, y := float64(p.X)-dx, float64(p.Y)-dy
	return geom.Vec{X: (yy*x - xy*y) / det, Y: (xx*y - yx*x) / det}.Round()
}
