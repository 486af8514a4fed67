package measure

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestSizes: σ(W)² = 2·σ(diffusion)² + (s·W)², σ(L)² = 2·σ(gate)² + (s·L)², by hand for each of four channels: one traced over
// two photographs; one of a cell that is placed twice as large; one of which nothing is known; one under two pieces of poly.
func TestSizes(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p1m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	from := map[*layout.Shape]Origin{}
	var origins []Origin // of the shapes of the cell that is drawn, in order
	add := func(c *layout.Cell, layer string, o Origin, x0, y0, x1, y1 int) {
		l, _ := st.LayerNamed(layer)
		c.Shapes = append(c.Shapes, layout.Shape{Layer: layout.Layer(l), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}})
		origins = append(origins, o)
	}
	end := func(c *layout.Cell) {
		for i, o := range origins {
			from[&c.Shapes[i]] = o
		}
		origins = nil
	}
	unknown := Origin{Shot: -1}
	small := &layout.Cell{Name: "SMALL"}
	add(small, "diffusion", Origin{20, 0}, 0, 0, 1000, 3000)
	add(small, "poly", Origin{5, 0}, -500, 1000, 1500, 1500)
	end(small)
	top := &layout.Cell{Name: "TOP", Placements: []layout.Placement{{Cell: small, Transform: geom.NewTransform(false, 2, 0, geom.Point{X: 20000})}}}
	add(top, "diffusion", Origin{10, 1}, 0, 0, 2000, 3000)
	add(top, "poly", Origin{15, 0}, -500, 1000, 2500, 1500)
	add(top, "diffusion", unknown, 40000, 0, 41000, 3000)
	add(top, "poly", unknown, 39000, 1000, 42000, 1500)
	add(top, "diffusion", Origin{10, 2}, 60000, 0, 61000, 3000)
	add(top, "poly", Origin{7, -1}, 59000, 1000, 62000, 1500)
	add(top, "poly", Origin{9, -1}, 60000, 1000, 62000, 1500)
	end(top)
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, small}}
	res, err := extract.Run(t.Context(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := Sizes(res, st, Sources{Origin: func(s *layout.Shape) Origin { return from[s] }, Scales: []float64{0.01, 0.002, 0}}, nil)
	r2 := math.Sqrt2
	want := map[int]Size{ // by x of the channel in 20 µm
		0: {W: Sigma{Edge: 10 * r2, Scale: 0.002 * 2000}, L: Sigma{Edge: 15 * r2, Scale: 0.01 * 500}, Shots: []int{0, 1}},
		1: {W: Sigma{Edge: 40 * r2, Scale: 0.01 * 2000}, L: Sigma{Edge: 10 * r2, Scale: 0.01 * 1000}, Shots: []int{0}},
		2: {},
		3: {W: Sigma{Edge: 10 * r2}, L: Sigma{Edge: 9 * r2}, Shots: []int{2}},
	}
	if len(got) != len(want) {
		t.Fatalf("%d devices, want %d", len(got), len(want))
	}
	near := func(a, b Sigma) bool {
		return math.Abs(a.Edge-b.Edge) < 1e-9 && a.Bias == b.Bias && math.Abs(a.Scale-b.Scale) < 1e-9
	}
	for i := range got {
		d := &res.Circuit.Devices[i]
		w := want[d.At.X/20000]
		if !near(got[i].W, w.W) || !near(got[i].L, w.L) || !slices.Equal(got[i].Shots, w.Shots) {
			t.Errorf("%v at %v: %+v, want %+v", d.Kind, d.At, got[i], w)
		}
	}
	if s := (Sigma{3, 4, 12}).Combined(); s != 13 {
		t.Errorf("3, 4 and 12 nm are %g together, not 13", s)
	}
}

// TestBiasByShot: the bias that counts is that of the layer in the photograph that its shape was traced over, as much larger as the cell
// is placed, of several the largest; of a shape over no photograph that of photograph -1. By hand: 2·b.
func TestBiasByShot(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, 0, 2, 5)
	s.box("poly", -1, 1, 3, 2)
	s.box("poly", 0, 1, 3, 2)
	s.box("diffusion", 0, 10, 2, 15)
	s.box("poly", -1, 11, 3, 12)
	top := &layout.Cell{Name: "LARGE", Placements: []layout.Placement{{Cell: s.cell, Transform: geom.NewTransform(false, 3, 0, geom.Point{})}}}
	over := map[*layout.Shape]int{}
	for i, shot := range []int{0, 1, 2, -1, 1} {
		over[&s.cell.Shapes[i]] = shot
	}
	bias := map[int]map[string]float64{-1: {"diffusion": 7}, 0: {"diffusion": 10, "poly": 1000}, 1: {"diffusion": 1000, "poly": 20}, 2: {"poly": 30}}
	res := s.extract(top, 0)
	got := Sizes(res, s.st, Sources{
		Origin: func(sh *layout.Shape) Origin { return Origin{Shot: over[sh]} }, Scales: []float64{0, 0, 0},
		Bias: func(shot int, l layout.Layer) Bias { return Bias{SigmaNm: bias[shot][s.st.LayerNames()[l]]} },
	}, nil)
	if len(got) != 2 {
		t.Fatalf("%d devices", len(got))
	}
	for i := range got {
		want := [2]float64{2 * 3 * 10, 2 * 3 * 30}
		if res.Circuit.Devices[i].At.Y > 20000 {
			want = [2]float64{2 * 3 * 7, 2 * 3 * 20}
		}
		within(t, "W", got[i].W.Bias, want[0], 1e-12)
		within(t, "L", got[i].L.Bias, want[1], 1e-12)
	}
}

// TestSizesOfOthers: of a diode nothing is said where its outline was not asked for.
func TestSizesOfOthers(t *testing.T) {
	st, err := stack.Parse("t.toml", []byte(`name = "t"
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "photo"
role = "mark"
[[diode]]
model = "d"
type = "n"
where = ["photo"]
to = "substrate"
`))
	if err != nil {
		t.Fatal(err)
	}
	c := &layout.Cell{Name: "C"}
	for l := range layout.Layer(2) {
		c.Shapes = append(c.Shapes, layout.Shape{Layer: l, Polygon: geom.Polygon{geom.Box(0, 0, 1000, 1000).Ring()}})
	}
	res, err := extract.Run(t.Context(), &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st, extract.Options{})
	if err != nil || len(res.Circuit.Devices) != 1 || res.Circuit.Devices[0].Kind != netlist.Diode {
		t.Fatal(err)
	}
	got := Sizes(res, st, Sources{Origin: func(*layout.Shape) Origin { return Origin{SigmaNm: 10, Shot: -1} }, Scales: []float64{0.1}}, nil)
	if len(got) != 1 || got[0].W != (Sigma{}) || got[0].L != (Sigma{}) || got[0].Shots != nil {
		t.Errorf("%+v", got)
	}
}
