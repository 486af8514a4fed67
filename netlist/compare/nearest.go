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

	attempt
}

// attempt is one way to make a mapping.
type attempt struct {
	nearly int32 // how nearly balanced a group must be to be split off, see partition.nearly
	turn   int   // which of equally likely vertices a guess takes
	names  bool  // begin with the nets of one name
	models bool  // take all transistors for alike, whatever their models
}

var attempts = []attempt{{nearly: 4}, {nearly: 4, names: true}, {nearly: 4, names: true, models: true}, {nearly: exactly},
	{nearly: 4, turn: 1}, {nearly: exactly, turn: 1}, {nearly: exactly, models: true}, {nearly: 1, turn: 2},
	{nearly: 16, turn: 3}, {nearly: 4, turn: 5}, {nearly: exactly, turn: 7}}

const exactly = 1 << 20

// attemptsWork is how many edges attempts may follow before the last one, fewLines the length of an account that needs
// no further one.
const (
	attemptsWork = 150_000_000
	fewLines     = 2
)

// nearest returns the shortest account, of a few attempts, of circuits that are known to differ.
func nearest(ctx context.Context, p *pair, g *graph) (*account, error) {
	var best *account
	work, keys := 0, p.sizeKeys()
	for _, at := range attempts {
		if best != nil && (len(best.found) <= fewLines || work > attemptsWork) {
			break
		}
		al := &aligner{ctx: ctx, p: p, g: g, m: newMatching(g), keys: keys, attempt: at}
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
	if al.names {
		names := al.byName(false, func(int32) bool { return true })
		for v := al.g.nets[0]; v < al.g.end[0]; v++ {
			name := al.p.name(al.g, v)
			if b, ok := names[1][name]; ok && b >= 0 && names[0][name] == v {
				al.pair(v, b)
			}
		}
	}
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
	al.preferNames()
	al.improve()
	al.pairRest()
	return al.ctx.Err()
}

// maxRestarts bounds how often all begins anew.
const maxRestarts = 30

// restart begins a partition in which every pair is settled and all else is open, and refines it.
func (al *aligner) restart() error {
	of, cells := firstCells(al.p, al.g, al.cellOf), len(al.p.classes)+1
	if al.t == nil {
		al.t = partitionBy(al.g, of, cells)
	} else {
		al.work += al.t.work
		for a := range al.g.end[0] {
			if b := al.m[a]; b >= 0 {
				of[a], of[b] = int32(cells), int32(cells)
				cells++
			}
		}
		al.t = partitionBy(al.g, of, cells)
		al.t.dropQueue(0)
		al.enqueueOpen()
	}
	al.t.lenient, al.t.nearly = true, al.nearly
	return al.refine()
}

// cellOf returns the class itself, or, if models may differ, the first one that differs in the model of a transistor
// only.
func (al *aligner) cellOf(c int32) int32 {
	x := al.p.classes[c]
	if !al.models || !al.p.bases[x.base].kind.IsMOS() {
		return c
	}
	return int32(slices.IndexFunc(al.p.classes, func(y class) bool {
		return al.p.bases[y.base].kind.IsMOS() && y.absent == x.absent && y.stack == x.stack
	}))
}

// enqueueOpen makes splitters of all cells that lie at, or next to, vertices without partner; others have nothing to
// tell.
func (al *aligner) enqueueOpen() {
	al.t.work += len(al.m) / 4
	for v, w := range al.m {
		if w >= 0 {
			continue
		}
		al.t.enqueue(al.t.cell[v])
		for _, n := range al.g.to[al.g.start[v]:al.g.start[v+1]] {
			al.t.enqueue(al.t.cell[n])
		}
	}
}

// byName returns the nets, or elements, of either circuit by name, of those for which among holds; -1 where a name is
// taken twice.
func (al *aligner) byName(elems bool, among func(v int32) bool) (names [2]map[string]int32) {
	for side := range 2 {
		names[side] = map[string]int32{}
		for v := al.g.elems[side]; v < al.g.end[side]; v++ {
			if al.g.isElem(v) != elems || !among(v) {
				continue
			}
			name := al.p.name(al.g, v)
			if _, taken := names[side][name]; taken || name == "" {
				names[side][name] = -1
			} else {
				names[side][name] = v
			}
		}
	}
	return names
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
		al.enqueueOpen()
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
		names := al.byName(elems, func(v int32) bool { return al.m[v] < 0 })
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
			v, w := as[(i+al.turn)%na], bs[(j+3*al.turn)%nb]
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
