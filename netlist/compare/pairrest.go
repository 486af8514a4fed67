package compare

import "slices"

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
					al.pair(v.a, v.b)
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
			if n < 0 || al.g.degree(n) > edgesLookedAt {
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
