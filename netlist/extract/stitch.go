package extract

import (
	"slices"

	"undermetal/layout/sweep"
)

// touchNm is the length above which a common border counts; borders that really overlap do so by far more.
const touchNm = 1e-6

// merge gives the regions of all strips of one group their nodes in f and joins neighbours at their borders. Spans that
// lie on borders go to f; all else that strips tell stays with them, to be read with their base.
func (f *forest) merge(g *group, strips []*swept) {
	for i, s := range strips {
		s.base = node(len(f.parent) - 1)
		for n := range s.pieces[1:] {
			f.parent = append(f.parent, s.base+node(n+1))
		}
		f.pieces = append(f.pieces, s.pieces[1:]...)
		s.pieces = nil
		for _, r := range []*rims{&s.left, &s.right} {
			for i := range r.nodes {
				r.nodes[i] += s.base
			}
		}
		if i > 0 {
			f.stitch(g, &strips[i-1].right, &s.left, s.clip.X0)
			strips[i-1].right, s.left = rims{}, rims{}
		}
	}
}

// grow makes room for the nodes of all strips.
func (f *forest) grow(all []*dealing) {
	nodes := 1 // the substrate
	for _, d := range all {
		for _, s := range d.strips {
			nodes += len(s.pieces)
		}
	}
	f.parent, f.pieces = slices.Grow(f.parent, nodes), slices.Grow(f.pieces, nodes)
}

// stitch joins what lies on both sides of the border at x.
func (f *forest) stitch(g *group, left, right *rims, x float64) {
	a, b := side{nodes: make([]node, len(g.regions))}, side{nodes: make([]node, len(g.regions))}
	sweep.Facing(left.list, right.list, func(r *rim) (y0, y1 float64) { return r.y0, r.y1 }, func(l, r *rim, y0, y1 float64) {
		if y1-y0 > touchNm && l.regions|r.regions != 0 {
			left.unpack(*l, &a)
			right.unpack(*r, &b)
			f.meet(&a, &b)
			if g.bordered(&a, &b) {
				f.border(g, &a, &b, x, y0, x, y1)
			}
		}
	})
}
