package field

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"undermetal/layout/geom"
)

// front is a part of the system of equations: the unknowns of some triangles, those that no other triangle has eliminated
// (a multifrontal Cholesky factorisation: I. S. Duff, J. K. Reid, 1983, from memory).
type front struct {
	dofs []int32   // eliminated ones first
	gone int       // how many of them are eliminated
	uses []int32   // how many triangles of this part have each of the others
	a    []float64 // rows of the lower triangle, one after the other: the factor in the first columns, then what is left
	kids []*front
}

// row returns row i, up to the diagonal.
func (f *front) row(i int) []float64 { return f.a[i*(i+1)/2:][:i+1] }

// term is one unknown with its factor.
type term struct {
	dof    int32
	factor float64
}

// system gathers the equations of all triangles. A local unknown is a sum of terms; the empty sum is 0.
type system struct {
	maps  func(t int32) [][]term // of triangle t's outer functions
	local func(t int32) []float64
	n     int     // of local unknowns
	total []int32 // how many triangles have each unknown; huge for those that are kept
	pos   []int32 // of each unknown in the front that is being made, -1 elsewhere
	badAt int32   // a triangle where elimination failed
}

const kept = 1 << 30

// count makes total from the maps; the first unknowns are kept.
func (s *system) count(triangles, unknowns, keep int) {
	s.total, s.pos = make([]int32, unknowns), make([]int32, unknowns)
	for i := range s.pos {
		s.pos[i] = -1
	}
	for i := range keep {
		s.total[i] = kept
	}
	for t := range int32(triangles) {
		for _, f := range s.leafDofs(t) {
			s.total[f]++
		}
	}
	for i := range s.pos {
		s.pos[i] = -1
	}
}

// leafDofs returns the unknowns of a triangle and numbers them in pos, which the caller has to clear.
func (s *system) leafDofs(t int32) []int32 {
	var dofs []int32
	for _, terms := range s.maps(t) {
		for _, x := range terms {
			if s.pos[x.dof] < 0 {
				s.pos[x.dof] = int32(len(dofs))
				dofs = append(dofs, x.dof)
			}
		}
	}
	for _, d := range dofs {
		s.pos[d] = -1
	}
	return dofs
}

// leaf returns the front of one triangle.
func (s *system) leaf(t int32) (*front, bool) {
	dofs := s.leafDofs(t)
	uses := make([]int32, len(dofs))
	for i := range uses {
		uses[i] = 1
	}
	f := s.arrange(dofs, uses)
	k, maps := s.local(t), s.maps(t)
	for i := range s.n {
		for _, x := range maps[i] {
			for j := range s.n {
				for _, y := range maps[j] {
					if p, q := s.pos[x.dof], s.pos[y.dof]; q <= p {
						f.row(int(p))[q] += x.factor * y.factor * k[i*s.n+j]
					}
				}
			}
		}
	}
	return s.finish(f)
}

// join returns the front of two parts together.
func (s *system) join(kids ...*front) (*front, bool) {
	var dofs, uses []int32
	for _, k := range kids {
		for i, d := range k.dofs[k.gone:] {
			if s.pos[d] < 0 {
				s.pos[d] = int32(len(dofs))
				dofs, uses = append(dofs, d), append(uses, 0)
			}
			uses[s.pos[d]] += k.uses[i]
		}
	}
	for _, d := range dofs {
		s.pos[d] = -1
	}
	f := s.arrange(dofs, uses)
	f.kids = kids
	var to []int // by unknown that a part has left: where it is here
	for _, k := range kids {
		to = to[:0]
		for _, d := range k.dofs[k.gone:] {
			to = append(to, int(s.pos[d]))
		}
		for i, p := range to {
			row := f.row(p)
			for j, v := range k.row(k.gone + i)[k.gone:] {
				if q := to[j]; q <= p {
					row[q] += v
				} else {
					f.a[q*(q+1)/2+p] += v
				}
			}
		}
	}
	return s.finish(f)
}

// arrange puts what can be eliminated first and numbers the unknowns in pos.
func (s *system) arrange(dofs, uses []int32) *front {
	f := &front{dofs: make([]int32, 0, len(dofs)), a: make([]float64, len(dofs)*(len(dofs)+1)/2)}
	for i, d := range dofs {
		if uses[i] == s.total[d] {
			f.dofs = append(f.dofs, d)
		}
	}
	f.gone = len(f.dofs)
	for i, d := range dofs {
		if uses[i] != s.total[d] {
			f.dofs, f.uses = append(f.dofs, d), append(f.uses, uses[i])
		}
	}
	for i, d := range f.dofs {
		s.pos[d] = int32(i)
	}
	return f
}

// finish clears pos and eliminates.
func (s *system) finish(f *front) (*front, bool) {
	for _, d := range f.dofs {
		s.pos[d] = -1
	}
	n := len(f.dofs)
	for i := range n {
		row := f.row(i)
		for j := 0; j <= min(i, f.gone-1); j++ {
			other := f.row(j)
			v := row[j] - floats.Dot(row[:j], other[:j])
			if i > j {
				row[j] = v / other[j]
				continue
			}
			if !(v > 1e-14*math.Abs(row[j])) || math.IsInf(v, 0) {
				return nil, false
			}
			row[j] = math.Sqrt(v)
		}
		for j := f.gone; j <= i && f.gone > 0; j++ {
			row[j] -= floats.Dot(row[:f.gone], f.row(j)[:f.gone])
		}
	}
	return f, true
}

// eliminate makes the front of the triangles of a tree.
func (s *system) eliminate(ctx context.Context, tr *tree) (*front, bool) {
	if ctx.Err() != nil {
		return nil, false
	}
	if tr.kids[0] == nil {
		f, ok := s.leaf(tr.triangle)
		if !ok {
			s.badAt = tr.triangle
		}
		return f, ok
	}
	a, ok := s.eliminate(ctx, tr.kids[0])
	if !ok {
		return nil, false
	}
	b, ok := s.eliminate(ctx, tr.kids[1])
	if !ok {
		return nil, false
	}
	f, ok := s.join(a, b)
	if !ok {
		s.badAt = tr.triangle
	}
	return f, ok
}

// substitute finds the eliminated unknowns from those that are left, all in x.
func (f *front) substitute(x []float64) {
	sum := make([]float64, f.gone) // row by row, as they lie in memory
	for j := len(f.dofs) - 1; j >= 0; j-- {
		row := f.row(j)
		if j < f.gone {
			x[f.dofs[j]] = -sum[j] / row[j]
		}
		floats.AddScaled(sum[:min(j, f.gone)], x[f.dofs[j]], row[:min(j, f.gone)])
	}
	for _, k := range f.kids {
		k.substitute(x)
	}
}

// tree tells in which order triangles are put together.
type tree struct {
	triangle int32 // of a leaf; else one of them
	kids     [2]*tree
}

// dissect halves the triangles again and again, along the way from one end to the other or across their longer extent, so
// that what the halves share is short (nested dissection: A. George, 1973, from memory).
func dissect(m *mesh) *tree {
	all := make([]int32, len(m.tri))
	part := make([]int32, len(m.tri))
	for i := range all {
		all[i] = int32(i)
	}
	d := &dissection{m: m, part: part, seen: make([]int32, len(m.tri))}
	return d.halve(all)
}

type dissection struct {
	m           *mesh
	part, seen  []int32
	parts, pass int32
}

func (d *dissection) halve(t []int32) *tree {
	if len(t) == 1 {
		return &tree{triangle: t[0]}
	}
	d.parts++
	for _, x := range t {
		d.part[x] = d.parts
	}
	order := d.spread(t, t[0])
	order = d.spread(t, order[len(order)-1])
	half := len(order) / 2
	if len(t) > 16 {
		if across := d.across(t); d.shared(across[:half]) < d.shared(order[:half]) {
			order = across
		}
	}
	a, b := append([]int32(nil), order[:half]...), append([]int32(nil), order[half:]...)
	return &tree{triangle: order[0], kids: [2]*tree{d.halve(a), d.halve(b)}}
}

// across returns the triangles of a part in the order of x or y, whichever they extend further in.
func (d *dissection) across(t []int32) []int32 {
	low, high := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	middles := make(map[int32]geom.Vec, len(t))
	for _, x := range t {
		v := d.m.tri[x].v
		p := add(add(d.m.x[v[0]], d.m.x[v[1]]), d.m.x[v[2]])
		middles[x] = p
		low = geom.Vec{X: min(low.X, p.X), Y: min(low.Y, p.Y)}
		high = geom.Vec{X: max(high.X, p.X), Y: max(high.Y, p.Y)}
	}
	order := append([]int32(nil), t...)
	slices.SortFunc(order, func(a, b int32) int {
		p, q := middles[a], middles[b]
		if high.X-low.X < high.Y-low.Y {
			return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.X, q.X), cmp.Compare(a, b))
		}
		return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y), cmp.Compare(a, b))
	})
	return order
}

// shared returns how many edges the triangles of half a part have in common with the other half.
func (d *dissection) shared(half []int32) int {
	d.pass++
	part := d.part[half[0]]
	for _, t := range half {
		d.seen[t] = d.pass
	}
	n := 0
	for _, t := range half {
		for _, u := range d.m.tri[t].n {
			if u >= 0 && d.part[u] == part && d.seen[u] != d.pass {
				n++
			}
		}
	}
	return n
}

// spread returns the triangles of a part in the order of their distance from one; unconnected ones follow.
func (d *dissection) spread(t []int32, from int32) []int32 {
	d.pass++
	part := d.part[from]
	order := make([]int32, 0, len(t))
	next := 0
	for seed := -1; seed < len(t); seed++ {
		s := from
		if seed >= 0 {
			s = t[seed]
		}
		if d.seen[s] == d.pass {
			continue
		}
		d.seen[s] = d.pass
		order = append(order, s)
		for ; next < len(order); next++ {
			for _, n := range d.m.tri[order[next]].n {
				if n >= 0 && d.part[n] == part && d.seen[n] != d.pass {
					d.seen[n] = d.pass
					order = append(order, n)
				}
			}
		}
	}
	return order
}
