package recognise

import (
	"context"
	"slices"

	"undermetal/recognise/parts"
)

// maxTrials is how many parts are tried from one seed; only patterns whose ports lead through one large net after another come near.
// After manyCut seeds of one search were given up, a hundredth of that is enough for each.
const (
	maxTrials = 200_000
	manyCut   = 20
)

// search lays one plan on the circuit.
type search struct {
	ix     *index
	pl     *plan
	steps  []step
	parts  []int32
	nets   []int32
	used   []bool // by part of the circuit
	tried  int
	cut    int // seeds given up
	found  func(s *search)
	extras []int32
	limit  *limit // nil: nothing is too light
	hope   float64
	rival  float64
	choice float64
}

// run lays the plan on the circuit in all ways that begin at a part of the index.
func (ix *index) run(ctx context.Context, pl *plan, used []bool, found func(*search)) (cut int, err error) {
	o, err := ix.orderOf(pl)
	if err != nil || len(o.seeds) == 0 {
		return 0, err
	}
	s := ix.newSearch(pl, used, found)
	err = s.follow(ctx, ix, o)
	return s.cut, err
}

func (ix *index) newSearch(pl *plan, used []bool, found func(*search)) *search {
	return &search{ix: ix, pl: pl, used: used, found: found, parts: filled(len(pl.parts)), nets: filled(len(pl.nets))}
}

// follow searches in one order from its seeds, which are classes of the index from.
func (s *search) follow(ctx context.Context, from *index, o order) error {
	s.steps = o.steps
	for _, k := range o.seeds {
		for i, seed := range from.class(int(k)) {
			if i&0xfff == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if s.tried = 0; s.cut >= manyCut {
				s.tried = maxTrials - maxTrials/100
			}
			s.try(0, seed)
			if s.tried > maxTrials {
				s.cut++
			}
		}
	}
	return nil
}

func filled(n int) []int32 {
	s := make([]int32, n)
	for i := range s {
		s[i] = -1
	}
	return s
}

// step lays the k-th part and those after it.
func (s *search) step(k int) {
	if k == len(s.steps) {
		s.finish()
		return
	}
	net := s.nets[s.steps[k].via]
	on := s.ix.g.On(net)
	if len(on) > walkPins {
		return
	}
	last := int32(-1)
	for _, p := range on { // pins of one part stand side by side
		if q := p.Part(); q != last {
			last = q
			if s.tried++; s.tried > maxTrials {
				return
			}
			s.try(k, q)
			if s.tried > maxTrials {
				return
			}
		}
	}
}

// try lays the part of step k on part q of the circuit, in both directions.
func (s *search) try(k int, q int32) {
	i := s.steps[k].part
	pp, p := &s.pl.parts[i], &s.ix.g.Parts[q]
	if pp.kinds>>p.Kind&1 == 0 || s.used[q] {
		return
	}
	for turn := range 2 {
		if turn == 1 && !p.Kind.Symmetric() {
			break
		}
		if bound, ok := s.bind(pp, p, turn); ok {
			hope, rival, choice := s.hope, s.rival, s.choice
			if s.limit == nil || s.limit.worthIt(s, i, q, bound) {
				s.parts[i], s.used[q] = q, true
				s.step(k + 1)
				s.parts[i], s.used[q] = -1, false
			}
			s.hope, s.rival, s.choice = hope, rival, choice
			s.unbind(bound)
		}
	}
}

// bound is the nets that one part has given a place.
type bound struct {
	nets [3]int
	n    int
}

// bind gives the nets of a part their places, if that can be.
func (s *search) bind(pp *planPart, p *parts.Part, turn int) (b bound, ok bool) {
	n, last := p.Kind.Terminals()
	for t := range n {
		net, target := pp.nets[t], p.Nets[turned(t, turn, last)]
		if s.nets[net] >= 0 {
			if s.nets[net] == target {
				continue
			}
			s.unbind(b)
			return b, false
		}
		if !s.ix.netFits(s.pl, net, target) || !s.free(net, target) {
			s.unbind(b)
			return b, false
		}
		s.nets[net] = target
		b.nets[b.n] = net
		b.n++
	}
	return b, true
}

func (s *search) unbind(b bound) {
	for _, n := range b.nets[:b.n] {
		s.nets[n] = -1
	}
}

// free reports whether no other net of the plan lies on target but one that may.
func (s *search) free(net int, target int32) bool {
	for m, t := range s.nets {
		if t == target && !slices.Contains(s.pl.nets[net].mayEqual, m) {
			return false
		}
	}
	return true
}

// finish lays the optional parts, looks for pieces too many, and tells what was found.
func (s *search) finish() {
	var undo []bound
	var laid []int
	for i := range s.pl.parts {
		if s.pl.parts[i].optional {
			if b, ok := s.layOptional(i); ok {
				undo, laid = append(undo, b), append(laid, i)
			}
		}
	}
	if s.complete() {
		s.found(s)
	}
	for k, i := range laid {
		s.used[s.parts[i]] = false
		s.parts[i] = -1
		s.unbind(undo[k])
	}
}

// layOptional lays an optional part on the first part of the circuit that it fits.
func (s *search) layOptional(i int) (bound, bool) {
	pp := &s.pl.parts[i]
	for _, net := range pp.nets {
		if net < 0 || s.nets[net] < 0 || s.pl.walkRank(net) == 0 {
			continue
		}
		on := s.ix.g.On(s.nets[net])
		if len(on) > walkPins {
			continue
		}
		for _, pin := range on {
			q := pin.Part()
			p := &s.ix.g.Parts[q]
			if s.used[q] || pp.kinds>>p.Kind&1 == 0 {
				continue
			}
			for turn := range 2 {
				if turn == 1 && !p.Kind.Symmetric() {
					break
				}
				if b, ok := s.bind(pp, p, turn); ok {
					s.parts[i], s.used[q] = q, true
					return b, true
				}
			}
		}
	}
	return bound{}, false
}

// complete reports whether nothing lies on inner nets but what was laid there, or no more than the plan allows.
func (s *search) complete() bool {
	s.extras = s.extras[:0]
	for n := range s.pl.nets {
		if s.pl.nets[n].class != inner || s.nets[n] < 0 {
			continue
		}
		for _, pin := range s.ix.g.On(s.nets[n]) {
			q := pin.Part()
			if !s.used[q] && !slices.Contains(s.extras, q) {
				if len(s.extras) == s.pl.edit.extras {
					return false
				}
				s.extras = append(s.extras, q)
			}
		}
	}
	return s.pl.edit.kind != withMore || len(s.extras) > 0
}
