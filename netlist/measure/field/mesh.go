package field

import (
	"math"

	"undermetal/layout/geom"
)

// triangle goes counterclockwise.
type triangle struct {
	v    [3]int32 // vertices
	n    [3]int32 // the triangle across the edge opposite to v[i], -1 where there is none
	side [3]int32 // the corner of the outline at which the border edge there begins, -1 inside
}

// mesh is a triangulation. Triangles share whole edges. Vertices below corners are those of the outline.
type mesh struct {
	x       []geom.Vec // places, in units of the grid
	tri     []triangle
	of      []int32 // a triangle at each vertex
	corners int
}

// step returns the index after i in a triangle.
func step(i int) int { return (i + 1) % 3 }

// at returns which of t's vertices v is.
func (m *mesh) at(t, v int32) int {
	for i, w := range m.tri[t].v {
		if w == v {
			return i
		}
	}
	return -1
}

// relink makes t, which has lost its edge to old, know that new lies there now.
func (m *mesh) relink(t, old, new int32) {
	if t < 0 {
		return
	}
	for i, n := range m.tri[t].n {
		if n == old {
			m.tri[t].n[i] = new
			return
		}
	}
}

// fan returns the triangles around a vertex.
func (m *mesh) fan(v int32) []int32 {
	start := m.of[v]
	fan := []int32{start}
	for t := start; ; {
		t = m.tri[t].n[step(m.at(t, v))]
		if t == start {
			return fan
		}
		if t < 0 {
			break
		}
		fan = append(fan, t)
	}
	for t := start; ; {
		t = m.tri[t].n[step(step(m.at(t, v)))]
		if t < 0 {
			return fan
		}
		fan = append(fan, t)
	}
}

// edge returns a triangle with the edge from a to b, as its edge number i; t is -1 if there is none.
func (m *mesh) edge(a, b int32) (t int32, i int) {
	for _, t := range m.fan(a) {
		if j := m.at(t, b); j >= 0 {
			return t, 3 - j - m.at(t, a)
		}
	}
	return -1, 0
}

// splitEdge puts vertex w onto edge i of t, and so cuts the one or two triangles there in two.
func (m *mesh) splitEdge(t int32, i int, w int32) {
	old := m.tri[t]
	a, b, c := old.v[i], old.v[step(i)], old.v[step(step(i))]
	nb, nc := old.n[step(i)], old.n[step(step(i))] // opposite to b and c
	sb, sc := old.side[step(i)], old.side[step(step(i))]
	u, s := old.n[i], old.side[i]
	t2 := int32(len(m.tri))
	m.tri = append(m.tri, triangle{})
	u2 := int32(-1)
	if u >= 0 {
		u2 = int32(len(m.tri))
		m.tri = append(m.tri, triangle{})
		j := 0
		for m.tri[u].n[j] != t {
			j++
		}
		o := m.tri[u] // d, c, b
		d := o.v[j]
		m.tri[u] = triangle{[3]int32{d, c, w}, [3]int32{t2, u2, o.n[step(step(j))]}, [3]int32{s, -1, o.side[step(step(j))]}}
		m.tri[u2] = triangle{[3]int32{d, w, b}, [3]int32{t, o.n[step(j)], u}, [3]int32{s, o.side[step(j)], -1}}
		m.relink(o.n[step(j)], u, u2)
		m.of[d] = u
	}
	m.tri[t] = triangle{[3]int32{a, b, w}, [3]int32{u2, t2, nc}, [3]int32{s, -1, sc}}
	m.tri[t2] = triangle{[3]int32{a, w, c}, [3]int32{u, nb, t}, [3]int32{s, sb, -1}}
	m.relink(nb, t, t2)
	m.of[a], m.of[b], m.of[c], m.of[w] = t, t, t2, t
}

// flip turns edge i of t, which must not be on the border, in the quadrangle of its two triangles.
func (m *mesh) flip(t int32, i int) {
	p, u := m.tri[t], m.tri[t].n[i]
	j := 0
	for m.tri[u].n[j] != t {
		j++
	}
	q := m.tri[u]
	a, b, c, d := p.v[i], p.v[step(i)], p.v[step(step(i))], q.v[j]
	ib, ic, jc, jb := step(i), step(step(i)), step(j), step(step(j)) // u is d, c, b
	m.tri[t] = triangle{[3]int32{a, b, d}, [3]int32{q.n[jc], u, p.n[ic]}, [3]int32{q.side[jc], -1, p.side[ic]}}
	m.tri[u] = triangle{[3]int32{a, d, c}, [3]int32{q.n[jb], p.n[ib], t}, [3]int32{q.side[jb], p.side[ib], -1}}
	m.relink(q.n[jc], u, t)
	m.relink(p.n[ib], t, u)
	m.of[a], m.of[b], m.of[c], m.of[d] = t, t, u, t
}

// improves reports whether turning edge i of t makes the smallest angle larger (Delaunay's criterion), with both new
// triangles the right way round.
func (m *mesh) improves(t int32, i int) bool {
	p := &m.tri[t]
	u := p.n[i]
	if u < 0 || p.side[i] >= 0 {
		return false
	}
	a, b, c := m.x[p.v[i]], m.x[p.v[step(i)]], m.x[p.v[step(step(i))]]
	j := 0
	for m.tri[u].n[j] != t {
		j++
	}
	d := m.x[m.tri[u].v[j]]
	one, two := turn(a, b, d), turn(a, d, c)
	least := 1e-9 * (turn(a, b, c) + turn(d, c, b))
	return one > least && two > least && inCircle(a, b, c, d)
}

// inCircle reports whether d lies in the circle through a, b, c (counterclockwise) by more than rounding.
func inCircle(a, b, c, d geom.Vec) bool {
	a, b, c = sub(a, d), sub(b, d), sub(c, d)
	x, y, z := cross(b, c)*dot(a, a), cross(c, a)*dot(b, b), cross(a, b)*dot(c, c)
	return x+y+z > 1e-10*(math.Abs(x)+math.Abs(y)+math.Abs(z))
}

// settle turns edges around the given triangles until none improves.
func (m *mesh) settle(stack []int32) {
	for budget := 100 * (len(m.tri) + 10); len(stack) > 0 && budget > 0; budget-- {
		t := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for i := range 3 {
			if m.improves(t, i) {
				u := m.tri[t].n[i]
				m.flip(t, i)
				stack = append(stack, t, u)
				break
			}
		}
	}
}

// longest returns the edge of t that is longest; of equal ones that with the lowest vertices, so that neighbours agree.
func (m *mesh) longest(t int32) int {
	best, at := -1.0, 0
	var key [2]int32
	for i := range 3 {
		v, w := m.tri[t].v[step(i)], m.tri[t].v[step(step(i))]
		d := sub(m.x[v], m.x[w])
		k := [2]int32{min(v, w), max(v, w)}
		if l := dot(d, d); l > best || l == best && (k[0] < key[0] || k[0] == key[0] && k[1] < key[1]) {
			best, at, key = l, i, k
		}
	}
	return at
}

// bisect cuts t at the middle of its longest edge; where that is not the neighbour's longest as well, the neighbour is
// first cut, and so on (M.-C. Rivara, 1984, from memory). It returns the new vertices' number.
func (m *mesh) bisect(t int32) int {
	made := 0
	target := m.tri[t].v
	for made < 10000 {
		at := t
		for {
			i := m.longest(at)
			u := m.tri[at].n[i]
			if u < 0 || m.tri[u].n[m.longest(u)] == at {
				v, w := m.tri[at].v[step(i)], m.tri[at].v[step(step(i))]
				m.vertex(middle(m.x[v], m.x[w]))
				m.splitEdge(at, i, int32(len(m.x)-1))
				made++
				break
			}
			at = u
		}
		if m.tri[t].v != target {
			return made
		}
	}
	return made
}

func (m *mesh) vertex(p geom.Vec) {
	m.x = append(m.x, p)
	m.of = append(m.of, -1)
}

// grading is the ratio of the sizes of layers of triangles around a corner.
const grading = 0.15

// grade cuts all edges at a corner at the same part of their lengths, which leaves small triangles around it.
func (m *mesh) grade(v int32) {
	var ends []int32
	for _, t := range m.fan(v) {
		for _, w := range m.tri[t].v {
			if w != v && !contains(ends, w) {
				ends = append(ends, w)
			}
		}
	}
	for _, w := range ends {
		t, i := m.edge(v, w)
		m.vertex(add(m.x[v], sub(m.x[w], m.x[v]).Scale(grading)))
		m.splitEdge(t, i, int32(len(m.x)-1))
	}
}

func contains(s []int32, v int32) bool {
	for _, w := range s {
		if w == v {
			return true
		}
	}
	return false
}

// sharpness returns the sine of the smallest angle of t, and reports whether that lies between two edges of the border.
func (m *mesh) sharpness(t int32) (sine float64, forced bool) {
	p := &m.tri[t]
	var l [3]float64
	for i := range 3 {
		l[i] = distance(m.x[p.v[step(i)]], m.x[p.v[step(step(i))]])
	}
	s := 0 // the shortest edge lies opposite to the smallest angle
	for i := range 3 {
		if l[i] < l[s] {
			s = i
		}
	}
	i, j := step(s), step(step(s))
	return turn(m.x[p.v[0]], m.x[p.v[1]], m.x[p.v[2]]) / (l[i] * l[j]), p.side[i] >= 0 && p.side[j] >= 0
}

// roundUp cuts slender triangles at their longest edges and turns edges, until the smallest angles are no smaller than
// the outline asks for (longest-edge bisection with Delaunay's criterion).
func (m *mesh) roundUp(sine float64) {
	limit := 40*len(m.tri) + 400
	for pass := 0; pass < 60; pass++ {
		cut := false
		for t := int32(0); t < int32(len(m.tri)) && len(m.tri) < limit; t++ {
			if s, forced := m.sharpness(t); s >= sine || forced {
				continue
			}
			cut = true
			at := t
			for range len(m.tri) {
				u := m.tri[at].n[m.longest(at)]
				if u < 0 || m.tri[u].n[m.longest(u)] == at {
					break
				}
				at = u
			}
			i := m.longest(at)
			u := m.tri[at].n[i]
			v, w := m.tri[at].v[step(i)], m.tri[at].v[step(step(i))]
			first := int32(len(m.tri))
			m.vertex(middle(m.x[v], m.x[w]))
			m.splitEdge(at, i, int32(len(m.x)-1))
			stack := []int32{at}
			if u >= 0 {
				stack = append(stack, u)
			}
			for n := first; n < int32(len(m.tri)); n++ {
				stack = append(stack, n)
			}
			m.settle(stack)
		}
		if !cut {
			return
		}
	}
}
