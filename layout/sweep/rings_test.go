package sweep

import (
	"slices"
	"testing"

	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

// Rings of an outline wind once around what the polygon covers and never around anything else; outer ones are
// counterclockwise. Crossings are rounded, so places within 3 nm of an edge are not asked for.
func TestRings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var pg geom.Polygon
		for range rapid.IntRange(1, 3).Draw(t, "rings") {
			var r geom.Ring
			for range rapid.IntRange(3, 8).Draw(t, "points") {
				r = append(r, geom.Point{X: 50 * rapid.IntRange(0, 12).Draw(t, "x"), Y: 50 * rapid.IntRange(0, 12).Draw(t, "y")})
			}
			pg = append(pg, r)
		}
		rings := Rings(CutUpright(Outline(pg)))
		for y := -7; y < 620; y += 23 {
			for x := -7; x < 620; x += 29 {
				p := geom.Point{X: x, Y: y}
				near := false
				for dy := -3; dy <= 3; dy++ {
					for dx := -3; dx <= 3; dx++ {
						near = near || pg.Locate(p.Add(geom.Point{X: dx, Y: dy})) != pg.Locate(p)
					}
				}
				if near {
					continue
				}
				winding := 0
				for _, r := range rings {
					if (geom.Polygon{r}).Locate(p) == geom.Inside {
						winding += r.Sense()
					}
				}
				want := 0
				if pg.Locate(p) == geom.Inside {
					want = 1
				}
				if pg.Locate(p) != geom.OnEdge && winding != want {
					t.Fatalf("%v: rings %v wind %d times around %v, want %d", pg, rings, winding, p, want)
				}
			}
		}
	})
}

// By hand: a square of 10 with a hole of 4 in it; and two squares that share a corner stay two rings.
func TestRingsByHand(t *testing.T) {
	square := func(x, y, w int) geom.Ring { return geom.Box(x, y, x+w, y+w).Ring() }
	hole := square(3, 3, 4)
	hole[1], hole[3] = hole[3], hole[1]
	rings := Rings(Outline(geom.Polygon{square(0, 0, 10), hole}))
	if len(rings) != 2 || rings[0].Area()+rings[1].Area() != 84 || rings[0].Sense() == rings[1].Sense() {
		t.Errorf("square with a hole: %v", rings)
	}
	rings = Rings(Outline(geom.Polygon{square(0, 0, 10), square(10, 10, 5)}))
	if len(rings) != 2 || rings[0].Area()+rings[1].Area() != 125 || rings[0].Sense() != 1 || rings[1].Sense() != 1 {
		t.Errorf("two squares: %v", rings)
	}
}

// TestTrace: around a hole that reaches the rim in one corner there is one way, whichever edge comes first; it comes through that
// corner twice. Two squares that meet in a corner have two ways. By hand.
func TestTrace(t *testing.T) {
	edges := func(rings ...geom.Ring) (all []Seg) {
		for _, r := range rings {
			all = appendRing(all, r, false)
		}
		return all
	}
	outer, other := geom.Ring{{}, {X: 9}, {X: 9, Y: 9}, {Y: 9}}, geom.Ring{{}, {X: -9}, {X: -9, Y: -9}, {Y: -9}}
	hole := geom.Ring{{}, {X: 3, Y: 6}, {X: 6, Y: 3}}
	for name, tc := range map[string]struct {
		edges []Seg
		ways  []int // how many edges each has
	}{"hole": {edges(outer, hole), []int{7}}, "squares": {edges(outer, other), []int{4, 4}}} {
		for k := range tc.edges {
			turned := slices.Concat(tc.edges[k:], tc.edges[:k])
			ways := Trace(turned)
			seen := map[int]bool{}
			var n []int
			for _, way := range ways {
				for i, e := range way {
					seen[e] = true
					if next := turned[way[(i+1)%len(way)]]; turned[e].B != next.A {
						t.Errorf("%s: %v does not lead to %v", name, turned[e], next)
					}
				}
				n = append(n, len(way))
			}
			if !slices.Equal(n, tc.ways) || len(seen) != len(turned) {
				t.Errorf("%s from edge %d on: %v", name, k, ways)
			}
		}
	}
	if got := Trace([]Seg{{A: geom.Point{}, B: geom.Point{X: 1}}}); len(got) != 1 { // no borders, but no panic either
		t.Error(got)
	}
}
