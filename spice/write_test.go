package spice

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

func mosDevice(name string, kind netlist.Kind, model string, d, g, s, b netlist.Net) netlist.Device {
	return netlist.Device{Name: name, Kind: kind, Model: model, Terminals: [4]netlist.Net{d, g, s, b}, W: 640, L: 130, Value: math.NaN()}
}

func two(kind netlist.Kind, model string, value float64, a, b netlist.Net) netlist.Device {
	return netlist.Device{Kind: kind, Model: model, Value: value, Terminals: [4]netlist.Net{a, b, netlist.NoNet, netlist.NoNet}}
}

// pixel is a flat circuit with one of everything.
func pixel() *netlist.Circuit {
	c := netsNamed("VSS", "VDD", "gnd", "", "OUT<0>")
	c.Name = "pixel 1"
	c.Ports = []netlist.Net{4, 1, 0}
	m := mosDevice("", netlist.NMOS, "nfet", 1, 3, 4, 0)
	m.AS, m.AD, m.PS, m.PD, m.At = 1_200_000, 205_200.5, 3120, 0.001, geom.Point{X: 14200, Y: 88000}
	folded := mosDevice("M7", netlist.PMOS, "pfet", 3, 2, 1, 1)
	folded.Fingers, folded.W, folded.L = 2, 2560, 0
	unknown := mosDevice("amp", netlist.MOS, "", 3, 3, 3, 0)
	diode := two(netlist.Diode, "photodiode", math.NaN(), 0, 3)
	diode.Area, diode.Perim, diode.At = 37e6, 24800, geom.Point{X: -1, Y: 1000}
	shaped := two(netlist.Resistor, "rppd", math.NaN(), 1, 3)
	shaped.W, shaped.L = 500, 2000
	bipolar := netlist.Device{Kind: netlist.Bipolar, Model: "npn", Value: 2, Terminals: [4]netlist.Net{1, 3, 4, 0}}
	c.Devices = []netlist.Device{m, folded, unknown, diode, two(netlist.Capacitor, "", 1e-14, 3, 0), two(netlist.Resistor, "", 1e6, 3, 4), shaped,
		two(netlist.Inductor, "", 1e-9, 1, 4), bipolar, two(netlist.VoltageSource, "", 1.8, 1, 2), two(netlist.CurrentSource, "", 1e-6, 1, 4)}
	return c
}

// TestWriteFlat: every line follows from the device by hand. u is 1e-6 m, p is 1e-12 m².
func TestWriteFlat(t *testing.T) {
	c := pixel()
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{Models: true, Ground: "VSS", Places: true,
		Comment: func(i int) string {
			if i == 2 {
				return "transistor or \"capacitor\"?\n.control µ\x00"
			}
			return ""
		}})
	want := `* Netlist written by undermetal. Lengths in metres: u = 1e-6, p = 1e-12.
* mos_unknown: transistors whose polarity is unknown.

* Node 0 is net VSS.
* Net gnd is not ground or global here: it is called gnd_.
.subckt pixel_1 OUT<0> VDD
M1 VDD n1 OUT<0> 0 nfet W=0.64u L=0.13u AS=1.2p AD=0.2052005p PS=3.12u PD=0.000001u ; at 14.200, 88.000 um
M7 n1 gnd_ VDD VDD pfet W=2.56u ; at 0.000, 0.000 um, 2 fingers, W or L unknown: a simulator takes 100 um
M_amp n1 n1 n1 0 mos_unknown W=0.64u L=0.13u ; at 0.000, 0.000 um, transistor or "capacitor"? .control µ 
D4 0 n1 photodiode AREA=37p PJ=24.8u ; at -0.001, 1.000 um
C5 n1 0 1e-14 ; at 0.000, 0.000 um
R6 n1 OUT<0> 1e+06 ; at 0.000, 0.000 um
R7 VDD n1 rppd W=0.5u L=2u ; at 0.000, 0.000 um
L8 VDD OUT<0> 1e-09 ; at 0.000, 0.000 um
Q9 VDD n1 OUT<0> 0 npn AREA=2 ; at 0.000, 0.000 um
V10 VDD gnd_ 1.8 ; at 0.000, 0.000 um
I11 VDD OUT<0> 1e-06 ; at 0.000, 0.000 um
.ends pixel_1

* Placeholders with SPICE's default parameters: they say nothing about this process.
.model mos_unknown nmos ; polarity unknown, n assumed; SPICE's defaults, not this process
.model nfet nmos ; SPICE's defaults, not this process
.model npn npn ; polarity unknown, npn assumed; SPICE's defaults, not this process
.model pfet pmos ; SPICE's defaults, not this process
.model photodiode d ; SPICE's defaults, not this process
.model rppd r rsh=1 ; 1 ohm per square is a placeholder, not this process
`
	if text != want {
		t.Errorf("got\n%s\nwant\n%s", text, want)
	}
	said := accept(t, text+"\nX1 out vdd pixel_1\nV1 vdd 0 1.8\nR1 out 0 1k\n", "op\nset numdgt=15\nprint @m.x1.m1[w] @m.x1.m1[l] @m.x1.m1[as] @m.x1.m1[ad] @m.x1.m1[ps] @m.x1.m1[pd]\nprint @d.x1.d4[area] @d.x1.d4[pj] @c.x1.c5[capacitance] @r.x1.r7[w] @r.x1.r7[l]")
	for name, want := range map[string]float64{"@m.x1.m1[w]": 640e-9, "@m.x1.m1[l]": 130e-9, "@m.x1.m1[as]": 1.2e-12, "@m.x1.m1[ad]": 0.2052005e-12,
		"@m.x1.m1[ps]": 3.12e-6, "@m.x1.m1[pd]": 1e-12, "@d.x1.d4[area]": 37e-12, "@d.x1.d4[pj]": 24.8e-6, "@c.x1.c5[capacitance]": 1e-14, "@r.x1.r7[w]": 0.5e-6, "@r.x1.r7[l]": 2e-6} {
		if got := printed(t, said, name); !near(got, want, 1e-14) {
			t.Errorf("%s is %v to ngspice, want %v", name, got, want)
		}
	}
	plain := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{})
	for _, unwanted := range []string{".model", " at ", "Node 0", " 0 "} {
		if strings.Contains(plain, unwanted) {
			t.Errorf("%q without having been asked for:\n%s", unwanted, plain)
		}
	}
}

// TestDiodeUnits: a level-1 diode takes AREA and PJ as they are, so that IS and JSW of its card are per m² and per m.
// Expected: I = (AREA·IS + PJ·JSW)(exp(V/Vt) - 1), Vt = 300.15 K · k/q (textbook; k, q of CODATA 2018).
func TestDiodeUnits(t *testing.T) {
	c := netsNamed("a", "c")
	c.Ports = []netlist.Net{0, 1}
	d := two(netlist.Diode, "pd", math.NaN(), 0, 1)
	d.Area, d.Perim = 37e6, 24800
	c.Devices = []netlist.Device{d}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{})
	said := accept(t, text+"\n.model pd d is=1e-3 jsw=1e-9\nX1 a 0 c\nV1 a 0 0.5\n", "op\nset numdgt=12\nprint i(v1)")
	vt := 300.15 * 1.380649e-23 / 1.602176634e-19
	want := -(37e-12*1e-3 + 24.8e-6*1e-9) * (math.Exp(0.5/vt) - 1)
	if got := printed(t, said, "i(v1)"); !near(got, want, 1e-3) { // gmin adds 1e-12 S
		t.Errorf("i(v1) = %v, want %v", got, want)
	}
}

// inverters is a hierarchical design: a chain of two inverters in a circuit of its own.
func inverters() *netlist.Design {
	inv := netsNamed("A", "Y", "VDD", "VSS")
	inv.Name, inv.Ports = "inv", []netlist.Net{0, 1, 2, 3}
	inv.Devices = []netlist.Device{mosDevice("mn", netlist.NMOS, "nfet", 1, 0, 3, 3), mosDevice("mp", netlist.PMOS, "pfet", 1, 0, 2, 2)}
	chain := netsNamed("IN", "OUT", "VDD", "VSS", "")
	chain.Name, chain.Ports = "a_chain_of_inverters_with_a_name_that_is_rather_long", []netlist.Net{0, 1, 2, 3}
	chain.Instances = []netlist.Instance{{Name: "X1", Of: inv, Nets: []netlist.Net{0, 4, 2, 3}}, {Name: "second", Of: inv, Nets: []netlist.Net{4, 1, 2, 3}}}
	return &netlist.Design{Circuits: []*netlist.Circuit{inv, chain}}
}

func TestWriteHierarchy(t *testing.T) {
	d := inverters()
	text := write(t, d, WriteOptions{Models: true, Comment: func(i int) string { return "only the last circuit's devices get remarks" }})
	want := `* Netlist written by undermetal. Lengths in metres: u = 1e-6, p = 1e-12.

.subckt inv A Y VDD VSS
mn Y A VSS VSS nfet W=0.64u L=0.13u
mp Y A VDD VDD pfet W=0.64u L=0.13u
.ends inv

.subckt a_chain_of_inverters_with_a_name_that_is_rather_long IN OUT VDD VSS
X1 IN n1 VDD VSS inv
X_second n1 OUT VDD VSS inv
.ends a_chain_of_inverters_with_a_name_that_is_rather_long

* Placeholders with SPICE's default parameters: they say nothing about this process.
.model nfet nmos ; SPICE's defaults, not this process
.model pfet pmos ; SPICE's defaults, not this process
`
	if text != want {
		t.Errorf("got\n%s\nwant\n%s", text, want)
	}
	// ground is a net of the uppermost circuit; the inverters get it through their ports
	text = write(t, d, WriteOptions{Models: true, Ground: "VSS"})
	if !strings.Contains(text, "_long IN OUT VDD\nX1 IN n1 VDD 0 inv\n") || !strings.Contains(text, ".subckt inv A Y VDD VSS\n") {
		t.Errorf("with ground:\n%s", text)
	}
	said := accept(t, text+"\nX1 in out vdd a_chain_of_inverters_with_a_name_that_is_rather_long\nV1 vdd 0 1.8\nV2 in 0 1.8\nR1 out 0 1g\n", "op\nprint v(out) v(x1.n1)")
	if out, mid := printed(t, said, "v(out)"), printed(t, said, "v(x1.n1)"); !near(out, 1.8, 0.01) || math.Abs(mid) > 0.01 {
		t.Errorf("v(out) = %v, v(x1.n1) = %v, want 1.8 and 0", out, mid)
	}
}

// TestWriteLongLists: lists of nets are continued before column 80.
func TestWriteLongLists(t *testing.T) {
	c := netsNamed()
	for i := range 100 {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: fmt.Sprintf("A_WL<%d>", i)})
		c.Ports = append(c.Ports, netlist.Net(i))
	}
	d := &netlist.Design{Circuits: []*netlist.Circuit{c, {Name: "top", Nets: c.Nets, Instances: []netlist.Instance{{Name: "X1", Of: c, Nets: c.Ports}}}}}
	text := write(t, d, WriteOptions{})
	for _, line := range strings.Split(text, "\n") {
		if len(line) > 80 {
			t.Errorf("%d columns: %s", len(line), line)
		}
	}
	again := read(t, text)
	if got := again.Circuit("c"); len(got.Ports) != 100 || got.Nets[99].Name != "A_WL<99>" {
		t.Errorf("read back: %+v", got)
	}
	accept(t, text+"\nX1 top\nV1 a 0 1\n", "listing expand")
}

// TestWriteShorts: one net on two ports is written with a second name and a short; ngspice joins the two.
func TestWriteShorts(t *testing.T) {
	tie := netsNamed("A", "B")
	tie.Name, tie.Ports = "tie", []netlist.Net{0, 1, 0}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{tie}}, WriteOptions{Models: true})
	want := ".subckt tie A B A_2\nR1 A_2 A lvsres ; one net\n.ends tie\n"
	if !strings.Contains(text, want) || !strings.Contains(text, "\n.model lvsres r r=2m ; joins two names of one net\n") {
		t.Errorf("got\n%swant\n%s", text, want)
	}
	said := accept(t, text+"\nX1 p q r tie\nV1 p 0 1\nR1 r 0 1k\nR2 q 0 1k\n", "op\nprint v(r)")
	if v := printed(t, said, "v(r)"); !near(v, 1, 1e-5) {
		t.Errorf("v(r) = %v, want 1", v)
	}
}

// TestWriteGlobals: global nets keep their names everywhere, and no other net gets one of them.
func TestWriteGlobals(t *testing.T) {
	inv := netsNamed("A", "Y", "vdd!", "0")
	inv.Name, inv.Ports = "inv", []netlist.Net{0, 1}
	inv.Nets[2].Global, inv.Nets[3].Global = true, true
	inv.Devices = []netlist.Device{mosDevice("M1", netlist.NMOS, "n", 1, 0, 3, 3), mosDevice("M2", netlist.PMOS, "p", 1, 0, 2, 2)}
	grounded := netsNamed("0")
	grounded.Name, grounded.Ports, grounded.Nets[0].Global = "grounded", []netlist.Net{0}, true
	top := netsNamed("in", "VDD!", "x")
	top.Name, top.Ports = "top", []netlist.Net{0, 1, 2}
	top.Instances = []netlist.Instance{{Name: "X1", Of: inv, Nets: []netlist.Net{0, 1}}, {Name: "X2", Of: grounded, Nets: []netlist.Net{2}}}
	d := &netlist.Design{Circuits: []*netlist.Circuit{inv, grounded, top}}
	text := write(t, d, WriteOptions{Models: true})
	for _, want := range []string{".global vdd!\n", ".subckt inv A Y\n", "M1 Y A 0 0 n ", "M2 Y A vdd! vdd! p ", ".subckt top in VDD!_2 x\n", ".subckt grounded 0_\nR1 0_ 0 lvsres ; one net\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	accept(t, text+"\nX1 i o x top\nV1 i 0 1\nV2 vdd! 0 1\nR1 o 0 1k\nR2 x 0 1k\n", "op")
	if got, want := describeDesign(read(t, text)), describeDesign(d); got != want {
		t.Errorf("read back\n%s\nwant\n%s", got, want)
	}
	text = write(t, d, WriteOptions{Ground: "vdd!"})
	if !strings.Contains(text, "M2 Y A 0 0 p ") {
		t.Errorf("a global net as ground:\n%s", text)
	}
}

// TestModelNames: two that differ by case are one; two kinds cannot share one; none looks like a number where that would
// be read as one.
func TestModelNames(t *testing.T) {
	c := netsNamed("a", "b")
	c.Devices = []netlist.Device{mosDevice("", netlist.NMOS, "x", 0, 0, 0, 0), mosDevice("", netlist.NMOS, "X", 0, 0, 0, 0), mosDevice("", netlist.PMOS, "x", 0, 0, 0, 0),
		two(netlist.Diode, "", math.NaN(), 0, 1), two(netlist.Resistor, "1k", math.NaN(), 0, 1), two(netlist.Resistor, "lvsres", math.NaN(), 0, 1),
		{Kind: netlist.Bipolar, Model: "2n2222", Value: math.NaN(), Terminals: [4]netlist.Net{0, 1, 0, 1}},
		{Kind: netlist.Bipolar, Model: "2k", Value: math.NaN(), Terminals: [4]netlist.Net{0, 1, 0, netlist.NoNet}},
		mosDevice("", netlist.NMOS, "a b\n.control", 0, 0, 0, 0), mosDevice("", netlist.NMOS, "mos_unknown", 0, 0, 0, 0), mosDevice("", netlist.MOS, "", 0, 0, 0, 0)}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{Models: true})
	want := `M1 a_2 a_2 a_2 a_2 x W=0.64u L=0.13u
M2 a_2 a_2 a_2 a_2 x W=0.64u L=0.13u
M3 a_2 a_2 a_2 a_2 x_2 W=0.64u L=0.13u
D4 a_2 b diode_unnamed
R5 a_2 b _1k
R6 a_2 b lvsres_2
Q7 a_2 b a_2 b 2n2222
Q8 a_2 b a_2 _2k
M9 a_2 a_2 a_2 a_2 a_b_.control W=0.64u L=0.13u
M10 a_2 a_2 a_2 a_2 mos_unknown_2 W=0.64u L=0.13u
M11 a_2 a_2 a_2 a_2 mos_unknown W=0.64u L=0.13u
`
	want = strings.ReplaceAll(want, "a_2", "a")
	if !strings.Contains(text, want) {
		t.Errorf("got\n%swant\n%s", text, want)
	}
	accept(t, text+"\nX1 c\nV1 a 0 1\n", "listing expand")
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("the disk is full") }

func TestWriteErrors(t *testing.T) {
	flat := func(d netlist.Device) *netlist.Design {
		c := netsNamed("a", "b")
		c.Devices = []netlist.Device{d}
		return &netlist.Design{Circuits: []*netlist.Circuit{c}}
	}
	stranger, short := inverters(), inverters()
	stranger.Circuits = stranger.Circuits[1:]
	short.Circuits[1].Instances[1].Nets = nil
	wide := mosDevice("", netlist.NMOS, "n", 0, 0, 0, 0)
	wide.W = math.NaN()
	large := two(netlist.Diode, "d", math.NaN(), 0, 1)
	large.Area = -1
	for want, d := range map[string]*netlist.Design{
		"instance X1 of circuit a_chain_of_inverters_with_a_name_that_is_rather_long is of circuit inv, which the design does not hold":  stranger,
		"instance second of circuit a_chain_of_inverters_with_a_name_that_is_rather_long gives 0 nets to circuit inv, which has 4 ports": short,
		"circuit c: device M1 has no net on its terminal b":                                                                              flat(mosDevice("", netlist.NMOS, "n", 0, 0, 0, netlist.NoNet)),
		"circuit c: device R1 has neither a value nor a model":                                                                           flat(two(netlist.Resistor, "", math.NaN(), 0, 1)),
		"circuit c: device R1: its value is not finite":                                                                                  flat(two(netlist.Resistor, "", math.Inf(1), 0, 1)),
		"circuit c: device M1: W = NaN nm is no length":                                                                                  flat(wide),
		"circuit c: device D1: AREA = -1 nm² is no area":                                                                                 flat(large),
		"circuit c: device 1 is of no kind that can be written":                                                                          flat(netlist.Device{}),
	} {
		if err := Write(&strings.Builder{}, d, WriteOptions{}); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
	err := Write(&strings.Builder{}, inverters(), WriteOptions{Ground: "A"})
	if err == nil || err.Error() != "no net is called \"A\", so it cannot be ground\n    a label gives a net its name" {
		t.Errorf("a net of an inner circuit as ground: %v", err)
	}
	if err := Write(brokenWriter{}, inverters(), WriteOptions{}); err == nil || err.Error() != "the disk is full" {
		t.Errorf("broken writer: %v", err)
	}
}

// TestMeasuredWithoutValue: capacitors and resistors of which a drawing gives a size and no value are lines that we and
// ngspice read, and say what is unknown. ngspice's capacitor model is CJ·W·L + 2·CJSW·(W + L) (its manual, from memory): of
// 250 µm² and 220 µm at 38 aF/µm² and 41 aF/µm it must make 18520 aF, of 10 squares at 7 ohm 70 ohm.
func TestMeasuredWithoutValue(t *testing.T) {
	c := netsNamed("a", "b")
	c.Name = "passive"
	c.Ports = []netlist.Net{0, 1}
	plates, round, strip, forked := two(netlist.Capacitor, "cp", math.NaN(), 0, 1), two(netlist.Capacitor, "cp", math.NaN(), 0, 1),
		two(netlist.Resistor, "rp", math.NaN(), 0, 1), two(netlist.Resistor, "rp", math.NaN(), 0, 1)
	plates.Area, plates.Perim = 250e6, 220e3
	round.Area, round.Perim = 100e6, 36e3 // rounder than a square
	strip.Area, strip.W, strip.L = 10e6, 1000, 10000
	forked.Area = 10e6
	c.Devices = []netlist.Device{plates, round, strip, forked}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{})
	// W and L of the first are the roots of w² - 110·w + 250: 55 ∓ √2775.
	for _, line := range []string{
		"C1 a b cp W=2.321731u L=107.678269u ; value unknown: W and L are of the rectangle with the area and perimeter of the plates",
		"C2 a b cp W=10u L=10u ; value unknown: W and L are of the square with the area of the plates",
		"R3 a b rp W=1u L=10u ; value unknown",
		"R4 a b rp ; value, W and L unknown",
	} {
		if !strings.Contains(text, "\n"+line+"\n") {
			t.Errorf("no line %q in\n%s", line, text)
		}
	}
	back := readFlat(t, text, "passive")
	if len(back.Devices) != 4 || !math.IsNaN(back.Devices[0].Value) || back.Devices[2].L != 10000 {
		t.Errorf("reads back as %+v", back.Devices)
	}
	deck := text + "\n.model cp c cj=38u cjsw=41p\n.model rp r rsh=7\nV1 in 0 1\nX1 in 0 passive\n"
	said := accept(t, deck, "op\nprint @c.x1.c1[capacitance] @r.x1.r3[resistance]")
	if v := printed(t, said, "@c.x1.c1[capacitance]"); math.Abs(v/18520e-18-1) > 1e-5 {
		t.Errorf("ngspice makes %v F of the plates", v)
	}
	if v := printed(t, said, "@r.x1.r3[resistance]"); math.Abs(v/70-1) > 1e-9 {
		t.Errorf("ngspice makes %v ohm of the strip", v)
	}
}

// TestWriteProcess: level-1 cards of a preset, one for a model; λ is 0.05 over the shortest gate in µm by presets.txt, here
// 0.05/0.4, and KP the mobility times ε/14 nm. What is no transistor or diode keeps its placeholder, and so does one without L.
func TestWriteProcess(t *testing.T) {
	c := pixel()
	short, long := mosDevice("a", netlist.NMOS, "nfet", 3, 3, 3, 0), mosDevice("b", netlist.NMOS, "nfet", 3, 3, 3, 0)
	short.L, long.L = 400, 800
	c.Devices = append([]netlist.Device{long, short}, c.Devices[1:]...) // the second of these, a pfet, has no L
	p, err := Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	text := write(t, &netlist.Design{Circuits: []*netlist.Circuit{c}}, WriteOptions{Process: p})
	for _, want := range []string{
		"\n* Level-1 cards of preset 0.5um: a process of that kind, and not this one but for what its stack states.\n",
		"\n.model nfet nmos level=1 vto=0.7 kp=0.000114", " lambda=0.125 tox=1.4e-08 ", " ; lambda for L = 0.4 um, the shortest\n",
		"\n.model mos_unknown nmos level=1 ", " ; polarity unknown, n assumed\n",
		"\n.model photodiode d is=1e-08 cjo=0.00042 m=0.44 ",
		"\n.model pfet pmos ; SPICE's defaults, not this process\n", "\n.model rppd r rsh=1 ; 1 ohm per square is a placeholder",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q:\n%s", want, text)
		}
	}
	if strings.Contains(text, "* Placeholders") || strings.Count(text, ".model nfet ") != 1 {
		t.Errorf("got\n%s", text)
	}
}
