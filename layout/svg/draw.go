package svg

import (
	"math"
	"slices"
	"strconv"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// draw makes shapes of an outline: a polygon of what is filled, a wire of what has a stroke only.
func (w *walker) draw(c *context) error {
	n, s := c.node, &c.style
	if s.hidden {
		w.notes.add("hidden elements, left out", n)
		return nil
	}
	filled := s.filled() && n.name != "line"
	stroked := s.stroked()
	if w.traced && w.whole { // which Write shows by their outlines
		filled, stroked = n.name != "line", false
	}
	if !filled && !stroked {
		w.unseen(c)
		return nil
	}
	p := s.stroke
	if filled {
		p = s.fill
	}
	layer, ok, err := w.layer(c, p)
	if !ok || err != nil {
		return err
	}
	if err := w.copying(c, len(n.outline.at)); err != nil {
		return err
	}
	said, err := w.saidOf(n)
	if err != nil {
		return err
	}
	chains, err := w.flatten(c)
	if err != nil {
		return w.lost.add(err)
	}
	if filled {
		if w.fill(c, layer, chains, said) {
			if stroked {
				w.notes.add("filled shapes with a stroke, taken without it", n)
			}
			return nil
		}
		if stroked { // a line that was not told to have no fill
			if layer, ok, err = w.layer(c, s.stroke); !ok || err != nil {
				return err
			}
		}
	}
	if !stroked {
		w.notes.add("shapes that cover nothing, left out", n)
		return nil
	}
	return w.wire(c, layer, chains, said)
}

// saidOf returns what a drawing of Write says of the edges of an element.
func (w *walker) saidOf(n *node) (said layout.Stated, err error) {
	if !w.whole {
		return said, nil
	}
	said.Shot = n.data["shot"]
	if text, ok := n.data["sigma-nm"]; ok {
		said.SigmaNm, err = strconv.ParseFloat(text, 64)
		if said.HasSigma = err == nil && said.SigmaNm >= 0 && said.SigmaNm <= math.MaxFloat64; !said.HasSigma {
			return said, w.doc.fail(n, "correct it, or leave it out", "data-sigma-nm is %.40q; it is the standard uncertainty of the edges in nm, 0 or more", text)
		}
	}
	return said, nil
}

// layer returns the layer of what is drawn, and counts what has none.
func (w *walker) layer(c *context, p paint) (layout.Layer, bool, error) {
	layer, found, out, err := w.layers.of(c, p)
	switch {
	case err != nil:
		return 0, false, w.doc.fail(c.node, "give rules that use fewer layers", "%v", err)
	case out:
		w.notes.add("elements that a rule leaves out", c.node)
		return 0, false, nil
	case !found:
		w.unmapped.add(c, p)
		return 0, false, nil
	}
	w.unmapped.found(p)
	return layer, true, nil
}

// chain is a subpath in the frame.
type chain struct {
	points []geom.Point
	closed bool
	begin  geom.Vec // in units of the drawing
	moves  bool     // it has more than a beginning
}

// flatten maps the outline of an element and cuts its curves into chords.
func (w *walker) flatten(c *context) (chains []chain, err error) {
	o, m := c.node.outline, c.matrix
	at := o.at
	var now, start geom.Vec // in units of the drawing
	keep := func(closed bool) {
		if len(w.flat.Points) == 0 {
			return
		}
		chains = append(chains, chain{slices.Clone(w.flat.Points), closed, start, len(w.flat.Points) > 1})
		w.flat.Points = w.flat.Points[:0]
	}
	w.flat.Points = w.flat.Points[:0]
	for _, step := range o.steps {
		var p [5]geom.Vec
		n := stepPoints(step)
		for i := range n {
			p[i] = m.apply(at[i])
		}
		switch step {
		case 'M':
			keep(false)
			start = p[0]
			err = w.flat.Move(p[0])
		case 'L':
			err = w.flat.Line(now, p[0])
		case 'Q':
			err = w.flat.Curve(1, func(t float64) geom.Vec { return quadratic(now, p[0], p[1], t) }, p[1])
		case 'C':
			err = w.flat.Curve(2, func(t float64) geom.Vec { return cubic(now, p[0], p[1], p[2], t) }, p[2])
		case 'A':
			u, v := m.direction(at[1]), m.direction(at[2])
			from, over := at[3].X, at[3].Y
			parts := max(1, int(math.Ceil(math.Abs(over)/(math.Pi/2)-1e-9)))
			err = w.flat.Curve(parts, func(t float64) geom.Vec {
				sin, cos := math.Sincos(from + float64(t*over))
				return geom.Vec{X: p[0].X + float64(u.X*cos) + float64(v.X*sin), Y: p[0].Y + float64(u.Y*cos) + float64(v.Y*sin)}
			}, p[4])
		case 'Z':
			if now != start {
				err = w.flat.Line(now, start)
			}
			keep(true)
			now = start
		}
		if err != nil {
			return nil, w.doc.fail(c.node, moveNearer, "%v", err)
		}
		if n > 0 {
			now = p[n-1]
		}
		at = at[n:]
	}
	keep(false)
	return chains, nil
}

func quadratic(a, b, c geom.Vec, t float64) geom.Vec {
	s := 1 - t
	i, j, k := s*s, 2*s*t, t*t
	return geom.Vec{X: float64(i*a.X) + float64(j*b.X) + float64(k*c.X), Y: float64(i*a.Y) + float64(j*b.Y) + float64(k*c.Y)}
}

func cubic(a, b, c, d geom.Vec, t float64) geom.Vec {
	s := 1 - t
	i, j, k, l := s*s*s, 3*s*s*t, 3*s*t*t, t*t*t
	return geom.Vec{
		X: float64(i*a.X) + float64(j*b.X) + float64(k*c.X) + float64(l*d.X),
		Y: float64(i*a.Y) + float64(j*b.Y) + float64(k*c.Y) + float64(l*d.Y),
	}
}

// fill adds what the chains fill; false if that is nothing. Rings whose boxes are apart become shapes of their own.
func (w *walker) fill(c *context, layer layout.Layer, chains []chain, said layout.Stated) bool {
	w.rings = w.rings[:0]
	for _, ch := range chains {
		if ring := pen.ClosedOutline(ch.points); pen.Covers(ring) {
			w.rings = append(w.rings, ring)
		}
	}
	groups := [][]geom.Ring{w.rings}
	if !w.whole {
		groups = together(w.rings)
	}
	done := false
	for _, g := range groups {
		polygon := geom.Polygon(slices.Clone(g))
		if c.style.evenOdd {
			polygon = evenOdd(g)
		}
		if len(polygon) > 0 {
			w.add(layer, polygon, false, said)
			done = true
		}
	}
	return done
}

func (w *walker) add(layer layout.Layer, polygon geom.Polygon, wire bool, said layout.Stated) {
	s := layout.Shape{Layer: layer, Polygon: polygon}
	if !w.traced {
		w.stated.Set(w.cell, len(w.cell.Shapes), said)
	}
	switch n := &w.counts[layer]; {
	case w.traced:
		w.lib.Traced = append(w.lib.Traced, s)
		n.Areas++
	case wire:
		w.cell.Shapes = append(w.cell.Shapes, s)
		n.Wires++
	default:
		w.cell.Shapes = append(w.cell.Shapes, s)
		n.Polygons++
	}
}

// wire adds what a pen of the stroke's width covers.
func (w *walker) wire(c *context, layer layout.Layer, chains []chain, said layout.Stated) error {
	n, s := c.node, &c.style
	if s.dashed {
		w.notes.add("dashed wires, taken as whole ones", n)
	}
	m := c.matrix
	if _, even := geom.FromMatrix(m.a, m.c, m.b, m.d, 0, 0); !even {
		w.notes.add("wires whose width is stretched unevenly, taken with the mean", n)
	}
	units := s.width * math.Sqrt(math.Abs(m.det()))
	done := false
	for _, ch := range chains {
		width := units * w.place.Size(ch.begin)
		if !(width < 2*geom.Limit) {
			return w.doc.fail(n, moveNearer, "a stroke of %.6g units, which is %.6g µm", units, width/1e3)
		}
		stroke := pen.Stroke{Line: pen.DistinctNeighbours(ch.points), Width: geom.RoundHalfUp(width), Limit: max(s.limit, 1), RoundBends: s.join == "round"}
		switch s.cap {
		case "round":
			stroke.Ends = pen.Round
		case "square":
			stroke.Ends = pen.Half
		}
		if s.join == "bevel" {
			stroke.Limit = 1
		}
		if stroke.Width == 0 || !ch.moves {
			continue
		}
		if ch.closed {
			stroke.Line, stroke.Ends = closedLine(stroke.Line, stroke.Ends)
		}
		polygon, inFrame := w.stroker.Outline(stroke, nil)
		if !inFrame {
			return w.doc.fail(n, moveNearer, "a wire of width %.3f µm reaches outside the frame of ±%.3f µm", width/1e3, geom.Limit/1e3)
		}
		if polygon != nil {
			w.add(layer, polygon, true, said)
			done = true
		}
	}
	if !done {
		w.notes.add("wires that cover nothing, left out", n)
	}
	return nil
}

// closedLine returns the line of a wire that comes back to where it begins: its first edge is drawn twice, so that there
// is a bend at the beginning, too, and no ends are seen.
func closedLine(line []geom.Point, ends pen.Ends) ([]geom.Point, pen.Ends) {
	if len(line) > 1 && line[len(line)-1] == line[0] {
		line = line[:len(line)-1]
	}
	if len(line) < 2 {
		return line, ends
	}
	return append(line, line[0], line[1]), pen.Flush
}
