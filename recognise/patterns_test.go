package recognise

import (
	"math/rand"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// Each pattern is found in itself, shuffled, with fingers, mirrored where it has both flavours, and amid other transistors.
func TestEveryPatternIsFound(t *testing.T) {
	for _, p := range library.Embedded() {
		t.Run(p.Name, func(t *testing.T) {
			rnd := rand.New(rand.NewSource(1))
			c := instance(p)
			check := func(how string, c *netlist.Circuit) {
				t.Helper()
				r := find(t, c, Options{})
				if len(laidOn(r, c, p, own(p))) == 0 {
					t.Errorf("%s: not found", how)
					for _, f := range append(r.Fits, r.Others...) {
						t.Logf("  %s with %d members", f.Pattern.Name, len(f.Members))
					}
				}
			}
			check("itself", c)
			check("shuffled", shuffled(c, rnd))
			check("in fingers", split(c, rnd))
			if p.Name != "pixel_photogate_channel" { // twice, its far end joins both to one path
				check("in stacks", splitStacks(c))
				check("shuffled in stacks", shuffled(splitStacks(c), rnd))
			}
			check("shuffled in fingers", shuffled(split(c, rnd), rnd))
			if p.Mirror {
				check("mirrored", shuffled(mirrored(c), rnd))
			}
			for range 3 {
				check("amid others", shuffled(within(p, c, 40, rnd), rnd))
			}
			if p.Mirror {
				check("mirrored amid others", shuffled(within(p, mirrored(c), 40, rnd), rnd))
			}
		})
	}
}

// By itself each pattern is what it is called, and nothing else.
func TestEveryPatternCoversItself(t *testing.T) {
	for _, p := range library.Embedded() {
		c := instance(p)
		r := find(t, c, Options{})
		got := ""
		for _, f := range r.Fits {
			got += " " + f.Pattern.Name
		}
		if len(p.Context) == 0 && got != " "+p.Name {
			t.Errorf("%s is covered by%s", p.Name, got)
		}
	}
}
