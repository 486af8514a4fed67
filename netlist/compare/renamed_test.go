package compare

import (
	"context"
	"slices"
	"testing"

	"undermetal/netlist"
)

// TestRenamed: an inverter of four nets, each of which is called as stated; the first two are ports.
func TestRenamed(t *testing.T) {
	circuit := func(ports []netlist.Net, names ...string) *netlist.Circuit {
		c := &netlist.Circuit{Name: "inv", Ports: ports, Devices: []netlist.Device{
			{Kind: netlist.NMOS, Model: "n", Terminals: [4]netlist.Net{1, 0, 2, 2}, W: 1000, L: 500},
			{Kind: netlist.PMOS, Model: "p", Terminals: [4]netlist.Net{1, 0, 3, 3}, W: 2000, L: 500},
		}}
		for _, n := range names {
			c.Nets = append(c.Nets, netlist.NetInfo{Name: n})
		}
		return c
	}
	two := []netlist.Net{0, 1}
	other := circuit(two, "X", "", "", "")
	other.Nets[0].Labels = []string{"X", "IN"}
	for _, tc := range []struct {
		name string
		a, b *netlist.Circuit
		want []Renamed
	}{
		{"the same", circuit(two, "IN", "OUT", "G", "V"), circuit(two, "in", "OUT", "H", "W"), nil},
		{"two ports", circuit(two, "OUT", "IN", "", ""), circuit(two, "A", "B", "", ""), []Renamed{{"IN", "B", [2]netlist.Net{1, 1}}, {"OUT", "A", [2]netlist.Net{}}}},
		{"no name there", circuit(two, "IN", "OUT", "", ""), circuit(two, "", "", "", ""), nil},
		{"a second label", circuit(two, "IN", "OUT", "", ""), other, nil},
		{"no ports: all that have a name", circuit(nil, "IN", "OUT", "G", "V"), circuit(nil, "IN", "OUT", "0", ""), []Renamed{{"G", "0", [2]netlist.Net{2, 2}}}},
		{"a port and an inner net", circuit(two, "IN", "OUT", "G", "V"), circuit([]netlist.Net{0}, "IN", "Z", "G", "V"), nil},
	} {
		res, err := Compare(context.Background(), tc.a, tc.b, DefaultOptions())
		if err != nil || !res.Same || !slices.Equal(res.Renamed, tc.want) {
			t.Errorf("%s: %v, %+v, want %v", tc.name, err, res, tc.want)
		}
	}
}
