package ambiguous

import (
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
)

// toward returns a move of a length in any direction.
func (h *hand) toward(length float64) geom.Point {
	sin, cos := math.Sincos(2 * math.Pi * h.Float64())
	return geom.Vec{X: length * cos, Y: length * sin}.Round()
}

// around is the box of the structure in question, so many features larger on all sides.
func (h *hand) around(features int) geom.Rect {
	d := geom.Point{X: features * h.c.FeatureNm, Y: features * h.c.FeatureNm}
	return geom.Rect{Min: h.c.Box.Min.Sub(d), Max: h.c.Box.Max.Add(d)}
}

// near returns the shapes of a role that lie on a structure's box or close to it.
func (h *hand) near(role stack.Role, features int) []int {
	var found []int
	box := h.around(features)
	for i := range h.c.Top.Shapes {
		if s := &h.c.Top.Shapes[i]; h.role(s.Layer) == role && s.Polygon.Bounds().Overlaps(box) {
			found = append(found, i)
		}
	}
	return found
}

// cut takes pieces out of the shapes that are meant, and reports whether anything was cut.
func (h *hand) cut(pieces []geom.Polygon, meant func(*layout.Shape) bool) bool {
	made := false
	var shapes []layout.Shape
	for _, s := range h.c.Top.Shapes {
		if !meant(&s) {
			shapes = append(shapes, s)
			continue
		}
		left, out := region.Cut(s.Polygon, pieces...)
		if len(out) == 0 {
			shapes = append(shapes, s)
			continue
		}
		made = true
		for _, pg := range left {
			shapes = append(shapes, layout.Shape{Layer: s.Layer, Polygon: pg})
		}
	}
	h.c.Top.Shapes = shapes
	return made
}

// gap leaves out a piece of a line of metal, one to three features long, with all other metal of the layer that lies there.
func (h *hand) gap() bool {
	metal := h.near(stack.Metal, 4)
	if len(metal) == 0 {
		return false
	}
	i := metal[h.IntN(len(metal))]
	pg, l := h.c.Top.Shapes[i].Polygon, h.c.Top.Shapes[i].Layer
	b := pg.Bounds()
	length := h.c.FeatureNm * (2 + h.IntN(5)) / 2
	if b.Width() >= b.Height() {
		b.Min.X += h.IntN(max(b.Width()-length, 1))
		b.Max.X = b.Min.X + length
	} else {
		b.Min.Y += h.IntN(max(b.Height()-length, 1))
		b.Max.Y = b.Min.Y + length
	}
	_, piece := region.Cut(pg, geom.Polygon{b.Ring()})
	h.cut(piece, func(s *layout.Shape) bool { return s.Layer == l && s.Polygon.Bounds().Overlaps(b) })
	return true
}

// bridge joins two boxes of metal on different nets that face each other across at most five features.
func (h *hand) bridge() bool {
	type pair struct {
		layer layout.Layer
		box   geom.Rect
	}
	var pairs []pair
	f := h.c.FeatureNm
	metal := h.near(stack.Metal, 2)
	nets := map[int]string{}
	for _, i := range metal {
		nets[i] = h.netOf(&h.c.Top.Shapes[i])
	}
	for n, i := range metal {
		for _, k := range metal[n+1:] {
			a, b := &h.c.Top.Shapes[i], &h.c.Top.Shapes[k]
			if a.Layer == b.Layer && nets[i] != "" && nets[k] != "" && nets[i] != nets[k] {
				if box, ok := between(a.Polygon, b.Polygon, f, 5*f); ok {
					pairs = append(pairs, pair{a.Layer, box})
				}
			}
		}
	}
	if len(pairs) == 0 {
		return false
	}
	p := pairs[h.IntN(len(pairs))]
	h.c.Top.Shapes = append(h.c.Top.Shapes, layout.Shape{Layer: p.layer, Polygon: geom.Polygon{p.box.Ring()}})
	return true
}

// netOf returns the name of the net that a shape lies on, as far as a place of one lies on it.
func (h *hand) netOf(s *layout.Shape) string {
	for i := range h.c.Nets {
		for _, p := range h.c.Nets[i].Places {
			if p.Layer == s.Layer && s.Polygon.Locate(p.At) == geom.Inside {
				return h.c.Nets[i].Name
			}
		}
	}
	return ""
}

// between returns a box of a width that laps over two rectangles which face each other, and reach apart at most.
func between(p, q geom.Polygon, width, reach int) (geom.Rect, bool) {
	if !rectangle(p) || !rectangle(q) {
		return geom.Rect{}, false
	}
	a, b := p.Bounds(), q.Bounds()
	span := func(a0, a1, b0, b1 int) (lo, hi int) { return max(a0, b0), min(a1, b1) }
	x0, x1 := span(a.Min.X, a.Max.X, b.Min.X, b.Max.X)
	y0, y1 := span(a.Min.Y, a.Max.Y, b.Min.Y, b.Max.Y)
	lap := width / 2
	switch {
	case x1-x0 >= width && y0 > y1 && y0-y1 <= reach: // y1 to y0 is the gap
		mid := (x0 + x1) / 2
		return geom.Box(mid-width/2, y1-lap, mid+width/2, y0+lap), true
	case y1-y0 >= width && x0 > x1 && x0-x1 <= reach:
		mid := (y0 + y1) / 2
		return geom.Box(x1-lap, mid-width/2, x0+lap, mid+width/2), true
	}
	return geom.Rect{}, false
}

func rectangle(pg geom.Polygon) bool { return len(pg) == 1 && len(pg[0]) == 4 && pg[0].Manhattan() }

// continuous draws diffusion beneath a plate where it ends or is missing, as if what is seen beside it went on.
func (h *hand) continuous() bool {
	switch h.c.Kind {
	case NoDiffusion, OneSided, OwnBank, CoveredPlate, TwoPolys, Serpentine:
	default:
		return false
	}
	l := layout.Layer(0)
	for i := range h.c.Stack.Layers {
		if h.role(layout.Layer(i)) == stack.Diffusion {
			l = layout.Layer(i)
			break
		}
	}
	for _, i := range h.near(stack.Diffusion, 0) { // that of the structure, where it has one
		l = h.c.Top.Shapes[i].Layer
	}
	box := h.around(1)
	if h.c.Kind == OwnBank {
		box = h.c.Box
	}
	h.c.Top.Shapes = append(h.c.Top.Shapes, layout.Shape{Layer: l, Polygon: geom.Polygon{box.Ring()}})
	return true
}

// omit leaves out the diffusion beneath gates, which hide it.
func (h *hand) omit() bool {
	var gates []geom.Polygon
	for _, i := range h.near(stack.Gate, 0) {
		gates = append(gates, h.c.Top.Shapes[i].Polygon)
	}
	box := h.c.Box
	return h.cut(gates, func(s *layout.Shape) bool {
		return h.role(s.Layer) == stack.Diffusion && s.Polygon.Bounds().Overlaps(box)
	})
}

// closeOpenings draws some openings of meshes and rings smaller than they are, from one side.
func (h *hand) closeOpenings() bool {
	made := false
	for _, i := range h.near(stack.Gate, 0) {
		s := &h.c.Top.Shapes[i]
		pg := append(geom.Polygon(nil), s.Polygon...)
		for k := 1; k < len(pg); k++ {
			if !h.chance(0.15) {
				continue
			}
			b, part := pg[k].Bounds(), (1+h.Float64())/3
			switch dx, dy := int(part*float64(b.Width())), int(part*float64(b.Height())); h.IntN(4) {
			case 0:
				b.Min.X += dx
			case 1:
				b.Max.X -= dx
			case 2:
				b.Min.Y += dy
			default:
				b.Max.Y -= dy
			}
			r := b.Ring()
			if r.Sense() != pg[k].Sense() {
				r[1], r[3] = r[3], r[1]
			}
			pg[k], made = r, true
		}
		s.Polygon = pg
	}
	return made
}
