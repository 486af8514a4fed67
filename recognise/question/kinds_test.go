package question

import (
	"fmt"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// expect holds the only question of a kind against what leads, with which odds at least and at most, and what was seen.
func expect(t *testing.T, name string, b *board, kind, leads string, least, most float64, saw map[string]string) Question {
	t.Helper()
	q := b.one(kind, Options{All: true})
	for what, want := range saw {
		if got := sawOf(&q, what); got != want {
			t.Errorf("%s: %s is %q, want %q", name, what, got, want)
		}
	}
	if l := q.Leading(); l.Reading != leads || l.OddsDb < least || l.OddsDb > most {
		t.Errorf("%s: want %s with %g to %g db\n%s", name, leads, least, most, describe(&q))
	}
	return q
}

// TestPolarity: diffusion that no rule knows.
func TestPolarity(t *testing.T) {
	for _, tc := range []struct {
		name    string
		draw    func(b *board)
		leads   string
		least   float64
		saw     map[string]string
		devices int
	}{
		{"source on ground", func(b *board) { b.mos("unruly", 0, 0, 6000, 1000, "OUT", "IN", "GND") }, "n", 10,
			map[string]string{"source": "ground", "layer": "", "well": "p-body", "twin": "none"}, 1},
		{"source on the supply, in the well", func(b *board) {
			b.box("nwell", -5000, -5000, 20000, 20000)
			b.mos("unruly", 0, 0, 6000, 1000, "OUT", "IN", "VDD")
		}, "p", 20, map[string]string{"source": "supply", "well": "n-body"}, 1},
		{"the other half of an inverter is p", func(b *board) {
			b.mos("unruly", 0, 0, 6000, 1000, "", "", "A")
			b.box("nwell", -3000, 37000, 20000, 60000)
			b.mos("pdiff", 0, 40000, 6000, 1000, "", "-", "VDD")
			b.box("poly", 4000, 0, 5000, 40000)
			b.box("metal1", 1000, 2000, 2000, 44000)
		}, "n", 10, map[string]string{"twin": "p", "source": "signal"}, 1},
	} {
		b := newBoard(t)
		tc.draw(b)
		q := expect(t, tc.name, b, Polarity, tc.leads, tc.least, 100, tc.saw)
		if len(q.Devices) != tc.devices {
			t.Errorf("%s: devices %v", tc.name, q.Devices)
		}
	}
	b := newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	if qs := b.ask(Polarity, Options{All: true}); len(qs) > 0 {
		t.Errorf("a transistor that a rule knows is asked about: %s", describe(&qs[0]))
	}
}

// TestPhotodiode: an array of pixels, a diode at a pad, and a transistor that is none of it.
func TestPhotodiode(t *testing.T) {
	b := newBoard(t)
	pixel := b.cell("PIXEL")
	b.box("ndiff", 0, 0, 30000, 30000)
	b.mos("ndiff", 29000, 10000, 4000, 1000, "-", "", "")
	b.array(pixel, 5, 4, 60000, 50000)
	q := expect(t, "pixel", b, Photodiode, "photodiode", 10, 100, map[string]string{"size": "huge", "array": "many", "rim": "gate", "pad": "", "cover": ""})
	if q.Count != 20 || q.NextLook.Text == "" {
		t.Errorf("pixel: count %d, next %+v", q.Count, q.NextLook)
	}

	b = newBoard(t)
	b.box("ndiff", 0, 0, 40000, 40000)
	b.plug(20000, 20000, "IO")
	b.box("metal1", 20000, 18000, 80000, 22000)
	b.box("pad", 60000, 18500, 79000, 21500)
	res := b.extract()
	qs := mustAsk(t, res, b.st, nil, Options{All: true, Kinds: []string{Photodiode}})
	if len(qs) != 1 || qs[0].Leading().Reading != "diode" || sawOf(&qs[0], "pad") != "pad" || len(qs[0].Nets) != 1 {
		t.Errorf("a diode at a pad: %d questions, %s", len(qs), describe(&qs[0]))
	}

	b = newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	b.box("ndiff", 0, 20000, 4000, 100000) // a guard ring's side: a strip
	b.plug(2000, 22000, "GND")
	if qs := b.ask(Photodiode, Options{All: true}); len(qs) > 0 {
		t.Errorf("a source or a strip is asked about: %s", describe(&qs[0]))
	}
}

// TestFloatingGate: a contact that was forgotten, and a gate beneath another.
func TestFloatingGate(t *testing.T) {
	b := newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	b.mos("ndiff", 0, 20000, 6000, 1000, "OUT2", "-", "GND2")
	q := expect(t, "forgotten", b, FloatingGate, "missing", 10, 100, map[string]string{"above": "none", "nearby": "contacts", "likes": "driven", "shot": ""})
	if len(q.Devices) != 1 || q.NextLook.Text != "look at the gate in the photograph of the contacts" {
		t.Errorf("forgotten: devices %v, next %+v", q.Devices, q.NextLook)
	}

	b = newBoard(t)
	for i := range 3 {
		y := 20000 * i
		b.mos("ndiff", 0, y, 6000, 1000, "", "-", "")
		b.box("poly2", 3500, y-1500, 7500, y+10500)
		b.box("poly2", 7500, y+3000, 12000, y+6000)
	}
	qs := b.ask(FloatingGate, Options{All: true})
	for i := range qs {
		if got := sawOf(&qs[i], "above"); got != "gate" || qs[i].Leading().Reading != "floating" {
			t.Errorf("beneath another: %s", describe(&qs[i]))
		}
	}
	if len(qs) == 0 {
		t.Error("beneath another gate: nothing is asked")
	}

	b = newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	b.lib.Traced = nil
	if qs := b.ask(FloatingGate, Options{All: true}); len(qs) > 0 {
		t.Errorf("a gate with a label is asked about: %s", describe(&qs[0]))
	}
}

// TestContacts: on nothing, on one, half and half, and of an odd size.
func TestContacts(t *testing.T) {
	usual := func(b *board) {
		for i := range 4 {
			b.box("poly", 100000, 5000*i, 104000, 5000*i+3000)
			b.plug(102000, 5000*i+1500, "")
		}
	}
	b := newBoard(t)
	usual(b)
	b.box("contact", 0, 0, 1000, 1000)
	expect(t, "on nothing", b, Contact, "joins", 0, 15, map[string]string{"landing": "none", "repeat": "once", "size": "usual"})

	b = newBoard(t)
	usual(b)
	b.box("contact", 0, 0, 4000, 300)
	q := expect(t, "a scratch", b, Contact, "joins-not", 3, 100, map[string]string{"landing": "none", "size": "odd"})
	if q.NextLook.Bits <= 0 {
		t.Errorf("a scratch: next %+v", q.NextLook)
	}

	b = newBoard(t)
	usual(b)
	cell := b.cell("CELL")
	b.box("metal1", -500, -500, 1500, 1500)
	b.box("contact", 0, 0, 1000, 1000)
	b.array(cell, 4, 2, 10000, 10000)
	q = expect(t, "on one, in a cell", b, Contact, "joins", 10, 100, map[string]string{"landing": "one", "repeat": "many", "size": "usual"})
	if q.Count != 8 {
		t.Errorf("on one, in a cell: count %d", q.Count)
	}

	b = newBoard(t)
	usual(b)
	b.box("poly", 0, 0, 4000, 4000)
	b.box("ndiff", 3850, 0, 8000, 4000)
	b.box("contact", 3200, 1500, 4200, 2500)
	b.box("metal1", 2500, 1000, 5000, 3000)
	expect(t, "half and half", b, Contact, "joins", 5, 100, map[string]string{"landing": "half", "size": "usual"})
}

// TestNearMiss: a hair between two halves of one label, and the spacing of the process between two labels.
func TestNearMiss(t *testing.T) {
	b := newBoard(t)
	b.box("metal1", 0, 0, 5000, 2000)
	b.box("metal1", 5050, 0, 9000, 2000)
	q := expect(t, "hair", b, NearMiss, "joined", 15, 100, map[string]string{"gap": "hair", "names": "other", "dead": "yes", "repeat": "once"})
	if q.At != (geom.Point{X: 5000, Y: 1000}) || q.Layer != "metal1" {
		t.Errorf("hair: %s", describe(&q))
	}

	b = newBoard(t)
	b.box("metal1", 0, 0, 5000, 2000)
	b.box("metal1", 5290, 0, 9000, 2000)
	b.label("metal1", 100, 100, "A")
	b.label("metal1", 8000, 100, "B")
	q = expect(t, "two labels", b, NearMiss, "apart", 10, 100, map[string]string{"gap": "narrow", "names": "different", "dead": "no"})
	if len(q.Nets) != 2 || q.NextLook.Text != "look at this place in the photograph at full size" {
		t.Errorf("two labels: nets %v, next %+v", q.Nets, q.NextLook)
	}
}

// TestSupplies: two supplies on one net, and ties of one body to two nets.
func TestSupplies(t *testing.T) {
	b := newBoard(t)
	b.box("metal1", 0, 0, 9000, 2000)
	b.label("metal1", 100, 100, "VDD")
	b.label("metal1", 8000, 100, "GND")
	expect(t, "VDD on GND", b, SuppliesShorted, "slip", 5, 100, map[string]string{"names": "opposite", "bridge": "none"})

	b = newBoard(t)
	b.box("metal1", 0, 0, 5000, 2000)
	b.box("metal1", 4900, 0, 9000, 2000)
	b.label("metal1", 100, 100, "VSS")
	b.label("metal1", 8000, 100, "GND")
	expect(t, "VSS on GND, by a narrow bridge", b, SuppliesShorted, "slip", 0, 5, map[string]string{"names": "alike", "bridge": "narrow"})

	b = newBoard(t)
	b.box("metal1", 0, 0, 9000, 2000)
	b.label("metal1", 100, 100, "VSS")
	b.label("metal1", 8000, 100, "GND")
	expect(t, "VSS on GND", b, SuppliesShorted, "same", 0, 100, map[string]string{"names": "alike", "bridge": "none"})

	b = newBoard(t)
	b.box("metal1", 0, 0, 9000, 2000)
	b.label("metal1", 100, 100, "IN")
	b.label("metal1", 8000, 100, "OUT")
	if qs := b.ask(SuppliesShorted, Options{All: true}); len(qs) > 0 {
		t.Errorf("two signals are asked about: %s", describe(&qs[0]))
	}
	for _, tc := range []struct {
		names         [2]string
		leads, names2 string
	}{{[2]string{"AGND", "DGND"}, "one-supply", "alike"}, {[2]string{"GND", "SENSE"}, "separate", "signal"}} {
		b := newBoard(t)
		b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "X")
		for i, name := range tc.names {
			b.box("pdiff", -10000+40000*i, 0, -6000+40000*i, 6000)
			b.plug(-8000+40000*i, 3000, name)
		}
		q := expect(t, tc.names2, b, SoftTie, tc.leads, 0, 100, map[string]string{"names": tc.names2})
		if len(q.Nets) != 2 || len(q.Devices) != 1 {
			t.Errorf("%v: %s", tc.names, describe(&q))
		}
	}
}

// TestBulk: a well that nothing ties.
func TestBulk(t *testing.T) {
	b := newBoard(t)
	b.box("nwell", -5000, -5000, 20000, 50000)
	b.mos("pdiff", 0, 0, 6000, 1000, "OUT", "IN", "VDD")
	b.mos("pdiff", 0, 20000, 6000, 1000, "OUT2", "IN2", "Y")
	q := expect(t, "two sources", b, Bulk, "supply", 10, 100, map[string]string{"shared": "many", "source": "supply", "tap": ""})
	if len(q.Devices) != 2 || q.NextLook.Text != "look for a tap in the body" {
		t.Errorf("two sources: %s", describe(&q))
	}
	b = newBoard(t)
	b.box("nwell", -5000, -5000, 20000, 20000)
	b.mos("pdiff", 0, 0, 6000, 1000, "OUT", "IN", "FOLLOW")
	b.label("metal1", 5500, 8500, "IN")
	expect(t, "one source", b, Bulk, "source", 0, 10, map[string]string{"shared": "one", "source": ""})
	b = newBoard(t)
	b.box("nwell", -5000, -5000, 40000, 20000)
	b.box("ndiff", 30000, 0, 36000, 6000)
	b.plug(33000, 3000, "VDD")
	b.mos("pdiff", 0, 0, 6000, 1000, "OUT", "IN", "VDD")
	if qs := b.ask(Bulk, Options{All: true}); len(qs) > 0 {
		t.Errorf("a well with a tap is asked about: %s", describe(&qs[0]))
	}
}

// TestOutOfFamily: nine transistors of one size, and one that is 8 % wider, or twice as wide.
func TestOutOfFamily(t *testing.T) {
	for _, tc := range []struct {
		w     int
		leads string
		step  string
	}{{6480, "slip", "small"}, {12000, "meant", "multiple"}} {
		b := newBoard(t)
		for i := range 9 {
			b.mos("ndiff", 0, 30000*i, 6000, 1000, fmt.Sprint("D", i), fmt.Sprint("G", i), fmt.Sprint("S", i))
		}
		b.mos("ndiff", 30000, 0, tc.w, 1000, "D", "G", "S")
		q := expect(t, tc.step, b, OutOfFamily, tc.leads, 0, 100, map[string]string{"step": tc.step, "repeat": "once"})
		if len(q.Devices) != 1 {
			t.Fatalf("devices %v", q.Devices)
		}
		if d := b.extract().Circuit.Devices[q.Devices[0]]; d.W != float64(tc.w) {
			t.Errorf("%s: asks about W = %g", tc.step, d.W)
		}
	}
	b := newBoard(t)
	for i := range 9 {
		b.mos("ndiff", 0, 30000*i, 6000+20*(i%3), 1000, fmt.Sprint("D", i), fmt.Sprint("G", i), fmt.Sprint("S", i))
	}
	if qs := b.ask(OutOfFamily, Options{All: true}); len(qs) > 0 {
		t.Errorf("what differs as tracings do is asked about: %s", describe(&qs[0]))
	}
}

// TestAsymmetry: cross-coupled transistors, and a pair with a tail.
func TestAsymmetry(t *testing.T) {
	cross := func(wa, wb int) *board {
		b := newBoard(t)
		b.mos("ndiff", 0, 0, wa, 1000, "Q", "", "GND")
		b.mos("ndiff", 0, 40000, wb, 1000, "", "", "")
		b.label("metal1", 1500, 40000+wb/2, "P")
		// The gate of the upper one reaches Q, that of the lower one P, the sources are one.
		b.box("metal1", 5000, wa+2000, 6000, 39000)
		b.box("metal1", 1000, 38000, 6000, 39000)
		b.box("metal1", 1000, 38000, 2000, 40000+wb/2)
		b.box("metal1", 7000, wa/2-500, 8000, wa/2+500)
		b.box("metal1", -4000, wa/2-500, 1500, wa/2+500)
		b.box("metal1", -4000, wa/2-500, -3000, 42500+wb+500)
		b.box("metal1", -4000, 42000+wb, 5500, 42500+wb+500)
		b.box("metal1", 7000, wa/2, 8000, 40000+wb/2)
		return b
	}
	q := expect(t, "off by little", cross(6000, 6400), Asymmetry, "slip", 5, 100, map[string]string{"step": "small", "repeat": "once"})
	if len(q.Devices) != 2 {
		t.Errorf("devices %v", q.Devices)
	}
	expect(t, "one is twice the other", cross(6000, 12000), Asymmetry, "meant", 0, 100, map[string]string{"step": "multiple"})
	if qs := cross(6000, 6000).ask(Asymmetry, Options{All: true}); len(qs) > 0 {
		t.Errorf("equal ones are asked about: %s", describe(&qs[0]))
	}
	tail := func(wb int) *board {
		b := newBoard(t)
		b.mos("ndiff", 0, 0, 6000, 1000, "OP", "IP", "T")
		b.mos("ndiff", 0, 30000, wb, 1000, "ON", "IN", "")
		b.mos("ndiff", 0, 60000, 9000, 1000, "GND", "BIAS", "")
		b.box("metal1", 7000, 3000, 8000, 64500)
		return b
	}
	expect(t, "a pair with a tail", tail(6300), Asymmetry, "slip", 5, 100, map[string]string{"step": "small"})
	if qs := tail(6000).ask(Asymmetry, Options{All: true}); len(qs) > 0 {
		t.Errorf("an equal pair is asked about: %s", describe(&qs[0]))
	}
}

// TestWireOrResistor: 1 µm × 200 µm of poly, with a contact at either end.
func TestWireOrResistor(t *testing.T) {
	bar := func(b *board, y, length int) {
		b.box("poly", 0, y, length, y+1000)
		b.plug(500, y+500, "")
		b.plug(length-500, y+500, fmt.Sprint("N", y))
	}
	b := newBoard(t)
	bar(b, 0, 200000)
	q := expect(t, "200 squares", b, WireOrResistor, "resistor", 0, 20, map[string]string{"squares": "most", "likes": "alone", "width": "narrow"})
	if len(q.Nets) != 1 || q.Count != 1 {
		t.Errorf("200 squares: %s", describe(&q))
	}
	b = newBoard(t)
	bar(b, 0, 12000)
	expect(t, "12 squares", b, WireOrResistor, "wire", 5, 100, map[string]string{"squares": "some"})
	b = newBoard(t)
	bar(b, 0, 9000)
	if qs := b.ask(WireOrResistor, Options{All: true}); len(qs) > 0 {
		t.Errorf("9 squares are asked about: %s", describe(&qs[0]))
	}
	b = newBoard(t)
	for i := range 3 {
		bar(b, 5000*i, 60000)
	}
	qs := b.ask(WireOrResistor, Options{All: true})
	if len(qs) != 1 || qs[0].Count != 3 || slices.ContainsFunc(qs, func(q Question) bool { return sawOf(&q, "likes") != "bars" || q.Leading().Reading != "resistor" }) {
		t.Errorf("three bars make %d questions", len(qs))
	}
}

// TestNames: supplies by their names.
func TestNames(t *testing.T) {
	for name, want := range map[string]role{"GND": ground, "vss": ground, "VSS#2": ground, "X1/AGND": ground, "VDD": supply, "VDD1V8": signal, "VDD3": supply, "vcc!": supply, "": signal, "OUT": signal, "GNDSENSE": signal} {
		if got := nameRole(name); got != want {
			t.Errorf("%q is %d, want %d", name, got, want)
		}
	}
}
