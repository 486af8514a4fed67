package compare

// state marks the present state, for undo.
func (t *partition) state() int { return len(t.parent) }

// undo joins all cells that were split off since state was taken.
func (t *partition) undo(state int) {
	for c := int32(len(t.parent)) - 1; c >= int32(state); c-- {
		p := t.parent[c]
		for side := range 2 {
			for _, v := range t.members(side, c) {
				t.cell[v] = p
			}
			t.work += int(t.size[side][c])
			t.size[side][p] += t.size[side][c]
			t.start[side], t.size[side] = t.start[side][:c], t.size[side][:c]
			t.marked[side] = t.marked[side][:c]
		}
		t.parent, t.queued = t.parent[:c], t.queued[:c]
		if t.open.on {
			t.open.push(p, t.size[0][p]+t.size[1][p])
		}
	}
	t.fresh = t.fresh[:0]
}

// individualise gives the vertices a of A and b of B, of one cell, a cell of their own.
func (t *partition) individualise(a, b int32) {
	t.mark(0, a, 1)
	t.mark(1, b, 1)
	t.splitTouched()
}

// splitBy splits all cells by the key of their vertices; key 0 leaves a vertex with those that have none.
func (t *partition) splitBy(vertices []int32, key func(v int32) uint64) bool {
	for _, v := range vertices {
		if k := key(v); k != 0 {
			t.mark(t.g.sideOf(v), v, k)
		}
	}
	return t.splitTouched()
}

// keepBack decides, in lenient mode, which groups become cells: those that are balanced, or nearly so. The others go to
// the front, next to the vertices that were not marked.
func (t *partition) keepBack(c int32) {
	kept := t.groups[:0:0]
	for i := range t.groups {
		gr := &t.groups[i]
		n := [2]int32{gr.to[0] - gr.from[0], gr.to[1] - gr.from[1]}
		off := max(n[0]-n[1], n[1]-n[0])
		gr.split = min(n[0], n[1]) > 0 && min(n[0], n[1]) >= t.nearly*off
	}
	for _, split := range []bool{false, true} {
		for _, gr := range t.groups {
			if gr.split == split {
				kept = append(kept, gr)
			}
		}
	}
	for side := range 2 {
		at := t.start[side][c] + t.size[side][c] - t.marked[side][c]
		t.scratch = append(t.scratch[:0], t.order[side][at:at+t.marked[side][c]]...)
		base := at
		for i, gr := range kept {
			n := copy(t.order[side][at:], t.scratch[gr.from[side]-base:gr.to[side]-base])
			kept[i].from[side], kept[i].to[side] = at, at+int32(n)
			at += int32(n)
		}
		for i := base; i < at; i++ {
			t.pos[t.order[side][i]] = i
		}
	}
	t.groups = kept
}
