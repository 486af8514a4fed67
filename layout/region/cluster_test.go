package region

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// atOnce is Union without parting anything by place.
func atOnce(pgs []geom.Polygon) []Piece {
	in := &input{}
	for i, pg := range pgs {
		in.add(pg, 0, i+1)
	}
	all, _ := in.run(func(m uint64) bool { return m != 0 }, func(uint64) bool { return false })
	return all
}

// TestClusters: parts by place, united one after the other, are what one sweep over all finds: rectangles that touch, lie on each other, miss
// each other by little, or stand alone; slanted and crossing shapes beside hot pixels of others; shapes that are nothing.
func TestClusters(t *testing.T) {
	for seed := range uint64(300) {
		rnd := rand.New(rand.NewPCG(seed, 3))
		size := []int{12, 60, 400, 100_000}[rnd.IntN(4)]
		most := 1 + size/(2+rnd.IntN(20))
		var pgs []geom.Polygon
		for range 1 + rnd.IntN(80) {
			x, y := rnd.IntN(size), rnd.IntN(size)
			p := geom.Box(x, y, x+rnd.IntN(most), y+rnd.IntN(most)).Ring()
			switch rnd.IntN(6) {
			case 0: // any three to five points
				p = p[:0:0]
				for range 3 + rnd.IntN(3) {
					p = append(p, geom.Point{X: x + rnd.IntN(most), Y: y + rnd.IntN(most)})
				}
			case 1: // clockwise, and with a point in the middle of an edge
				slices.Reverse(p)
				p = slices.Insert(p, 1, geom.Point{X: p[0].X + (p[1].X-p[0].X)/2, Y: p[0].Y + (p[1].Y-p[0].Y)/2})
			case 2: // as long as the drawing
				p = geom.Box(0, y, size, y+rnd.IntN(most)).Ring()
			case 3: // an L
				w, h := 2+rnd.IntN(most), 2+rnd.IntN(most)
				p = geom.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h/2}, {X: x + w/2, Y: y + h/2}, {X: x + w/2, Y: y + h}, {X: x, Y: y + h}}
			}
			pgs = append(pgs, geom.Polygon{p})
		}
		pgs = append(pgs, geom.Polygon{}, geom.Polygon{nil})
		got, want := Union(pgs...), atOnce(pgs)
		if !slices.EqualFunc(got, want, func(a, b Piece) bool {
			return slices.EqualFunc(a.Polygon, b.Polygon, func(r, s geom.Ring) bool { return slices.Equal(r, s) }) && slices.Equal(a.Sources, b.Sources)
		}) {
			t.Fatalf("seed %d: %v become\n%v, at once\n%v", seed, pgs, got, want)
		}
	}
}

// TestTrimmer: one that has done others before says what Cut says.
func TestTrimmer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 5))
	var trim Trimmer
	for range 500 {
		var pgs []geom.Polygon
		for range 2 + rnd.IntN(5) {
			var r geom.Ring
			for range 3 + rnd.IntN(4) {
				r = append(r, geom.Point{X: rnd.IntN(30), Y: rnd.IntN(30)})
			}
			pgs = append(pgs, geom.Polygon{r})
			if rnd.IntN(2) == 0 {
				x, y := rnd.IntN(30), rnd.IntN(30)
				pgs = append(pgs, box(x, y, x+1+rnd.IntN(9), y+1+rnd.IntN(9)))
			}
		}
		got := trim.Outside(pgs[0], pgs[1:]...)
		want, _ := Cut(pgs[0], pgs[1:]...)
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("%v without %v is %v, cut %v", pgs[0], pgs[1:], got, want)
		}
	}
}

// TestClustersOf: against all pairs; and thousands of boxes in one place, with one far away, are not compared with each other.
func TestClustersOf(t *testing.T) {
	for seed := range uint64(200) {
		rnd := rand.New(rand.NewPCG(seed, 4))
		size := 10 + rnd.IntN(3000)
		var pgs []geom.Polygon
		for range 1 + rnd.IntN(200) {
			x, y := rnd.IntN(size)-size/2, rnd.IntN(size)-size/2
			pgs = append(pgs, geom.Polygon{geom.Box(x, y, x+rnd.IntN(60), y+rnd.IntN(60)).Ring()})
		}
		want := make([]int, len(pgs)) // the first of the cluster
		for i := range want {
			want[i] = i
		}
		for more := true; more; {
			more = false
			for i := range pgs {
				for k := range i {
					a, b := pgs[i].Bounds(), pgs[k].Bounds()
					gap := max(a.Min.X-b.Max.X, b.Min.X-a.Max.X, a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)
					if first := min(want[i], want[k]); gap <= nearNm && want[i] != want[k] {
						want[i], want[k], more = first, first, true
					}
				}
			}
		}
		got := make([]int, len(pgs))
		for _, members := range clustersOf(pgs) {
			for _, i := range members {
				got[i] = int(members[0])
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("seed %d: clusters %v, want %v", seed, got, want)
		}
	}
	far := []geom.Polygon{box(geom.Limit-9, geom.Limit-9, geom.Limit, geom.Limit)}
	for i := range 50_000 {
		far = append(far, box(i%7-geom.Limit, i%5-geom.Limit, i%7+20-geom.Limit, i%5+20-geom.Limit))
	}
	if all := clustersOf(far); len(all) != 2 || len(all[0]) != 1 {
		t.Errorf("%d clusters", len(all))
	}
}
