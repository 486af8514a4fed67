package sweep

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"undermetal/layout/geom"
)

// regionSum is a sink that adds up the area and counts the components of a region given as a test of the mask.
type regionSum struct {
	Nop
	in     func(mask uint64) bool
	clip   Clip
	area   float64
	parent map[int]int
	id     map[int32]int
	n      int
}

func newRegionSum(s Strip, in func(uint64) bool) *regionSum {
	return &regionSum{in: in, clip: Clip{float64(s.X0), float64(s.X1)}, parent: map[int]int{}, id: map[int32]int{}}
}

func (r *regionSum) find(i int) int {
	for r.parent[i] != i {
		i = r.parent[i]
	}
	return i
}

func (r *regionSum) join(a, b *Interval) {
	if r.in(a.Mask) && r.in(b.Mask) {
		r.parent[r.find(r.id[a.Slot])] = r.find(r.id[b.Slot])
	}
}

func (r *regionSum) Open(iv *Interval) {
	r.n++
	r.id[iv.Slot] = r.n
	if r.in(iv.Mask) {
		r.parent[r.n] = r.n
	}
}
func (r *regionSum) Beside(a, b *Interval, y0, y1 int)           { r.join(a, b) }
func (r *regionSum) Above(a, b *Interval, y int, x0, x1 float64) { r.join(a, b) }
func (r *regionSum) Close(iv *Interval, y int) {
	if r.in(iv.Mask) {
		r.area += r.clip.Area(iv.L, iv.R, int(iv.Y0), y)
	}
}

func (r *regionSum) components() int {
	n := 0
	for i := range r.parent {
		if r.find(i) == i {
			n++
		}
	}
	return n
}

// strip makes one strip of polygons on layers.
func strip(layers ...[]geom.Polygon) Strip {
	b := geom.EmptyRect()
	var outlines [][][]Seg
	var all []Seg
	for _, layer := range layers {
		var o [][]Seg
		for _, pg := range layer {
			segs := Outline(pg)
			o = append(o, segs)
			all = append(all, segs...)
			b = b.Union(pg.Bounds())
		}
		outlines = append(outlines, o)
	}
	noder := NewNoder(AppendLines(nil, nil, all))
	noder.Settle(2)
	d := NewDealer(b.Min.X-1, b.Max.X+1, 1)
	for l, o := range outlines {
		for _, segs := range o {
			d.Shape(noder.AppendNoded(nil, segs), uint8(l))
		}
	}
	return d.Strips[0]
}

func perimeterOf(layers ...[]geom.Polygon) float64 {
	sum := 0.0
	for _, l := range layers {
		for _, pg := range l {
			for _, r := range pg {
				sum += r.Perimeter()
			}
		}
	}
	return sum
}

func polygons(rings [][][2]int) []geom.Polygon {
	var out []geom.Polygon
	for _, ring := range rings {
		var r geom.Ring
		for _, p := range ring {
			r = append(r, geom.Point{X: p[0], Y: p[1]})
		}
		out = append(out, geom.Polygon{r})
	}
	return out
}

// TestPolygonSets checks areas and component counts against an exact rational sweep that agrees with a general-purpose
// geometry library in all cases (testdata/polygon_sets.json says how they were made). Snap rounding moves an edge by
// at most √2/2 nm, so an area may differ by that times the edges' length; P1, P2, P6 and P8 need no rounding.
func TestPolygonSets(t *testing.T) {
	data, err := os.ReadFile("testdata/polygon_sets.json")
	if err != nil {
		t.Fatal(err)
	}
	var sets map[string]struct {
		Layers   map[string][][][2]int
		Expected map[string]struct {
			Area       string
			Components int
		}
	}
	if err := json.Unmarshal(data, &sets); err != nil {
		t.Fatal(err)
	}
	in := map[string]func(uint64) bool{
		"A":       func(m uint64) bool { return m&1 != 0 },
		"B":       func(m uint64) bool { return m&2 != 0 },
		"A_and_B": func(m uint64) bool { return m == 3 }, "A_minus_B": func(m uint64) bool { return m == 1 },
		"B_minus_A": func(m uint64) bool { return m == 2 }, "A_or_B": func(m uint64) bool { return m != 0 },
	}
	exact := map[byte]bool{'1': true, '2': true, '6': true, '8': true}
	for name, set := range sets {
		a, b := polygons(set.Layers["A"]), polygons(set.Layers["B"])
		if len(set.Expected) == 0 {
			t.Errorf("%s: nothing expected", name)
		}
		for op, want := range set.Expected {
			f := in[op]
			if f == nil {
				t.Errorf("%s: unknown region %q", name, op)
				continue
			}
			s := strip(a, b)
			sum := newRegionSum(s, f)
			Sweep(s, sum)
			area, err := strconv.ParseFloat(want.Area, 64)
			if err != nil {
				t.Fatal(err)
			}
			tol := math.Sqrt2 / 2 * perimeterOf(a, b)
			if exact[name[1]] {
				tol = 0
			}
			if math.Abs(sum.area-area) > tol {
				t.Errorf("%s %s: area %.3f, want %.3f ± %.3f", name, op, sum.area, area, tol)
			}
			if got := sum.components(); got != want.Components {
				t.Errorf("%s %s: %d components, want %d", name, op, got, want.Components)
			}
			t.Logf("%s %s: area off by %.3g of %.6g", name, op, sum.area-area, area)
		}
	}
}
