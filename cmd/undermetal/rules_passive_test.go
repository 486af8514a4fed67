package main

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// passiveStack is ruleStack with a second poly and a second metal, and marks for rules to ask for.
const passiveStack = `
[[layer]]
name = "diffusion"
role = "diffusion"
sheet_ohm = 75
[[layer]]
name = "poly"
role = "gate"
area_af_um2 = 90
edge_af_um = 40
[[layer]]
name = "poly2"
role = "gate"
[[layer]]
name = "nwell"
role = "well"
[[layer]]
name = "pplus"
role = "mark"
[[layer]]
name = "res"
role = "mark"
[[layer]]
name = "dres"
role = "mark"
[[layer]]
name = "wres"
role = "mark"
[[layer]]
name = "mres"
role = "mark"
[[layer]]
name = "hires"
role = "mark"
[[layer]]
name = "cap"
role = "mark"
[[layer]]
name = "contact"
role = "contact"
joins = ["metal1", "poly2", "poly", "diffusion"]
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "plate"
role = "metal"
[[layer]]
name = "via1"
role = "contact"
joins = ["metal2", "plate", "metal1"]
[[layer]]
name = "metal2"
role = "metal"
[[layer]]
name = "glass"
role = "pad"
[[mos]]
model = "nfet"
type  = "n"
where = ["!pplus", "!nwell"]
bulk  = "substrate"
[[tap]]
where = ["!pplus", "nwell"]
ties  = "nwell"
[[tap]]
where = ["pplus", "!nwell"]
ties  = "substrate"
`

const capacitorRules = `
[[capacitor]]
model = "cpp"
plates = ["poly2", "poly"]
area_af_um2 = 38
edge_af_um = 41
[[capacitor]]
model = "cmim"
plates = ["plate", "metal1"]
area_af_um2 = 1500
[[capacitor]]
model = "cmos"
plates = ["poly", "diffusion"]
where = ["cap"]
[[capacitor]]
model = "cwell"
plates = ["poly2", "nwell"]
where = ["cap"]
`

const resistorRules = `
[[resistor]]
model = "rhi"
body = "poly"
where = ["res", "hires"]
sheet_ohm = 1000
[[resistor]]
model = "rpoly"
body = "poly"
where = ["res"]
sheet_ohm = 200
[[resistor]]
model = "rdiff"
body = "diffusion"
where = ["dres"]
[[resistor]]
model = "rwell"
body = "nwell"
where = ["wres"]
sheet_ohm = 1000
[[resistor]]
model = "rmetal"
body = "metal1"
where = ["mres"]
`

// plateL is an L of poly2, 100 × 10 µm over all with an arm of 2 µm and one of 6.25 µm: 100·2 + 6.25·8 = 250 µm², its edge as
// long as that of its box, 220 µm. It lies over poly, with a contact, and both over a well.
const plateL = `
ring poly2 0 0 100000 0 100000 2000 6250 2000 6250 10000 0 10000
poly -1000 -1000 101000 11000
nwell -3000 -3000 103000 13000
contact 1000 1000 1500 1500
metal1 900 900 1600 1600
label metal1 1000 1000 TOP
contact 50000 5000 50500 5500
metal1 49900 4900 50600 5600
label metal1 50000 5000 BOTTOM
`

// meander is a strip of poly 1 µm wide. Under the mark it goes up, down and up again, 10 µm each, with two links of 1 µm
// between: 32 µm² = 32 squares. Its heads stick out by 2 µm.
const meander = `
poly 0 -2000 1000 10000
poly 0 9000 3000 10000
poly 2000 0 3000 10000
poly 2000 0 5000 1000
poly 4000 0 5000 12000
res -500 0 5500 10000
label poly 500 -1000 LOW
label poly 4500 11000 HIGH
`

// wellStrip is a well 4 µm wide, 40 µm of it under the mark: 10 squares. Taps on either side.
const wellStrip = `
nwell 0 0 60000 4000
wres 10000 -500 50000 4500
diffusion 2000 1000 4000 3000
label diffusion 3000 2000 LEFT
diffusion 56000 1000 58000 3000
label diffusion 57000 2000 RIGHT
`

var passives = []struct {
	name, rules, drawing, netlist string
	warnings                      []string
}{
	// 250 µm² at 38 aF/µm² and 220 µm at 41 aF/µm: 9500 + 9020 = 18520 aF.
	{"poly2 over poly, over a well", capacitorRules, plateL, "C1 TOP BOTTOM cpp 18.52f\nports BOTTOM TOP", nil},
	{"without a rule plates are conductors", "", plateL, "ports BOTTOM TOP", nil},
	// 20 × 10 µm at 1500 aF/µm²; the via lands on the plate, though metal1 is below it, the other beside the plate.
	{"a plate between two metals", capacitorRules, `
metal1 0 0 30000 10000
plate 0 0 20000 10000
via1 5000 5000 6000 6000
metal2 5000 5000 6000 20000
label metal2 5500 19000 UP
via1 25000 5000 26000 6000
metal2 25000 5000 26000 20000
label metal2 25500 19000 DOWN`, "C1 UP DOWN cmim 300f\nports DOWN UP", nil},
	// 10 × 2 µm at poly's own 90 aF/µm², 24 µm at its 40 aF/µm: 1800 + 960 aF. No channel, and the plate is one diffusion.
	{"poly over diffusion, figures of its layer", capacitorRules, `
diffusion 0 0 20000 2000
poly 5000 -1000 15000 3000
cap 4000 -2000 16000 4000
label poly 10000 2500 G
label diffusion 1000 1000 A
label diffusion 19000 1000 B`, "C1 G A cmos 2.76f\nports A G", []string{"two-names"}},
	{"the same without the mark is a transistor", capacitorRules, `
diffusion 0 0 20000 2000
poly 5000 -1000 15000 3000
label poly 10000 2500 G
label diffusion 1000 1000 A
label diffusion 19000 1000 B`, "M1 A G B sub nfet W=2u L=10u\nports A B G", []string{"bulk-unknown"}},
	// No figure: the rectangle of 5 × 4 µm stays a model's matter. The well's net is that of its tap.
	{"poly2 over a well, no figure", capacitorRules, `
nwell 0 0 20000 10000
poly2 2000 2000 7000 6000
cap 0 0 10000 10000
label poly2 3000 3000 T
diffusion 12000 2000 14000 4000
label diffusion 13000 3000 W`, "C1 T W cwell\nports T W", nil},
	// What sticks out of the diffusion on both sides is over the well.
	{"a channel is no plate over a well", capacitorRules, `
nwell 0 0 20000 10000
label nwell 100 100 W
diffusion 2000 2000 12000 4000
pplus 1000 1000 13000 5000
poly2 6000 1000 8000 5000
cap 0 0 20000 10000
label diffusion 3000 3000 A
label diffusion 11000 3000 B
label poly2 7000 1500 G`, "M1 A G B bulk mos_unknown W=2u L=2u\nC1 G W cwell\nC2 G W cwell\nports A B G W", []string{"bulk-unknown", "polarity-unknown"}},
	{"both plates on one net", capacitorRules, `
poly 0 0 4000 2000
poly2 0 0 2000 2000
metal1 0 0 4000 2000
contact 500 500 1000 1000
contact 3000 500 3500 1000
label metal1 100 100 X`, "C1 X X cpp 0.48f\nports X", []string{"plates-joined"}}, // 4 µm² · 38 + 8 µm · 41 = 480 aF

	{"a meander of poly", resistorRules, meander, "R1 LOW HIGH rpoly 6400 W=1u L=32u\nports HIGH LOW", nil},
	{"without a rule it is a wire", capacitorRules, meander, "ports HIGH", []string{"two-names"}},
	{"the first rule that holds on most of it", resistorRules, meander + "hires -500 0 5500 10000", "R1 LOW HIGH rhi 32k W=1u L=32u\nports HIGH LOW", nil},
	// hires covers the third leg, 10 of 32 µm².
	{"the first rule holds on a part of it", resistorRules, meander + "hires 4000 0 5500 10000", "R1 LOW HIGH rpoly 6400 W=1u L=32u\nports HIGH LOW", []string{"mixed-resistor"}},
	{"a well", resistorRules, wellStrip, "R1 LEFT RIGHT rwell 10k W=4u L=40u\nports LEFT RIGHT", nil},
	{"a tap on the body of a well", resistorRules, wellStrip + `
diffusion 29000 1000 31000 3000
label diffusion 30000 2000 MIDDLE`, "R1 LEFT RIGHT rwell 10k W=4u L=40u\nports LEFT MIDDLE RIGHT", []string{"contact-on-resistor"}},
	// 2 × 8 µm at the layer's 75 ohm.
	{"diffusion, figure of its layer", resistorRules, `
diffusion 0 0 2000 12000
dres -500 2000 2500 10000
label diffusion 1000 1000 A
label diffusion 1000 11000 B`, "R1 A B rdiff 300 W=2u L=8u\nports A B", nil},
	{"metal, no figure", resistorRules, `
metal1 0 0 12000 500
mres 1000 -500 11000 1000
label metal1 500 250 A
label metal1 11500 250 B`, "R1 A B rmetal W=0.5u L=10u\nports A B", nil},
	{"three ends", resistorRules, `
poly 0 0 12000 1000
poly 5000 1000 6000 5000
res 1000 -500 11000 4000
label poly 500 500 A
label poly 11500 500 B
label poly 5500 4500 C`, "R1 A B rpoly\nR2 A C rpoly\nR3 B C rpoly\nports A B C", []string{"many-ended-resistor"}},
	{"one end", resistorRules, `
poly 0 0 12000 1000
res 1000 -500 13000 4000
label poly 500 500 A`, "ports A", []string{"one-ended-resistor"}},
	{"no end", resistorRules, `
poly 0 0 12000 1000
res -1000 -500 13000 4000`, "", []string{"one-ended-resistor"}},
	{"both ends on one net", resistorRules, `
poly 0 0 12000 1000
res 1000 -500 11000 1500
contact 100 100 500 500
contact 11500 100 11900 500
metal1 0 0 12000 600
label metal1 20 300 A`, "R1 A A rpoly 2k W=1u L=10u\nports A", []string{"one-ended-resistor"}},
	{"a contact on the body joins nothing, nor does a label name it", resistorRules, meander + `
contact 200 5000 600 5400
metal1 0 4900 1000 5500
label metal1 100 5000 M
label poly 500 7000 BODY`, "R1 LOW HIGH rpoly 6400 W=1u L=32u\nports HIGH LOW M", []string{"contact-on-resistor", "label-on-nothing"}},
	// Two bodies 2 µm wide, 4 and 3 µm long, on both sides of a gate of 4 × 2 µm.
	{"a gate that crosses diffusion under the mark is a channel", resistorRules, `
poly 0 0 20000 2000
res 4000 -4000 15000 6000
diffusion 8000 -3000 12000 5000
label diffusion 10000 -2000 S
label diffusion 10000 4000 D
label poly 10000 1000 G
label poly 1000 1000 A
label poly 19000 1000 B`, "M1 S G D sub nfet W=4u L=2u\nR1 A G rpoly 400 W=2u L=4u\nR2 G B rpoly 300 W=2u L=3u\nports A B D G S", []string{"bulk-unknown"}},
	// Of the 4 × 4 µm below the gate half is the body: AD = 4 · 2 µm², PD = 2 · 2 µm, since diffusion goes on beyond. Above it are
	// 4 · 4 µm² and 4 + 2 · 4 µm. pplus on the body ties nothing.
	{"a body of diffusion is no source, no drain and no tap", resistorRules, `
diffusion 0 0 4000 9000
poly -1000 4000 5000 5000
dres -500 0 4500 2000
label diffusion 2000 3000 S
label diffusion 2000 8000 D
label poly -500 4500 G
pplus -500 0 4500 1500`, "M1 S G D sub nfet W=4u L=1u AD=8p AS=16p PD=4u PS=12u\nports D G S", []string{"bulk-unknown", "one-ended-resistor"}},
}

func TestPassives(t *testing.T) {
	for _, tc := range passives {
		res := extractWith(t, passiveStack+tc.rules, tc.drawing)
		t.Run(tc.name, func(t *testing.T) {
			checkNetlist(t, res.Circuit, tc.netlist)
			var codes []string
			for _, w := range res.Warnings {
				if !slices.Contains(codes, w.Code) {
					codes = append(codes, w.Code)
				}
			}
			if !slices.Equal(codes, tc.warnings) {
				t.Errorf("warnings %v, want %v", res.Warnings, tc.warnings)
			}
		})
	}
}

// TestPassiveMeasures: areas and perimeters of plates, values to the last digits, by hand.
func TestPassiveMeasures(t *testing.T) {
	d := extractWith(t, passiveStack+capacitorRules, plateL).Circuit.Devices[0]
	if d.Area != 250e6 || d.Perim != 220e3 || math.Abs(d.Value/18520e-18-1) > 1e-12 || d.Kind != netlist.Capacitor {
		t.Errorf("plates of %v nm², %v nm, %v F", d.Area, d.Perim, d.Value)
	}
	d = extractWith(t, passiveStack+resistorRules, meander).Circuit.Devices[0]
	if d.Area != 32e6 || d.W != 1000 || d.L != 32000 || d.Value != 6400 || d.Kind != netlist.Resistor {
		t.Errorf("meander of %v nm², W %v, L %v, %v ohm", d.Area, d.W, d.L, d.Value)
	}
}

// TestPads: a pad knows the topmost metal that takes a quarter of it, and is joined to nothing.
func TestPads(t *testing.T) {
	res := extractWith(t, passiveStack, `
glass 0 0 50000 40000
metal2 -1000 -1000 51000 41000
metal1 -1000 -1000 51000 41000
label metal2 0 0 TOP
label metal1 0 0 LOW
glass 100000 0 110000 10000
metal2 100000 0 102000 10000
metal1 100000 0 110000 10000
label metal2 100000 0 SLIVER
label metal1 105000 0 WIDE
glass 200000 0 210000 10000
metal1 200000 0 210000 10000
glass 300000 0 310000 10000
poly 300000 0 310000 10000`)
	type pad struct {
		metal, net string
		area       float64
		box        geom.Rect
	}
	var got []pad
	for _, p := range res.Pads {
		net := ""
		if p.Net != netlist.NoNet {
			net = res.Circuit.Nets[p.Net].Name
		}
		got = append(got, pad{p.Metal, net, p.Area, p.Box})
	}
	want := []pad{
		{"metal2", "TOP", 2000e6, geom.Box(0, 0, 50000, 40000)},
		{"metal1", "WIDE", 100e6, geom.Box(100000, 0, 110000, 10000)}, // a fifth of it is under metal2
		{"metal1", "", 100e6, geom.Box(200000, 0, 210000, 10000)},     // no label, no device: the circuit does without
		{"", "", 100e6, geom.Box(300000, 0, 310000, 10000)},
	}
	if !slices.Equal(got, want) {
		t.Errorf("pads %v, want %v", got, want)
	}
	checkNetlist(t, res.Circuit, "ports LOW SLIVER TOP WIDE")
}
