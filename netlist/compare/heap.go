package compare

// cellHeap finds the smallest cell that is not yet a single pair. Entries are never updated: one whose size is no
// longer that of its cell is skipped.
type cellHeap struct {
	on      bool
	entries []uint64 // size of the cell, both circuits together, above its number
}

func (h *cellHeap) push(c, size int32) {
	h.entries = append(h.entries, uint64(size)<<32|uint64(c))
	i := len(h.entries) - 1
	for i > 0 {
		up := (i - 1) / 2
		if h.entries[up] <= h.entries[i] {
			break
		}
		h.entries[up], h.entries[i] = h.entries[i], h.entries[up]
		i = up
	}
}

func (h *cellHeap) pop() {
	last := len(h.entries) - 1
	h.entries[0] = h.entries[last]
	h.entries = h.entries[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			return
		}
		if down+1 < last && h.entries[down+1] < h.entries[down] {
			down++
		}
		if h.entries[i] <= h.entries[down] {
			return
		}
		h.entries[i], h.entries[down] = h.entries[down], h.entries[i]
		i = down
	}
}

// trackOpen begins to keep the open cells; smallest works from then on.
func (t *partition) trackOpen() {
	t.open = cellHeap{on: true}
	for c := range t.parent {
		if c := int32(c); !t.single(c) {
			t.open.push(c, t.size[0][c]+t.size[1][c])
		}
	}
}

// smallest returns the smallest cell with vertices of both circuits that is no single pair, -1 if there is none.
func (t *partition) smallest() int32 {
	for len(t.open.entries) > 0 {
		size, c := int32(t.open.entries[0]>>32), int32(uint32(t.open.entries[0]))
		if int(c) < len(t.parent) && t.size[0][c]+t.size[1][c] == size && t.size[0][c] > 0 && t.size[1][c] > 0 && size > 2 {
			return c
		}
		t.open.pop()
	}
	return -1
}
