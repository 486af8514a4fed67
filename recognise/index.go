package recognise

import "undermetal/recognise/parts"

// index is a circuit made ready for the search.
type index struct {
	g          *parts.Graph
	haveSupply bool
	haveGround bool
	kinds      uint32 // bit set of the parts.Kind that there are
	few        bool   // of some parts only

	// Parts by what can be seen of each by itself. Most patterns' rarest part is like a few of these classes only, so that the
	// rest of a million parts is never looked at.
	classFirst []int32
	byClass    []int32
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
	ix.sort(nil)
	return ix
}

// only returns the index with seeds among some parts, so that what is not wanted is not looked at for each of many plans.
func (ix *index) only(want []bool) *index {
	few := *ix
	few.few = true
	few.sort(want)
	return &few
}

// sort sorts parts into classes: those that are wanted, by index; nil: all.
func (ix *index) sort(want []bool) {
	g := ix.g
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
	degree, rail := ix.g.Degree(target), ix.g.Rails[target]
	if degree < net.needed {
		return false
	}
	switch net.class {
	case inner:
		return rail == parts.Signal && degree <= len(net.pins)+pl.edit.extras
	case loosePort:
		return rail == parts.Signal && degree == 1
	case signalPort:
		return rail == parts.Signal
	case supplyPort:
		return rail == parts.Supply || rail == parts.Signal && !ix.haveSupply
	case groundPort:
		return rail == parts.Ground || rail == parts.Signal && !ix.haveGround
	}
	return true
}

// partFits reports whether a part of the plan may lie on one of the circuit in either direction, as far as both can be seen
// by themselves.
func (ix *index) partFits(pl *plan, i int, target int32) bool {
	pp, p := &pl.parts[i], &ix.g.Parts[target]
	if pp.kinds>>p.Kind&1 == 0 {
		return false
	}
	n, last := p.Kind.Terminals()
	for turn := range 2 {
		if turn == 1 && !p.Kind.Symmetric() {
			break
		}
		ok := true
		for t := 0; t < n && ok; t++ {
			ok = ix.netFits(pl, pp.nets[t], p.Nets[turned(t, turn, last)])
		}
		for t := 1; t < n && ok; t++ { // what is tied in the plan is tied in the circuit
			for u := range t {
				if pp.nets[t] == pp.nets[u] && p.Nets[turned(t, turn, last)] != p.Nets[turned(u, turn, last)] {
					ok = false
				}
			}
		}
		if ok {
			return true
		}
	}
	return false
}

// turned is the terminal that t of a part is when its ends are exchanged, if turn is 1.
func turned(t, turn, last int) int {
	if turn == 1 && (t == 0 || t == last) {
		return last - t
	}
	return t
}
