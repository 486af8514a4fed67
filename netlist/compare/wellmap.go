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
	elem     [2]int32 // of A, and its partner
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
			tie := wellTie{[2]int32{e, g.elem(v)}, t,
				[2][]netlist.Net{p.wellNets(p.side[0], e, t), p.wellNets(p.side[1], g.elem(v), t)}}
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

// wellMap accepts pairs of well nets one by one, as long as they are consistent: see the rules in doc.go.
type wellMap struct {
	p       *pair
	g       *graph
	mapped  func(a, b netlist.Net) bool
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

// judgeWells judges the wells under a mapping, which may be partial; mapped says whether it maps a net of the graph to
// another, or still may.
func (p *pair) judgeWells(g *graph, m matching, mapped func(a, b netlist.Net) bool) *wellReport {
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
	r := &wellReport{wellMap: newWellMap(p, g, mapped), refused: map[netPair]bool{}}
	for _, n := range sorted {
		if !r.accept(n) {
			r.refused[n] = true
		}
	}
	if covered, gaveUp := r.coverAll(open); covered != nil {
		r.wellMap = *covered
		return r
	} else {
		r.gaveUp = gaveUp && len(r.refused) == 0
	}
	for _, tie := range open {
		if covered, _ := r.coverAll([]wellTie{tie}); covered == nil {
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

// coverAll finds partners for all nets of ties, so that the sizes of transistors on a net that is not soft agree with
// those on its partner. It returns the relation that it found, nil if there is none or if it gave up.
func (w *wellMap) coverAll(ties []wellTie) (covered *wellMap, gaveUp bool) {
	steps := maxWellSteps
	covered = w.cover(ties, 0, &steps, func(w *wellMap) bool {
		return !slices.ContainsFunc(ties, func(tie wellTie) bool { return !w.sizesFit(tie) })
	})
	return covered, covered == nil && steps <= 0
}

// sizesFit compares the sizes of transistors in parallel net by net, where a net and its partner have no other partner
// among those of the tie and neither is soft. Elements whose sizes do not agree as a whole are left to others.
func (w *wellMap) sizesFit(tie wellTie) bool {
	a, b := w.p.side[0], w.p.side[1]
	x, y := a.bundles(tie.elem[0]), b.bundles(tie.elem[1])
	if len(x) > 1 || !w.p.agreeBundles(a, x[0], b, y[0]) {
		return true
	}
	for _, n := range tie.nets[0] {
		partners := slices.DeleteFunc(slices.Clone(tie.nets[1]), func(m netlist.Net) bool { return !w.related[netPair{n, m}] })
		if len(partners) != 1 || a.soft[n] || b.soft[partners[0]] || slices.ContainsFunc(tie.nets[0],
			func(o netlist.Net) bool { return o != n && w.related[netPair{o, partners[0]}] }) {
			continue
		}
		dx, dy := a.onNet(x[0], tie.terminal, n), b.onNet(y[0], tie.terminal, partners[0])
		if dx != nil && dy != nil && !w.p.agreeFingers(simple, a, dx, b, dy) && !w.p.agreeFingers(effective, a, dx, b, dy) {
			return false
		}
	}
	return true
}

// onNet returns the transistors of a bundle that have terminal t on net n; nil if another has it on no net at all, so
// that it may belong to them.
func (s *side) onNet(bundle int32, t int, n netlist.Net) (devs []int32) {
	for _, dev := range s.devices(bundle) {
		switch s.c.Devices[dev].Terminals[t] {
		case n:
			devs = append(devs, dev)
		case netlist.NoNet:
			return nil
		}
	}
	return devs
}

// cover finds partners for all nets of ties, of which the first done nets of the first one have theirs. It returns the
// relation that it found and that holds, nil if there is none or if it has run out of steps.
func (w *wellMap) cover(ties []wellTie, done int, steps *int, holds func(*wellMap) bool) *wellMap {
	if *steps--; *steps <= 0 {
		return nil
	}
	if len(ties) == 0 {
		if holds(w) {
			return w
		}
		return nil
	}
	nets := ties[0].nets
	if done == len(nets[0])+len(nets[1]) {
		return w.cover(ties[1:], 0, steps, holds)
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
			return w.cover(ties, done+1, steps, holds)
		}
	}
	for _, other := range nets[1-side] {
		next := w.clone()
		if next.accept(candidate(other)) {
			if found := next.cover(ties, done+1, steps, holds); found != nil {
				return found
			}
		}
	}
	return nil
}

func newWellMap(p *pair, g *graph, mapped func(a, b netlist.Net) bool) wellMap {
	w := wellMap{p: p, g: g, mapped: mapped, related: map[netPair]bool{}}
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
		if !w.mapped(n[0], n[1]) {
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
