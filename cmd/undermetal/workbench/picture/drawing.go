package picture

import (
	"cmp"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Drawing is what is drawn, arranged so that any view of it takes a time that goes with what can be seen: cells and arrays stay
// what they are, and whatever is smaller than a px is not looked into. It does not change.
type Drawing struct {
	Layers []string
	top    *tree
	cells  map[*layout.Cell]*tree
}

// tree is a cell, its shapes and placements in boxes in boxes.
type tree struct {
	items []item
	nodes [][]node // nodes[0] hold fan items each, nodes[n] fan nodes of nodes[n-1]; the last has one
	box   geom.Rect
	mask  uint64
}

// item is a shape or a placement.
type item struct {
	box     geom.Rect
	mask    uint64 // of the layers that are in it
	polygon geom.Polygon
	placed  *layout.Placement // nil: a shape
	below   *tree
	code    uint64 // where it lies, by which items are sorted
}

type node struct {
	box  geom.Rect
	mask uint64
}

// fan is how many boxes a box holds.
const fan = 8

// NewDrawing arranges a library, of which the first cell is the die, and which is free of cycles. It takes about a second
// for some million shapes.
func NewDrawing(lib *layout.Library) *Drawing {
	d := &Drawing{Layers: lib.Layers, cells: map[*layout.Cell]*tree{}}
	d.top = d.cell(lib.Cells[0])
	return d
}

// NewSet arranges polygons by layer, as for a net that is to be lit or for what is selected.
func NewSet(byLayer [][]geom.Polygon) *Drawing {
	var cell layout.Cell
	for l, polygons := range byLayer {
		for _, pg := range polygons {
			cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(l), Polygon: pg})
		}
	}
	return NewDrawing(&layout.Library{Layers: make([]string, len(byLayer)), Cells: []*layout.Cell{&cell}})
}

// Box returns the box around all of it, empty where there is nothing.
func (d *Drawing) Box() geom.Rect { return d.top.box }

func (d *Drawing) cell(c *layout.Cell) *tree {
	if t := d.cells[c]; t != nil {
		return t
	}
	t := &tree{items: make([]item, 0, len(c.Shapes)+len(c.Placements)), box: geom.EmptyRect()}
	for i := range c.Shapes {
		s := &c.Shapes[i]
		t.items = append(t.items, item{box: s.Polygon.Bounds(), mask: 1 << s.Layer, polygon: s.Polygon})
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		below := d.cell(p.Cell)
		if below.mask == 0 {
			continue
		}
		columns, rows := p.Members()
		t.items = append(t.items, item{box: members(p, below, 0, columns, 0, rows), mask: below.mask, placed: p, below: below})
	}
	t.arrange()
	d.cells[c] = t
	return t
}

// members returns a box around members of an array, those of columns c0 to c1-1 and rows r0 to r1-1.
func members(p *layout.Placement, below *tree, c0, c1, r0, r1 int) geom.Rect {
	box := geom.EmptyRect()
	for _, at := range [4][2]int{{c0, r0}, {c1 - 1, r0}, {c0, r1 - 1}, {c1 - 1, r1 - 1}} {
		box = box.Union(p.Member(at[0], at[1]).Bounds(below.box))
	}
	return box
}

// arrange sorts the items along a curve that keeps neighbours together (G. M. Morton, 1966), and puts as many as follow each
// other into a box.
func (t *tree) arrange() {
	var boxes []node
	for i := range t.items {
		it := &t.items[i]
		x, y := it.box.Min.X/2+it.box.Max.X/2+geom.Limit, it.box.Min.Y/2+it.box.Max.Y/2+geom.Limit
		it.code = spread(uint64(max(x, 0))) | spread(uint64(max(y, 0)))<<1
	}
	slices.SortFunc(t.items, func(a, b item) int { return cmp.Compare(a.code, b.code) })
	for i := range t.items {
		boxes = append(boxes, node{t.items[i].box, t.items[i].mask})
	}
	for len(boxes) > 1 || len(t.nodes) == 0 && len(boxes) > 0 {
		var above []node
		for part := range slices.Chunk(boxes, fan) {
			n := node{box: geom.EmptyRect()}
			for _, b := range part {
				n.box, n.mask = n.box.Union(b.box), n.mask|b.mask
			}
			above = append(above, n)
		}
		t.nodes = append(t.nodes, above)
		boxes = above
	}
	if len(boxes) == 1 {
		t.box, t.mask = boxes[0].box, boxes[0].mask
	}
}

// spread puts a zero between the bits of a number of 32.
func spread(v uint64) uint64 {
	v &= 1<<32 - 1
	for _, s := range [5]struct {
		by   int
		mask uint64
	}{{16, 0x0000ffff0000ffff}, {8, 0x00ff00ff00ff00ff}, {4, 0x0f0f0f0f0f0f0f0f}, {2, 0x3333333333333333}, {1, 0x5555555555555555}} {
		v = (v | v<<s.by) & s.mask
	}
	return v
}
