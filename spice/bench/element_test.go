package bench

import (
	"math"
	"strings"
	"testing"

	"undermetal/spice"
)

const powerText = ".subckt p ENB VOUT VDD VSS\nM1 VOUT ENB VDD VDD pmos W=500u L=0.5u\n.ends\n"

// flipText is a master-slave flip-flop of transmission gates (common practice): its data goes to no gate.
const flipText = `.subckt dff D CLK Q VDD VSS
MN0 cb CLK VSS VSS nmos W=2u L=0.5u
MP0 cb CLK VDD VDD pmos W=4u L=0.5u
MN1 c cb VSS VSS nmos W=2u L=0.5u
MP1 c cb VDD VDD pmos W=4u L=0.5u
MN2 D cb m VSS nmos W=2u L=0.5u
MP2 D c m VDD pmos W=4u L=0.5u
MN3 mb m VSS VSS nmos W=2u L=0.5u
MP3 mb m VDD VDD pmos W=4u L=0.5u
MN4 mf mb VSS VSS nmos W=2u L=0.5u
MP4 mf mb VDD VDD pmos W=4u L=0.5u
MN5 mf c m VSS nmos W=2u L=0.5u
MP5 mf cb m VDD pmos W=4u L=0.5u
MN6 mb c s VSS nmos W=2u L=0.5u
MP6 mb cb s VDD pmos W=4u L=0.5u
MN7 Q s VSS VSS nmos W=2u L=0.5u
MP7 Q s VDD VDD pmos W=4u L=0.5u
MN8 sf Q VSS VSS nmos W=2u L=0.5u
MP8 sf Q VDD VDD pmos W=4u L=0.5u
MN9 sf cb s VSS nmos W=2u L=0.5u
MP9 sf c s VDD pmos W=4u L=0.5u
.ends
`

// TestFlipFlop: by name, although its data goes to no gate.
func TestFlipFlop(t *testing.T) {
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	simulated(t, "clocked", Setup{Circuit: circuit(t, flipText), Process: p})
}

// TestLongNames: a label may be as long as somebody likes.
func TestLongNames(t *testing.T) {
	p, err := spice.Preset("0.8um")
	if err != nil {
		t.Fatal(err)
	}
	out, model := strings.Repeat("Y", 30000), strings.Repeat("n", 20000)
	c := circuit(t, ".subckt inv A "+out+" "+out+"2 VDD VSS\nM"+out+" "+out+" A VSS VSS nmos"+model+" W=2u L=1u\nMP "+out+" A VDD VDD pmos W=4u L=1u\nC1 "+out+"2 VSS 1p\n.ends\n")
	b, err := inverterBench.Deck(Setup{Circuit: c, Process: p})
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(b.Text(), "\n") {
		if len(line) > 1000 {
			t.Errorf("a line of %d letters: %.80s…", len(line), line)
		}
	}
	simulated(t, "inverter", Setup{Circuit: c, Process: p})
}

// TestInverterLoaded: what the circuit itself hangs on the output counts: the delay of 1 pF more is twice as long.
func TestInverterLoaded(t *testing.T) {
	const text = ".subckt inv A Y VDD VSS\nMN Y A VSS VSS nmos W=2u L=1u\nMP Y A VDD VDD pmos W=4u L=1u\n"
	alone := simulated(t, "inverter", Setup{Circuit: circuit(t, text+".ends\n"), Process: example(5, 1)})
	loaded := simulated(t, "inverter", Setup{Circuit: circuit(t, text+"C1 Y VSS 1p\n.ends\n"), Process: example(5, 1)})
	within(t, loaded, "delay to low, 1 pF", 2*alone["delay to low, 1 pF"].Measured, "t goes with C")
	within(t, loaded, "delay to high, 1 pF", 2*alone["delay to high, 1 pF"].Measured, "t goes with C")
	large := text + "MN2 z Y VSS VSS nmos W=400u L=2u\nR1 z VDD 1k\n.ends\n" // 2 pF of gate, which is not all there while it is off
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Named("inverter")
	s, err := b.stage(Setup{Circuit: circuit(t, large), Process: p})
	if err != nil {
		t.Fatal(err)
	}
	none, err := b.stage(Setup{Circuit: circuit(t, text+".ends\n"), Process: p})
	if err != nil {
		t.Fatal(err)
	}
	// 400·2 µm² over 14 nm are 1.973 pF, the overlaps 400 µm · 2 · 0.2 fF and 2 µm · 0.4 fF: 2.134 pF more than 1 pF and little.
	if got := s.halfTime(true) / none.halfTime(true); math.Abs(got-3.12) > 0.03 {
		t.Errorf("2.134 pF of gate make it %g times as slow", got)
	}
}

// TestElementsNamedLikeNodes: a circuit's nets may be called as the bench's own sources are, to the letter. What is measured is what
// it is with other names.
func TestElementsNamedLikeNodes(t *testing.T) {
	p, err := spice.Preset("0.8um")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ bench, text, old, now string }{
		{"switch", powerText, "VOUT", "Vout"},
		{"switch", powerText, "ENB", "Vgate"},
		{"mirror", ".subckt m IREF OUT VSS\nM1 IREF IREF VSS VSS nmos W=4u L=2u\nM2 OUT IREF VSS VSS nmos W=12u L=2u\n.ends\n", "OUT", "Vout"},
		{"follower", ".subckt f IN OUT VDD VSS\nM1 VDD IN OUT VSS nmos W=10u L=1u\n.ends\n", "IN", "Vin"},
		{"pixel", pixelText, "RST", "Vrst"},
		{"readings", powerText, "ENB", "Vplate"},
	} {
		was := circuit(t, tc.text)
		now := circuit(t, tc.text)
		n := netCalled(t, now, tc.old)
		now.Nets[n].Name = tc.now
		setup := Setup{Circuit: now, Process: p, Ports: nil}
		b, err := Named(tc.bench)
		if err != nil {
			t.Fatal(err)
		}
		if ports, _, err := b.Bind(was, nil); err != nil {
			t.Fatal(err)
		} else { // usual names are gone
			setup.Ports = ports
		}
		want := simulated(t, tc.bench, Setup{Circuit: was, Process: p})
		got := simulated(t, tc.bench, setup)
		for name, w := range want {
			g, ok := got[strings.ReplaceAll(name, tc.old, tc.now)]
			if !ok || math.Abs(g.Measured-w.Measured) > 1e-6*math.Abs(w.Measured) {
				t.Errorf("%s with %s called %s: %s is %v, else %v", tc.bench, tc.old, tc.now, name, g.Measured, w.Measured)
			}
		}
	}
}
