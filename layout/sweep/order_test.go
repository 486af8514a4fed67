package sweep

import (
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// TestSorter: edges come in the order that comparisons give, and the places at which they end each once and in order, for few
// edges and for many, in strips of any size, the whole frame among them, whose places leave no room for an edge's index.
func TestSorter(t *testing.T) {
	rnd := rand.New(rand.NewPCG(83, 84))
	cut := 0
	var o sorter
	for k := range 120 {
		size := []int32{3, 300, 100_000, geom.Limit}[k%4]
		edges := make([]Edge, []int{1, fewEdges - 1, fewEdges, 3000}[k/4%4])
		at := func() int32 { return int32(rnd.IntN(2*int(size)) - int(size)) }
		for i := range edges {
			l := Line{at(), at(), at(), at()}
			switch {
			case i%5 == 1: // begins where another one does
				l.X0, l.Y0 = edges[i-1].X0, edges[i-1].Y0
			case i%5 == 2: // ends where another one does
				l.X1, l.Y1 = edges[i-1].X1, edges[i-1].Y1
			case i%7 == 3:
				l.X0, l.X1 = farLeft, farLeft
			}
			if l.Y0 >= l.Y1 {
				l.Y0 = max(l.Y1-1-rnd.Int32N(3), -size)
				l.Y1 = max(l.Y1, l.Y0+1)
			}
			edges[i] = Edge{Line: l, Tag: rnd.Uint32N(3), Layer: uint8(rnd.IntN(3)), Winding: int8(1 - 2*rnd.IntN(2))}
		}
		if size == geom.Limit {
			edges[0].Line = Line{-geom.Limit, -geom.Limit, geom.Limit, geom.Limit}
			if len(edges) > fewEdges {
				edges[1].Line = Line{geom.Limit, geom.Limit - 1, -geom.Limit, geom.Limit}
				for i := range int32(40) { // places that keys have no room to tell apart
					edges[100+i].Line = Line{40 - i, 7, 40 - i, 9}
				}
				cut++
			}
		}
		want := slices.Clone(edges)
		slices.SortFunc(want, func(a, b Edge) int { return compareStart(&a, &b) })
		var ends []spot
		for _, e := range edges {
			ends = append(ends, spot{e.Y1, e.X1})
		}
		slices.SortFunc(ends, func(a, b spot) int {
			return comparePoints(geom.Point{X: int(a.y), Y: int(a.x)}, geom.Point{X: int(b.y), Y: int(b.x)})
		})
		ends = slices.Compact(ends)
		got := o.sort(edges)
		if !slices.Equal(got, want) {
			t.Fatalf("%d edges within ±%d come in another order than by comparison", len(want), size)
		}
		if got := o.ends(got); !slices.Equal(got, ends) {
			t.Fatalf("%d edges within ±%d end at %v, told are %v", len(want), size, ends, got)
		}
	}
	if cut == 0 {
		t.Error("no strip as large as the frame")
	}
}

// TestPassed: passed agrees with geom.Side in the whole frame, and where an edge, or the place, stands for what lies left of a strip.
func TestPassed(t *testing.T) {
	rnd := rand.New(rand.NewPCG(85, 86))
	const m = geom.Limit
	on := 0
	for range 20_000 {
		size := []int32{4, 5000, m}[rnd.IntN(3)]
		at := func() int32 {
			switch v := int32(rnd.IntN(2*int(size)+1) - int(size)); rnd.IntN(6) {
			case 0:
				return size
			case 1:
				return -size
			default:
				return v
			}
		}
		l := Line{at(), at(), at(), at()}
		if l.Y0 == l.Y1 {
			continue
		}
		if l.Y0 > l.Y1 {
			l = Line{l.X1, l.Y1, l.X0, l.Y0}
		}
		p := geom.Point{X: int(at()), Y: int(l.Y0) + rnd.IntN(int(l.Y1)-int(l.Y0)+1)}
		side := geom.Side(l.low(), l.high(), p)
		if side == 0 {
			on++
		}
		want := 0
		if side < 0 { // right of the way up
			want = -1
		}
		if got := l.passed(int32(p.X), int32(p.Y)); got != want {
			t.Fatalf("%v, %v: %d, the side is %d", l, p, got, side)
		}
		if got := l.passed(farLeft, int32(p.Y)); got != 0 {
			t.Fatalf("far left is right of %v at height %d: %d", l, p.Y, got)
		}
		l.X0, l.X1 = farLeft, farLeft
		if got := l.passed(int32(p.X), int32(p.Y)); got != -1 {
			t.Fatalf("%v is not right of %v: %d", p, l, got)
		}
	}
	if on < 500 {
		t.Errorf("only %d points on a line", on)
	}
}

// TestAlike: as many shapes as one likes, one on the other, cover what one of them covers, also where the number of them in one
// edge is one that no int16 has room for.
func TestAlike(t *testing.T) {
	for _, n := range []int{1, 2, mostAlike, mostAlike + 1, 1<<15 - 1, 1 << 15, 1 << 16, 1<<17 + 3} {
		var edges []Edge
		for range n {
			for _, s := range Outline(geom.Polygon{{{X: 0, Y: 0}, {X: 40, Y: 10}, {X: 30, Y: 50}, {X: -10, Y: 40}}}) {
				edges = appendEdge(edges, &s, 5)
			}
		}
		s := Strip{X0: -100, X1: 100, Edges: edges}
		r := newRegionSum(s, func(mask uint64) bool { return mask == 1<<5 })
		Sweep(s, r)
		if r.area != 1700 { // 40·40 + 10·10, the square of its side √(40² + 10²)
			t.Errorf("%d squares: they cover %v nm²", n, r.area)
		}
	}
}
