package sweep

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
)

// Rings joins edges, as Outline gives them, to the rings around what lies left of them. They must meet at common ends only (see
// CutUpright), as many leading into each as out of it.
//
// Outer rings come out counterclockwise, holes clockwise; at a point where a region touches itself the rings keep to the
// region's parts. Points on a straight line are left out.
func Rings(edges []Seg) geom.Polygon {
	var out geom.Polygon
	for _, way := range Trace(edges) {
		var ring geom.Ring
		for k, i := range way {
			before := edges[way[(k+len(way)-1)%len(way)]]
			if !straight(before.A, edges[i].A, edges[i].B) {
				ring = append(ring, edges[i].A)
			}
		}
		if len(ring) > 2 {
			out = append(out, ring)
		}
	}
	return out
}

// Trace joins edges as those of Rings to closed ways, and returns the indices of the edges of each, in the order of their first
// ones. Where several edges lead on from a point, a way takes the next one clockwise from where it came from, so that what
// lies on its left there is one wedge. It may come through a point more than once.
func Trace(edges []Seg) (ways [][]int) {
	order := make([]int, len(edges)) // by where they begin
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, k int) int { return cmp.Or(comparePoints(edges[i].A, edges[k].A), cmp.Compare(i, k)) })
	first := make(map[geom.Point]int, len(edges))
	for n := len(order) - 1; n >= 0; n-- {
		first[edges[order[n]].A] = n
	}
	used := make([]bool, len(edges))
	for i := range edges {
		var way []int
		for k := i; !used[k]; {
			used[k] = true
			way = append(way, k)
			from, at := edges[k].A, edges[k].B
			n, ok := first[at]
			if !ok { // cannot be: as many edges lead on as come in
				break
			}
			k = order[n]
			for n++; n < len(order) && edges[order[n]].A == at; n++ {
				if firstClockwise(at, from, edges[order[n]].B, edges[k].B) {
					k = order[n]
				}
			}
		}
		if way != nil {
			ways = append(ways, way)
		}
	}
	return ways
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
