package layout

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/geom"
)

// MaxLayers is how many layers a library may have: the engine keeps one bit a layer.
const MaxLayers = 64

// Layer is the index of a layer in Library.Layers.
type Layer uint8

// Library is a drawing: layers by name and the cells drawn on them.
type Library struct {
	Name   string
	Layers []string
	Cells  []*Cell       // no two of one name; placements refer to cells of this list
	Traced []Shape       // the traced areas, in the frame; a layer without any counts as looked at everywhere
	Lost   []LostVerdict // to be listed, since they cannot be applied
}

// Cell is a drawing that can be placed more than once, in its own coordinates.
type Cell struct {
	Name       string
	Shapes     []Shape
	Labels     []Label
	Verdicts   []Verdict
	Placements []Placement
}

// Shape is one polygon on one layer.
type Shape struct {
	Layer   Layer
	Polygon geom.Polygon
}

// Label names the net that lies at a point of a layer.
type Label struct {
	Layer Layer
	At    geom.Point
	Text  string
}

// Placement puts a cell into another, once or as an array of Columns × Rows members.
//
// Transform places the first member. The extents lead from the first member's origin to the last one's, in the
// parent's coordinates: member (c, r) is moved by ColumnExtent·c/(Columns-1) + RowExtent·r/(Rows-1), rounded to the
// grid, each member by itself; so a pitch need not be a whole number of nanometres.
type Placement struct {
	Name                    string // names the instance in paths; empty: named after cell and position in the list
	Cell                    *Cell
	Transform               geom.Transform
	Columns, Rows           int // 0 counts as 1
	ColumnExtent, RowExtent geom.Vec
}

// Members returns the number of columns and rows, at least 1 each.
func (p *Placement) Members() (columns, rows int) { return max(p.Columns, 1), max(p.Rows, 1) }

// Member returns the transform of the member in column c and row r, counted from 0.
func (p *Placement) Member(c, r int) geom.Transform { return p.Transform.Moved(p.offset(c, r)) }

func (p *Placement) offset(c, r int) geom.Point {
	var v geom.Vec
	along := func(extent geom.Vec, i, n int) {
		if n > 1 { // multiplied first: a pitch of half a nanometre then stays exact
			v.X += extent.X * float64(i) / float64(n-1)
			v.Y += extent.Y * float64(i) / float64(n-1)
		}
	}
	along(p.ColumnExtent, c, p.Columns)
	along(p.RowExtent, r, p.Rows)
	return v.Round()
}

// Cell returns the cell of that name, or nil.
func (l *Library) Cell(name string) *Cell {
	for _, c := range l.Cells {
		if c.Name == name {
			return c
		}
	}
	return nil
}

// LayerNamed returns the layer of that name.
func (l *Library) LayerNamed(name string) (Layer, bool) {
	i := slices.Index(l.Layers, name)
	return Layer(max(i, 0)), i >= 0
}

// Tops returns the cells that no other cell places, in the order of the library.
func (l *Library) Tops() []*Cell {
	placed := map[*Cell]bool{}
	for _, c := range l.Cells {
		for i := range c.Placements {
			placed[c.Placements[i].Cell] = true
		}
	}
	var tops []*Cell
	for _, c := range l.Cells {
		if !placed[c] {
			tops = append(tops, c)
		}
	}
	return tops
}

// CheckCycles returns an error that names the cells of a ring of placements, if there is one.
func (l *Library) CheckCycles() error {
	const (
		open = 1
		done = 2
	)
	state := map[*Cell]int{}
	var path []string
	var visit func(c *Cell) error
	visit = func(c *Cell) error {
		switch state[c] {
		case done:
			return nil
		case open:
			ring := append(path[slices.Index(path, c.Name):], c.Name)
			return fmt.Errorf("cell %q contains itself: %s", c.Name, strings.Join(ring, " → "))
		}
		state[c] = open
		path = append(path, c.Name)
		for i := range c.Placements {
			if err := visit(c.Placements[i].Cell); err != nil {
				return err
			}
		}
		path = path[:len(path)-1]
		state[c] = done
		return nil
	}
	for _, c := range l.Cells {
		if err := visit(c); err != nil {
			return err
		}
	}
	return nil
}
