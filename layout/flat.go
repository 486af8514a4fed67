package layout

import (
	"fmt"
	"strings"

	"undermetal/layout/geom"
)

// Flat is a cell with everything below it, as a stream of shapes and labels in the cell's own frame. The stream is
// made anew by each walk; nothing is kept of it.
type Flat struct {
	top   *Cell
	cells map[*Cell]*cellSums
}

// cellSums is what is known of a cell with all that it places.
type cellSums struct {
	bounds geom.Rect
	counts [MaxLayers]int // shapes by layer
}

// Flatten prepares the stream of top. The library must be free of cycles (Library.CheckCycles). It is an error if
// anything lies outside the frame of ±2^30 nm.
func Flatten(top *Cell) (*Flat, error) {
	f := &Flat{top: top, cells: map[*Cell]*cellSums{}}
	b := f.sums(top).bounds
	if !b.Empty() && !(b.Min.InFrame() && b.Max.InFrame()) {
		return nil, fmt.Errorf("cell %q reaches from (%.3f, %.3f) to (%.3f, %.3f) µm; the frame ends at ±%.3f µm", top.Name,
			um(b.Min.X), um(b.Min.Y), um(b.Max.X), um(b.Max.Y), um(geom.Limit))
	}
	return f, nil
}

func um(nm int) float64 { return float64(nm) / 1000 }

func (f *Flat) sums(c *Cell) *cellSums {
	if s := f.cells[c]; s != nil {
		return s
	}
	s := &cellSums{bounds: geom.EmptyRect()}
	for i := range c.Shapes {
		s.bounds = s.bounds.Union(c.Shapes[i].Polygon.Bounds())
		s.counts[c.Shapes[i].Layer]++
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		below := f.sums(p.Cell)
		cols, rows := p.Members()
		for l := range s.counts {
			s.counts[l] += below.counts[l] * cols * rows
		}
		if below.bounds.Empty() {
			continue
		}
		for _, at := range [][2]int{{0, 0}, {cols - 1, 0}, {0, rows - 1}, {cols - 1, rows - 1}} {
			s.bounds = s.bounds.Union(p.Member(at[0], at[1]).Bounds(below.bounds))
		}
	}
	f.cells[c] = s
	return s
}

// Top returns the cell that was flattened.
func (f *Flat) Top() *Cell { return f.top }

// Bounds returns the box around all shapes, empty where there is none.
func (f *Flat) Bounds() geom.Rect { return f.sums(f.top).bounds }

// Count returns the number of flattened shapes on a layer.
func (f *Flat) Count(l Layer) int { return f.sums(f.top).counts[l] }

// Shapes calls yield for every shape in the flattened drawing, always in the same order, until it returns false. n is
// the shape's number among those of its layer, from 0.
func (f *Flat) Shapes(yield func(s *Shape, t geom.Transform, n int) bool) {
	var next [MaxLayers]int
	f.shapes(f.top, geom.Identity, &next, yield)
}

func (f *Flat) shapes(c *Cell, t geom.Transform, next *[MaxLayers]int, yield func(*Shape, geom.Transform, int) bool) bool {
	for i := range c.Shapes {
		s := &c.Shapes[i]
		if !yield(s, t, next[s.Layer]) {
			return false
		}
		next[s.Layer]++
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		if f.sums(p.Cell).bounds.Empty() {
			continue
		}
		cols, rows := p.Members()
		for r := 0; r < rows; r++ {
			for col := 0; col < cols; col++ {
				if !f.shapes(p.Cell, p.Member(col, r).Then(t), next, yield) {
					return false
				}
			}
		}
	}
	return true
}

// Labels calls yield for every label of the flattened drawing with its place. path names the instance that it was
// drawn in, empty for the top cell's own labels.
func (f *Flat) Labels(yield func(l *Label, at geom.Point, path string)) {
	f.labels(f.top, geom.Identity, "", yield)
}

func (f *Flat) labels(c *Cell, t geom.Transform, path string, yield func(*Label, geom.Point, string)) {
	for i := range c.Labels {
		yield(&c.Labels[i], t.Apply(c.Labels[i].At), path)
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		if !hasLabels(p.Cell) {
			continue
		}
		cols, rows := p.Members()
		for r := 0; r < rows; r++ {
			for col := 0; col < cols; col++ {
				f.labels(p.Cell, p.Member(col, r).Then(t), JoinPath(path, c.InstanceName(i, col, r)), yield)
			}
		}
	}
}

func hasLabels(c *Cell) bool {
	if len(c.Labels) > 0 {
		return true
	}
	for i := range c.Placements {
		if hasLabels(c.Placements[i].Cell) {
			return true
		}
	}
	return false
}

// InstanceName returns the name of one member of the i-th placement of c: the placement's own name, or that of its
// cell with its position in the list where there are several of that cell; members of an array add [row,column].
func (c *Cell) InstanceName(i, column, row int) string {
	p := &c.Placements[i]
	name := p.Name
	if name == "" {
		name = fmt.Sprintf("%s.%d", p.Cell.Name, i+1)
	}
	if cols, rows := p.Members(); cols > 1 || rows > 1 {
		name += fmt.Sprintf("[%d,%d]", row, column)
	}
	return name
}

// JoinPath appends an instance to a path.
func JoinPath(path, name string) string {
	if path == "" {
		return name
	}
	return path + "/" + name
}

// Path returns the instance in which the n-th flattened shape of a layer was drawn, empty for the top cell.
func (f *Flat) Path(l Layer, n int) string {
	var parts []string
	c := f.top
	for {
		for i := range c.Shapes {
			if c.Shapes[i].Layer == l {
				n--
			}
		}
		if n < 0 {
			return strings.Join(parts, "/")
		}
		inside := false
		for i := range c.Placements {
			p := &c.Placements[i]
			each := f.sums(p.Cell).counts[l]
			cols, rows := p.Members()
			if n < each*cols*rows {
				m := n / each
				parts = append(parts, c.InstanceName(i, m%cols, m/cols))
				n %= each
				c, inside = p.Cell, true
				break
			}
			n -= each * cols * rows
		}
		if !inside {
			return strings.Join(parts, "/")
		}
	}
}
