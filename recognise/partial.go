package recognise

import (
	"cmp"
	"context"
	"slices"

	"golang.org/x/sync/errgroup"

	"undermetal/recognise/parts"
)

// What a piece that is missing, or there beside, costs a partial fit, in decibans: how much less often that happens than nothing, where
// the place was looked at and where it was not. Judgement.
const (
	costSeen   = 12
	costUnseen = 3
)

const (
	leastParts  = 2   // a partial fit has at least these
	leastWhole  = 3   // and its pattern these, context left out: what lacks one of two is anything
	maxEdits    = 400 // edited copies of one plan
	nearUnknown = 4   // a partial fit begins no more nets than these from an unexplained part
	smallNet    = 64  // and no larger ones
	sameTimes   = 3   // how many partial fits are offered for the same parts
)

// edits returns copies of a plan from which pieces are missing, or that may have pieces too many, at most n together.
func (pl *plan) edits(n int) []*plan {
	var all []*plan
	if pl.own() < leastWhole {
		return nil
	}
	add := func(q *plan) {
		q.wire()
		if len(all) < maxEdits && q.size >= leastParts && 2*q.size >= pl.size && q.connected() {
			all = append(all, q)
		}
	}
	more := pl.clone()
	more.whole = pl
	more.edit = edit{kind: withMore, extras: n}
	add(more)
	for i := range pl.parts {
		for t, net := range pl.parts[i].nets {
			if net >= 0 && pl.maydetach(i, net) {
				add(pl.detached(i, t, n-1))
			}
		}
	}
	var drop func(from int, gone []int)
	drop = func(from int, gone []int) {
		if len(gone) > 0 {
			add(pl.lacking(gone, n-len(gone)))
		}
		if len(gone) == n {
			return
		}
		for i := from; i < len(pl.parts); i++ {
			if !pl.parts[i].optional && !pl.parts[i].context {
				drop(i+1, append(slices.Clone(gone), i))
			}
		}
	}
	drop(0, nil)
	return all
}

// edited is edits, which are kept where there is one piece and the plan is of the library.
func (pl *plan) edited(n int) []*plan {
	if n == 1 && pl.byOne != nil {
		return pl.byOne()
	}
	return pl.edits(n)
}

// own is how many parts of the plan must be there, context left out.
func (pl *plan) own() int {
	n := 0
	for i := range pl.parts {
		if !pl.parts[i].optional && !pl.parts[i].context {
			n++
		}
	}
	return n
}

// maydetach reports whether a terminal of part i may have come off a net: one that others of the pattern are on, too, or a supply.
func (pl *plan) maydetach(i, net int) bool {
	if pl.parts[i].optional || pl.parts[i].context {
		return false
	}
	c := pl.nets[net].class
	return pl.nets[net].needed > 1 || c == supplyPort || c == groundPort
}

// detached is the plan with one terminal on a net that has nothing else.
func (pl *plan) detached(part, terminal, extras int) *plan {
	q := pl.clone()
	q.whole = pl
	net := q.parts[part].nets[terminal]
	q.edit = edit{kind: loose, part: part, terminal: terminal, net: net, extras: extras}
	q.parts[part].nets[terminal] = len(q.nets)
	q.nets = append(q.nets, planNet{class: loosePort, port: -1})
	return q
}

// lacking is the plan without some parts. They stay in the list, so that parts keep their numbers, but as optional ones of no kind.
func (pl *plan) lacking(gone []int, extras int) *plan {
	q := pl.clone()
	q.whole = pl
	q.edit = edit{kind: without, parts: gone, extras: extras}
	for _, i := range gone {
		q.parts[i].optional, q.parts[i].kinds = true, 0
		q.parts[i].nets = [3]int{-1, -1, -1}
	}
	return q
}

// pieces is how many pieces a candidate lacks or has too many.
func (c *candidate) pieces() int {
	n := len(c.extra)
	switch c.plan.edit.kind {
	case without:
		n += len(c.plan.edit.parts)
	case loose:
		n++
	}
	return n
}

// partialFits returns the fits of patterns that lack pieces or have some too many. One is offered only where it explains a part that
// no full fit explains, more than the full fits do that it would take the place of, and where its odds are above 0.
func (f *finder) partialFits(ctx context.Context, all []candidate, in []bool) ([]Fit, error) {
	cost := float64(costSeen)
	if f.opt.Looked != nil {
		cost = costUnseen
	}
	o := newOdds(f.ix, all, in, cost)
	h := &hunt{o: o, near: f.ix.only(f.nearUnexplained(o.by)), free: f.ix.only(unexplained(o.by))}
	h.free.free = true
	found := make([][]candidate, len(f.opt.Patterns))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(f.opt.Workers)
	done := 0
	for i, p := range f.opt.Patterns {
		g.Go(func() error {
			plans, err := plansOf(p)
			if err != nil {
				return err
			}
			used := f.borrow()
			b := newHeap(o)
			for _, whole := range plans {
				if whole.foreign(f.ix.kinds) > f.opt.Missing {
					continue
				}
				for _, pl := range whole.edited(f.opt.Missing) {
					if err := h.run(ctx, pl, used, b.take); err != nil {
						return err
					}
				}
			}
			f.giveBack(used)
			found[i] = b.all
			f.mu.Lock()
			done++
			share := float64(done) / float64(len(f.opt.Patterns))
			f.mu.Unlock()
			f.tell(0.8 + 0.15*share)
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	pl := newPlacer(f, o)
	var fits []Fit
	var on [][]int32
	for _, cs := range found {
		same := map[*plan]int{}
		for i := range cs {
			same[cs[i].plan]++
		}
		for i := range cs {
			fit := f.fit(&cs[i])
			pl.name(&fit, &cs[i])
			fit.Ports = portsOf(&cs[i])
			fit.Weight = o.of(&cs[i]) - o.often(cs[i].plan, same[cs[i].plan])
			for _, p := range slices.Concat(fit.Missing, fit.Extra) {
				if p.Looked {
					fit.Weight += cost - costSeen
				} else {
					fit.Weight += cost - costUnseen
				}
			}
			if fit.Weight > 0 {
				fits = append(fits, fit)
				on = append(on, ownParts(nil, cs[i].plan, cs[i].parts))
			}
		}
	}
	return bestPartial(fits, on), nil
}

// hunt searches for edited plans.
type hunt struct {
	o    *odds
	near *index // seeds not far from parts that nothing explains
	free *index // seeds are these parts themselves
}

// run lays an edited plan on the circuit in all ways that may be worth it. These explain a part that nothing does, and so are found from
// each such part in turn; or from the rarest part near them, where that takes less, or where the part may be an optional one.
func (h *hunt) run(ctx context.Context, pl *plan, used []bool, found func(*search)) error {
	if pl.foreign(h.near.kinds) > 0 {
		return nil
	}
	l, hope := h.o.limitOf(pl)
	if l == nil {
		return nil
	}
	one, err := h.near.orderOf(pl)
	if err != nil {
		return err
	}
	from, orders := h.near, []order{one}
	if !slices.ContainsFunc(pl.whole.parts, func(p planPart) bool { return p.optional }) {
		each, cost, err := h.free.ordersOf(pl)
		if err != nil {
			return err
		}
		if cost < one.cost {
			from, orders = h.free, each
		}
	}
	s := h.near.newSearch(pl, used, found)
	s.limit, s.hope = l, hope
	for _, o := range orders {
		o.seeds = l.hopeful(from, pl, o, hope)
		if err := s.follow(ctx, from, o); err != nil {
			return err
		}
	}
	return nil
}

// heap collects the partial fits of one pattern that are worthwhile, of those on the same parts the one with the best odds.
type heap struct {
	bag
	o    *odds
	odds []float64
}

func newHeap(o *odds) *heap { return &heap{bag: *newBag(), o: o} }

// take adds what a search has found. Which of equals stays does not depend on where the search began.
func (b *heap) take(s *search) {
	c := candidate{pattern: s.pl.pattern, plan: s.pl, mirror: s.pl.mirror, parts: s.parts, nets: s.nets, extra: s.extras}
	c.weight = weigh(s.ix, s.pl, c.parts, c.nets)
	odds := b.o.of(&c)
	if odds <= 0 || !b.o.worthwhile(&c) {
		return
	}
	h, at := b.find(s.pl, s.parts)
	if at >= 0 && !b.better(&c, odds, int(at)) || at < 0 && !b.room(s) {
		return
	}
	c.parts, c.nets, c.extra = b.keep(s.parts), b.keep(s.nets), b.keep(s.extras)
	if at >= 0 {
		b.all[at], b.odds[at] = c, odds
		return
	}
	b.see(h)
	b.all, b.odds = append(b.all, c), append(b.odds, odds)
}

func (b *heap) better(c *candidate, odds float64, at int) bool {
	old := &b.all[at]
	order := cmp.Or(cmp.Compare(odds, b.odds[at]), cmp.Compare(old.pieces(), c.pieces()))
	if order == 0 && old.plan == c.plan {
		order = cmp.Or(slices.Compare(old.parts, c.parts), slices.Compare(old.nets, c.nets))
	}
	return order > 0
}

func unexplained(by []int32) []bool {
	free := make([]bool, len(by))
	for p, c := range by {
		free[p] = c < 0
	}
	return free
}

// bestPartial orders fits by their weight, and leaves out those on parts that better ones have been offered for often enough.
func bestPartial(fits []Fit, on [][]int32) []Fit {
	order := make([]int, len(fits))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(fits[b].Weight, fits[a].Weight), cmp.Compare(len(on[b]), len(on[a])), cmp.Compare(fits[a].Pattern.Name, fits[b].Pattern.Name),
			slices.Compare(on[a], on[b]))
	})
	times := map[int32]int{}
	var kept []Fit
	for _, i := range order {
		fresh := false
		for _, p := range on[i] {
			fresh = fresh || times[p] < sameTimes
		}
		if !fresh {
			continue
		}
		for _, p := range on[i] {
			times[p]++
		}
		kept = append(kept, fits[i])
	}
	return kept
}

// nearUnexplained marks the parts that are few small nets from one that nothing explains.
func (f *finder) nearUnexplained(by []int32) []bool {
	g := f.ix.g
	near := make([]bool, len(g.Parts))
	var layer []int32
	for p := range g.Parts {
		if by[p] < 0 {
			near[p] = true
			layer = append(layer, int32(p))
		}
	}
	for range nearUnknown {
		var next []int32
		for _, p := range layer {
			for _, n := range g.Parts[p].Nets {
				if n < 0 || g.Rails[n] != parts.Signal || g.Degree(n) > smallNet {
					continue
				}
				for _, pin := range g.On(n) {
					if q := pin.Part(); !near[q] {
						near[q] = true
						next = append(next, q)
					}
				}
			}
		}
		layer = next
	}
	return near
}
