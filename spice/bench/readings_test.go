package bench

import (
	"math"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
)

// TestAsCapacitor: 3.9 · 8.854 pF/m / 14 nm over 20 µm · 10 µm are 493.3 fF, to one net or half to each of two.
func TestAsCapacitor(t *testing.T) {
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	want := 3.9 * 8.854187e-12 / 14e-9 * 200e-12
	for _, text := range []string{".subckt r G D VSS\nM1 D G D VSS nmos W=20u L=10u\n.ends\n", ".subckt r G D S VSS\nM1 D G S VSS nmos W=20u L=10u\n.ends\n"} {
		c := circuit(t, text)
		got, err := AsCapacitor(c, 0, p)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i := range got.Devices {
			d := &got.Devices[i]
			if d.Kind != netlist.Capacitor || d.Terminals[0] != netCalled(t, c, "G") || d.Terminals[1] == d.Terminals[0] {
				t.Errorf("%+v", d)
			}
			sum += d.Value
		}
		if math.Abs(sum/want-1) > 1e-5 || c.Devices[0].Kind != netlist.NMOS || len(c.Devices) != 1 {
			t.Errorf("%g F, want %g; the circuit has %+v", sum, want, c.Devices)
		}
	}
	c := circuit(t, ".subckt r A B\nR1 A B 1k\n.ends\n")
	if _, err := AsCapacitor(c, 0, p); err == nil {
		t.Error("a resistor is read as a capacitor")
	}
}
