package schematic

import (
	"maps"
	"slices"

	"undermetal/netlist"
)

// find collects nets, groups and pairs of seats whose places go together.
func (a *annealer) find() {
	byNet := map[netlist.Net]int{}
	add := func(n netlist.Net, i int, pin uint8) {
		if n == netlist.NoNet || !a.p.wired(n) {
			return
		}
		k, ok := byNet[n]
		if !ok {
			k = len(a.nets)
			byNet[n] = k
			var an annealNet
			if a.p.ports[n] {
				an.pull = -portWay
				if a.p.leaves(n) {
					an.pull = portWay
				}
			}
			a.nets = append(a.nets, an)
		}
		a.nets[k].pins = append(a.nets[k].pins, pinOf{i, pin})
		if pin < 2 {
			a.nets[k].driven = true
		}
	}
	number := map[int]int{}
	a.pack = make([]int, len(a.seats))
	for i, k := range a.seats {
		a.pack[i] = -1
		g, ok := a.p.groupOf(k)
		if !ok {
			continue
		}
		at, ok := number[g]
		if !ok {
			at = len(a.packs)
			number[g] = at
			a.packs = append(a.packs, nil)
		}
		a.pack[i] = at
		a.packs[at] = append(a.packs[at], i)
	}
	a.tails = a.p.findTails(a.seats)
	gates, sources := map[netlist.Net][]int{}, map[netlist.Net][]int{}
	for i, k := range a.seats {
		add(k.upper, i, 0)
		add(k.lower, i, 1)
		if !a.p.clocked(k) {
			add(k.gate, i, 2)
		}
		if k.gate != netlist.NoNet && !k.sideways {
			gates[k.gate] = append(gates[k.gate], i)
			if s := k.source(); s != netlist.NoNet && !a.p.rail(s) {
				sources[s] = append(sources[s], i)
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(gates)) {
		i := gates[n]
		if len(i) > mostEnds {
			continue
		}
		mirrors := slices.ContainsFunc(i, func(j int) bool { return a.seats[j].drain() == n })
		for x, u := range i {
			for _, v := range i[x+1:] {
				kind := uint8(stackPair)
				if a.seats[u].row == a.seats[v].row {
					kind = facePair
					if a.seats[u].kind != a.seats[v].kind || len(i) > 2 && !mirrors {
						continue
					}
				}
				a.pairs = append(a.pairs, annealPair{u, v, kind, 0})
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(sources)) {
		i := sources[n]
		if len(i) > mostEnds {
			continue
		}
		for x, u := range i {
			for _, v := range i[x+1:] {
				if a.seats[u].row == a.seats[v].row && a.seats[u].gate != a.seats[v].gate && a.seats[u].source() == a.seats[v].source() && !crossed(a.seats[u], a.seats[v]) {
					a.pairs = append(a.pairs, annealPair{u, v, tailPair, 0})
				}
			}
		}
	}
	cross := make([]bool, len(a.seats))
	for i, u := range a.seats {
		for j := range i {
			v := a.seats[j]
			if u.row == v.row && u.kind == v.kind && !u.sideways && !v.sideways && crossed(u, v) {
				a.pairs = append(a.pairs, annealPair{j, i, crossPair, 0})
				cross[i], cross[j] = true, true
				for o, w := range a.seats {
					for _, n := range [...]netlist.Net{w.upper, w.lower} {
						if w.sideways && n == u.drain() {
							a.pairs = append(a.pairs, annealPair{o, i, outPair, j})
						} else if w.sideways && n == v.drain() {
							a.pairs = append(a.pairs, annealPair{o, j, outPair, i})
						}
					}
				}
			}
		}
	}
	for _, n := range a.nets {
		for _, u := range n.pins {
			for _, v := range n.pins {
				if u.pin == 1 && v.pin == 0 && !a.seats[u.part].sideways && !a.seats[v.part].sideways && a.seats[u.part].row < a.seats[v.part].row {
					kind := uint8(joinPair)
					if len(n.pins) == 2 || cross[u.part] && cross[v.part] {
						kind = onlyPair
					}
					a.pairs = append(a.pairs, annealPair{u.part, v.part, kind, 0})
				}
			}
		}
	}
}

// source returns the net of the source pin as drawn: of a p transistor the upper, of all others the lower one.
func (k *part) source() netlist.Net {
	if k.kind == netlist.PMOS {
		return k.upper
	}
	return k.lower
}

// drain returns the net of the drain pin as drawn.
func (k *part) drain() netlist.Net {
	if k.kind == netlist.PMOS {
		return k.lower
	}
	return k.upper
}
