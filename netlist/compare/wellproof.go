package compare

import (
	"maps"
	"slices"

	"undermetal/netlist"
)

// The well of an element, as far as it limits its partners; vertices of the graph are 0 and above.
const (
	anyWell   = -1 // soft, none, or several
	namedWell = -2 // a named net that only bulks touch
)

// wellVertex returns the net that element e of that side has its loose terminals on.
func (s *search) wellVertex(side int, e int32) int32 {
	n := s.p.onlyWell(s.p.side[side], e)
	switch {
	case n == netlist.NoNet || s.p.side[side].soft[n]:
		return anyWell
	case s.g.vertex[side][n] < 0:
		return namedWell
	}
	return s.g.vertex[side][n]
}

// onlyWell returns the one net that all loose terminals of element e are on, NoNet if there is no such net.
func (p *pair) onlyWell(s *side, e int32) netlist.Net {
	found := netlist.NoNet
	loose := p.base(s, e).loose
	for t := range 4 {
		if loose&(1<<t) == 0 {
			continue
		}
		for _, n := range p.wellNets(s, e, t) {
			if found != netlist.NoNet && found != n {
				return netlist.NoNet
			}
			found = n
		}
	}
	return found
}

// wellsCannotHold proves, from the cells of an equitable partition, that no mapping satisfies the wells; false if it
// cannot prove that.
func (s *search) wellsCannotHold() bool {
	several := [2]map[netlist.Net]netlist.Net{{}, {}}
	for c := range int32(len(s.t.parent)) {
		m := s.t.members(0, c)
		if len(m) == 0 || !s.g.isElem(m[0]) || s.p.base(s.p.side[0], s.g.elem(m[0])).loose == 0 {
			continue
		}
		if s.tooMany(c) || s.standsForTwo(c, several) || s.groupsDoNotFit(c, 0) || s.groupsDoNotFit(c, 1) {
			return true
		}
	}
	return false
}

// tooMany reports whether more elements of cell c have their bulk on some net than could have partners there.
func (s *search) tooMany(c int32) bool {
	var on [2]map[int32]int
	for side := range 2 {
		on[side] = map[int32]int{}
		for _, v := range s.t.members(side, c) {
			w := s.wellVertex(side, s.g.elem(v))
			if w >= 0 {
				w = s.t.cell[w]
			}
			on[side][w]++
		}
	}
	for side := range 2 {
		for w, n := range on[side] {
			if w != anyWell && n > on[1-side][w]+on[1-side][anyWell] {
				return true
			}
		}
	}
	return false
}

// standsForTwo reports whether all elements of cell c have their bulk on one soft net, while their partners, together
// with those of such cells before, have it on several nets that not only bulks touch.
func (s *search) standsForTwo(c int32, seen [2]map[netlist.Net]netlist.Net) bool {
	for side := range 2 {
		soft := netlist.NoNet
		for i, v := range s.t.members(side, c) {
			n := s.p.onlyWell(s.p.side[side], s.g.elem(v))
			if n == netlist.NoNet || !s.p.side[side].soft[n] || i > 0 && n != soft {
				soft = netlist.NoNet
				break
			}
			soft = n
		}
		if soft == netlist.NoNet {
			continue
		}
		other := s.p.side[1-side]
		for _, v := range s.t.members(1-side, c) {
			n := s.p.onlyWell(other, s.g.elem(v))
			if n == netlist.NoNet || other.bulkOnly[n] {
				continue
			}
			if f, ok := seen[side][soft]; ok && f != n {
				return true
			}
			seen[side][soft] = n
		}
	}
	return false
}

// groupsDoNotFit: the elements of cell c on one soft net have partners that are all on one net, or none of them is on a
// net that not only bulks touch. So as many partners as are on such a net must be the sum of some groups. It reports
// whether that fails for the soft nets of one side.
func (s *search) groupsDoNotFit(c int32, side int) bool {
	groups, hard := map[netlist.Net]int{}, map[int32]int{}
	for _, v := range s.t.members(side, c) {
		n := s.p.onlyWell(s.p.side[side], s.g.elem(v))
		switch {
		case n == netlist.NoNet:
			return false
		case s.p.side[side].soft[n]:
			groups[n]++
		default:
			hard[s.wellCell(side, n)]++
		}
	}
	on := map[netlist.Net]int{}
	other := s.p.side[1-side]
	for _, v := range s.t.members(1-side, c) {
		switch n := s.p.onlyWell(other, s.g.elem(v)); {
		case n == netlist.NoNet: // a partner for any
			return false
		case !other.bulkOnly[n]:
			on[n]++
		}
	}
	for n, k := range on {
		cell := s.wellCell(1-side, n)
		if hard[cell] > 0 && (cell < 0 || !s.t.single(cell)) || len(groups)*k > maxSums {
			continue
		}
		if k -= hard[cell]; k >= 0 && !sumOfSome(slices.Collect(maps.Values(groups)), k) {
			return true
		}
	}
	return false
}

// maxSums bounds the work of sumOfSome.
const maxSums = 50_000_000

// wellCell returns the cell of a net, -1 if the graph does not have it.
func (s *search) wellCell(side int, n netlist.Net) int32 {
	if v := s.g.vertex[side][n]; v >= 0 {
		return s.t.cell[v]
	}
	return -1
}

// sumOfSome reports whether some of the numbers add up to want.
func sumOfSome(numbers []int, want int) bool {
	can := make([]bool, want+1)
	can[0] = true
	for _, n := range numbers {
		for sum := want; sum >= n; sum-- {
			can[sum] = can[sum] || can[sum-n]
		}
	}
	return can[want]
}
