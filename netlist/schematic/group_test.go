package schematic_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// noFaults draws a circuit and wants a drawing without faults.
func noFaults(t *testing.T, c *netlist.Circuit, opt schematic.Options) *schematic.Drawing {
	t.Helper()
	d, err := schematic.Draw(context.Background(), c, opt)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range d.Faults() {
		t.Errorf("%s: %s", c.Name, f)
	}
	keep(t, c.Name, d)
	return d
}

// TestGroups: the groups of a textbook's amplifier are framed, and a frame holds its own parts only.
func TestGroups(t *testing.T) {
	c := samples(t)[5]
	d := check(t, c, schematic.Options{Title: "with groups", Groups: []schematic.Group{
		{Name: "pair", Devices: []int32{0, 1}}, {Name: "mirror", Devices: []int32{2, 3}}, {Name: "second stage", Devices: []int32{5, 6, 7}}}})
	names := map[string]int{}
	for _, f := range d.Sheets[0].Frames {
		names[f.Caption.S] = len(f.Symbols)
	}
	if names["pair"] != 2 || names["mirror"] != 2 {
		t.Errorf("frames %v", names)
	}
}

// TestRandomGroups: groups of any devices do not spoil a drawing; each has a frame or a note.
func TestRandomGroups(t *testing.T) {
	t.Parallel()
	n := 3
	if os.Getenv("UNDERMETAL_FULL") != "" {
		n = 40
	}
	for seed := range uint64(n) {
		c := gates(30, seed)
		rng := rand.New(rand.NewPCG(seed, 9))
		var groups []schematic.Group
		left := rng.Perm(len(c.Devices))
		for len(left) > 4 && len(groups) < 4 {
			many := 1 + rng.IntN(4)
			g := schematic.Group{Name: fmt.Sprint("group ", len(groups))}
			for _, i := range left[:many] {
				g.Devices = append(g.Devices, int32(i))
			}
			left = left[many:]
			groups = append(groups, g)
		}
		d := check(t, c, schematic.Options{Groups: groups, PerSheet: 100})
		for _, g := range groups {
			told := slices.ContainsFunc(d.Sheets[0].Frames, func(f schematic.Frame) bool { return f.Caption.S == g.Name }) ||
				slices.ContainsFunc(d.Sheets[0].Notes, func(s string) bool { return strings.HasPrefix(s, g.Name+": ") })
			if !told {
				t.Errorf("seed %d: nothing tells of %s", seed, g.Name)
			}
		}
	}
}

// TestMissing: a piece that should be there is drawn with its question, joined to the nets that are known.
func TestMissing(t *testing.T) {
	c := pixel(t)
	c.Name = "partial"
	c.Devices = slices.Delete(c.Devices, 0, 1) // the reset transistor was not seen
	pd, vdd := c.Devices[2].Terminals[netlist.Cathode], c.Devices[0].Terminals[netlist.Drain]
	d := check(t, c, schematic.Options{Title: "partial", Groups: []schematic.Group{{Name: "pixel, 3 of 4", Devices: []int32{0, 1, 2}, Missing: []schematic.Missing{
		{Kind: netlist.NMOS, Nets: []netlist.Net{vdd, netlist.NoNet, pd, netlist.NoNet}, Name: "reset", Question: "Does a gate cross the diffusion beside the photodiode?"}}}}})
	pins, _ := d.Joined()
	s := d.Sheets[0]
	at := func(device int32, terminal string) int {
		for i, y := range s.Symbols {
			for j, q := range y.Pins {
				if y.Device == device && q.Terminal == terminal {
					return pins[0][i][j]
				}
			}
		}
		t.Fatalf("no terminal %s", terminal)
		return -1
	}
	if at(-1, "s") != at(2, "cathode") || at(-1, "d") != at(0, "d") || at(-1, "g") == at(0, "g") {
		t.Error("the missing piece is not joined to what is known")
	}
	if !strings.Contains(strings.Join(s.Notes, "\n"), "? reset: Does a gate cross") {
		t.Errorf("no question in %q", s.Notes)
	}
}

// array makes rows × columns pixels with drivers of their rows.
func array(t *testing.T, rows, columns int) (*netlist.Circuit, schematic.Array) {
	var lines [][]string
	a := schematic.Array{Name: "pixels", Rows: rows, Columns: columns}
	for r := range rows {
		for k := range columns {
			at := fmt.Sprintf("%d_%d", r, k)
			row, rst, col := fmt.Sprint("ROW", r), fmt.Sprint("RST", r), fmt.Sprint("COL", k)
			for i := range int32(4) {
				a.Devices = append(a.Devices, int32(len(lines))+i)
			}
			lines = append(lines, []string{"M1_" + at, "n", "VDD", rst, "pd" + at, "VSS"}, []string{"M2_" + at, "n", "VDD", "pd" + at, "x" + at, "VSS"},
				[]string{"M3_" + at, "n", "x" + at, row, col, "VSS"}, []string{"D1_" + at, "d", "VSS", "pd" + at})
		}
	}
	a.Unit = a.Devices[:4]
	for k := range columns {
		lines = append(lines, []string{fmt.Sprint("ML", k), "n", fmt.Sprint("COL", k), "BIAS", "VSS", "VSS"})
	}
	c := build(t, "array", []string{"VDD", "VSS", "BIAS"}, lines...)
	for i, n := range c.Nets {
		if strings.HasPrefix(n.Name, "ROW") || strings.HasPrefix(n.Name, "RST") || strings.HasPrefix(n.Name, "COL") {
			a.Nets = append(a.Nets, netlist.Net(i))
		}
	}
	return c, a
}

// TestArray: a box with the nets that lead in, one cell beside it, and nothing else of the array.
func TestArray(t *testing.T) {
	c, a := array(t, 5, 3)
	d := noFaults(t, c, schematic.Options{Title: "array", Arrays: []schematic.Array{a}})
	kept := *c
	kept.Devices = append(slices.Clone(c.Devices[:4]), c.Devices[len(a.Devices):]...)
	if got := d.Read(c); len(got.Devices) != len(kept.Devices) {
		t.Fatalf("%d devices drawn, want %d", len(got.Devices), len(kept.Devices))
	}
	if text := differsFrom(t, &kept, d.Read(c)); text != "" {
		t.Error(text)
	}
	pins, names := d.Joined()
	boxes := 0
	for si, s := range d.Sheets {
		for i, y := range s.Symbols {
			if y.Shape != schematic.BoxShape {
				continue
			}
			boxes++
			for j, q := range y.Pins {
				if n, drawn := names[q.Terminal]; drawn && n != pins[si][i][j] {
					t.Errorf("the box's pin %s is on another net", q.Terminal)
				}
			}
			if len(y.Pins) != 5 || y.Text[1].S != "5 × 3" { // ROW0, RST0, and three columns
				t.Errorf("%d pins, %q", len(y.Pins), y.Text[1].S)
			}
		}
	}
	if boxes != 1 || !strings.Contains(strings.Join(d.Sheets[0].Notes, "\n"), "without a pin here: RST1") && !strings.Contains(strings.Join(d.Sheets[0].Notes, "\n"), "without a pin here: ROW1") {
		t.Errorf("%d boxes, notes %q", boxes, d.Sheets[0].Notes)
	}
}

// TestBoxes: instances are boxes; what two of them share is joined, what they do not share is not.
func TestBoxes(t *testing.T) {
	inv := build(t, "inv", []string{"A", "Y", "VDD", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "VDD"}, []string{"M2", "n", "Y", "A", "VSS", "VSS"})
	c := build(t, "chain", []string{"IN", "OUT", "VDD", "VSS"})
	for range 2 {
		c.Nets = append(c.Nets, netlist.NetInfo{})
	}
	for i, nets := range [][]netlist.Net{{0, 4, 2, 3}, {4, 5, 2, 3}, {5, 1, 2, 3}} {
		c.Instances = append(c.Instances, netlist.Instance{Name: fmt.Sprint("X", i+1), Of: inv, Nets: nets})
	}
	d := noFaults(t, c, schematic.Options{Title: "chain"})
	pins, _ := d.Joined()
	net := map[int]netlist.Net{}
	back := map[netlist.Net]int{}
	for i, y := range d.Sheets[0].Symbols {
		if y.Pins[0].Terminal != "VDD" || y.Pins[3].Side != schematic.Right && y.Pins[2].Side != schematic.Right {
			t.Errorf("pins %v", y.Pins)
		}
		for j, q := range y.Pins {
			want := c.Instances[y.Instance].Nets[slices.IndexFunc(inv.Ports, func(p netlist.Net) bool { return inv.Nets[p].Name == q.Terminal })]
			number := pins[0][i][j]
			if n, ok := net[number]; ok && n != want {
				t.Errorf("%s of %s is joined to another net", q.Terminal, c.Instances[y.Instance].Name)
			}
			if k, ok := back[want]; ok && k != number {
				t.Errorf("%s of %s is not joined to its net", q.Terminal, c.Instances[y.Instance].Name)
			}
			net[number], back[want] = want, number
		}
	}
	if len(net) != 6 {
		t.Errorf("%d nets, want 6", len(net))
	}
}
