package schematic_test

import (
	"slices"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
)

// TestCut: the second stage of an amplifier has its own nets, and as ports those that lead out of it or were ports.
func TestCut(t *testing.T) {
	c := samples(t)[5]
	cut := schematic.Cut(c, []int32{5, 6, 7}) // M6, M7, CC
	if len(cut.Devices) != 3 || cut.Devices[0].Name != "M6" {
		t.Fatalf("devices %+v", cut.Devices)
	}
	var ports, nets []string
	for _, n := range cut.Nets {
		nets = append(nets, n.Name)
	}
	for _, p := range cut.Ports {
		ports = append(ports, cut.Nets[p].Name)
	}
	slices.Sort(ports)
	slices.Sort(nets)
	want := []string{"BIAS", "OUT", "VDD", "VSS", "b"}
	if !slices.Equal(ports, want) || !slices.Equal(nets, want) {
		t.Errorf("ports %v, nets %v, want %v", ports, nets, want)
	}
	if d := cut.Devices[2]; cut.Nets[d.Terminals[0]].Name != "b" || cut.Nets[d.Terminals[1]].Name != "OUT" || d.Terminals[2] != netlist.NoNet {
		t.Errorf("the capacitor's nets are %v", d.Terminals)
	}
	inner := schematic.Cut(c, []int32{0, 1, 2, 3, 4}) // all that has the tail
	for _, p := range inner.Ports {
		if name := inner.Nets[p].Name; name == "tail" || name == "a" {
			t.Errorf("%s is a port", name)
		}
	}
	check(t, cut, schematic.Options{Title: "cut"})
}

// TestLooks: what the kind of a device does not say changes its symbol, and nothing else.
func TestLooks(t *testing.T) {
	c := &netlist.Circuit{Name: "looks"}
	for _, name := range []string{"VDD", "VSS", "a", "b"} {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
	}
	looks := []schematic.Look{schematic.Photodiode, schematic.NoLook, schematic.PNP, schematic.NoLook, schematic.PChannel, schematic.NoLook, schematic.Depletion, schematic.NoLook,
		schematic.NoLook, schematic.NoLook, schematic.NoLook}
	for i, kind := range []netlist.Kind{netlist.Diode, netlist.Diode, netlist.Bipolar, netlist.Bipolar, netlist.JFET, netlist.JFET, netlist.NMOS, netlist.MOS,
		netlist.VoltageSource, netlist.CurrentSource, netlist.Inductor} {
		d := netlist.Device{Kind: kind, Terminals: [4]netlist.Net{0, 2, 1, -1}, Value: float64(i)}
		if len(kind.TerminalNames()) == 2 {
			d.Terminals = [4]netlist.Net{3, 1, -1, -1}
		}
		c.Devices = append(c.Devices, d)
	}
	d := check(t, c, schematic.Options{Title: "looks", Look: func(i int) schematic.Look { return looks[i] }})
	for _, s := range d.Sheets {
		for _, y := range s.Symbols {
			want := y.Kind == netlist.Diode && looks[y.Device] == schematic.Photodiode
			if y.Look != looks[y.Device] || (y.Shape == schematic.PhotodiodeShape) != want {
				t.Errorf("device %d: shape %d, look %d", y.Device, y.Shape, y.Look)
			}
		}
	}
}
