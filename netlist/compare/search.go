package compare

import (
	"context"

	"undermetal/netlist"
)

// matching maps vertices of either circuit to the other; -1: no partner.
type matching []int32

func newMatching(g *graph) matching {
	m := make(matching, g.end[1])
	for v := range m {
		m[v] = -1
	}
	return m
}

// outcome of decide.
type outcome struct {
	match matching // nil: no mapping exists, sizes and wells left aside
	same  bool     // sizes and wells hold too
}

// search looks for a mapping by individualisation and refinement.
type search struct {
	ctx context.Context
	p   *pair
	g   *graph
	t   *partition

	sizes bool        // sizes must agree
	bulks bool        // loose terminals on named or otherwise used nets must agree
	keys  [2][]uint64 // of the sizes of elements, see sizeKeys
	limit int         // of partition.work
	seen  []bool      // scratch of components
	err   error       // cancelled or undecided; ends the search
}

// workPerEdge and workAtLeast bound a search: it may follow each edge so many times, and so many edges in any case. A
// first descent takes about 2 log n; all 10⁸ take some seconds.
const workPerEdge = 100

var workAtLeast = 100_000_000 // a variable for tests

// decide looks for a mapping of all devices and nets, first one under which sizes and wells hold, then any.
func decide(ctx context.Context, p *pair, g *graph) (outcome, error) {
	t := newPartition(p, g)
	s := &search{ctx: ctx, p: p, g: g, t: t, limit: workAtLeast + workPerEdge*len(g.to)}
	if !t.balanced() || !s.refine() {
		return outcome{}, s.err
	}
	t.trackOpen()
	s.keys = p.sizeKeys()
	start := t.state()
	s.sizes = true
	t.fresh = t.fresh[:0]
	if t.splitBy(s.elements(), s.sizeKey) && s.refine() && s.allAgree() {
		found, err := s.find()
		if err != nil || found.match != nil {
			return found, err
		}
	}
	if s.err != nil {
		return outcome{}, s.err
	}
	s.sizes = false
	t.dropQueue(0)
	t.undo(start)
	s.preferSizes()
	found, err := s.find()
	found.same = false
	return found, err
}

// find completes a partition that is equitable and balanced to a mapping.
func (s *search) find() (outcome, error) {
	t := s.t
	start := t.state()
	s.bulks = true
	if s.descend() && s.wellsHold() {
		return outcome{s.matching(), true}, nil
	}
	forced := t.state() == start && t.smallest() < 0
	s.bulks = false
	t.undo(start)
	// The quick descent may have failed for its choices; now by components, which is slower and complete.
	if s.err != nil || !forced && !s.solve(s.openOf(0), s.openOf(1)) {
		t.undo(start)
		return outcome{}, s.err
	}
	m := s.matching()
	if s.wellsHold() || s.err != nil {
		return outcome{m, true}, s.err
	}
	t.undo(start)
	if forced || s.wellsCannotHold() {
		return outcome{m, false}, nil
	}
	s.bulks = true
	if s.tryAll() {
		return outcome{s.matching(), true}, nil
	}
	t.undo(start)
	return outcome{m, false}, s.err
}

// wellsHold judges the wells of all single pairs.
func (s *search) wellsHold() bool {
	s.t.work += len(s.g.to)
	r := s.p.judgeWells(s.g, s.matching(), func(a, b netlist.Net) bool {
		v, w := s.g.vertex[0][a], s.g.vertex[1][b]
		return v >= 0 && w >= 0 && s.t.cell[v] == s.t.cell[w]
	})
	if r.gaveUp {
		s.err = ErrUndecided
	}
	return r.hold()
}

// refine refines the partition; false: not balanced, or s.err is set.
func (s *search) refine() bool {
	ok, err := s.t.refine(s.ctx)
	if err != nil {
		s.err = err
	}
	if s.t.work > s.limit && s.err == nil {
		s.err = ErrUndecided
	}
	return ok && s.err == nil
}

// try gives a and b a cell of their own and refines; it undoes both if that leads nowhere.
func (s *search) try(a, b int32) bool {
	t := s.t
	state := t.state()
	t.fresh = t.fresh[:0]
	t.individualise(a, b)
	if s.refine() && s.freshAgree() {
		return true
	}
	t.dropQueue(0)
	t.undo(state)
	return false
}

// descend takes the smallest open cell and the first pair that refinement does not object to, until none is open.
// Pairs of nets, then of devices, with equal names come first.
func (s *search) descend() bool {
	s.tryNames()
	for s.err == nil {
		c := s.t.smallest()
		if c < 0 {
			return true
		}
		a := s.t.members(0, c)[0]
		tried := false
		for i := 0; i < maxTries && i < int(s.t.size[1][c]) && !tried && s.err == nil; i++ {
			b := s.t.members(1, c)[i]
			tried = s.pairAgrees(a, b) && s.try(a, b)
		}
		if !tried {
			return false
		}
	}
	return false
}

// maxTries bounds the partners that the quick descent tries for one vertex, and the names that lead nowhere.
const maxTries = 32

// tryNames individualises open pairs of one name, as long as refinement does not object.
func (s *search) tryNames() {
	for _, elems := range []bool{false, true} {
		names := s.openNames(elems)
		failed := 0
		for _, a := range s.openOf(0) {
			if s.g.isElem(a) != elems || failed > maxTries || s.err != nil {
				continue
			}
			name := s.p.name(s.g, a)
			b, ok := names[name]
			if name == "" || !ok || b < 0 || s.t.cell[a] != s.t.cell[b] || s.t.single(s.t.cell[a]) {
				continue
			}
			if !s.pairAgrees(a, b) || !s.try(a, b) {
				failed++
			}
		}
	}
}

// openNames returns the open nets, or elements, of B by name; -1 where a name is taken twice.
func (s *search) openNames(elems bool) map[string]int32 {
	names := map[string]int32{}
	for _, b := range s.openOf(1) {
		if s.g.isElem(b) != elems {
			continue
		}
		name := s.p.name(s.g, b)
		if _, ok := names[name]; ok {
			b = -1
		}
		names[name] = b
	}
	return names
}

// name returns the name of a net or of the first device of an element.
func (p *pair) name(g *graph, v int32) string {
	s := p.side[g.sideOf(v)]
	if g.isElem(v) {
		return s.c.Devices[s.bundleFirst(s.bundles(g.elem(v))[0])].Name
	}
	return s.c.Nets[g.netOf(v)].Name
}

// openOf returns the vertices of one circuit that are in no single pair.
func (s *search) openOf(side int) (open []int32) {
	for v := s.g.elems[side]; v < s.g.end[side]; v++ {
		if !s.t.single(s.t.cell[v]) {
			open = append(open, v)
		}
	}
	return open
}

// elements returns all vertices that are elements.
func (s *search) elements() (vs []int32) {
	for side := range 2 {
		for v := s.g.elems[side]; v < s.g.nets[side]; v++ {
			vs = append(vs, v)
		}
	}
	return vs
}

func (s *search) sizeKey(v int32) uint64 { return s.keys[s.g.sideOf(v)][s.g.elem(v)] }

// preferSizes splits open cells by sizes where that works out.
func (s *search) preferSizes() {
	t := s.t
	for c := int32(0); c < int32(len(t.parent)) && s.err == nil; c++ {
		if t.single(c) || t.size[0][c] == 0 || !s.g.isElem(t.members(0, c)[0]) {
			continue
		}
		excess := map[uint64]int{}
		for side := range 2 {
			for _, v := range t.members(side, c) {
				excess[s.sizeKey(v)] += 1 - 2*side
			}
		}
		var even []int32
		for side := range 2 {
			for _, v := range t.members(side, c) {
				if excess[s.sizeKey(v)] == 0 {
					even = append(even, v)
				}
			}
		}
		state := t.state()
		if !t.splitBy(even, s.sizeKey) || !s.refine() {
			t.dropQueue(0)
			t.undo(state)
		}
	}
}

// allAgree checks every single pair of elements.
func (s *search) allAgree() bool {
	s.t.fresh = s.t.fresh[:0]
	for c := range int32(len(s.t.parent)) {
		if s.t.single(c) && !s.pairAgrees(s.t.members(0, c)[0], s.t.members(1, c)[0]) {
			return false
		}
	}
	return true
}

func (s *search) freshAgree() bool {
	for _, c := range s.t.fresh {
		if s.t.single(c) && !s.pairAgrees(s.t.members(0, c)[0], s.t.members(1, c)[0]) {
			return false
		}
	}
	return true
}

// pairAgrees checks what refinement does not see of a pair of vertices: sizes within the tolerance, and loose terminals.
func (s *search) pairAgrees(a, b int32) bool {
	if !s.g.isElem(a) {
		return true
	}
	x, y := s.g.elem(a), s.g.elem(b)
	if s.sizes && !s.p.agree(s.p.side[0], x, s.p.side[1], y) {
		return false
	}
	if !s.bulks {
		return true
	}
	u, v := s.wellVertex(0, x), s.wellVertex(1, y)
	if u < 0 || v < 0 {
		return u == v || u == anyWell || v == anyWell
	}
	return s.t.cell[u] == s.t.cell[v]
}

// matching reads the mapping off a partition of single pairs.
func (s *search) matching() matching {
	m := newMatching(s.g)
	for c := range int32(len(s.t.parent)) {
		if s.t.single(c) {
			a, b := s.t.members(0, c)[0], s.t.members(1, c)[0]
			m[a], m[b] = b, a
		}
	}
	return m
}
