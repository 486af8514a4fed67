package main

import (
	"fmt"
	"slices"
	"testing"
)

const ruleStack = `
name = "n-well, one poly, one metal"
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "poly"
role = "gate"
[[layer]]
name = "nwell"
role = "well"
[[layer]]
name = "pplus"
role = "mark"
[[layer]]
name = "contact"
role = "contact"
joins = ["metal1", "poly", "diffusion"]
[[layer]]
name = "metal1"
role = "metal"
[[mos]]
model = "nfet"
type  = "n"
where = ["!pplus", "!nwell"]
bulk  = "substrate"
[[mos]]
model = "pfet"
type  = "p"
where = ["pplus", "nwell"]
bulk  = "nwell"
[[tap]]
where = ["!pplus", "nwell"]
ties  = "nwell"
[[tap]]
where = ["pplus", "!nwell"]
ties  = "substrate"
`

// stripDrawing is a diffusion of 1000 × 3000 nm crossed by a gate of 400 nm, with a contact and metal at both ends and at the
// gate: a transistor of W 1000 between labels S (below) and D (above), gate G.
const stripDrawing = `
diffusion 0 0 1000 3000
poly -400 1300 1400 1700
poly 1400 1200 2000 1800
contact 1600 1400 1800 1600
metal1 1500 1300 2500 1700
label metal1 2400 1500 G
contact 400 300 600 500
metal1 300 200 700 600
label metal1 500 400 S
contact 400 2500 600 2700
metal1 300 2400 700 2800
label metal1 500 2600 D
`

// rules are drawings made by hand for one rule of the engine each, with the netlist that follows from the rule. Lines
// are LAYER X0 Y0 X1 Y1 for a box, ring LAYER X Y …, label LAYER X Y NAME, traced LAYER X0 Y0 X1 Y1.
var rules = []struct {
	name, drawing, netlist string
	warnings               []string
}{
	{"a plain transistor", stripDrawing, "M1 D G S sub nfet W=1u L=0.4u AS=1.3p AD=1.3p PS=3.6u PD=3.6u", []string{"bulk-unknown"}},
	{"no rule holds", stripDrawing + "pplus -400 1300 1400 1700", "M1 D G S bulk mos_unknown W=1u L=0.4u", []string{"bulk-unknown", "polarity-unknown"}},
	{"opposite senses and a bow-tie over a square do not cancel", `
ring diffusion 0 0 0 3000 1000 3000 1000 0
diffusion 0 0 1000 3000
ring poly -400 1300 1400 1300 1400 1700 -400 1700
ring poly -400 1700 1400 1700 1400 1300 -400 1300
ring poly -400 1300 1400 1700 1400 1300 -400 1700
ring metal1 -300 1350 -100 1650 -100 1350 -300 1650
metal1 -300 1350 -100 1650
contact -250 1400 -150 1600
label metal1 -200 1500 G
label diffusion 500 100 S
label diffusion 500 2900 D`, "M1 D G S sub nfet W=1u L=0.4u", []string{"bulk-unknown"}},
	{"a label names the substrate", stripDrawing + "label substrate -3000 -3000 SUB\nlabel substrate 0 0 SUB", "M1 D G S SUB nfet W=1u L=0.4u\nports D G S SUB", nil},
	{"a label of the substrate names the net that taps it", stripDrawing + `
label substrate -3000 -3000 SUB
diffusion 2000 0 3000 1000
pplus 1900 -100 3100 1100`, "M1 D G S SUB nfet W=1u L=0.4u\nports D G S SUB", nil},
	{"the substrate and its tap are labelled differently", stripDrawing + `
label substrate -3000 -3000 SUB
diffusion 2000 0 3000 1000
pplus 1900 -100 3100 1100
label diffusion 2500 500 VSS`, "M1 D G S VSS nfet W=1u L=0.4u", []string{"soft-tie"}},
	{"a butted tap is joined to its source and in nobody's area", stripDrawing + `
diffusion 0 -1000 1000 0
pplus -200 -1200 1200 0`, "M1 D G S S nfet W=1u L=0.4u AS=1.3p AD=1.3p PS=2.6u PD=3.6u", nil},
	{"a well with two names and a tap without any is one net, tied", stripDrawing + `
nwell -2000 -4000 4000 -1000
label nwell -1500 -3500 VDD
label nwell -1500 -3000 AVDD
diffusion 0 -3000 1000 -2000`, "M1 D G S sub nfet W=1u L=0.4u\nports AVDD D G S", []string{"bulk-unknown", "two-names"}},
	{"a well and its tap share one of their names: one net", stripDrawing + `
nwell -2000 -4000 4000 -1000
label nwell -1500 -3500 VDD
diffusion 0 -3000 1000 -2000
label diffusion 200 -2500 VDD
label diffusion 300 -2500 AVDD`, "M1 D G S sub nfet W=1u L=0.4u\nports AVDD D G S", []string{"bulk-unknown", "two-names"}},
	{"a channel over two wells lies in the one that most of it is in", stripDrawing + `
pplus -200 -200 1200 3200
nwell -1000 -1000 490 4000
nwell 495 -1000 4000 4000
label nwell -900 -900 SMALL
label nwell 3900 -900 BIG`, "M1 D G S BIG pfet W=1u L=0.4u\nports BIG D G S SMALL", []string{"mixed-channel", "narrow-tap"}},
	{"a label on a mark names nothing", stripDrawing + "label pplus 0 0 X", "M1 D G S sub nfet W=1u L=0.4u\nports D G S", []string{"bulk-unknown", "label-on-nothing"}},
	{"a tap of 10 nm is one", stripDrawing + "pplus -200 -1200 1200 10", "M1 D G S S nfet W=1u L=0.4u", nil},
	{"a tap narrower than 10 nm is none", stripDrawing + "pplus -200 -1200 1200 8", "M1 D G S sub nfet W=1u L=0.4u", []string{"bulk-unknown", "narrow-tap"}},
	{"a contact half on poly, half on diffusion joins both", `
diffusion 0 0 1000 3000
poly -400 1300 1400 1700
diffusion 1000 200 2000 600
poly 1400 400 2000 1700
contact 1600 300 1800 500
metal1 1500 200 1900 600
label metal1 1700 400 X
label diffusion 500 2900 D`, "M1 D X X sub nfet W=1u L=0.4u\nM2 X X X sub nfet W=0.8u L=0.15u", []string{"bulk-unknown", "butted-contact"}},
	{"a contact over a gate reaches the gate only", `
diffusion 0 0 1000 3000
poly -400 1300 1400 1700
contact 400 1400 600 1600
metal1 300 1300 700 1700
label metal1 500 1500 G
label diffusion 500 100 S
label diffusion 500 2900 D`, "M1 D G S sub nfet W=1u L=0.4u", []string{"bulk-unknown"}},
	{"a contact less than a quarter on diffusion reaches the poly only", `
diffusion 0 0 1000 3000
poly -400 1300 1400 1700
contact 400 1510 600 1710
metal1 300 1300 700 1750
label metal1 500 1500 G
label diffusion 500 100 S
label diffusion 500 2900 D`, "M1 D G S sub nfet W=1u L=0.4u", []string{"bulk-unknown", "half-landed-contact"}},
	{"soft tie: the bulk is the nearest tap's net", stripDrawing + `
diffusion 0 -2000 1000 -1000
pplus -200 -2200 1200 -800
contact 400 -1600 600 -1400
metal1 300 -1700 700 -1300
label metal1 500 -1500 NEAR
diffusion 0 -9000 1000 -8000
pplus -200 -9200 1200 -7800
contact 400 -8600 600 -8400
metal1 300 -8700 700 -8300
label metal1 500 -8500 FAR`, "M1 D G S NEAR nfet W=1u L=0.4u", []string{"soft-tie"}},
	{"soft tie: the nearest tap is a long rail that begins far away", stripDrawing + `
diffusion 1500 -20000 1700 1000
pplus 1450 -20000 1750 1050
label diffusion 1600 500 NEAR
diffusion -5000 0 -4000 1000
pplus -5100 -100 -3900 1100
label diffusion -4500 500 FAR`, "M1 D G S NEAR nfet W=1u L=0.4u", []string{"soft-tie"}},
	{"soft tie seen through a net that another well has named", `
nwell 0 0 5000 5000
diffusion 1000 1000 2000 2000
contact 1200 1200 1800 1800
nwell 10000 100 20000 5000
diffusion 11000 1000 12000 2000
contact 11200 1200 11800 1800
diffusion 17000 1000 18000 2000
contact 17200 1200 17800 1800
metal1 1000 1000 12000 2000
metal1 17000 1000 18000 2000
label metal1 5000 1500 VDD
label metal1 17500 1500 VSS`, "ports VDD VSS", []string{"soft-tie"}},
	{"a plate with diffusion on one side: source is drain, W the whole edge", `
diffusion 0 0 1000 2000
poly -400 1000 1400 2400
label poly 500 2200 G
label diffusion 500 100 S`, "M1 S G S sub nfet W=1u L=1u AD=1p PD=3u", []string{"bulk-unknown"}},
	{"a plate over a whole diffusion is no transistor", `
diffusion 0 0 1000 1000
poly -400 -400 1400 1400
label poly 500 500 G`, "", []string{"no-source-drain"}},
	{"three nets at one crossing: a device each pair", `
diffusion -2000 0 3000 1000
diffusion 0 0 1000 3000
poly 0 0 1000 1000
label diffusion -1500 500 A
label diffusion 2500 500 B
label diffusion 500 2500 C
label poly 500 500 G`, "M1 A G B sub nfet W=1u L=0.666666u AS=1p AD=1p PS=2.5u PD=2.5u\nM2 A G C sub nfet W=1u L=0.666666u AS=1p AD=1p PS=2.5u PD=2.5u\nM3 B G C sub nfet W=1u L=0.666666u AS=1p AD=1p PS=2.5u PD=2.5u", // half of 2 µm² and of 5 µm: each arm is in two devices
		[]string{"bulk-unknown", "three-way-channel"}},
	{"equal labels apart stay apart", `
metal1 0 0 1000 1000
label metal1 500 500 A
metal1 2000 0 3000 1000
label metal1 2500 500 A`, "ports A A#2", []string{"equal-labels"}},
	{"a label that is called like the second of two equal ones keeps its name", `
metal1 0 0 1000 1000
label metal1 500 500 A
metal1 2000 0 3000 1000
label metal1 2500 500 A
metal1 4000 0 5000 1000
label metal1 4500 500 A#2`, "ports A A#2 A#3", []string{"equal-labels"}},
	{"a label beyond the frame lies on nothing", stripDrawing + "label metal1 4294967796 400 WRAP", "M1 D G S sub nfet W=1u L=0.4u", []string{"bulk-unknown", "label-on-nothing"}},
	{"two names on one net are both kept", `
metal1 0 0 1000 1000
label metal1 500 500 A<10>
label metal1 600 500 A<2>`, "ports A<2>", []string{"two-names"}},
	{"a net at the rim of the traced area is open", stripDrawing + `
traced metal1 0 0 2500 3000`, "M1 D G S sub nfet W=1u L=0.4u\nopen G", []string{"bulk-unknown"}},
	{"corners do not join", `
metal1 0 0 1000 1000
label metal1 500 500 A
metal1 1000 1000 2000 2000
label metal1 1500 1500 B`, "ports A B", nil},
	{"a label on nothing is said", `
metal1 0 0 1000 1000
label metal1 500 500 A
label metal1 5000 500 B`, "ports A", []string{"label-on-nothing"}},
}

func TestRules(t *testing.T) {
	for _, tc := range rules {
		t.Run(tc.name, func(t *testing.T) {
			res := extractText(t, tc.drawing)
			var codes []string
			for i, w := range res.Warnings {
				if slices.Contains(res.Warnings[:i], w) {
					t.Errorf("said twice: %v", w)
				}
				if !slices.Contains(codes, w.Code) {
					codes = append(codes, w.Code)
				}
			}
			if !slices.Equal(codes, tc.warnings) {
				t.Errorf("warnings %v, want %v", codes, tc.warnings)
			}
			checkNetlist(t, res.Circuit, tc.netlist)
		})
	}
}

// TestLabelPlaces: a warning about names stands at the label that is about, not at a corner of the net.
func TestLabelPlaces(t *testing.T) {
	res := extractText(t, `
metal1 0 0 1000 9000
label metal1 500 8000 B
label metal1 300 8500 A
metal1 2000 0 3000 1000
label metal1 2500 500 B
label metal1 2500 700 C
metal1 4000 0 5000 1000
label metal1 4600 500 B`)
	var got []string
	for _, w := range res.Warnings {
		got = append(got, fmt.Sprintf("%s %s %d,%d %s", w.Code, w.Layer, w.X, w.Y, w.Text))
	}
	want := []string{
		"equal-labels metal1 4600,500 another net is labelled B too; nothing joins them here, this one becomes B#2",
		"two-names metal1 2500,700 one net carries the labels B and C: it is called B",
		"two-names metal1 500,8000 one net carries the labels A and B: it is called A",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
}
