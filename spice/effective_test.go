package spice

import (
	"math"
	"strings"
	"testing"

	"undermetal/netlist"
)

// TestWriteEffective: L stays, and W gives the W/L that was solved for; the simple W is said behind. A resistor with a value keeps its W and
// L; one without gets the W that gives its model the right squares. By hand: 3.558626 · 1 µm; 0.1 · 12 µm.
func TestWriteEffective(t *testing.T) {
	c := netsNamed("d", "g", "s", "b")
	c.Ports = []netlist.Net{0, 1, 2, 3}
	m := mosDevice("", netlist.NMOS, "nfet", 0, 1, 2, 3)
	m.W, m.L, m.Ratio = 4000, 1000, 3.558626
	straight := mosDevice("", netlist.NMOS, "nfet", 0, 1, 2, 3)
	straight.W, straight.L = 4000, 1000
	r := two(netlist.Resistor, "rpoly", 250, 0, 2)
	r.W, r.L, r.Ratio = 1000, 12000, 0.1
	bare := r
	bare.Value = math.NaN()
	c.Devices = []netlist.Device{m, straight, r, bare}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{Models: true})
	for _, want := range []string{
		"M1 d g s b nfet W=3.558626u L=1u ; W gives W/L = 3.55863, solved for in its outline; by its edges W is 4u\n",
		"M2 d g s b nfet W=4u L=1u\n",
		"R3 d s rpoly 250 W=1u L=12u\n",
		"R4 d s rpoly W=1.2u L=12u ; W gives W/L = 0.1, solved for in its outline; by its edges W is 1u\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no line %q in\n%s", want, text)
		}
	}
	said := accept(t, text+"\nX1 d g 0 0 "+c.Name+"\nV1 d 0 1\nV2 g 0 1\n", "op\nset numdgt=15\nprint @m.x1.m1[w] @m.x1.m1[l]")
	for name, want := range map[string]float64{"@m.x1.m1[w]": 3.558626e-6, "@m.x1.m1[l]": 1e-6} {
		if got := printed(t, said, name); !near(got, want, 1e-14) {
			t.Errorf("%s is %v to ngspice, want %v", name, got, want)
		}
	}
}
