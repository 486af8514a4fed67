package layout

import (
	"math"

	"undermetal/layout/geom"
)

// Place is a point of a layer.
type Place struct {
	Layer Layer
	At    geom.Point
}

// Instance is a cell in one of its places: its path, empty for the top cell, and the cell.
type Instance struct {
	Path string
	Cell *Cell
}

// PathsAt returns the paths of InstancesAt.
func (f *Flat) PathsAt(places []Place) []string {
	paths := make([]string, len(places))
	for i, at := range f.InstancesAt(places) {
		paths[i] = at.Path
	}
	return paths
}

// InstancesAt returns, for each place, the instance whose own drawing covers it, the top cell where nothing does. Of several
// it is the first in the order of the stream. One walk answers all places: the time goes with the shapes on their layers and
// the number of places.
func (f *Flat) InstancesAt(places []Place) []Instance {
	found := make([]Instance, len(places))
	for i := range found {
		found[i].Cell = f.top.cell
	}
	f.FirstAt(places, func(k int, _ *Shape, _ geom.Transform, in Instance) { found[k] = in })
	return found
}

// FirstAt calls found for each place that something covers, once: with the shape that InstancesAt finds there, where it is placed, and the
// instance that it is drawn in.
func (f *Flat) FirstAt(places []Place, found func(place int, s *Shape, t geom.Transform, in Instance)) {
	done := make([]bool, len(places))
	w := &pathWalk{places: places, open: func(k int32) bool { return !done[k] }}
	w.found = func(k int32, s *Shape, t geom.Transform) {
		done[k] = true
		found(int(k), s, t, w.instance(f))
	}
	w.run(f)
}

// ShapesAt calls found for each shape that covers a place, with the number of the place and where the shape is placed. It
// costs what PathsAt does.
func (f *Flat) ShapesAt(places []Place, found func(place int, s *Shape, t geom.Transform)) {
	w := &pathWalk{places: places, open: func(int32) bool { return true }}
	w.found = func(k int32, s *Shape, t geom.Transform) { found(int(k), s, t) }
	w.run(f)
}

// pathWalk looks for places while it walks through the drawing.
type pathWalk struct {
	places []Place
	open   func(place int32) bool // whether it is still looked for
	found  func(place int32, s *Shape, t geom.Transform)
	layers uint64 // those of the places
	way    []member
	placed geom.Polygon // room for one

	// The places in bins of a grid with about one place a bin: those of bin i are sorted[first[i]:first[i+1]].
	box         geom.Rect
	width, high int // bins in a row, in a column
	first       []int32
	sorted      []int32
}

// member is one member of a placement on the way down.
type member struct {
	of          *Cell
	i, col, row int
	path        string // down to it, once somebody has asked
}

func (w *pathWalk) run(f *Flat) {
	for _, p := range w.places {
		w.layers |= 1 << p.Layer
	}
	w.index()
	w.cell(f.top, geom.Identity)
}

func (w *pathWalk) index() {
	w.box = geom.EmptyRect()
	for _, p := range w.places {
		w.box = w.box.Union(geom.Rect{Min: p.At, Max: p.At})
	}
	w.width = max(int(math.Sqrt(float64(len(w.places)))), 1)
	w.high = w.width
	w.first = make([]int32, w.width*w.high+1)
	bins := make([]int32, len(w.places))
	for i, p := range w.places {
		x, y := w.bin(p.At)
		bins[i] = int32(y*w.width + x)
		w.first[bins[i]+1]++
	}
	for i := range w.first[1:] {
		w.first[i+1] += w.first[i]
	}
	w.sorted = make([]int32, len(w.places))
	next := append([]int32(nil), w.first...)
	for i, b := range bins {
		w.sorted[next[b]] = int32(i)
		next[b]++
	}
}

// bin returns the column and row of the bin that p, or the nearest point of the box to it, lies in.
func (w *pathWalk) bin(p geom.Point) (x, y int) {
	column := func(v, lo, hi, n int) int { return (min(max(v, lo), hi) - lo) * n / (hi - lo + 1) }
	return column(p.X, w.box.Min.X, w.box.Max.X, w.width), column(p.Y, w.box.Min.Y, w.box.Max.Y, w.high)
}

func (w *pathWalk) cell(c *flatCell, t geom.Transform) {
	for i := range c.cell.Shapes {
		if s := &c.cell.Shapes[i]; w.layers>>s.Layer&1 != 0 {
			w.shape(s, t)
		}
	}
	for i, below := range c.below {
		if below.layers&w.layers == 0 {
			continue
		}
		q := &c.cell.Placements[i]
		cols, rows := q.Members()
		for r := range rows {
			for col := range cols {
				m := q.Member(col, r).Then(t)
				if !w.any(m.Bounds(below.bounds)) {
					continue
				}
				w.way = append(w.way, member{of: c.cell, i: i, col: col, row: r})
				w.cell(below, m)
				w.way = w.way[:len(w.way)-1]
			}
		}
	}
}

// any reports whether a place may lie in a box.
func (w *pathWalk) any(b geom.Rect) bool {
	if !b.Overlaps(w.box) {
		return false
	}
	x0, y0 := w.bin(b.Min)
	x1, y1 := w.bin(b.Max)
	for row := y0 * w.width; row <= y1*w.width; row += w.width {
		if w.first[row+x0] < w.first[row+x1+1] {
			return true
		}
	}
	return false
}

// shape finds the places that lie on a shape and are still looked for.
func (w *pathWalk) shape(s *Shape, t geom.Transform) {
	b := t.Bounds(s.Polygon.Bounds())
	if !b.Overlaps(w.box) {
		return
	}
	x0, y0 := w.bin(b.Min)
	x1, y1 := w.bin(b.Max)
	placed := false // whether w.placed is that of s
	for y := y0; y <= y1; y++ {
		for _, k := range w.sorted[w.first[y*w.width+x0]:w.first[y*w.width+x1+1]] {
			p := &w.places[k]
			if p.Layer != s.Layer || !w.open(k) || !b.Contains(p.At) {
				continue
			}
			if !placed {
				w.placed, placed = t.ApplyPolygonIn(w.placed, s.Polygon), true
			}
			if w.placed.Locate(p.At) != geom.Outside {
				w.found(k, s, t)
			}
		}
	}
}

// instance returns the instance that the walk is in.
func (w *pathWalk) instance(f *Flat) Instance {
	in := Instance{"", f.top.cell}
	for i := range w.way {
		m := &w.way[i]
		if m.path == "" {
			m.path = JoinPath(in.Path, m.of.InstanceName(m.i, m.col, m.row))
		}
		in = Instance{m.path, m.of.Placements[m.i].Cell}
	}
	return in
}
