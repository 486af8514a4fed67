package spice

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/spice/simulate/simulatetest"
)

// level1Points are terminal voltages and the current into the drain. Cards: the 0.8 µm example process of Allen and Holberg,
// CMOS Analog Circuit Design (from memory); currents by a program apart from this one and by ngspice-39, which differ by 5.5 pA
// at most.
const level1Points = `n,10,2,5,5,0,0,6.101700e-3
n,10,2,0.1,5,0,0,2.346850e-4
n,10,2,1,2,0,0,4.576000e-4
n,10,2,1.3,2,0,0,4.889170e-4
n,10,2,3,2,0,0,5.205200e-4
n,10,2,5,0.7,0,0,0
n,10,2,5,0.8,0,0,3.300000e-6
n,10,2,3,3,1,0,3.679989013e-4
n,10,2,5,4,2,0,2.942338727e-4
n,10,2,3,2,0,-2,2.942338727e-4
n,4,0.8,0.5,3,0,-5,4.010244265e-4
n,4,0.8,1,3.3,2,0,-5.223091120e-4
n,4,0.8,3.3,3.3,2.2,0,8.214004556e-7
n,10,2,2,2,0,0.3,5.588347605e-4
p,20,2,0,0,5,5,-5.778125e-3
p,20,2,4.9,0,5,5,-2.135625e-4
p,20,2,2,3,5,5,-4.858750e-4
p,20,2,0,1,3,5,-2.106768923e-4
p,20,2,3.3,4.3,5,5,0
p,8,0.8,5,0,2,5,4.830000e-3
`

var (
	exampleN = Level1{VTO: 0.7, KP: 110e-6, Gamma: 0.4, Lambda: 0.04, Phi: 0.7}
	exampleP = Level1{P: true, VTO: -0.7, KP: 50e-6, Gamma: 0.57, Lambda: 0.05, Phi: 0.8}
)

func TestLevel1Points(t *testing.T) {
	rows, err := csv.NewReader(strings.NewReader(level1Points)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rows {
		var v [7]float64
		for k := range v {
			if v[k], err = strconv.ParseFloat(r[k+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		m := exampleN
		if r[0] == "p" {
			m = exampleP
		}
		o := m.At(v[0], v[1], v[2], v[3], v[4], v[5])
		if math.Abs(o.ID-v[6]) > 1e-9*math.Abs(v[6])+1e-11 {
			t.Errorf("point %d: %.9g A, want %.9g", i+1, o.ID, v[6])
		}
	}
}

// TestLevel1Derivatives: against differences of the current, at random points.
func TestLevel1Derivatives(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	const h = 1e-6
	for range 2000 {
		m := exampleN
		vd, vg, vs, vb := rnd.Float64()*5, rnd.Float64()*5, rnd.Float64()*2, -rnd.Float64()*3
		o := m.At(10, 2, vd, vg, vs, vb)
		vds := math.Abs(vd - vs)
		end := min(vd, vs)
		if v := vg - end - o.VT; math.Abs(v) < 1e-4 || math.Abs(v-vds) < 1e-4 || vds < 1e-4 {
			continue // a kink is near
		}
		size := func(dd, dg, db float64) float64 {
			if vd >= vs {
				return m.At(10, 2, vd+dd, vg+dg, vs, vb+db).ID
			}
			return -m.At(10, 2, vd, vg+dg, vs+dd, vb+db).ID
		}
		for k, want := range []float64{o.GDS, o.GM, o.GMB} {
			var d [3]float64
			d[k] = h
			got := (size(d[0], d[1], d[2]) - size(-d[0], -d[1], -d[2])) / (2 * h)
			if math.Abs(got-want) > 1e-5*math.Abs(want)+1e-10 {
				t.Fatalf("%v %v %v %v: derivative %d is %g, want %g", vd, vg, vs, vb, k, want, got)
			}
		}
	}
}

// TestLevel1InSimulator: our formula against ngspice, to 0.1 %, over W, L, VGS, VDS and VBS, for both polarities of all presets,
// with the very cards that List writes.
func TestLevel1InSimulator(t *testing.T) {
	simulatetest.Path(t)
	for _, name := range PresetNames() {
		p, err := Preset(name)
		if err != nil {
			t.Fatal(err)
		}
		c := &netlist.Circuit{Name: "grid"}
		type point struct{ w, l, vg, vd, vb float64 }
		var points []point
		var sources strings.Builder
		net := func(i int, k string, v float64) netlist.Net {
			name := fmt.Sprintf("%s%d", k, i)
			c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
			fmt.Fprintf(&sources, "V%s %s 0 %g\n", name, name, v)
			return netlist.Net(len(c.Nets) - 1)
		}
		c.Nets = append(c.Nets, netlist.NetInfo{Name: "0", Global: true})
		for _, w := range []float64{600, 2000, 20000} {
			for _, l := range []float64{350, 800, 5000} {
				for _, vg := range []float64{0.3, 1.1, 2, 3.3, 5} {
					for _, vd := range []float64{0.05, 0.7, 2.5, 5, -0.5} {
						for _, vb := range []float64{0, -0.5, -3} {
							for _, sign := range []float64{1, -1} {
								i := len(points)
								points = append(points, point{w, l, sign * vg, sign * vd, sign * vb})
								kind := netlist.NMOS
								if sign < 0 {
									kind = netlist.PMOS
								}
								c.Devices = append(c.Devices, netlist.Device{Kind: kind, Model: fmt.Sprint(kind), W: w, L: l, Value: math.NaN(),
									Terminals: [4]netlist.Net{net(i, "d", sign*vd), net(i, "g", sign*vg), 0, net(i, "b", sign*vb)}})
							}
						}
					}
				}
			}
		}
		l, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p})
		if err != nil {
			t.Fatal(err)
		}
		var show strings.Builder
		for i := range points {
			fmt.Fprintf(&show, "print i(vd%d)\n", i)
		}
		said := accept(t, "grid\n"+l.Text+l.Cards+sources.String()+".options gmin=1e-18 reltol=1e-6 abstol=1e-18\n", "op\n"+show.String())
		currents := map[string]float64{} // 1,350 of them: searching for each takes long
		for _, line := range strings.Split(said, "\n") {
			if name, value, ok := strings.Cut(line, " = "); ok {
				if v, err := strconv.ParseFloat(strings.TrimSpace(value), 64); err == nil {
					currents[name] = v
				}
			}
		}
		conducting, held := 0, 0
		for i, q := range points {
			o := p.Level1(c.Devices[i].Kind == netlist.PMOS, q.l).At(q.w, q.l, q.vd, q.vg, 0, q.vb)
			got, ok := currents[fmt.Sprintf("i(vd%d)", i)]
			if got = -got; !ok {
				t.Fatalf("no current %d", i)
			}
			if math.Abs(o.ID) > 1e-9 {
				conducting++
			}
			if q.vd*q.vg < 0 && math.Abs(q.vb) < math.Abs(q.vd) {
				continue // the drain's junction conducts
			}
			held++
			if math.Abs(got-o.ID) > 1e-3*math.Abs(o.ID)+1e-11 {
				t.Errorf("%s: %v W %g L %g VG %g VD %g VB %g: ngspice has %g A, the formula %g", name, c.Devices[i].Kind, q.w, q.l, q.vg, q.vd, q.vb, got, o.ID)
			}
		}
		if conducting < 800 || held < 1000 {
			t.Errorf("%s: only %d of %d points conduct, %d are held against the formula", name, conducting, len(points), held)
		}
	}
}

// TestJunction: the photodiode of 5 µm × 5 µm: figures by quadrature of a program apart from this one.
func TestJunction(t *testing.T) {
	tr := &Transistor{CJ: 5.6e-4, CJSW: 3.5e-10, MJ: 0.45, MJSW: 0.2, PB: 0.8}
	for v, want := range map[float64]float64{0: 21.0, 0.5: 17.60462, 1: 15.67153, 1.5: 14.37167, 2: 13.41564, 2.5: 12.67170, 3.3: 11.75913} {
		if got := tr.Junction(25e6, 20e3, v) * 1e15; !near(got, want, 1e-6) {
			t.Errorf("at %g V %.7g fF, want %.7g", v, got, want)
		}
	}
}

func TestPresets(t *testing.T) {
	if got := strings.Join(PresetNames(), " "); got != "0.8um 0.5um 0.35um" {
		t.Errorf("presets %s", got)
	}
	p, err := Preset("0.8um")
	if err != nil {
		t.Fatal(err)
	}
	// The example of Allen and Holberg has KP 110 and 50 µA/V² (from memory).
	if n, q := p.Level1(false, 1000), p.Level1(true, 1000); !near(n.KP, 110e-6, 2e-3) || !near(q.KP, 50e-6, 2e-3) || !near(n.Lambda, 0.04, 1e-12) {
		t.Errorf("KP %g and %g, LAMBDA %g", n.KP, q.KP, n.Lambda)
	}
	if _, err := Preset("7nm"); err == nil || !strings.Contains(err.Error(), "there are 0.8um, 0.5um, 0.35um") {
		t.Errorf("error %v", err)
	}
	for l, want := range map[float64]string{2000: "0.8um", 800: "0.8um", 600: "0.5um", 500: "0.5um", 350: "0.35um", 130: "0.35um"} {
		if got := Nearest(l); got != want {
			t.Errorf("nearest to %g nm is %s, want %s", l, got, want)
		}
	}
	for text, want := range map[string]string{
		"preset x\n vto 1 -1\n":              "presets.txt:2: vto has no source",
		"preset x\n vto 1 | s\n":             "presets.txt:2: vto wants 2 values",
		"preset x\n wto 1 | s\n":             `presets.txt:2: there is no figure "wto"`,
		"vto 1 -1 | s\n":                     "a figure before the first preset",
		"preset x\n dark a | s\n":            `"a" is no number`,
		"preset x\n dark 1 | s\n":            "lacks",
		"preset x\ndark 1 | s\ndark 1 | s\n": "twice",
	} {
		if _, err := parsePresets(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want %s", text, err, want)
		}
	}
}

func TestWithStack(t *testing.T) {
	p, _ := Preset("0.5um")
	st := &stack.Stack{Process: stack.Process{GateOxideNm: 28, SupplyV: 3}, Layers: []stack.Layer{{Name: "poly", Role: stack.Gate, SheetOhm: 30}},
		Resistors: []stack.ResistorRule{{Model: "Rpoly", Body: 0}}}
	q := p.With(st)
	if q.GateOxideNm != 28 || q.SupplyV != 3 || q.SheetGate != 30 || q.Resistors["rpoly"] != 30 || q.Sources["supply_v"] != "stated in the stack" {
		t.Errorf("%+v", q)
	}
	if !near(q.N.Gamma, 2*p.N.Gamma, 1e-12) || !near(q.Level1(false, 500).KP, p.Level1(false, 500).KP/2, 1e-12) {
		t.Error("twice the oxide is twice the body effect and half of KP")
	}
	if p.GateOxideNm != 14 || p.Sources["supply_v"] != "common practice" {
		t.Error("the preset itself was changed")
	}
}

func TestListErrors(t *testing.T) {
	p, _ := Preset("0.5um")
	four := [4]netlist.Net{0, 1, 2, 2}
	two := [4]netlist.Net{0, 1, netlist.NoNet, netlist.NoNet}
	nan := math.NaN()
	for want, d := range map[string]netlist.Device{
		"mos M1 at 1.000, 2.000 µm: nobody knows whether it is an n- or a p-channel": {Kind: netlist.MOS, Terminals: four, W: 1000, L: 500, Value: nan},
		"nmos M1 at 1.000, 2.000 µm: its W or L is not known":                        {Kind: netlist.NMOS, Terminals: four, W: 1000, Value: nan},
		"resistor R1 at 1.000, 2.000 µm: has no value, and the sheet resistance":     {Kind: netlist.Resistor, Terminals: two, Model: "wireres", W: 1000, L: 5000, Value: nan},
		"capacitor C1 at 1.000, 2.000 µm: has no value":                              {Kind: netlist.Capacitor, Terminals: two, Model: "mim", Area: 1e6, Value: nan},
		"bipolar Q1 at 1.000, 2.000 µm: no preset has a model for it":                {Kind: netlist.Bipolar, Terminals: [4]netlist.Net{0, 1, 2, netlist.NoNet}, Model: "q", Value: nan},
	} {
		d.At.X, d.At.Y = 1000, 2000
		c := &netlist.Circuit{Nets: make([]netlist.NetInfo, 3), Devices: []netlist.Device{d}}
		if _, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p}); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "\n    ") {
			t.Errorf("error %v\nwant %s, and a remedy", err, want)
		}
	}
	c := &netlist.Circuit{Nets: make([]netlist.NetInfo, 2), Devices: []netlist.Device{{Kind: netlist.Capacitor, Terminals: two, Model: "moscap", Area: 100e6, Value: nan}}}
	l, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p})
	// 3.9 · 8.854 pF/m / 14 nm · 100 µm² = 246.6 fF
	if err != nil || !strings.Contains(l.Text, "C1 n1 n2 2.466") || len(l.Notes) != 1 {
		t.Errorf("%v %+v", err, l)
	}
}

// TestListNamesOfStrangers: whatever names say, a line is a line, and every word of it plain.
func TestListNamesOfStrangers(t *testing.T) {
	p, _ := Preset("0.5um")
	odd := []string{"a\n.control\nshell touch x\n.endc", "`touch x`", "$(touch x)", ";x", "* c", "a b", "0", "gnd", "+", "A<0>", "a<0>", "", "ü", ".include /etc/passwd", "time"}
	c := &netlist.Circuit{}
	for _, s := range odd {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: s})
	}
	for i, s := range odd {
		k := netlist.Net(i)
		c.Devices = append(c.Devices, netlist.Device{Name: s, Model: s, Kind: netlist.NMOS, W: 1000, L: 500, Terminals: [4]netlist.Net{k, 0, 1, 2}, Value: math.NaN()},
			netlist.Device{Name: s, Model: "photo" + s, Kind: netlist.Diode, Area: 1e6, Perim: 4e3, Terminals: [4]netlist.Net{k, 3, netlist.NoNet, netlist.NoNet}, Value: math.NaN()})
	}
	l, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p})
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(l.Text, "\n"), "\n")
	if len(lines) != 3*len(odd) { // a transistor, a diode, and its dark current
		t.Errorf("%d lines, want %d:\n%s", len(lines), 3*len(odd), l.Text)
	}
	for _, s := range lines {
		if strings.Trim(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_ =.-") != "" || !strings.Contains("MDI", s[:1]) {
			t.Errorf("line %q", s)
		}
	}
	seen := map[string]bool{}
	for _, s := range l.Nodes {
		if seen[strings.ToLower(s)] || s == "0" || strings.EqualFold(s, "gnd") {
			t.Errorf("node %q", s)
		}
		seen[strings.ToLower(s)] = true
	}
	accept(t, "names\n"+l.Text+l.Cards+"R1 "+l.Nodes[0]+" 0 1k\nR2 "+l.Nodes[1]+" 0 1k\nR3 "+l.Nodes[2]+" 0 1k\nR4 "+l.Nodes[3]+" 0 1k\n", "op")
}
