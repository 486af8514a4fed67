package spice

import (
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
)

// TestDialect: the dialect of the published netlists and of SPICE3; sizes follow from the lines by hand.
func TestDialect(t *testing.T) {
	d := read(t, `My circuit: this is the title
.SUBCKT inv A<3> Y vdd! vss
*.PININFO A<3>:I Y:O
MN Y A<3> vss vss sg13_lv_nmos m=1 w=640.00n

* a comment
   + l = 130.00n ng=1 nrd=0 nrs=0 ; a remark
mp Y A<3> vdd! vdd! fast_p w=1.48u l=0.13u $ another
+ ng=2 as = {2*0.1p} ad='0.1p + 0.1p' pd=1u
d0 vss A<3> dio 0.2052p 1.86u $m=1
DD1 vss Y dio m=2 w=780n l=780n a=608.4f p=3.12u // a third
D2 vss Y dio w=1u l=2u
.ENDS inv
.model fast_p pmos (level=1 vto=-1)
X1 in out vdd 0 / inv
X2 out gnd vdd GND inv m=2
.tran 1n 1u
.end
whatever follows .end is not read {
`)
	if got := circuitNames(d); !slices.Equal(got, []string{"inv", "inv#2", "deck"}) {
		t.Fatalf("circuits %v", got)
	}
	expectLines(t, d.Circuit("inv"), `
MN nmos Y A<3> vss vss sg13_lv_nmos w=640 l=130
mp pmos Y A<3> vdd! vdd! fast_p w=1480 l=130 as=200000 ad=200000 pd=1000 fingers=2
d0 diode vss A<3> dio area=205200 perim=1860
DD1 diode vss Y dio area=1.2168e+06 perim=6240
D2 diode vss Y dio area=2e+06 perim=6000
`)
	expectLines(t, d.Circuit("inv#2"), `
MN nmos Y A<3> vss vss sg13_lv_nmos w=1280 l=130 fingers=2
mp pmos Y A<3> vdd! vdd! fast_p w=2960 l=130 as=400000 ad=400000 pd=2000 fingers=4
d0 diode vss A<3> dio area=410400 perim=3720
DD1 diode vss Y dio area=2.4336e+06 perim=12480
D2 diode vss Y dio area=4e+06 perim=12000
`)
	expectLines(t, d.Circuit("deck"), "X1 inv in out vdd 0\nX2 inv#2 out 0 vdd 0\n")
	if ports := d.Circuit("inv").Ports; !slices.Equal(ports, []netlist.Net{0, 1, 2, 3}) {
		t.Errorf("ports %v", ports)
	}
}

// TestElements: one line a kind, in its usual forms.
func TestElements(t *testing.T) {
	c := readFlat(t, `* elements
.param rs=50 cs=1p
R1 a b 1k
R2 (a b) r = 2k m=2
R3 a b rppd w=1u l=2u m=2
R4 a b rppd 4k
R5 a b 4k rppd tc=0.1,0.2
R6 a b rs
R7 a b {rs*2}
C1,a,b,1p
C2 a b cmim w=1u l=1u m=3
C3 a b c='2*cs' m=2 ic=0
L1 a b 1n m=2
L2 a b l=3n
Q1 c b e npn
Q2 c b e 0 npn 2
Q3 c b e pnp1 area=3 m=2
Q4 c b e s 2n2222
Q5 c b e 2n2222 4 off
J1 d g s jm m=2
V1 a 0 1.8
V2 a 0 dc 2 ac 1
V3 a 0 pulse(0 1 0 1n 1n)
V4 a 0 DC=3
I1 a 0 1u m=2
M1 d g s b nfet off ic=1,2,3
M2 d g s b 2n7000
`, "deck")
	expectLines(t, c, `
R1 resistor a b 1000
R2 resistor a b 1000
R3 resistor a b rppd w=2000 l=2000
R4 resistor a b rppd 4000
R5 resistor a b rppd 4000
R6 resistor a b 50
R7 resistor a b 100
C1 capacitor a b 1e-12
C2 capacitor a b cmim w=3000 l=1000
C3 capacitor a b 4e-12
L1 inductor a b 5e-10
L2 inductor a b 3e-09
Q1 bipolar c b e npn
Q2 bipolar c b e 0 npn 2
Q3 bipolar c b e pnp1 6
Q4 bipolar c b e s 2n2222
Q5 bipolar c b e 2n2222 4
J1 jfet d g s jm 2
V1 voltage source a 0 1.8
V2 voltage source a 0 2
V3 voltage source a 0
V4 voltage source a 0 3
I1 current source a 0 2e-06
M1 nmos d g s b nfet
M2 mos d g s b 2n7000
`)
}

// TestParallelWithoutSize: where m multiplies nothing, there are m devices.
func TestParallelWithoutSize(t *testing.T) {
	expectLines(t, readFlat(t, "*\nD1 a c dmod m=2\nR1 a b rmod m=3\nR2 a b 1k m=2\n", "deck"), `
D1 diode a c dmod
D1#2 diode a c dmod
R1 resistor a b rmod
R1#2 resistor a b rmod
R1#3 resistor a b rmod
R2 resistor a b 500
`)
	_, err := Read("deck.sp", strings.NewReader("*\nD1 a c dmod m=1001\n"), ReadOptions{})
	if err == nil || err.Error() != "deck.sp:2: element D1: stands for 1001 devices without a size, more than 1000\n    give it an area or a value, which m multiplies" {
		t.Errorf("%v", err)
	}
}

// TestRulesInSimulator: a deck of SPICE's number and line rules gives in ngspice the voltage that
// follows from what is read here.
func TestRulesInSimulator(t *testing.T) {
	const deck = `R a 0 1k is the title, not a resistor
V1 a,0 5
* both resistors are named with case ignored
	* a comment after a tab
r1 (A b) 1k ; 1M would be a milliohm // $ *
R2 b 0

* a comment within a line that goes on

  + r = 3k // 4k
.param lo=1k hi={lo+500}
V2 c 0 1M
R3 net[3] GND 1 $ 2
R4 c net[3] 1
R5 a<1> 01 {lo}
R6 a<1> vdd! {hi}
V3 01 0 1
V4 vdd! gnd 2
V5 1 0 9
R7 vdd! a/b 1k m=1
R8 a/b n#1 1k
R9 n#1 n-1 1k
R10 n-1 n:1 1k
R11 n:1 0 1k
`
	c := readFlat(t, deck, "deck")
	expectLines(t, c, `
V1 voltage source a 0 5
r1 resistor a b 1000
R2 resistor b 0 3000
V2 voltage source c 0 0.001
R3 resistor net[3] 0 1
R4 resistor c net[3] 1
R5 resistor a<1> 01 1000
R6 resistor a<1> vdd! 1500
V3 voltage source 01 0 1
V4 voltage source vdd! 0 2
V5 voltage source 1 0 9
R7 resistor vdd! a/b 1000
R8 resistor a/b n#1 1000
R9 resistor n#1 n-1 1000
R10 resistor n-1 n:1 1000
R11 resistor n:1 0 1000
`)
	said := accept(t, strings.ReplaceAll(deck, "\n", "\r\n"), `op
print v(b) v("net[3]") v("a<1>") v("n:1") v("a/b")`)
	for name, want := range map[string]float64{"v(b)": 5 * 3.0 / 4, "v(net[3])": 0.5e-3, "v(a<1>)": 1 + 1.0*1000/2500, "v(n:1)": 0.4, "v(a/b)": 1.6} {
		if got := printed(t, said, name); !near(got, want, 1e-6) {
			t.Errorf("%s = %v in ngspice, want %v", name, got, want)
		}
	}
	// CR LF line ends make no difference
	if again := readFlat(t, strings.ReplaceAll(deck, "\n", "\r\n"), "deck"); lines(again) != lines(c) {
		t.Errorf("with CR LF:\n%s", lines(again))
	}
}

// TestHierarchy: definitions in any order, within each other, models of their own.
func TestHierarchy(t *testing.T) {
	d := read(t, `* hierarchy
X1 i o outer
.subckt outer p q
Xa p m inner
xb m q INNER
.subckt inner x y
M1 x y y y t w=1u l=1u
.model t pmos
.ends inner
.ends
.subckt inner2 x y
M1 x y y y T w=1u l=1u
.ends
.subckt empty
.ends
.subckt last x
Xe empty
X2 x x inner2
.ends
.model t nmos
`)
	if got, want := strings.Join(circuitNames(d), " "), "inner outer inner2 empty last deck"; got != want {
		t.Errorf("circuits %s, want %s", got, want)
	}
	flat, err := netlist.Flatten(d, d.Circuit("deck"))
	if err != nil {
		t.Fatal(err)
	}
	expectLines(t, flat, "X1/Xa/M1 pmos i X1/m X1/m X1/m t w=1000 l=1000\nX1/xb/M1 pmos X1/m o o o t w=1000 l=1000\n")
	expectLines(t, d.Circuit("inner2"), "M1 nmos x y y y T w=1000 l=1000\n")
	expectLines(t, d.Circuit("empty"), "")
	expectLines(t, d.Circuit("last"), "Xe empty\nX2 inner2 x x\n")
}

// TestParameters: defaults, overrides, the order of cards, circuits for each set of values. ngspice gives the same
// resistances.
func TestParameters(t *testing.T) {
	const deck = `* parameters
.param ratio={base/2}
.subckt div a b r=1k s={2*r}
.param t={s+r}
R1 a b {t}
R2 a b {s}
.ends
.subckt pair a b params: w=1 m=3
X1 a b div r={w*1k}
R9 a b {m*1k}
.ends
X1 p 0 div
X2 p 0 div r=2k
X3 p 0 div s=ratio
X4 p 0 div r = 1k
X5 p 0 pair w=2
X6 p 0 pair m=5
V1 p 0 1
.param base=1k
`
	d := read(t, deck)
	flat, err := netlist.Flatten(d, d.Circuit("deck"))
	if err != nil {
		t.Fatal(err)
	}
	// X2: s = 4k, t = 6k. X3: s = 500, t = 1500. X5 passes r = 2k on; an m in the header is a parameter like others.
	expectLines(t, flat, `
V1 voltage source p 0 1
X1/R1 resistor p 0 3000
X1/R2 resistor p 0 2000
X2/R1 resistor p 0 6000
X2/R2 resistor p 0 4000
X3/R1 resistor p 0 1500
X3/R2 resistor p 0 500
X4/R1 resistor p 0 3000
X4/R2 resistor p 0 2000
X5/R9 resistor p 0 3000
X5/X1/R1 resistor p 0 6000
X5/X1/R2 resistor p 0 4000
X6/R9 resistor p 0 5000
X6/X1/R1 resistor p 0 3000
X6/X1/R2 resistor p 0 2000
`)
	if got, want := strings.Join(circuitNames(d), " "), "div div#2 div#3 pair pair#2 deck"; got != want {
		t.Errorf("circuits %s, want %s: equal values share one", got, want)
	}
	conductance := 0.0
	for i := range flat.Devices {
		if x := &flat.Devices[i]; x.Kind == netlist.Resistor {
			conductance += 1 / x.Value
		}
	}
	if got := printed(t, accept(t, deck, "op\nprint i(v1)"), "i(v1)"); !near(got, -conductance, 1e-5) {
		t.Errorf("i(v1) = %v in ngspice, %v from what was read", got, -conductance)
	}
}

// TestUnusedDefaults: a subcircuit that is only used with other values than its own leaves no circuit with those.
func TestUnusedDefaults(t *testing.T) {
	d := read(t, "*\n.subckt leaf a\nM1 a a a a nfet w=1u l=1u\n.ends\n.subckt mid a\nX1 a leaf\n.ends\n.subckt unused a\n.ends\nX1 a mid m=2\n")
	if got, want := strings.Join(circuitNames(d), " "), "unused leaf#2 mid deck"; got != want {
		t.Errorf("circuits %s, want %s", got, want)
	}
	expectLines(t, d.Circuit("leaf#2"), "M1 nmos a a a a nfet w=2000 l=1000 fingers=2\n")
}

// TestGlobals: a global net is one net in all circuits; where it is a port as well, only itself may be given to it.
func TestGlobals(t *testing.T) {
	const deck = `* globals
.global vdd! VSS
.subckt inv a y vss
M1 y a VDD! vdd! pfet w=1u l=1u
M2 y a vss 0 nfet w=1u l=1u
.ends
X1 i o vss inv
X2 o p VSS inv
`
	expectLines(t, readFlat(t, deck, "deck"), `
X1/M1 pmos o i vdd! vdd! pfet w=1000 l=1000
X1/M2 nmos o i VSS 0 nfet w=1000 l=1000
X2/M1 pmos p o vdd! vdd! pfet w=1000 l=1000
X2/M2 nmos p o VSS 0 nfet w=1000 l=1000
`)
	_, err := Read("deck.sp", strings.NewReader(deck+"X3 p q gnd inv\n"), ReadOptions{})
	want := "deck.sp:9: element X3: gives net 0 to port vss of subcircuit inv, but VSS is the same net everywhere\n    give it that net, or rename the port"
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	_, err = Read("deck.sp", strings.NewReader("*\n.subckt a gnd\nR1 gnd x 1\n.ends\nX1 vee a\n"), ReadOptions{})
	if err == nil || !strings.Contains(err.Error(), "gives net vee to port gnd of subcircuit a, but 0 is the same net everywhere") {
		t.Errorf("got %v", err)
	}
}

// TestScale: .options scale multiplies lengths, and areas by its square.
func TestScale(t *testing.T) {
	c := readFlat(t, "*\n.options scale=1u\nM1 d g s b nfet W=10 L=0.13 AD=10 PD=5 m=2\nD1 a c dio 2 3\nR1 a b rm w=2 l=1\n", "deck")
	expectLines(t, c, `
M1 nmos d g s b nfet w=20000 l=130 ad=2e+07 pd=10000 fingers=2
D1 diode a c dio area=2e+06 perim=3000
R1 resistor a b rm w=2000 l=1000
`)
}

// TestShorts: resistors of some models are second names of nets.
func TestShorts(t *testing.T) {
	const deck = `* two names for one net
.subckt tie A B
R0 B A lvsres w=2.6e-07 l=6e-07
.ends
.subckt top P Q
X1 P x tie
X2 x Q tie
M1 P x Q Q nfet w=1u l=1u
.ends
`
	d := read(t, deck)
	tie := d.Circuit("tie")
	if len(tie.Nets) != 1 || !slices.Equal(tie.Ports, []netlist.Net{0, 0}) || !slices.Equal(tie.Nets[0].Labels, []string{"A", "B"}) {
		t.Errorf("A and B must be one net on two ports: %+v", tie)
	}
	flat := readFlat(t, deck, "top")
	if len(flat.Devices) != 1 || len(flat.Nets) != 1 || flat.Devices[0].Terminals != [4]netlist.Net{} || !slices.Equal(flat.Ports, []netlist.Net{0, 0}) {
		t.Errorf("P, x and Q must be one net: %+v", flat)
	}
	for _, opt := range []ReadOptions{{Shorts: []string{}}, {Shorts: []string{"other"}}} {
		d, err := Read("deck.sp", strings.NewReader(deck), opt)
		if err != nil || len(d.Circuit("tie").Devices) != 1 {
			t.Errorf("%v: the resistor must stay (%v)", opt.Shorts, err)
		}
	}
	if d, err := Read("deck.sp", strings.NewReader(deck), ReadOptions{Shorts: []string{"other", "LVSRES"}}); err != nil || len(d.Circuit("tie").Devices) != 0 {
		t.Errorf("LVSRES must do as well (%v)", err)
	}
	// a port shorted to ground grounds what the user gives to it
	flat = readFlat(t, "*\n.subckt g A\nR0 A 0 lvsres\n.ends\n.subckt top P\nX1 P g\nM1 P P q q nfet w=1u l=1u\n.ends\n", "top")
	if len(flat.Nets) != 2 || flat.Nets[0].Name != "0" || !flat.Nets[0].Global {
		t.Errorf("P must be ground: %+v", flat.Nets)
	}
}

func TestPolarity(t *testing.T) {
	for model, want := range map[string]netlist.Kind{"nfet_05v0": netlist.NMOS, "SG13_LV_PMOS": netlist.PMOS, "xnch": netlist.NMOS, "lpch25": netlist.PMOS,
		"pfet": netlist.PMOS, "n": netlist.NMOS, "Penh": netlist.PMOS, "photo_nmos": netlist.NMOS, "nwell_pmos": netlist.PMOS, "fet": netlist.MOS, "": netlist.MOS, "nmos_pmos": netlist.MOS} {
		if got := PolarityByName(model); got != want {
			t.Errorf("%s is %s, want %s", model, got, want)
		}
	}
	const deck = "*\nM1 d g s b nfet\nM2 d g s b odd\n.model odd pmos\nM3 d g s b mos_unknown\n"
	expectLines(t, readFlat(t, deck, "deck"), "M1 nmos d g s b nfet\nM2 pmos d g s b odd\nM3 mos d g s b\n")
	d, err := Read("x/deck.sp", strings.NewReader(deck), ReadOptions{Polarity: func(string) netlist.Kind { return netlist.PMOS }})
	if err != nil {
		t.Fatal(err)
	}
	expectLines(t, d.Circuit("deck"), "M1 pmos d g s b nfet\nM2 pmos d g s b odd\nM3 mos d g s b\n")
}
