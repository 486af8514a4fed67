package field

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// elements holds the equations of one mesh with polynomials of one degree.
type elements struct {
	o *outline
	m *mesh
	b *basis
	k [][]float64 // of each triangle: outer×outer, the bubbles eliminated

	edges   [][3]int32 // of each triangle, numbered
	nEdges  int
	stretch []int // of each corner's edge: the number of its run of electrode edges, -1 for insulated ones
	of      []int // the electrode of each run
}

func newElements(o *outline, m *mesh, degree int) *elements {
	e := &elements{o: o, m: m, b: basisOf(degree), k: make([][]float64, len(m.tri)), edges: make([][3]int32, len(m.tri))}
	for t := range m.tri {
		for i, n := range m.tri[t].n {
			if n >= 0 && n < int32(t) {
				for j, back := range m.tri[n].n {
					if back == int32(t) {
						e.edges[t][i] = e.edges[n][j]
					}
				}
				continue
			}
			e.edges[t][i] = int32(e.nEdges)
			e.nEdges++
		}
	}
	e.stretch, e.of = o.stretches()
	return e
}

// stretches numbers the runs of electrode edges along the rings.
func (o *outline) stretches() (run, of []int) {
	run = make([]int, len(o.corners))
	for i := range run {
		run[i] = -1
	}
	follow := func(i int) {
		of = append(of, o.corners[i].electrode)
		for run[i] < 0 && o.corners[i].electrode != Insulated {
			run[i] = len(of) - 1
			i = o.corners[i].next
		}
	}
	for i, c := range o.corners {
		if c.electrode != Insulated && o.corners[c.prev].electrode == Insulated {
			follow(i)
		}
	}
	for i, c := range o.corners { // rings that are electrode all around
		if c.electrode != Insulated && run[i] < 0 {
			follow(i)
		}
	}
	return run, of
}

// jacobian returns the metric of a triangle: its doubled area and the factors of xx, xy and yy.
func (e *elements) jacobian(t int32) (det, xx, xy, yy float64) {
	v := e.m.tri[t].v
	p, q := sub(e.m.x[v[1]], e.m.x[v[0]]), sub(e.m.x[v[2]], e.m.x[v[0]])
	det = cross(p, q)
	return det, dot(q, q) / det, -dot(p, q) / det, dot(p, p) / det
}

// full returns ∫∇φ·∇φ of all functions of a triangle.
func (e *elements) full(t int32, k []float64) {
	_, xx, xy, yy := e.jacobian(t)
	for i := range k {
		k[i] = xx*e.b.xx[i] + xy*e.b.xy[i] + yy*e.b.yy[i]
	}
}

// condense makes k of all triangles; it returns one where that cannot be done, or -1.
func (e *elements) condense() int32 {
	n, outer := e.b.n, e.b.outer
	all := make([]float64, n*n)
	for t := range int32(len(e.m.tri)) {
		e.full(t, all)
		if !eliminateBubbles(all, n, outer) {
			return t
		}
		k := make([]float64, outer*outer)
		for i := range outer {
			for j, v := range all[i*n : i*n+i+1] {
				k[i*outer+j], k[j*outer+i] = v, v
			}
		}
		e.k[t] = k
	}
	return -1
}

// eliminateBubbles takes the last unknowns out of a symmetric n×n matrix, of which the lower triangle counts, from the last to the first. Row i keeps the
// factors of what unknown i is made of, times -1, in the columns before it.
func eliminateBubbles(a []float64, n, outer int) bool {
	for p := n - 1; p >= outer; p-- {
		row := a[p*n : p*n+p]
		pivot := a[p*n+p]
		if !(pivot > 0) || math.IsInf(pivot, 0) {
			return false
		}
		for i, v := range row {
			if f := v / pivot; f != 0 {
				floats.AddScaled(a[i*n:i*n+i+1], -f, row[:i+1])
			}
		}
		for j := range row {
			row[j] /= pivot
		}
	}
	return true
}

// odd reports whether edge i of t runs against the order of its vertices' numbers, so that odd functions change sign.
func (e *elements) odd(t int32, i int) bool {
	v := e.m.tri[t].v
	return v[step(i)] > v[step(step(i))]
}

// numbering says which unknown each vertex and each edge has: -1 is 0.
type numbering struct {
	vertex, edge []int32
	n            int
}

// mapper returns the terms of the outer functions of each triangle. more adds terms to vertices.
func (e *elements) mapper(nb *numbering, more map[int32][3][]term) func(t int32) [][]term {
	outer, per := e.b.outer, e.b.degree-1
	terms := make([][]term, outer)
	buffer := make([]term, 0, outer)
	return func(t int32) [][]term {
		buffer = buffer[:0]
		put := func(at int, d int32, factor float64) {
			if d < 0 {
				terms[at] = nil
				return
			}
			buffer = append(buffer, term{d, factor})
			terms[at] = buffer[len(buffer)-1 : len(buffer) : len(buffer)]
		}
		for i, v := range e.m.tri[t].v {
			put(i, nb.vertex[v], 1)
		}
		for i, id := range e.edges[t] {
			first, odd := nb.edge[id], e.odd(t, i)
			for k := range per {
				d, factor := int32(-1), 1.0
				if first >= 0 {
					d = first + int32(k)
				}
				if odd && k%2 == 1 {
					factor = -1
				}
				put(3+i*per+k, d, factor)
			}
		}
		if x, ok := more[t]; ok {
			for i := range 3 {
				terms[i] = append(terms[i], x[i]...)
			}
		}
		return terms
	}
}

// primal numbers the unknowns of the potential: first the electrodes.
func (e *elements) primal() *numbering {
	nb := e.blank()
	const unset = -2
	for t, tri := range e.m.tri {
		for i, s := range tri.side {
			if s >= 0 && e.o.corners[s].electrode != Insulated {
				el := int32(e.o.corners[s].electrode)
				nb.vertex[tri.v[step(i)]], nb.vertex[tri.v[step(step(i))]] = el, el
				nb.edge[e.edges[t][i]] = -1
			}
		}
	}
	nb.n = e.o.k
	e.rest(nb, unset)
	return nb
}

// dual numbers the unknowns of the stream function: first the branches that carry current from one stretch to another,
// then each ring's insulated edges, on which it is constant. Constants are taken out.
func (e *elements) dual() *numbering {
	nb := e.blank()
	const unset = -2
	nb.n = max(len(e.of)-1, 0)
	ring := make([]int32, e.o.rings)
	for r := range ring {
		ring[r] = unset
	}
	grounded := false
	for t, tri := range e.m.tri {
		for i, s := range tri.side {
			if s < 0 || e.o.corners[s].electrode != Insulated {
				continue
			}
			r := e.o.corners[s].ring
			if ring[r] == unset {
				ring[r] = -1
				if grounded {
					ring[r] = int32(nb.n)
					nb.n++
				}
				grounded = true
			}
			nb.vertex[tri.v[step(i)]], nb.vertex[tri.v[step(step(i))]] = ring[r], ring[r]
			nb.edge[e.edges[t][i]] = -1
		}
	}
	if !grounded {
		nb.vertex[e.m.tri[0].v[0]] = -1
	}
	e.rest(nb, unset)
	return nb
}

func (e *elements) blank() *numbering {
	nb := &numbering{vertex: make([]int32, len(e.m.x)), edge: make([]int32, e.nEdges)}
	for i := range nb.vertex {
		nb.vertex[i] = -2
	}
	for i := range nb.edge {
		nb.edge[i] = -2
	}
	return nb
}

func (e *elements) rest(nb *numbering, unset int32) {
	for i, d := range nb.vertex {
		if d == unset {
			nb.vertex[i] = int32(nb.n)
			nb.n++
		}
	}
	for i, d := range nb.edge {
		if d == unset {
			nb.edge[i] = int32(nb.n)
			nb.n += e.b.degree - 1
		}
	}
}

// branch is a way through triangles from one stretch of electrode to another.
type branch struct{ from, to int }

// branches joins all stretches by ways through triangles, each as short as it can be, and returns what a unit of
// current along each adds to the stream function: in each triangle of the way, ±1 at the vertex that it goes around, so
// that as much passes through each edge.
func (e *elements) branches() ([]branch, map[int32][3][]term) {
	n := len(e.m.tri)
	at := make([][]int32, len(e.of)) // triangles with an edge on each stretch
	ends := make([]int, n)           // how many such edges a triangle has
	for t, tri := range e.m.tri {
		for _, s := range tri.side {
			if s >= 0 && e.stretch[s] >= 0 {
				at[e.stretch[s]] = append(at[e.stretch[s]], int32(t))
				ends[t]++
			}
		}
	}
	edgeOn := func(t int32, run int) int {
		for i, s := range e.m.tri[t].side {
			if s >= 0 && e.stretch[s] == run {
				return i
			}
		}
		return -1
	}
	joined := make([]bool, len(e.of))
	if len(joined) > 0 {
		joined[0] = true
	}
	var all []branch
	terms := map[int32][3][]term{}
	before, from := make([]int32, n), make([]int, n)
	for b := range int32(max(len(e.of)-1, 0)) {
		for i := range before {
			before[i] = -2
		}
		var queue []int32
		for run, ok := range joined {
			for _, t := range at[run] {
				if ok && before[t] == -2 {
					before[t], from[t] = -1, run
					queue = append(queue, t)
				}
			}
		}
		found, target := int32(-1), -1
		for next := 0; next < len(queue) && found < 0; next++ {
			t := queue[next]
			for _, s := range e.m.tri[t].side {
				if s >= 0 && e.stretch[s] >= 0 && !joined[e.stretch[s]] {
					found, target = t, e.stretch[s]
				}
			}
			for _, u := range e.m.tri[t].n {
				if u >= 0 && before[u] == -2 {
					before[u], from[u] = t, from[t]
					queue = append(queue, u)
				}
			}
		}
		if found < 0 {
			return all, terms // not connected: cannot be in a valid polygon
		}
		joined[target] = true
		all = append(all, branch{from[found], target})
		exit := edgeOn(found, target)
		for t := found; t >= 0; t = before[t] {
			entry := -1
			if u := before[t]; u >= 0 {
				for i, x := range e.m.tri[t].n {
					if x == u {
						entry = i
					}
				}
			} else {
				entry = edgeOn(t, from[t])
			}
			v := 3 - entry - exit
			sign := -1.0
			if entry == step(step(v)) {
				sign = 1
			}
			x := terms[t]
			x[v] = append(x[v], term{b, sign})
			terms[t] = x
			if u := before[t]; u >= 0 {
				for i, y := range e.m.tri[u].n {
					if y == t {
						exit = i
					}
				}
			}
		}
	}
	return all, terms
}
