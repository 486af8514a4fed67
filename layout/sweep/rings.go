package sweep

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
)

// Rings joins edges to the rings around what lies on one side of each of them.
//
// filledLeft nil: what is filled lies left of every edge, as Outline gives them, and edges are followed in their direction
// only. Otherwise it says whether what is filled lies left of an edge, seen from A to B, which is asked for one edge of
// each ring; edges then must meet at common ends only, an even number of them in each.
//
// Outer rings come out counterclockwise, holes clockwise; at a point where a region touches itself the rings keep to the
// region's parts, where they can. Points on a straight line are left out.
func Rings(edges []Seg, filledLeft func(i int) bool) geom.Polygon {
	if filledLeft == nil {
		edges = CutUpright(edges)
	}
	w := &ringWalk{edges: edges, filledLeft: filledLeft, at: map[geom.Point][]int{}, used: make([]bool, len(edges))}
	for i, s := range edges {
		w.at[s.A] = append(w.at[s.A], i)
		if filledLeft != nil {
			w.at[s.B] = append(w.at[s.B], i)
		}
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
	at         map[geom.Point][]int // edges that lead on from there
	used       []bool
}

// ring follows the edges from the i-th on, with what is filled on the left, until it comes back. Points on a straight
// line are left out.
func (w *ringWalk) ring(i int) geom.Ring {
	start, p := w.edges[i].A, w.edges[i].B
	if w.filledLeft != nil && !w.filledLeft(i) {
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
		if next < 0 { // cannot be: as many edges lead on as come in
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

// CutUpright cuts the upright edges wherever another ends on them or two of them cross, and keeps all directions. Slanted
// edges that a Noder has cut, and upright ones so cut, meet at common ends only.
func CutUpright(edges []Seg) []Seg {
	rows, columns := map[int][]int{}, map[int][]int{}
	mark := func(p geom.Point) {
		rows[p.Y] = append(rows[p.Y], p.X)
		columns[p.X] = append(columns[p.X], p.Y)
	}
	var out, vertical, level []Seg
	for _, s := range edges {
		mark(s.A)
		mark(s.B)
		switch {
		case s.Slanted():
			out = append(out, s)
		case s.A.X == s.B.X:
			vertical = append(vertical, s)
		default:
			level = append(level, s)
		}
	}
	slices.SortStableFunc(vertical, func(a, b Seg) int { return cmp.Compare(a.A.X, b.A.X) })
	crossings(vertical, level, mark)
	for _, m := range [2]map[int][]int{rows, columns} {
		for k, v := range m {
			slices.Sort(v)
			m[k] = slices.Compact(v)
		}
	}
	for _, s := range vertical {
		for a, b := range between(columns[s.A.X], s.A.Y, s.B.Y) {
			out = append(out, Seg{A: geom.Point{X: s.A.X, Y: a}, B: geom.Point{X: s.A.X, Y: b}})
		}
	}
	for _, s := range level {
		for a, b := range between(rows[s.A.Y], s.A.X, s.B.X) {
			out = append(out, Seg{A: geom.Point{X: a, Y: s.A.Y}, B: geom.Point{X: b, Y: s.A.Y}})
		}
	}
	return out
}

// crossings marks where vertical edges, sorted by x, meet level ones. It goes upwards and keeps the vertical edges that reach the
// present height, so that time goes with n log n and the marks, as far as moving what is kept takes no time.
func crossings(vertical, level []Seg, mark func(geom.Point)) {
	low, high := make([]int, len(vertical)), make([]int, len(vertical)) // in the order of their ends
	for i := range vertical {
		low[i], high[i] = i, i
	}
	from := func(i int) int { return min(vertical[i].A.Y, vertical[i].B.Y) }
	to := func(i int) int { return max(vertical[i].A.Y, vertical[i].B.Y) }
	slices.SortFunc(low, func(a, b int) int { return cmp.Compare(from(a), from(b)) })
	slices.SortFunc(high, func(a, b int) int { return cmp.Compare(to(a), to(b)) })
	level = slices.Clone(level)
	slices.SortFunc(level, func(a, b Seg) int { return cmp.Compare(a.A.Y, b.A.Y) })
	var here []int32 // by x, which is by index
	for _, s := range level {
		y := s.A.Y
		for ; len(low) > 0 && from(low[0]) <= y; low = low[1:] {
			k, _ := slices.BinarySearch(here, int32(low[0]))
			here = slices.Insert(here, k, int32(low[0]))
		}
		for ; len(high) > 0 && to(high[0]) < y; high = high[1:] {
			k, _ := slices.BinarySearch(here, int32(high[0]))
			here = slices.Delete(here, k, k+1)
		}
		left, right := min(s.A.X, s.B.X), max(s.A.X, s.B.X)
		first, _ := slices.BinarySearchFunc(vertical, left, func(v Seg, x int) int { return cmp.Compare(v.A.X, x) })
		k, _ := slices.BinarySearch(here, int32(first))
		for ; k < len(here) && vertical[here[k]].A.X <= right; k++ {
			mark(geom.Point{X: vertical[here[k]].A.X, Y: y})
		}
	}
}

// between yields the pieces from one mark to another of a sorted list, in that direction.
func between(marks []int, from, to int) func(func(a, b int) bool) {
	return func(yield func(a, b int) bool) {
		i, _ := slices.BinarySearch(marks, from)
		end, _ := slices.BinarySearch(marks, to)
		step := cmp.Compare(end, i)
		for ; i != end; i += step {
			if !yield(marks[i], marks[i+step]) {
				return
			}
		}
	}
}
