package recognise

import (
	"math"
	"slices"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// odds weighs partial fits. A full fit has all its joints, and chance hardly makes those. A partial one may be little more than some
// devices in a row, and of these every circuit is full: whatever nothing explains hangs together somehow. So a partial fit
// counts, in decibans,
//
//	  what its joints weigh (weigh)
//	− what the full fits weigh that it would take the place of
//	− for each of its other devices 10·log10 of how many there were to choose from: those of its kind that nothing explains;
//	  of those that look alike, with what is around them, one counts, as a cell that is placed often is drawn once
//	+ 10·log10(1 + n), where the pattern is there n times in full
//	+ for each port on a net on which that port of such a full fit lies, 10·log10 of all pins over those of such nets
//	− what its pieces cost
//	− 10·log10(k/(1+n)), where k fits of the pattern lack the same: that is no accident
//
// This is 10·log10 of how many fits are expected to be there, broken, over how many by chance. Two or three transistors that share
// a net each are near 0 by what joints and choices weigh, so that what is left of a small analog pattern is offered only where
// something closes a loop, or where the pattern is all around. What pieces cost is judgement.
type odds struct {
	ix     *index
	all    []candidate
	by     []int32              // by part: the fit of the cover that explains it; -1: none
	choice [parts.Kinds]float64 // by kind: decibans of the choices of those that nothing explains
	rail   [3]float64           // by parts.Rail: what a joint on the smallest of them weighs
	like   map[likeKey]*likes
	cost   float64 // the least that a piece may cost
}

type likeKey struct {
	pattern *library.Pattern
	mirror  bool
}

// likes are the full fits of the cover of one pattern.
type likes struct {
	fits  []*candidate
	lines []map[int32]bool // by port: the signal nets that it lies on
	worth []float64        // by port: the decibans of lying on one of them
}

func newOdds(ix *index, all []candidate, in []bool, cost float64) *odds {
	o := &odds{ix: ix, all: all, by: filled(len(ix.g.Parts)), like: map[likeKey]*likes{}, cost: cost}
	for i := range all {
		if !in[i] {
			continue
		}
		c := &all[i]
		for k, p := range c.parts {
			if p >= 0 && !c.context(k) {
				o.by[p] = int32(i)
			}
		}
		if c.plan != nil {
			k := likeKey{c.pattern, c.mirror}
			if o.like[k] == nil {
				o.like[k] = &likes{}
			}
			o.like[k].fits = append(o.like[k].fits, c)
		}
	}
	for _, l := range o.like {
		l.findLines(ix)
	}
	for k, n := range o.unlike() {
		o.choice[k] = 10 * math.Log10(1+float64(n))
	}
	for n, r := range ix.g.Rails {
		if d := ix.g.Degree(int32(n)); d > 0 && r != parts.Signal {
			o.rail[r] = max(o.rail[r], ix.decibans(d))
		}
	}
	return o
}

func (l *likes) findLines(ix *index) {
	ports := l.fits[0].pattern.Circuit.Ports
	l.lines, l.worth = make([]map[int32]bool, len(ports)), make([]float64, len(ports))
	for i, n := range ports {
		l.lines[i] = map[int32]bool{}
		pins := 0
		for _, c := range l.fits {
			if net := c.nets[n]; net >= 0 && ix.g.Rails[net] == parts.Signal && !l.lines[i][net] {
				l.lines[i][net] = true
				pins += ix.g.Degree(net)
			}
		}
		if pins > 0 {
			l.worth[i] = ix.decibans(pins)
		}
	}
}

// unlike counts the parts that nothing explains, by kind; of those that look alike, themselves and what is on their nets, one.
func (o *odds) unlike() (count [parts.Kinds]int) {
	g := o.ix.g
	mix := func(h, x uint64) uint64 {
		h = (h ^ x) * 0xff51afd7ed558ccd
		return h ^ h>>32
	}
	look := func(p int32, terminal int) uint64 { // a part as seen from one of its terminals, either end the same
		part := &g.Parts[p]
		_, last := part.Kind.Terminals()
		if part.Kind.Symmetric() && terminal == last {
			terminal = 0
		}
		sum := uint64(0)
		for t, n := range part.Nets {
			if part.Kind.Symmetric() && t == last {
				t = 0
			}
			if n >= 0 {
				sum += mix(uint64(t)+11, uint64(o.ix.seen[n]))
			}
		}
		return mix(mix(uint64(part.Kind)+3, uint64(terminal)), sum)
	}
	seen := map[uint64]bool{}
	for p := range g.Parts {
		if o.by[p] >= 0 {
			continue
		}
		h := uint64(0)
		for t, n := range g.Parts[p].Nets {
			if n < 0 {
				continue
			}
			around := uint64(0)
			if g.Rails[n] == parts.Signal && g.Degree(n) <= smallNet {
				for _, pin := range g.On(n) {
					around += look(pin.Part(), pin.Terminal())
				}
			}
			h += mix(look(int32(p), t), around)
		}
		if !seen[h] {
			seen[h] = true
			count[g.Parts[p].Kind]++
		}
	}
	return count
}

// of returns the odds of a partial fit, each of its pieces at the least cost and nothing else like it.
func (o *odds) of(c *candidate) float64 {
	w := c.weight - o.cost*float64(c.pieces())
	var against []int32
	for k, p := range c.parts {
		switch {
		case p < 0 || c.context(k):
		case o.by[p] < 0:
			w -= o.choice[o.ix.g.Parts[p].Kind]
		case !slices.Contains(against, o.by[p]):
			against = append(against, o.by[p])
			w -= o.all[o.by[p]].weight
		}
	}
	if l := o.like[likeKey{c.pattern, c.mirror}]; l != nil {
		w += 10 * math.Log10(1+float64(len(l.fits)))
		for i, n := range c.pattern.Circuit.Ports {
			if c.nets[n] >= 0 && l.lines[i][c.nets[n]] {
				w += l.worth[i]
			}
		}
	}
	return rounded(w)
}

// often returns by how much it speaks against k fits of a plan that they lack the same, where the pattern is there in full less often.
func (o *odds) often(pl *plan, k int) float64 {
	whole := 0
	if l := o.like[likeKey{pl.pattern, pl.mirror}]; l != nil {
		whole = len(l.fits)
	}
	return 10 * math.Log10(max(1, float64(k)/float64(1+whole)))
}

// worthwhile reports whether a partial fit explains what nothing does, and more than the full fits would that it takes the place of.
func (o *odds) worthwhile(c *candidate) bool {
	rest := c.weight - costUnseen*float64(c.pieces())
	news := false
	var against []int32
	for k, p := range c.parts {
		if p < 0 || c.context(k) {
			continue
		}
		if o.by[p] < 0 {
			news = true
		} else if !slices.Contains(against, o.by[p]) {
			against = append(against, o.by[p])
			rest -= o.all[o.by[p]].weight
		}
	}
	return news && rest > 0
}

// limit ends a search where whatever comes can no longer be worthwhile: hope, the most that the joints may come to weigh, falls
// as nets find their places; rival, what the full fits weigh that would be replaced, and choice, what choices of other devices weigh, rise.
type limit struct {
	o     *odds
	most  []float64 // by the plan's nets: the most that its joints may weigh
	least float64   // what the joints have to weigh beside that for the fit to have odds above 0
	extra float64   // the least that the pieces cost against full fits
}

// slack is for what is summed in another order.
const slack = 1e-3

// limitOf returns the limit of a search of an edited plan, and what there is to hope for; nil: nothing.
func (o *odds) limitOf(pl *plan) (*limit, float64) {
	pieces := 1.0
	if pl.edit.kind == without {
		pieces = float64(len(pl.edit.parts))
	}
	l := &limit{o: o, most: make([]float64, len(pl.nets)), least: o.cost * pieces, extra: costUnseen * pieces}
	hope := 0.0
	for n := range pl.nets {
		l.most[n] = o.most(&pl.nets[n])
		hope += l.most[n]
	}
	if k := o.like[likeKey{pl.pattern, pl.mirror}]; k != nil {
		l.least -= 10 * math.Log10(1+float64(len(k.fits)))
		for i, n := range pl.pattern.Circuit.Ports {
			if len(pl.nets[n].pins) > 0 {
				l.least -= k.worth[i]
			}
		}
	}
	if hope-l.least <= -slack {
		return nil, 0
	}
	return l, hope
}

// most returns the most that the joints on a net of a plan may weigh: on the smallest net that it may lie on.
func (o *odds) most(net *planNet) float64 {
	n := float64(len(net.pins))
	if n == 0 || net.class == loosePort {
		return 0
	}
	joint := (n - 1) * o.ix.decibans(max(net.needed, 1))
	switch net.class {
	case supplyPort:
		if o.ix.haveSupply {
			return n * o.rail[parts.Supply]
		}
	case groundPort:
		if o.ix.haveGround {
			return n * o.rail[parts.Ground]
		}
	case anyPort:
		return max(joint, n*o.rail[parts.Supply], n*o.rail[parts.Ground])
	}
	return joint
}

// worthIt takes into account that part i of the plan lies on part q, which gave nets their places, and reports whether to go on.
func (l *limit) worthIt(s *search, i int, q int32, b bound) bool {
	for _, n := range b.nets[:b.n] {
		s.hope += s.ix.weighNet(s.nets[n], len(s.pl.nets[n].pins)) - l.most[n]
		if s.pl.nets[n].class == inner && s.ix.g.Port[s.nets[n]] {
			s.hope -= innerPort
		}
	}
	switch k := l.o.by[q]; {
	case s.pl.parts[i].context:
	case k < 0:
		s.choice += l.o.choice[s.ix.g.Parts[q].Kind]
	case !l.counted(s, k):
		s.rival += l.o.all[k].weight
	}
	return s.hope-s.rival-max(l.extra, l.least+s.choice) > -slack
}

// hopeful returns those classes of seeds of an order from which there is something to hope for.
func (l *limit) hopeful(from *index, pl *plan, o order, hope float64) []int32 {
	if len(o.seeds) == 0 {
		return nil
	}
	first := &pl.parts[o.steps[0].part]
	var kept []int32
	for _, k := range o.seeds {
		p := &from.g.Parts[from.class(int(k))[0]]
		n, last := p.Kind.Terminals()
		for turn := range 2 {
			if turn == 1 && !p.Kind.Symmetric() {
				break
			}
			left := hope
			if from.free {
				left -= l.o.choice[p.Kind]
			}
			for t := range n {
				net, on := first.nets[t], p.Nets[turned(t, turn, last)]
				if t > 0 && net == first.nets[t-1] || t == 2 && net == first.nets[0] {
					continue
				}
				degree := min(int(from.seen[on]>>2), seenDegree) // of the others in the class it may be another from there on
				left += from.joints(degree, parts.Rail(from.seen[on]&3), len(pl.nets[net].pins)) - l.most[net]
			}
			if left-l.least > -slack && left-l.extra > -slack {
				kept = append(kept, k)
				break
			}
		}
	}
	return kept
}

// counted reports whether a part that was laid before is in the full fit k, too.
func (l *limit) counted(s *search, k int32) bool {
	for i, p := range s.parts {
		if p >= 0 && !s.pl.parts[i].context && l.o.by[p] == k {
			return true
		}
	}
	return false
}
