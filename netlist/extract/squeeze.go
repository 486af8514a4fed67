package extract

import (
	"cmp"
	"slices"

	"undermetal/layout/sweep"
)

// swept is what is kept of a strip: as small as it can be, with one node for each region instead of one for each piece
// that the sweep went through, and one record where several speak of the same.
type swept struct {
	pieces []piece // by node; 0 is none
	spans  []span
	walls  []wall
	records
	clip        sweep.Clip
	left, right rims
	base        node // what is to be added to a node once the strips are merged
}

// squeeze makes swept of what a collector has heard. Its memory is used again.
type squeeze struct {
	to []node // by node: its number afterwards, 0 for those that are gone
	on []node // by node: the conductor that a contact which is gone is on

	nodes  []node  // of rims
	sorted []cover // by root
}

func (q *squeeze) run(c *collector) *swept {
	s := &swept{clip: c.clip}
	for n := node(1); int(n) < len(c.parent); n++ {
		if r := c.find(n); r != n {
			c.gather(r, n)
		}
	}
	covers := q.covers(c)
	q.landed(c, covers)
	q.number(c, s)
	for _, v := range covers {
		if q.to[v.of] != 0 {
			v.of, v.on = q.to[v.of], q.to[v.on]
			s.covers = append(s.covers, v)
		}
	}
	s.covers = slices.Clip(s.covers)
	s.tags = q.tags(c)
	s.spans = slices.Clone(c.spans)
	for i := range s.spans {
		p := &s.spans[i]
		p.channel, p.diffusion = q.to[p.channel], q.to[p.diffusion]
	}
	s.walls = slices.Clone(c.walls)
	for i := range s.walls {
		w := &s.walls[i]
		w.of, w.channel = q.to[w.of], q.to[w.channel]
	}
	s.boxes = slices.Clone(c.joined.done())
	for i := range s.boxes {
		s.boxes[i].of = q.to[s.boxes[i].of]
	}
	for _, f := range c.found {
		root := c.find(f.node)
		if c.pieces[root].there && q.to[root] != 0 { // else a mere touch of the strip's border, or a contact that is gone
			s.found = append(s.found, found{f.probe, q.to[root]})
		}
	}
	s.left, s.right = q.rims(&c.left), q.rims(&c.right)
	return s
}

// landed finds the contacts that lie within the strip on one piece of the one conductor that they can reach in this
// group: nothing about them is left to decide, and their conductor can stand for them.
func (q *squeeze) landed(c *collector, covers []cover) {
	q.on = slices.Grow(q.on[:0], len(c.parent))[:len(c.parent)]
	clear(q.on)
	for lo := 0; lo < len(covers); {
		hi, of := lo, covers[lo].of
		for hi < len(covers) && covers[hi].of == of {
			hi++
		}
		if c.group.regions[c.pieces[of].region].direct && covers[lo].on == covers[hi-1].on { // they are in order
			q.on[of] = covers[lo].on
		}
		lo = hi
	}
	for _, r := range []*rims{&c.left, &c.right} {
		for _, n := range r.nodes {
			q.on[c.find(n)] = 0
		}
	}
}

// number gives new numbers to the roots that stay, in their order.
func (q *squeeze) number(c *collector, s *swept) {
	q.to = slices.Grow(q.to[:0], len(c.parent))[:len(c.parent)]
	q.to[0] = 0
	count := node(1)
	for n := node(1); int(n) < len(c.parent); n++ {
		switch r := c.find(n); {
		case r != n:
			q.to[n] = q.to[r] // the root is the oldest
		case q.on[n] != 0:
			q.to[n] = 0
		default:
			q.to[n] = count
			count++
		}
	}
	s.pieces = make([]piece, count)
	for n, to := range q.to {
		if to != 0 && c.parent[n] == node(n) {
			s.pieces[to] = c.pieces[n]
			s.pieces[to].group = c.group.index
		}
	}
}

// gather adds the measures of piece n to those of piece r.
func (f *forest) gather(r, n node) {
	p, q := &f.pieces[n], &f.pieces[r]
	q.area += p.area
	q.perimeter += p.perimeter
	q.open = q.open || p.open
	q.there = q.there || p.there
	f.place(r, p.x, p.y)
}

// rims renumbers rims. Those that follow each other with the same inside become one.
func (q *squeeze) rims(all *rims) rims {
	slices.SortFunc(all.list, func(a, b rim) int { return cmp.Compare(a.y0, b.y0) })
	kept := rims{all.list[:0], q.nodes[:0]}
	for _, r := range all.list {
		nodes := all.of(r)
		for i, n := range nodes {
			nodes[i] = q.to[n]
		}
		if k := len(kept.list) - 1; k >= 0 {
			if last := &kept.list[k]; last.y1 == r.y0 && last.mask == r.mask && slices.Equal(kept.of(*last), nodes) {
				last.y1 = r.y1
				continue
			}
		}
		r.first = int32(len(kept.nodes))
		kept.list, kept.nodes = append(kept.list, r), append(kept.nodes, nodes...)
	}
	q.nodes = kept.nodes
	return rims{slices.Clone(kept.list), slices.Clone(kept.nodes)}
}

// covers returns what the collector has heard of covers, by root, one record for each pair of regions and mask.
func (q *squeeze) covers(c *collector) []cover {
	next := slices.Grow(q.to[:0], len(c.parent)+1)[:len(c.parent)+1] // by root: where its next record goes; not yet numbers
	clear(next)
	for i := range c.covers {
		v := &c.covers[i]
		v.of, v.on = c.find(v.of), c.find(v.on)
		next[v.of+1]++
	}
	for i := range c.parent {
		next[i+1] += next[i]
	}
	sorted := slices.Grow(q.sorted[:0], len(c.covers))[:len(c.covers)]
	for _, v := range c.covers {
		sorted[next[v.of]] = v
		next[v.of]++
	}
	q.to, q.sorted = next, sorted
	kept := c.covers[:0]
	for lo := 0; lo < len(sorted); {
		hi := int(next[sorted[lo].of])
		if hi-lo > 1 {
			slices.SortFunc(sorted[lo:hi], func(a, b cover) int {
				return cmp.Or(cmp.Compare(a.on, b.on), cmp.Compare(a.mask, b.mask), cmp.Compare(a.area, b.area))
			})
		}
		for _, v := range sorted[lo:hi] {
			if k := len(kept) - 1; k >= 0 && kept[k].same(v) {
				kept[k].area += v.area
			} else {
				kept = append(kept, v)
			}
		}
		lo = hi
	}
	return kept
}

func (q *squeeze) tags(c *collector) []tagged {
	for i := range c.tags {
		t := &c.tags[i]
		root := c.find(t.node)
		if on := q.on[root]; on != 0 {
			t.node, t.landed = q.to[on], true
		} else {
			t.node = q.to[root]
		}
	}
	slices.SortFunc(c.tags, func(a, b tagged) int {
		switch { // nearly always one of these
		case a.layer != b.layer:
			return cmp.Compare(a.layer, b.layer)
		case a.shape != b.shape:
			return cmp.Compare(a.shape, b.shape)
		}
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.node, b.node))
	})
	return slices.Clone(slices.Compact(c.tags))
}
