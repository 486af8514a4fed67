package schematic

import (
	"context"
	"fmt"
	"os"
	"testing"

	"undermetal/netlist"
)

// build makes a circuit of lines "name kind terminals…", as nets by name.
func build(t testing.TB, name string, ports []string, lines ...[]string) *netlist.Circuit {
	t.Helper()
	c := &netlist.Circuit{Name: name}
	nets := map[string]netlist.Net{}
	net := func(s string) netlist.Net {
		n, ok := nets[s]
		if !ok {
			n = netlist.Net(len(c.Nets))
			nets[s] = n
			c.Nets = append(c.Nets, netlist.NetInfo{Name: s})
		}
		return n
	}
	for _, p := range ports {
		c.Ports = append(c.Ports, net(p))
	}
	kinds := map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS, "r": netlist.Resistor, "c": netlist.Capacitor, "d": netlist.Diode, "i": netlist.CurrentSource}
	for _, l := range lines {
		d := netlist.Device{Name: l[0], Kind: kinds[l[1]]}
		for i := range d.Terminals {
			d.Terminals[i] = netlist.NoNet
		}
		for i, s := range l[2:] {
			d.Terminals[i] = net(s)
		}
		if d.Kind.IsMOS() {
			d.W, d.L = 2000, 500
		}
		c.Devices = append(c.Devices, d)
	}
	return c
}

func pixel(t testing.TB) *netlist.Circuit {
	return build(t, "pixel", []string{"VDD", "RST", "ROW", "COL", "VSS"}, []string{"M1", "n", "VDD", "RST", "pd", "VSS"}, []string{"M2", "n", "VDD", "pd", "x", "VSS"},
		[]string{"M3", "n", "x", "ROW", "COL", "VSS"}, []string{"D1", "d", "VSS", "pd"})
}

func samples(t testing.TB) []*netlist.Circuit {
	return []*netlist.Circuit{
		pixel(t),
		build(t, "inverter", []string{"VDD", "A", "Y", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "VDD"}, []string{"M2", "n", "Y", "A", "VSS", "VSS"}),
		build(t, "mirror", []string{"VDD", "IN", "OUT", "VSS"}, []string{"M1", "n", "IN", "IN", "VSS", "VSS"}, []string{"M2", "n", "OUT", "IN", "VSS", "VSS"}),
		build(t, "nand2", []string{"VDD", "A", "B", "Y", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "VDD"}, []string{"M2", "p", "Y", "B", "VDD", "VDD"},
			[]string{"M3", "n", "Y", "A", "m", "VSS"}, []string{"M4", "n", "m", "B", "VSS", "VSS"}),
		build(t, "aoi21", []string{"VDD", "A", "B", "C", "Y", "VSS"}, []string{"M1", "p", "q", "A", "VDD", "VDD"}, []string{"M2", "p", "q", "B", "VDD", "VDD"}, []string{"M5", "p", "Y", "C", "q", "VDD"},
			[]string{"M3", "n", "Y", "A", "m", "VSS"}, []string{"M4", "n", "m", "B", "VSS", "VSS"}, []string{"M6", "n", "Y", "C", "VSS", "VSS"}),
		build(t, "twostage", []string{"VDD", "INP", "INN", "BIAS", "OUT", "VSS"}, []string{"M1", "n", "a", "INN", "tail", "VSS"}, []string{"M2", "n", "b", "INP", "tail", "VSS"},
			[]string{"M3", "p", "a", "a", "VDD", "VDD"}, []string{"M4", "p", "b", "a", "VDD", "VDD"}, []string{"M5", "n", "tail", "BIAS", "VSS", "VSS"},
			[]string{"M6", "p", "OUT", "b", "VDD", "VDD"}, []string{"M7", "n", "OUT", "BIAS", "VSS", "VSS"}, []string{"CC", "c", "b", "OUT"}),
		build(t, "sram6t", []string{"VDD", "WL", "BL", "BLB", "VSS"}, []string{"M1", "p", "q", "qb", "VDD", "VDD"}, []string{"M2", "n", "q", "qb", "VSS", "VSS"}, []string{"M3", "p", "qb", "q", "VDD", "VDD"},
			[]string{"M4", "n", "qb", "q", "VSS", "VSS"}, []string{"M5", "n", "BL", "WL", "q", "VSS"}, []string{"M6", "n", "BLB", "WL", "qb", "VSS"}),
		build(t, "latch", []string{"VDD", "D", "CK", "CKB", "Q", "VSS"}, []string{"M1", "p", "a", "D", "VDD", "VDD"}, []string{"M2", "n", "a", "D", "VSS", "VSS"},
			[]string{"M3", "n", "a", "CK", "b", "VSS"}, []string{"M4", "p", "a", "CKB", "b", "VDD"}, []string{"M5", "p", "Q", "b", "VDD", "VDD"}, []string{"M6", "n", "Q", "b", "VSS", "VSS"},
			[]string{"M7", "p", "c", "Q", "VDD", "VDD"}, []string{"M8", "n", "c", "Q", "VSS", "VSS"}, []string{"M9", "n", "c", "CKB", "b", "VSS"}, []string{"M10", "p", "c", "CK", "b", "VDD"}),
	}
}

func TestLook(t *testing.T) {
	for _, c := range samples(t) {
		d, err := Draw(context.Background(), c, Options{Title: c.Name})
		if err != nil {
			t.Fatal(c.Name, err)
		}
		if f := d.Faults(); len(f) > 0 {
			t.Error(c.Name, f)
		}
		for i := range d.Sheets {
			f, err := os.Create(fmt.Sprintf("/tmp/sch/%s%d.svg", c.Name, i))
			if err != nil {
				t.Fatal(err)
			}
			if err := d.WriteSVG(f, i); err != nil {
				t.Fatal(err)
			}
			f.Close()
		}
	}
}

func TestLookText(t *testing.T) {
	for _, c := range samples(t) {
		d, err := Draw(context.Background(), c, Options{Title: c.Name})
		if err != nil {
			t.Fatal(c.Name, err)
		}
		d.WriteText(os.Stdout, 0)
	}
}
