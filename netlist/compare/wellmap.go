package compare

import (
	"cmp"
	"maps"
	"slices"

	"undermetal/netlist"
)

// netPair is a well net of A and one of B that a matched device has its bulk, or the well side of a diode, on.
type netPair [2]netlist.Net

// wellNets returns the nets that element e has its loose terminal t on, each once; terminals on no net are left out.
func (p *pair) wellNets(s *side, e int32, t int) (nets []netlist.Net) {
	s.elemDevices(e, func(dev int32) {
		n := s.c.Devices[dev].Terminals[t]
		if n != netlist.NoNet && !slices.Contains(nets, n) {
			nets = append(nets, n)
		}
	})
	return nets
}

// wellTie is a matched element with the nets that one of its loose terminals is on. Only transistors in parallel can
// have several there.
type wellTie struct {
	elem     int32 // of A
	terminal int
	nets     [2][]netlist.Net
}

// eachWellTie calls f for every loose terminal of every matched element that is on some net in both circuits.
func (p *pair) eachWellTie(g *graph, m matching, f func(tie wellTie)) {
	for e := range int32(p.side[0].elements()) {
		loose := p.base(p.side[0], e).loose
		v := m[g.elems[0]+e]
		if loose == 0 || v < 0 || p.base(p.side[1], g.elem(v)).loose != loose {
			continue
		}
		for t := range 4 {
			if loose&(1<<t) == 0 {
				continue
			}
			tie := wellTie{e, t, [2][]netlist.Net{p.wellNets(p.side[0], e, t), p.wellNets(p.side[1], g.elem(v), t)}}
			if len(tie.nets[0]) > 0 && len(tie.nets[1]) > 0 {
				f(tie)
			}
		}
	}
}

// pairs returns the pairs of nets that must be related, all of them if one circuit has just one; open says that there
// are several in both, so that each must have some partner among the others.
func (tie wellTie) pairs() (pairs []netPair, open bool) {
	if len(tie.nets[0]) > 1 && len(tie.nets[1]) > 1 {
		return nil, true
	}
	for _, a := range tie.nets[0] {
		for _, b := range tie.nets[1] {
			pairs = append(pairs, netPair{a, b})
		}
	}
	return pairs, false
}

// mapped reports whether the graph has nets a and b, and m maps one to the other.
func (p *pair) mapped(g *graph, m matching, a, b netlist.Net) bool {
	v := g.vertex[0][a]
	return v >= 0 && m[v] >= 0 && m[v] == g.vertex[1][b]
}

// wellMap accepts pairs of well nets one by one, as long as they are consistent: see the rules in doc.go.
type wellMap struct {
	p       *pair
	g       *graph
	m       matching
	related map[netPair]bool
	first   [2]map[netlist.Net]netlist.Net // first partner of a net
	count   [2]map[netlist.Net]int         // number of its partners
	named   [2]map[netlist.Net]netlist.Net // partner of a net that is not soft, among such
}

// wellReport says what a matching makes of the wells.
type wellReport struct {
	wellMap
	refused map[netPair]bool // pairs that are not consistent with those that more devices speak for
	open    []wellTie        // ties with several nets on both sides that admit no consistent pairs
	gaveUp  bool             // too many ways to pair those
}

func (r *wellReport) hold() bool { return len(r.refused) == 0 && len(r.open) == 0 }

func (p *pair) judgeWells(g *graph, m matching) *wellReport {
	devices := map[netPair]int{}
	var open []wellTie
	p.eachWellTie(g, m, func(tie wellTie) {
		pairs, isOpen := tie.pairs()
		if isOpen {
			open = append(open, tie)
		}
		for _, n := range pairs {
			devices[n]++
		}
	})
	sorted := slices.SortedFunc(maps.Keys(devices), func(x, y netPair) int {
		return cmp.Or(devices[y]-devices[x], int(x[0]-y[0]), int(x[1]-y[1]))
	})
	r := &wellReport{wellMap: newWellMap(p, g, m), refused: map[netPair]bool{}}
	for _, n := range sorted {
		if !r.accept(n) {
			r.refused[n] = true
		}
	}
	steps := maxWellSteps
	covered := r.cover(open, 0, &steps)
	if covered != nil {
		r.wellMap = *covered
		return r
	}
	r.gaveUp = steps <= 0
	for _, tie := range open {
		if steps = maxWellSteps; r.cover([]wellTie{tie}, 0, &steps) == nil {
			r.open = append(r.open, tie)
		}
	}
	if len(r.open) == 0 {
		r.open = open
	}
	return r
}

// maxWellSteps bounds the ways of pairing several bulks of transistors in parallel with several others.
const maxWellSteps = 10_000

// cover finds partners for all nets of ties, of which the first done nets of the first one have theirs. It returns the
// relation that it found, nil if there is none or if it has run out of steps.
func (w *wellMap) cover(ties []wellTie, done int, steps *int) *wellMap {
	if *steps--; *steps <= 0 {
		return nil
	}
	if len(ties) == 0 {
		return w
	}
	nets := ties[0].nets
	if done == len(nets[0])+len(nets[1]) {
		return w.cover(ties[1:], 0, steps)
	}
	side, n := 0, done
	if n >= len(nets[0]) {
		side, n = 1, n-len(nets[0])
	}
	candidate := func(other netlist.Net) netPair {
		if side == 0 {
			return netPair{nets[0][n], other}
		}
		return netPair{other, nets[1][n]}
	}
	for _, other := range nets[1-side] {
		if w.related[candidate(other)] {
			return w.cover(ties, done+1, steps)
		}
	}
	for _, other := range nets[1-side] {
		next := w.clone()
		if next.accept(candidate(other)) {
			if found := next.cover(ties, done+1, steps); found != nil {
				return found
			}
		}
	}
	return nil
}

func newWellMap(p *pair, g *graph, m matching) wellMap {
	w := wellMap{p: p, g: g, m: m, related: map[netPair]bool{}}
	for i := range 2 {
		w.first[i], w.count[i] = map[netlist.Net]netlist.Net{}, map[netlist.Net]int{}
		w.named[i] = map[netlist.Net]netlist.Net{}
	}
	return w
}

func (w *wellMap) clone() *wellMap {
	c := *w
	c.related = maps.Clone(w.related)
	for i := range 2 {
		c.first[i], c.count[i] = maps.Clone(w.first[i]), maps.Clone(w.count[i])
		c.named[i] = maps.Clone(w.named[i])
	}
	return &c
}

func (w *wellMap) accept(n netPair) bool {
	soft := [2]bool{w.p.side[0].soft[n[0]], w.p.side[1].soft[n[1]]}
	switch {
	case soft[0] || soft[1]:
		if !w.acceptSoft(n, soft) {
			return false
		}
	case w.g.vertex[0][n[0]] >= 0 || w.g.vertex[1][n[1]] >= 0:
		if !w.p.mapped(w.g, w.m, n[0], n[1]) {
			return false
		}
		w.related[n] = true
		return true
	default: // two named wells that nothing else touches: one to one
		for i := range 2 {
			if other, ok := w.named[i][n[i]]; ok && other != n[1-i] || w.oneOfSeveral(i, n[i]) {
				return false
			}
		}
		w.named[0][n[0]], w.named[1][n[1]] = n[1], n[0]
	}
	w.related[n] = true
	for i := range 2 {
		if w.count[i][n[i]]++; w.count[i][n[i]] == 1 {
			w.first[i][n[i]] = n[1-i]
		}
	}
	return true
}

// acceptSoft: a soft net stands for one net of the other circuit, or for several that only bulks touch and that are
// related to no other.
func (w *wellMap) acceptSoft(n netPair, soft [2]bool) bool {
	for i := range 2 {
		if w.oneOfSeveral(i, n[i]) {
			return false
		}
		if !soft[i] || w.count[i][n[i]] == 0 {
			continue
		}
		if !w.free(1-i, n[1-i]) || w.count[1-i][n[1-i]] > 0 {
			return false
		}
		if f := w.first[i][n[i]]; w.count[i][n[i]] == 1 && (!w.free(1-i, f) || w.count[1-i][f] > 1) {
			return false
		}
	}
	return true
}

// free reports whether only bulks touch net n of side i, and none of them is in the graph.
func (w *wellMap) free(i int, n netlist.Net) bool {
	return w.p.side[i].bulkOnly[n] && w.g.vertex[i][n] < 0
}

// oneOfSeveral reports whether net n of side i is one of several nets that a soft net stands for.
func (w *wellMap) oneOfSeveral(i int, n netlist.Net) bool {
	f, ok := w.first[i][n]
	return ok && w.p.side[1-i].soft[f] && w.count[1-i][f] > 1
}

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
		if s.tooMany(c) || s.standsForTwo(c, several) {
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
