package svg

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// together groups the rings whose boxes overlap, directly or by way of others. Order is kept. Its time goes with n log n,
// however many boxes overlap.
func together(rings []geom.Ring) [][]geom.Ring {
	if len(rings) < 2 {
		return [][]geom.Ring{rings}
	}
	boxes, order := make([]geom.Rect, len(rings)), make([]int, len(rings))
	g := &grouping{group: make([]int, len(rings))}
	for i, r := range rings {
		boxes[i], order[i], g.group[i] = r.Bounds(), i, i
		g.heights = append(g.heights, boxes[i].Min.Y, boxes[i].Max.Y)
	}
	slices.Sort(g.heights)
	g.heights = slices.Compact(g.heights)
	g.nodes = make([]span, 4*len(g.heights))
	for k := range g.nodes {
		g.nodes[k] = span{wide: never, any: never}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(boxes[a].Min.X, boxes[b].Min.X) })
	for _, i := range order { // from left to right
		from, _ := slices.BinarySearch(g.heights, boxes[i].Min.Y)
		to, _ := slices.BinarySearch(g.heights, boxes[i].Max.Y)
		g.put(1, 0, len(g.heights)-1, &entry{i, from, to, boxes[i].Min.X, boxes[i].Max.X})
	}
	var out [][]geom.Ring
	at := map[int]int{}
	for i, r := range rings {
		k, ok := at[g.find(i)]
		if !ok {
			k = len(out)
			at[g.find(i)] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], r)
	}
	return out
}

// never is left of everything.
const never = math.MinInt

// grouping is a segment tree over the heights at which boxes begin and end, for a sweep from left to right. Boxes that a node
// keeps and that are still open all belong together, so that one of them stands for all.
type grouping struct {
	group   []int // a union-find of the boxes
	heights []int // in order
	nodes   []span
}

// span is what a node knows of the boxes that cover all its heights, and of those below it.
type span struct {
	wide, wideBox int  // of the boxes that were kept here: the furthest right end, and one of them
	any, anyBox   int  // of all that were kept here or below: the same
	mixed         bool // those here and below need not belong together
}

// entry is a box: its heights by index, and where it begins and ends.
type entry struct{ box, from, to, left, right int }

func (g *grouping) find(i int) int {
	for g.group[i] != i {
		g.group[i] = g.group[g.group[i]]
		i = g.group[i]
	}
	return i
}

func (g *grouping) union(a, b int) {
	a, b = g.find(a), g.find(b)
	g.group[max(a, b)] = min(a, b)
}

// put joins a box with all that are open at its heights, and keeps it, from node k on, which has the heights from lo to hi.
func (g *grouping) put(k, lo, hi int, e *entry) {
	n := &g.nodes[k]
	if n.wide >= e.left {
		g.union(e.box, n.wideBox)
	}
	if e.from <= lo && hi <= e.to {
		g.gather(k, lo, hi, e)
		if n.wide < e.right {
			n.wide, n.wideBox = e.right, e.box
		}
		if n.any < e.right {
			n.any, n.anyBox = e.right, e.box
		}
		return
	}
	n.mixed = true
	if n.any < e.right {
		n.any, n.anyBox = e.right, e.box
	}
	mid := (lo + hi) / 2
	if e.from <= mid {
		g.put(2*k, lo, mid, e)
	}
	if e.to > mid {
		g.put(2*k+1, mid+1, hi, e)
	}
}

// gather joins a box with all that are open at and below a node, which belong together from then on.
func (g *grouping) gather(k, lo, hi int, e *entry) {
	n := &g.nodes[k]
	if n.any < e.left {
		return
	}
	if n.mixed {
		n.mixed = false
		if n.wide >= e.left {
			g.union(e.box, n.wideBox)
		}
		mid := (lo + hi) / 2
		g.gather(2*k, lo, mid, e)
		g.gather(2*k+1, mid+1, hi, e)
		return
	}
	g.union(e.box, n.anyBox)
}
