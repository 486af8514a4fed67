package check

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// mergeBorders makes one of borders that continue each other in one direction between the same regions.
func mergeBorders(all []border) []border {
	direction := func(b *border) geom.Point {
		w := b.way()
		return geom.Point{X: sign(w.X), Y: sign(w.Y)}
	}
	slices.SortFunc(all, func(a, b border) int {
		da, db := direction(&a), direction(&b)
		c := cmp.Or(cmp.Compare(da.X, db.X), cmp.Compare(da.Y, db.Y))
		if c != 0 {
			return c
		}
		line, from := cmp.Compare(a.a.Y, b.a.Y), cmp.Compare(min(a.a.X, a.b.X), min(b.a.X, b.b.X))
		if da.X == 0 {
			line, from = cmp.Compare(a.a.X, b.a.X), cmp.Compare(min(a.a.Y, a.b.Y), min(b.a.Y, b.b.Y))
		}
		return cmp.Or(line, cmp.Compare(a.piece, b.piece), cmp.Compare(a.part, b.part), cmp.Compare(a.out, b.out), from, cmp.Compare(a.b.X, b.b.X), cmp.Compare(a.b.Y, b.b.Y))
	})
	out := all[:0]
	for _, b := range all {
		if n := len(out); n > 0 {
			l := &out[n-1]
			d := direction(&b)
			if d == direction(l) && d.X*d.Y == 0 && l.piece == b.piece && l.part == b.part && l.out == b.out {
				if l.b == b.a {
					l.b = b.b
					continue
				}
				if l.a == b.b {
					l.a = b.a
					continue
				}
			}
		}
		out = append(out, b)
	}
	return out
}

func sign(x int) int { return cmp.Compare(x, 0) }

// grid finds things near a place: each lies in the bins that its box, or a slanted edge itself, reaches.
type grid struct {
	box   geom.Rect
	cell  int // nm
	cols  int
	rows  int
	first []int32
	items []int32
	stamp []int32
	at    int32
}

// newGrid puts n things into bins. reach gives, for a thing and a range of y, the range of x that it needs; ok false where
// there is none.
func newGrid(n int, box geom.Rect, boxOf func(i int) geom.Rect, reach func(i, y0, y1 int) (x0, x1 int)) *grid {
	g := &grid{box: box, stamp: make([]int32, n)}
	if n == 0 {
		return g
	}
	g.cell = max(int(math.Sqrt(float64(box.Width()+1)*float64(box.Height()+1)/float64(n))), (max(box.Width(), box.Height())+1)/(4*n+16), 1)
	g.cols, g.rows = box.Width()/g.cell+1, box.Height()/g.cell+1
	g.first = make([]int32, g.cols*g.rows+1)
	visit := func(tell func(bin int, i int32)) {
		for i := range n {
			b := boxOf(i)
			for r := g.row(b.Min.Y); r <= g.row(b.Max.Y); r++ {
				y0 := g.box.Min.Y + r*g.cell
				x0, x1 := reach(i, max(b.Min.Y, y0-1), min(b.Max.Y, y0+g.cell+1))
				for c := g.col(x0); c <= g.col(x1); c++ {
					tell(r*g.cols+c, int32(i))
				}
			}
		}
	}
	visit(func(bin int, _ int32) { g.first[bin+1]++ })
	for i := range g.first[1:] {
		g.first[i+1] += g.first[i]
	}
	g.items = make([]int32, g.first[len(g.first)-1])
	next := slices.Clone(g.first)
	visit(func(bin int, i int32) { g.items[next[bin]] = i; next[bin]++ })
	return g
}

func (g *grid) row(y int) int { return min(max((y-g.box.Min.Y)/g.cell, 0), g.rows-1) }
func (g *grid) col(x int) int { return min(max((x-g.box.Min.X)/g.cell, 0), g.cols-1) }

// near calls yield once for each thing that may reach into a box.
func (g *grid) near(box geom.Rect, yield func(i int32) bool) {
	if len(g.items) == 0 || !box.Overlaps(g.box) {
		return
	}
	g.at++
	for r := g.row(box.Min.Y); r <= g.row(box.Max.Y); r++ {
		for k := g.first[r*g.cols+g.col(box.Min.X)]; k < g.first[r*g.cols+g.col(box.Max.X)+1]; k++ {
			i := g.items[k]
			if g.stamp[i] == g.at {
				continue
			}
			g.stamp[i] = g.at
			if !yield(i) {
				return
			}
		}
	}
}

// borderGrid puts borders into a grid.
func borderGrid(bs []border) *grid {
	box := geom.EmptyRect()
	for i := range bs {
		box = box.Extend(bs[i].a).Extend(bs[i].b)
	}
	return newGrid(len(bs), box, func(i int) geom.Rect { return boxOf(bs[i].a, bs[i].b) }, func(i, y0, y1 int) (int, int) {
		a, b := bs[i].a, bs[i].b
		if a.X == b.X || a.Y == b.Y {
			return min(a.X, b.X), max(a.X, b.X)
		}
		if a.Y > b.Y {
			a, b = b, a
		}
		x := func(y int) float64 {
			return float64(a.X) + float64(b.X-a.X)*float64(min(max(y, a.Y), b.Y)-a.Y)/float64(b.Y-a.Y)
		}
		p, q := x(y0), x(y1)
		return int(math.Floor(min(p, q))), int(math.Ceil(max(p, q)))
	})
}

// shapeGrid puts shapes into a grid by their boxes.
func shapeGrid(shapes []placed) *grid {
	box := geom.EmptyRect()
	for i := range shapes {
		box = box.Union(shapes[i].box)
	}
	return newGrid(len(shapes), box, func(i int) geom.Rect { return shapes[i].box }, func(i, _, _ int) (int, int) { return shapes[i].box.Min.X, shapes[i].box.Max.X })
}

func boxOf(a, b geom.Point) geom.Rect { return geom.EmptyRect().Extend(a).Extend(b) }

// grown returns a box with a margin around it.
func grown(r geom.Rect, by int) geom.Rect {
	return geom.Rect{Min: r.Min.Add(geom.Point{X: -by, Y: -by}), Max: r.Max.Add(geom.Point{X: by, Y: by})}
}
