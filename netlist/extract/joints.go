package extract

import (
	"cmp"
	"slices"
)

// eachSpanJoint tells of each joint that makes one stretch of two, with its source or drain region.
func (j *joiner) eachSpanJoint(spans []span, joint func(diffusion node)) {
	if len(spans) > fewSpans {
		j.eachJointOfMany(spans, joint)
		return
	}
	var room [fewSpans]node
	of := sets(room[:0])
	for i := range spans {
		of = append(of, node(i))
		s, root := &spans[i], j.root[spans[i].diffusion]
		for k := range spans[:i] {
			if t := &spans[k]; j.root[t.diffusion] == root && s.meets(t) && of.find(node(i)) != of.find(node(k)) {
				of.union(node(i), node(k))
				joint(root)
			}
		}
	}
}

// fewSpans is up to how many spans are looked at each with each.
const fewSpans = 8

// meets reports whether two spans have an end in common. Where they meet these are equal to the last bit: made of the same line and height.
func (s *span) meets(t *span) bool {
	return s.ax == t.bx && s.ay == t.by || s.bx == t.ax && s.by == t.ay || s.ax == t.ax && s.ay == t.ay || s.bx == t.bx && s.by == t.by
}

// eachJointOfMany is eachSpanJoint where each with each would take too long.
func (j *joiner) eachJointOfMany(spans []span, joint func(diffusion node)) {
	type end struct {
		diffusion node
		x, y      float64
		span      node
	}
	ends, of := make([]end, 0, 2*len(spans)), make(sets, len(spans))
	for i, s := range spans {
		root := j.root[s.diffusion]
		ends = append(ends, end{root, s.ax, s.ay, node(i)}, end{root, s.bx, s.by, node(i)})
		of[i] = node(i)
	}
	slices.SortFunc(ends, func(a, b end) int {
		return cmp.Or(cmp.Compare(a.diffusion, b.diffusion), cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y))
	})
	for i := 1; i < len(ends); i++ {
		a, b := &ends[i-1], &ends[i]
		if a.diffusion == b.diffusion && a.x == b.x && a.y == b.y && of.find(a.span) != of.find(b.span) {
			of.union(a.span, b.span)
			joint(a.diffusion)
		}
	}
}
