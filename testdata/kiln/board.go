package kiln

import (
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// board draws into a cell; places are in units of 0.1 µm from an origin.
type board struct {
	c    *layout.Cell
	x, y int // of the origin
}

// unit is the grid of what is drawn on a board, in nm.
const unit = 100

func (b board) at(x, y int) geom.Point { return geom.Point{X: (b.x + x) * unit, Y: (b.y + y) * unit} }

func (b board) ring(x0, y0, x1, y1 int) geom.Ring {
	p, q := b.at(x0, y0), b.at(x1, y1)
	return geom.Box(p.X, p.Y, q.X, q.Y).Ring()
}

func (b board) polygon(l layout.Layer, pg geom.Polygon) {
	b.c.Shapes = append(b.c.Shapes, layout.Shape{Layer: l, Polygon: pg})
}

func (b board) box(l layout.Layer, x0, y0, x1, y1 int) {
	b.polygon(l, geom.Polygon{b.ring(x0, y0, x1, y1)})
}

// cut draws a contact or a via of 0.4 µm around a middle.
func (b board) cut(l layout.Layer, x, y int) { b.box(l, x-2, y-2, x+2, y+2) }

// cuts draws n of them, the first around a middle, the others dx, dy further each.
func (b board) cuts(l layout.Layer, x, y, n, dx, dy int) {
	for i := range n {
		b.cut(l, x+i*dx, y+i*dy)
	}
}

// wire draws a line through places, as one outline, half a width beyond its ends.
func (b board) wire(l layout.Layer, width int, xy ...int) {
	stroke := pen.Stroke{Width: width * unit, Ends: pen.Half}
	for i := 0; i < len(xy); i += 2 {
		stroke.Line = append(stroke.Line, b.at(xy[i], xy[i+1]))
	}
	var s pen.Stroker
	pg, ok := s.Outline(stroke, nil)
	if f, bad := pg.Fault(); !ok || bad {
		panic(fmt.Sprintf("kiln: wire through %v: %v", xy, f))
	}
	b.polygon(l, pg)
}

func (b board) label(l layout.Layer, x, y int, text string) {
	b.c.Labels = append(b.c.Labels, layout.Label{Layer: l, At: b.at(x, y), Text: text})
}
