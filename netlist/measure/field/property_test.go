package field

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/geom"
)

// star draws a polygon that is seen as a whole from the origin, in nm.
func star(t *rapid.T, least, most int) []geom.Vec {
	n := rapid.IntRange(least, most).Draw(t, "corners")
	r := make([]geom.Vec, n)
	for i := range r {
		radius := rapid.IntRange(1000, 4000).Draw(t, "radius")
		turn := rapid.IntRange(5, 95).Draw(t, "turn")
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + float64(turn)/100) / float64(n))
		r[i] = geom.Vec{X: math.Round(float64(radius) * cos), Y: math.Round(float64(radius) * sin)}
	}
	return r
}

// arcs draws four corners that part the border into four, the first of them corner 0.
func arcs(t *rapid.T, n int) [4]int {
	a := rapid.IntRange(1, n-3).Draw(t, "a")
	b := rapid.IntRange(a+1, n-2).Draw(t, "b")
	return [4]int{0, a, b, rapid.IntRange(b+1, n-1).Draw(t, "c")}
}

// on gives the edges of every second arc electrodes, from the given one.
func on(n int, arc [4]int, first int) []int {
	e := make([]int, n)
	for i := range e {
		e[i] = Insulated
		for k := range 4 {
			if i >= arc[k] && (k == 3 || i < arc[k+1]) && k%2 == first {
				e[i] = k / 2
			}
		}
	}
	return e
}

func mustSolve(t *rapid.T, s Shape, tol float64) *Result {
	r, err := Solve(t.Context(), s, tol)
	if err != nil {
		t.Fatalf("%v: %v", s, err)
	}
	return r
}

// TestReciprocity: a quadrangle with curved sides conducts between two of its sides as much as it resists between the other two
// (the conjugate of a harmonic function is harmonic).
func TestReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t, 5, 16)
		arc := arcs(t, len(r))
		a := mustSolve(t, single(r, on(len(r), arc, 0)...), 1e-3)
		b := mustSolve(t, single(r, on(len(r), arc, 1)...), 1e-3)
		if off := math.Abs(a.Squares()*b.Squares() - 1); off > 1.01*(a.Error+b.Error) {
			t.Errorf("%g · %g is off by %g, stated %g and %g", a.Squares(), b.Squares(), off, a.Error, b.Error)
		}
	})
}

// TestRayleigh: to cut never raises a conductance, to short never lowers it (Lord Rayleigh, 1871, from memory). A polygon is cut
// in two along a bent line through the origin; a hole is cut out there; the same hole is made a perfect conductor.
func TestRayleigh(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const tol = 3e-3
		r := star(t, 8, 14)
		n := len(r)
		arc := arcs(t, n)
		e := on(n, arc, 0)
		whole := mustSolve(t, single(r, e...), tol).Squares()
		below := func(what string, less, more float64) {
			if less > more*(1+2.01*tol) {
				t.Errorf("%s: %g, more than %g", what, less, more)
			}
		}

		hole := []geom.Vec{{X: -200, Y: -100}, {X: 150, Y: -120}, {X: 30, Y: 210}}
		if !slices.ContainsFunc(r, func(p geom.Vec) bool { return math.Hypot(p.X, p.Y) < 900 }) && clear(r, 260) {
			s := Shape{[][]geom.Vec{r, hole}, [][]int{e, all(3, ins)}}
			below("cut out", mustSolve(t, s, tol).Squares(), whole)
			s.Electrode[1] = all(3, 2)
			g := mustSolve(t, s, tol).Conductance
			floating := g[0][0] - g[0][2]*g[0][2]/g[2][2]
			below("a perfect conductor put in", whole, floating+tol*(g[0][0]+math.Abs(g[0][2])))
		}

		cut := func(a, b int) (one, two Shape) { // from corner a over the origin to corner b > a
			p := append(append([]geom.Vec(nil), r[a:b+1]...), geom.Vec{})
			q := append(append(append([]geom.Vec(nil), r[b:]...), r[:a+1]...), geom.Vec{})
			return single(p, append(append([]int(nil), e[a:b]...), ins, ins)...),
				single(q, append(append(append([]int(nil), e[b:]...), e[:a]...), ins, ins)...)
		}
		inside := func(k int) (int, bool) { // a corner strictly within arc k
			end := n
			if k < 3 {
				end = arc[k+1]
			}
			return (arc[k] + end) / 2, end-arc[k] >= 2
		}
		if a, ok := inside(0); ok {
			if b, ok := inside(2); ok { // from electrode to electrode: two in parallel
				one, two := cut(a, b)
				below("in parallel", mustSolve(t, one, tol).Squares()+mustSolve(t, two, tol).Squares(), whole)
			}
		}
		if a, ok := inside(1); ok {
			if b, ok := inside(3); ok { // across: two in series
				one, two := cut(a, b)
				for _, s := range []Shape{one, two} {
					other := 1 - slices.Max(s.Electrode[0]) // the cut becomes the electrode that is not there
					k := len(s.Electrode[0])
					s.Electrode[0][k-1], s.Electrode[0][k-2] = other, other
				}
				g1, g2 := mustSolve(t, one, tol).Squares(), mustSolve(t, two, tol).Squares()
				below("in series", whole, g1*g2/(g1+g2))
			}
		}
	})
}

// clear reports whether all edges keep a distance from the origin.
func clear(r []geom.Vec, distanceNm float64) bool {
	for i, p := range r {
		if q := nearestOn(p, r[(i+1)%len(r)], geom.Vec{}); math.Hypot(q.X, q.Y) < distanceNm {
			return false
		}
	}
	return true
}

// TestMesh: triangles of random polygons cover them once, turn the right way, and know each other, also after all that is
// done to them.
func TestMesh(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t, 5, 40)
		s := single(r, on(len(r), arcs(t, len(r)), 0)...)
		if clear(r, 600) {
			s.Rings, s.Electrode = append(s.Rings, boxRing(-300, -10, 200, 250)), append(s.Electrode, all(4, ins))
		}
		o, err := newOutline(s)
		if err != nil {
			t.Fatal(err)
		}
		m, err := triangulate(o)
		if err != nil {
			t.Fatal(err)
		}
		want := 0.0
		for _, c := range o.corners {
			want += cross(toVec(c.at), toVec(o.corners[c.next].at))
		}
		check := func(what string) {
			sum, sides := 0.0, map[int32]float64{}
			for i, x := range m.tri {
				area := turn(m.x[x.v[0]], m.x[x.v[1]], m.x[x.v[2]])
				sum += area
				if area <= 0 {
					t.Fatalf("%s: triangle %d of area %g", what, i, area)
				}
				for j, n := range x.n {
					a, b := x.v[step(j)], x.v[step(step(j))]
					if (n < 0) != (x.side[j] >= 0) {
						t.Fatalf("%s: triangle %d has neighbour %d beyond side %d", what, i, n, x.side[j])
					}
					if n < 0 {
						sides[x.side[j]] += distance(m.x[a], m.x[b])
						continue
					}
					p, q := m.at(n, a), m.at(n, b)
					if p < 0 || q < 0 || m.tri[n].n[3-p-q] != int32(i) || step(q) != p {
						t.Fatalf("%s: %d and %d do not know each other", what, i, n)
					}
					if m.at(m.of[x.v[j]], x.v[j]) < 0 {
						t.Fatalf("%s: vertex %d is lost", what, x.v[j])
					}
				}
			}
			if math.Abs(sum/want-1) > 1e-12 {
				t.Fatalf("%s: area %g of %g", what, sum, want)
			}
			for v, c := range o.corners {
				if l := distance(toVec(c.at), toVec(o.corners[c.next].at)); math.Abs(sides[int32(v)]/l-1) > 1e-9 {
					t.Fatalf("%s: edge %d is %g long, not %g", what, v, sides[int32(v)], l)
				}
			}
		}
		check("triangulated")
		if n, holes := len(m.tri), o.rings-1; n != len(o.corners)-2+2*holes {
			t.Errorf("%d triangles of %d corners and %d holes", n, len(o.corners), holes)
		}
		m.roundUp(0.3)
		check("rounded")
		for range 10 {
			m.grade(int32(rapid.IntRange(0, m.corners-1).Draw(t, "grade")))
			m.bisect(int32(rapid.IntRange(0, len(m.tri)-1).Draw(t, "bisect")))
		}
		check("refined")
	})
}
