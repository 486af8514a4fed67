package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestDiodes: a diode's other end is the net of the nearest tap, too, where two nets tie the substrate.
func TestDiodes(t *testing.T) {
	res := extractWith(t, ruleStack+`
[[layer]]
name = "dio"
role = "mark"
[[diode]]
model = "dn"
type  = "n"
where = ["dio"]
to    = "substrate"
`, `
diffusion 0 0 1000 1000
dio 0 0 1000 1000
label diffusion 500 500 K
diffusion 2000 0 3000 1000
pplus 1900 -100 3100 1100
label diffusion 2500 500 VSS
diffusion 9000 0 10000 1000
pplus 8900 -100 10100 1100
label diffusion 9500 500 OTHER`)
	checkNetlist(t, res.Circuit, "D1 VSS K dn AREA=1p PJ=4u\nports K OTHER VSS")
	d := &res.Circuit.Devices[0]
	if name := res.Circuit.Nets[d.Terminals[netlist.Anode]].Name; name != "VSS" || res.Questions[0] != "soft-tie" {
		t.Errorf("the anode is %s, its question %q", name, res.Questions[0])
	}
}

// TestSliverOfDiffusion: the diffusion that lies under most of a channel decides, not a sliver of the other.
func TestSliverOfDiffusion(t *testing.T) {
	res := extractWith(t, `
[[layer]]
name = "ndiff"
role = "diffusion"
[[layer]]
name = "pdiff"
role = "diffusion"
[[layer]]
name = "poly"
role = "gate"
[[mos]]
model = "nfet"
type  = "n"
diffusion = "ndiff"
bulk  = "unknown"
[[mos]]
model = "pfet"
type  = "p"
diffusion = "pdiff"
bulk  = "unknown"
`, `
pdiff 0 0 1000 3000
ndiff 990 1300 1000 1700
poly -400 1300 1400 1700
label pdiff 500 100 a
label poly 0 1500 g
label pdiff 500 2900 b`)
	checkNetlist(t, res.Circuit, "M1 a g b bulk pfet W=1u L=0.4u")
}

// TestUpperLayers: a via with several layers below it reaches the topmost, whichever groups they would be swept in.
func TestUpperLayers(t *testing.T) {
	const process = `
[[layer]]
name = "poly"
role = "gate"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "metal2"
role = "metal"
[[layer]]
name = "via"
role = "contact"
joins = ["metal2", "metal1", "poly"]
`
	const plates = "via 400 400 600 600\nmetal2 0 0 1000 1000\nlabel metal2 50 50 TOP\npoly 0 0 1000 1000\nlabel poly 50 50 POLY\n"
	for name, c := range map[string]struct{ drawing, ports, warning string }{
		"all three":          {plates + "metal1 0 0 1000 1000\nlabel metal1 50 50 MID", "MID POLY", "two-names"},
		"no metal1 under it": {plates + "metal1 0 0 300 1000\nlabel metal1 50 50 MID", "MID POLY", "two-names"},
		"half and half":      {plates + "metal1 0 0 500 1000\nlabel metal1 50 50 MID", "MID", "butted-contact two-names"},
	} {
		res := extractWith(t, process, c.drawing)
		var ports, codes []string
		for _, p := range res.Circuit.Ports {
			ports = append(ports, res.Circuit.Nets[p].Name)
		}
		for _, w := range res.Warnings {
			codes = append(codes, w.Code)
		}
		if got := strings.Join(ports, " "); got != c.ports || strings.Join(codes, " ") != c.warning {
			t.Errorf("%s: ports %s, warnings %v", name, got, codes)
		}
	}
}

// TestGateOrder: poly2 over poly over diffusion: poly makes the channel, whether one contact tells their order or none;
// where a capacitor rule holds, the diffusion passes beneath the upper one, and the two are a capacitor.
func TestGateOrder(t *testing.T) {
	const layers = `
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "%s"
role = "gate"
[[layer]]
name = "%s"
role = "gate"
[[layer]]
name = "capmark"
role = "mark"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name = "contact"
role = "contact"
joins = ["metal1", %s]
[[layer]]
name = "upper"
role = "contact"
joins = ["metal1", "poly2"]
[[capacitor]]
model = "cap"
plates = ["poly2", "diffusion"]
where = ["capmark"]
`
	const drawing = `
diffusion 0 0 1000 3000
label diffusion 500 100 S
label diffusion 500 2900 D
poly -400 1300 1400 1700
label poly 0 1500 G
poly2 -400 1300 1400 1700
label poly2 0 1600 G2
`
	for name, process := range map[string]string{
		"told by one contact": fmt.Sprintf(layers, "poly2", "poly", `"poly2", "poly", "diffusion"`),
		"told by none":        fmt.Sprintf(layers, "poly", "poly2", `"poly", "diffusion"`),
	} {
		res := extractWith(t, process, drawing)
		checkNetlist(t, res.Circuit, "M1 D G S bulk mos_unknown W=1u L=0.4u\nports D G G2 S")
		// poly2 alone, beside the rest: a transistor without the mark, none with it
		const plate = "\ndiffusion 5000 0 6000 3000\npoly2 4600 1300 6400 1700\nlabel diffusion 5500 100 X\nlabel diffusion 5500 2900 Y\n"
		if n := len(extractWith(t, process, plate).Circuit.Devices); n != 1 {
			t.Errorf("%s: poly2 over diffusion makes %d devices", name, n)
		}
		res = extractWith(t, process, plate+"capmark 4000 0 7000 3000")
		if d := res.Circuit.Devices; len(d) != 1 || d[0].Kind != netlist.Capacitor || d[0].Area != 1000*400 || len(res.Circuit.Ports) != 1 {
			t.Errorf("%s: under the mark devices %+v, %d ports", name, d, len(res.Circuit.Ports))
		}
	}
}

// TestWellDiode: the junction of a well with the substrate takes nothing from the sources and drains in it; its side in the
// well is on the net of the nearest tap.
func TestWellDiode(t *testing.T) {
	res := extractWith(t, ruleStack+`
[[layer]]
name = "dio"
role = "mark"
[[diode]]
model = "dwell"
type  = "n"
body  = "nwell"
where = ["dio"]
to    = "substrate"
`, stripDrawing+`
pplus -200 -200 1200 3200
nwell -4000 -1000 6000 4000
dio -4000 -1000 6000 4000
diffusion -3000 0 -2000 1000
label diffusion -2500 500 VDDA
diffusion 4000 0 5000 1000
label diffusion 4500 500 VDDB
label substrate -9000 -9000 SUB`)
	checkNetlist(t, res.Circuit, "D1 SUB VDDA dwell AREA=50p PJ=30u\nM1 D G S VDDA pfet W=1u L=0.4u AS=1.3p AD=1.3p PS=3.6u PD=3.6u\nports D G S SUB VDDA VDDB")
	for i, q := range res.Questions {
		if q != "soft-tie" {
			t.Errorf("device %d: question %q", i, q)
		}
	}
}

// TestDiodeInWell: of type p the body is the anode; the cathode is the well's net, which its tap gives it.
func TestDiodeInWell(t *testing.T) {
	res := extractWith(t, ruleStack+`
[[layer]]
name = "dio"
role = "mark"
[[diode]]
model = "dp"
type  = "p"
where = ["dio", "pplus", "nwell"]
to    = "nwell"
`, `
nwell 0 0 10000 6000
diffusion 1000 1000 3000 3000
pplus 500 500 3500 3500
dio 500 500 3500 3500
label diffusion 2000 2000 A
diffusion 6000 1000 8000 3000
label diffusion 7000 2000 VDD`)
	checkNetlist(t, res.Circuit, "D1 A VDD dp AREA=4p PJ=8u\nports A VDD")
}

// TestPlacedLabels: a label inside a placed cell names the net of that instance, only where the net has no label of the
// top cell's own, and makes no port.
func TestPlacedLabels(t *testing.T) {
	st, err := stack.Parse("rules.stack.toml", []byte(ruleStack))
	if err != nil {
		t.Fatal(err)
	}
	lib := drawText(t, st, stripDrawing)
	cell := lib.Cells[0]
	top := &layout.Cell{Name: "PAIR", Placements: []layout.Placement{{Name: "a", Cell: cell, Transform: geom.Identity},
		{Name: "b", Cell: cell, Transform: geom.Move(geom.Point{X: 5000})}},
		Labels: []layout.Label{{Layer: 5, At: geom.Point{X: 500, Y: 400}, Text: "VSS"}}}
	lib.Cells = append(lib.Cells, top)
	res, err := extract.Run(context.Background(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkNetlist(t, res.Circuit, "M1 a/D a/G VSS sub nfet W=1u L=0.4u\nM2 b/D b/G b/S sub nfet W=1u L=0.4u\nports VSS")
	if slices.ContainsFunc(res.Warnings, func(w extract.Warning) bool { return w.Code != "bulk-unknown" }) {
		t.Errorf("warnings: %v", res.Warnings)
	}
}

// TestHalfNanometrePitch: 2,000 columns at a pitch of 1000.5 nm. Each is rounded by itself, halves up, so that the last
// one is where it belongs, 999.5 nm right of where a pitch of 1000 nm would put it.
func TestHalfNanometrePitch(t *testing.T) {
	st, err := stack.Parse("rules.stack.toml", []byte(ruleStack))
	if err != nil {
		t.Fatal(err)
	}
	lib := drawText(t, st, "diffusion 0 0 200 1000\npoly -100 400 300 600")
	const columns = 2000
	top := &layout.Cell{Name: "ROW", Placements: []layout.Placement{{Cell: lib.Cells[0], Transform: geom.Identity, Columns: columns,
		ColumnExtent: geom.Vec{X: (columns - 1) * 1000.5}}}}
	lib.Cells = append(lib.Cells, top)
	res, err := extract.Run(context.Background(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Circuit.Devices) != columns {
		t.Fatalf("%d transistors, want %d", len(res.Circuit.Devices), columns)
	}
	for i, d := range res.Circuit.Devices {
		if want := (2001*i + 1) / 2; d.At.X != want || d.W != 200 || d.L != 200 {
			t.Fatalf("column %d at %d, W %v, L %v; want %d, 200, 200", i, d.At.X, d.W, d.L, want)
		}
	}
}
