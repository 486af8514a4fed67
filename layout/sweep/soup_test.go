package sweep

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	sf "github.com/peterstace/simplefeatures/geom"

	"undermetal/layout/geom"
)

// wkt returns a simple ring in the well-known text of OGC Simple Features.
func wkt(r geom.Ring) string {
	var b strings.Builder
	b.WriteString("POLYGON((")
	for _, p := range r {
		fmt.Fprintf(&b, "%d %d,", p.X, p.Y)
	}
	fmt.Fprintf(&b, "%d %d))", r[0].X, r[0].Y)
	return b.String()
}

// star returns a simple ring with n points around a centre, of any angle.
func star(rnd *rand.Rand, x, y, radius, n int) geom.Ring {
	for {
		var r geom.Ring
		for i := range n {
			a := 2 * math.Pi * (float64(i) + 0.8*rnd.Float64()) / float64(n)
			k := float64(radius) * (0.3 + 0.7*rnd.Float64())
			r = append(r, geom.Point{X: x + int(k*math.Cos(a)), Y: y + int(k*math.Sin(a))})
		}
		if r.Simple() {
			return r
		}
	}
}

// TestSoupAgainstLibrary holds area and connectivity of random polygons against a general-purpose geometry library
// (simplefeatures, an independent overlay in floating point). The area may differ by what snap rounding allows, √2/2 nm
// times the length of all edges; the number of parts must be equal unless two of them come closer than 2 nm.
func TestSoupAgainstLibrary(t *testing.T) {
	rounds := 60
	if os.Getenv("UNDERMETAL_FULL") != "" {
		rounds = 1000
	}
	compared, excused := 0, 0
	rnd := rand.New(rand.NewPCG(11, 12))
	for round := range rounds {
		size := []int{300, 20000, 3000000, geom.Limit / 4}[rnd.IntN(4)]
		var a, b []geom.Polygon
		ga, gb := sf.Geometry{}, sf.Geometry{}
		for i := range 4 + rnd.IntN(14) {
			r := star(rnd, rnd.IntN(2*size)-size, rnd.IntN(2*size)-size, size/3+2, 3+rnd.IntN(9))
			g, err := sf.UnmarshalWKT(wkt(r))
			if err != nil {
				t.Fatal(err)
			}
			if rnd.IntN(2) == 0 { // the orientation must not matter
				for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
					r[i], r[j] = r[j], r[i]
				}
			}
			if i%2 == 0 {
				a = append(a, geom.Polygon{r})
				ga, err = sf.Union(ga, g)
			} else {
				b = append(b, geom.Polygon{r})
				gb, err = sf.Union(gb, g)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		tol := math.Sqrt2 / 2 * perimeterOf(a, b)
		both, err1 := sf.Intersection(ga, gb)
		only, err2 := sf.Difference(ga, gb)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		for _, region := range []struct {
			name string
			want sf.Geometry
			in   func(uint64) bool
		}{{"A", ga, func(m uint64) bool { return m&1 != 0 }}, {"B", gb, func(m uint64) bool { return m&2 != 0 }},
			{"A and B", both, func(m uint64) bool { return m == 3 }}, {"A without B", only, func(m uint64) bool { return m == 1 }}} {
			s := strip(a, b)
			sum := newRegionSum(s, region.in)
			Sweep(s, sum)
			if want := region.want.Area(); math.Abs(sum.area-want) > tol {
				t.Errorf("round %d, %s: area %v, the library says %v ± %v", round, region.name, sum.area, want, tol)
			}
			compared++
			got, want := sum.components(), parts(region.want)
			if got != want && nearMiss(region.want) {
				excused++
			} else if got != want {
				t.Errorf("round %d (size %d), %s: %d parts, the library says %d", round, size, region.name, got, want)
			}
		}
	}
	t.Logf("%d regions compared, %d of them with a near miss that rounding decides", compared, excused)
	if excused > compared/50 {
		t.Errorf("%d of %d regions excused", excused, compared)
	}
}

// polygonsOf returns the polygons of a result.
func polygonsOf(g sf.Geometry) []sf.Polygon {
	var out []sf.Polygon
	for _, d := range g.Dump() {
		if p, ok := d.AsPolygon(); ok && !p.IsEmpty() {
			out = append(out, p)
		}
	}
	return out
}

func parts(g sf.Geometry) int { return len(polygonsOf(g)) }

// nearMiss reports whether parts of g come closer to each other than 2 nm, or whether a part is somewhere thinner than
// that: rounding may then join or part them.
func nearMiss(g sf.Geometry) bool {
	ps := polygonsOf(g)
	for i := range ps {
		for j := range i {
			if d, ok := sf.Distance(ps[i].AsGeometry(), ps[j].AsGeometry()); ok && d < 2 {
				return true
			}
		}
		if p := ps[i]; 2*p.Area()/p.AsGeometry().Boundary().Length() < 2 {
			return true
		}
		if thinNeck(ps[i]) {
			return true
		}
	}
	return false
}

// thinNeck reports whether two corners of a polygon, or a corner and an edge that does not end there, are closer than
// 2 nm: there its outline nearly touches itself.
func thinNeck(p sf.Polygon) bool {
	type seg struct{ a, b sf.XY }
	var segs []seg
	for _, r := range p.DumpRings() {
		c := r.Coordinates()
		for i := 0; i+1 < c.Length(); i++ {
			segs = append(segs, seg{c.GetXY(i), c.GetXY(i + 1)})
		}
	}
	for _, s := range segs {
		for _, o := range segs {
			if s.a == o.a || s.a == o.b {
				continue
			}
			ab := o.b.Sub(o.a)
			k := math.Max(0, math.Min(1, s.a.Sub(o.a).Dot(ab)/ab.Dot(ab)))
			if d := s.a.Sub(o.a.Add(ab.Scale(k))); d.Length() < 2 {
				return true
			}
		}
	}
	return false
}

// TestManhattanAreaAgainstGrid holds random rectangles and L shapes against counting on the grid cells between all
// coordinates: exact.
func TestManhattanAreaAgainstGrid(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 22))
	for round := range 200 {
		var layers [2][]geom.Polygon
		for range 12 {
			x, y, w, h := rnd.IntN(40), rnd.IntN(40), 2+rnd.IntN(12), 2+rnd.IntN(12)
			r := geom.Box(x, y, x+w, y+h).Ring()
			if rnd.IntN(2) == 0 {
				r = geom.Ring{{X: x, Y: y}, {X: x, Y: y + h}, {X: x + 1, Y: y + h}, {X: x + 1, Y: y + 1}, {X: x + w, Y: y + 1}, {X: x + w, Y: y}}
			}
			l := rnd.IntN(2)
			layers[l] = append(layers[l], geom.Polygon{r})
		}
		want := [4]float64{}
		for x := range 60 {
			for y := range 60 {
				mask := 0
				for l, pgs := range layers {
					for _, pg := range pgs { // doubled, so that the cell's centre is a grid point
						var d geom.Ring
						for _, p := range pg[0] {
							d = append(d, geom.Point{X: 2 * p.X, Y: 2 * p.Y})
						}
						if (geom.Polygon{d}).Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}) == geom.Inside {
							mask |= 1 << l
						}
					}
				}
				want[mask]++
			}
		}
		for mask := 1; mask < 4; mask++ {
			s := strip(layers[0], layers[1])
			sum := newRegionSum(s, func(m uint64) bool { return m == uint64(mask) })
			Sweep(s, sum)
			if sum.area != want[mask] {
				t.Errorf("round %d: mask %b covers %v, counted %v", round, mask, sum.area, want[mask])
			}
		}
	}
}
