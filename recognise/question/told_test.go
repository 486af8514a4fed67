package question

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/testdata/ambiguous"
)

// roleStack is boardStack with a rule for diodes, one for photodiodes and one for resistors of poly.
const roleStack = boardStack + `
[[layer]]
name = "esd"
role = "mark"

[[layer]]
name = "light"
role = "mark"

[[layer]]
name = "res"
role = "mark"

[[diode]]
model = "dn"
type  = "n"
body  = "ndiff"
where = ["esd"]
to    = "substrate"

[[diode]]
model = "photodiode"
type  = "n"
body  = "ndiff"
where = ["light"]
to    = "substrate"

[[resistor]]
model     = "rpoly"
body      = "poly"
where     = ["res"]
sheet_ohm = 10
`

// tell returns what is told of a board.
func (b *board) tell(opt Options) (*extract.Result, *Told) {
	b.t.Helper()
	res := b.extract()
	_, told := AskAndTell(res, b.st, nil, opt)
	return res, told
}

// rolesOf writes the devices with a role: kind, place of their lower left corner in µm, role.
func rolesOf(res *extract.Result, t *Told) []string {
	var out []string
	for i, r := range t.Roles {
		if d := &res.Circuit.Devices[i]; r != "" {
			out = append(out, fmt.Sprintf("%v %d,%d %s", d.Kind, d.At.X/1000, d.At.Y/1000, r))
		}
	}
	return out
}

// TestProtection: a bus of metal joins a pad to drains at x = 1.5 µm of all that has an empty drain.
func TestProtection(t *testing.T) {
	b := boardOf(t, roleStack)
	b.box("metal1", -60000, 0, -5000, 50000)
	b.box("pad", -55000, 5000, -15000, 45000)
	b.box("metal1", -10000, 0, -5000, 300000)
	b.label("metal1", -8000, 20000, "IN")
	onPad := func(y int) { b.box("metal1", -10000, y-500, 1500, y+500) }
	b.mos("ndiff", 0, 0, 6000, 1000, "", "GND", "GND") // gate at 4, 0
	onPad(3000)
	b.mos("ndiff", 0, 30000, 6000, 1000, "", "DRV", "GND") // drives the pad
	onPad(33000)
	b.mos("ndiff", 0, 60000, 6000, 1000, "OUT", "GND", "GND") // off, but not at the pad
	b.box("nwell", -3000, 85000, 15000, 105000)
	b.mos("pdiff", 0, 90000, 6000, 1000, "", "VDD", "VDD") // off, too: p
	onPad(93000)
	b.mos("ndiff", 0, 120000, 6000, 1000, "", "GND", "OUT") // off, but to a signal
	onPad(123000)
	b.box("ndiff", 0, 150000, 6000, 156000) // diodes at the pad, and beside it
	b.box("esd", 0, 150000, 6000, 156000)
	b.plug(1500, 153000, "")
	onPad(153000)
	b.box("ndiff", 0, 180000, 6000, 186000)
	b.box("esd", 0, 180000, 6000, 186000)
	b.plug(1500, 183000, "ELSEWHERE")
	b.box("ndiff", 0, 210000, 30000, 240000) // no rule, 900 µm²
	b.plug(1500, 225000, "")
	onPad(225000)
	b.box("metal1", -60000, 400000, -5000, 450000) // a supply's pad
	b.box("pad", -55000, 405000, -15000, 445000)
	b.label("metal1", -8000, 420000, "GND")
	res, told := b.tell(Options{})
	if got, want := rolesOf(res, told), []string{"nmos 4,0 protection", "pmos 4,90 protection", "diode 0,150 protection"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if s := told.Structures; len(s) != 1 || s[0].Role != Protection || s[0].Area != 900e6 || s[0].Path != "" || res.LayerName(s[0].Layer) != "ndiff" || res.Circuit.Nets[s[0].Net].Name != "IN" {
		t.Errorf("structures %+v", s)
	}
	if p := told.Protects; len(p) != 2 || len(p[0].Devices) != 3 || !slices.Equal(p[0].Structures, []int{0}) || len(p[1].Devices)+len(p[1].Structures) > 0 {
		t.Errorf("pads %+v", p)
	}
	b.verdict(b.lib.Cells[0], "ndiff", 15000, 225000, Photodiode, "diode")
	res, told = b.tell(Options{})
	if got := rolesOf(res, told); len(told.Structures) > 0 || !slices.Contains(got, "diode 0,210 protection") {
		t.Errorf("with the answer diode: %q, %+v", got, told.Structures)
	}
	if res, told := b.without("pad").tell(Options{}); len(rolesOf(res, told)) > 0 || len(told.Structures) > 0 {
		t.Errorf("without pads: %q, %+v", rolesOf(res, told), told.Structures)
	}
}

// TestDummyRows: the hard drawings whose truth has dummies, and strips beside a resistor.
func TestDummyRows(t *testing.T) {
	seen := 0
	for _, c := range ambiguous.Hand() {
		res, err := extract.Run(context.Background(), c.Library, c.Top, c.Stack, extract.Options{Facts: true, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		_, told := AskAndTell(res, c.Stack, nil, Options{Traced: c.Library.Traced})
		devices, strips := 0, 0
		for i, r := range told.Roles {
			if r == Dummy {
				devices++
				// Gates that are tied off are sure to do nothing; where they run on that is a question, and it is open.
				if runsOn := strings.HasSuffix(c.Name, "run on"); runsOn != (told.Odds[i] > 0) {
					t.Errorf("%s: device %d hangs on odds of %g dB", c.Name, i, told.Odds[i])
				}
			}
		}
		for i := range told.Structures {
			if told.Structures[i].Role == Dummy {
				strips++
			}
		}
		want := [2]int{}
		switch {
		case strings.HasPrefix(c.Name, "row with dummies"):
			want[0] = 2
		case c.Name == "serpentine with a rule":
			want[1] = 2
		}
		if want != [2]int{} {
			seen++
		}
		if got := [2]int{devices, strips}; got != want {
			t.Errorf("%s: %d devices and %d strips are dummies, want %v", c.Name, devices, strips, want)
		}
	}
	if seen != 3 {
		t.Errorf("%d drawings with dummies", seen)
	}
}

// TestDummyByVerdict: an answer makes a dummy, or keeps one from being told.
func TestDummyByVerdict(t *testing.T) {
	for reading, want := range map[string]string{Dummy: Dummy, "transistor": "", "": ""} {
		b := newBoard(t)
		b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
		if reading != "" {
			b.verdict(b.lib.Cells[0], "poly", 4500, 3000, TransistorOrCapacitor, reading)
		}
		for _, kinds := range [][]string{nil, {Polarity}} {
			if res, told := b.tell(Options{Kinds: kinds}); len(told.Roles) != 1 || told.Roles[0] != want {
				t.Errorf("%q: %q", reading, rolesOf(res, told))
			}
		}
	}
}

// TestRowEnds: four transistors in a row; which of the gates are tied off is told by letters.
func TestRowEnds(t *testing.T) {
	for row, want := range map[string][]int{"0SSS": {0}, "SSS0": {3}, "0SS0": {0, 3}, "S0SS": nil, "SSSS": nil, "0S00": nil} {
		for _, upright := range []bool{false, true} {
			b := newBoard(t)
			for i, gate := range row {
				name := fmt.Sprint("G", i)
				if gate == '0' {
					name = "GND"
				}
				x, y := 12000*i, 0
				if upright {
					x, y = 0, 13000*i
				}
				b.mos("ndiff", x, y, 6000, 1000, fmt.Sprint("D", i), name, fmt.Sprint("S", i))
			}
			_, told := b.tell(Options{})
			var got []int
			for i, r := range told.Roles {
				if r == Dummy {
					got = append(got, i)
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("%s, upright %t: %v, want %v", row, upright, got, want)
			}
		}
	}
}

// TestIdleResistors: three bars of 30 squares side by side, the outer ones with both ends on one net, and another such bar far away. A bar
// that leads nowhere on one side is idle, too.
func TestIdleResistors(t *testing.T) {
	b := boardOf(t, roleStack)
	bar := func(y int, short bool, left, right string) {
		b.box("poly", 0, y, 40000, y+1000)
		b.box("res", 5000, y-500, 35000, y+1500)
		b.plug(2000, y+500, left)
		if right != "-" {
			b.plug(38000, y+500, right)
		}
		if short {
			b.box("metal1", 2000, y, 38000, y+1000)
		}
	}
	bar(0, true, "", "")
	bar(5000, false, "A", "B")
	bar(10000, true, "", "")
	bar(15000, false, "C", "-")
	bar(100000, true, "", "") // 2·√(3·30·1) = 19 µm is as far as it may be
	res, told := b.tell(Options{})
	if got, want := rolesOf(res, told), []string{"resistor 5,0 dummy", "resistor 5,10 dummy", "resistor 5,15 dummy"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// fillOf returns the fills of a board's photodiodes, each once, with how many have it.
func fillsOf(t *Told) map[string]int {
	out := map[string]int{}
	for _, f := range t.Fills {
		out[fmt.Sprintf("%.6g of %.6g by %s", f.Factor, f.Cell/1e6, f.From)]++
	}
	return out
}

// TestFillFactor: 5 × 5 in 10 × 10 µm has 0.25; 6 × 6 less a notch of 2 × 3 in 8 × 8 has 0.46875 (definition), however they are placed.
func TestFillFactor(t *testing.T) {
	square := func(b *board) {
		b.box("ndiff", 0, 0, 5000, 5000)
		b.box("light", 0, 0, 5000, 5000)
	}
	notched := func(b *board) {
		for _, layer := range []string{"ndiff", "light"} {
			b.box(layer, 0, 0, 6000, 3000)
			b.box(layer, 0, 3000, 4000, 6000)
		}
	}
	two := func(b *board) { // in one cell: 5 × 5 and 5 × 3
		square(b)
		b.box("ndiff", 0, 6000, 5000, 9000)
		b.box("light", 0, 6000, 5000, 9000)
	}
	array := func(columns, rows, dx, dy int) func(*board, *layout.Cell) {
		return func(b *board, c *layout.Cell) { b.array(c, columns, rows, dx, dy) }
	}
	each := func(at ...geom.Point) func(*board, *layout.Cell) {
		return func(b *board, c *layout.Cell) {
			for _, p := range at {
				b.place(c, p.X, p.Y)
			}
		}
	}
	nested := func(b *board, c *layout.Cell) {
		row := b.cell("ROW")
		row.Placements = []layout.Placement{{Cell: c, Transform: geom.Identity, Columns: 4, ColumnExtent: geom.Vec{X: 30000}}}
		b.array(row, 1, 3, 0, 10000)
	}
	none := map[string]int{"0 of 0 by ": 1}
	for _, tc := range []struct {
		name  string
		cell  func(*board)
		place func(*board, *layout.Cell)
		want  map[string]int
	}{
		{"array", square, array(4, 3, 10000, 10000), map[string]int{"0.25 of 100 by array": 12}},
		{"array of a notched one", notched, array(2, 2, 8000, 8000), map[string]int{"0.46875 of 64 by array": 4}},
		{"two in a cell", two, array(3, 2, 10000, 10000), map[string]int{"0.4 of 100 by array": 12}},
		{"rows in a column", square, nested, map[string]int{"0.25 of 100 by array": 12}},
		{"placed one by one", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 20000}, geom.Point{Y: 10000}, geom.Point{X: 10000, Y: 10000}, geom.Point{X: 20000, Y: 10000}), map[string]int{"0.25 of 100 by lattice": 6}},
		{"rows shifted by half a pitch", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 20000}, geom.Point{X: 5000, Y: 20000}, geom.Point{X: 15000, Y: 20000}, geom.Point{X: 25000, Y: 20000}), map[string]int{"0.125 of 200 by lattice": 6}},
		{"two arrays of one row", square, func(b *board, c *layout.Cell) {
			b.array(c, 3, 1, 10000, 0)
			b.lib.Cells[0].Placements = append(b.lib.Cells[0].Placements, layout.Placement{Cell: c, Transform: geom.Move(geom.Point{Y: 10000}), Columns: 3, ColumnExtent: geom.Vec{X: 20000}})
		}, map[string]int{"0.25 of 100 by lattice": 6}},
		{"one row", square, array(5, 1, 10000, 0), map[string]int{"0 of 0 by ": 5}},
		{"alone", square, each(geom.Point{}), none},
		{"three, no lattice", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 3000, Y: 12000}), map[string]int{"0 of 0 by ": 3}},
	} {
		b := boardOf(t, roleStack)
		c := b.cell("PIXEL")
		tc.cell(b)
		tc.place(b, c)
		_, told := b.tell(Options{})
		got := fillsOf(told)
		same := len(got) == len(tc.want)
		for k, n := range tc.want {
			same = same && got[k] == n
		}
		if !same {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
}

// TestFillOfLeading: 900 µm² of diffusion in an array of 60 × 50 µm, which no rule takes for photodiodes: 0.3 and more, since the strip to
// the transistor's gate, 3 × 4 µm, is a part of it. After the answer they are devices.
func TestFillOfLeading(t *testing.T) {
	b := newBoard(t)
	pixel := b.cell("PIXEL")
	b.box("ndiff", 0, 0, 30000, 30000)
	b.mos("ndiff", 29000, 10000, 4000, 1000, "-", "", "")
	b.array(pixel, 5, 4, 60000, 50000)
	res, told := b.tell(Options{})
	want := (900.0 + 3*4) / 3000 // from 30 to 33 µm, where the gate begins
	if len(told.Structures) != 20 {
		t.Fatalf("%d structures", len(told.Structures))
	}
	for _, s := range told.Structures {
		if s.Role != Sensor || math.Abs(s.Fill.Factor-want) > 1e-9 || s.Fill.Cell != 3000e6 || s.Fill.From != "array" || s.Odds < 10 || math.Abs(s.Area-912e6) > 1 {
			t.Errorf("%+v, want %g", s, want)
		}
	}
	if len(rolesOf(res, told)) > 0 {
		t.Errorf("%q", rolesOf(res, told))
	}
	b.verdict(pixel, "ndiff", 15000, 15000, Photodiode, "photodiode")
	res, told = b.tell(Options{})
	diodes := 0
	for i, f := range told.Fills {
		if res.Circuit.Devices[i].Kind == netlist.Diode {
			diodes++
			if math.Abs(f.Factor-want) > 1e-9 {
				t.Errorf("%+v", f)
			}
		}
	}
	if diodes != 20 || len(told.Structures) > 0 {
		t.Errorf("with the answer: %d diodes, %+v", diodes, told.Structures)
	}
}

// TestFuseQuestions: necks of metal and of poly. A strip of 30 squares between wide ends is one question, a gate with wide ends is none.
func TestFuseQuestions(t *testing.T) {
	bone := func(b *board, layer string, x, y, long int) {
		b.box(layer, x, y, x+4000, y+4000)
		b.box(layer, x+4000, y+1500, x+4000+long, y+2500)
		b.box(layer, x+4000+long, y, x+8000+long, y+4000)
	}
	vias := func(b *board, x, y, long int) {
		for _, at := range []int{x + 2000, x + 6000 + long} {
			b.box("via", at-500, y+1500, at+500, y+2500)
			b.box("metal2", at-1000, y+1000, at+1000, y+3000)
		}
	}
	b := newBoard(t)
	bone(b, "metal1", 0, 0, 6000)
	vias(b, 0, 0, 6000)
	q := expect(t, "metal", b, WireOrResistor, Fuse, 0, 20, map[string]string{"neck": "waist", "squares": "some", "width": "narrow", "likes": "alone"})
	if q.At != (geom.Point{X: 7000, Y: 2000}) || q.Layer != "metal1" || !strings.Contains(q.Evidence[0].Text, "1 µm wide over 6 µm, 6 squares") {
		t.Errorf("metal: %s", describe(&q))
	}
	b.verdict(b.lib.Cells[0], "metal1", 7000, 2000, WireOrResistor, Fuse)
	if q := b.one(WireOrResistor, Options{}); q.Verdict != Fuse || len(q.Devices) != 1 {
		t.Errorf("answered: %s", describe(&q))
	}
	if res, told := b.tell(Options{}); !slices.Equal(rolesOf(res, told), []string{"resistor 4,1 fuse"}) {
		t.Errorf("%q", rolesOf(res, told))
	}

	b = newBoard(t)
	for i := range 3 {
		bone(b, "metal1", 0, 10000*i, 6000)
		b.box("pad", 500, 10000*i+500, 3500, 10000*i+3500)
		b.box("pad", 10500, 10000*i+500, 13500, 10000*i+3500)
	}
	for _, q := range b.ask(WireOrResistor, Options{All: true}) {
		if q.Leading().Reading != Fuse || q.Leading().OddsDb < 10 || sawOf(&q, "likes") != "bars" || sawOf(&q, "ends") != "pads" || sawOf(&q, "opening") != "closed" {
			t.Errorf("three between pads: %s", describe(&q))
		}
	}

	b = newBoard(t)
	bone(b, "poly", 0, 0, 30000)
	b.plug(2000, 2000, "A")
	b.plug(36000, 2000, "B")
	q = b.one(WireOrResistor, Options{All: true})
	if sawOf(&q, "neck") != "waist" || sawOf(&q, "squares") != "many" || len(q.Nets) != 1 {
		t.Errorf("poly: %s", describe(&q))
	}
	b.verdict(b.lib.Cells[0], "poly", 15000, 2000, WireOrResistor, Fuse)
	if q := b.one(WireOrResistor, Options{}); q.Verdict != Fuse || len(q.Devices) != 1 {
		t.Errorf("poly, answered: %s", describe(&q))
	}

	b = newBoard(t)
	bone(b, "poly", 0, 0, 6000)
	b.plug(2000, 2000, "A")
	b.plug(12000, 2000, "B")
	b.box("ndiff", 6000, -4000, 8000, 8000)
	if qs := b.ask(WireOrResistor, Options{All: true}); len(qs) > 0 {
		t.Errorf("a gate is asked about: %s", describe(&qs[0]))
	}
	b = newBoard(t)
	bone(b, "metal1", 0, 0, 25000)
	vias(b, 0, 0, 25000)
	if qs := b.ask(WireOrResistor, Options{All: true}); len(qs) > 0 {
		t.Errorf("25 squares of metal are asked about: %s", describe(&qs[0]))
	}
}

// TestPublishedRoles: the macro's 256 transistors with source on drain (TestPublishedMacro) are told as dummies, and nothing else.
func TestPublishedRoles(t *testing.T) {
	st := loadStack(t, published(t, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	lib := drawing(t, published(t, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	res, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Facts: true, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	_, told := AskAndTell(res, st, nil, Options{Kinds: []string{TransistorOrCapacitor}})
	count := map[string]int{}
	for i, r := range told.Roles {
		d := &res.Circuit.Devices[i]
		count[fmt.Sprint(r, d.Terminals[netlist.Drain] == d.Terminals[netlist.Source])]++
	}
	if count["dummytrue"] != 256 || count["false"] != len(told.Roles)-256 || len(count) != 2 || len(told.Structures) > 0 {
		t.Errorf("%v, %+v", count, told.Structures)
	}
}
