package ambiguous

import (
	"context"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/netlist/extract"
)

func TestDegrade(t *testing.T) {
	for i, c := range some(80) {
		for _, level := range []float64{0.2, 0.6, 1} {
			before := Case(c)
			before.Top = clone(c).Top
			d := Degrade(c, uint64(i), level)
			if !reflect.DeepEqual(c, before) {
				t.Fatalf("%s: the case itself was changed", c.Name)
			}
			if !reflect.DeepEqual(d, Degrade(c, uint64(i), level)) {
				t.Errorf("%s: a seed makes two tracings", c.Name)
			}
			if !reflect.DeepEqual(d.Structures(), c.Structures()) || !reflect.DeepEqual(d.Nets, c.Nets) || d.About != c.About {
				t.Errorf("%s: the truth was changed", c.Name)
			}
			valid(t, &d)
			if _, err := extract.Run(context.Background(), d.Library, d.Top, d.Stack, extract.Options{Workers: 1}); err != nil {
				t.Errorf("%s: %v", c.Name, err)
			}
		}
		if d := Degrade(c, uint64(i), 0); !reflect.DeepEqual(d, c) {
			t.Errorf("%s: level 0 changes it", c.Name)
		}
	}
}

// TestFaults looks at how often faults are made: in proportion to the level where every case can have one, at most as
// often where not.
func TestFaults(t *testing.T) {
	const n = 800
	for _, level := range []float64{1, 0.4} {
		got := map[Fault]float64{}
		for seed := range uint64(n) {
			c := Generate(seed)
			d := Degrade(c, seed, level)
			for _, f := range d.Faults {
				got[f]++
			}
		}
		off := func(f Fault, share float64) float64 { // in standard deviations
			return (got[f] - n*share) / math.Sqrt(n*share*(1-share))
		}
		if d := off(MetalMissing, 0.5*level); math.Abs(d) > 4.5 {
			t.Errorf("level %g: %s in %g of %d cases", level, MetalMissing, got[MetalMissing], n)
		}
		if got[EdgesOff] != n {
			t.Errorf("level %g: edges are off in %g of %d cases", level, got[EdgesOff], n)
		}
		for f, share := range map[Fault]float64{MetalFalse: 0.4, DiffusionContinuous: 0.4, DiffusionOmitted: 0.4, AreaEnds: 0.3} {
			if off(f, share*level) > 4.5 {
				t.Errorf("level %g: %s in %g of %d cases", level, f, got[f], n)
			}
		}
		for _, f := range Faults {
			if got[f] < n/100*level {
				t.Errorf("level %g: %s in %g of %d cases only", level, f, got[f], n)
			}
			delete(got, f)
		}
		if len(got) > 0 {
			t.Errorf("faults that Faults does not list: %v", got)
		}
	}
}

// TestEdges wants corners to be off by 1 to 2 px in any direction; where an outline would not be valid, by a half or a
// quarter of that.
func TestEdges(t *testing.T) {
	const px = 100
	var wide, all, halved float64
	for seed := range uint64(40) {
		c := Generate(seed)
		d := clone(c)
		h := &hand{Rand: rand.New(rand.NewPCG(seed, 1)), c: &d, level: 1, px: px}
		h.edges()
		for i := range c.Top.Shapes {
			a, b := c.Top.Shapes[i].Polygon[0], d.Top.Shapes[i].Polygon[0]
			all++
			if len(a) != len(b) {
				wide++ // it got corners in the middle of edges
				continue
			}
			for k := range a {
				off := math.Hypot(float64(a[k].X-b[k].X), float64(a[k].Y-b[k].Y))
				if off < px/4-1 || off > 2*px+1 { // rounding to the grid takes 0.7 nm
					t.Errorf("%s: a corner is off by %g nm", c.Name, off)
				}
				if off < px-1 {
					halved++
				}
			}
		}
	}
	if wide == 0 || halved > 0.05*4*all {
		t.Errorf("of %g outlines %g have more corners, %g corners are off by less than a px", all, wide, halved)
	}
}

func TestWithoutContacts(t *testing.T) {
	for _, c := range some(40) {
		before := len(c.Top.Shapes)
		count := func(c *Case, layer string) (n int) {
			l, _ := c.Library.LayerNamed(layer)
			for _, s := range c.Top.Shapes {
				if s.Layer == l {
					n++
				}
			}
			return n
		}
		d := WithoutContacts(c)
		if count(&c, contact) == 0 || count(&d, contact) != 0 || len(d.Top.Shapes) != before-count(&c, contact) || len(c.Top.Shapes) != before {
			t.Errorf("%s: of %d shapes and %d contacts %d and %d are left", c.Name, before, count(&c, contact), len(d.Top.Shapes), count(&d, contact))
		}
		if _, ok := c.Stack.LayerNamed(via1); ok && count(&c, via1) != count(&d, via1) {
			t.Errorf("%s: vias are gone", c.Name)
		}
		valid(t, &d)
	}
}

// TestEnd wants nothing to lie beyond the traced area, and the place to lie in it.
func TestEnd(t *testing.T) {
	looked := 0
	for seed := range uint64(200) {
		d := Degrade(Generate(seed), seed, 1)
		if !slices.Contains(d.Faults, AreaEnds) {
			continue
		}
		looked++
		area := d.Library.Traced[0].Polygon.Bounds()
		layers := map[layout.Layer]bool{}
		for _, s := range d.Library.Traced {
			layers[s.Layer] = true
		}
		if len(layers) != len(d.Stack.Layers) || !area.Contains(d.Place.At) || area.Contains(d.Box.Min) && area.Contains(d.Box.Max) {
			t.Errorf("%s: traced area %v on %d layers, structure %v", d.Name, area, len(layers), d.Box)
		}
		for _, s := range d.Top.Shapes {
			if b := s.Polygon.Bounds(); !area.Contains(b.Min) || !area.Contains(b.Max) {
				t.Errorf("%s: a shape at %v lies beyond %v", d.Name, b, area)
			}
		}
	}
	if looked < 20 {
		t.Errorf("the area ends in %d of 200 cases only", looked)
	}
}
