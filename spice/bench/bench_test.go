package bench

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
	"undermetal/spice/simulate/simulatetest"
)

// circuit reads a netlist with one subcircuit.
func circuit(t testing.TB, text string) *netlist.Circuit {
	t.Helper()
	d, err := spice.Read("test.sp", strings.NewReader("* test\n"+text), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := netlist.Flatten(d, d.Circuits[len(d.Circuits)-1])
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func netCalled(t testing.TB, c *netlist.Circuit, name string) netlist.Net {
	t.Helper()
	for i := range c.Nets {
		if strings.EqualFold(c.Nets[i].Name, name) {
			return netlist.Net(i)
		}
	}
	t.Fatalf("no net %s", name)
	return netlist.NoNet
}

// example is the process of the hand calculations: cards of the 0.8 µm example of Allen and Holberg, CMOS Analog Circuit Design
// (from memory), λ for a length in µm, without any capacitance but what a circuit states.
func example(supply, lengthUm float64) *spice.Process {
	const thick = 1e6 // nm: 1 mm of oxide holds no charge worth a name
	cox := 3.9 * 8.854214871e-12 / (thick * 1e-9)
	return &spice.Process{Name: "example", GateOxideNm: thick, SupplyV: supply, Responsivity: 0.25,
		N: spice.Transistor{Mobility: 110e-6 / cox * 1e4, VTO: 0.7, Gamma: 0.4, Phi: 0.7, LambdaUm: 0.04 * lengthUm, MJ: 0.5, PB: 0.8, MJSW: 0.3},
		P: spice.Transistor{Mobility: 50e-6 / cox * 1e4, VTO: -0.7, Gamma: 0.57, Phi: 0.8, LambdaUm: 0.05 * lengthUm, MJ: 0.5, PB: 0.8, MJSW: 0.3}}
}

// simulated runs a bench on a circuit and returns its figures by name.
func simulated(t testing.TB, name string, setup Setup) map[string]Figure {
	t.Helper()
	b, err := Named(name)
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Deck(setup)
	if err != nil {
		t.Fatal(err)
	}
	r, err := (&simulate.Runner{Program: simulatetest.Path(t)}).Run(context.Background(), d)
	if err != nil {
		t.Fatalf("%v\n%s", err, d.Text())
	}
	list, err := b.Figures(setup, r)
	if err != nil {
		t.Fatal(err)
	}
	m := map[string]Figure{}
	for _, f := range list {
		t.Logf("%-50s %12.6g %12.6g %s  %s", f.Name, f.Measured, f.Expected, f.Unit, f.Formula)
		m[f.Name] = f
		if math.IsNaN(f.Measured) {
			t.Errorf("%s: not measured", f.Name)
		} else if !f.Agrees() {
			t.Errorf("%s: measured %g, expected %g ± %g of it", f.Name, f.Measured, f.Expected, f.Tolerance)
		}
	}
	return m
}

// within holds a measured figure against a hand calculation to 1 %.
func within(t *testing.T, m map[string]Figure, name string, want float64, source string) {
	t.Helper()
	f, ok := m[name]
	if !ok {
		t.Errorf("there is no figure %q", name)
	} else if math.Abs(f.Measured-want) > 0.01*math.Abs(want) {
		t.Errorf("%s: measured %g, by hand %g (%s)", name, f.Measured, want, source)
	}
}

func TestInverter(t *testing.T) {
	for _, tc := range []struct {
		wn, wp string
		vdd    float64
		want   float64
	}{ // by hand with λ; ngspice has the same to 7 digits
		{"2u", "4u", 5, 2.468376}, {"2u", "2u", 5, 2.170995}, {"2u", "4.4u", 3.3, 1.653577}, {"10u", "2u", 3.3, 1.149895},
	} {
		c := circuit(t, ".subckt inv A Y VDD VSS\nMn Y A VSS VSS nmos W="+tc.wn+" L=1u\nMp Y A VDD VDD pmos W="+tc.wp+" L=1u\n.ends\n")
		m := simulated(t, "inverter", Setup{Circuit: c, Process: example(tc.vdd, 1)})
		within(t, m, "threshold, in = out", tc.want, "In(V) = Ip(V) by hand, λ 0.04 and 0.05")
	}
}

func TestMirror(t *testing.T) {
	c := circuit(t, ".subckt mirror IN OUT VSS\nM1 IN IN VSS VSS nmos W=10u L=2u\nM2 OUT IN VSS VSS nmos W=30u L=2u\n.ends\n")
	m := simulated(t, "mirror", Setup{Circuit: c, Process: example(5, 2)})
	const v1 = 0.887396
	within(t, m, "|VGS| at 10 µA", v1, "VT + √(2I/β), with λ 0.04; 0.890693 without")
	within(t, m, "ratio at half of the supply", 3*(1+0.04*2.5)/(1+0.04*v1), "(W2/W1)(1 + λV2)/(1 + λV1)")
	p := circuit(t, ".subckt mirror IN OUT VDD VSS\nM1 IN IN VDD VDD pmos W=10u L=2u\nM2 OUT IN VDD VDD pmos W=30u L=2u\n.ends\n")
	simulated(t, "mirror", Setup{Circuit: p, Process: example(5, 2)})
}

func TestFollower(t *testing.T) {
	c := circuit(t, ".subckt f IN OUT VDD VSS\nM1 VDD IN OUT VSS nmos W=10u L=1u\n.ends\n")
	m := simulated(t, "follower", Setup{Circuit: c, Process: example(5, 1)})
	within(t, m, "output at 3 V", 1.866715, "by hand: 10 µA through 10/1 with VIN 3 V, bulk at 0")
	within(t, m, "gain", 157.3445/(157.3445+19.6423+0.355451), "gm/(gm + gmb + gds) by hand")
	p := circuit(t, ".subckt f IN OUT VDD VSS\nM1 VSS IN OUT VDD pmos W=10u L=1u\n.ends\n")
	simulated(t, "follower", Setup{Circuit: p, Process: example(5, 1)})
}

func TestAmplifier(t *testing.T) {
	c := circuit(t, ".subckt cs IN OUT VDD VSS\nM1 OUT IN VSS VSS nmos W=10u L=2u\nR1 VDD OUT 20k\n.ends\n")
	m := simulated(t, "amplifier", Setup{Circuit: c, Process: example(5, 2)})
	// By hand, V = VIN = VOUT: 550 µA/V² / 2 · (V − 0.7)²·(1 + 0.04 V) = (5 − V)/20k; halved by bisection here.
	a, b := 0.8, 4.9
	for range 100 {
		if v := (a + b) / 2; 275e-6*(v-0.7)*(v-0.7)*(1+0.04*v) > (5-v)/20e3 {
			b = v
		} else {
			a = v
		}
	}
	within(t, m, "output where in = out", a, "node equation")
	gm, gds := 550e-6*(a-0.7)*(1+0.04*a), 275e-6*(a-0.7)*(a-0.7)*0.04
	within(t, m, "gain at 1 Hz", gm/(gds+1/20e3), "gm/(gds + 1/R)")
	within(t, m, "bandwidth, 1 pF", (gds+1/20e3)/(2*math.Pi*1e-12)/1e6, "(gds + 1/R)/2πC")
	ota := circuit(t, `.subckt ota INP INN OUT BIAS VDD VSS
M1 x INN tail VSS nmos W=10u L=2u
M2 OUT INP tail VSS nmos W=10u L=2u
M3 x x VDD VDD pmos W=20u L=2u
M4 OUT x VDD VDD pmos W=20u L=2u
M5 tail BIAS VSS VSS nmos W=10u L=2u
.ends
`)
	m = simulated(t, "amplifier", Setup{Circuit: ota, Process: example(5, 2)})
	// Each side of the pair carries 5 µA (1 + λ·VDS of the tail, 2 % more): gm/(gdsn + gdsp) = √(2·550µ·5µ)/(5µ·(0.04 + 0.05)),
	// without 1 + λV: 5 % are left to that.
	if f, want := m["gain at 1 Hz"], math.Sqrt(2*550e-6*5e-6)/(5e-6*0.09); math.Abs(f.Measured/want-1) > 0.15 {
		t.Errorf("gain of the pair %g, by hand about %g", f.Measured, want)
	}
}

func TestOscillator(t *testing.T) {
	c := circuit(t, `.subckt stage A Y VDD VSS
Mn Y A VSS VSS nmos W=2u L=1u
Mp Y A VDD VDD pmos W=4u L=1u
C1 Y VSS 100f
.ends
.subckt ring OUT VDD VSS
X1 OUT n1 VDD VSS stage
X2 n1 n2 VDD VSS stage
X3 n2 n3 VDD VSS stage
X4 n3 n4 VDD VSS stage
X5 n4 OUT VDD VSS stage
.ends
`)
	for vdd, want := range map[float64]float64{5: 465.5756, 3.3: 244.3185} { // integrated with DOP853, rtol 1e-10, by another program
		within(t, simulated(t, "oscillator", Setup{Circuit: c, Process: example(vdd, 1)}), "frequency", want, "its differential equation, integrated apart")
	}
}

const pixelText = `.subckt pixel RST SEL VDD COL VSS
MRST VDD RST PD VSS nmos W=1u L=1u
MSF VDD PD MID VSS nmos W=2u L=1u
MSEL MID SEL COL VSS nmos W=2u L=1u
DPD VSS PD photodiode AREA=15p PJ=16u
CPD PD VSS 10f
.ends
`

func TestPixel(t *testing.T) {
	s := Setup{Circuit: circuit(t, pixelText), Process: example(5, 1)}
	m := simulated(t, "pixel", s)
	within(t, m, "soft-reset level", 3.787331, "V = VG − VTO − γ(√(φ + V) − √φ) by hand")
	within(t, m, "noise of a hard reset, R and C alone", math.Sqrt(1.380649e-23*300.15/10e-15)*1e6, "√(kT/C) of 10 fF")
	within(t, m, "conversion gain at the photodiode", 16.02177, "q/C of 10 fF")
	slopes := 0
	for name, f := range m {
		if i, ok := strings.CutPrefix(name, "slope at "); ok {
			slopes++
			var amps float64
			switch value, unit, _ := strings.Cut(i, " "); unit {
			case "fA":
				amps = number(t, value) * 1e-15
			case "pA":
				amps = number(t, value) * 1e-12
			}
			if want := -amps / 10e-15; math.Abs(f.Measured-want) > 0.01*math.Abs(want) {
				t.Errorf("%s: %g V/s, I/C is %g", name, f.Measured, want)
			}
		}
	}
	if slopes != 3 {
		t.Errorf("%d slopes", slopes)
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	var v float64
	if _, err := fmt.Sscan(s, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func TestPixel4(t *testing.T) {
	c := circuit(t, `.subckt pixel TX RST SEL VDD COL VSS
MTX FD TX PPD VSS nmos W=1u L=1u
MRST VDD RST FD VSS nmos W=1u L=1u
MSF VDD FD MID VSS nmos W=2u L=1u
MSEL MID SEL COL VSS nmos W=2u L=1u
DPD VSS PPD photodiode AREA=15p PJ=16u
CPD PPD VSS 10f
CFD FD VSS 3f
.ends
`)
	simulated(t, "pixel4t", Setup{Circuit: c, Process: example(5, 1)})
}

func TestPump(t *testing.T) {
	c := circuit(t, `.subckt pump CLK CLKB OUT VDD VSS
M1 VDD VDD a VSS nmos W=10u L=1u
M2 a a b VSS nmos W=10u L=1u
M3 b b OUT VSS nmos W=10u L=1u
C1 CLK a 1p
C2 CLKB b 1p
.ends
`)
	simulated(t, "pump", Setup{Circuit: c, Process: example(3.3, 1)})
}

func TestSwitch(t *testing.T) {
	c := circuit(t, ".subckt s ENB OUT VDD VSS\nM1 OUT ENB VDD VDD pmos W=1000u L=1u\nM2 x ENB VSS VSS nmos W=2u L=1u\n.ends\n")
	m := simulated(t, "switch", Setup{Circuit: c, Process: example(3.3, 1)})
	// β = 50 mA/V², v = 2.6 V, VDS = 50 mV, λ = 0.05.
	within(t, m, "resistance when on, at 50 mV", 1/(50e-3*(2.6-0.025)*(1+0.05*0.05)), "1/(β(v − VDS/2)(1 + λVDS))")
	n := circuit(t, ".subckt s EN OUT VDD VSS\nM1 OUT EN VSS VSS nmos W=1000u L=1u\n.ends\n")
	simulated(t, "switch", Setup{Circuit: n, Process: example(3.3, 1)})
}

func TestReadings(t *testing.T) {
	c := circuit(t, ".subckt r G D VDD VSS\nM1 D G D VSS nmos W=20u L=10u AS=40p AD=40p PS=24u PD=24u\nM2 VDD D VSS VSS nmos W=1u L=1u\n.ends\n")
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	m := simulated(t, "readings", Setup{Circuit: c, Process: p})
	// 3.9 · 8.854 pF/m / 14 nm · 200 µm²
	within(t, m, "if capacitor: its plate takes at 1 MHz", 3.9*8.854187e-12/14e-9*200e-12*1e15, "Cox·area")
}

func TestOperating(t *testing.T) {
	c := circuit(t, ".subckt o IN OUT VDD VSS\nM1 OUT IN VSS VSS nmos W=2u L=1u\nR1 VDD OUT 1k\nR2 OUT VSS 1k\nC1 IN VSS 1p\n.ends\n")
	m := simulated(t, "operating", Setup{Circuit: c, Process: example(5, 1)})
	within(t, m, "OUT", 2.5, "divider")
	within(t, m, "supply current", 2500, "divider")
	if f := m["IN, floats"]; f.Unit != "V" || math.Abs(f.Measured) > 1e-6 {
		t.Errorf("IN does not float: %+v", f)
	}
}

const nandText = `.subckt nand A B Y VDD VSS
M1 Y A x VSS nmos W=2u L=0.6u AS=1p AD=1p PS=3u PD=3u
M2 x B VSS VSS nmos W=2u L=0.6u
M3 Y A VDD VDD pmos W=2u L=0.6u
M4 Y B VDD VDD pmos W=2u L=0.6u
.ends
`

func TestGate(t *testing.T) {
	p, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	m := simulated(t, "gate", Setup{Circuit: circuit(t, nandText), Process: p})
	for _, name := range []string{"Y for A=0 B=0", "Y for A=0 B=1", "Y for A=1 B=0", "Y for A=1 B=1, below the supply"} {
		within(t, m, name, 1, "a NAND is low where both inputs are high, only")
	}
}
