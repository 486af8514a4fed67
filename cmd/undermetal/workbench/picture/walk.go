package picture

import (
	"math"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/geom"
)

// walk draws what of a drawing is seen into a plane.
type walk struct {
	plane  *plane
	layers uint64 // those that are drawn
	steps  int    // so far, for the tests
	points []pair // of a polygon, in px
	rings  []int
}

// pair is a place of the picture, in px.
type pair struct{ x, y float64 }

// draw draws all of d, by the map from the frame to the picture.
func (w *walk) draw(d *Drawing, screen view.Affine) { w.tree(d.top, &screen) }

// extent returns the box in the picture around the image of a box.
func extent(a *view.Affine, b geom.Rect) (x0, y0, x1, y1 float64) {
	cx, cy := (float64(b.Min.X)+float64(b.Max.X))/2, (float64(b.Min.Y)+float64(b.Max.Y))/2
	hx, hy := (float64(b.Max.X)-float64(b.Min.X))/2, (float64(b.Max.Y)-float64(b.Min.Y))/2
	m := a.Apply(geom.Vec{X: cx, Y: cy})
	wide, tall := math.Abs(a[0])*hx+math.Abs(a[1])*hy, math.Abs(a[3])*hx+math.Abs(a[4])*hy
	return m.X - wide, m.Y - tall, m.X + wide, m.Y + tall
}

// blockPx is the size up to which a shape is drawn as the block of px that it lies on.
const blockPx = 2

// small looks at a box: it is true where nothing is left to do, since it is not seen, or was drawn as a dot.
func (w *walk) small(a *view.Affine, b geom.Rect, mask uint64, most float64) bool {
	w.steps++
	x0, y0, x1, y1 := extent(a, b)
	if x1 < 0 || y1 < 0 || x0 >= float64(w.plane.width) || y0 >= float64(w.plane.height) {
		return true
	}
	if x1-x0 >= most || y1-y0 >= most {
		return false
	}
	w.plane.block(x0, y0, x1, y1, mask&w.layers)
	return true
}

func (w *walk) tree(t *tree, a *view.Affine) {
	if t.mask&w.layers != 0 {
		w.node(t, a, len(t.nodes)-1, 0)
	}
}

func (w *walk) node(t *tree, a *view.Affine, level, i int) {
	n := &t.nodes[level][i]
	if n.mask&w.layers == 0 || w.small(a, n.box, n.mask, 1) {
		return
	}
	if level > 0 {
		for k := i * fan; k < min((i+1)*fan, len(t.nodes[level-1])); k++ {
			w.node(t, a, level-1, k)
		}
		return
	}
	for k := i * fan; k < min((i+1)*fan, len(t.items)); k++ {
		it := &t.items[k]
		switch {
		case it.mask&w.layers == 0:
		case it.placed != nil:
			columns, rows := it.placed.Members()
			w.members(it, a, 0, columns, 0, rows)
		case !w.small(a, it.box, it.mask, blockPx):
			w.polygon(it.polygon, a, it.mask)
		}
	}
}

// members draws a part of an array: all of it as a dot where it is small, else one half after the other.
func (w *walk) members(it *item, a *view.Affine, c0, c1, r0, r1 int) {
	if w.small(a, members(it.placed, it.below, c0, c1, r0, r1), it.mask, 1) {
		return
	}
	switch columns, rows := c1-c0, r1-r0; {
	case columns == 1 && rows == 1:
		xx, xy, yx, yy, dx, dy := it.placed.Member(c0, r0).Matrix()
		in := a.After(&view.Affine{xx, xy, dx, yx, yy, dy})
		w.tree(it.below, &in)
	case columns >= rows:
		m := c0 + columns/2
		w.members(it, a, c0, m, r0, r1)
		w.members(it, a, m, c1, r0, r1)
	default:
		m := r0 + rows/2
		w.members(it, a, c0, c1, r0, m)
		w.members(it, a, c0, c1, m, r1)
	}
}

// polygon draws one polygon.
func (w *walk) polygon(pg geom.Polygon, a *view.Affine, mask uint64) {
	w.points, w.rings = w.points[:0], w.rings[:0]
	for _, ring := range pg {
		for _, p := range ring {
			q := a.Apply(geom.Vec{X: float64(p.X), Y: float64(p.Y)})
			w.points = append(w.points, pair{q.X, q.Y})
		}
		w.rings = append(w.rings, len(w.points))
	}
	w.plane.fill(w.points, w.rings, mask)
	from := 0
	for _, to := range w.rings {
		ring := w.points[from:to]
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			w.plane.line(p.x, p.y, q.x, q.y, mask)
		}
		from = to
	}
}
