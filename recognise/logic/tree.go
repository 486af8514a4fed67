package logic

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/recognise/parts"
)

// tree is a series-parallel network of transistors between two nets.
type tree struct {
	op   byte // 's' series, 'p' parallel, 0 one transistor
	kids []*tree
	part int32
	gate int32
}

type edge struct {
	a, b int32
	t    *tree
}

// seriesParallel returns the network between two nets as a tree, nil if it is a bridge. What is in series stands in order from
// the first net.
func seriesParallel(g *parts.Graph, members []int32, from, to int32) *tree {
	var es []edge
	for _, q := range members {
		p := &g.Parts[q]
		es = append(es, edge{p.Nets[parts.End], p.Nets[parts.Other], &tree{part: q, gate: p.Nets[parts.Gate]}})
	}
	for len(es) > 1 {
		if i, j := findParallel(es); i >= 0 {
			es[i].t = joinTrees('p', es[i].t, es[j].t)
			es = slices.Delete(es, j, j+1)
			continue
		}
		i, j, ok := findSeries(es, from, to)
		if !ok {
			return nil
		}
		es[i] = chainEdges(es[i], es[j])
		es = slices.Delete(es, j, j+1)
	}
	if len(es) == 0 {
		return nil
	}
	switch e := es[0]; {
	case e.a == from && e.b == to:
		return e.t
	case e.a == to && e.b == from:
		return e.t.reversed()
	}
	return nil
}

func findParallel(es []edge) (int, int) {
	for i := range es {
		for j := i + 1; j < len(es); j++ {
			if es[i].a == es[j].a && es[i].b == es[j].b || es[i].a == es[j].b && es[i].b == es[j].a {
				return i, j
			}
		}
	}
	return -1, -1
}

// findSeries finds two edges whose common net has no third.
func findSeries(es []edge, from, to int32) (int, int, bool) {
	for i := range es {
		for _, n := range []int32{es[i].a, es[i].b} {
			if n == from || n == to {
				continue
			}
			other, count := -1, 0
			for j := range es {
				if es[j].a == n || es[j].b == n {
					count++
					if j != i {
						other = j
					}
				}
			}
			if count == 2 && other >= 0 {
				return min(i, other), max(i, other), true
			}
		}
	}
	return 0, 0, false
}

// chainEdges puts two edges with a common net in series.
func chainEdges(e, f edge) edge {
	if e.a == f.a || e.a == f.b {
		e = edge{e.b, e.a, e.t.reversed()}
	}
	if f.b == e.b {
		f = edge{f.b, f.a, f.t.reversed()}
	}
	return edge{e.a, f.b, joinTrees('s', e.t, f.t)}
}

func joinTrees(op byte, a, b *tree) *tree {
	t := &tree{op: op}
	for _, k := range []*tree{a, b} {
		if k.op == op {
			t.kids = append(t.kids, k.kids...)
		} else {
			t.kids = append(t.kids, k)
		}
	}
	return t
}

// reversed is the network seen from its other end.
func (t *tree) reversed() *tree {
	r := &tree{op: t.op, part: t.part, gate: t.gate}
	for _, k := range t.kids {
		r.kids = append(r.kids, k.reversed())
	}
	if t.op == 's' {
		slices.Reverse(r.kids)
	}
	return r
}

// shape is the tree without its gates, order ignored: 1 is one transistor. Two branches of the same gates count once.
func (t *tree) shape() string {
	if t.op == 0 {
		return "1"
	}
	var kids []string
	for _, k := range t.distinct() {
		kids = append(kids, k.shape())
	}
	if len(kids) == 1 {
		return kids[0]
	}
	slices.SortFunc(kids, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(b, a)
	})
	return string(t.op) + "(" + strings.Join(kids, "") + ")"
}

// distinct returns the branches without those that are like an earlier one.
func (t *tree) distinct() []*tree {
	var kids []*tree
	seen := map[string]bool{}
	for _, k := range t.kids {
		key := k.gates()
		if !seen[key] {
			seen[key] = true
			kids = append(kids, k)
		}
	}
	return kids
}

// gates is the function of the tree as text, order ignored.
func (t *tree) gates() string {
	if t.op == 0 {
		return fmt.Sprint(t.gate)
	}
	var kids []string
	for _, k := range t.distinct() {
		kids = append(kids, k.gates())
	}
	slices.Sort(kids)
	if len(kids) == 1 {
		return kids[0]
	}
	return string(t.op) + "(" + strings.Join(kids, ",") + ")"
}

// leaves lists the transistors in canonical order: larger branches first; of equal ones in parallel those of the lower rank, in series
// those that come first.
func (t *tree) leaves(rank func(gate int32) int, visit func(*tree)) {
	if t.op == 0 {
		visit(t)
		return
	}
	kids := slices.Clone(t.kids)
	slices.SortStableFunc(kids, func(a, b *tree) int {
		x, y := a.shape(), b.shape()
		if c := cmp.Or(cmp.Compare(len(y), len(x)), strings.Compare(y, x)); c != 0 || t.op == 's' {
			return c
		}
		return cmp.Compare(a.least(rank), b.least(rank))
	})
	for _, k := range kids {
		k.leaves(rank, visit)
	}
}

// least is the lowest rank of the gates of a tree.
func (t *tree) least(rank func(int32) int) int {
	if t.op == 0 {
		return rank(t.gate)
	}
	least := t.kids[0].least(rank)
	for _, k := range t.kids[1:] {
		least = min(least, k.least(rank))
	}
	return least
}

// ranks returns where the gates of a tree come first, in the order of place; a gate that is in none comes last.
func (t *tree) ranks() func(gate int32) int {
	at := map[int32]int{}
	var walk func(t *tree)
	walk = func(t *tree) {
		if t == nil {
			return
		}
		if _, ok := at[t.gate]; t.op == 0 && !ok {
			at[t.gate] = len(at)
		}
		for _, k := range t.kids {
			walk(k)
		}
	}
	walk(t)
	return func(gate int32) int {
		if k, ok := at[gate]; ok {
			return k
		}
		return len(at)
	}
}
