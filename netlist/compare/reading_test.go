package compare

import (
	"testing"

	"undermetal/netlist"
)

// ratios gives devices effective W/L, by name.
func ratios(c *netlist.Circuit, of map[string]float64) *netlist.Circuit {
	for i := range c.Devices {
		if r := of[c.Devices[i].Name]; r > 0 {
			c.Devices[i].Ratio = r
			if c.Devices[i].Kind == netlist.Resistor {
				c.Devices[i].W, c.Devices[i].L = 1000, 12000 // 12 squares by the rule
			}
		}
	}
	return c
}

// TestReadings: a device that was solved for agrees with a netlist that has either size, and with no other. M1 is 4 by its edges and
// 3.558626 in effect (bent gate, REFERENCES: FEM), L 1 µm.
func TestReadings(t *testing.T) {
	drawn := "m1 n a g b s 4000 1000\nm2 n b g c s 4000 1000\nr1 r c d 250\n"
	solved := map[string]float64{"m1": 3.558626, "r1": 1 / 10.}
	for _, x := range []struct {
		name, other string
		same        bool
	}{
		{"simple", "m1 n a g b s 4000 1000\nm2 n b g c s 4000 1000\nr1 r c d 300\n", true}, // 12 squares against 10
		{"effective", "m1 n a g b s 3558.626 1000\nm2 n b g c s 4000 1000\nr1 r c d 250\n", true},
		{"one each", "m1 n a g b s 3558.626 1000\nm2 n b g c s 4000 1000\nr1 r c d 300\n", true},
		{"neither", "m1 n a g b s 3700 1000\nm2 n b g c s 4000 1000\nr1 r c d 250\n", false},
		{"a straight one has one size", "m1 n a g b s 4000 1000\nm2 n b g c s 3558.626 1000\nr1 r c d 250\n", false},
		{"neither value", "m1 n a g b s 4000 1000\nm2 n b g c s 4000 1000\nr1 r c d 275\n", false},
		{"another length", "m1 n a g b s 3558.626 1010\nm2 n b g c s 4000 1000\nr1 r c d 250\n", false},
	} {
		a, b := ratios(circuit(t, drawn), solved), circuit(t, x.other)
		for _, pair := range [][2]*netlist.Circuit{{a, b}, {b, a}} {
			res, err := Compare(t.Context(), pair[0], pair[1], DefaultOptions())
			if err != nil {
				t.Fatal(err)
			}
			if res.Same != x.same {
				t.Errorf("%s: same %v, want %v: %+v", x.name, res.Same, x.same, res.Differences)
			}
		}
	}
}

// TestReadingsParallel: transistors in parallel are taken in one reading, and those that differ in nothing but their size find the
// right partner, whichever size the netlist has.
func TestReadingsParallel(t *testing.T) {
	drawn := "m1 n a g b s 4000 1000\nm2 n a g b s 4000 1000\nm3 n c g d s 4000 1000\nm4 n c h e s 12000 1000\n"
	solved := map[string]float64{"m1": 3.5, "m3": 10}
	for _, x := range []struct {
		name, other string
		same        bool
	}{
		{"simple", "m1 n a g b s 8000 1000\nm3 n c g d s 4000 1000\nm4 n c h e s 12000 1000\n", true},
		{"effective", "m1 n a g b s 7500 1000\nm3 n c g d s 10000 1000\nm4 n c h e s 12000 1000\n", true},
		{"effective, one by one", "m1 n a g b s 4000 1000\nm2 n a g b s 3500 1000\nm3 n c g d s 10000 1000\nm4 n c h e s 12000 1000\n", true},
		{"neither", "m1 n a g b s 7000 1000\nm3 n c g d s 4000 1000\nm4 n c h e s 12000 1000\n", false},
	} {
		res, err := Compare(t.Context(), ratios(circuit(t, drawn), solved), circuit(t, x.other), DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		if res.Same != x.same {
			t.Errorf("%s: same %v, want %v: %+v", x.name, res.Same, x.same, res.Differences)
		}
	}
}
