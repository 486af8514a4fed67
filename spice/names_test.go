package spice

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
)

func netsNamed(names ...string) *netlist.Circuit {
	c := &netlist.Circuit{Name: "c"}
	for _, n := range names {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: n})
	}
	return c
}

// TestNetNames: what cannot stand in a netlist is replaced, names stay distinct when case is ignored, and what can stay
// stays.
func TestNetNames(t *testing.T) {
	c := netsNamed("A<3>", "a<3>", "net[3]", "a/b", "vdd!", "x\n.control", "0", "GND", "gnd", "", "n1", "a b", "a_b", "a,b", "$x", "VSS", "n#1", "Null", "", "params:",
		"NFET", "mos_unknown", "µm", "*", "+5V", ".end", "/", "a//b", "01", "x'y\"z{}", "Temper", "a/temper<1>", "temperature", "off", "a params:b params:c")
	c.Devices = []netlist.Device{{Model: "nfet", Kind: netlist.NMOS}}
	got, err := NetNames(c, "VSS")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"A<3>", "a<3>_2", "net[3]", "a/b", "vdd!", "x_.control", "0_", "GND_", "gnd__2", "n2", "n1", "a_b_2", "a_b", "a_b_3", "_x", "0", "n#1", "Null_", "n3", "params_",
		"NFET_2", "mos_unknown_2", "_m", "_*", "_+5V", "_.end", "_/", "a/_b", "01", "x_y_z__", "Temper_", "a/temper_<1>", "temperature", "off", "a_params_b_params_c"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if _, err := NetNames(c, "nowhere"); err == nil || err.Error() != "no net is called \"nowhere\", so it cannot be ground\n    a label gives a net its name" {
		t.Errorf("a ground that is no net: %v", err)
	}
	c = netsNamed("x", "0", "vdd!", "VDD!")
	c.Nets[1].Global, c.Nets[2].Global = true, true
	if got, err := NetNames(c, ""); err != nil || !slices.Equal(got, []string{"x", "0", "vdd!", "VDD!_2"}) {
		t.Errorf("global nets: %q, %v", got, err)
	}
	c = netsNamed("off", "OFFSET", "x/Save", "time")
	c.Devices = []netlist.Device{{Kind: netlist.Bipolar, Model: "npn"}}
	if got, err := NetNames(c, ""); err != nil || !slices.Equal(got, []string{"off_", "OFFSET", "x/Save_", "time"}) {
		t.Errorf("beside a bipolar transistor: %q, %v", got, err)
	}
	c = netsNamed("x", "0")
	c.Nets[1].Global = true
	if got, err := NetNames(netsNamed("a"), ""); err != nil || !slices.Equal(got, []string{"a"}) {
		t.Errorf("%q, %v", got, err)
	}
	if _, err := NetNames(c, "x"); err == nil || err.Error() != "circuit c has a node 0 already, so net x cannot be ground as well\n    leave ground out" {
		t.Errorf("two grounds: %v", err)
	}
}

// TestManyEqualNames: a hundred thousand nets of one name take no more time than their number.
func TestManyEqualNames(t *testing.T) {
	names := make([]string, 100_000)
	for i := range names {
		names[i] = "x y"
	}
	got, err := NetNames(netsNamed(names...), "")
	if err != nil || got[0] != "x_y" || got[99_999] != "x_y_100000" {
		t.Errorf("%s … %s (%v)", got[0], got[99_999], err)
	}
}

// TestNamesInSimulator: every printable character, in names of nets, elements, models and subcircuits, first and inside:
// ngspice reads what is written, and nets that differ stay apart.
func TestNamesInSimulator(t *testing.T) {
	d := &netlist.Design{}
	top := &netlist.Circuit{Name: "top", Nets: []netlist.NetInfo{{Name: "in"}}, Ports: []netlist.Net{0}}
	n := 0
	for r := rune(0); r < 0x7f; r++ {
		if r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			continue
		}
		for _, name := range []string{string(r), string(r) + "a", "a" + string(r) + "b", "a" + string(r), string(r) + string(r) + "a"} {
			n++
			c := &netlist.Circuit{Name: name, Nets: []netlist.NetInfo{{Name: name}, {Name: name + "x"}}, Ports: []netlist.Net{0, 1},
				Devices: []netlist.Device{
					{Name: name, Kind: netlist.Resistor, Value: 1000, Terminals: [4]netlist.Net{0, 1, -1, -1}},
					{Name: name, Kind: netlist.NMOS, Model: name, W: 1000, L: 1000, Terminals: [4]netlist.Net{0, 1, 1, 1}},
				}}
			d.Circuits = append(d.Circuits, c)
			top.Nets = append(top.Nets, netlist.NetInfo{})
			top.Instances = append(top.Instances, netlist.Instance{Name: name, Of: c, Nets: []netlist.Net{netlist.Net(n - 1), netlist.Net(n)}})
		}
	}
	top.Nets[n].Name = "end"
	d.Circuits = append(d.Circuits, top)
	text := write(t, d, WriteOptions{Models: true, Ground: "end"})
	// n resistors of 1 kΩ in a row, gates and bulks at the sources, which do not conduct
	said := accept(t, text+fmt.Sprintf("\nX1 in top\nV1 in 0 %d\n", n), "op\nprint i(v1)")
	if got := printed(t, said, "i(v1)"); !near(got, -1e-3, 1e-4) {
		t.Errorf("the chain of %d resistors carries %v A, want 1 mA", n, got)
	}
	if strings.ContainsAny(text, "\x00\x1b\r\t") {
		t.Error("a control character got through")
	}
}

// TestSpecialNamesStayApart: a net that is called like something that a simulator joins or knows is an ordinary net.
// Each instance divides its voltage by two 1 kΩ in a row, so 1 V drives 0.5 mA and 3 V drives 1.5 mA; joined inner nets
// would give other currents.
func TestSpecialNamesStayApart(t *testing.T) {
	for _, name := range []string{"null", "NULL", "gnd", "Gnd", "0", "temper", "a/temper", "off", "params:", "x1", "1", "vdd!"} {
		c := netsNamed("a", name, "b")
		c.Name, c.Ports = "div", []netlist.Net{0, 2}
		c.Devices = []netlist.Device{two(netlist.Resistor, "", 1000, 0, 1), two(netlist.Resistor, "", 1000, 1, 2)}
		top := netsNamed("p", "q", "g")
		top.Name, top.Ports = "top", []netlist.Net{0, 1}
		top.Instances = []netlist.Instance{{Of: c, Nets: []netlist.Net{0, 2}}, {Of: c, Nets: []netlist.Net{1, 2}}}
		text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c, top}}, WriteOptions{Ground: "g"})
		said := accept(t, text+"\nX1 p q top\nV1 p 0 1\nV2 q 0 3\n", "op\nprint i(v1) i(v2)")
		if i1, i2 := printed(t, said, "i(v1)"), printed(t, said, "i(v2)"); !near(i1, -0.5e-3, 1e-6) || !near(i2, -1.5e-3, 1e-6) {
			t.Errorf("%s: %v A and %v A, want -0.5 mA and -1.5 mA\n%s", name, i1, i2, text)
		}
	}
}
