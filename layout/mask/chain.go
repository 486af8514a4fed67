package mask

import "slices"

func (t *tracer) newNode(x, y int32) int32 {
	i := t.freeNode
	if i == none {
		i = int32(len(t.nodes))
		t.nodes = append(t.nodes, node{})
	} else {
		t.freeNode = t.nodes[i].next
	}
	t.nodes[i] = node{x, y, none}
	return i
}

// append puts a corner behind the last one of a chain, prepend before the first.
func (t *tracer) append(tail, x, y int32) {
	n := t.newNode(x, y)
	t.nodes[t.ends[tail].node].next = n
	t.ends[tail].node = n
}

func (t *tracer) prepend(head, x, y int32) {
	n := t.newNode(x, y)
	t.nodes[n].next = t.ends[head].node
	t.ends[head].node = n
}

// begin makes a chain of one corner, and returns its first and last end.
func (t *tracer) begin(x, y int32, err error) (head, tail int32, _ error) {
	if err != nil {
		return none, none, err
	}
	if len(t.nodes) > *t.left {
		return none, none, errTooMany
	}
	n := t.newNode(x, y)
	head = t.newEnd(n)
	tail = t.newEnd(n)
	t.ends[head].other, t.ends[tail].other = tail, head
	return head, tail, nil
}

func (t *tracer) newEnd(n int32) int32 {
	i := t.freeEnd
	if i == none {
		i = int32(len(t.ends))
		t.ends = append(t.ends, end{})
	} else {
		t.freeEnd = t.ends[i].other
	}
	t.ends[i].node = n
	return i
}

// close joins the end of a chain to the beginning of another at a corner. If they are the same, that is a ring.
func (t *tracer) close(tail, head, x, y, run int32) error {
	t.append(tail, x, y)
	last, first := t.ends[tail].node, t.ends[head].node
	a, b := t.ends[tail].other, t.ends[head].other
	for _, e := range [2]int32{tail, head} {
		t.ends[e].other = t.freeEnd
		t.freeEnd = e
	}
	if a != head {
		t.nodes[last].next = first
		t.ends[a].other, t.ends[b].other = b, a
		return nil
	}
	var ring []int32
	for n := first; ; n = t.nodes[n].next {
		ring = append(ring, t.nodes[n].x, t.nodes[n].y)
		if n == last {
			break
		}
	}
	t.nodes[last].next = t.freeNode
	t.freeNode = first
	if *t.left -= len(ring) / 2; *t.left < 0 {
		return errTooMany
	}
	r := &t.regions[t.find(run)]
	r.rings = append(r.rings, slices.Clip(ring))
	return nil
}
