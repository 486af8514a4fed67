package svg

import (
	"math/rand/v2"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// filledSides says of each piece whether what lies left of it, seen from A to B, is filled. Pieces meet at common ends only, an
// even number of them in each, and are sorted as oddPieces sorts them.
//
// A sweep from left to right keeps the pieces that are not upright in the order in which they lie above each other. What
// lies above one of them is filled where what lies below it is not, and that is what lies above the one below it; along a
// piece it never changes. What lies left of an upright piece lies above the highest piece that comes in at its lower end
// or below. Time n log n.
func filledSides(pieces []sweep.Seg) []bool {
	s := &sideSweep{pieces: pieces, left: make([]bool, len(pieces)), knots: make([]knot, len(pieces)+1), rnd: rand.New(rand.NewPCG(1, 2))}
	ends := make([]int32, 0, len(pieces))
	for i, p := range pieces {
		if p.A.X != p.B.X {
			ends = append(ends, int32(i))
		}
	}
	slices.SortFunc(ends, func(a, b int32) int { return pieces[a].B.X - pieces[b].B.X })
	for i := 0; i < len(pieces); {
		x := pieces[i].A.X
		for len(ends) > 0 && pieces[ends[0]].B.X < x { // what ends before
			s.remove(ends[0])
			ends = ends[1:]
		}
		from := i
		var begin []int32
		for ; i < len(pieces) && pieces[i].A.X == x; i++ {
			if pieces[i].B.X != x {
				begin = append(begin, int32(i))
			}
		}
		for k := from; k < i; k++ {
			if pieces[k].B.X == x {
				s.left[k] = s.above(s.under(pieces[k].A))
			}
		}
		for len(ends) > 0 && pieces[ends[0]].B.X == x {
			s.remove(ends[0])
			ends = ends[1:]
		}
		slices.SortFunc(begin, s.compare)
		for _, k := range begin { // upwards, so that the one below is always there
			s.insert(k)
		}
	}
	return s.left
}

// sideSweep is the sweep under way. The pieces that cross its line are a treap: a search tree by their order and a heap by
// random numbers, which keeps it about as deep as a balanced one. Knot 0 is none, knot i + 1 is piece i.
type sideSweep struct {
	pieces []sweep.Seg
	left   []bool // of a piece that is not upright: above it
	knots  []knot
	root   int32
	rnd    *rand.Rand
}

type knot struct {
	low, high int32 // those below and above
	heap      uint32
}

// above reports whether what lies above the piece of a knot is filled; below all pieces nothing is.
func (s *sideSweep) above(k int32) bool { return k != 0 && s.left[k-1] }

// compare orders two pieces that are not upright and have an x in common, or that begin at the same one: from below.
func (s *sideSweep) compare(i, j int32) int {
	a, b := s.pieces[i], s.pieces[j]
	if a.A.X > b.A.X {
		return -s.compare(j, i)
	}
	side := geom.Side(a.A, a.B, b.A) // where b begins: above a, if it is positive
	if a.A.X == b.A.X && a.A.Y != b.A.Y {
		side = b.A.Y - a.A.Y
	} else if side == 0 {
		side = geom.Side(a.A, a.B, b.B)
	}
	return -side
}

// under returns the knot of the highest piece that is at p or below it.
func (s *sideSweep) under(p geom.Point) (found int32) {
	for k := s.root; k != 0; {
		if o := s.pieces[k-1]; geom.Side(o.A, o.B, p) >= 0 {
			found, k = k, s.knots[k].high
		} else {
			k = s.knots[k].low
		}
	}
	return found
}

func (s *sideSweep) insert(i int32) {
	low, high := s.split(s.root, i)
	below := low
	for below != 0 && s.knots[below].high != 0 {
		below = s.knots[below].high
	}
	s.left[i] = !s.above(below)
	s.knots[i+1] = knot{heap: s.rnd.Uint32()}
	s.root = s.merge(s.merge(low, i+1), high)
}

func (s *sideSweep) remove(i int32) {
	at := &s.root
	for k := *at; k != 0 && k != i+1; k = *at {
		if s.compare(i, k-1) < 0 {
			at = &s.knots[k].low
		} else {
			at = &s.knots[k].high
		}
	}
	if *at != 0 {
		*at = s.merge(s.knots[*at].low, s.knots[*at].high)
	}
}

// split takes the tree of knot k apart into what lies below piece i and what lies above it.
func (s *sideSweep) split(k, i int32) (low, high int32) {
	if k == 0 {
		return 0, 0
	}
	n := &s.knots[k]
	if s.compare(k-1, i) < 0 {
		n.high, high = s.split(n.high, i)
		return k, high
	}
	low, n.low = s.split(n.low, i)
	return low, k
}

// merge makes one tree of two, the second of which lies above the first.
func (s *sideSweep) merge(low, high int32) int32 {
	switch {
	case low == 0:
		return high
	case high == 0:
		return low
	case s.knots[low].heap > s.knots[high].heap:
		s.knots[low].high = s.merge(s.knots[low].high, high)
		return low
	}
	s.knots[high].low = s.merge(low, s.knots[high].low)
	return high
}
