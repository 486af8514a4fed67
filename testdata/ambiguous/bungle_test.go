package ambiguous

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"undermetal/layout"
	"undermetal/netlist/extract"
)

// TestEachFault makes one fault at a time and looks for what it must do: to nets by extraction, to diffusion by squares.
func TestEachFault(t *testing.T) {
	made := map[Fault]int{}
	broken := 0
	for i, c := range some(80) {
		trace := func(fault Fault, do func(h *hand) bool, check func(d *Case) bool) {
			d := clone(c)
			h := &hand{Rand: rand.New(rand.NewPCG(uint64(i), 7)), c: &d, level: 1, px: 50}
			if !do(h) {
				return
			}
			made[fault]++
			if !check(&d) {
				t.Errorf("%s: %s shows nowhere", c.Name, fault)
			}
		}
		trace(MetalFalse, (*hand).bridge, func(d *Case) bool { // just two nets are one
			return nets(t, &c)-nets(t, d) == 1
		})
		trace(MetalMissing, (*hand).gap, func(d *Case) bool {
			if nets(t, d) > nets(t, &c) {
				broken++
			}
			return metalArea(d) < metalArea(&c)
		})
		trace(DiffusionOmitted, (*hand).omit, func(d *Case) bool { // none of the gates in question crosses any
			return crossed(d) < crossed(&c) && covers(&c, c.Place) && !covers(d, c.Place)
		})
		trace(DiffusionContinuous, (*hand).continuous, func(d *Case) bool { return crossed(d) > crossed(&c) || c.Kind == OwnBank })
		trace(OpeningsClosed, (*hand).closeOpenings, func(d *Case) bool { return crossed(d) > crossed(&c) })
	}
	if broken < made[MetalMissing]/4 {
		t.Errorf("of %d pieces of metal that are missing %d break a net", made[MetalMissing], broken)
	}
	for _, f := range []Fault{MetalFalse, MetalMissing, DiffusionOmitted, DiffusionContinuous, OpeningsClosed} {
		if made[f] < 10 {
			t.Errorf("%s: %d times only", f, made[f])
		}
	}
}

// nets counts the nets on which the drawer's places lie.
func nets(t *testing.T, c *Case) int {
	t.Helper()
	var ask []layout.Place
	for _, n := range c.Nets {
		ask = append(ask, n.Places...)
	}
	r, err := extract.Run(context.Background(), c.Library, c.Top, c.Stack, extract.Options{Workers: 1, Ask: ask})
	if err != nil {
		t.Fatal(err)
	}
	found := map[int]bool{}
	for _, a := range r.Asked {
		if a.Net > 0 {
			found[a.Net] = true
		}
	}
	return len(found)
}

// metalArea sums the areas of the shapes of metal, each by itself.
func metalArea(c *Case) (sum float64) {
	for _, s := range c.Top.Shapes {
		if name := c.Stack.Layers[s.Layer].Name; name == metal1 || name == metal2 {
			one := 0.0
			for _, r := range s.Polygon {
				one += r.Area() // holes turn the other way
			}
			sum += math.Abs(one)
		}
	}
	return sum
}

// covers reports whether diffusion lies at a place, in the middle of the square right of and above it.
func covers(c *Case, p layout.Place) bool {
	at := p.At
	at.X, at.Y = at.X+c.FeatureNm/8, at.Y+c.FeatureNm/8
	for _, l := range []string{diff, "ndiffusion", pdiff} {
		if k, ok := c.Library.LayerNamed(l); ok {
			for _, s := range c.Top.Shapes {
				if s.Layer == k && s.Polygon.Locate(at) >= 0 {
					return true
				}
			}
		}
	}
	return false
}
