package measure

import (
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

var (
	drainArea   = func(d *netlist.Device) float64 { return d.AD }
	drainRim    = func(d *netlist.Device) float64 { return d.PD }
	sourceArea  = func(d *netlist.Device) float64 { return d.AS }
	sourceRim   = func(d *netlist.Device) float64 { return d.PS }
	ofDrain     = func(s Size) Sigma { return s.AD }
	ofDrainRim  = func(s Size) Sigma { return s.PD }
	ofSource    = func(s Size) Sigma { return s.AS }
	ofSourceRim = func(s Size) Sigma { return s.PS }
)

// extractJunctions extracts a sheet with the outlines of its sources and drains.
func (s *sheet) extractJunctions() *extract.Result {
	s.t.Helper()
	res, err := extract.Run(s.t.Context(), s.lib(s.cell), s.cell, s.st, extract.Options{Outlines: true, Junctions: true})
	if err != nil {
		s.t.Fatal(err)
	}
	return res
}

// twoShots says that each layer was traced over a photograph of its own: edges of 20 nm of the diffusion and 5 nm of the gate, biases of
// 12 and 7 nm, scales of 1 % and 0.4 %.
func (s *sheet) twoShots() Sources {
	diffusion := func(l layout.Layer) bool { return s.st.LayerNames()[l] == "diffusion" }
	return Sources{
		Scales: []float64{0.01, 0.004},
		Origin: func(sh *layout.Shape) Origin {
			if diffusion(sh.Layer) {
				return Origin{20, 0}
			}
			return Origin{5, 1}
		},
		Bias: func(_ int, l layout.Layer) Bias {
			if diffusion(l) {
				return Bias{SigmaNm: 12}
			}
			return Bias{SigmaNm: 7}
		},
	}
}

func withinSigma(t *testing.T, what string, got, want Sigma) {
	t.Helper()
	within(t, what+", edge", got.Edge, want.Edge, 1e-9)
	within(t, what+", bias", got.Bias, want.Bias, 1e-9)
	within(t, what+", scale", got.Scale, want.Scale, 1e-9)
}

// TestStraightJunctions: sources and drains of w × e, w and e known by the gate's edge on one side and the diffusion's on three. By hand, g for the
// gate and d for the diffusion: A = w·e changes by w with the gate's edge and the one across from it, by e with each of the two others;
// P = w + 2·e, the gate's edge is not in it, by 2 with either of the first, by 1 with either of the others. So
//
//	σ(A)² = (w·σg)² + (w·σd)² + 2·(e·σd)² + (w·bg)² + ((w + 2·e)·bd)² + (s·w·e/2)²(gate) + (s·w·e·3/2)²(diffusion)
//	σ(P)² = (2·σg)² + (2·σd)² + 2·σd² + (2·bg)² + (4·bd)² + (s·e)²(gate) + (s·(w + e))²(diffusion)
//
// where of scale each edge counts by its distance from the middle, e/2 or w/2. Without Junctions nothing is said.
func TestStraightJunctions(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, -2, 4, 4)
	s.box("poly", -1, 0, 5, 1)
	res := s.extractJunctions()
	size := Sizes(res, s.st, s.twoShots(), nil)[0]
	const w, sg, sd, bg, bd = 4000, 5, 20, 7, 12
	for _, x := range []struct {
		name      string
		e         float64
		area, rim float64
		a, p      Sigma
	}{
		{"drain", 2000, res.Circuit.Devices[0].AD, res.Circuit.Devices[0].PD, size.AD, size.PD},
		{"source", 3000, res.Circuit.Devices[0].AS, res.Circuit.Devices[0].PS, size.AS, size.PS},
	} {
		within(t, x.name+", area", x.area, w*x.e, 1e-12)
		within(t, x.name+", perimeter", x.rim, w+2*x.e, 1e-12)
		withinSigma(t, x.name+", area", x.a, Sigma{math.Sqrt(w*w*sg*sg + w*w*sd*sd + 2*x.e*x.e*sd*sd), math.Hypot(w*bg, (w+2*x.e)*bd),
			math.Hypot(0.004*w*x.e/2, 0.01*w*x.e*1.5)})
		withinSigma(t, x.name+", perimeter", x.p, Sigma{math.Sqrt(4*sg*sg + 4*sd*sd + 2*sd*sd), math.Hypot(2*bg, 4*bd), math.Hypot(0.004*x.e, 0.01*(w+x.e))})
	}
	if plain := Sizes(s.extract(s.cell, 0), s.st, s.twoShots(), nil)[0]; plain.AS != (Sigma{}) || plain.PD != (Sigma{}) || plain.W != size.W || plain.L != size.L {
		t.Errorf("without junctions: %+v, with: %+v", plain, size)
	}
}

// TestSharedJunction: half of a region of w × e between two gates. By hand: A = w·e/2 changes by w/2 with either gate's edge, which are
// two that err by themselves, and by e/2 with either of the diffusion's; P = e by 1 with each gate's edge and not at all with the
// diffusion's. Both channels' edges grow alike with the diffusion, so that a half stays one.
//
//	σ(A)² = 2·(w/2·σg)² + 2·(e/2·σd)² + (w·bg)² + (e·bd)² + (s·w·e/2)²(gate) + (s·w·e/2)²(diffusion)
//	σ(P)² = 2·σg² + (2·bg)² + (s·e)²(gate)
func TestSharedJunction(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, -2, 4, 8)
	s.box("poly", -1, 0, 5, 1)
	s.box("poly", -1, 3, 5, 4)
	res := s.extractJunctions()
	sizes := Sizes(res, s.st, s.twoShots(), nil)
	const w, e, sg, sd, bg, bd = 4000, 2000, 5, 20, 7, 12
	if len(sizes) != 2 || len(res.Junctions) != 3 || len(res.Junctions[1].Devices) != 2 {
		t.Fatalf("%+v", res.Junctions)
	}
	for i, d := range res.Circuit.Devices {
		area, rim, a, p := d.AS, d.PS, sizes[i].AS, sizes[i].PS
		if i == 1 { // the lower one is the drain
			area, rim, a, p = d.AD, d.PD, sizes[i].AD, sizes[i].PD
		}
		within(t, "half the area", area, w*e/2, 1e-12)
		within(t, "half the perimeter", rim, e, 1e-12)
		withinSigma(t, "area", a, Sigma{math.Sqrt(w*w*sg*sg/2 + e*e*sd*sd/2), math.Hypot(w*bg, e*bd), math.Hypot(0.004*w*e/2, 0.01*w*e/2)})
		withinSigma(t, "perimeter", p, Sigma{math.Sqrt2 * sg, 2 * bg, 0.004 * e})
	}
}

// TestFingerJunctions: a transistor of two channels has two outer regions, of 2 × 4 and 3 × 4, on one net. Their upper and lower edges are parts
// of one drawn edge each, and move as one. By hand: A changes by 4 with each of the two gates' edges and with the diffusion's left and
// right one, by 2 + 3 with its upper and lower one.
func TestFingerJunctions(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, 0, 10, 4)
	s.box("poly", 2, -1, 3, 5)
	s.box("poly", 6, -1, 7, 5)
	s.box("poly", 2, 4.5, 7, 5)
	s.box("contact", .5, 1, 1, 2)
	s.box("contact", 9, 1, 9.5, 2)
	s.add("metal1", []float64{.5, -3, 9.5, -3, 9.5, 2, 9, 2, 9, -2, 1, -2, 1, 2, .5, 2})
	s.cell.Verdicts = append(s.cell.Verdicts, layout.Verdict{Layer: 1, At: geom.Point{X: 2500, Y: 2000}, Kind: "transistor-or-capacitor", Reading: "transistor"})
	res := s.extractJunctions()
	if len(res.Circuit.Devices) != 1 || res.Circuit.Devices[0].Fingers != 2 || len(res.Junctions) != 3 {
		t.Fatalf("%+v", res.Circuit.Devices)
	}
	d, size := &res.Circuit.Devices[0], Sizes(res, s.st, s.twoShots(), nil)[0]
	outer, inner, a, b := d.AD, d.AS, size.AD, size.AS
	if outer < inner {
		outer, inner, a, b = inner, outer, b, a
	}
	within(t, "outer area", outer, 20e6, 1e-12)
	within(t, "inner area", inner, 12e6, 1e-12)
	within(t, "outer area, edges", a.Edge, 1000*math.Sqrt(2*16*25+(2*16+2*25)*400), 1e-9)
	within(t, "inner area, edges", b.Edge, 1000*math.Sqrt(2*16*25+2*9*400), 1e-9)
	within(t, "outer area, bias", a.Bias, 1000*math.Hypot(8*7, 18*12), 1e-9)
}

// TestDiodeJunction: a verdict makes a diode of the region of 4 × 3 beside a gate, and the transistor has none of it. By hand: as the source
// of TestStraightJunctions.
func TestDiodeJunction(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, -2, 4, 4)
	s.box("poly", -1, 0, 5, 1)
	s.cell.Verdicts = append(s.cell.Verdicts, layout.Verdict{Layer: 0, At: geom.Point{X: 2000, Y: 3000}, Kind: "photodiode", Reading: "photodiode"})
	res := s.extractJunctions()
	sizes := Sizes(res, s.st, s.twoShots(), nil)
	found := map[netlist.Kind]int{}
	for i := range res.Circuit.Devices {
		d, size := &res.Circuit.Devices[i], &sizes[i]
		found[d.Kind]++
		switch d.Kind {
		case netlist.Diode:
			within(t, "area", d.Area, 12e6, 1e-12)
			within(t, "perimeter", d.Perim, 10e3, 1e-12)
			withinSigma(t, "area", size.Area, Sigma{1000 * math.Sqrt(16*25+16*400+2*9*400), 1000 * math.Hypot(4*7, 10*12), 1e6 * math.Hypot(0.004*6, 0.01*18)})
			withinSigma(t, "perimeter", size.Perimeter, Sigma{math.Sqrt(4*25 + 6*400), math.Hypot(2*7, 4*12), 1000 * math.Hypot(0.004*3, 0.01*7)})
		case netlist.NMOS:
			if d.AS != 0 || size.AS != (Sigma{}) || size.PS != (Sigma{}) || size.AD.Edge == 0 || size.Area != (Sigma{}) {
				t.Errorf("%+v, %+v", d, size)
			}
		}
	}
	if found[netlist.Diode] != 1 || found[netlist.NMOS] != 1 {
		t.Errorf("%v", found)
	}
}

// TestJunctionsOfOthers: how uncertain an edge of a source is, the shape says that draws it, though another one covers the channel. By
// hand, of a source of 4 × 3, of which 4 × 1 is drawn with the channel: the least certain of its diffusion counts for all of it, and
// either side of 3, which two shapes make together, is one line.
func TestJunctionsOfOthers(t *testing.T) {
	s := newSheet(t, 1000)
	s.box("diffusion", 0, -2, 4, 2)
	s.box("diffusion", 0, 2, 4, 4)
	s.box("poly", -1, 0, 5, 1)
	from := s.twoShots()
	from.Origin = func(sh *layout.Shape) Origin {
		return Origin{map[*layout.Shape]float64{&s.cell.Shapes[0]: 10, &s.cell.Shapes[1]: 30}[sh], -1}
	}
	got := Sizes(s.extractJunctions(), s.st, from, nil)[0]
	within(t, "drawn with the channel", got.AD.Edge, 10*math.Sqrt(4e3*4e3+2*2e3*2e3), 1e-9)
	within(t, "drawn by itself", got.AS.Edge, 30*math.Sqrt(4e3*4e3+2*3e3*3e3), 1e-9)
}

// TestMonteCarloJunctions is TestMonteCarlo for areas and perimeters of sources and drains: of a straight gate, of a bent one, and of a region
// that two gates of different width share, each by its part of the edges.
func TestMonteCarloJunctions(t *testing.T) {
	straight := func(s *sheet) { s.box("diffusion", 0, -3, 4, 4); s.box("poly", -1, 0, 5, 1) }
	bent := func(s *sheet) { s.bent(2, 1) }
	stepped := func(s *sheet) {
		s.add("diffusion", []float64{0, -2, 4, -2, 4, 2, 2, 2, 2, 7, 0, 7})
		s.box("poly", -1, 0, 5, 1)
		s.box("poly", -1, 3, 5, 4)
	}
	for _, x := range []drawnAgain{
		{"straight, area", straight, [2]float64{2, -1.5}, "poly", "diffusion", drainArea, ofDrain},
		{"straight, perimeter", straight, [2]float64{2, -1.5}, "poly", "diffusion", drainRim, ofDrainRim},
		{"bent, outer area", bent, [2]float64{0, -.5}, "poly", "diffusion", drainArea, ofDrain},
		{"bent, outer perimeter", bent, [2]float64{0, -.5}, "poly", "diffusion", drainRim, ofDrainRim},
		{"bent, inner area", bent, [2]float64{2, 1.5}, "poly", "diffusion", sourceArea, ofSource},
		{"bent, inner perimeter", bent, [2]float64{2, 1.5}, "poly", "diffusion", sourceRim, ofSourceRim},
		{"shared, area", stepped, [2]float64{2, 2}, "poly", "diffusion", sourceArea, ofSource},
		{"shared, perimeter", stepped, [2]float64{2, 2}, "poly", "diffusion", sourceRim, ofSourceRim},
	} {
		x.look(t, true)
	}
}
