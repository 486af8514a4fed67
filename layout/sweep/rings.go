package sweep

import "undermetal/layout/geom"

// Rings joins edges to the rings around what lies on one side of each of them. filledLeft says whether what is filled lies
// left of an edge, seen from A to B, which is asked for one edge of each ring; nil: always, as Outline gives them. An even
// number of edges must end at every point, and none may cross another.
//
// Outer rings come out counterclockwise, holes clockwise; at a point where a region touches itself the rings keep to the
// region's parts. Points on a straight line are left out.
func Rings(edges []Seg, filledLeft func(i int) bool) geom.Polygon {
	if filledLeft == nil {
		filledLeft = func(int) bool { return true }
	}
	w := &ringWalk{edges: edges, filledLeft: filledLeft, at: map[geom.Point][]int{}, used: make([]bool, len(edges))}
	for i, s := range edges {
		w.at[s.A] = append(w.at[s.A], i)
		w.at[s.B] = append(w.at[s.B], i)
	}
	var out geom.Polygon
	for i := range edges {
		if !w.used[i] {
			if r := w.ring(i); len(r) > 2 {
				out = append(out, r)
			}
		}
	}
	return out
}

// ringWalk follows edges around what is filled.
type ringWalk struct {
	edges      []Seg
	filledLeft func(i int) bool
	at         map[geom.Point][]int // edges that end there
	used       []bool
}

// ring follows the edges from the i-th on, with what is filled on the left, until it comes back. Points on a straight
// line are left out.
func (w *ringWalk) ring(i int) geom.Ring {
	start, p := w.edges[i].A, w.edges[i].B
	if !w.filledLeft(i) {
		start, p = p, start
	}
	w.used[i] = true
	back := start
	ring := geom.Ring{start}
	for p != start {
		next := -1
		var to geom.Point
		for _, k := range w.at[p] {
			if w.used[k] {
				continue
			}
			q := w.edges[k].A
			if q == p {
				q = w.edges[k].B
			}
			if next < 0 || firstClockwise(p, back, q, to) {
				next, to = k, q
			}
		}
		if next < 0 { // cannot be: an even number of edges ends at every point
			return nil
		}
		if n := len(ring); n > 1 && straight(ring[n-1], p, to) || n == 1 && straight(start, p, to) {
			// p lies between its neighbours
		} else {
			ring = append(ring, p)
		}
		w.used[next] = true
		back, p = p, to
	}
	if n := len(ring); n > 3 && straight(ring[n-1], ring[0], ring[1]) {
		ring = ring[1:]
	}
	return ring
}

func straight(a, p, b geom.Point) bool {
	return geom.Side(a, p, b) == 0 && (p.X-a.X)*(b.X-p.X) >= 0 && (p.Y-a.Y)*(b.Y-p.Y) >= 0
}

// firstClockwise reports whether one meets q before r when turning clockwise about p from the direction of back.
func firstClockwise(p, back, q, r geom.Point) bool {
	half := func(x geom.Point) int { // 0: less than half a turn clockwise of back, 1: half a turn and more
		if s := geom.Side(p, back, x); s < 0 {
			return 0
		}
		return 1
	}
	if a, b := half(q), half(r); a != b {
		return a < b
	}
	return geom.Side(p, q, r) < 0
}
