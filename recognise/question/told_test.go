package question

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

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
	_, told := mustTell(b.t, res, b.st, nil, opt)
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
		_, told := mustTell(t, res, c.Stack, nil, Options{Traced: c.Library.Traced})
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

// TestPublishedRoles: the macro's 256 transistors with source on drain (TestPublishedMacro) are told as dummies, and nothing else.
func TestPublishedRoles(t *testing.T) {
	st := loadStack(t, published(t, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	lib := drawing(t, published(t, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	res, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Facts: true, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	_, told := mustTell(t, res, st, nil, Options{Kinds: []string{TransistorOrCapacitor}})
	count := map[string]int{}
	for i, r := range told.Roles {
		d := &res.Circuit.Devices[i]
		count[fmt.Sprint(r, d.Terminals[netlist.Drain] == d.Terminals[netlist.Source])]++
	}
	if count["dummytrue"] != 256 || count["false"] != len(told.Roles)-256 || len(count) != 2 || len(told.Structures) > 0 {
		t.Errorf("%v, %+v", count, told.Structures)
	}
}
