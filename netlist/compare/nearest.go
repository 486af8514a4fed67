package compare

import (
	"context"
	"slices"
)

// aligner makes the best partial mapping that it finds between circuits that differ.
type aligner struct {
	ctx context.Context
	p   *pair
	g   *graph
	t   *partition
	m   matching
}

// nearest returns a mapping of most devices and nets of circuits that are known to differ.
//
//  1. Lenient refinement: whatever has the same surroundings in both is split off; what has none stays together, and is
//     paired when it is the last of its cell.
//  2. Where cells stay open, first sizes, then names, then likeness to what is paired already decide.
//  3. What is left is paired by the nets, or devices, it shares with paired ones, if these are most of them.
//  4. Partners change places where that removes contradictions.
func nearest(ctx context.Context, p *pair, g *graph) (matching, error) {
	al := &aligner{ctx: ctx, p: p, g: g, t: newPartition(p, g, true), m: newMatching(g)}
	if err := al.refine(); err != nil {
		return nil, err
	}
	if err := al.useSizes(); err != nil {
		return nil, err
	}
	if err := al.useNames(); err != nil {
		return nil, err
	}
	al.t.trackOpen()
	for c := al.t.smallest(); c >= 0; c = al.t.smallest() {
		a, b := al.likeliest(c)
		al.t.individualise(a, b)
		if err := al.refine(); err != nil {
			return nil, err
		}
	}
	al.pairRest()
	al.improve()
	al.pairRest()
	return al.m, ctx.Err()
}

// passesWork bounds, in edges, what repeated passes over all cells may cost.
const passesWork = 64

// refine refines until nothing changes, and takes over new pairs. Splitters that strict refinement need not use may tell
// something here, because cells that are split have not told everything; so all cells serve again, while that is cheap.
func (al *aligner) refine() error {
	for {
		before := al.t.state()
		if _, err := al.t.refine(al.ctx); err != nil {
			return err
		}
		for _, c := range al.t.fresh {
			if al.t.single(c) {
				a, b := al.t.members(0, c)[0], al.t.members(1, c)[0]
				al.m[a], al.m[b] = b, a
			}
		}
		al.t.fresh = al.t.fresh[:0]
		if before == al.t.state() || al.t.work > passesWork*len(al.g.to) {
			return nil
		}
		for c := range int32(al.t.state()) {
			al.t.enqueue(c)
		}
	}
}

// useSizes splits open cells by sizes.
func (al *aligner) useSizes() error {
	keys := al.p.sizeKeys()
	var open []int32
	for side := range 2 {
		for v := al.g.elems[side]; v < al.g.nets[side]; v++ {
			if !al.t.single(al.t.cell[v]) {
				open = append(open, v)
			}
		}
	}
	al.t.splitBy(open, func(v int32) uint64 { return keys[al.g.sideOf(v)][al.g.elem(v)] })
	return al.refine()
}

// useNames pairs nets, then elements, of one cell that alone have a name.
func (al *aligner) useNames() error {
	for _, elems := range []bool{false, true} {
		var names [2]map[string]int32
		for side := range 2 {
			names[side] = map[string]int32{}
			for v := al.g.elems[side]; v < al.g.end[side]; v++ {
				if al.m[v] >= 0 || al.g.isElem(v) != elems {
					continue
				}
				name := al.p.name(al.g, v)
				if _, ok := names[side][name]; ok || name == "" {
					names[side][name] = -1
				} else {
					names[side][name] = v
				}
			}
		}
		for a := al.g.elems[0]; a < al.g.end[0]; a++ {
			name := al.p.name(al.g, a)
			b, ok := names[1][name]
			if al.m[a] >= 0 || names[0][name] != a || !ok || b < 0 || al.t.cell[a] != al.t.cell[b] {
				continue
			}
			al.t.individualise(a, b)
			if err := al.refine(); err != nil {
				return err
			}
		}
	}
	return nil
}

// likelyTries bounds the vertices of either circuit that likeliest looks at.
const likelyTries = 12

// likeliest returns the pair of vertices of cell c that fits best what is paired already.
func (al *aligner) likeliest(c int32) (a, b int32) {
	best := -1 << 30
	as, bs := al.t.members(0, c), al.t.members(1, c)
	for _, v := range as[:min(len(as), likelyTries)] {
		for _, w := range bs[:min(len(bs), likelyTries)] {
			if s := al.likeness(v, w); s > best {
				a, b, best = v, w, s
			}
		}
	}
	return a, b
}

// likenessEdges bounds the edges of a net that likeness looks at.
const likenessEdges = 256

// likeness counts edges of a and b that lead to partners, less those that lead to vertices with other partners.
func (al *aligner) likeness(a, b int32) (score int) {
	if al.g.degree(a) > likenessEdges {
		return 0
	}
	for e := al.g.start[a]; e < al.g.start[a+1]; e++ {
		switch n := al.m[al.g.to[e]]; {
		case n < 0:
		case al.hasEdge(b, n, al.g.role[e]):
			score++
		default:
			score--
		}
	}
	return score
}

// hasEdge reports whether an edge of that role leads from v to w; the shorter list of edges is looked at.
func (al *aligner) hasEdge(v, w int32, role uint8) bool {
	if al.g.degree(v) > al.g.degree(w) {
		v, w = w, v
	}
	for e := al.g.start[v]; e < al.g.start[v+1]; e++ {
		if al.g.to[e] == w && al.g.role[e] == role {
			return true
		}
	}
	return false
}

// vote says that two vertices without partner have so many edges in common.
type vote struct {
	a, b int32
	n    int
}

// pairRest pairs what has no partner yet by the edges it has in common with a vertex of the other circuit.
func (al *aligner) pairRest() {
	for again := true; again; {
		again = false
		for _, elems := range []bool{true, false} {
			votes := al.votes(elems)
			slices.SortStableFunc(votes, func(x, y vote) int { return y.n - x.n })
			for _, v := range votes {
				if al.m[v.a] < 0 && al.m[v.b] < 0 && al.enough(v) {
					al.m[v.a], al.m[v.b] = v.b, v.a
					again = true
				}
			}
		}
	}
}

// votes counts common edges of unpaired elements, or nets, of A and of B. Paired neighbours with very many edges are
// left out, unless nothing else is there.
func (al *aligner) votes(elems bool) (votes []vote) {
	for a := al.g.elems[0]; a < al.g.end[0]; a++ {
		if al.m[a] >= 0 || al.g.isElem(a) != elems {
			continue
		}
		first := len(votes)
		for e := al.g.start[a]; e < al.g.start[a+1]; e++ {
			n := al.m[al.g.to[e]]
			if n < 0 || al.g.degree(n) > likenessEdges {
				continue
			}
			for f := al.g.start[n]; f < al.g.start[n+1]; f++ {
				b := al.g.to[f]
				if al.m[b] >= 0 || !elems && al.g.role[e] != al.g.role[f] {
					continue
				}
				if i := slices.IndexFunc(votes[first:], func(v vote) bool { return v.b == b }); i < 0 {
					votes = append(votes, vote{a, b, 0})
				}
			}
		}
		for i := first; i < len(votes); i++ {
			votes[i].n = al.common(a, votes[i].b)
		}
	}
	return votes
}

// common counts the edges of a that b has too, between partners.
func (al *aligner) common(a, b int32) (n int) {
	for e := al.g.start[a]; e < al.g.start[a+1]; e++ {
		if w := al.m[al.g.to[e]]; w >= 0 && al.hasEdge(b, w, al.g.role[e]) {
			n++
		}
	}
	return n
}

// enough: elements of one class are partners if half of their edges agree, of two models if three quarters do; nets, if
// any do.
func (al *aligner) enough(v vote) bool {
	if !al.g.isElem(v.a) {
		return v.n > 0
	}
	edges := max(al.g.degree(v.a), al.g.degree(v.b))
	x, y := al.classOf(v.a), al.classOf(v.b)
	bx, by := al.p.bases[x.base], al.p.bases[y.base]
	switch {
	case x.stack != y.stack || len(bx.kind.TerminalNames()) != len(by.kind.TerminalNames()) ||
		bx.kind.IsMOS() != by.kind.IsMOS() || interchangeable(bx.kind) != interchangeable(by.kind):
		return false
	case x.base == y.base:
		return 2*v.n >= edges && v.n > 0
	}
	return 4*v.n >= 3*edges
}

func (al *aligner) classOf(v int32) class {
	s := al.p.side[al.g.sideOf(v)]
	return al.p.classes[s.elemClass[al.g.elem(v)]]
}
