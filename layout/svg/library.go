package svg

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// Options say how a drawing is taken.
type Options struct {
	// Place takes units of the drawing to the frame. nil: as the drawing itself says (Document.UmPerUnit); only then do
	// cells stay cells.
	Place pen.Place
	// Within says why a place of the drawing, in its units, is none that may be drawn at (see pen.Flattener); nil: all may be.
	Within func(geom.Vec) error
	// ToleranceNm is how far a chord may be from its curve; 0: pen.DefaultTolerance.
	ToleranceNm float64
	// Layers are those that there are; nil: those that the rules and the drawing name, in that order.
	Layers []string
	// Rules say what belongs to which layer; the first that holds counts. See layers.of for what holds without them.
	Rules []Rule
	// Default is the layer of what nothing gives one; empty: there is none.
	Default string
	// LeaveUnmapped leaves out, and reports, what nothing gives a layer; otherwise that is an error.
	LeaveUnmapped bool
	// Ended is asked now and then whether to go on: its error, as of a context that has ended, is returned. nil: nobody asks.
	Ended func() error
}

// PlaceUm places the drawing by the size of its unit in µm: y is flipped, and the lower left corner of the viewBox goes
// to (0, 0).
func (d *Document) PlaceUm(umPerUnit float64) pen.Place {
	return pen.UmPerUnit(umPerUnit, geom.Vec{X: d.View.X, Y: d.View.Y + d.View.Height})
}

// Library returns what is drawn, in the frame: one cell, named after the file, unless the drawing has cells of its own
// (see Write) and says itself where it lies. The first cell is the one that is drawn.
//
// Errors are of type *Error, except for options that contradict themselves and for that of Ended.
func (d *Document) Library(o Options) (*layout.Library, *Report, error) {
	l, err := newLayers(&o)
	if err != nil {
		return nil, nil, err
	}
	w := &walker{doc: d, layers: l, lib: &layout.Library{Name: d.root.data["name"]}, whole: o.Place == nil, ended: o.Ended}
	if w.place = o.Place; w.place == nil {
		if d.UmPerUnit == 0 {
			return nil, nil, d.fail(nil, "say how large a unit is (--um-per-unit), or which photograph it is drawn over (--over)",
				"the drawing does not say how many µm a unit is")
		}
		w.place = pen.UmPerUnit(d.UmPerUnit, geom.Vec{})
	}
	w.flat = pen.Flattener{Place: w.place, Tolerance: o.ToleranceNm, Within: o.Within}
	w.notes.list, w.notes.at = append([]Note(nil), d.notes.list...), nil
	for i, n := range w.notes.list {
		w.notes.at = setNote(w.notes.at, n.Text, i)
	}
	if err := w.drawing(); err != nil {
		return nil, nil, err
	}
	if w.lost.first != nil {
		return nil, nil, w.lost.fault()
	}
	if w.unmapped.total > 0 && !o.LeaveUnmapped {
		return nil, nil, w.unmapped.fault(d)
	}
	w.lib.Layers = l.names
	return w.lib, w.report(), nil
}

func setNote(m map[string]int, text string, i int) map[string]int {
	if m == nil {
		m = map[string]int{}
	}
	m[text] = i
	return m
}

// walker goes through the elements and draws.
type walker struct {
	doc      *Document
	layers   *layers
	lib      *layout.Library
	place    pen.Place
	flat     pen.Flattener
	stroker  pen.Stroker
	notes    notes
	unmapped unmapped
	lost     lost
	counts   [layout.MaxLayers]Count
	stated   layout.Statements
	unseenIn map[*node]int // how many elements lie in what has an opacity of 0

	whole  bool // the drawing says itself where it lies: its cells and shapes stay what they are
	cells  map[*node]*layout.Cell
	main   *node        // of the cell that is drawn, if the drawing has cells
	cell   *layout.Cell // that is being filled
	traced bool         // what is drawn are traced areas
	ended  func() error // as in Options
	drawn  int          // elements
	inUse  int          // how many uses are open
	copied int          // points and elements drawn inside of use so far
	rings  []geom.Ring  // buffer
}

// context is an element with what is around it. What use refers to is inside of the use.
type context struct {
	node   *node
	outer  *context
	style  style
	matrix matrix // its own units to those of the drawing
}

// drawing draws all, cell by cell.
func (w *walker) drawing() error {
	others := w.findCells()
	if err := w.element(nil, w.doc.root); err != nil {
		return err
	}
	for _, n := range others {
		w.cell = w.cells[n]
		if err := w.element(nil, n); err != nil {
			return err
		}
	}
	if err := w.lib.CheckCycles(); err != nil {
		return w.doc.fail(nil, "remove one of these references", "%v", err)
	}
	return nil
}

// element draws n and what is in it.
func (w *walker) element(outer *context, n *node) error {
	if w.drawn++; w.ended != nil && w.drawn%256 == 0 {
		if err := w.ended(); err != nil {
			return err
		}
	}
	c := &context{node: n, outer: outer, style: initialStyle, matrix: n.matrix}
	if outer != nil {
		c.style, c.matrix = outer.style, n.matrix.then(outer.matrix)
	}
	if err := w.copying(c, 1); err != nil {
		return err
	}
	var here local
	c.style, here = w.styleOf(n, c.style)
	if w.leftOut(n, here) {
		return nil
	}
	if here.clipped {
		w.notes.add("elements with a clip path, mask or filter, taken as they are without it", n)
	}
	switch n.name {
	case "defs", "symbol", "image":
		return nil
	case "svg":
		if outer != nil {
			c.matrix = n.inner(w.doc.View).then(c.matrix)
		}
		return w.children(c)
	case "text", "tspan":
		return w.text(c)
	case "use":
		return w.use(c)
	}
	if n.outline != nil {
		return w.draw(c)
	}
	return w.group(c)
}

func (w *walker) children(c *context) error {
	for _, n := range c.node.children {
		if err := w.element(c, n); err != nil {
			return err
		}
	}
	return nil
}

// group draws what is in a group, which may be an array of placements or hold traced areas.
func (w *walker) group(c *context) error {
	if done, err := w.array(c); done || err != nil {
		return err
	}
	if name := c.node.data["layer"]; w.whole && name != "" { // it counts even where nothing is on it
		if _, _, err := w.layers.named(name, true); err != nil {
			return w.doc.fail(c.node, "name the layers that are needed", "%v", err)
		}
	}
	if _, ok := c.node.data["traced"]; ok && !w.traced {
		w.traced = true
		defer func() { w.traced = false }()
	}
	return w.children(c)
}

func (w *walker) report() *Report {
	w.unmapped.share()
	rep := &Report{Unmapped: w.unmapped.list, Notes: w.notes.list, Stated: w.stated, Held: w.layers.held}
	for i, name := range w.layers.names {
		w.counts[i].Layer = name
		rep.Layers = append(rep.Layers, w.counts[i])
	}
	return rep
}
