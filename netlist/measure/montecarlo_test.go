package measure

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

const plateStack = solveStack + `
[[layer]]
name = "poly2"
role = "gate"
[[capacitor]]
model = "cpp"
plates = ["poly2", "poly"]
area_af_um2 = 860
edge_af_um = 50
`

// vary is one way in which a drawing may be wrong.
type vary struct {
	name  string
	edge  float64            // nm, standard deviation of each edge
	bias  map[string]float64 // nm, by layer
	scale map[string]float64 // by layer, as each is a photograph of its own
}

// redrawn returns a copy of a drawing with edges moved at random: each edge of a shape along itself, all of a layer, and layers grown
// about the middle of what is measured.
func (v vary) redrawn(s *sheet, rnd *rand.Rand, middle geom.Point) *layout.Cell {
	out := &layout.Cell{Name: "TOP"}
	bias, scale := map[string]float64{}, map[string]float64{}
	for _, l := range s.st.LayerNames() { // in order, so that the numbers are always the same
		bias[l], scale[l] = v.bias[l]*rnd.NormFloat64(), v.scale[l]*rnd.NormFloat64()
	}
	for _, sh := range s.cell.Shapes {
		name := s.st.LayerNames()[sh.Layer]
		var pg geom.Polygon
		for k, ring := range sh.Polygon {
			pg = append(pg, movedRing(ring, k > 0, func() float64 { return v.edge*rnd.NormFloat64() + bias[name] }, 1+scale[name], middle))
		}
		out.Shapes = append(out.Shapes, layout.Shape{Layer: sh.Layer, Polygon: pg})
	}
	return out
}

// movedRing moves each edge of a ring out of what it fills, by what off says; corners lie where the lines meet.
func movedRing(ring geom.Ring, hole bool, off func() float64, scale float64, middle geom.Point) geom.Ring {
	n := len(ring)
	area := 0
	for i, p := range ring {
		q := ring[(i+1)%n]
		area += p.X*q.Y - q.X*p.Y
	}
	sense := 1.0
	if area < 0 != hole {
		sense = -1
	}
	type line struct{ nx, ny, c float64 }
	lines := make([]line, n)
	for i, p := range ring {
		q := ring[(i+1)%n]
		l := math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y))
		nx, ny := sense*float64(q.Y-p.Y)/l, -sense*float64(q.X-p.X)/l
		x, y := float64(middle.X)+scale*float64(p.X-middle.X), float64(middle.Y)+scale*float64(p.Y-middle.Y)
		lines[i] = line{nx, ny, nx*x + ny*y + off()}
	}
	out := make(geom.Ring, n)
	for i := range ring {
		a, b := lines[(i+n-1)%n], lines[i]
		det := a.nx*b.ny - a.ny*b.nx
		out[i] = geom.Point{X: int(math.Round((a.c*b.ny - b.c*a.ny) / det)), Y: int(math.Round((a.nx*b.c - b.nx*a.c) / det))}
	}
	return out
}

// drawnAgain is a figure of which it is looked how it varies over drawings.
type drawnAgain struct {
	name   string
	draw   func(*sheet)
	middle [2]float64 // of the channel, the body, the plates or the junction
	a, b   string     // the layers that move
	figure func(*netlist.Device) float64
	sigma  func(Size) Sigma
}

// TestMonteCarlo: what Sizes says of a figure is the standard deviation that the figure has if edges, layers and scales are drawn again
// and again with errors of the stated size. Of n drawings a standard deviation is known to 1/√(2n): of 400, with UNDERMETAL_FULL set, to
// 3.5 %, and 10 % are allowed; else of 60, and three times that are.
func TestMonteCarlo(t *testing.T) {
	ratio := func(d *netlist.Device) float64 {
		if d.Ratio > 0 {
			return d.Ratio
		}
		return d.W / d.L
	}
	value := func(d *netlist.Device) float64 { return d.Value }
	sigmaRatio, sigmaValue := func(s Size) Sigma { return s.Ratio }, func(s Size) Sigma { return s.Value }
	for _, x := range []drawnAgain{
		{"straight", func(s *sheet) { s.box("diffusion", 0, -3, 4, 4); s.box("poly", -1, 0, 5, 1) }, [2]float64{2, .5}, "poly", "diffusion", ratio, sigmaRatio},
		{"straight, W", func(s *sheet) { s.box("diffusion", 0, -3, 4, 4); s.box("poly", -1, 0, 5, 1) }, [2]float64{2, .5}, "poly", "diffusion",
			func(d *netlist.Device) float64 { return d.W }, func(s Size) Sigma { return s.W }},
		{"bent", func(s *sheet) { s.bent(2, 1) }, [2]float64{1.5, 1}, "poly", "diffusion", ratio, sigmaRatio},
		{"U", func(s *sheet) { s.horseshoe(2, 2) }, [2]float64{2, .5}, "poly", "diffusion", ratio, sigmaRatio},
		{"ring", func(s *sheet) { s.ring(2, 2, 1) }, [2]float64{1, 1}, "poly", "diffusion", ratio, sigmaRatio},
		{"tapered", func(s *sheet) {
			s.add("diffusion", []float64{2, -1, 3, -1, 6, 2, -1, 2})
			s.box("poly", -2, 0, 7, 1)
		}, [2]float64{2.5, .5}, "poly", "diffusion", ratio, sigmaRatio},
		{"resistor", func(s *sheet) {
			s.add("poly", []float64{0, -3, 1, -3, 1, 4, 6, 4, 6, 5, 0, 5})
			s.box("body", -1, 0, 4, 6)
		}, [2]float64{2, 2.5}, "poly", "body", value, sigmaValue},
		{"straight resistor", func(s *sheet) { s.box("poly", -3, 0, 8, 1); s.box("body", 0, -1, 5, 2) }, [2]float64{2.5, .5}, "poly", "body", value, sigmaValue},
		{"capacitor", func(s *sheet) {
			s.box("poly", -2, -2, 8, 8)
			s.add("poly2", []float64{0, 0, 4, 0, 4, 1, 2, 1, 2, 5, 0, 5})
		}, [2]float64{2, 2.5}, "poly", "poly2", value, sigmaValue},
		{"capacitor of two edges", func(s *sheet) { s.box("poly", 0, 0, 3, 2); s.box("poly2", -1, -1, 2, 1) }, [2]float64{1, .5}, "poly", "poly2", value, sigmaValue},
	} {
		x.look(t, false)
	}
}

// look compares what Sizes says with what comes of drawings with errors of that size. A figure of a junction is of the first of some
// transistors, and nothing is solved for it.
func (x *drawnAgain) look(t *testing.T, junction bool) {
	const unit = 10000
	draws, allowed := 60, 3/math.Sqrt(2*60)
	if os.Getenv("UNDERMETAL_FULL") != "" {
		draws, allowed = 400, 0.1
	}
	for _, v := range []vary{
		{name: "edge", edge: 80},
		{name: "bias", bias: map[string]float64{x.a: 60, x.b: 90}},
		{name: "scale", scale: map[string]float64{x.a: 0.004, x.b: 0.01}},
	} {
		s := newSheet(t, unit)
		s.st = parsedStack(t, plateStack)
		x.draw(s)
		measured := func(top *layout.Cell, gradient bool) (*extract.Result, *Solution) {
			lib := &layout.Library{Layers: s.st.LayerNames(), Cells: []*layout.Cell{top}}
			res, err := extract.Run(t.Context(), lib, top, s.st, extract.Options{Workers: 1, Outlines: true, Junctions: junction})
			if err != nil || len(res.Circuit.Devices) != 1 && !junction {
				t.Fatalf("%s: %v, %+v", x.name, err, res)
			}
			if junction {
				return res, nil
			}
			return res, solveOf(t, res, SolveOptions{Workers: 1, Tolerance: 3e-4, Gradient: gradient})
		}
		res, sol := measured(s.cell, true)
		from := Sources{Scales: []float64{v.scale[x.a], v.scale[x.b]}}
		from.Origin = func(sh *layout.Shape) Origin {
			if s.st.LayerNames()[sh.Layer] == x.a {
				return Origin{v.edge, 0}
			}
			return Origin{v.edge, 1}
		}
		from.Bias = func(shot int, l layout.Layer) Bias { // by photograph and layer: in the other photograph nothing of it was traced
			if name := s.st.LayerNames()[l]; name != []string{x.a, x.b}[shot] {
				return Bias{SigmaNm: 1e6}
			}
			return Bias{SigmaNm: v.bias[s.st.LayerNames()[l]]}
		}
		stated := x.sigma(Sizes(res, s.st, from, sol)[0])
		part := map[string]float64{"edge": stated.Edge, "bias": stated.Bias, "scale": stated.Scale}
		rnd := rand.New(rand.NewPCG(7, 11))
		sum, square := 0.0, 0.0
		middle := geom.Point{X: int(x.middle[0] * unit), Y: int(x.middle[1] * unit)}
		base := x.figure(&res.Circuit.Devices[0])
		for range draws {
			r, _ := measured(v.redrawn(s, rnd, middle), false)
			e := x.figure(&r.Circuit.Devices[0]) - base
			sum += e
			square += e * e
		}
		n := float64(draws)
		deviation := math.Sqrt(square/n - sum/n*(sum/n))
		t.Logf("%s, %s: stated %.4g, drawn %.4g (%.3f)", x.name, v.name, part[v.name], deviation, part[v.name]/deviation)
		if rounding := 1e-4 * base; !(math.Abs(part[v.name]-deviation) < max(allowed*part[v.name], rounding)) {
			t.Errorf("%s, %s: %.4g is stated, %.4g drawn", x.name, v.name, part[v.name], deviation)
		}
		if math.Abs(stated.Combined()-part[v.name]) > 1e-9*base {
			t.Errorf("%s: %s alone varies, but stated is %+v", x.name, v.name, stated)
		}
	}
}

// TestScaleCancels: W/L and squares of what was traced over one photograph do not hang on its scale; areas do, twice.
func TestScaleCancels(t *testing.T) {
	s := newSheet(t, 1000)
	s.bent(2, 1)
	res := s.extract(s.cell, 0)
	one := Sources{Origin: func(*layout.Shape) Origin { return Origin{10, 0} }, Scales: []float64{0.01}}
	size := Sizes(res, s.st, one, solveOf(t, res, SolveOptions{Gradient: true}))[0]
	if math.Abs(size.Ratio.Scale) > 1e-5 || !(size.Ratio.Edge > 0.01) || size.L.Scale == 0 {
		t.Errorf("%+v", size)
	}
	// nor on that of a frame that two photographs share, where W and L do; of their own scales it does, which differ
	over := func(sh *layout.Shape) Origin { return Origin{10, int(sh.Layer)} }
	two := Sources{Origin: over, Scales: []float64{0, 0}, Frame: []float64{0.01, 0.01}}
	size = Sizes(res, s.st, two, solveOf(t, res, SolveOptions{Gradient: true}))[0]
	if math.Abs(size.Ratio.Scale) > 1e-5 || math.Abs(size.W.Scale/res.Circuit.Devices[0].W-0.01) > 1e-12 {
		t.Errorf("two photographs of one frame: %+v", size)
	}
	two.Scales, two.Frame = two.Frame, nil
	if size = Sizes(res, s.st, two, solveOf(t, res, SolveOptions{Gradient: true}))[0]; !(size.Ratio.Scale > 0.01) {
		t.Errorf("two photographs for themselves: %+v", size)
	}
	s = newSheet(t, 1000)
	s.st = parsedStack(t, plateStack)
	s.box("poly", 0, 0, 30, 30)
	s.box("poly2", 5, 5, 15, 25)
	res = s.extract(s.cell, 0)
	size = Sizes(res, s.st, one, nil)[0]
	// 200 µm² and 60 µm; edges of 10 and 20 µm, two each; by hand
	within(t, "area, scale", size.Area.Scale, 2*0.01*200e6, 1e-9)
	within(t, "perimeter, scale", size.Perimeter.Scale, 0.01*60e3, 1e-9)
	within(t, "area, edges", size.Area.Edge, 10*math.Sqrt(2*1e8+2*4e8), 1e-9)
	within(t, "perimeter, edges", size.Perimeter.Edge, 10*2*2, 1e-9)
}
