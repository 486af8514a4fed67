package recognise

import (
	"math"
	"math/bits"
	"sync"

	"undermetal/recognise/parts"
)

// index is a circuit made ready for the search.
type index struct {
	g          *parts.Graph
	haveSupply bool
	haveGround bool
	kinds      uint32    // bit set of the parts.Kind that there are
	free       bool      // these are parts that nothing explains
	few        bool      // of some parts only
	seen       []uint32  // by net: its degree, and in the lowest two bits its rail; one look instead of three
	joint      []float64 // by degree, as far as there are any and they are small: decibans

	// Parts by what can be seen of each by itself. Most patterns' rarest part is like a few of these classes only, so that the
	// rest of a million parts is never looked at.
	classFirst []int32
	byClass    []int32
	kindOf     []uint32 // by class: the bit of its kind

	mu    sync.Mutex
	seeds []seeds // by number of a sight: what has been asked of the classes, since edited plans differ in few parts
	pool  []int32 // room for the classes of more seeds
}

// seeds are the classes of parts that a part of a plan may lie on, and how many parts they have together.
type seeds struct {
	known   bool
	classes []int32
	count   int
}

const (
	walkPins   = 2000 // nets with more pins are never walked through
	seenDegree = 15   // degrees from here on are one in a part's class
)

func newIndex(g *parts.Graph) *index {
	ix := &index{g: g}
	for n := range g.Rails {
		switch g.Rails[n] {
		case parts.Supply:
			ix.haveSupply = true
		case parts.Ground:
			ix.haveGround = true
		}
	}
	for i := range g.Parts {
		ix.kinds |= 1 << g.Parts[i].Kind
	}
	ix.seen = make([]uint32, len(g.Rails))
	for n := range ix.seen {
		ix.seen[n] = uint32(g.Degree(int32(n)))<<2 | uint32(g.Rails[n])
	}
	most := 0
	for _, s := range ix.seen {
		most = max(most, int(s>>2))
	}
	ix.joint = make([]float64, min(most, 1<<10)+1)
	for d := range ix.joint {
		ix.joint[d] = 10 * math.Log10(float64(g.Pins)/float64(max(d, 1)))
	}
	ix.sort(nil)
	return ix
}

// only returns the index with seeds among some parts, so that what is not wanted is not looked at for each of many plans.
func (ix *index) only(want []bool) *index {
	few := &index{g: ix.g, haveSupply: ix.haveSupply, haveGround: ix.haveGround, kinds: ix.kinds, few: true, seen: ix.seen, joint: ix.joint}
	few.sort(want)
	return few
}

// sort sorts parts into classes: those that are wanted, by index; nil: all.
func (ix *index) sort(want []bool) {
	g := ix.g
	ix.seeds = nil
	number := map[uint64]int32{}
	class := make([]int32, len(g.Parts))
	for i := range g.Parts {
		if class[i] = -1; want != nil && !want[i] {
			continue
		}
		s := ix.signature(&g.Parts[i])
		k, ok := number[s]
		if !ok {
			k = int32(len(number))
			number[s] = k
			ix.kindOf = append(ix.kindOf, 1<<g.Parts[i].Kind)
		}
		class[i] = k
	}
	ix.classFirst = make([]int32, len(number)+1)
	n := 0
	for _, k := range class {
		if k >= 0 {
			ix.classFirst[k+1]++
			n++
		}
	}
	for k := range len(number) {
		ix.classFirst[k+1] += ix.classFirst[k]
	}
	ix.byClass = make([]int32, n)
	at := append([]int32(nil), ix.classFirst...)
	for i, k := range class {
		if k >= 0 {
			ix.byClass[at[k]] = int32(i)
			at[k]++
		}
	}
}

// signature is what can be seen of a part by itself: its kind, which terminals are on one net, and of each net whether it is a
// supply and how many pins it has.
func (ix *index) signature(p *parts.Part) uint64 {
	var seen [3]uint64
	for t, n := range p.Nets {
		if n < 0 {
			continue
		}
		seen[t] = uint64(min(ix.g.Degree(n), seenDegree))<<2 | uint64(ix.g.Rails[n])
	}
	tied := uint64(0)
	if p.Nets[0] == p.Nets[1] {
		tied |= 1
	}
	if p.Nets[1] == p.Nets[2] && p.Nets[1] >= 0 {
		tied |= 2
	}
	if p.Nets[0] == p.Nets[2] {
		tied |= 4
	}
	return uint64(p.Kind)<<56 | tied<<48 | seen[0]<<32 | seen[1]<<16 | seen[2]
}

// class returns the parts of a class.
func (ix *index) class(k int) []int32 { return ix.byClass[ix.classFirst[k]:ix.classFirst[k+1]] }

// netFits reports whether a net of the plan may lie on a net of the circuit, as far as both can be seen by themselves.
func (ix *index) netFits(pl *plan, n int, target int32) bool {
	net := &pl.nets[n]
	degree, rail := int(ix.seen[target]>>2), parts.Rail(ix.seen[target]&3)
	if degree < net.needed {
		return false
	}
	switch net.class {
	case inner:
		return rail == parts.Signal && degree <= len(net.pins)+pl.edit.extras
	case loosePort:
		return rail == parts.Signal && degree == 1
	}
	return ix.classFits(net.class, rail)
}

// sight is what a part of a plan asks of a part of the circuit, as far as that can be seen of it by itself.
type sight struct {
	kinds uint32
	nets  [3]netSight
	tied  uint8 // which of the plan's terminals are on one net: bit 0 the first two, 1 the last two, 2 the outer two
}

type netSight struct { // small, since it is part of a map's key
	class        class
	needed, most uint8
}

func (pl *plan) sight(i int) sight {
	pp := &pl.parts[i]
	s := sight{kinds: pp.kinds}
	for t, n := range pp.nets {
		if n >= 0 {
			net := &pl.nets[n]
			s.nets[t] = netSight{net.class, seenPins(net.needed), seenPins(len(net.pins) + pl.edit.extras)}
		}
	}
	for k, pair := range tiedPairs {
		if a, b := pp.nets[pair[0]], pp.nets[pair[1]]; a >= 0 && a == b {
			s.tied |= 1 << k
		}
	}
	return s
}

// seenPins is a number of pins, as far as that can be seen: degrees from seenDegree on are one.
func seenPins(n int) uint8 { return uint8(min(n, seenDegree)) }

var tiedPairs = [3][2]int{{0, 1}, {1, 2}, {0, 2}}

// sights numbers what any plan asks, so that an index finds what it knows of it by that: the numbers of different plans' are the same.
var sights = struct {
	sync.RWMutex
	numbers map[sight]int32
}{numbers: map[sight]int32{}}

// number is that of a sight among all that were ever met.
func (s sight) number() int32 {
	sights.RLock()
	k, ok := sights.numbers[s]
	sights.RUnlock()
	if ok {
		return k
	}
	sights.Lock()
	defer sights.Unlock()
	if k, ok = sights.numbers[s]; !ok {
		k = int32(len(sights.numbers))
		sights.numbers[s] = k
	}
	return k
}

// seedsFor returns the classes of the parts that a part of the plan may lie on in either direction.
func (ix *index) seedsFor(pl *plan, i int) seeds {
	number := int(pl.sights[i])
	ix.mu.Lock()
	defer ix.mu.Unlock()
	if number >= len(ix.seeds) {
		ix.seeds = append(ix.seeds, make([]seeds, number+64-len(ix.seeds))...)
	}
	found := &ix.seeds[number]
	if !found.known {
		s, from := pl.sight(i), len(ix.pool)
		for k, kind := range ix.kindOf {
			if s.kinds&kind == 0 {
				continue
			}
			if members := ix.class(k); ix.allows(&s, members[0]) {
				ix.pool = append(ix.pool, int32(k))
				found.count += len(members)
			}
		}
		found.known, found.classes = true, ix.pool[from:len(ix.pool):len(ix.pool)]
	}
	return *found
}

// allows reports whether what is asked holds of all parts in the class of one.
func (ix *index) allows(s *sight, target int32) bool {
	p := &ix.g.Parts[target]
	if s.kinds>>p.Kind&1 == 0 {
		return false
	}
	n, last := p.Kind.Terminals()
	for turn := range 2 {
		if turn == 1 && !p.Kind.Symmetric() {
			break
		}
		ok := true
		for t := 0; t < n && ok; t++ {
			ok = ix.seenFits(s.nets[t], p.Nets[turned(t, turn, last)])
		}
		for tied := s.tied; tied != 0 && ok; tied &= tied - 1 { // what is tied in the plan is tied in the circuit
			pair := tiedPairs[bits.TrailingZeros8(tied)]
			ok = p.Nets[turned(pair[0], turn, last)] == p.Nets[turned(pair[1], turn, last)]
		}
		if ok {
			return true
		}
	}
	return false
}

// seenFits is netFits for all nets that look like target in a part's signature: degrees from seenDegree on are one.
func (ix *index) seenFits(net netSight, target int32) bool {
	degree, rail := seenPins(ix.g.Degree(target)), ix.g.Rails[target]
	if degree < net.needed {
		return false
	}
	switch net.class {
	case inner:
		return rail == parts.Signal && degree <= net.most
	case loosePort:
		return rail == parts.Signal && degree == 1
	}
	return ix.classFits(net.class, rail)
}

// classFits reports whether a port of a class may lie on a rail or on a signal.
func (ix *index) classFits(c class, rail parts.Rail) bool {
	switch c {
	case signalPort:
		return rail == parts.Signal
	case supplyPort:
		return rail == parts.Supply || rail == parts.Signal && !ix.haveSupply
	case groundPort:
		return rail == parts.Ground || rail == parts.Signal && !ix.haveGround
	}
	return true
}

// decibans is what one joint on a net of so many pins weighs.
func (ix *index) decibans(degree int) float64 {
	if degree < len(ix.joint) {
		return ix.joint[degree]
	}
	return 10 * math.Log10(float64(ix.g.Pins)/float64(degree))
}

// turned is the terminal that t of a part is when its ends are exchanged, if turn is 1.
func turned(t, turn, last int) int {
	if turn == 1 && (t == 0 || t == last) {
		return last - t
	}
	return t
}
