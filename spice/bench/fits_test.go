package bench

import (
	"math"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
)

// TestFits: what a bench needs, and what it says where that is missing.
func TestFits(t *testing.T) {
	pixel := circuit(t, pixelText)
	nand := circuit(t, nandText)
	nameless := circuit(t, pixelText)
	for i := range nameless.Nets {
		nameless.Nets[i].Name = ""
	}
	log := circuit(t, ".subckt log SEL VDD COL VSS\nM1 VDD VDD PD VSS nmos W=1u L=1u\nM2 VDD PD X VSS nmos W=1u L=1u\nM3 X SEL COL VSS nmos W=1u L=1u\nD1 VSS PD photodiode AREA=1p\n.ends\n")
	two := circuit(t, strings.Replace(pixelText, ".ends", "MR2 VDD RST PD2 VSS nmos W=1u L=1u\nMS2 VDD PD2 M2 VSS nmos W=2u L=1u\nMSEL2 M2 SEL COL VSS nmos W=2u L=1u\nDPD2 VSS PD2 photodiode AREA=15p\n.ends", 1))
	for _, tc := range []struct {
		bench string
		c     *netlist.Circuit
		ports map[string]netlist.Net
		fits  bool
		why   string
	}{
		{"pixel", pixel, nil, true, "nmos MRST between supply and PD, gate RST; follower nmos MSF on it; nmos MSEL to the column COL, gate SEL"},
		{"pixel", nand, nil, false, "there is no photodiode with a gate on its node\n    if a net is one, say --port pd=NET"},
		{"pixel", log, nil, false, "this pixel is logarithmic"},
		{"pixel", two, nil, false, "there are 2 of what could be photodiode with a gate on its node (PD, PD2)\n    say which with --port pd=NET"},
		{"pixel", two, map[string]netlist.Net{"pd": netCalled(t, two, "PD2")}, true, "between supply and PD2"},
		{"pixel", nameless, nil, false, "no supply is found"}, // the anode says what ground is, and nothing what the supply is
		{"pixel4t", pixel, nil, false, "no photodiode with a transfer gate"},
		{"gate", nand, nil, true, "inputs A, B: gates alone hang on them; outputs Y; switches decide 4 of 4"},
		{"inverter", nand, nil, false, "there is no input of an inverter"},
		{"clocked", nand, nil, false, "no input has a usual name for clk"},
		{"oscillator", nand, nil, false, "no odd ring"},
		{"mirror", nand, nil, false, "connected as a diode"},
		{"switch", nand, nil, false, "no transistor stands out by its W/L"},
		{"pump", nand, nil, false, "no net has a usual name for clk"},
		{"amplifier", nand, nil, false, "no net has a usual name for in"},
		{"operating", nand, nil, true, "supply VDD by its name"},
		{"gate", nand, map[string]netlist.Net{"base": 0}, false, `has no port "base"`},
		{"gate", nand, map[string]netlist.Net{"in1": 0, "in2": 99}, false, "port in2 is on no net"},
	} {
		b, err := Named(tc.bench)
		if err != nil {
			t.Fatal(err)
		}
		ok, why := b.Fits(tc.c, tc.ports)
		if ok != tc.fits || !strings.Contains(why, tc.why) {
			t.Errorf("%s: fits %v, %s\nwant %v, %s", tc.bench, ok, why, tc.fits, tc.why)
		}
	}
	if _, err := Named("nonsense"); err == nil || !strings.Contains(err.Error(), "there are pixel, pixel4t") {
		t.Errorf("error %v", err)
	}
}

// TestSupplies: what is given comes before names, names before ties.
func TestSupplies(t *testing.T) {
	c := circuit(t, ".subckt s a b c d VDDA\nM1 a b c d nmos W=1u L=1u\nM2 a b VDDA w pmos W=1u L=1u\n.ends\n")
	net := func(name string) netlist.Net { return netCalled(t, c, name) }
	v := newView(c, nil)
	if v.vdd != net("VDDA") || v.vss != net("d") || !v.isSupply(net("w")) || v.isRail(net("a")) {
		t.Errorf("supplies %v, ground %v: %v", v.supplies, v.vss, v.why)
	}
	v = newView(c, map[string]netlist.Net{"vdd": net("b"), "vss": net("c"), "in": net("VDDA")})
	if v.vdd != net("b") || v.vss != net("c") || v.isSupply(net("VDDA")) || !v.isGround(net("d")) {
		t.Errorf("supplies %v, ground %v: %v", v.supplies, v.vss, v.why)
	}
	for name, want := range map[string]bool{"VDD": true, "vdd!": true, "VDD2": true, "VDD_IO": true, "x1/VDD": true, "VDDX": false, "AVDD": true, "VDD<0>": true, "": false, "SVDD": false} {
		if called(name, supplyNames) != want {
			t.Errorf("%q a supply: %v", name, !want)
		}
	}
}

// TestSettle: switches, against truth tables of the trade.
func TestSettle(t *testing.T) {
	c := circuit(t, nandText)
	v := newView(c, nil)
	a, b, y := netCalled(t, c, "A"), netCalled(t, c, "B"), netCalled(t, c, "Y")
	for row, want := range []level{high, high, high, low} {
		if got := settle(v, map[netlist.Net]level{a: levelOf(row&1 == 1), b: levelOf(row&2 == 2)})[y]; got != want {
			t.Errorf("NAND of %02b is %d", row, got)
		}
	}
	// One input unknown: low decides, high does not.
	if got := settle(v, map[netlist.Net]level{a: low, b: unknown})[y]; got != high {
		t.Errorf("NAND of 0 and nobody knows is %d", got)
	}
	if got := settle(v, map[netlist.Net]level{a: high, b: unknown})[y]; got != unknown {
		t.Errorf("NAND of 1 and nobody knows is %d", got)
	}
	tri := circuit(t, ".subckt t A EN ENB Y VDD VSS\nM1 Y EN x VSS nmos W=1u L=1u\nM2 x A VSS VSS nmos W=1u L=1u\nM3 Y ENB z VDD pmos W=1u L=1u\nM4 z A VDD VDD pmos W=1u L=1u\n.ends\n")
	v = newView(tri, nil)
	net := func(name string) netlist.Net { return netCalled(t, tri, name) }
	if got := settle(v, map[netlist.Net]level{net("A"): high, net("EN"): low, net("ENB"): high})[net("Y")]; got != loose {
		t.Errorf("a driver that is off leaves its output at %d", got)
	}
	cross := circuit(t, ".subckt l Q VDD VSS\nM1 Q n VSS VSS nmos W=1u L=1u\nM2 Q n VDD VDD pmos W=1u L=1u\nM3 n Q VSS VSS nmos W=1u L=1u\nM4 n Q VDD VDD pmos W=1u L=1u\n.ends\n")
	if got := settle(newView(cross, nil), nil)[netCalled(t, cross, "Q")]; got != unknown {
		t.Errorf("a latch that nothing sets is at %d", got)
	}
}

func TestTemplates(t *testing.T) {
	for text, want := range map[string]string{
		"about x\nrun op: op":                 "wants bench, about and run",
		"bench x\nabout y\nport a\nrun o: op": "x:3: port NAME",
		"bench x\nV1 a 0 1":                   `x:2: "V1" is nothing that stands there`,
		"bench x\nsave v(a)":                  "x:2: save without run",
		"bench x\nrun op":                     "x:2: run NAME: COMMAND",
	} {
		if _, err := parseTemplate("x", text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want %s", text, err, want)
		}
	}
	p, err := parseTemplate("x", "bench x\nabout y\nport in | what | IN\ndeck\nV1 <in> 0 {v}\nR1 <in> 0 {r}\nrun o: op\nbefore alter V1 = {w}\nsave v(<in>) i(V1)\n")
	if err != nil {
		t.Fatal(err)
	}
	lines, runs := p.fill(func(s string) string { return "node_" + s }, texts{"v": "1", "r": "-", "w": "2"})
	if len(lines) != 1 || lines[0] != "V1 node_in 0 1" || len(runs) != 1 || runs[0].Before[0] != "alter V1 = 2" || strings.Join(runs[0].Save, " ") != "v(node_in) i(V1)" {
		t.Errorf("%q %+v", lines, runs)
	}
	for _, b := range All() {
		if !strings.Contains(b.Template(), "bench "+b.Name()) || b.About() == "" {
			t.Errorf("template of %s", b.Name())
		}
	}
}

// TestDeckOfStrangers: a circuit whose names are commands, and are those of the bench's own elements: the deck is safe, says
// the same every time, and every element has its place.
func TestDeckOfStrangers(t *testing.T) {
	c := circuit(t, nandText)
	evil := []string{"A\n.control\nshell touch /tmp/x\n.endc", "`touch x`", "Vin1", "load", "time", ".include /etc/passwd"}
	for i := range c.Devices {
		c.Devices[i].Name = evil[i]
		c.Devices[i].Model = evil[(i+1)%len(evil)]
		c.Devices[i].At.X = 1000
	}
	for i := range c.Nets {
		if n := c.Nets[i].Name; n == "A" || n == "B" || n == "Y" {
			c.Nets[i].Name = evil[i%3] + n
		}
	}
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	setup := Setup{Circuit: c, Process: p}
	before := *c
	d, err := gateBench.Deck(setup)
	if err != nil {
		t.Fatal(err)
	}
	text := d.Text()
	for _, s := range []string{"shell", "`", "\n.include", "/etc"} {
		if strings.Contains(strings.ReplaceAll(text, "_shell_", ""), s) && s != "shell" || strings.Contains(text, "\nshell") {
			t.Errorf("the deck holds %q:\n%s", s, text)
		}
	}
	if strings.Count(text, ".control") != 1 || strings.Count(text, "\n.") > 12 {
		t.Errorf("cards that are not ours:\n%s", text)
	}
	for range 20 {
		again, err := gateBench.Deck(setup)
		if err != nil || again.Text() != text {
			t.Fatalf("another deck of the same: %v\n%s", err, again.Text())
		}
	}
	if before.Nets[0].Name != c.Nets[0].Name || c.Devices[0].Name != evil[0] {
		t.Error("the circuit was changed")
	}
	found := 0
	for _, words := range d.Places {
		if strings.Contains(words, "at 1.000, ") {
			found++
		}
	}
	if found != len(c.Devices) {
		t.Errorf("%d of %d devices have a place: %v", found, len(c.Devices), d.Places)
	}
	simulated(t, "gate", setup)
}

func TestWave(t *testing.T) {
	w := wave{[]float64{0, 1, 2, 3}, []float64{0, 2, 2, -2}}
	if w.at(0.5) != 1 || w.at(-1) != 0 || w.at(9) != -2 || w.at(2.25) != 1 || w.slope(0, 1) != 2 {
		t.Errorf("values %v %v %v %v", w.at(0.5), w.at(-1), w.at(9), w.at(2.25))
	}
	if up, down := w.crossings(1, true), w.crossings(0, false); len(up) != 1 || up[0] != 0.5 || len(down) != 1 || down[0] != 2.5 {
		t.Errorf("crossings %v %v", up, down)
	}
	if x := w.first(1, true, 1); !math.IsNaN(x) {
		t.Errorf("first %v", x)
	}
	if m := w.mean(0, 3); math.Abs(m-1) > 1e-12 { // 1 + 2 + 0 over 3
		t.Errorf("mean %v", m)
	}
	if x := root(func(x float64) float64 { return x*x - 2 }, 0, 2); math.Abs(x-math.Sqrt2) > 1e-12 {
		t.Errorf("root %v", x)
	}
	if l := linearity([]float64{0, 1, 2}, []float64{0, 1, 2}); l > 1e-12 {
		t.Errorf("linearity of a line %v", l)
	}
	// 0, 1, 1: the best line is 1/6 + x/2, which misses the middle by 1/3.
	if l := linearity([]float64{0, 1, 2}, []float64{0, 1, 1}); math.Abs(l-1.0/3) > 1e-12 {
		t.Errorf("linearity %v", l)
	}
}

// TestAgrees: a figure differs where it should.
func TestAgrees(t *testing.T) {
	f := Figure{Measured: 1.02, Expected: 1, Tolerance: 0.01}
	if f.Agrees() {
		t.Error("2 % agree to 1 %")
	}
	if f.Measured = 1.005; !f.Agrees() {
		t.Error("0.5 % do not")
	}
	if f.Measured = math.NaN(); f.Agrees() {
		t.Error("nothing measured agrees")
	}
}
