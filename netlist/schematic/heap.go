package schematic

import "container/heap"

// indexHeap is a priority queue of the numbers below n, which can change their priority.
type indexHeap struct {
	of   []int
	at   []int
	less func(a, b int) bool
}

func newHeap(n int, less func(a, b int) bool) *indexHeap {
	h := &indexHeap{less: less}
	for i := range n {
		h.of, h.at = append(h.of, i), append(h.at, i)
	}
	heap.Init((*heapOrder)(h))
	return h
}

func (h *indexHeap) len() int  { return len(h.of) }
func (h *indexHeap) pop() int  { return heap.Pop((*heapOrder)(h)).(int) }
func (h *indexHeap) fix(i int) { heap.Fix((*heapOrder)(h), h.at[i]) }

// heapOrder is an indexHeap as container/heap wants it.
type heapOrder indexHeap

func (h *heapOrder) Len() int           { return len(h.of) }
func (h *heapOrder) Less(i, j int) bool { return h.less(h.of[i], h.of[j]) }
func (h *heapOrder) Swap(i, j int) {
	h.of[i], h.of[j] = h.of[j], h.of[i]
	h.at[h.of[i]], h.at[h.of[j]] = i, j
}
func (h *heapOrder) Push(any) {}
func (h *heapOrder) Pop() any {
	i := h.of[len(h.of)-1]
	h.of = h.of[:len(h.of)-1]
	return i
}
