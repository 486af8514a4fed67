package recognise

import (
	"fmt"
	"slices"
)

// step is one part to be laid on the circuit.
type step struct {
	part int
	via  int // the net that leads to it; -1: the first part
}

// order is the steps of a search and where it begins.
type order struct {
	steps []step
	seeds []int32 // classes of parts to begin at
	cost  int     // how many parts that are, more for each port that is followed
}

// orderOf chooses where to begin, at the part that is like the fewest of the circuit, and which nets to follow: inner nets first,
// which are small by nature, then other ports, supplies never. A general search that walks through a supply takes thousands
// of times as long.
func (ix *index) orderOf(pl *plan) (order, error) {
	if pl.foreign(ix.kinds) > 0 {
		return order{}, nil
	}
	var room [24]seeds // most patterns have no more parts
	begin := room[:0]
	for i := range pl.parts { // most patterns have a part that nothing in a small circuit is like
		var at seeds
		if !pl.parts[i].optional {
			if at = ix.seedsFor(pl, i); at.count == 0 && !ix.few { // few: it may lie elsewhere
				return order{}, nil
			}
		}
		begin = append(begin, at)
	}
	best, fewest := order{}, -1
	for i := range pl.parts {
		if begin[i].count == 0 {
			continue
		}
		steps, ports, ok := pl.begin(i)
		if !ok {
			return order{}, fmt.Errorf("pattern %s falls into pieces that only supplies join", pl.pattern.Name)
		}
		if cost := begin[i].count * (1 + 3*ports); fewest < 0 || cost < fewest {
			best, fewest = order{steps, begin[i].classes, cost}, cost
		}
	}
	return best, nil
}

// ordersOf returns an order for each part that must be there: whatever lies on a part of the index is found from that one.
func (ix *index) ordersOf(pl *plan) (all []order, cost int, err error) {
	if pl.foreign(ix.kinds) > 0 {
		return nil, 0, nil
	}
	for i := range pl.parts {
		if pl.parts[i].optional {
			continue
		}
		s := ix.seedsFor(pl, i)
		if s.count == 0 {
			continue
		}
		steps, ports, ok := pl.begin(i)
		if !ok {
			return nil, 0, fmt.Errorf("pattern %s falls into pieces that only supplies join", pl.pattern.Name)
		}
		o := order{steps, s.classes, s.count * (1 + 3*ports)}
		all = append(all, o)
		cost += o.cost
	}
	return all, cost, nil
}

// foreign returns how many parts that must be there are of no kind that there is.
func (pl *plan) foreign(kinds uint32) int {
	n := 0
	for i := range pl.parts {
		if !pl.parts[i].optional && pl.parts[i].kinds&kinds == 0 {
			n++
		}
	}
	return n
}

// begin is from, which is kept of a pattern's own plans.
func (pl *plan) begin(i int) (steps []step, ports int, ok bool) {
	if pl.begins != nil {
		b := &pl.begins[i]
		return b.steps, b.ports, b.ok
	}
	return pl.from(i)
}

// beginning is what from returns.
type beginning struct {
	steps []step
	ports int
	ok    bool
}

// from returns the steps of a search that begins at part i, and how many of them follow a port; ok: they reach all parts
// that must be there.
func (pl *plan) from(i int) (steps []step, ports int, ok bool) {
	steps = []step{{i, -1}}
	placed := make([]bool, len(pl.parts))
	known := make([]bool, len(pl.nets))
	place := func(k int) {
		placed[k] = true
		for _, n := range pl.parts[k].nets {
			if n >= 0 {
				known[n] = true
			}
		}
	}
	place(i)
	for len(steps) < pl.size {
		next := step{-1, -1}
		rank := 0
		for n := range pl.nets {
			if !known[n] {
				continue
			}
			r := pl.walkRank(n)
			if r <= rank {
				continue
			}
			for _, at := range pl.nets[n].pins {
				if !placed[at.part] && !pl.parts[at.part].optional {
					next, rank = step{at.part, n}, r
					break
				}
			}
		}
		if next.part < 0 {
			return nil, 0, false
		}
		if pl.nets[next.via].class != inner {
			ports++
		}
		place(next.part)
		steps = append(steps, next)
	}
	return steps, ports, true
}

// walkRank says how gladly a net is followed; 0: never.
func (pl *plan) walkRank(n int) int {
	switch pl.nets[n].class {
	case inner:
		return 100 - min(len(pl.nets[n].pins), 50)
	case signalPort:
		return 20
	case anyPort:
		return 10
	}
	return 0
}

// connected reports whether the plan hangs together without supplies.
func (pl *plan) connected() bool {
	i := slices.IndexFunc(pl.parts, func(p planPart) bool { return !p.optional })
	if i < 0 {
		return false
	}
	_, _, ok := pl.from(i)
	return ok
}
