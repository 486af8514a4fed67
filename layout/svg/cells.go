package svg

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// findCells makes the cells of the library, the drawn one first, and returns the elements of the others.
func (w *walker) findCells() (others []*node) {
	w.cells = map[*node]*layout.Cell{}
	var visit func(n *node, visible bool)
	visit = func(n *node, visible bool) {
		if _, ok := n.data["cell"]; ok && w.whole {
			if visible && w.main == nil {
				w.main = n
			} else {
				others = append(others, n)
			}
			w.cells[n] = &layout.Cell{Name: n.data["cell"]}
		}
		for _, child := range n.children {
			visit(child, visible && n.name != "defs" && n.name != "symbol")
		}
	}
	visit(w.doc.root, true)
	if w.main != nil {
		w.cell = w.cells[w.main]
	} else {
		base := filepath.Base(w.doc.Name)
		w.cell = &layout.Cell{Name: firstOf(strings.TrimSuffix(base, filepath.Ext(base)), "drawing")}
	}
	w.lib.Cells = append(w.lib.Cells, w.cell)
	names := map[string]bool{w.cell.Name: true}
	for _, n := range others {
		c := w.cells[n]
		for base, i := c.Name, 2; names[c.Name]; i++ { // copied by an editor
			c.Name = fmt.Sprintf("%s#%d", base, i)
		}
		names[c.Name] = true
		w.lib.Cells = append(w.lib.Cells, c)
	}
	return others
}

// maxCopied bounds the points and elements that are drawn by way of use, which may refer to others that do so again.
const maxCopied = 1 << 22

// use draws another element, or places a cell.
func (w *walker) use(c *context) error {
	n := c.node
	id, ok := strings.CutPrefix(n.href, "#")
	if !ok {
		w.notes.add("references to other files, left out", n)
		return nil
	}
	target := w.doc.ids[id]
	if target == nil {
		w.notes.add("references to what the drawing does not contain, left out", n)
		return nil
	}
	if n.box != nil {
		c.matrix = translate(n.box.x, n.box.y).then(c.matrix)
	}
	if cell := w.cells[target]; cell != nil {
		if t, ok := w.transform(c.matrix); ok {
			w.cell.Placements = append(w.cell.Placements, layout.Placement{Name: n.data["instance"], Cell: cell, Transform: t})
			return nil
		}
		w.notes.add("cells that are stretched unevenly, taken apart", n)
	}
	for g := c; g != nil; g = g.outer {
		if g.node == target {
			return w.doc.fail(n, "remove one of these references", "%s contains itself by way of use", target)
		}
	}
	w.inUse++
	defer func() { w.inUse-- }()
	if target.name != "symbol" && target.name != "svg" {
		return w.element(c, target)
	}
	inside := &context{node: target, outer: c, matrix: target.matrix.then(c.matrix)}
	var here local
	if inside.style, here = w.styleOf(target, c.style); w.leftOut(target, here) {
		return nil
	}
	inside.matrix = target.placedBy(n.box, w.doc.View).then(inside.matrix)
	return w.children(inside)
}

// placedBy returns the map from the units inside a symbol or svg to those of the use that refers to it. The size is the
// use's, else its own, else all of the drawing's.
func (n *node) placedBy(use *viewport, whole Box) matrix {
	b := *n.box
	if use.hasWidth {
		b.width, b.hasWidth = use.width, true
	}
	if use.hasHeight {
		b.height, b.hasHeight = use.height, true
	}
	return (&node{box: &b}).inner(whole)
}

// copying counts what is drawn, if that is by way of use.
func (w *walker) copying(c *context, n int) error {
	if w.inUse == 0 {
		return nil
	}
	if w.copied += n; w.copied > maxCopied {
		var outermost *node
		for g := c; g != nil; g = g.outer {
			if g.node.name == "use" {
				outermost = g.node
			}
		}
		return w.doc.fail(outermost, "save the drawing with fewer copies by reference, or in parts", "more than %d points and elements are drawn by way of use", maxCopied)
	}
	return nil
}

// transform returns what places a cell, from the units of its drawing to those of this one: both have y downward and one
// size of units.
func (w *walker) transform(m matrix) (geom.Transform, bool) {
	nm := w.doc.UmPerUnit * 1000
	whole := func(v float64) float64 { // µm are no whole binary fractions
		if r := math.Round(v); math.Abs(r-v) < 1e-6 {
			return r
		}
		return v
	}
	dx, dy := whole(float64(m.e*nm)), whole(float64(-m.f*nm))
	if !(math.Abs(dx) <= geom.Limit && math.Abs(dy) <= geom.Limit) {
		return geom.Transform{}, false
	}
	return geom.FromMatrix(m.a, -m.c, -m.b, m.d, dx, dy)
}

// array takes a group as an array of placements, if it says so and its members are all where they belong; done is false
// where they are not, so that each counts by itself.
func (w *walker) array(c *context) (done bool, err error) {
	n := c.node
	text, ok := n.data["array"]
	if !ok || !w.whole {
		return false, nil
	}
	s := &scanner{s: text}
	v, err := s.list()
	moved := func() (bool, error) {
		w.notes.add("arrays of which members were changed, taken one by one", n)
		return false, nil
	}
	if err != nil || len(v) != 6 || v[0]*v[1] != float64(len(n.children)) || len(n.children) == 0 {
		return moved()
	}
	p := layout.Placement{Name: n.data["instance"], Columns: int(v[0]), Rows: int(v[1]),
		ColumnExtent: geom.Vec{X: v[2], Y: v[3]}, RowExtent: geom.Vec{X: v[4], Y: v[5]}}
	if p.Columns < 1 || float64(p.Columns) != v[0] || float64(p.Rows) != v[1] {
		return moved()
	}
	for i, child := range n.children {
		target := w.doc.ids[strings.TrimPrefix(child.href, "#")]
		if child.name != "use" || target == nil || w.cells[target] == nil || child.box.x != 0 || child.box.y != 0 {
			return moved()
		}
		t, ok := w.transform(child.matrix.then(c.matrix))
		if i == 0 {
			p.Cell, p.Transform = w.cells[target], t
		}
		if !ok || w.cells[target] != p.Cell || p.Member(i%p.Columns, i/p.Columns) != t {
			return moved()
		}
	}
	w.cell.Placements = append(w.cell.Placements, p)
	return true, nil
}
