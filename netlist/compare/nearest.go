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

	paired int         // pairs in m
	work   int         // edges followed by partitions before this one
	keys   [2][]uint64 // of sizes

	nearly, turn int32 // see attempts
}

// attempts of nearest: how nearly balanced a group must be to be split off (see partition.nearly), and which of equally
// likely vertices a guess takes.
var attempts = []struct{ nearly, turn int32 }{{4, 0}, {1 << 20, 0}, {4, 1}, {1 << 20, 1}, {1, 2}, {16, 3}, {4, 5}, {1 << 20, 7}}

// attemptsWork is how many edges attempts may follow before the last one, fewLines the length of an account that needs
// no further one.
const (
	attemptsWork = 150_000_000
	fewLines     = 2
)

// nearest returns the shortest account, of a few attempts, of circuits that are known to differ.
func nearest(ctx context.Context, p *pair, g *graph) (*account, error) {
	var best *account
	work := 0
	for _, at := range attempts {
		if best != nil && (len(best.found) <= fewLines || work > attemptsWork) {
			break
		}
		al := &aligner{ctx: ctx, p: p, g: g, m: newMatching(g), keys: p.sizeKeys(), nearly: at.nearly, turn: at.turn}
		if err := al.run(); err != nil {
			return nil, err
		}
		work += al.work
		if ac := newAccount(p, g, al.m); best == nil || len(ac.found) < len(best.found) {
			best = ac
		}
	}
	return best, nil
}

// run makes the mapping.
//
//  1. Lenient refinement: whatever has the same surroundings in both is split off; what has none stays together, and is
//     paired when it is the last of its cell.
//  2. Where cells stay open, first sizes, then names, then likeness decide.
//  3. What was led astray by a difference nearby gets another chance: only pairs are kept, and all begins anew.
//  4. What is left is paired by the nets, or devices, it shares with paired ones, if these are most of them.
//  5. Partners change places where that removes contradictions.
func (al *aligner) run() error {
	for range maxRestarts {
		before := al.paired
		for _, step := range []func() error{al.restart, al.useSizes, al.useNames} {
			if err := step(); err != nil {
				return err
			}
		}
		if al.paired > before {
			continue
		}
		if err := al.guess(); err != nil {
			return err
		}
		if al.paired == before {
			break
		}
	}
	al.pairRest()
	al.improve()
	al.pairRest()
	return al.ctx.Err()
}

// maxRestarts bounds how often all begins anew.
const maxRestarts = 30

// restart begins a partition in which every pair is settled and all else is open, and refines it.
func (al *aligner) restart() error {
	if al.t != nil {
		al.work += al.t.work
	}
	al.t = newPartition(al.p, al.g, true)
	al.t.nearly = al.nearly
	var settled []int32
	for v, w := range al.m {
		if w >= 0 {
			settled = append(settled, int32(v))
		}
	}
	al.t.splitBy(settled, func(v int32) uint64 { return uint64(min(v, al.m[v])) + 1 })
	return al.refine()
}

// unlike: vertices with less in common are not paired by guess.
const unlike = 0.4

// guess pairs the likeliest vertices of an open cell, until no cell is open.
func (al *aligner) guess() error {
	al.t.trackOpen()
	for c := al.t.smallest(); c >= 0; c = al.t.smallest() {
		a, b, likeness := al.likeliest(c)
		if likeness < unlike {
			al.t.open.pop()
			continue
		}
		al.t.individualise(a, b)
		if err := al.refine(); err != nil {
			return err
		}
	}
	return nil
}

// repeatWork returns how many edges may be followed before passes over all cells are no longer repeated: enough for
// dozens of passes in small circuits, for a few in large ones.
func (al *aligner) repeatWork() int {
	n := len(al.g.to)
	return max(6*n, min(64*n, 2_000_000))
}

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
				if a, b := al.t.members(0, c)[0], al.t.members(1, c)[0]; al.likeness(a, b) >= unlike {
					al.pair(a, b)
				}
			}
		}
		al.t.fresh = al.t.fresh[:0]
		if before == al.t.state() || al.t.work > al.repeatWork() {
			return nil
		}
		for c := range int32(al.t.state()) {
			al.t.enqueue(c)
		}
	}
}

func (al *aligner) pair(a, b int32) {
	if al.m[a] < 0 && al.m[b] < 0 {
		al.m[a], al.m[b] = b, a
		al.paired++
	}
}

// useSizes splits open cells by sizes.
func (al *aligner) useSizes() error {
	var open []int32
	for side := range 2 {
		for v := al.g.elems[side]; v < al.g.nets[side]; v++ {
			if !al.t.single(al.t.cell[v]) {
				open = append(open, v)
			}
		}
	}
	al.t.splitBy(open, func(v int32) uint64 { return al.keys[al.g.sideOf(v)][al.g.elem(v)] })
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

// likeliest returns the pair of vertices of cell c that is most alike, and how much.
func (al *aligner) likeliest(c int32) (a, b int32, likeness float64) {
	likeness = -1
	as, bs := al.t.members(0, c), al.t.members(1, c)
	na, nb := min(len(as), likelyTries), min(len(bs), likelyTries)
	for i := range na {
		for j := range nb {
			v, w := as[(i+int(al.turn))%na], bs[(j+int(al.turn)*3)%nb]
			if l := al.likeness(v, w); l > likeness {
				a, b, likeness = v, w, l
			}
		}
	}
	return a, b, likeness
}

// edgesLookedAt bounds the edges of a net that are looked at one by one.
const edgesLookedAt = 256

// likeness returns the part of the edges of a and b that lead to one cell, in one role: 1 where all do. Of nets with
// very many edges it compares the numbers only.
func (al *aligner) likeness(a, b int32) float64 {
	da, db := al.g.degree(a), al.g.degree(b)
	if max(da, db) > edgesLookedAt {
		return float64(min(da, db)) / float64(max(da, db))
	}
	type end struct {
		cell int32
		role uint8
	}
	ends := map[end]int{}
	for e := al.g.start[a]; e < al.g.start[a+1]; e++ {
		ends[end{al.t.cell[al.g.to[e]], al.g.role[e]}]++
	}
	common := 0
	for e := al.g.start[b]; e < al.g.start[b+1]; e++ {
		k := end{al.t.cell[al.g.to[e]], al.g.role[e]}
		if ends[k] > 0 {
			ends[k]--
			common++
		}
	}
	return float64(common) / float64(max(da, db, 1))
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
