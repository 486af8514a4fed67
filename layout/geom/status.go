package geom

// status holds the edges that cross a sweep line, from the lowest up, by index. It is a treap (R. Seidel and C. R.
// Aragon, Randomized search trees, Algorithmica 16 (1996), from memory) with a list of neighbours: log n a step on the
// average, for any input, since the priorities do not depend on it.
type status struct {
	below, above        []int32 // neighbours of each edge; -1: none
	left, right, parent []int32 // in the tree; -1: none
	priority            []uint32
	root                int32
}

func newStatus(edges int) *status {
	all := make([]int32, 5*edges)
	for i := range all {
		all[i] = -1
	}
	part := func(k int) []int32 { return all[k*edges : (k+1)*edges] }
	s := &status{part(0), part(1), part(2), part(3), part(4), make([]uint32, edges), -1}
	x := uint32(2463534242) // xorshift32, G. Marsaglia 2003 (from memory)
	for i := range s.priority {
		x ^= x << 13
		x ^= x >> 17
		x ^= x << 5
		s.priority[i] = x
	}
	return s
}

// insert puts in an edge at the place that over leads to: it says of an edge whether the new one lies above it.
func (s *status) insert(e int32, over func(int32) bool) {
	last, low, high := int32(-1), int32(-1), int32(-1)
	upper := false
	for at := s.root; at >= 0; {
		last, upper = at, over(at)
		if upper {
			low, at = at, s.right[at]
		} else {
			high, at = at, s.left[at]
		}
	}
	s.link(e, low, high)
	s.attach(e, last, upper)
}

// insertAbove puts in an edge right above another one.
func (s *status) insertAbove(e, low int32) {
	high := s.above[low]
	s.link(e, low, high)
	if s.right[low] < 0 {
		s.attach(e, low, true)
	} else {
		s.attach(e, high, false) // the lowest of what is right of low has nothing on its left
	}
}

func (s *status) link(e, low, high int32) {
	s.below[e], s.above[e] = low, high
	if low >= 0 {
		s.above[low] = e
	}
	if high >= 0 {
		s.below[high] = e
	}
}

// attach makes e a leaf and turns it up to where its priority belongs.
func (s *status) attach(e, parent int32, right bool) {
	s.left[e], s.right[e], s.parent[e] = -1, -1, parent
	switch {
	case parent < 0:
		s.root = e
	case right:
		s.right[parent] = e
	default:
		s.left[parent] = e
	}
	for p := s.parent[e]; p >= 0 && s.priority[p] < s.priority[e]; p = s.parent[e] {
		s.turnUp(e)
	}
}

// turnUp puts a node above its parent.
func (s *status) turnUp(e int32) {
	p := s.parent[e]
	if s.left[p] == e {
		s.left[p] = s.right[e]
		if s.left[p] >= 0 {
			s.parent[s.left[p]] = p
		}
		s.right[e] = p
	} else {
		s.right[p] = s.left[e]
		if s.right[p] >= 0 {
			s.parent[s.right[p]] = p
		}
		s.left[e] = p
	}
	s.swapChild(s.parent[p], p, e)
	s.parent[p] = e
}

// swapChild puts e in the place of p below g, or at the root.
func (s *status) swapChild(g, p, e int32) {
	switch {
	case g < 0:
		s.root = e
	case s.left[g] == p:
		s.left[g] = e
	default:
		s.right[g] = e
	}
	if e >= 0 {
		s.parent[e] = g
	}
}

// remove takes out an edge.
func (s *status) remove(e int32) {
	for s.left[e] >= 0 && s.right[e] >= 0 {
		if s.priority[s.left[e]] > s.priority[s.right[e]] {
			s.turnUp(s.left[e])
		} else {
			s.turnUp(s.right[e])
		}
	}
	s.swapChild(s.parent[e], e, max(s.left[e], s.right[e])) // the one that there is
	low, high := s.below[e], s.above[e]
	if low >= 0 {
		s.above[low] = high
	}
	if high >= 0 {
		s.below[high] = low
	}
}

// replace puts f in the place of e.
func (s *status) replace(e, f int32) {
	s.link(f, s.below[e], s.above[e])
	s.left[f], s.right[f], s.priority[f] = s.left[e], s.right[e], s.priority[e]
	s.swapChild(s.parent[e], e, f)
	for _, c := range [2]int32{s.left[f], s.right[f]} {
		if c >= 0 {
			s.parent[c] = f
		}
	}
}
