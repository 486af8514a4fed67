package measure

import (
	"context"
	"math"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// everyWidth draws devices of all kinds, with rings, slanted edges and corners of both senses.
var everyWidth = []struct {
	name string
	draw func(*sheet)
}{
	{"straight", func(s *sheet) { s.box("diffusion", 0, -3, 4, 4); s.box("poly", -1, 0, 5, 1) }},
	{"bent", func(s *sheet) { s.bent(2, 1) }},
	{"U", func(s *sheet) { s.horseshoe(2, 2) }},
	{"ring", func(s *sheet) { s.ring(2, 2, 1) }},
	{"tapered", func(s *sheet) {
		s.add("diffusion", []float64{2, -1, 3, -1, 6, 2, -1, 2})
		s.box("poly", -2, 0, 7, 1)
	}},
	{"three ways", func(s *sheet) {
		s.box("diffusion", 0, 0, 3, 1)
		s.box("diffusion", 1, 0, 2, 4)
		s.box("poly", .5, -1, 2.5, 2)
	}},
	{"plate", func(s *sheet) { s.box("diffusion", 0, 0, 4, 4); s.box("poly", -1, -1, 5, 3) }},
	{"resistor", func(s *sheet) {
		s.add("poly", []float64{0, -3, 1, -3, 1, 4, 6, 4, 6, 5, 0, 5})
		s.box("body", -1, 0, 4, 6)
	}},
	{"straight resistor", func(s *sheet) { s.box("poly", -3, 0, 8, 1); s.box("body", 0, -1, 5, 2) }},
	{"dogbone", func(s *sheet) { s.dogbone(6, 3, 1) }},
	{"capacitor", func(s *sheet) {
		s.box("poly", -2, -2, 8, 8)
		s.add("poly2", []float64{0, 0, 4, 0, 4, 1, 2, 1, 2, 5, 0, 5})
	}},
	{"capacitor of two edges", func(s *sheet) { s.box("poly", 0, 0, 3, 2); s.box("poly2", -1, -1, 2, 1) }},
}

// TestCorrect: what is corrected by a known bias has the sizes of a drawing whose edges were moved by it, in the simple figures and in
// the solved ones; the drawing stays as it is. Slanted edges of the moved drawing are rounded to the grid, of 1e-4 of the unit.
func TestCorrect(t *testing.T) {
	const unit = 10000
	for _, x := range everyWidth {
		for _, out := range []map[string]float64{{"poly": 370}, {"diffusion": -450, "body": 450, "head": -450}, {"poly": -220, "diffusion": 310, "poly2": 530, "body": -120, "head": 120}} {
			s := newSheet(t, unit)
			s.st = parsedStack(t, plateStack)
			x.draw(s)
			moved := &sheet{t, s.st, &layout.Cell{Name: "TOP"}, unit}
			for _, sh := range s.cell.Shapes {
				off := out[s.st.LayerNames()[sh.Layer]]
				var pg geom.Polygon
				for k, ring := range sh.Polygon {
					pg = append(pg, movedRing(ring, k > 0, func() float64 { return off }, 1, geom.Point{}))
				}
				moved.cell.Shapes = append(moved.cell.Shapes, layout.Shape{Layer: sh.Layer, Polygon: pg})
			}
			got, want := s.extract(s.cell, 0), moved.extract(moved.cell, 0)
			before := len(got.Warnings)
			Correct(got, s.st, Sources{Origin: func(*layout.Shape) Origin { return Origin{Shot: 3} }, Bias: func(shot int, l layout.Layer) Bias {
				if shot != 3 {
					return Bias{OutNm: 1e5}
				}
				return Bias{OutNm: out[s.st.LayerNames()[l]]}
			}})
			if len(got.Warnings) != before {
				t.Fatalf("%s, %v: %+v", x.name, out, got.Warnings)
			}
			solveOf(t, got, SolveOptions{Tolerance: 1e-5})
			solveOf(t, want, SolveOptions{Tolerance: 1e-5})
			if len(got.Circuit.Devices) != len(want.Circuit.Devices) {
				t.Fatalf("%s: %d devices, %d", x.name, len(got.Circuit.Devices), len(want.Circuit.Devices))
			}
			tol := 1e-9
			if x.name == "tapered" {
				tol = 1e-4
			}
			for i := range got.Circuit.Devices {
				g, w := &got.Circuit.Devices[i], &want.Circuit.Devices[i]
				for _, f := range []struct {
					what      string
					got, want float64
				}{{"W", g.W, w.W}, {"L", g.L, w.L}, {"area", g.Area, w.Area}, {"perimeter", g.Perim, w.Perim}} {
					if math.Abs(f.got-f.want) > tol*(1+math.Abs(f.want)) {
						t.Errorf("%s, %v: %s %.9g, want %.9g", x.name, out, f.what, f.got, f.want)
					}
				}
				for _, f := range []struct {
					what      string
					got, want float64
				}{{"W/L", ratioOf(g), ratioOf(w)}, {"value", g.Value, w.Value}} {
					if math.Abs(f.got-f.want) > max(tol, 2e-5)*math.Abs(f.want) || math.IsNaN(f.got) != math.IsNaN(f.want) {
						t.Errorf("%s, %v: %s %.9g, want %.9g", x.name, out, f.what, f.got, f.want)
					}
				}
			}
		}
	}
}

func ratioOf(d *netlist.Device) float64 {
	if d.Ratio > 0 {
		return d.Ratio
	}
	if d.W > 0 {
		return d.W / d.L
	}
	return 0
}

// TestNotCorrected: what cannot be corrected stays, with a warning; what nothing is known of stays without.
func TestNotCorrected(t *testing.T) {
	for _, x := range []struct {
		name string
		draw func(*sheet)
		out  func(shot int, layer string) float64
		want string // part of the warning; empty: none
	}{
		{"nothing known", func(s *sheet) { s.bent(2, 1) }, func(int, string) float64 { return 0 }, ""},
		{"only uncertain", func(s *sheet) { s.bent(2, 1) }, nil, ""},
		{"the gate vanishes", func(s *sheet) { s.bent(2, 1) }, func(_ int, l string) float64 { return map[string]float64{"poly": -600}[l] }, "leave nothing"},
		{"the channel vanishes", func(s *sheet) { s.box("diffusion", 0, -3, 4, 4); s.box("poly", -1, 0, 5, 1) }, func(_ int, l string) float64 { return map[string]float64{"poly": -600}[l] }, "leave nothing"},
		{"two ends", func(s *sheet) { s.dogbone(6, 3, 1) }, func(_ int, l string) float64 { return map[string]float64{"head": 20}[l] }, "it ends at body or at head"},
		{"two photographs", func(s *sheet) {
			s.box("diffusion", 0, -3, 4, 4)
			s.box("poly", -1, 0, 5, 1)
			s.box("poly", 0, 0, 5, 1)
		}, func(shot int, l string) float64 { return float64(shot) }, "poly lie on each other there"},
	} {
		s := newSheet(t, 1000)
		x.draw(s)
		number := map[*layout.Shape]int{}
		for i := range s.cell.Shapes {
			number[&s.cell.Shapes[i]] = i
		}
		from := Sources{Origin: func(sh *layout.Shape) Origin { return Origin{Shot: number[sh]} }, Scales: make([]float64, len(s.cell.Shapes))}
		from.Bias = func(shot int, l layout.Layer) Bias {
			if x.out == nil {
				return Bias{SigmaNm: 50}
			}
			return Bias{OutNm: x.out(shot, s.st.LayerNames()[l])}
		}
		res, plain := s.extract(s.cell, 0), s.extract(s.cell, 0)
		Correct(res, s.st, from)
		text := ""
		for _, w := range res.Warnings {
			if w.Code == "not-corrected" {
				text += w.Text + "\n"
			}
		}
		if (x.want == "") != (text == "") || !strings.Contains(text, x.want) {
			t.Errorf("%s: %q, want %q", x.name, text, x.want)
		}
		solveOf(t, res, SolveOptions{})
		solveOf(t, plain, SolveOptions{})
		if got, want := res.Circuit.Devices[0], plain.Circuit.Devices[0]; got.W != want.W || got.L != want.L || got.Ratio != want.Ratio {
			t.Errorf("%s: %+v, want %+v", x.name, got, want)
		}
	}
}

// TestCorrectFingers: a transistor that a verdict made of several channels, one of them bent: each is corrected.
func TestCorrectFingers(t *testing.T) {
	drawn := func(e float64) *extract.Result {
		s := newSheet(t, 1000)
		p := e / 1000
		s.box("diffusion", 0, 0, 10, 4)
		s.box("poly", 2-p, -1, 3+p, 5)
		s.box("poly", 6-p, -1, 7+p, 5)
		s.box("poly", 2-p, 4.5, 7+p, 5)
		// the outer sources are one net
		s.box("contact", .5, 1, 1, 2)
		s.box("contact", 9, 1, 9.5, 2)
		s.add("metal1", []float64{.5, -3, 9.5, -3, 9.5, 2, 9, 2, 9, -2, 1, -2, 1, 2, .5, 2})
		s.cell.Verdicts = append(s.cell.Verdicts, layout.Verdict{Layer: 1, At: geom.Point{X: 2500, Y: 2000}, Kind: "transistor-or-capacitor", Reading: "transistor"})
		res, err := extract.Run(context.Background(), s.lib(s.cell), s.cell, s.st, extract.Options{Outlines: true})
		if err != nil || len(res.Circuit.Devices) != 1 || res.Circuit.Devices[0].Fingers != 2 {
			t.Fatalf("%v %+v", err, res.Circuit.Devices)
		}
		return res
	}
	s := newSheet(t, 1000)
	res, want := drawn(0), drawn(50)
	Correct(res, s.st, Sources{Origin: func(*layout.Shape) Origin { return Origin{Shot: -1} }, Bias: func(_ int, l layout.Layer) Bias {
		return Bias{OutNm: map[string]float64{"poly": 50, "diffusion": 30}[s.st.LayerNames()[l]]}
	}})
	d, w := &res.Circuit.Devices[0], &want.Circuit.Devices[0]
	within(t, "L", d.L, w.L, 1e-12)
	within(t, "W", d.W, 2*(4000+2*30), 1e-12)
}
