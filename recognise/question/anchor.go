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
	a := anchors(res, lib, top, q.layer, []Place{{At: q.At, Path: q.Path}})[0]
	return a.Cell, a.At
}

// Anchor is where an answer is kept.
type Anchor struct {
	Cell *layout.Cell
	At   geom.Point // nm of the cell
}

// Anchors returns where answers are to be kept so that they hold in all places of a question, as Anchor has it for the first: one
// for each cell, and place there, in the order of the question's places.
func (q *Question) Anchors(res *extract.Result, lib *layout.Library, top *layout.Cell) []Anchor {
	places := q.Places
	if len(places) == 0 {
		places = []Place{{At: q.At, Path: q.Path}}
	}
	return anchors(res, lib, top, q.layer, places)
}

func anchors(res *extract.Result, lib *layout.Library, top *layout.Cell, layer layout.Layer, places []Place) []Anchor {
	at := make([]layout.Place, len(places))
	for i, p := range places {
		at[i] = layout.Place{Layer: layer, At: p.At}
	}
	owner := map[*layout.Shape]*layout.Cell{}
	there := map[Anchor]bool{}
	var out []Anchor
	spots := spots{}
	for i, drawn := range res.Drawn(at) {
		a := Anchor{top, places[i].At}
		if drawn = spots.same(drawn); drawn.Shape != nil {
			if owner[drawn.Shape] == nil {
				k := slices.IndexFunc(lib.Cells, func(c *layout.Cell) bool { return hasShape(c, drawn.Shape) })
				owner[drawn.Shape] = lib.Cells[k]
			}
			a = Anchor{owner[drawn.Shape], drawn.At}
		} else if in, t, ok := instanceAt(top, places[i].Path, geom.Identity); ok {
			a = Anchor{in, backThrough(t, places[i].At)}
		}
		if !there[a] {
			there[a] = true
			out = append(out, a)
		}
	}
	return out
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
