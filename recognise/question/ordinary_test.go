package question

import (
	"context"
	"testing"

	"undermetal/layout/stack"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// series draws n gates over one strip of diffusion, with contacts at its ends only.
func (b *board) series(diff string, x, y, w, n int, top, bottom string, gates ...string) {
	wide := 8000 + 3500*n - 2500
	b.box(diff, x, y, x+wide, y+w)
	b.plug(x+1500, y+w/2, bottom)
	b.plug(x+wide-1500, y+w/2, top)
	for i := range n {
		gx := x + 4000 + 3500*i
		b.box("poly", gx, y-1000, gx+1000, y+w+1000)
		low := y + w + 1000
		if i%2 == 1 {
			low = y - 4000
		}
		b.box("poly", gx-1000, low, gx+2000, low+3000)
		b.plug(gx+500, low+1500, gates[i])
	}
}

// TestOrdinary: nobody is asked whether ordinary transistors are capacitors: whatever their nets are, however many lie side by side.
func TestOrdinary(t *testing.T) {
	inverter := func(b *board, y int, in, out string) {
		b.box("nwell", -3000, y+18000, 15000, y+34000)
		b.mos("ndiff", 0, y, 6000, 1000, out, in, "GND")
		b.mos("pdiff", 0, y+20000, 9000, 1000, out, in, "VDD")
		b.box("metal1", 500, y+2000, 2500, y+25000)
		b.box("metal1", 4500, y+7500, 6500, y+33000)
	}
	for _, tc := range []struct {
		name    string
		draw    func(b *board)
		devices int
	}{
		{"two in series", func(b *board) { b.series("ndiff", 0, 0, 6000, 2, "OUT", "GND", "A", "B") }, 2},
		{"four in series, narrow", func(b *board) { b.series("ndiff", 0, 0, 3000, 4, "OUT", "GND", "A", "B", "C", "D") }, 4},
		{"a pass gate between two signals", func(b *board) { b.mos("ndiff", 0, 0, 4000, 1000, "X", "SEL", "Y") }, 1},
		{"a pass gate between two nets without labels", func(b *board) { b.mos("ndiff", 0, 0, 4000, 1000, "", "SEL", "") }, 1},
		{"a gate of both types between two signals", func(b *board) {
			b.mos("ndiff", 0, 0, 4000, 1000, "X", "SEL", "Y")
			b.box("nwell", -3000, 17000, 15000, 30000)
			b.mos("pdiff", 0, 20000, 4000, 1000, "X", "SELB", "Y")
			b.box("metal1", 500, 1000, 2500, 23000)
			b.box("metal1", 6500, 1000, 8500, 23000)
		}, 2},
		{"a load whose gate is on its drain", func(b *board) {
			b.mos("ndiff", 0, 0, 6000, 2000, "OUT", "OUT", "GND")
			b.box("metal1", 500, 8500, 6500, 9500)
			b.box("metal1", 500, 2000, 2500, 9500)
		}, 1},
		{"a follower", func(b *board) { b.mos("ndiff", 0, 0, 6000, 1000, "VDD", "IN", "OUT") }, 1},
		{"a clamp that is off", func(b *board) { b.mos("ndiff", 0, 0, 30000, 1000, "PAD", "GND", "GND") }, 1},
		{"an inverter", func(b *board) { inverter(b, 0, "IN", "OUT") }, 2},
		{"two inverters that hold each other", func(b *board) {
			inverter(b, 0, "A", "B")
			inverter(b, 60000, "B", "A")
		}, 4},
		{"twelve equal ones in a row", func(b *board) {
			for i := range 12 {
				b.mos("ndiff", 16000*i, 0, 6000, 1000, "", "", "GND")
			}
		}, 12},
		{"twelve equal ones in a row, in series by twos", func(b *board) {
			for i := range 6 {
				b.series("ndiff", 20000*i, 0, 6000, 2, "", "GND", "", "")
			}
		}, 12},
		{"an array of cells", func(b *board) {
			c := b.cell("CELL")
			b.mos("ndiff", 0, 0, 4000, 1000, "", "", "")
			b.array(c, 6, 5, 20000, 20000)
		}, 30},
	} {
		b := newBoard(t)
		tc.draw(b)
		asked := 0
		qs := b.ask(TransistorOrCapacitor, Options{All: true})
		for i := range qs {
			q := &qs[i]
			asked += len(q.Devices)
			if l := q.Leading(); l.Reading != "transistor" || q.Open() {
				t.Errorf("%s: not read as a transistor, or asked about\n%s", tc.name, describe(q))
			}
		}
		if asked != tc.devices {
			t.Errorf("%s: %d transistors, want %d", tc.name, asked, tc.devices)
		}
		for _, q := range b.ask(TransistorOrCapacitor, Options{}) {
			t.Errorf("%s: listed\n%s", tc.name, describe(&q))
		}
	}
}

// TestKiln: of the worked example's pixels no transistor is asked about; all 732 are read as transistors.
func TestKiln(t *testing.T) {
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	lib := kiln.Library()
	top := lib.Tops()[0]
	res, err := extract.Run(context.Background(), lib, top, st, extract.Options{Facts: true})
	if err != nil {
		t.Fatal(err)
	}
	findings, err := check.Run(context.Background(), lib, top, st, check.Options{ToleranceNm: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range mustAsk(t, res, st, findings, Options{Kinds: []string{TransistorOrCapacitor}}) {
		t.Errorf("asked about\n%s", describe(&q))
	}
	sure := 0
	for _, q := range mustAsk(t, res, st, findings, Options{Kinds: []string{TransistorOrCapacitor}, All: true}) {
		if q.Leading().Reading != "transistor" {
			t.Errorf("want a transistor\n%s", describe(&q))
		}
		sure += len(q.Devices)
	}
	if want := kiln.Columns * (3*kiln.Rows + 1); sure != want {
		t.Errorf("%d transistors, want %d", sure, want)
	}
}
