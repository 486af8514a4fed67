package sweep

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
	"sync"

	"undermetal/layout/geom"
)

// Noder snap-rounds slanted edges. A hot pixel is the unit square around a grid point at which an edge ends or two
// edges cross (rounded); every slanted edge is led through the centres of all hot pixels that it passes, in order.
// After that, edges meet at common ends only, and none has moved by more than √2/2 nm. An axis-parallel edge passes
// only pixels whose centres lie on it, so it stays straight and is not cut.
//
// Method: J. D. Hobby, Practical segment intersection with finite precision output, Computational Geometry 13 (1999)
// (from memory). The pixel is half open, closed below and on the left, as rounding halves up demands.
//
// Use: NewNoder, AddUpright for more of the other edges that lie near, Settle, then Chain for each slanted edge, from as
// many goroutines as you like.
//
// Edges are found in the bins of a grid. A bin holds every slanted edge that comes within 1 nm of it, so that the hot
// pixels that an edge passes are all in bins that the edge is in.
type Noder struct {
	slanted, upright []Line
	x0, y0           int // the grid's lower left corner, nm
	shift            int // a bin is a square of side 2^shift nm
	cols, rows       int
	edges            byBin[int32]  // indices of slanted
	occupied         []int32       // in how many bins left of a column and below a row there are slanted edges
	hot              byBin[uint64] // places, each once and sorted, once settled
}

// byBin holds the members of all bins, one bin after the other.
type byBin[T comparable] struct {
	first   []int32 // members[first[b]:first[b+1]] are those of bin b
	members []T
}

func (b *byBin[T]) of(bin int) []T { return b.members[b.first[bin]:b.first[bin+1]] }

// gather sorts members into bins: visit is called twice and must tell of each member with its bin, the same both times.
func gather[T comparable](bins int, visit func(tell func(bin int, member T))) byBin[T] {
	b := byBin[T]{first: make([]int32, bins+1)}
	visit(func(bin int, _ T) { b.first[bin+1]++ })
	for i := range bins {
		b.first[i+1] += b.first[i]
	}
	b.members = make([]T, b.first[bins])
	next := slices.Clone(b.first[:bins])
	visit(func(bin int, m T) {
		b.members[next[bin]] = m
		next[bin]++
	})
	return b
}

// NewNoder takes the slanted edges, which are to be noded, and keeps the list, in which it changes what it likes; and others
// that they may cross.
func NewNoder(slanted, upright []Line) *Noder {
	n := &Noder{slanted: distinct(slanted)}
	extent := 0
	box := geom.EmptyRect()
	for _, l := range n.slanted {
		extent += max(abs(int(l.X1)-int(l.X0)), int(l.Y1)-int(l.Y0))
		box = box.Extend(l.low()).Extend(l.high())
	}
	if len(n.slanted) == 0 {
		return n
	}
	// A bin about as large as a usual edge, and not more than some 16 bins an edge.
	bins := 16*len(n.slanted) + 64
	side := max(extent/len(n.slanted)+1, int(math.Sqrt(float64(box.Width()+2)*float64(box.Height()+2)/float64(bins)))+1,
		max(box.Width(), box.Height())/bins+1, 16)
	n.shift = bits.Len(uint(side)) // a power of 2, so that no point needs a division
	n.x0, n.y0 = box.Min.X-1, box.Min.Y-1
	n.cols, n.rows = (box.Width()+2)>>n.shift+1, (box.Height()+2)>>n.shift+1
	n.edges = gather(n.cols*n.rows, func(tell func(int, int32)) {
		for i, l := range n.slanted {
			n.eachRow(l, func(lo, hi int) {
				for bin := lo; bin < hi; bin++ {
					tell(bin, int32(i))
				}
			})
		}
	})
	n.occupied = make([]int32, (n.cols+1)*(n.rows+1))
	for y := range n.rows {
		for x := range n.cols {
			at := y*(n.cols+1) + x
			sum := n.occupied[at+1] + n.occupied[at+n.cols+1] - n.occupied[at]
			if len(n.edges.of(y*n.cols+x)) > 0 {
				sum++
			}
			n.occupied[at+n.cols+2] = sum
		}
	}
	for _, l := range upright {
		n.AddUpright(l)
	}
	return n
}

// distinct drops, in place, lines that equal one a little before, which is most of those that are there twice: layers
// share edges, and so do cells that abut.
func distinct(lines []Line) []Line {
	const most = 14
	width := min(bits.Len(uint(len(lines))), most)
	last := make([]Line, 1<<width) // the last one of each hash
	kept := lines[:0]
	for _, l := range lines {
		low, high := uint64(uint32(l.X0))<<32|uint64(uint32(l.Y0)), uint64(uint32(l.X1))<<32|uint64(uint32(l.Y1))
		hash := (low*0x9e3779b97f4a7c15 + high) * 0xbf58476d1ce4e5b9 >> (64 - width) // odd numbers whose bits look random
		if last[hash] != l {                                                         // no line is zero: they are slanted
			last[hash] = l
			kept = append(kept, l)
		}
	}
	return kept
}

// Near reports whether a slanted edge may come within 1 nm of a box.
func (n *Noder) Near(r geom.Rect) bool {
	if len(n.slanted) == 0 || r.Empty() {
		return false
	}
	x0, y0 := max(n.column(r.Min.X-1), 0), max(n.row(r.Min.Y-1), 0)
	x1, y1 := min(n.column(r.Max.X+1), n.cols-1)+1, min(n.row(r.Max.Y+1), n.rows-1)+1
	if x0 >= x1 || y0 >= y1 {
		return false
	}
	w := n.cols + 1
	return n.occupied[y1*w+x1]-n.occupied[y0*w+x1]-n.occupied[y1*w+x0]+n.occupied[y0*w+x0] > 0
}

// AddUpright tells of an axis-parallel edge that slanted ones may cross; one that lies near none is left out.
func (n *Noder) AddUpright(l Line) {
	if n.Near(geom.Box(int(l.X0), int(l.Y0), int(l.X1), int(l.Y1))) {
		n.upright = append(n.upright, l)
	}
}

func (n *Noder) column(x int) int { return (x - n.x0) >> n.shift }
func (n *Noder) row(y int) int    { return (y - n.y0) >> n.shift }

// eachRow calls f with the range of bins, in each row of the grid, that l comes within 1 nm of.
func (n *Noder) eachRow(l Line, f func(lo, hi int)) {
	const margin = 1
	a, b := l.low(), l.high()
	left, right := min(a.X, b.X)-margin, max(a.X, b.X)+margin
	x0, x1 := max(n.column(left), 0), min(n.column(right), n.cols-1)
	y0, y1 := max(n.row(a.Y-margin), 0), min(n.row(b.Y+margin), n.rows-1)
	if x0 == x1 || y0 == y1 || a.X == b.X || a.Y == b.Y {
		for ky := y0; ky <= y1; ky++ {
			f(ky*n.cols+x0, ky*n.cols+x1+1)
		}
		return
	}
	slope := float64(b.X-a.X) / float64(b.Y-a.Y)
	for ky := y0; ky <= y1; ky++ { // the part of the edge in this row of bins, from u to v
		lo, hi := max(n.y0+ky<<n.shift-margin-1, a.Y), min(n.y0+(ky+1)<<n.shift+margin+1, b.Y)
		u, v := a.X+int(slope*float64(lo-a.Y)), a.X+int(slope*float64(hi-a.Y)) // off by less than 1 nm
		x0, x1 = n.column(max(left, min(u, v)-margin-1)), n.column(min(right, max(u, v)+margin+1))
		f(ky*n.cols+max(x0, 0), ky*n.cols+min(x1, n.cols-1)+1)
	}
}

// Settle finds all hot pixels, with the given number of goroutines. The edges are forgotten.
func (n *Noder) Settle(workers int) {
	if len(n.slanted) == 0 {
		return
	}
	upright := gather(n.cols*n.rows, func(tell func(int, int32)) {
		for i, l := range n.upright {
			n.eachRow(l, func(lo, hi int) {
				for bin := lo; bin < hi; bin++ {
					if len(n.edges.of(bin)) > 0 {
						tell(bin, int32(i))
					}
				}
			})
		}
	})
	ends := gather(n.cols*n.rows, func(tell func(int, uint64)) {
		for _, lines := range [][]Line{n.slanted, n.upright} {
			for i, l := range lines {
				for _, p := range [2]geom.Point{l.low(), l.high()} {
					if i+1 < len(lines) && (lines[i+1].low() == p || lines[i+1].high() == p) { // most edges end where the next one does
						continue
					}
					if x, y := n.column(p.X), n.row(p.Y); x >= 0 && x < n.cols && y >= 0 && y < n.rows {
						if bin := y*n.cols + x; len(n.edges.of(bin)) > 0 {
							tell(bin, n.place(p))
						}
					}
				}
			}
		}
	})
	n.hot.first = make([]int32, n.cols*n.rows+1)
	found := make([][]uint64, max(workers, 1))
	n.share(workers, func(k, lo, hi int) {
		var near []Line
		hot := make([]uint64, 0, ends.first[hi]-ends.first[lo])
		for bin := lo; bin < hi; bin++ {
			near = near[:0]
			for _, i := range n.edges.of(bin) {
				near = append(near, n.slanted[i])
			}
			slanted := len(near)
			for _, i := range upright.of(bin) {
				near = append(near, n.upright[i])
			}
			from := len(hot)
			hot = n.cross(append(hot, ends.of(bin)...), bin, near, slanted)
			slices.Sort(hot[from:])
			hot = hot[:from+len(slices.Compact(hot[from:]))]
			n.hot.first[bin+1] = int32(len(hot) - from)
		}
		found[k] = hot
	})
	for bin := range n.cols * n.rows {
		n.hot.first[bin+1] += n.hot.first[bin]
	}
	n.hot.members = slices.Concat(found...)
	n.slanted, n.upright, n.edges, n.occupied = nil, nil, byBin[int32]{}, nil
}

// place is the number of a point that is not left of the grid or below it: places are in order of x, then of y.
func (n *Noder) place(p geom.Point) uint64 { return uint64(p.X-n.x0)<<32 | uint64(p.Y-n.y0) }

// point is the inverse of place.
func (n *Noder) point(place uint64) geom.Point {
	return geom.Point{X: n.x0 + int(place>>32), Y: n.y0 + int(uint32(place))}
}

// share divides the bins among goroutines, each of which gets its number and a range.
func (n *Noder) share(workers int, work func(k, lo, hi int)) {
	workers = max(workers, 1)
	bins := n.cols * n.rows
	var wait sync.WaitGroup
	for k := range workers {
		wait.Go(func() { work(k, bins*k/workers, bins*(k+1)/workers) })
	}
	wait.Wait()
}

// cross appends the places of the crossings among the edges near a bin, of which the first are slanted, that are rounded to a
// point in the bin. Of other crossings other bins tell.
func (n *Noder) cross(hot []uint64, bin int, near []Line, slanted int) []uint64 {
	for i, s := range near[:slanted] {
		a, b := s.low(), s.high()
		dx, dy := b.X-a.X, b.Y-a.Y
		for _, t := range near[i+1:] {
			c, d := t.low(), t.high()
			ex, ey := d.X-c.X, d.Y-c.Y
			wx, wy := c.X-a.X, c.Y-a.Y
			// Most pairs end here: cd lies on one side of ab, or ab on one side of cd. See geom.Side: its determinants of one edge
			// differ by that of both directions.
			ofC, ofA, both := dx*wy-dy*wx, ey*wx-ex*wy, dx*ey-dy*ex
			if (ofC^(ofC+both))&(ofA^(ofA-both)) >= 0 { // one branch for both, since either alone is hard to foretell
				continue
			}
			if p, ok := geom.Crossing(a, b, c, d); ok && n.row(p.Y)*n.cols+n.column(p.X) == bin {
				hot = append(hot, n.place(p))
			}
		}
	}
	return hot
}

// Chain appends the points that a slanted edge, one of those given to NewNoder, is led through, from A to B.
//
// The edge is monotone in x and in y, and so are the columns and rows of the pixels on its way. So the places of a row of
// bins are in order along an edge that goes up to the right, and the rows follow each other.
//
// The ends of the edge are grid points, so it cannot reach a pixel whose centre lies outside its box. Inside, the line's
// distance from the centre decides: with D the determinant of the direction (dx, dy) and p - A, it cuts the open square
// where |2D| < |dx| + |dy|; with equality it touches one corner, and only the lower left one, where 2D = dx - dy, belongs to
// the square. D may overflow outside the box only.
func (n *Noder) Chain(chain []geom.Point, s *Seg) []geom.Point {
	from := len(chain)
	l := s.Line() // upwards, so that dy is positive
	dx, dy := int(l.X1)-int(l.X0), int(l.Y1)-int(l.Y0)
	least, most := (1-abs(dx)-dy)/2, (abs(dx)+dy-1)/2 // of D
	if dx < 0 {
		least = (dx - dy) / 2
	}
	width := uint(most - least)
	bottom := int(l.Y0) - n.y0
	corner := dy*(int(l.X0)-n.x0) - dx*bottom - least // D of the grid's corner is the first two terms
	left, right := n.place(geom.Point{X: int(min(l.X0, l.X1)), Y: int(l.Y0)}), n.place(geom.Point{X: int(max(l.X0, l.X1)), Y: int(l.Y1)})
	n.eachRow(l, func(lo, hi int) {
		row := chain
		for _, place := range n.hot.members[n.hot.first[lo]:n.hot.first[hi]] { // in order, as bins of a row are
			if place < left {
				continue
			}
			if place > right {
				break
			}
			x, y := int(place>>32), int(uint32(place))
			if uint(corner+dx*y-dy*x) <= width && uint(y-bottom) <= uint(dy) {
				row = append(row, n.point(place))
			}
		}
		if dx < 0 {
			leftwards(row[len(chain):])
		}
		chain = row
	})
	if s.A != l.low() {
		slices.Reverse(chain[from:])
	}
	return chain
}

// leftwards puts points that are in order of x, then of y, in order of -x, then of y.
func leftwards(ps []geom.Point) {
	slices.Reverse(ps)
	for lo := 0; lo < len(ps); {
		hi := lo + 1
		for hi < len(ps) && ps[hi].X == ps[lo].X {
			hi++
		}
		slices.Reverse(ps[lo:hi])
		lo = hi
	}
}

// AppendNoded appends edges as they are led through hot pixels: themselves where they are not slanted, else their pieces.
func (n *Noder) AppendNoded(noded, segs []Seg) []Seg {
	var buf [32]geom.Point
	chain := buf[:0]
	for i := range segs {
		s := &segs[i]
		if !s.Slanted() {
			noded = append(noded, *s)
			continue
		}
		chain = n.Chain(chain[:0], s)
		for i := range chain[1:] {
			noded = append(noded, Seg{})
			piece := &noded[len(noded)-1] // see appendEdge
			piece.A, piece.B, piece.Tag, piece.Part = chain[i], chain[i+1], s.Tag, s.Part
		}
	}
	return noded
}

func comparePoints(p, q geom.Point) int {
	if p.X != q.X {
		return cmp.Compare(p.X, q.X)
	}
	return cmp.Compare(p.Y, q.Y)
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}
