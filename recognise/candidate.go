package recognise

import (
	"math"
	"slices"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// candidate is a pattern on parts of the circuit, compact: there may be millions.
type candidate struct {
	pattern *library.Pattern
	plan    *plan // nil: found by a recogniser, then parts are in the order of the pattern's devices
	mirror  bool
	parts   []int32 // by the plan's parts, or the pattern's devices; -1: optional and not there
	nets    []int32 // by the pattern's nets
	extra   []int32
	weight  float64
}

// bag collects candidates of one pattern, of those on the same parts only the first.
type bag struct {
	all   []candidate
	seen  map[uint64][]int32
	key   []int32
	other []int32
	pool  []int32
	often []uint8 // by part: how many of the bag have it for themselves
	full  int     // how many were not taken, since a part of them is in too many
}

// maxSame is how many fits of one pattern a part may be in for itself. Where two equal halves hang on one long net, each goes with each
// other, and n of them would be n²/2 fits that all say the same.
const maxSame = 64

func newBag() *bag { return &bag{} }

// take adds what a search has found.
func (b *bag) take(s *search) {
	h, at := b.find(s.pl, s.parts)
	if at >= 0 || !b.room(s) {
		return
	}
	c := candidate{pattern: s.pl.pattern, plan: s.pl, mirror: s.pl.mirror, parts: b.keep(s.parts), nets: b.keep(s.nets)}
	c.weight = weigh(s.ix, s.pl, c.parts, c.nets)
	b.see(h)
	b.all = append(b.all, c)
}

// see notes that what comes next has a hash.
func (b *bag) see(h uint64) {
	if b.seen == nil {
		b.seen = map[uint64][]int32{}
	}
	b.seen[h] = append(b.seen[h], int32(len(b.all)))
}

// room reports whether no part of what a search has found is in too many fits already, and counts it.
func (b *bag) room(s *search) bool {
	if b.often == nil {
		b.often = make([]uint8, len(s.ix.g.Parts))
	}
	alone := func(i int) bool { return s.parts[i] >= 0 && !s.pl.parts[i].context && !s.pl.parts[i].shared }
	for i, p := range s.parts {
		if alone(i) && b.often[p] >= maxSame {
			b.full++
			return false
		}
	}
	for i, p := range s.parts {
		if alone(i) {
			b.often[p]++
		}
	}
	return true
}

// keep copies s into memory that is shared by many.
func (b *bag) keep(s []int32) []int32 {
	if len(b.pool)+len(s) > cap(b.pool) {
		b.pool = make([]int32, 0, max(min(2*cap(b.pool), 1<<12), 1<<6, len(s)))
	}
	from := len(b.pool)
	b.pool = append(b.pool, s...)
	return b.pool[from:len(b.pool):len(b.pool)]
}

// find returns the hash of the parts of a placement, and which of the bag lies on the same; -1: none.
func (b *bag) find(pl *plan, on []int32) (h uint64, at int32) {
	b.key = ownParts(b.key[:0], pl, on)
	h = uint64(len(b.key))
	for _, p := range b.key {
		h = (h ^ uint64(uint32(p))) * 0xff51afd7ed558ccd
		h ^= h >> 31
	}
	for _, i := range b.seen[h] {
		if b.other = ownParts(b.other[:0], b.all[i].plan, b.all[i].parts); slices.Equal(b.other, b.key) {
			return h, i
		}
	}
	return h, -1
}

// ownParts are the parts of a placement without its context, in order.
func ownParts(to []int32, pl *plan, from []int32) []int32 {
	for i, p := range from {
		if p >= 0 && !pl.parts[i].context {
			to = append(to, p)
		}
	}
	slices.Sort(to)
	return to
}

func sortedParts(to, from []int32) []int32 {
	for _, p := range from {
		if p >= 0 {
			to = append(to, p)
		}
	}
	slices.Sort(to)
	return to
}

// innerPort is by how many decibans it speaks against a fit that one of its inner nets is a port of the circuit: has a name of its own,
// or goes on where nobody looked. Judgement.
const innerPort = 3

// weigh returns what the joints of a fit say for it, in decibans.
//
// Were devices joined by chance, a terminal would lie on a given net with the share of all pins that this net has. So each
// pin on a net that an earlier pin of the fit has already chosen weighs 10·log10(all pins/pins of the net); on a supply, which
// is known before, the first pin counts as well.
func weigh(ix *index, pl *plan, on, nets []int32) float64 {
	w := 0.0
	for n := range pl.nets {
		if nets[n] < 0 {
			continue
		}
		pins := 0
		for _, at := range pl.nets[n].pins {
			if on[at.part] >= 0 {
				pins++
			}
		}
		w += ix.weighNet(nets[n], pins)
		if pl.nets[n].class == inner && ix.g.Port[nets[n]] {
			w -= innerPort
		}
	}
	return rounded(w)
}

// rounded makes equal what was summed in another order.
func rounded(w float64) float64 { return math.Round(w*1e6) / 1e6 }

func (ix *index) weighNet(net int32, pins int) float64 {
	return ix.joints(int(ix.seen[net]>>2), parts.Rail(ix.seen[net]&3), pins)
}

// joints is what so many pins of a fit on a net of some degree weigh.
func (ix *index) joints(degree int, rail parts.Rail, pins int) float64 {
	if rail == parts.Signal {
		pins--
	}
	if pins <= 0 {
		return 0
	}
	return float64(pins) * ix.decibans(degree)
}

// shared reports whether the i-th part may be in another fit of the pattern, too.
func (c *candidate) shared(i int) bool { return c.plan != nil && c.plan.parts[i].shared }

// context reports whether the i-th part is explained by something else.
func (c *candidate) context(i int) bool { return c.plan != nil && c.plan.parts[i].context }

// size is how many parts the candidate explains.
func (c *candidate) size() int {
	n := 0
	for i, p := range c.parts {
		if p >= 0 && !c.context(i) {
			n++
		}
	}
	return n
}
