package compare

// improveRounds and improveTries bound the attempts to remove contradictions.
const (
	improveRounds = 8
	improveTries  = 64
)

// improve lets partners change places, of elements or of nets, as long as that leaves fewer edges without counterpart.
func (al *aligner) improve() {
	for range improveRounds {
		better := false
		for a := al.g.elems[0]; a < al.g.nets[0]; a++ {
			if al.m[a] >= 0 && al.off(a) > 0 {
				better = al.improveAt(a) || better
			}
		}
		if !better {
			return
		}
	}
}

// off counts the edges of a vertex of A that its partner lacks, between partners; all of them if it has no partner.
func (al *aligner) off(a int32) int {
	if al.m[a] < 0 {
		return al.g.degree(a)
	}
	return al.g.degree(a) - al.common(a, al.m[a])
}

// improveAt tries other partners for element a, which disagrees with its own, and for its nets.
func (al *aligner) improveAt(a int32) bool {
	for e := al.g.start[a]; e < al.g.start[a+1]; e++ {
		n, role := al.m[al.g.to[e]], al.g.role[e]
		if n < 0 || al.hasEdge(al.m[a], n, role) {
			continue
		}
		// another element on the partner of this net
		for f := al.g.start[n]; f < min(al.g.start[n+1], al.g.start[n]+improveTries); f++ {
			b := al.g.to[f]
			if al.g.role[f] == role && al.classOf(b) == al.classOf(a) && al.swap(a, b) {
				return true
			}
		}
		// the net of the partner, for this net
		for b, f := al.m[a], al.g.start[al.m[a]]; f < al.g.start[b+1]; f++ {
			if al.g.role[f] == role && al.swap(al.g.to[e], al.g.to[f]) {
				return true
			}
		}
	}
	return false
}

// preferNames pairs nets, and elements, that alone have a name where that leaves no more contradictions: of several
// accounts of one change, this is the one that people expect.
func (al *aligner) preferNames() {
	for _, elems := range []bool{false, true} {
		names := al.byName(elems, func(int32) bool { return true })
		for a := al.g.elems[0]; a < al.g.end[0]; a++ {
			name := al.p.name(al.g, a)
			b, ok := names[1][name]
			if ok && b >= 0 && al.m[a] >= 0 && al.m[a] != b && names[0][name] == a && al.g.isElem(a) == elems &&
				(!elems || al.classOf(a) == al.classOf(b)) {
				al.swapUpTo(a, b, 0)
			}
		}
	}
}

// swap makes b the partner of a, and gives the former partners of both to each other, if that improves matters.
func (al *aligner) swap(a, b int32) bool { return al.swapUpTo(a, b, -1) }

// swapUpTo is swap where contradictions may become that many more.
func (al *aligner) swapUpTo(a, b int32, more int) bool {
	oldB, oldA := al.m[a], al.m[b]
	if oldB == b || al.g.degree(a) > edgesLookedAt || oldA >= 0 && al.g.degree(oldA) > edgesLookedAt {
		return false
	}
	before := al.offAround(a, oldA)
	al.link(a, b)
	al.link(oldA, oldB)
	if al.offAround(a, oldA) <= before+more {
		return true
	}
	al.link(a, oldB)
	al.link(oldA, b)
	return false
}

// link makes a and b partners; either may be -1, the other then has none.
func (al *aligner) link(a, b int32) {
	if a >= 0 {
		al.m[a] = b
	}
	if b >= 0 {
		al.m[b] = a
	}
}

// offAround sums off over two vertices of A if they are elements, else over the elements around them.
func (al *aligner) offAround(a, a2 int32) (n int) {
	for _, v := range []int32{a, a2} {
		switch {
		case v < 0:
		case al.g.isElem(v):
			n += al.off(v)
		default:
			for _, e := range al.g.to[al.g.start[v]:al.g.start[v+1]] {
				n += al.off(e)
			}
		}
	}
	return n
}
