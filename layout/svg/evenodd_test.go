package svg

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// filledLeft is filledSides for one piece, by its definition: it reports whether what lies left of the i-th piece, seen from A to B, is filled: whether a ray that begins
// there crosses an odd number of the pieces. The ray is upright for pieces that are not, level for the others, and goes
// half a nanometre beside the grid, so that it passes no end.
func filledLeft(pieces []sweep.Seg, i int) bool {
	s := pieces[i]
	upright := s.A.X == s.B.X
	turn := func(p geom.Point) geom.Point { // the ray then always goes downwards
		if upright {
			return geom.Point{X: p.Y, Y: p.X}
		}
		return p
	}
	a, b := turn(s.A), turn(s.B)
	below := 0
	for k, o := range pieces {
		c, d := turn(o.A), turn(o.B)
		if c.X > d.X {
			c, d = d, c
		}
		if k != i && c.X <= a.X && d.X > a.X && lower(c, d, a, b) {
			below++
		}
	}
	// An odd number below: filled below, so not above. Left of the way from A to B is above it, or left of it where it
	// goes upwards, which after turning is below.
	if upright {
		return below%2 == 1
	}
	return below%2 == 0
}

// lower reports whether cd lies below ab at half a nanometre right of a; all go from left to right.
func lower(c, d, a, b geom.Point) bool {
	if lo := min(a.Y, b.Y); max(c.Y, d.Y) < lo {
		return true
	}
	if hi := max(a.Y, b.Y); min(c.Y, d.Y) > hi {
		return false
	}
	at := func(p, q geom.Point) *big.Rat { // the height of pq there
		return new(big.Rat).Add(big.NewRat(int64(p.Y), 1),
			new(big.Rat).Mul(big.NewRat(int64(q.Y-p.Y), 2*int64(q.X-p.X)), big.NewRat(int64(2*(a.X-p.X)+1), 1)))
	}
	return at(c, d).Cmp(at(a, b)) < 0
}

// TestFilledSides: the sweep says of every piece what a ray says that is compared with all others. Small coordinates, so that
// pieces meet in every way.
func TestFilledSides(t *testing.T) {
	rnd := rand.New(rand.NewPCG(61, 62))
	pieces := 0
	for round := range 3000 {
		side := 2 + rnd.IntN(30)
		var rings []geom.Ring
		for range 1 + rnd.IntN(12) {
			var r geom.Ring
			for range 3 + rnd.IntN(6) {
				p := geom.Point{X: rnd.IntN(side), Y: rnd.IntN(side)}
				if n := len(r); n > 0 && rnd.IntN(2) == 0 { // upright and level edges
					if p.X = r[n-1].X; rnd.IntN(2) == 0 {
						p = geom.Point{X: rnd.IntN(side), Y: r[n-1].Y}
					}
				}
				r = append(r, p)
			}
			rings = append(rings, r)
		}
		list := oddPieces(sweep.CutUpright(cutSlanted(rings)))
		for i, got := range filledSides(list) {
			if want := filledLeft(list, i); got != want {
				t.Fatalf("round %d: piece %v of %v: filled on its left: %t, want %t", round, list[i], rings, got, want)
			}
		}
		pieces += len(list)
	}
	if pieces < 100_000 {
		t.Errorf("%d pieces show nothing", pieces)
	}
}

// TestManyRings: of a large ring and many in it everything is left, each as a hole.
func TestManyRings(t *testing.T) {
	for _, slanted := range []bool{false, true} {
		rings := manyRings(3000, slanted, false)
		got, outer := evenOdd(rings), 0
		for _, r := range got {
			if r.Sense() > 0 {
				outer++
			}
		}
		if len(got) != 3001 || outer != 1 {
			t.Errorf("slanted %t: %d rings, %d of them outer ones", slanted, len(got), outer)
		}
	}
}
