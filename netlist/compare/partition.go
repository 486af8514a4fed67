package compare

import (
	"context"
	"math"
	"slices"
)

// partition divides the vertices of both circuits into cells that nothing has told apart yet.
//
// Each cell is a stretch of order[0] (vertices of A) and one of order[1] (of B). Cells are only ever split, each new
// one off the end of its parent, and undo joins them again in reverse, so that a search can step back.
//
// In strict mode every cell must hold as many vertices of A as of B, else refine fails: the circuits differ. In lenient
// mode, for circuits that are known to differ, vertices that find no partner with the same edges stay behind in the
// parent cell, where they may still find one by elimination.
type partition struct {
	g       *graph
	lenient bool
	nearly  int32 // lenient: a group becomes a cell if the smaller half is at least so many times the excess of the larger

	order [2][]int32
	pos   []int32 // of every vertex in order
	cell  []int32 // of every vertex

	start, size, marked [2][]int32 // of every cell, by side; marked vertices lie at the end
	parent              []int32
	queued              []bool

	sum     []uint64 // of every vertex: what the splitter at hand says of it; 0 between splitters
	queue   []int32  // cells yet to be used as splitters
	touched []int32  // cells with marked vertices
	groups  []cellGroup
	scratch []int32

	fresh []int32 // cells that came down to one vertex of either circuit since the caller last emptied the list
	open  cellHeap

	work    int // edges followed so far
	checked int // work at which the context was last asked
}

// cellGroup is a stretch of the marked vertices of a cell with one sum, and whether it becomes a cell.
type cellGroup struct {
	from, to [2]int32
	split    bool
}

// newPartition starts with one cell for each class of elements and one for all nets.
func newPartition(p *pair, g *graph) *partition {
	return partitionBy(g, firstCells(p, g, func(class int32) int32 { return class }), len(p.classes)+1)
}

// firstCells returns the number of the cell of every vertex: what cellOf says of its class, for elements; the last for
// nets.
func firstCells(p *pair, g *graph, cellOf func(class int32) int32) []int32 {
	of := make([]int32, g.end[1])
	for side, s := range p.side {
		for e, class := range s.elemClass {
			of[g.elems[side]+int32(e)] = cellOf(class)
		}
		for v := g.nets[side]; v < g.end[side]; v++ {
			of[v] = int32(len(p.classes))
		}
	}
	return of
}

// partitionBy starts with that many cells, of the vertices with equal numbers, all of them splitters.
func partitionBy(g *graph, of []int32, cells int) *partition {
	n := g.end[1]
	t := &partition{g: g, pos: make([]int32, n), cell: of, sum: make([]uint64, n)}
	for side := range 2 {
		first := g.elems[side]
		starts, order := group(of[first:g.end[side]], cells)
		for k, v := range order {
			v += first
			order[k], t.pos[v] = v, int32(k)
		}
		t.order[side], t.start[side], t.marked[side] = order, starts[:cells], make([]int32, cells)
		t.size[side] = make([]int32, cells)
		for c := range cells {
			t.size[side][c] = starts[c+1] - starts[c]
		}
	}
	t.parent, t.queued = make([]int32, cells), make([]bool, cells)
	for c := range int32(cells) {
		t.enqueue(c)
	}
	return t
}

func (t *partition) members(side int, c int32) []int32 {
	return t.order[side][t.start[side][c] : t.start[side][c]+t.size[side][c]]
}

// balanced reports whether every cell holds as many vertices of A as of B.
func (t *partition) balanced() bool { return slices.Equal(t.size[0], t.size[1]) }

// single reports whether cell c holds one vertex of either circuit.
func (t *partition) single(c int32) bool { return t.size[0][c] == 1 && t.size[1][c] == 1 }

func (t *partition) enqueue(c int32) {
	if !t.queued[c] {
		t.queued[c] = true
		t.queue = append(t.queue, c)
	}
}

// roleSum is what an edge of that role adds to the sum of a vertex. Sums of such numbers tell multisets of roles apart
// but for accidents of one in 2^64; those cost a split, never a wrong one, and the mapping is checked in the end.
var roleSum = func() (s [8]uint64) {
	for r := range s {
		s[r] = mix(uint64(r) + 0x5eed)
	}
	return s
}()

// refine splits cells until the vertices of each have the same edges into every other cell. It returns false if a cell
// would not be balanced (strict mode only), and an error if ctx is cancelled; the queue is empty either way.
func (t *partition) refine(ctx context.Context) (bool, error) {
	for head := 0; head < len(t.queue); head++ {
		c := t.queue[head]
		t.queued[c] = false
		if t.work-t.checked > 1<<20 {
			t.checked = t.work
			if err := ctx.Err(); err != nil {
				t.dropQueue(head + 1)
				return false, err
			}
		}
		t.gather(c)
		if !t.splitTouched() {
			t.dropQueue(head + 1)
			return false, nil
		}
		if head > 1<<12 && head > len(t.queue)/2 {
			t.queue = append(t.queue[:0], t.queue[head+1:]...)
			head = -1
		}
	}
	t.queue = t.queue[:0]
	return true, nil
}

func (t *partition) dropQueue(from int) {
	for _, c := range t.queue[from:] {
		t.queued[c] = false
	}
	t.queue = t.queue[:0]
}

// gather sums up, for every neighbour of cell c, the roles of its edges into c.
func (t *partition) gather(c int32) {
	for side := range 2 {
		for _, v := range t.members(side, c) {
			from, to := t.g.start[v], t.g.start[v+1]
			for e := from; e < to; e++ {
				t.mark(side, t.g.to[e], roleSum[t.g.role[e]])
			}
			t.work += int(to - from)
		}
	}
}

// mark adds x to the sum of vertex w and moves w to the marked end of its cell.
func (t *partition) mark(side int, w int32, x uint64) {
	was := t.sum[w]
	t.sum[w] = was + x
	if was != 0 {
		return
	}
	c := t.cell[w]
	end := t.start[side][c] + t.size[side][c] - t.marked[side][c]
	if t.pos[w] >= end {
		return // marked before; the sum came to 0 by accident
	}
	if t.marked[0][c] == 0 && t.marked[1][c] == 0 {
		t.touched = append(t.touched, c)
	}
	t.marked[side][c]++
	order, last := t.order[side], end-1
	u := order[last]
	order[t.pos[w]], order[last] = u, w
	t.pos[u], t.pos[w] = t.pos[w], last
}

// splitTouched splits every cell with marked vertices by their sums, and clears both.
func (t *partition) splitTouched() bool {
	ok := true
	for _, c := range t.touched {
		ok = ok && t.splitMarked(c)
		for side := range 2 {
			m := t.members(side, c)
			for _, v := range m[len(m)-int(t.marked[side][c]):] {
				t.sum[v] = 0
			}
			t.marked[side][c] = 0
		}
	}
	t.touched = t.touched[:0]
	return ok
}

// splitMarked turns each group of marked vertices of cell c with equal sums into a cell of its own; the rest stays.
func (t *partition) splitMarked(c int32) bool {
	if !t.group(c) {
		return false
	}
	if t.lenient {
		t.keepBack(c)
	}
	size, first := [2]int32{t.size[0][c], t.size[1][c]}, int32(len(t.parent))
	for i := len(t.groups) - 1; i >= 0; i-- {
		gr := t.groups[i]
		if !gr.split {
			break
		}
		n := [2]int32{gr.to[0] - gr.from[0], gr.to[1] - gr.from[1]}
		if n == size {
			break // nothing is left for c itself
		}
		size[0], size[1] = size[0]-n[0], size[1]-n[1]
		t.newCell(c, gr)
	}
	t.queueParts(c, first)
	return true
}

// group sorts the marked vertices of cell c by their sums and lists the groups. In strict mode it returns false at the
// first group that is not balanced.
func (t *partition) group(c int32) bool {
	var at, end [2]int32
	for side := range 2 {
		end[side] = t.start[side][c] + t.size[side][c]
		at[side] = end[side] - t.marked[side][c]
		t.sortBySum(side, at[side], end[side])
	}
	t.groups = t.groups[:0]
	for at != end {
		sum := uint64(math.MaxUint64)
		for side := range 2 {
			if at[side] < end[side] {
				sum = min(sum, t.sum[t.order[side][at[side]]])
			}
		}
		gr := cellGroup{from: at, split: true}
		for side := range 2 {
			order := t.order[side]
			for at[side] < end[side] && t.sum[order[at[side]]] == sum {
				at[side]++
			}
		}
		gr.to = at
		if !t.lenient && gr.to[0]-gr.from[0] != gr.to[1]-gr.from[1] {
			return false
		}
		t.groups = append(t.groups, gr)
	}
	return true
}

func (t *partition) sortBySum(side int, from, to int32) {
	part := t.order[side][from:to]
	sorted := true
	for i := 1; i < len(part); i++ {
		if t.sum[part[i-1]] > t.sum[part[i]] {
			sorted = false
			break
		}
	}
	if sorted {
		return
	}
	slices.SortFunc(part, func(v, w int32) int {
		switch a, b := t.sum[v], t.sum[w]; {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return int(v - w)
	})
	for i, v := range part {
		t.pos[v] = from + int32(i)
	}
}

// newCell splits a group off the end of cell c.
func (t *partition) newCell(c int32, gr cellGroup) {
	id := int32(len(t.parent))
	for side := range 2 {
		n := gr.to[side] - gr.from[side]
		t.start[side] = append(t.start[side], gr.from[side])
		t.size[side] = append(t.size[side], n)
		t.size[side][c] -= n
		t.marked[side] = append(t.marked[side], 0)
		t.marked[side][c] -= n
		for _, v := range t.order[side][gr.from[side]:gr.to[side]] {
			t.cell[v] = id
			t.sum[v] = 0
		}
	}
	t.parent, t.queued = append(t.parent, c), append(t.queued, false)
}

// queueParts makes splitters of cell c and of the cells from first on, which were split off it. If c has served as
// splitter before, its largest part need not: what it would tell follows from the others (Hopcroft 1971, from memory).
func (t *partition) queueParts(c, first int32) {
	if int(first) == len(t.parent) {
		return
	}
	skip := c
	for id := first; id < int32(len(t.parent)); id++ {
		if t.size[0][id]+t.size[1][id] > t.size[0][skip]+t.size[1][skip] {
			skip = id
		}
		t.noteSize(id)
	}
	t.noteSize(c)
	if t.queued[c] {
		skip = -1
	}
	if skip != c {
		t.enqueue(c)
	}
	for id := first; id < int32(len(t.parent)); id++ {
		if id != skip {
			t.enqueue(id)
		}
	}
}

// noteSize enters cell c into the list of fresh single pairs or into the heap of open cells.
func (t *partition) noteSize(c int32) {
	if t.single(c) {
		t.fresh = append(t.fresh, c)
	} else if t.open.on {
		t.open.push(c, t.size[0][c]+t.size[1][c])
	}
}
