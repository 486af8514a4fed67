package align

import (
	"math"
	"slices"
)

// grid are the patches of b at a resolution, with the picture that they are compared with.
type grid struct {
	a, b halvings
	k    float64 // px for one of b
	side int     // px of a patch

	drawn   map[place]*window // of b, which are the same under any map
	classed []place           // those that have their classes among each other
}

// place is a patch: its column and row.
type place [2]int

func newGrid(a, b halvings, k float64) *grid {
	g := &grid{a: a, b: b, k: k, side: 32, drawn: map[place]*window{}}
	if float64(b[0].Width*b[0].Height)*k*k < 450*450 {
		g.side = 24 // so that there are enough of them
	}
	return g
}

// all are the patches that lie in b.
func (g *grid) all() (all []place) {
	columns, rows := int((float64(g.b[0].Width)*g.k-2*rim)/float64(g.side)), int((float64(g.b[0].Height)*g.k-2*rim)/float64(g.side))
	for j := range rows {
		for i := range columns {
			all = append(all, place{i, j})
		}
	}
	return all
}

// corner is the first pixel of a patch.
func (g *grid) corner(p place) (x, y int) { return rim + p[0]*g.side, rim + p[1]*g.side }

// shown are those that a shows under m, with reach px around.
func (g *grid) shown(m matrix, reach int, all []place) (shown []place) {
	from := scaling(1 / g.k).then(m.inverse())
	w, h := float64(g.a[0].Width), float64(g.a[0].Height)
	in := func(x, y, margin float64) bool {
		x, y = from.at(x, y)
		return x > margin && y > margin && x < w-margin && y < h-margin
	}
	for _, p := range all {
		x, y := g.corner(p)
		x0, y0, side := float64(x-reach-rim), float64(y-reach-rim), float64(g.side+2*reach+2*rim)
		margin := 1 + from.stretch(x0, y0)
		if in(x0, y0, margin) && in(x0+side, y0, margin) && in(x0, y0+side, margin) && in(x0+side, y0+side, margin) {
			shown = append(shown, p)
		}
	}
	return shown
}

// mostPatches is how many are looked at; more would make it slower, and hardly better.
const mostPatches = 700

// thin leaves about so many patches, evenly.
func thin(all []place, most float64) (kept []place) {
	step := max(1, math.Sqrt(float64(len(all))/most))
	every := func(n int) bool { return math.Floor(float64(n+1)/step) > math.Floor(float64(n)/step) }
	for _, p := range all {
		if every(p[0]) && every(p[1]) {
			kept = append(kept, p)
		}
	}
	return kept
}

// windows draws patches of b, and those of a over them under m, wider by reach on each side, with the classes of their
// pixels. The next call gives those of b other classes.
func (g *grid) windows(m matrix, reach int, at []place) (as, bs []*window) {
	as, bs = g.draw(m, reach, at)
	todo := [][]*window{as, bs}
	if slices.Equal(at, g.classed) {
		todo = todo[:1]
	}
	g.classed = at
	parallel(len(todo), func(i int) { classify(todo[i]) })
	return as, bs
}

// draw does it without the classes. Patches of b are drawn once.
func (g *grid) draw(m matrix, reach int, at []place) (as, bs []*window) {
	from := scaling(1 / g.k).then(m.inverse())
	as, bs = make([]*window, len(at)), make([]*window, len(at))
	of := func(h halvings, x, y, side int, from matrix) *window {
		side += 2 * rim
		img := &Image{side, side, make([]float32, side*side)}
		h.draw(img, nil, matrix{{1, 0, float64(x - rim)}, {0, 1, float64(y - rim)}, {0, 0, 1}}.then(from))
		return newWindow(img, x, y)
	}
	parallel(len(at), func(n int) {
		x, y := g.corner(at[n])
		if bs[n] = g.drawn[at[n]]; bs[n] == nil {
			bs[n] = of(g.b, x, y, g.side, scaling(1/g.k))
		}
		as[n] = of(g.a, x-reach, y-reach, g.side+2*reach, from)
	})
	for n, p := range at {
		g.drawn[p] = bs[n]
	}
	return as, bs
}
