package schematic_test

import (
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// placed returns the symbols of a drawing of one sheet by the names of their devices.
func placed(c *netlist.Circuit, d *schematic.Drawing) map[string]schematic.Symbol {
	out := map[string]schematic.Symbol{}
	for _, y := range d.Sheets[0].Symbols {
		if y.Device >= 0 {
			out[c.Devices[y.Device].Name] = y
		}
	}
	return out
}

// TestTails: what a pair hangs on is in the middle between the two, whose gates are turned outward, or inward where they cross.
func TestTails(t *testing.T) {
	t.Parallel()
	all := samples(t)
	sense := build(t, "sense", []string{"VDD", "EN", "O1", "O2", "VSS"}, []string{"M1", "n", "O1", "O2", "t", "VSS"}, []string{"M2", "n", "O2", "O1", "t", "VSS"},
		[]string{"M3", "p", "O1", "O2", "VDD", "VDD"}, []string{"M4", "p", "O2", "O1", "VDD", "VDD"}, []string{"M5", "n", "t", "EN", "VSS", "VSS"})
	cascode := build(t, "cascoded tail", []string{"VDD", "A", "B", "Y", "BIAS", "CASC", "VSS"}, []string{"M1", "n", "x", "A", "t", "VSS"}, []string{"M2", "n", "Y", "B", "t", "VSS"},
		[]string{"M3", "p", "x", "x", "VDD", "VDD"}, []string{"M4", "p", "Y", "x", "VDD", "VDD"}, []string{"M5", "n", "t", "CASC", "u", "VSS"}, []string{"M6", "n", "u", "BIAS", "VSS", "VSS"})
	for _, tc := range []struct {
		c     *netlist.Circuit
		tails []string
		left  schematic.Turn
	}{
		{c: all[5], tails: []string{"M5"}, left: schematic.GateLeft},
		{c: mirrored(all[5]), tails: []string{"M5"}, left: schematic.GateLeft},
		{c: all[11], tails: []string{"M3"}, left: schematic.GateLeft},
		{c: sense, tails: []string{"M5"}, left: schematic.GateRight},
		{c: cascode, tails: []string{"M5", "M6"}, left: schematic.GateLeft},
	} {
		at := placed(tc.c, check(t, tc.c, schematic.Options{Title: tc.c.Name}))
		u, v := at["M1"], at["M2"]
		if u.At.X > v.At.X {
			u, v = v, u
		}
		if u.At.Y != v.At.Y || u.Turn != tc.left || v.Turn != tc.left^1 {
			t.Errorf("%s: the pair is at %v and %v, turned %d and %d", tc.c.Name, u.At, v.At, u.Turn, v.Turn)
		}
		for _, name := range tc.tails {
			if k := at[name]; 2*k.At.X != u.At.X+v.At.X {
				t.Errorf("%s: %s is at %v, the pair at %v and %v", tc.c.Name, name, k.At, u.At, v.At)
			}
		}
	}
}

// TestPixelOfFour: reset and follower are above the transfer gate, which lies level, the photodiode is below it, the select transistor
// below the follower.
func TestPixelOfFour(t *testing.T) {
	t.Parallel()
	for _, reset := range []string{"VDD", "VRST"} {
		c := build(t, "pixel4t "+reset, []string{"VDD", "VRST", "RST", "TX", "ROW", "COL", "VSS"}, []string{"MR", "n", reset, "RST", "fd", "VSS"}, []string{"MT", "n", "fd", "TX", "pd", "VSS"},
			[]string{"MF", "n", "VDD", "fd", "x", "VSS"}, []string{"MS", "n", "x", "ROW", "COL", "VSS"}, []string{"D", "d", "VSS", "pd"})
		at := placed(c, check(t, c, schematic.Options{Title: c.Name}))
		if at["MR"].At.Y != at["MF"].At.Y || at["MT"].At.Y <= at["MR"].At.Y || at["D"].At.Y <= at["MT"].At.Y || at["MT"].Turn != schematic.GateUp ||
			at["MS"].At.X != at["MF"].At.X || at["MS"].At.Y <= at["MF"].At.Y || at["MR"].At.X > at["MF"].At.X {
			t.Errorf("%s: reset %v, follower %v, transfer %v, photodiode %v, select %v", c.Name, at["MR"].At, at["MF"].At, at["MT"].At, at["D"].At, at["MS"].At)
		}
	}
}

// TestSidesOfPorts: a signal that a capacitor brings to a gate comes in on the left, as do nets called so; what goes out is on the right.
func TestSidesOfPorts(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"IN", "coupled"} {
		c := build(t, "column amplifier "+name, []string{"VDD", name, "OUT", "RST", "BIAS", "VSS"}, []string{"M1", "n", "OUT", "g", "VSS", "VSS"},
			[]string{"M2", "p", "OUT", "BIAS", "VDD", "VDD"}, []string{"M3", "n", "OUT", "RST", "g", "VSS"}, []string{"C1", "c", name, "g"}, []string{"C2", "c", "OUT", "g"})
		d := check(t, c, schematic.Options{Title: c.Name})
		x := map[string]int{}
		for _, f := range d.Sheets[0].Flags {
			x[f.Text] = f.At.X
		}
		if at := placed(c, d); x[name] >= at["M1"].At.X || x[name] >= at["C1"].At.X || x["OUT"] < at["C1"].At.X {
			t.Errorf("%s: in at %d, out at %d, C1 at %d, M1 at %d", c.Name, x[name], x["OUT"], at["C1"].At.X, at["M1"].At.X)
		}
	}
}

// TestTransmissionGates: n and p between the same two nets lie level, also where one net hangs lower than the other.
func TestTransmissionGates(t *testing.T) {
	t.Parallel()
	c := build(t, "loaded gate", []string{"VDD", "A", "EN", "ENB", "VSS"}, []string{"M1", "p", "x", "A", "VDD", "VDD"}, []string{"M2", "n", "x", "A", "VSS", "VSS"},
		[]string{"M3", "p", "x", "ENB", "y", "VDD"}, []string{"M4", "n", "y", "EN", "x", "VSS"}, []string{"R1", "r", "y", "z"}, []string{"R2", "r", "z", "VSS"})
	at := placed(c, check(t, c, schematic.Options{Title: c.Name}))
	if at["M3"].Turn != schematic.GateUp || at["M4"].Turn != schematic.GateDown || at["M4"].At.Y <= at["M3"].At.Y {
		t.Errorf("p %d at %v, n %d at %v", at["M3"].Turn, at["M3"].At, at["M4"].Turn, at["M4"].At)
	}
	if p, n := at["M3"], at["M4"]; p.At.X != n.At.X {
		t.Errorf("p at %v, n at %v", p.At, n.At)
	}
}
