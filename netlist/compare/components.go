package compare

import (
	"slices"

	"undermetal/netlist"
)

// component is a set of open vertices of one circuit that hang together, with the cells they lie in.
type component struct {
	vertices []int32
	cells    uint64 // the multiset of their cells, hashed
}

// solve maps the open vertices va of A to vb of B. The partition must be equitable, and va and vb whole components of
// its open vertices. It leaves single pairs and returns true, or returns false: then no mapping exists, or s.err is set.
//
// What is settled separates components from each other, so each is mapped by itself: a wrong choice in one does not
// make others be tried again. Mapping is an equivalence, so that the first partner that fits a component can be kept;
// only with sizes that agree by chance of tolerance partners may have to be exchanged.
func (s *search) solve(va, vb []int32) bool {
	as, bs := s.components(va), s.components(vb)
	if len(as) != len(bs) {
		return false
	}
	byCells := func(x, y component) int {
		switch {
		case x.cells < y.cells:
			return -1
		case x.cells > y.cells:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(as, byCells)
	slices.SortStableFunc(bs, byCells)
	for i := range as {
		if as[i].cells != bs[i].cells {
			return false
		}
	}
	for from, i := 0, 0; i < len(as); i++ {
		if i+1 == len(as) || as[i+1].cells != as[i].cells {
			if !s.solveAlike(as[from:i+1], bs[from:i+1]) {
				return false
			}
			from = i + 1
		}
	}
	return true
}

// solveAlike maps components that lie in the same cells.
func (s *search) solveAlike(as, bs []component) bool {
	if len(as) == 1 {
		return s.solvePair(as[0], bs[0], true)
	}
	state := s.t.state()
	free := slices.Clone(bs)
	for _, a := range as {
		i := slices.IndexFunc(free, func(b component) bool { return s.solvePair(a, b, false) })
		if i < 0 || s.err != nil {
			s.t.undo(state)
			return s.err == nil && s.sizes && !s.equalSizes(slices.Concat(as, bs)) && s.solveByExchange(as, bs)
		}
		free = slices.Delete(free, i, i+1)
	}
	return true
}

// equalSizes reports whether all elements of one cell in cs are single devices of the very same size.
func (s *search) equalSizes(cs []component) bool {
	first := map[int32]*netlist.Device{}
	for _, c := range cs {
		for _, v := range c.vertices {
			if !s.g.isElem(v) {
				continue
			}
			side := s.p.side[s.g.sideOf(v)]
			bundles := side.bundles(s.g.elem(v))
			devs := side.devices(bundles[0])
			d, cell := &side.c.Devices[devs[0]], s.t.cell[v]
			if first[cell] == nil {
				first[cell] = d
			}
			f := first[cell]
			if len(bundles) > 1 || len(devs) > 1 || d.W != f.W || d.Ratio != f.Ratio || d.L != f.L || d.Area != f.Area || d.Perim != f.Perim ||
				bitsOf(d.Value) != bitsOf(f.Value) {
				return false
			}
		}
	}
	return true
}

// solveByExchange finds partners for all of as by augmenting paths, since which ones agree is no equivalence.
func (s *search) solveByExchange(as, bs []component) bool {
	state := s.t.state()
	fits := make([][]bool, len(as))
	for i := range as {
		fits[i] = make([]bool, len(bs))
		for j := range bs {
			fits[i][j] = s.solvePair(as[i], bs[j], false)
			s.t.undo(state)
			if s.err != nil {
				return false
			}
		}
	}
	partner := assign(fits)
	for j, i := range partner {
		if i < 0 || !s.solvePair(as[i], bs[j], false) {
			s.t.undo(state)
			return false
		}
	}
	return true
}

// assign returns for every column the row that it is matched to, -1 for none, with as many as possible matched.
func assign(fits [][]bool) []int {
	partner := make([]int, len(fits))
	for j := range partner {
		partner[j] = -1
	}
	var seen []bool
	var augment func(i int) bool
	augment = func(i int) bool {
		for j := range partner {
			if fits[i][j] && !seen[j] {
				seen[j] = true
				if partner[j] < 0 || augment(partner[j]) {
					partner[j] = i
					return true
				}
			}
		}
		return false
	}
	for i := range fits {
		seen = make([]bool, len(partner))
		augment(i)
	}
	return partner
}

// solvePair maps component a to component b; only says that there are no others in their cells.
func (s *search) solvePair(a, b component, only bool) bool {
	t := s.t
	before := t.state()
	if !only && !s.setApart(a, b) {
		t.undo(before)
		return false
	}
	open := s.stillOpen(a.vertices)
	if len(open) == 0 {
		return true
	}
	c := t.cell[open[0]]
	for _, v := range open {
		if d := t.cell[v]; t.size[0][d] < t.size[0][c] {
			c = d
		}
	}
	state, first := t.state(), t.members(0, c)[0]
	for _, v := range slices.Clone(t.members(1, c)) {
		if s.pairAgrees(first, v) && s.try(first, v) {
			if s.solve(s.stillOpen(a.vertices), s.stillOpen(b.vertices)) {
				return true
			}
			t.undo(state)
		}
		if s.err != nil {
			break
		}
	}
	t.undo(before)
	return false
}

// setApart gives the vertices of two components cells of their own. That tells nothing new about others: no edge leads
// from them to open vertices elsewhere, and settled ones see all vertices of a cell alike.
func (s *search) setApart(a, b component) bool {
	s.t.fresh = s.t.fresh[:0]
	ok := s.t.splitBy(slices.Concat(a.vertices, b.vertices), func(int32) uint64 { return 1 })
	s.t.dropQueue(0)
	return ok && s.freshAgree()
}

// stillOpen returns those of vs that are in no single pair.
func (s *search) stillOpen(vs []int32) (open []int32) {
	for _, v := range vs {
		if !s.t.single(s.t.cell[v]) {
			open = append(open, v)
		}
	}
	return open
}

// components divides open vertices of one circuit.
func (s *search) components(vs []int32) (cs []component) {
	if s.seen == nil {
		s.seen = make([]bool, s.g.end[1])
	}
	for _, v := range vs {
		if s.seen[v] {
			continue
		}
		s.seen[v] = true
		c := component{vertices: []int32{v}}
		for i := 0; i < len(c.vertices); i++ {
			u := c.vertices[i]
			c.cells += mix(uint64(s.t.cell[u]))
			for _, w := range s.g.to[s.g.start[u]:s.g.start[u+1]] {
				if !s.seen[w] && !s.t.single(s.t.cell[w]) {
					s.seen[w] = true
					c.vertices = append(c.vertices, w)
				}
			}
			s.t.work += s.g.degree(u)
		}
		cs = append(cs, c)
	}
	for _, v := range vs {
		s.seen[v] = false
	}
	return cs
}

// tryAll is the complete search, one choice after the other, for mappings under which wells must hold as well: these
// tie components together, so that solve cannot take them one by one.
func (s *search) tryAll() bool {
	t := s.t
	c := t.smallest()
	if c < 0 {
		return true
	}
	state, a := t.state(), t.members(0, c)[0]
	for _, b := range slices.Clone(t.members(1, c)) {
		if s.pairAgrees(a, b) && s.try(a, b) {
			if s.wellsHold() && s.tryAll() {
				return true
			}
			t.undo(state)
		}
		if s.err != nil {
			return false
		}
	}
	return false
}
