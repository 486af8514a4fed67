package layout

import (
	"fmt"

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
	labels int
}

// layers returns the set of layers that something is drawn on.
func (s *cellSums) layers() (set uint64) {
	for l, n := range s.counts {
		if n > 0 {
			set |= 1 << l
		}
	}
	return set
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
	s := &cellSums{bounds: geom.EmptyRect(), labels: len(c.Labels)}
	for i := range c.Shapes {
		s.bounds = s.bounds.Union(c.Shapes[i].Polygon.Bounds())
		s.counts[c.Shapes[i].Layer]++
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		below := f.sums(p.Cell)
		cols, rows := p.Members()
		s.labels += below.labels * cols * rows
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

// Bounds returns the box around all shapes, empty where there is none.
func (f *Flat) Bounds() geom.Rect { return f.sums(f.top).bounds }

// Count returns the number of flattened shapes on a layer.
func (f *Flat) Count(l Layer) int { return f.sums(f.top).counts[l] }

// Shapes calls yield for every shape in the flattened drawing, always in the same order, until it returns false.
func (f *Flat) Shapes(yield func(s *Shape, t geom.Transform) bool) {
	f.shapes(f.top, geom.Identity, yield)
}

func (f *Flat) shapes(c *Cell, t geom.Transform, yield func(*Shape, geom.Transform) bool) bool {
	for i := range c.Shapes {
		if !yield(&c.Shapes[i], t) {
			return false
		}
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		if f.sums(p.Cell).bounds.Empty() {
			continue
		}
		cols, rows := p.Members()
		for r := 0; r < rows; r++ {
			for col := 0; col < cols; col++ {
				if !f.shapes(p.Cell, p.Member(col, r).Then(t), yield) {
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
		if f.sums(p.Cell).labels == 0 {
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
