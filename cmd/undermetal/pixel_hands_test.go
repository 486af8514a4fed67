package main

import (
	"bytes"
	"math"
	"os"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/stack"
	"undermetal/layout/svg"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/testdata/pixel"
)

// tracedBy returns the pixel as a hand of the seed traced it, laid by its own control points: what trace import would
// store. scales are as uncertain as these points leave them.
func tracedBy(t *testing.T, seed uint64, st *stack.Stack) (lib *layout.Library, from map[*layout.Shape]measure.Origin, scales []float64) {
	t.Helper()
	var origins []measure.Origin
	hand := pixel.NewHand(seed)
	lib = &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{{Name: "die"}}}
	for i, p := range pixel.Photos() {
		points, err := parsePoints(bytes.NewReader(hand.Points(p)))
		if err != nil {
			t.Fatal(err)
		}
		fit, err := register.FitPoints(register.Similarity, points, register.ToFrame)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := svg.Parse(p.Name+".svg", bytes.NewReader(hand.SVG(p)))
		if err != nil {
			t.Fatal(err)
		}
		px, err := doc.Images[0].Pixels(p.Width, p.Height)
		if err != nil {
			t.Fatal(err)
		}
		over, _, err := doc.Library(svg.Options{Place: func(v geom.Vec) geom.Vec { return fit.Map.Apply(px(v)) }, Layers: lib.Layers})
		if err != nil {
			t.Fatal(err)
		}
		middle := geom.Vec{X: float64(p.Width) / 2, Y: float64(p.Height) / 2}
		for _, s := range over.Cells[0].Shapes {
			origins = append(origins, measure.Origin{SigmaNm: p.SigmaPx * register.Size(fit.Map, middle), Shot: i})
			lib.Cells[0].Shapes = append(lib.Cells[0].Shapes, s)
		}
		lib.Cells[0].Labels = append(lib.Cells[0].Labels, over.Cells[0].Labels...)
		scales = append(scales, fit.SigmaScale)
	}
	heal(t, lib, st)
	from = map[*layout.Shape]measure.Origin{}
	for i, o := range origins {
		from[&lib.Cells[0].Shapes[i]] = o
	}
	return lib, from, scales
}

// heal closes gaps of up to 120 nm, 7.3 px of the stripped photograph: where two pieces of poly abut, they miss each other
// with a standard deviation of √2 px, five of which that is.
func heal(t *testing.T, lib *layout.Library, st *stack.Stack) {
	t.Helper()
	bridges, err := check.Heal(t.Context(), lib, lib.Cells[0], st, check.HealOptions{ToleranceNm: 120})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range bridges {
		if b.Why != "" {
			t.Fatalf("a gap of %d nm at %v stays open: %s", b.Gap, b.At, b.Why)
		}
		lib.Cells[0].Shapes = append(lib.Cells[0].Shapes, layout.Shape{Layer: b.Layer, Polygon: b.Polygon})
	}
}

// TestPixelHands: many hands trace the pixel. All find its circuit, and W and L lie within twice their stated standard
// uncertainty of the truth as often as they should.
//
// An error that is normal, of known standard deviation, is within two of them with p = 95.45 %. Of n = 6·hands lengths k are
// within, which would be binomial if all erred independently: n·p ± 4·√(n·p·(1−p)). The errors over their uncertainties,
// likewise, would have the mean square 1 ± 4·√(2/n), and a mean of 0 ± 4/√n. Two lengths in six do not: follower and select
// are as wide as one diffusion whose left edge they share, so that their W correlate by ½ (the scale's part is small). With
// that the standard deviations of the mean, the mean square and k are larger by the factors √(1+½/3), √(1+¼/3) and about as
// much; so the bounds lie at 3.7 of them or more, which one run of other seeds in 2,000 or so would miss. The seeds are fixed:
// a failure is a change of the program.
func TestPixelHands(t *testing.T) {
	t.Parallel()
	st, err := stack.Parse("pixel.stack.toml", pixel.Stack)
	if err != nil {
		t.Fatal(err)
	}
	hands := 40
	if os.Getenv("UNDERMETAL_FULL") != "" {
		hands = 2000
	}
	n, within := 0, 0
	var sum, square float64
	for seed := range uint64(hands) {
		lib, from, scales := tracedBy(t, 1000+seed, st)
		res, err := extract.Run(t.Context(), lib, lib.Cells[0], st, extract.Options{Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		sizes := measure.Sizes(res, st, measure.Sources{Origin: func(s *layout.Shape) measure.Origin { return from[s] }, Scales: scales}, nil)
		for i, tr := range pixelTransistors(t, res.Circuit) {
			d := &res.Circuit.Devices[tr]
			for _, v := range []struct{ got, want, sigma float64 }{
				{d.W, pixel.Transistors[i].W, sizes[tr].W.Combined()}, {d.L, pixel.Transistors[i].L, sizes[tr].L.Combined()},
			} {
				e := (v.got - v.want) / v.sigma
				n++
				sum += e
				square += e * e
				if math.Abs(e) <= 2 {
					within++
				}
			}
		}
	}
	f := float64(n)
	t.Logf("%d of %d within 2 σ, %.2f %%; mean %.3f σ, mean square %.3f σ²", within, n, 100*float64(within)/f, sum/f, square/f)
	const p = 0.9545
	if off := math.Abs(float64(within) - f*p); off > 4*math.Sqrt(f*p*(1-p)) {
		t.Errorf("%d of %d lengths within 2 σ, %.1f expected", within, n, f*p)
	}
	if math.Abs(square/f-1) > 4*math.Sqrt(2/f) {
		t.Errorf("errors have the mean square %.3f σ²: the stated uncertainty is not theirs", square/f)
	}
	if math.Abs(sum/f) > 4/math.Sqrt(f) {
		t.Errorf("errors have the mean %.3f σ: lengths are biased", sum/f)
	}
}

// pixelTransistors returns the numbers of the devices that are pixel.Transistors, told by their gates, and fails where
// there is anything but these and the photodiode. The follower's gate is the photodiode's net.
func pixelTransistors(t *testing.T, c *netlist.Circuit) [3]int {
	t.Helper()
	if len(c.Devices) != 4 {
		t.Fatalf("%d devices, want three transistors and a photodiode", len(c.Devices))
	}
	found := [3]int{-1, -1, -1}
	for i := range c.Devices {
		d := &c.Devices[i]
		if !d.Kind.IsMOS() {
			continue
		}
		gate := c.Nets[d.Terminals[netlist.Gate]].Name
		for k, tr := range pixel.Transistors {
			if tr.Gate == gate || tr.Gate == "PD" && gate == "" {
				found[k] = i
			}
		}
	}
	for k, i := range found {
		if i < 0 {
			t.Fatalf("there is no transistor with the gate %s", pixel.Transistors[k].Gate)
		}
	}
	return found
}
