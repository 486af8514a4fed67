package sweep

import (
	"cmp"
	"math"
	"slices"

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
// Edges are found in square bins that hold every slanted edge within 1 nm of them; a bin of no slanted edge costs
// nothing.
type Noder struct {
	slanted []Seg
	side    int // of a bin, nm
	bins    map[[2]int32]*bin
}

type bin struct {
	slanted []int32 // indices of Noder.slanted
	upright []Seg
	hot     []geom.Point
}

// NewNoder takes the edges that are to be noded; those that are not slanted are left out.
func NewNoder(segs []Seg) *Noder {
	n := &Noder{bins: map[[2]int32]*bin{}}
	extent := 0
	box := geom.EmptyRect()
	for _, s := range segs {
		if s.Slanted() {
			n.slanted = append(n.slanted, s)
			extent += max(abs(s.B.X-s.A.X), abs(s.B.Y-s.A.Y))
			box = box.Extend(s.A).Extend(s.B)
		}
	}
	if len(n.slanted) == 0 {
		return n
	}
	// A bin about as large as a usual edge; never so small that all edges together visit more than a few bins each.
	n.side = max(extent/len(n.slanted)+1, max(box.Width(), box.Height())/4096+1, 16)
	for i, s := range n.slanted {
		n.eachBin(s, 1, func(k [2]int32) {
			b := n.bins[k]
			if b == nil {
				b = &bin{}
				n.bins[k] = b
			}
			b.slanted = append(b.slanted, int32(i))
		})
		n.addHot(s.A)
		n.addHot(s.B)
	}
	return n
}

// AddUpright tells of an axis-parallel edge that slanted ones may cross; slanted edges are left out. It may be called
// for any edge of the drawing: far from slanted ones it returns at once.
func (n *Noder) AddUpright(s Seg) {
	if s.Slanted() || len(n.slanted) == 0 {
		return
	}
	n.eachBin(s, 0, func(k [2]int32) {
		if b := n.bins[k]; b != nil {
			b.upright = append(b.upright, s)
		}
	})
	n.addHot(s.A)
	n.addHot(s.B)
}

func (n *Noder) addHot(p geom.Point) {
	if b := n.bins[n.key(p)]; b != nil {
		b.hot = append(b.hot, p)
	}
}

func (n *Noder) key(p geom.Point) [2]int32 {
	return [2]int32{int32(floorDiv(p.X, n.side)), int32(floorDiv(p.Y, n.side))}
}

// eachBin calls f for every bin that s passes within margin nm.
func (n *Noder) eachBin(s Seg, margin int, f func([2]int32)) {
	a, b := s.A, s.B
	if a.Y > b.Y {
		a, b = b, a
	}
	y0, y1 := floorDiv(a.Y-margin, n.side), floorDiv(b.Y+margin, n.side)
	for ky := y0; ky <= y1; ky++ {
		// The part of the edge in this row of bins, from xl to xh.
		xl, xh := float64(min(a.X, b.X)), float64(max(a.X, b.X))
		if b.Y != a.Y && a.X != b.X {
			slope := float64(b.X-a.X) / float64(b.Y-a.Y)
			lo := max(float64(ky*n.side-margin-1), float64(a.Y))
			hi := min(float64((ky+1)*n.side+margin+1), float64(b.Y))
			u, v := float64(a.X)+slope*(lo-float64(a.Y)), float64(a.X)+slope*(hi-float64(a.Y))
			xl, xh = max(xl, min(u, v)-1), min(xh, max(u, v)+1)
		}
		x0, x1 := floorDiv(int(math.Floor(xl))-margin, n.side), floorDiv(int(math.Ceil(xh))+margin, n.side)
		for kx := x0; kx <= x1; kx++ {
			f([2]int32{int32(kx), int32(ky)})
		}
	}
}

// Node returns, for each slanted edge in the order given to NewNoder, the points that it is led through, from A to B.
func (n *Noder) Node() [][]geom.Point {
	for _, k := range n.keys() {
		n.cross(n.bins[k])
	}
	chains := make([][]geom.Point, len(n.slanted))
	for _, k := range n.keys() {
		b := n.bins[k]
		slices.SortFunc(b.hot, comparePoints)
		b.hot = slices.Compact(b.hot)
		for _, i := range b.slanted {
			s := n.slanted[i]
			for _, p := range b.hot {
				if passes(s, p) {
					chains[i] = append(chains[i], p)
				}
			}
		}
	}
	for i, s := range n.slanted {
		sortAlong(chains[i], s)
	}
	return chains
}

func (n *Noder) keys() [][2]int32 {
	keys := make([][2]int32, 0, len(n.bins))
	for k := range n.bins {
		keys = append(keys, k)
	}
	return keys
}

// cross makes the crossings within a bin hot. The rounded point may lie in a neighbouring bin.
func (n *Noder) cross(b *bin) {
	for i, si := range b.slanted {
		s := n.slanted[si]
		for _, sj := range b.slanted[i+1:] {
			t := n.slanted[sj]
			if p, ok := geom.Crossing(s.A, s.B, t.A, t.B); ok {
				n.addHot(p)
			}
		}
		for _, t := range b.upright {
			if p, ok := geom.Crossing(s.A, s.B, t.A, t.B); ok {
				n.addHot(p)
			}
		}
	}
}

// passes reports whether s goes through the hot pixel of p, exactly. The ends of s are grid points, so it cannot reach
// a pixel whose centre lies outside its box. Inside, the line's distance from the centre decides: with D the
// determinant of the direction (dx, dy) and p - A, it cuts the open square where |2D| < |dx| + |dy|; with equality it
// touches one corner, and only the lower left one belongs to the square.
func passes(s Seg, p geom.Point) bool {
	if p == s.A || p == s.B {
		return true
	}
	if !geom.Box(s.A.X, s.A.Y, s.B.X, s.B.Y).Contains(p) {
		return false
	}
	dx, dy := s.B.X-s.A.X, s.B.Y-s.A.Y
	d := dx*(p.Y-s.A.Y) - dy*(p.X-s.A.X)
	sum := abs(dx) + abs(dy)
	if abs(d) > sum { // also keeps 2d from overflowing
		return false
	}
	return abs(2*d) < sum || abs(2*d) == sum && 2*d == dx-dy
}

// sortAlong puts the pixels that s passes in order and drops repeats. s is monotone in x and in y, and so are the
// columns and rows of the pixels on its way.
func sortAlong(ps []geom.Point, s Seg) {
	sx, sy := 1, 1
	if s.B.X < s.A.X {
		sx = -1
	}
	if s.B.Y < s.A.Y {
		sy = -1
	}
	slices.SortFunc(ps, func(p, q geom.Point) int {
		if p.X != q.X {
			return cmp.Compare(sx*p.X, sx*q.X)
		}
		return cmp.Compare(sy*p.Y, sy*q.Y)
	})
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

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
