package field

import (
	"fmt"

	"undermetal/layout/geom"
)

// triangulation is a mesh while its outline is put into it: on the grid, where signs are exact.
type triangulation struct {
	mesh
	p []geom.Point
}

// triangulate returns the triangles of an outline, with no vertices but its corners: point after point into a large
// triangle, then the edges by turning what crosses them (S. W. Sloan, 1993, from memory), then without what lies outside.
// All that decides what is joined to what is exact; Delaunay's criterion is not, and only makes triangles round.
func triangulate(o *outline) (*mesh, error) {
	n := len(o.corners)
	tr := &triangulation{}
	for _, c := range o.corners {
		tr.p = append(tr.p, c.at)
	}
	const far = 1 << 29
	tr.p = append(tr.p, geom.Point{X: -far, Y: -far}, geom.Point{X: far, Y: -far}, geom.Point{X: 0, Y: far})
	tr.of = make([]int32, n+3)
	for i, p := range tr.p {
		tr.x = append(tr.x, toVec(p))
		tr.of[i] = -1
	}
	none := [3]int32{-1, -1, -1}
	tr.tri = []triangle{{[3]int32{int32(n), int32(n + 1), int32(n + 2)}, none, none}}
	tr.of[n], tr.of[n+1], tr.of[n+2] = 0, 0, 0
	for v := range int32(n) {
		tr.insert(v)
	}
	for v, c := range o.corners {
		if !tr.force(int32(v), int32(c.next)) {
			return nil, fmt.Errorf("the border cannot be followed at %s", um(o.nm(toVec(c.at))))
		}
		a, i := tr.edge(int32(v), int32(c.next))
		b := tr.tri[a].n[i]
		tr.tri[a].side[i] = int32(v)
		for j, m := range tr.tri[b].n {
			if m == a {
				tr.tri[b].side[j] = int32(v)
			}
		}
	}
	tr.corners = n
	tr.keepInside(o)
	all := make([]int32, len(tr.tri))
	for i := range all {
		all[i] = int32(i)
	}
	tr.settle(all)
	return &tr.mesh, nil
}

func (tr *triangulation) side(a, b, c int32) int { return geom.Side(tr.p[a], tr.p[b], tr.p[c]) }

// locate returns a triangle that holds vertex v, and the edge that it lies on, or -1.
func (tr *triangulation) locate(v int32) (t int32, on int) {
	t = int32(len(tr.tri) - 1)
walk:
	for range 4 * len(tr.tri) {
		on = -1
		for i := range 3 {
			switch s := tr.side(tr.tri[t].v[step(i)], tr.tri[t].v[step(step(i))], v); {
			case s < 0:
				t = tr.tri[t].n[i]
				continue walk
			case s == 0:
				on = i
			}
		}
		return t, on
	}
	for t = range int32(len(tr.tri)) { // going round in a circle: look everywhere
		on = -1
		inside := true
		for i := range 3 {
			s := tr.side(tr.tri[t].v[step(i)], tr.tri[t].v[step(step(i))], v)
			inside = inside && s >= 0
			if s == 0 {
				on = i
			}
		}
		if inside {
			break
		}
	}
	return t, on
}

func (tr *triangulation) insert(v int32) {
	t, on := tr.locate(v)
	first := int32(len(tr.tri))
	if on >= 0 {
		u := tr.tri[t].n[on]
		tr.splitEdge(t, on, v)
		tr.settleExact([]int32{t, u, first, first + 1})
		return
	}
	o := tr.tri[t]
	a, b, c := o.v[0], o.v[1], o.v[2]
	none := [3]int32{-1, -1, -1}
	tr.tri[t] = triangle{[3]int32{a, b, v}, [3]int32{first, first + 1, o.n[2]}, none}
	tr.tri = append(tr.tri, triangle{[3]int32{b, c, v}, [3]int32{first + 1, t, o.n[0]}, none},
		triangle{[3]int32{c, a, v}, [3]int32{t, first, o.n[1]}, none})
	tr.relink(o.n[0], t, first)
	tr.relink(o.n[1], t, first+1)
	tr.of[a], tr.of[b], tr.of[c], tr.of[v] = t, t, first, t
	tr.settleExact([]int32{t, first, first + 1})
}

// settleExact is settle with signs that are exact.
func (tr *triangulation) settleExact(stack []int32) {
	for budget := 100 * (len(tr.tri) + 10); len(stack) > 0 && budget > 0; budget-- {
		t := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for i := range 3 {
			u := tr.tri[t].n[i]
			if u < 0 || !tr.turnable(t, i) {
				continue
			}
			d := tr.opposite(t, i)
			v := tr.tri[t].v
			if inCircle(tr.x[v[0]], tr.x[v[1]], tr.x[v[2]], tr.x[d]) {
				tr.flip(t, i)
				stack = append(stack, t, u)
				break
			}
		}
	}
}

// opposite returns the vertex across edge i of t.
func (tr *triangulation) opposite(t int32, i int) int32 {
	u := tr.tri[t].n[i]
	for j, n := range tr.tri[u].n {
		if n == t {
			return tr.tri[u].v[j]
		}
	}
	return -1
}

// turnable reports whether edge i of t lies in a quadrangle that is strictly convex.
func (tr *triangulation) turnable(t int32, i int) bool {
	v := tr.tri[t].v
	a, b, c, d := v[i], v[step(i)], v[step(step(i))], tr.opposite(t, i)
	return tr.side(a, b, d) > 0 && tr.side(a, d, c) > 0
}

// force makes the line from a to b an edge; no vertex may lie on it.
func (tr *triangulation) force(a, b int32) bool {
	if t, _ := tr.edge(a, b); t >= 0 {
		return true
	}
	var crossing [][2]int32
	for _, t := range tr.fan(a) {
		i := tr.at(t, a)
		v, w := tr.tri[t].v[step(i)], tr.tri[t].v[step(step(i))]
		if tr.side(a, b, v) >= 0 || tr.side(a, b, w) <= 0 {
			continue
		}
		for tr.side(v, w, b) < 0 { // b lies beyond this edge; v is right of the line, w left of it
			crossing = append(crossing, [2]int32{v, w})
			d := tr.opposite(t, i)
			t = tr.tri[t].n[i]
			if d == b {
				break
			}
			if tr.side(a, b, d) > 0 {
				w = d
			} else {
				v = d
			}
			i = 3 - tr.at(t, v) - tr.at(t, w)
		}
		break
	}
	for budget := 100 * (len(crossing) + 10) * (len(crossing) + 10); len(crossing) > 0; budget-- {
		e := crossing[0]
		crossing = crossing[1:]
		t, i := tr.edge(e[0], e[1])
		if t < 0 || budget < 0 {
			return false
		}
		if !tr.turnable(t, i) {
			crossing = append(crossing, e)
			continue
		}
		v, d := tr.tri[t].v[i], tr.opposite(t, i)
		tr.flip(t, i)
		if v != a && v != b && d != a && d != b && tr.side(a, b, v)*tr.side(a, b, d) < 0 {
			crossing = append(crossing, [2]int32{v, d})
		}
	}
	t, _ := tr.edge(a, b)
	return t >= 0
}

// keepInside removes the triangles outside of the outline, and the large one's corners.
func (tr *triangulation) keepInside(o *outline) {
	inside := make([]bool, len(tr.tri))
	var stack []int32
	mark := func(t int32) {
		if !inside[t] {
			inside[t] = true
			stack = append(stack, t)
		}
	}
	for v, c := range o.corners {
		for _, t := range tr.fan(int32(v)) {
			if tr.tri[t].v[step(tr.at(t, int32(v)))] == int32(c.next) {
				mark(t)
			}
		}
	}
	for len(stack) > 0 {
		t := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for i, n := range tr.tri[t].n {
			if n >= 0 && tr.tri[t].side[i] < 0 {
				mark(n)
			}
		}
	}
	number := make([]int32, len(tr.tri))
	count := int32(0)
	for t := range tr.tri {
		number[t] = -1
		if inside[t] {
			number[t] = count
			count++
		}
	}
	kept := make([]triangle, 0, count)
	for t, x := range tr.tri {
		if !inside[t] {
			continue
		}
		for i, n := range x.n {
			if x.side[i] >= 0 {
				x.n[i] = -1
			} else {
				x.n[i] = number[n]
			}
			tr.of[x.v[i]] = int32(len(kept))
		}
		kept = append(kept, x)
	}
	tr.tri = kept
	n := len(o.corners)
	tr.x, tr.of = tr.x[:n], tr.of[:n]
}
