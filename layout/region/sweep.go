package region

import (
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// input is what goes into a sweep: polygons on two layers, each with a number from 1 or 0.
type input struct {
	segs  []sweep.Seg
	layer []uint8 // of each of segs
}

func (in *input) add(pg geom.Polygon, layer uint8, tag int) {
	from := len(in.segs)
	in.segs = sweep.AppendOutline(in.segs, pg)
	for i := from; i < len(in.segs); i++ {
		in.segs[i].Tag = uint32(tag)
		in.layer = append(in.layer, layer)
	}
}

// edges returns the edges as the sweep wants them, led through hot pixels, in the memory of others.
func (in *input) edges(edges []sweep.Edge) (_ []sweep.Edge, x0, x1 int) {
	noder := sweep.NewNoder(sweep.AppendLines(nil, nil, in.segs))
	noder.Settle(1)
	box := geom.EmptyRect()
	var pieces []sweep.Seg
	for i := range in.segs {
		pieces = noder.AppendNoded(pieces[:0], in.segs[i:i+1])
		for _, p := range pieces {
			box = box.Extend(p.A).Extend(p.B)
			if p.A.Y == p.B.Y {
				continue
			}
			e := sweep.Edge{Line: p.Line(), Tag: p.Tag, Layer: in.layer[i], Winding: 1}
			if p.A.Y < p.B.Y { // covered on the left of the way up
				e.Winding = -1
			}
			edges = append(edges, e)
		}
	}
	return edges, box.Min.X - 1, box.Max.X + 1
}

// border is a directed edge with a piece on its left.
type border struct {
	sweep.Seg
	piece int32 // a node of the finder
}

// finder is the sink that collects, for one choice of masks, the borders of what is chosen, and joins intervals that
// share an edge. An interval is a node of a union-find while it is open.
type finder struct {
	sweep.Nop
	chosen  func(mask uint64) bool
	borders []border
	seen    map[sweep.Line]bool // slanted borders, which are told in parts
	node    []int32             // by slot
	parent  []int32             // by node
	sources []source
}

// source says that a polygon begins at a node.
type source struct {
	node int32
	tag  int
}

func newFinder(chosen func(mask uint64) bool) *finder {
	return &finder{chosen: chosen, seen: map[sweep.Line]bool{}}
}

// reset makes a finder as it was when it was new, but for its memory.
func (f *finder) reset() {
	f.borders, f.node, f.parent, f.sources = f.borders[:0], f.node[:0], f.parent[:0], f.sources[:0]
	if len(f.seen) > 0 { // not cleared: that takes as long as it once was large
		f.seen = map[sweep.Line]bool{}
	}
}

func (f *finder) find(n int32) int32 {
	for f.parent[n] != n {
		f.parent[n] = f.parent[f.parent[n]]
		n = f.parent[n]
	}
	return n
}

func (f *finder) join(a, b *sweep.Interval) {
	m, n := f.find(f.node[a.Slot]), f.find(f.node[b.Slot])
	f.parent[max(m, n)] = min(m, n)
}

func (f *finder) Open(iv *sweep.Interval) {
	for int(iv.Slot) >= len(f.node) {
		f.node = append(f.node, 0)
	}
	f.node[iv.Slot] = int32(len(f.parent))
	f.parent = append(f.parent, int32(len(f.parent)))
}

func (f *finder) Tagged(iv *sweep.Interval, e *sweep.Edge) {
	if f.chosen(iv.Mask) {
		f.sources = append(f.sources, source{f.node[iv.Slot], int(e.Tag)})
	}
}

func (f *finder) Beside(l, r *sweep.Interval, y0, y1 int) {
	left, right := f.chosen(l.Mask), f.chosen(r.Mask)
	if left && right {
		f.join(l, r)
	}
	if left == right {
		return
	}
	line := l.R
	if line.Vertical() {
		line.Y0, line.Y1 = int32(y0), int32(y1)
	} else if f.seen[line] { // the same on all its way: where that changes it would have been cut
		return
	} else {
		f.seen[line] = true
	}
	lo, hi := geom.Point{X: int(line.X0), Y: int(line.Y0)}, geom.Point{X: int(line.X1), Y: int(line.Y1)}
	if left {
		f.borders = append(f.borders, border{sweep.Seg{A: lo, B: hi}, f.node[l.Slot]})
	} else {
		f.borders = append(f.borders, border{sweep.Seg{A: hi, B: lo}, f.node[r.Slot]})
	}
}

func (f *finder) Above(lo, hi *sweep.Interval, y int, x0, x1 float64) {
	below, above := f.chosen(lo.Mask), f.chosen(hi.Mask)
	if below && above {
		f.join(lo, hi)
	}
	if below == above {
		return
	}
	a, b := geom.Point{X: int(x0), Y: y}, geom.Point{X: int(x1), Y: y} // a horizontal border ends on the grid
	if above {
		f.borders = append(f.borders, border{sweep.Seg{A: a, B: b}, f.node[hi.Slot]})
	} else {
		f.borders = append(f.borders, border{sweep.Seg{A: b, B: a}, f.node[lo.Slot]})
	}
}

// both lets two finders hear of one sweep.
type both [2]*finder

func (t both) Open(iv *sweep.Interval) { t[0].Open(iv); t[1].Open(iv) }
func (t both) Beside(l, r *sweep.Interval, y0, y1 int) {
	t[0].Beside(l, r, y0, y1)
	t[1].Beside(l, r, y0, y1)
}
func (t both) Close(*sweep.Interval, int)               {}
func (t both) Found(*sweep.Interval, int32)             {}
func (t both) Tagged(iv *sweep.Interval, e *sweep.Edge) { t[0].Tagged(iv, e); t[1].Tagged(iv, e) }
func (t both) Above(lo, hi *sweep.Interval, y int, x0, x1 float64) {
	t[0].Above(lo, hi, y, x0, x1)
	t[1].Above(lo, hi, y, x0, x1)
}

// run sweeps once and returns the pieces of two choices, all valid.
func (in *input) run(one, two func(mask uint64) bool) (first, second []Piece) {
	edges, x0, x1 := in.edges(nil)
	f := both{newFinder(one), newFinder(two)}
	sweep.Sweep(sweep.Strip{X0: x0, X1: x1, Edges: edges}, f)
	return f[0].pieces(), f[1].pieces()
}

// single sweeps for one choice of masks, again and again.
type single struct {
	sweeper sweep.Sweeper
	finder  *finder
	in      input
	edges   []sweep.Edge
}

// reset makes room for other polygons.
func (s *single) reset() {
	s.finder.reset()
	s.in.segs, s.in.layer = s.in.segs[:0], s.in.layer[:0]
}

// pieces sweeps, and returns the pieces of the choice.
func (s *single) pieces() []Piece {
	edges, x0, x1 := s.in.edges(s.edges[:0])
	s.edges = edges
	s.sweeper.Sweep(sweep.Strip{X0: x0, X1: x1, Edges: edges}, s.finder)
	return s.finder.pieces()
}
