package ambiguous

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// TestHandFigures holds what the hand cases state against figures that were worked out on paper: sides are in µm, the process has
// features of 1 µm.
func TestHandFigures(t *testing.T) {
	want := []struct {
		name         string
		reading      Reading
		channels     int
		w, l, areaUm float64
		how          string
	}{
		{"interdigitated power switch", Transistor, 7, 140, 1, 140, "7 fingers of 20 × 1"},
		{"output driver at a pad", Transistor, 6, 96, 1, 96, "6 fingers of 16 × 1"},
		{"waffle switch", Transistor, 1, 152, 1, 167, "4·5 + 6·3 = 38 borders of 4; 29 × 19 without 24 openings of 16"},
		{"waffle switch of two rows", Transistor, 1, 88, 1.5, 147.75, "2·7 + 8 = 22 borders of 4; 42.5 × 9.5 without 16 openings of 16"},
		{"mesh on one net", Capacitor, 1, 0, 0, 208, "28 × 16 without 15 openings of 16"},
		{"clamp at a pad", Transistor, 4, 80, 1, 80, "4 fingers of 20 × 1"},
		{"ring gates", Transistor, 3, 60, 1, 69, "middle lines 4 × 5; 36 - 16 and an arm of 3 × 1, each"},
		{"one long gate", Transistor, 1, 15, 8, 120, "15 × 8"},
		{"bank of squares, own diffusions, staggered", Capacitor, 10, 0, 0, 360, "10 squares of 6 × 6"},
		{"bank of squares, own diffusions, on a grid", Capacitor, 20, 0, 0, 720, "20"},
		{"bank of squares, one diffusion, staggered", Capacitor, 24, 0, 0, 864, "24"},
		{"bank of squares, one diffusion, on a grid", Capacitor, 16, 0, 0, 576, "16"},
		{"source on drain", Capacitor, 2, 0, 0, 300, "2 plates of 10 × 15"},
		{"source on drain, in a well", Capacitor, 3, 0, 0, 270, "3 of 6 × 15"},
		{"one-sided", Capacitor, 2, 0, 0, 240, "2 of 10 × 12"},
		{"no diffusion, over a well", Capacitor, 0, 0, 0, 300, "20 × 15"},
		{"no diffusion, under metal", Capacitor, 0, 0, 0, 252, "18 × 14 of metal"},
		{"covered diffusion", Capacitor, 1, 0, 0, 225, "15 × 15"},
		{"row with dummies", Dummy, 2, 20, 2, 40, "2 of 10 × 2"},
		{"row with dummies, gates that run on", Dummy, 2, 20, 2, 40, "the same"},
		{"two polys with a rule", Capacitor, 0, 0, 0, 169, "13 × 13"},
		{"two polys without a rule", Capacitor, 0, 0, 0, 169, "13 × 13"},
		{"serpentine with a rule", Resistor, 0, 0, 0, 0, ""},
		{"serpentine without a rule", Resistor, 0, 0, 0, 0, ""},
	}
	cases := Hand()
	if len(cases) != len(want) {
		t.Fatalf("%d cases, want %d", len(cases), len(want))
	}
	for i, w := range want {
		c := &cases[i]
		if c.Name != w.name || c.Reading != w.reading || len(c.Channels) != w.channels || c.W != 1000*w.w || c.L != 1000*w.l || c.Area != 1e6*w.areaUm {
			t.Errorf("%s: %s, %d channels, W %g L %g nm, %g µm²; want %+v", c.Name, c.Reading, len(c.Channels), c.W, c.L, c.Area/1e6, w)
		}
		if c.Reading == Resistor { // 25 high, 1 wide: 5 legs of 23, 2 of 24, 6 links of 2; two corners a link
			if o := c.Ohmic; o == nil || o.Straight != 175 || o.Corners != 12 || o.WidthNm != 1000 || o.Rule == strings.Contains(c.Name, "without") {
				t.Errorf("%s: %+v", c.Name, o)
			}
		}
		if len(c.Stack.Capacitors) > 0 != (c.Name == "two polys with a rule") {
			t.Errorf("%s has %d rules for capacitors", c.Name, len(c.Stack.Capacitors))
		}
	}
}

// some returns the hand cases and a number of generated ones.
func some(n uint64) []Case {
	cases := Hand()
	for seed := range n {
		cases = append(cases, Generate(seed))
	}
	return cases
}

func TestValid(t *testing.T) {
	for _, c := range some(500) {
		valid(t, &c)
		if _, err := stack.Parse(c.Name, c.Stack.TOML()); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
	}
}

// valid checks outlines, and that the place that is asked about is on its layer.
func valid(t *testing.T, c *Case) {
	t.Helper()
	on := false
	for i := range c.Top.Shapes {
		s := &c.Top.Shapes[i]
		if f, bad := s.Polygon.Fault(); bad {
			t.Errorf("%s: %s: %v", c.Name, c.Stack.Layers[s.Layer].Name, f)
		}
		on = on || s.Layer == c.Place.Layer && s.Polygon.Locate(c.Place.At) == geom.Inside
	}
	if !on || c.Stack.Layers[c.Place.Layer].Role != stack.Gate {
		t.Errorf("%s: the place %s lies on no gate", c.Name, where(c, c.Place))
	}
	if c.Reason == "" || c.Box.Empty() || !c.Box.Contains(c.Place.At) {
		t.Errorf("%s: reason %q, place outside of %v", c.Name, c.Reason, c.Box)
	}
}

func TestGenerateTwice(t *testing.T) {
	for seed := range uint64(100) {
		if a, b := Generate(seed), Generate(seed); !reflect.DeepEqual(a, b) {
			t.Errorf("seed %d makes two cases", seed)
		}
		if a, b := Generate(seed), Generate(seed+1); reflect.DeepEqual(a.Top.Shapes, b.Top.Shapes) {
			t.Errorf("seeds %d and %d make one case", seed, seed+1)
		}
	}
}

// TestShares looks at what 6,000 seeds make. Each share may be off by 4.5 standard deviations of a binomial distribution.
func TestShares(t *testing.T) {
	const n = 6000
	got := map[string]int{}
	smallest, largest := math.MaxInt, 0
	for seed := range uint64(n) {
		c := Generate(seed)
		got[string(c.Kind)]++
		got[string(c.Reading)]++
		got[string(c.Reading)+" "+string(c.About)]++
		got[orientation(&c)]++
		switch _, well := c.Stack.LayerNamed(nwell); {
		case !well:
			got["no well"]++
		case len(c.Stack.Taps) > 0:
			got["both diffusions"]++
		default:
			got["one diffusion"]++
		}
		if _, two := c.Stack.LayerNamed(metal2); two {
			got["two metals"]++
		}
		smallest, largest = min(smallest, c.FeatureNm), max(largest, c.FeatureNm)
	}
	within := func(what string, of int, share float64) {
		t.Helper()
		if k, p := float64(got[what]), share*float64(of); math.Abs(k-p) > 4.5*math.Sqrt(p*(1-share)) {
			t.Errorf("%s: %g of %d, want %g", what, k, of, p)
		}
		delete(got, what)
	}
	transistors, capacitors := got[string(Transistor)], got[string(Capacitor)]
	within("transistor", n, 0.5)
	within("capacitor", n, 0.5)
	percent := 0
	for _, s := range Shares {
		within(string(s.Kind), n, float64(s.Percent)/100)
		percent += s.Percent
	}
	within("capacitor supply to supply", capacitors, 0.5)
	within("capacitor signal to supply", capacitors, 0.3)
	within("capacitor signal to signal", capacitors, 0.05)
	within("capacitor pad to supply", capacitors, 0.15)
	within("transistor supply to supply", transistors, 0.4)
	within("transistor signal to supply", transistors, 0.35)
	within("transistor pad to supply", transistors, 0.25)
	for _, o := range []string{"east", "north", "west", "south"} {
		within(o, n, 1./8)
		within(o+" mirrored", n, 1./8)
	}
	within("both diffusions", n, 0.5)
	within("one diffusion", n, 0.3)
	within("no well", n, 0.2)
	within("two metals", n, 0.5)
	if len(got) > 0 || percent != 100 {
		t.Errorf("beside the shares: %v; they add up to %d", got, percent)
	}
	if smallest < 500 || smallest > 530 || largest > 3000 || largest < 2970 {
		t.Errorf("features from %d to %d nm", smallest, largest)
	}
}

// orientation tells by the labels of the rails, which lie at their left ends, how a case is turned.
func orientation(c *Case) string {
	var low, high geom.Point
	for _, l := range c.Top.Labels {
		switch l.Text {
		case ground:
			low = l.At
		case supply:
			high = l.At
		}
	}
	up, right := high.Sub(low), c.Place.At.Sub(low)
	name := "east" // where right leads, by the turn of up
	switch {
	case up.Y < 0 && up.X == 0:
		name = "west"
	case up.X < 0 && up.Y == 0:
		name = "north"
	case up.X > 0 && up.Y == 0:
		name = "south"
	}
	if right.X*up.Y-right.Y*up.X < 0 {
		name += " mirrored"
	}
	return name
}

// TestArithmetic holds what structures state against each other, and against squares of half a feature that lie under
// both gate and diffusion, counted one by one.
func TestArithmetic(t *testing.T) {
	for _, c := range some(150) {
		total := 0.0
		for _, st := range c.Structures() {
			area, w := 0.0, 0.0
			for i := range st.Channels {
				ch := &st.Channels[i]
				area += ch.Area
				w += ch.W()
				if one := ch.A == ch.B; one != (st.Reading == Capacitor || st.Reading == Dummy) {
					t.Errorf("%s: a channel of a %s lies between %q and %q", c.Name, st.Reading, ch.A, ch.B)
				}
			}
			total += area
			if len(st.Channels) > 0 && area != st.Area {
				t.Errorf("%s: %s: channels cover %g nm², all of it %g", c.Name, st.Kind, area, st.Area)
			}
			u := float64(c.FeatureNm) / 2
			switch st.Kind {
			case Interdigitated, SingleWide, Logic, Inverter, EdgeDummy:
				if w != st.W || area != st.W*st.L {
					t.Errorf("%s: %s: W %g L %g, but channels of W %g, %g nm²", c.Name, st.Kind, st.W, st.L, w, area)
				}
			case EnclosedGate: // but for the arms, of 2 × ringArm each
				if arms := float64(2*ringArm*len(st.Channels)) * u * u; area-arms != st.W*st.L {
					t.Errorf("%s: W %g L %g, %g nm² with arms of %g", c.Name, st.W, st.L, area, arms)
				}
			case Waffle: // but for the squares where bars cross
				if w != st.W || math.Mod(area-st.W*st.L, st.L*st.L) != 0 || area < st.W*st.L {
					t.Errorf("%s: W %g L %g, channel of W %g, %g nm²", c.Name, st.W, st.L, w, area)
				}
			default:
				if st.W != 0 || st.L != 0 {
					t.Errorf("%s: a %s has W %g L %g", c.Name, st.Kind, st.W, st.L)
				}
			}
		}
		if got := crossed(&c); got != total {
			t.Errorf("%s: gates cross %g nm² of diffusion, channels state %g", c.Name, got, total)
		}
	}
}

// crossed counts squares.
func crossed(c *Case) float64 {
	unit := c.FeatureNm / 2
	covered := func(role stack.Role) map[geom.Point]bool {
		in := map[geom.Point]bool{}
		for _, s := range c.Top.Shapes {
			if c.Stack.Layers[s.Layer].Role == role {
				squares(s, unit, in)
			}
		}
		return in
	}
	gates, n := covered(stack.Gate), 0
	for p := range covered(stack.Diffusion) {
		if gates[p] {
			n++
		}
	}
	return float64(n) * float64(unit) * float64(unit)
}

// squares adds the squares whose middles a shape covers, by their lower left corners in units.
func squares(s layout.Shape, unit int, in map[geom.Point]bool) {
	b := s.Polygon.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += unit {
		for x := b.Min.X; x < b.Max.X; x += unit {
			if s.Polygon.Locate(geom.Point{X: x + unit/2, Y: y + unit/2}) == geom.Inside {
				in[geom.Point{X: x / unit, Y: y / unit}] = true
			}
		}
	}
}

// TestBeside wants all that may lie beside a structure, by its share among neighbours; inverters that drive a gate are not
// among these.
func TestBeside(t *testing.T) {
	got, all := map[Kind]float64{}, 0.0
	for seed := range uint64(2000) {
		c := Generate(seed)
		for _, st := range c.Beside {
			got[st.Kind]++
		}
		if c.driven() {
			got[Inverter]--
		}
	}
	got[Logic] -= got[EdgeDummy] // the gates between two dummies
	for _, n := range got {
		all += n
	}
	for kind, share := range map[Kind]float64{Inverter: 0.6, Logic: 0.25, EdgeDummy: 0.15} {
		if off := math.Abs(got[kind] - share*all); off > 4.5*math.Sqrt(all*share*(1-share)) {
			t.Errorf("%s: %g of %g neighbours, want %g %%", kind, got[kind], all, 100*share)
		}
		delete(got, kind)
	}
	if len(got) > 0 {
		t.Errorf("neighbours that should not be there: %v", got)
	}
}

// driven reports whether the gate that is asked about is an inverter's output: then it has no label.
func (c *Case) driven() bool {
	for _, ch := range c.Channels {
		return slices.ContainsFunc(c.Nets, func(n Net) bool { return n.Name == ch.Gate && !n.Labelled })
	}
	return slices.ContainsFunc(c.Nets, func(n Net) bool { return !n.Labelled }) // a plate without channels
}
