package extract

import (
	"cmp"
	"slices"
)

// touchNm is the length above which a common border counts; borders that really overlap do so by far more.
const touchNm = 1e-6

// merge puts the forests of the strips of one group one after the other into f and joins neighbours at their borders.
func (f *forest) merge(g *group, strips []*collector) {
	for i, c := range strips {
		c.shiftInto(f)
		if i > 0 {
			f.stitch(g, strips[i-1].right, c.left, strips[i-1].clip.X1)
			strips[i-1].right, c.left = nil, nil
		}
	}
}

// shiftInto appends all that c holds to f, with its nodes renumbered.
func (c *collector) shiftInto(f *forest) {
	by := node(len(f.parent) - 1)
	for _, p := range c.parent[1:] {
		f.parent = append(f.parent, p+by)
	}
	for _, p := range c.pieces[1:] {
		p.group = c.group.index
		f.pieces = append(f.pieces, p)
	}
	for _, s := range c.spans {
		s.channel += by
		s.diffusion += by
		f.spans = append(f.spans, s)
	}
	for _, v := range c.covers {
		v.of += by
		if v.on != 0 {
			v.on += by
		}
		f.covers = append(f.covers, v)
	}
	for _, t := range c.tags {
		t.node += by
		f.tags = append(f.tags, t)
	}
	for _, p := range c.found {
		p.node += by
		f.found = append(f.found, p)
	}
	for _, rims := range [][]rim{c.left, c.right} {
		for _, r := range rims {
			for i := range r.nodes {
				if r.nodes[i] != 0 {
					r.nodes[i] += by
				}
			}
		}
	}
	c.forest = nil
	c.state = nil
}

// stitch joins what lies on both sides of the border at x.
func (f *forest) stitch(g *group, left, right []rim, x float64) {
	byHeight := func(a, b rim) int { return cmp.Compare(a.y0, b.y0) }
	slices.SortFunc(left, byHeight)
	slices.SortFunc(right, byHeight)
	left, right = fillGaps(left, right), fillGaps(right, left)
	for i, j := 0, 0; i < len(left) && j < len(right); {
		l, r := &left[i], &right[j]
		y0, y1 := max(l.y0, r.y0), min(l.y1, r.y1)
		if y1-y0 > touchNm {
			f.meet(&l.side, &r.side)
			f.border(g, &l.side, &r.side, x, y0, x, y1)
		}
		if l.y1 < r.y1 {
			i++
		} else {
			j++
		}
	}
}

// fillGaps returns rims with an empty one wherever they leave a gap in the range of height of both lists: a strip tells
// nothing of what lies below its first and above its last edge.
func fillGaps(rims, others []rim) []rim {
	if len(others) == 0 {
		return rims
	}
	lo, hi := others[0].y0, others[len(others)-1].y1
	var out []rim
	for _, r := range rims {
		if r.y0 > lo {
			out = append(out, rim{y0: lo, y1: r.y0})
		}
		out = append(out, r)
		lo = r.y1
	}
	if hi > lo {
		out = append(out, rim{y0: lo, y1: hi})
	}
	return out
}
