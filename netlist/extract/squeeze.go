package extract

import (
	"cmp"
	"slices"
)

// squeeze makes the result of a strip as small as it can be before it is kept: one node for each region instead of one
// for each piece that the sweep went through, and one record where several speak of the same.
type squeeze struct {
	to []node // by node: its number afterwards
}

func (q *squeeze) run(c *collector) {
	q.number(c)
	for i := range c.spans {
		s := &c.spans[i]
		s.channel, s.diffusion = q.to[s.channel], q.to[s.diffusion]
	}
	q.covers(c)
	q.tags(c)
	for i := range c.found {
		c.found[i].node = q.to[c.found[i].node]
	}
	for _, rims := range [][]rim{c.left, c.right} {
		for _, r := range rims {
			for i, n := range r.nodes {
				r.nodes[i] = q.to[n]
			}
		}
	}
	c.spans, c.found = slices.Clip(c.spans), slices.Clip(c.found)
	c.state, c.slab = nil, nil
}

// number gives new numbers to the roots, in their order, and adds up what their pieces are.
func (q *squeeze) number(c *collector) {
	q.to = slices.Grow(q.to[:0], len(c.parent))[:len(c.parent)]
	q.to[0] = 0
	roots := node(1)
	for n := node(1); int(n) < len(c.parent); n++ {
		r := c.find(n)
		if r == n {
			q.to[n] = roots
			roots++
			continue
		}
		q.to[n] = q.to[r] // the root is the oldest
		c.gather(r, n)
	}
	pieces := make([]piece, roots)
	for n := 1; n < len(c.parent); n++ {
		if c.parent[n] == node(n) {
			pieces[q.to[n]] = c.pieces[n]
		}
	}
	c.pieces = pieces
	c.parent = make([]node, roots)
	for n := range c.parent {
		c.parent[n] = node(n)
	}
}

// gather adds the measures of piece n to those of piece r.
func (f *forest) gather(r, n node) {
	p, q := &f.pieces[n], &f.pieces[r]
	q.area += p.area
	q.perimeter += p.perimeter
	q.open = q.open || p.open
	f.place(r, p.x, p.y)
}

func (q *squeeze) covers(c *collector) {
	for i := range c.covers {
		v := &c.covers[i]
		v.of, v.on = q.to[v.of], q.to[v.on]
	}
	slices.SortFunc(c.covers, func(a, b cover) int {
		return cmp.Or(cmp.Compare(a.of, b.of), cmp.Compare(a.on, b.on), cmp.Compare(a.mask, b.mask), cmp.Compare(a.area, b.area))
	})
	kept := c.covers[:0]
	for _, v := range c.covers {
		if k := len(kept) - 1; k >= 0 && kept[k].same(v) {
			kept[k].area += v.area
		} else {
			kept = append(kept, v)
		}
	}
	c.covers = slices.Clone(kept)
}

func (q *squeeze) tags(c *collector) {
	for i := range c.tags {
		c.tags[i].node = q.to[c.tags[i].node]
	}
	slices.SortFunc(c.tags, func(a, b tagged) int {
		return cmp.Or(cmp.Compare(a.layer, b.layer), cmp.Compare(a.shape, b.shape), cmp.Compare(a.part, b.part), cmp.Compare(a.node, b.node))
	})
	c.tags = slices.Clone(slices.Compact(c.tags))
}
