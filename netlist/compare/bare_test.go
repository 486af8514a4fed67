package compare

import (
	"context"
	"slices"
	"testing"

	"undermetal/netlist"
)

// TestBare: a pass transistor whose gate is on net 1 or on net 3; both are called as stated, and ports if they have a name.
func TestBare(t *testing.T) {
	circuit := func(gate netlist.Net, names ...string) *netlist.Circuit {
		c := &netlist.Circuit{Name: "pass", Devices: []netlist.Device{
			{Kind: netlist.NMOS, Model: "n", Terminals: [4]netlist.Net{0, gate, 2, 2}, W: 1000, L: 500},
		}}
		for n, name := range names {
			c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
			if name != "" {
				c.Ports = append(c.Ports, netlist.Net(n))
			}
		}
		return c
	}
	whole := circuit(1, "IN", "SEL", "OUT", "")
	labelled := circuit(3, "IN", "", "OUT", "")
	labelled.Nets[1].Labels = []string{"X", "SEL"}
	labelled.Ports = append(labelled.Ports, 1)
	labelled.Nets[1].Name = "X"
	for _, tc := range []struct {
		name string
		a, b *netlist.Circuit
		want []Bare
	}{
		{"none", whole, circuit(1, "IN", "sel", "OUT", ""), nil},
		{"short of the gate in A", circuit(3, "IN", "sel", "OUT", ""), whole, []Bare{{"sel", "A", 1, 3}}},
		{"in B", whole, circuit(3, "IN", "SEL", "OUT", ""), []Bare{{"SEL", "B", 1, 3}}},
		{"by a second label", labelled, whole, []Bare{{"SEL", "A", 1, 3}}},
		{"a name that the other has not", circuit(3, "IN", "SPARE", "OUT", "SEL"), whole, nil},
		{"on no device in either", circuit(3, "IN", "SPARE", "OUT", ""), circuit(3, "IN", "SPARE", "OUT", ""), nil},
	} {
		res, err := Compare(context.Background(), tc.a, tc.b, DefaultOptions())
		if err != nil || !res.Same || !slices.Equal(res.Bare, tc.want) {
			t.Errorf("%s: %v, %+v, want %v", tc.name, err, res, tc.want)
		}
	}
}
