package layout

import (
	"fmt"
	"math/bits"

	"undermetal/layout/geom"
)

// Flat is a cell with everything below it, as a stream of shapes and labels in the cell's own frame. The stream is
// made anew by each walk; nothing is kept of it.
type Flat struct {
	top   *flatCell
	cells map[*Cell]*flatCell
	drawn []*Shape // of all cells, each once
}

// flatCell is what is known of a cell with all that it places.
type flatCell struct {
	cell     *Cell
	bounds   geom.Rect
	layers   uint64         // those that something is drawn on
	counts   [MaxLayers]int // shapes by layer
	labels   int
	verdicts int
	below    []*flatCell // by placement
	first    int         // its first shape's index in Flat.drawn
}

// Flatten prepares the stream of top. The library must be free of cycles (Library.CheckCycles). It is an error if
// anything lies outside the frame of ±2^30 nm.
func Flatten(top *Cell) (*Flat, error) {
	f := &Flat{cells: map[*Cell]*flatCell{}}
	f.top = f.prepare(top)
	b := f.top.bounds
	if !b.Empty() && !(b.Min.InFrame() && b.Max.InFrame()) {
		return nil, fmt.Errorf("cell %q reaches from (%.3f, %.3f) to (%.3f, %.3f) µm; the frame ends at ±%.3f µm", top.Name,
			um(b.Min.X), um(b.Min.Y), um(b.Max.X), um(b.Max.Y), um(geom.Limit))
	}
	return f, nil
}

func um(nm int) float64 { return float64(nm) / 1000 }

func (f *Flat) prepare(c *Cell) *flatCell {
	if s := f.cells[c]; s != nil {
		return s
	}
	s := &flatCell{cell: c, bounds: geom.EmptyRect(), labels: len(c.Labels), verdicts: len(c.Verdicts), below: make([]*flatCell, len(c.Placements)), first: len(f.drawn)}
	for i := range c.Shapes {
		s.bounds = s.bounds.Union(c.Shapes[i].Polygon.Bounds())
		s.counts[c.Shapes[i].Layer]++
		f.drawn = append(f.drawn, &c.Shapes[i])
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		below := f.prepare(p.Cell)
		s.below[i] = below
		cols, rows := p.Members()
		s.labels += below.labels * cols * rows
		s.verdicts += below.verdicts * cols * rows
		for l := range s.counts {
			s.counts[l] += below.counts[l] * cols * rows
		}
		if below.bounds.Empty() {
			continue
		}
		box := geom.EmptyRect()
		for _, at := range [][2]int{{0, 0}, {cols - 1, 0}, {0, rows - 1}, {cols - 1, rows - 1}} {
			box = box.Union(p.Member(at[0], at[1]).Bounds(below.bounds))
		}
		if !p.Transform.Upright() { // what was rounded here is not rounded where the cell is placed in another
			box.Min, box.Max = box.Min.Add(geom.Point{X: -1, Y: -1}), box.Max.Add(geom.Point{X: 1, Y: 1})
		}
		s.bounds = s.bounds.Union(box)
	}
	for l, n := range s.counts {
		if n > 0 {
			s.layers |= 1 << l
		}
	}
	f.cells[c] = s
	return s
}

// Top returns the cell that was flattened.
func (f *Flat) Top() *Cell { return f.top.cell }

// Bounds returns the box around all shapes, empty where there is none.
func (f *Flat) Bounds() geom.Rect { return f.top.bounds }

// Count returns the number of flattened shapes on a layer.
func (f *Flat) Count(l Layer) int { return f.top.counts[l] }

// Upright reports whether every shape is placed by an upright transform (geom.Transform.Upright).
func (f *Flat) Upright() bool {
	for c := range f.cells {
		for i := range c.Placements {
			if !c.Placements[i].Transform.Upright() {
				return false
			}
		}
	}
	return true
}

// Drawn returns the shapes of all cells that are part of the drawing, each once; Placed.Index counts them.
func (f *Flat) Drawn() []*Shape { return f.drawn }

// Shapes calls yield for every shape in the flattened drawing, always in the same order, until it returns false.
func (f *Flat) Shapes(yield func(s *Shape, t geom.Transform) bool) {
	w := Walk{Layers: ^uint64(0), Yield: func(p *Placed) bool { return yield(p.Shape, p.Transform) }}
	w.Run(f)
}

// Walk goes through the part of the flattened drawing that somebody asks for, in the order of the stream. The time goes
// with the shapes of that part and the placements in the cells that lead to it. Many walks may run at a time.
type Walk struct {
	Layers   uint64               // the layers that are asked for
	Overlaps func(geom.Rect) bool // whether a box may hold what is asked for; nil: everywhere
	Numbered uint64               // layers whose shapes are numbered
	Yield    func(*Placed) bool   // gets each shape, only during the call; the walk ends when it returns false

	numbers [MaxLayers]int
	placed  Placed
}

// Placed is a drawn shape in one of its places.
type Placed struct {
	*Shape
	Index     int // in Flat.Drawn
	Number    int // of a numbered layer: how many shapes of the layer come before it in the whole stream
	Transform geom.Transform
	Turn      geom.Turn // the transform in whole numbers, if Upright
	Upright   bool
}

// Run walks through f.
func (w *Walk) Run(f *Flat) {
	w.numbers = [MaxLayers]int{}
	w.cell(f.top, geom.Identity)
}

func (w *Walk) cell(c *flatCell, t geom.Transform) bool {
	if len(c.cell.Shapes) > 0 {
		p := &w.placed
		p.Transform = t
		p.Turn, p.Upright = t.Turn()
		for i := range c.cell.Shapes {
			s := &c.cell.Shapes[i]
			if w.Layers>>s.Layer&1 == 0 {
				continue
			}
			p.Shape = s
			p.Index, p.Number = c.first+i, w.numbers[p.Layer]
			w.numbers[p.Layer]++
			if !w.Yield(p) {
				return false
			}
		}
	}
	for i, below := range c.below {
		if below.layers&w.Layers == 0 {
			continue
		}
		p := &c.cell.Placements[i]
		cols, rows := p.Members()
		for r := range rows {
			for col := range cols {
				m := p.Member(col, r).Then(t)
				if w.Overlaps != nil && !w.Overlaps(m.Bounds(below.bounds)) {
					w.skip(below)
				} else if !w.cell(below, m) {
					return false
				}
			}
		}
	}
	return true
}

// skip counts the shapes of a cell that the walk does not enter.
func (w *Walk) skip(c *flatCell) {
	for m := w.Numbered & c.layers; m != 0; m &= m - 1 {
		l := bits.TrailingZeros64(m)
		w.numbers[l] += c.counts[l]
	}
}

// Labels calls yield for every label of the flattened drawing with its place. path names the instance that it was
// drawn in, empty for the top cell's own labels.
func (f *Flat) Labels(yield func(l *Label, at geom.Point, path string)) {
	f.top.eachLabel(geom.Identity, "", yield)
}

func (c *flatCell) eachLabel(t geom.Transform, path string, yield func(*Label, geom.Point, string)) {
	for i := range c.cell.Labels {
		yield(&c.cell.Labels[i], t.Apply(c.cell.Labels[i].At), path)
	}
	for i, below := range c.below {
		if below.labels == 0 {
			continue
		}
		p := &c.cell.Placements[i]
		cols, rows := p.Members()
		for r := range rows {
			for col := range cols {
				below.eachLabel(p.Member(col, r).Then(t), JoinPath(path, c.cell.InstanceName(i, col, r)), yield)
			}
		}
	}
}

// Verdicts calls yield for every verdict of the flattened drawing with its place and the instance that its cell is there.
func (f *Flat) Verdicts(yield func(v *Verdict, at geom.Point, in Instance)) {
	f.top.eachVerdict(geom.Identity, "", yield)
}

func (c *flatCell) eachVerdict(t geom.Transform, path string, yield func(*Verdict, geom.Point, Instance)) {
	for i := range c.cell.Verdicts {
		yield(&c.cell.Verdicts[i], t.Apply(c.cell.Verdicts[i].At), Instance{path, c.cell})
	}
	for i, below := range c.below {
		if below.verdicts == 0 {
			continue
		}
		p := &c.cell.Placements[i]
		cols, rows := p.Members()
		for r := range rows {
			for col := range cols {
				below.eachVerdict(p.Member(col, r).Then(t), JoinPath(path, c.cell.InstanceName(i, col, r)), yield)
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
