package check

import (
	"math"
	"math/bits"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// piece is a connected part of a region.
type piece struct {
	kind      uint8 // the region, a bit of the sweep
	layer     layout.Layer
	net       int     // from netlist/extract, 0: none
	area      float64 // nm²
	perimeter float64 // nm
	seen      uint64  // what tracer.note says of its parts, together
	within    geom.Point
	crossing  bool    // gate over diffusion
	rank      float64 // of the trapezoid that within lies in: the larger, the better
	box       geom.Rect
}

// place is where a piece is told: the middle of a rectangle, which does not depend on strips, else some point within.
func (p *piece) place() geom.Point {
	if p.area == float64(p.box.Width())*float64(p.box.Height()) {
		return middle(p.box)
	}
	return p.within
}

// border is a directed edge with a piece on its left; what lies right of it is no part of the region.
type border struct {
	a, b  geom.Point
	piece int32
	part  int32  // of diffusion: its source or drain there; of a crossing: that beyond; -1: none; of others: piece
	out   uint64 // the regions right of it
}

// way returns the direction of a border, and out the direction that leads away from its piece.
func (b *border) way() geom.Point { return b.b.Sub(b.a) }
func (b *border) outward() geom.Point {
	w := b.way()
	return geom.Point{X: w.Y, Y: -w.X}
}

// tracer is the sink that makes pieces of intervals, and collects their borders. Regions are bits, derived from masks.
type tracer struct {
	sweep.Nop
	derive  func(mask uint64) uint64
	kept    uint64               // regions whose borders are collected
	partOf  func(region int) int // the region that tells parts of a region apart, at the inner side of a border; -1: itself
	beyond  [64]uint64           // by region: those of which border.part is told at the outer side instead
	state   []span
	parent  []int32
	pieces  []piece // by node
	borders []border
	seen    map[sweep.Line]bool      // slanted borders, which are told in parts
	note    func(mask uint64) uint64 // what is to be kept in piece.seen; nil: nothing
	known   map[uint64][2]uint64     // by mask: regions, note

	clip        sweep.Clip // the strip at hand
	left, right []rim
}

// span is what is known of an open interval.
type span struct {
	regions, note uint64
	nodes         [64]int32
}

func (t *tracer) find(n int32) int32 {
	for t.parent[n] != n {
		t.parent[n] = t.parent[t.parent[n]]
		n = t.parent[n]
	}
	return n
}

func (t *tracer) Open(iv *sweep.Interval) {
	for int(iv.Slot) >= len(t.state) {
		t.state = append(t.state, span{})
	}
	s := &t.state[iv.Slot]
	r, ok := t.known[iv.Mask]
	if !ok {
		r[0] = t.derive(iv.Mask)
		if t.note != nil {
			r[1] = t.note(iv.Mask)
		}
		t.known[iv.Mask] = r
	}
	s.regions, s.note = r[0], r[1]
	for m := s.regions; m != 0; m &= m - 1 {
		k := bits.TrailingZeros64(m)
		s.nodes[k] = int32(len(t.parent))
		t.parent = append(t.parent, s.nodes[k])
		t.pieces = append(t.pieces, piece{kind: uint8(k), box: geom.EmptyRect()})
	}
}

// meet joins what two intervals have in common, and collects the border of what they have not.
func (t *tracer) meet(a, b *span) {
	for m := a.regions & b.regions; m != 0; m &= m - 1 {
		k := bits.TrailingZeros64(m)
		x, y := t.find(a.nodes[k]), t.find(b.nodes[k])
		t.parent[max(x, y)] = min(x, y)
	}
}

// edge collects the border from p to q of what in has and out has not, in lying left of it.
func (t *tracer) edge(in, out *span, p, q geom.Point) {
	for m := in.regions &^ out.regions & t.kept; m != 0; m &= m - 1 {
		k := bits.TrailingZeros64(m)
		b := border{p, q, in.nodes[k], in.nodes[k], out.regions}
		if part := t.partOf(k); part >= 0 {
			b.part = -1
			if in.regions>>part&1 != 0 {
				b.part = in.nodes[part]
			}
		}
		if m := t.beyond[k]; m != 0 {
			b.part = -1
			if m &= out.regions; m != 0 {
				b.part = out.nodes[bits.TrailingZeros64(m)]
			}
		}
		t.borders = append(t.borders, b)
	}
}

func (t *tracer) Beside(l, r *sweep.Interval, y0, y1 int) {
	if !t.clip.Holds(l.R) {
		if _, _, _, _, ok := t.clip.Span(l.R, y0, y1); !ok { // another strip's
			return
		}
	}
	a, b := &t.state[l.Slot], &t.state[r.Slot]
	t.meet(a, b)
	if (a.regions^b.regions)&t.kept == 0 {
		return
	}
	line := l.R
	if line.Vertical() {
		line.Y0, line.Y1 = int32(y0), int32(y1)
	} else if t.seen[line] { // the same on all its way: where that changes it would have been cut
		return
	} else {
		t.seen[line] = true
	}
	lo, hi := geom.Point{X: int(line.X0), Y: int(line.Y0)}, geom.Point{X: int(line.X1), Y: int(line.Y1)}
	t.edge(a, b, lo, hi)
	t.edge(b, a, hi, lo)
}

func (t *tracer) Above(lo, hi *sweep.Interval, y int, x0, x1 float64) {
	a, b := &t.state[lo.Slot], &t.state[hi.Slot]
	t.meet(a, b)
	if (a.regions^b.regions)&t.kept == 0 {
		return
	}
	p, q := geom.Point{X: int(x0), Y: y}, geom.Point{X: int(x1), Y: y} // a horizontal border ends on the grid
	t.edge(b, a, p, q)
	t.edge(a, b, q, p)
}

func (t *tracer) Close(iv *sweep.Interval, y int) {
	s := &t.state[iv.Slot]
	if s.regions == 0 {
		return
	}
	y0 := int(iv.Y0)
	t.touching(iv, s, y)
	area := t.clip.Area(iv.L, iv.R, y0, y)
	if area <= 0 { // wholly in another strip
		return
	}
	at := func(l sweep.Line, y int) float64 { return min(max(l.At(y), t.clip.X0), t.clip.X1) }
	half := (y0 + y) / 2
	middle := geom.Point{X: int(math.Round((at(iv.L, half) + at(iv.R, half)) / 2)), Y: half}
	rank := area
	if at(iv.R, half)-at(iv.L, half) < 2 || y-y0 < 2 {
		rank /= 1e12 // middle may lie on the border, where another region could answer for it
	}
	box := geom.Box(int(min(at(iv.L, y0), at(iv.L, y))), y0, int(max(at(iv.R, y0), at(iv.R, y))), y)
	for m := s.regions; m != 0; m &= m - 1 {
		p := &t.pieces[s.nodes[bits.TrailingZeros64(m)]]
		p.area += area
		p.box = p.box.Union(box)
		p.seen |= s.note
		if rank > p.rank {
			p.rank, p.within = rank, middle
		}
	}
}

// run sweeps the strips, one after the other, and returns the pieces, numbered anew, and the borders that were collected, with
// those that continue each other on one line made one.
func (t *tracer) run(strips []sweep.Strip) ([]piece, []border) {
	t.seen, t.known = map[sweep.Line]bool{}, map[uint64][2]uint64{}
	var before []rim
	var s sweep.Sweeper
	for i := range strips {
		t.clip = sweep.Clip{X0: float64(strips[i].X0), X1: float64(strips[i].X1)}
		t.left, t.right = t.left[:0], nil
		s.Sweep(strips[i], t)
		t.stitch(before, t.left, strips[i].X0)
		before = t.right
		strips[i].Edges = nil
	}
	sum := t.pieces
	for n := range t.parent {
		if r := t.find(int32(n)); int(r) != n { // a root is the smallest number of its tree
			sum[r].gather(&sum[n])
		}
	}
	number := make([]int32, len(t.parent))
	var pieces []piece
	for n := range t.parent {
		switch r := t.parent[n]; {
		case int(t.find(r)) != n:
			number[n] = number[t.find(r)]
		case sum[n].area > 0:
			number[n] = int32(len(pieces))
			pieces = append(pieces, sum[n])
		default: // beyond the border of a strip
			number[n] = -1
		}
	}
	borders := slices.DeleteFunc(t.borders, func(b border) bool { return number[b.piece] < 0 })
	for i := range borders {
		b := &borders[i]
		b.piece = number[b.piece]
		if b.part >= 0 {
			b.part = number[b.part]
		}
	}
	return pieces, mergeBorders(borders)
}

// gather adds what is known of another part of the same piece.
func (p *piece) gather(q *piece) {
	p.area += q.area
	p.box = p.box.Union(q.box)
	p.seen |= q.seen
	if q.rank > p.rank {
		p.rank, p.within = q.rank, q.within
	}
}
