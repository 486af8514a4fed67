package sweep

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// checkTwin takes polygons through the whole of the package, once in one strip and then in several.
func checkTwin(pgs []geom.Polygon, layers []uint8, strips ...int) error {
	shapes, err := noded(pgs, layers)
	if err != nil {
		return err
	}
	b := geom.EmptyRect()
	for _, pg := range pgs {
		b = b.Union(pg.Bounds())
	}
	d := NewDealer(b.Min.X-1, b.Max.X+1, 1)
	var probes []Probe
	for _, s := range shapes {
		d.Shape(s.segs, s.layer)
	}
	if (b.Width()+1)*(b.Height()+1) < 230 { // a flat box has points, too
		for x := b.Min.X; x <= b.Max.X; x++ {
			for y := b.Min.Y; y <= b.Max.Y; y++ {
				for l := range uint8(2) {
					probes = append(probes, Probe{int32(x), int32(y), l, int32(len(probes))})
				}
			}
		}
	}
	whole := d.Strips[0]
	if err := againstTwin(whole.Edges, whole.X0, whole.X1, probes); err != nil {
		return err
	}
	slabs := slabsOf(whole.Edges, whole.X0, whole.X1)
	for _, n := range strips {
		d := NewDealer(b.Min.X-1, b.Max.X+1, n)
		for _, s := range shapes {
			d.Shape(s.segs, s.layer)
		}
		for _, s := range d.Strips {
			if err := stripAgainst(s, slabs); err != nil {
				return fmt.Errorf("strip %d to %d of %d: %w", s.X0, s.X1, n, err)
			}
		}
	}
	return nil
}

// atom is a visible part of one slab in a strip: a trapezoid (line r, mask) or a border between two masks (line l).
type atom struct {
	y0   int
	l, r Line
	a, b uint64
}

// stripAgainst compares what is seen of each slab in a strip: the trapezoids with their borders, and what is beside
// what. Borders that lie outside count as the strip's.
func stripAgainst(s Strip, slabs []slab) error {
	got := newRecorder()
	Sweep(s, got)
	if err := got.check(); err != nil {
		return err
	}
	left, right := canon(Line{int32(s.X0), 0, int32(s.X0), 0}), canon(Line{int32(s.X1), 0, int32(s.X1), 0})
	for _, sl := range slabs {
		seen := func(l Line) Line {
			u, v := crossAtY(l, sl.y0), crossAtY(l, sl.y1)
			x0, x1 := frac{int64(s.X0), 1}, frac{int64(s.X1), 1}
			switch {
			case u.cmp(x0) <= 0 && v.cmp(x0) <= 0:
				return left
			case u.cmp(x1) >= 0 && v.cmp(x1) >= 0:
				return right
			}
			return l
		}
		var want, have []atom
		add := func(list []atom, c cell) []atom {
			if l, r := seen(c.l), seen(c.r); r != left && l != right && (l != left || r != right || c.mask != 0) {
				return append(list, atom{sl.y0, l, r, c.mask, 0})
			}
			return list
		}
		border := func(list []atom, l Line, a, b uint64) []atom {
			if m := seen(l); m != left && m != right {
				return append(list, atom{sl.y0, l, Line{}, a, b})
			}
			return list
		}
		for i, c := range sl.cells {
			want = add(want, c)
			if i > 0 {
				want = border(want, c.l, sl.cells[i-1].mask, c.mask)
			}
		}
		for _, t := range got.traps {
			if t.y0 <= sl.y0 && t.y1 >= sl.y1 {
				have = add(have, t.cell)
			}
		}
		for _, b := range got.besides {
			if l, r := got.traps[b.l], got.traps[b.r]; b.y0 <= sl.y0 && b.y1 >= sl.y1 {
				have = border(have, l.r, l.mask, r.mask)
			}
		}
		if err := sameSet("visible", have, want); err != nil {
			return err
		}
	}
	return nil
}

// triangles returns all triangles with corners on an n × n grid, anticlockwise.
func triangles(n int) []geom.Ring {
	var out []geom.Ring
	for i := range n * n {
		for j := range i {
			for k := range j {
				r := geom.Ring{{X: i % n, Y: i / n}, {X: j % n, Y: j / n}, {X: k % n, Y: k / n}}
				switch d := det(r[0], r[1], r[2]); {
				case d < 0:
					slices.Reverse(r)
					out = append(out, r)
				case d > 0:
					out = append(out, r)
				}
			}
		}
	}
	return out
}

// scaled returns r times k, turned round if reverse is set, and moved by dx.
func scaled(r geom.Ring, k int, reverse bool, dx int) geom.Polygon {
	out := slices.Clone(r)
	for i, p := range out {
		out[i] = geom.Point{X: k*p.X + dx, Y: k * p.Y}
	}
	if reverse {
		slices.Reverse(out)
	}
	return geom.Polygon{out}
}

func full() bool { return os.Getenv("UNDERMETAL_FULL") != "" }

// TestTwinTrianglePairs takes all pairs of triangles on a 3 × 3 grid, on one layer and on two, with either orientation,
// at pitches of 1 and 3 nm (where crossings must be rounded) and 12 nm.
func TestTwinTrianglePairs(t *testing.T) {
	ts := triangles(3)
	n := 0
	for i, a := range ts {
		for j, b := range ts {
			for v := range 12 {
				if !full() && (i*len(ts)+j+v)%17 != 0 {
					continue
				}
				k := []int{1, 3, 12}[v%3]
				pgs := []geom.Polygon{scaled(a, k, false, 0), scaled(b, k, v/6 == 1, 0)}
				if err := checkTwin(pgs, []uint8{0, uint8(v / 3 % 2)}, 2, 3); err != nil {
					t.Fatalf("%v: %v", pgs, err)
				}
				n++
			}
		}
	}
	t.Logf("%d pairs", n)
}

// TestTwinTriangleTriples takes all triples of triangles on a 3 × 3 grid, the first two on one layer.
func TestTwinTriangleTriples(t *testing.T) {
	ts := triangles(3)
	step := 997
	if full() {
		step = 3
	}
	n := 0
	for v := 0; v < len(ts)*len(ts)*len(ts); v += step {
		a, b, c := ts[v%len(ts)], ts[v/len(ts)%len(ts)], ts[v/len(ts)/len(ts)]
		pgs := []geom.Polygon{scaled(a, 2, v%2 == 0, 0), scaled(b, 2, false, 0), scaled(c, 2, true, 0)}
		if err := checkTwin(pgs, []uint8{0, 0, 1}, 4); err != nil {
			t.Fatalf("%v: %v", pgs, err)
		}
		n++
	}
	t.Logf("%d triples", n)
}

// TestTwinQuadrilaterals takes all rings of four different points on a 3 × 3 grid, crossing themselves or not, with a
// box over a corner of them. What a ring covers is also held against the winding number of points.
func TestTwinQuadrilaterals(t *testing.T) {
	n := 0
	for v := range 9 * 9 * 9 * 9 {
		p := []int{v % 9, v / 9 % 9, v / 81 % 9, v / 729}
		if p[0] == p[1] || p[0] == p[2] || p[0] == p[3] || p[1] == p[2] || p[1] == p[3] || p[2] == p[3] || !full() && v%7 != 0 {
			continue
		}
		var r geom.Ring
		for _, i := range p {
			r = append(r, geom.Point{X: i % 3, Y: i / 3})
		}
		for _, k := range []int{1, 4, 12} {
			pgs := []geom.Polygon{scaled(r, k, false, 0), {geom.Box(k/2, k/2, 3*k, 3*k).Ring()}}
			if err := checkTwin(pgs, []uint8{0, 1}, 2, 3); err != nil {
				t.Fatalf("%v: %v", pgs, err)
			}
		}
		if err := checkCover(scaled(r, 12, false, 0)); err != nil {
			t.Fatal(err)
		}
		n++
	}
	t.Logf("%d rings", n)
}

// checkCover holds Outline against the winding number at all grid points, one nm and more from the edges.
func checkCover(pg geom.Polygon) error {
	var edges []Edge
	for _, s := range Outline(pg) {
		edges = appendEdge(edges, &s, 0)
	}
	b := pg.Bounds()
	slabs := slabsOf(edges, b.Min.X-1, b.Max.X+1)
	for x := b.Min.X; x <= b.Max.X; x++ {
		for y := b.Min.Y; y <= b.Max.Y; y++ {
			p := geom.Point{X: x, Y: y}
			near := false
			for dx := -1; dx <= 1; dx++ {
				for dy := -1; dy <= 1; dy++ {
					for i, a := range pg[0] {
						near = near || passesPixel2(a, pg[0][(i+1)%len(pg[0])], geom.Point{X: x + dx, Y: y + dy})
					}
				}
			}
			if near {
				continue
			}
			covered := false
			for _, t := range trapsOf(slabs) {
				q := frac{int64(x), 1}
				covered = covered || t.mask != 0 && t.y0 <= y && y < t.y1 && crossAtY(t.l, y).cmp(q) <= 0 && crossAtY(t.r, y).cmp(q) > 0
			}
			if want := windingAt(pg[0], p) != 0; covered != want {
				return fmt.Errorf("%v winds around %v: %t, outline covers it: %t", pg, p, want, covered)
			}
		}
	}
	return nil
}

// passesPixel2 is passesPixel for edges of any direction.
func passesPixel2(a, b, p geom.Point) bool {
	if a.X == b.X || a.Y == b.Y {
		return geom.Box(a.X, a.Y, b.X, b.Y).Contains(p)
	}
	return passesPixel(Seg{A: a, B: b}, p)
}

// windingAt counts how often r winds around p, which lies on no edge: edges that cross the ray to the right.
func windingAt(r geom.Ring, p geom.Point) int {
	n := 0
	for i, a := range r {
		b := r[(i+1)%len(r)]
		if a.Y <= p.Y && b.Y > p.Y && det(a, b, p) > 0 {
			n++
		} else if a.Y > p.Y && b.Y <= p.Y && det(a, b, p) < 0 {
			n--
		}
	}
	return n
}

// scatter makes polygons of bytes: a byte for the pitch, then for each polygon one for layer and number of points and
// two for each point.
func scatter(data []byte) (pgs []geom.Polygon, layers []uint8) {
	if len(data) == 0 {
		return nil, nil
	}
	pitch := []int{1, 1, 2, 3, 10, 1000, 1 << 20}[data[0]%7]
	cells := []int{4, 8, 16, 256}[data[0]/7%4]
	data = data[1:]
	for len(data) > 0 && len(pgs) < 10 {
		n := 3 + int(data[0]/8%4)
		layer := data[0] % 3
		data = data[1:]
		var r geom.Ring
		for ; len(r) < n && len(data) > 1; data = data[2:] {
			r = append(r, geom.Point{X: pitch * (int(data[0])%cells - cells/2), Y: pitch * (int(data[1])%cells - cells/2)})
		}
		if len(r) == n {
			pgs, layers = append(pgs, geom.Polygon{r}), append(layers, layer)
		}
	}
	return pgs, layers
}

// TestTwinRandom takes random polygons, crossing themselves or not, from dense on a grid of 4 × 4 to ±2^27 nm.
func TestTwinRandom(t *testing.T) {
	rounds := 800
	if full() {
		rounds = 60000
	}
	for seed := range rounds {
		rnd := rand.New(rand.NewPCG(uint64(seed), 77))
		data := make([]byte, 8+rnd.IntN(70))
		for i := range data {
			data[i] = byte(rnd.Uint32())
		}
		pgs, layers := scatter(data)
		if len(pgs) == 0 {
			continue
		}
		if err := checkTwin(pgs, layers, 2, 3, 7); err != nil {
			t.Fatalf("seed %d: %v on %v: %v", seed, pgs, layers, err)
		}
	}
}

// TestTwinOrder: the noder's chains do not depend on the order of edges.
func TestTwinOrder(t *testing.T) {
	for seed := range 300 {
		rnd := rand.New(rand.NewPCG(uint64(seed), 78))
		var all []Seg
		for range 2 + rnd.IntN(12) {
			p := func() geom.Point { return geom.Point{X: rnd.IntN(50), Y: rnd.IntN(50)} }
			if s := (Seg{A: p(), B: p()}); s.Slanted() {
				all = append(all, s)
			}
		}
		want := nodeAll(all)
		perm := rnd.Perm(len(all))
		mixed := make([]Seg, len(all))
		for i, k := range perm {
			mixed[k] = all[i]
		}
		got := nodeAll(mixed)
		for i, k := range perm {
			if !slices.Equal(want[i], got[k]) {
				t.Fatalf("seed %d: %v is led through %v, in another order of edges through %v", seed, all[i], want[i], got[k])
			}
		}
	}
}

// FuzzTwin holds the sweep against the twin on arbitrary polygons.
func FuzzTwin(f *testing.F) {
	f.Add([]byte{0, 0, 0, 0, 3, 1, 1, 3, 1, 0, 3, 3, 1, 1, 3})
	f.Add([]byte{7, 8, 0, 0, 7, 7, 7, 0, 0, 7, 9, 3, 0, 4, 7, 5, 0, 2, 7})
	f.Add([]byte{20, 16, 1, 2, 200, 3, 4, 100, 90, 7, 33, 250, 24, 9, 9, 8, 70, 60, 5, 1, 0, 255, 255, 0})
	f.Add([]byte("7\x00\x01\x01\x00\x01\x19\x01\x19\x01")) // flat and wide
	f.Fuzz(func(t *testing.T, data []byte) {
		pgs, layers := scatter(data)
		if len(pgs) == 0 {
			return
		}
		if err := checkTwin(pgs, layers, 2, 5); err != nil {
			t.Fatalf("%v on %v: %v", pgs, layers, err)
		}
	})
}
