package parts

import (
	"fmt"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
)

func graph(t *testing.T, lines string) *Graph {
	t.Helper()
	d, err := spice.Read("test.sp", strings.NewReader("* test\n.subckt top a b\n"+lines+"\n.ends\n"), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return New(d.Circuit("top"), Known{})
}

// What is one part: the devices of each, by their numbers in the circuit.
func TestParts(t *testing.T) {
	for _, tc := range []struct{ name, lines, want string }{
		{"fingers, one turned round", "M1 a g b VSS nmos W=1u L=1u\nM2 b g a VSS nmos W=2u L=1u", "[0 1]"},
		{"another L", "M1 a g b VSS nmos W=1u L=1u\nM2 a g b VSS nmos W=1u L=2u", "[0] [1]"},
		{"nearly the same L", "M1 a g b VSS nmos W=1u L=1u\nM2 a g b VSS nmos W=1u L=1.05u", "[0 1]"},
		{"another model", "M1 a g b VSS nmos\nM2 a g b VSS nfet", "[0] [1]"},
		{"another polarity", "M1 a g b VSS nmos\nM2 a g b VSS pmos", "[0] [1]"},
		{"diodes the other way round", "D1 a b d\nD2 b a d", "[0] [1]"},
		{"parallel resistors", "R1 a b 1k\nR2 b a 2k", "[0 1]"},
		{"parallel resistors of other shapes", "R1 a b 1k W=1u L=5u\nR2 b a 2k W=1u L=10u", "[0 1]"},
		{"parallel capacitors of other shapes", "C1 a b 1p W=2u L=5u\nC2 a b 1p W=1u L=10u", "[0 1]"},
		{"transistors as capacitors of other lengths", "M1 a g a VSS nmos W=1u L=1u\nM2 a g a VSS nmos W=1u L=5u", "[0 1]"},
		{"another W", "M1 a g b VSS nmos W=1u L=1u\nM2 b g a VSS nmos W=50u L=1u", "[0 1]"},
		{"two stacks", "M1 a g1 x VSS nmos\nM2 x g2 b VSS nmos\nM3 b g2 y VSS nmos\nM4 y g1 a VSS nmos", "[0 3] [1 2]"},
		{"stacks of three", "M1 a g1 x VSS nmos\nM2 x g2 y VSS nmos\nM3 y g3 b VSS nmos\nM4 a g1 u VSS nmos\nM5 u g2 v VSS nmos\nM6 v g3 b VSS nmos", "[0 3] [1 4] [2 5]"},
		{"stacks in another order", "M1 a g1 x VSS nmos\nM2 x g2 b VSS nmos\nM3 a g2 y VSS nmos\nM4 y g1 b VSS nmos", "[0] [1] [2] [3]"},
		{"a stack whose inner net is used", "M1 a g1 x VSS nmos\nM2 x g2 b VSS nmos\nM3 a g1 y VSS nmos\nM4 y g2 b VSS nmos\nM5 c y e VSS nmos", "[0] [1] [2] [3] [4]"},
		{"all on one net", "M1 a a a VSS nmos\nR1 b b 1k\nM2 a g b VSS nmos", "[2]"},
	} {
		g := graph(t, tc.lines)
		got := ""
		for i := range g.Parts {
			got += fmt.Sprint(g.Devices(int32(i))) + " "
		}
		if strings.TrimSpace(got) != tc.want {
			t.Errorf("%s: parts %s, want %s", tc.name, got, tc.want)
		}
	}
}

// A transistor whose source is its drain is a capacitor from gate to diffusion.
func TestTransistorAsCapacitor(t *testing.T) {
	g := graph(t, "M1 a g a VSS nmos")
	c := g.Circuit
	if p := g.Parts[0]; p.Kind != Capacitor || c.Nets[p.Nets[0]].Name != "g" || c.Nets[p.Nets[1]].Name != "a" || p.Nets[2] != -1 {
		t.Errorf("%+v", p)
	}
}

// Pins are those of the parts, not of the devices, and bulks are none.
func TestDegrees(t *testing.T) {
	g := graph(t, "M1 a g b b nmos\nM2 b g a b nmos\nM3 c a b b nmos")
	for i, info := range g.Circuit.Nets {
		want := map[string]int{"a": 2, "b": 2, "c": 1, "g": 1}[info.Name]
		if g.Degree(int32(i)) != want {
			t.Errorf("net %s has %d pins, want %d", info.Name, g.Degree(int32(i)), want)
		}
		for _, pin := range g.On(int32(i)) {
			if g.Parts[pin.Part()].Nets[pin.Terminal()] != int32(i) {
				t.Errorf("a pin of net %s lies elsewhere", info.Name)
			}
		}
	}
}

// Pins beyond the circuit are of one part that is nothing: a net that has some is no inner net of a stack, not even where it has two with
// what is in the circuit. What lies beyond has a second pin elsewhere.
func TestBeyond(t *testing.T) {
	stacks := graph(t, "M1 a g1 x VSS nmos\nM2 x g2 b VSS nmos\nM3 a g1 y VSS nmos\nM4 y g2 b VSS nmos\nM5 z g3 a VSS nmos").Circuit
	for _, tc := range []struct {
		on   string
		pins int32
		want int // parts
	}{{"a", 2, 3}, {"x", 1, 5}, {"z", 1, 3}} {
		beyond, at := make([]int32, len(stacks.Nets)), netlist.NoNet
		for n, info := range stacks.Nets {
			if info.Name == tc.on {
				beyond[n], at = tc.pins, netlist.Net(n)
			}
		}
		g := New(stacks, Known{Beyond: beyond})
		last := int32(len(g.Parts) - 1)
		if len(g.Parts) != tc.want+1 || g.Parts[last].Kind != Elsewhere || len(g.Devices(last)) != 0 {
			t.Errorf("%d pins beyond %s: parts %v", tc.pins, tc.on, g.Parts)
		}
		there := 0
		for _, pin := range g.On(int32(at)) {
			if pin.Part() == last {
				there++
			}
		}
		if there != int(tc.pins) {
			t.Errorf("%d pins beyond %s: on it are %v", tc.pins, tc.on, g.On(int32(at)))
		}
		if own := 3 * tc.want; g.Pins != own+2*there {
			t.Errorf("%d pins beyond %s: %d in all, %d in the circuit", tc.pins, tc.on, g.Pins, own)
		}
	}
}

func TestRails(t *testing.T) {
	for name, want := range map[string]Rail{"VDD": Supply, "vdd!": Supply, "top/VDD#2": Supply, "VDD2": Supply, "VCC": Supply, "GND": Ground,
		"vss_1": Ground, "AVSS": Ground, "VDDX": Signal, "out": Signal, "VREF": Signal, "": Signal} {
		if got := RailByName(name); got != want {
			t.Errorf("%q is %d, want %d", name, got, want)
		}
	}
	// By bulk, where names say nothing; a name that only begins like a supply's needs more than one channel.
	g := graph(t, "M1 y a lo lo nmos\nM2 y a hi hi pmos\nM3 z b lo lo nmos\nM4 VDDX b hi hi pmos")
	for i, info := range g.Circuit.Nets {
		want := map[string]Rail{"lo": Ground, "hi": Supply}[info.Name]
		if g.Rails[i] != want {
			t.Errorf("net %s is %d, want %d", info.Name, g.Rails[i], want)
		}
	}
	// A substrate is what transistors lie in; what only gates see is a signal.
	for lines, want := range map[string]Rail{"M1 y SUB VSS VSS nmos\nM2 y SUB VDD VDD pmos": Signal, "M1 y a SUB SUB nmos\nM2 SUB SUB y SUB nmos": Ground} {
		g := graph(t, lines)
		for i, info := range g.Circuit.Nets {
			if info.Name == "SUB" && g.Rails[i] != want {
				t.Errorf("%s: SUB is %d, want %d", lines, g.Rails[i], want)
			}
		}
	}
	known := New(g.Circuit, Known{Supply: []netlist.Net{0}})
	if known.Rails[0] != Supply {
		t.Error("a supply that is known is none")
	}
}
