package question

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// verdict adds a verdict to a cell.
func (b *board) verdict(c *layout.Cell, layer string, x, y int, kind, reading string) {
	c.Verdicts = append(c.Verdicts, layout.Verdict{Layer: b.layer(layer), At: geom.Point{X: x, Y: y}, Kind: kind, Reading: reading})
}

// TestVerdicts: a verdict of a cell answers the question of all its placements, which then comes last; one of the die answers
// a single place; what extraction has already followed is listed all the same.
func TestVerdicts(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("CAP")
	drawPlate(b, 0, 0, "A", "G", "B")
	b.on = b.lib.Cells[0]
	for i := range 3 {
		b.place(cell, 100000*i, 0)
	}
	b.mos("unruly", 0, 60000, 6000, 1000, "OUT", "IN", "GND")
	open := b.ask("", Options{})
	if len(open) < 2 || open[0].Verdict != "" {
		t.Fatalf("%d questions, the first answered with %q", len(open), open[0].Verdict)
	}
	b.verdict(cell, "poly", 13000, 9000, TransistorOrCapacitor, "capacitor")
	q := b.one(TransistorOrCapacitor, Options{Kinds: []string{TransistorOrCapacitor}})
	if q.Verdict != "capacitor" || q.Count != 3 || q.Open() || len(q.Devices) != 3 {
		t.Errorf("a verdict of a cell: %q %s", q.Verdict, describe(&q))
	}
	res := b.extract()
	for _, d := range q.Devices {
		if res.Circuit.Devices[d].Kind != netlist.Capacitor {
			t.Errorf("device %d is a %s", d, res.Circuit.Devices[d].Kind)
		}
	}
	all := b.ask("", Options{All: true})
	if last := all[len(all)-1]; last.Verdict == "" {
		t.Errorf("what is answered does not come last: %s", describe(&last))
	}
	// Another answer for one place.
	b.verdict(b.lib.Cells[0], "poly", 113000, 9000, TransistorOrCapacitor, "transistor")
	counts := map[string]int{}
	for _, q := range b.ask(TransistorOrCapacitor, Options{}) {
		counts[q.Verdict] += q.Count
	}
	if counts["capacitor"] != 2 || counts["transistor"] != 1 {
		t.Errorf("answers %v, want two capacitors and a transistor", counts)
	}
	b.verdict(b.lib.Cells[0], "poly", 4500, 63000, Polarity, "n")
	if q := b.one(Polarity, Options{}); q.Verdict != "n" || q.Open() || q.Leading().Reading != "n" {
		t.Errorf("polarity: %q %s", q.Verdict, describe(&q))
	}
}

// TestVerdictsElsewhere: kinds that extraction cannot follow, and those that it makes vanish.
func TestVerdictsElsewhere(t *testing.T) {
	b := newBoard(t)
	b.box("poly", 0, 0, 200000, 1000)
	b.plug(500, 500, "")
	b.plug(199500, 500, "X")
	b.verdict(b.lib.Cells[0], "poly", 100000, 500, WireOrResistor, "resistor")
	if q := b.one(WireOrResistor, Options{}); q.Verdict != "resistor" {
		t.Errorf("a strip: %q", q.Verdict)
	}
	b = newBoard(t)
	b.box("metal1", 0, 0, 5000, 2000)
	b.box("metal1", 5050, 0, 9000, 2000)
	b.label("metal1", 100, 100, "A")
	b.verdict(b.lib.Cells[0], "metal1", 5000, 1000, NearMiss, "joined")
	if q := b.one(NearMiss, Options{}); q.Verdict != "joined" || q.Open() {
		t.Errorf("a gap: %q", q.Verdict)
	}
	// Far from everything a verdict answers nothing.
	b = newBoard(t)
	b.box("metal1", 0, 0, 5000, 2000)
	b.box("metal1", 5050, 0, 9000, 2000)
	b.verdict(b.lib.Cells[0], "metal1", 500000, 1000, NearMiss, "joined")
	if q := b.one(NearMiss, Options{All: true}); q.Verdict != "" {
		t.Errorf("a verdict of elsewhere answers: %q", q.Verdict)
	}
	// The word that extraction follows is told, and understood.
	b = newBoard(t)
	b.mos("unruly", 0, 0, 6000, 1000, "OUT", "IN", "VDD")
	q := b.one(Bulk, Options{All: true})
	if q.Answers["supply"] != "VDD" {
		t.Fatalf("a bulk: answers %v", q.Answers)
	}
	b.verdict(b.lib.Cells[0], "poly", q.At.X, q.At.Y, Bulk, q.Answers["supply"])
	if q := b.one(Bulk, Options{}); q.Verdict != "supply" {
		t.Errorf("a bulk: %q %s", q.Verdict, describe(&q))
	}
	res := b.extract()
	if n := res.Circuit.Devices[q.Devices[0]].Terminals[netlist.Bulk]; res.Circuit.Nets[n].Name != "VDD" {
		t.Errorf("the bulk is %q", res.Circuit.Nets[n].Name)
	}
}

// TestAnswerOfNeighbour: an answer about what lies within the box of something else, or on a net with it, answers that alone.
func TestAnswerOfNeighbour(t *testing.T) {
	hook := func(b *board, layer string, at, long, wide int) { // from the left along the bottom, then up
		b.box(layer, at, at, at+long, at+wide)
		b.box(layer, at+long-wide, at, at+long, at+long)
	}
	for _, tc := range []struct {
		name, kind, layer string
		draw              func(b *board)
		x, y              int // µm, of the answer
		readings          []string
	}{
		{"hooks of poly", WireOrResistor, "poly", func(b *board) {
			for i, at := range []int{0, 5000} {
				hook(b, "poly", at, 40000-15000*i, 1000)
				b.plug(at+500, at+500, string(rune('A'+i)))
				b.plug(at+39500-15000*i, at+39500-15000*i, string(rune('C'+i)))
			}
		}, 15, 5, []string{"wire", "resistor", "fuse"}},
		{"a strip beside a neck", WireOrResistor, "poly", func(b *board) {
			b.box("poly", 0, 0, 20000, 60000)
			b.box("poly", 20000, 29000, 29000, 30000)
			b.box("poly", 29000, 0, 49000, 60000)
			b.plug(2000, 30000, "A")
			b.plug(47000, 30000, "B")
			b.box("poly", 24000, 2000, 25000, 26000)
			b.plug(24500, 2500, "C")
			b.plug(24500, 25500, "D")
		}, 24, 14, []string{"wire", "resistor", "fuse"}},
		{"two strips in series", WireOrResistor, "poly", func(b *board) {
			for _, y := range []int{0, 10000} {
				b.box("poly", -y/2, y, 30000, y+1000)
				b.plug(500-y/2, y+500, "")
				b.plug(29500, y+500, "")
			}
			b.box("metal1", 29000, 0, 30000, 11000)
		}, 15, 0, []string{"wire", "resistor", "fuse"}},
		{"a transistor in the bend of another", TransistorOrCapacitor, "poly", func(b *board) {
			hook(b, "unruly", 0, 60000, 20000)
			hook(b, "poly", 8000, 44000, 4000)
			b.box("poly", 2000, 8000, 8000, 12000) // past the diffusion's ends
			b.box("poly", -2000, 8000, 8000, 12000)
			b.box("poly", 48000, 52000, 52000, 62000)
			b.box("unruly", 20000, 30000, 35000, 34000)
			b.box("poly", 27000, 28000, 29000, 36000)
		}, 28, 32, []string{"dummy", "capacitor"}},
		{"a diffusion in the bend of another", Photodiode, "ndiff", func(b *board) {
			hook(b, "ndiff", 0, 100000, 30000)
			b.box("ndiff", 10000, 50000, 50000, 90000)
			b.plug(15000, 15000, "A")
			b.plug(15000, 70000, "B")
		}, 30, 70, []string{"junction", "diode", "photodiode"}},
	} {
		for _, reading := range tc.readings {
			b := newBoard(t)
			tc.draw(b)
			if qs := b.ask(tc.kind, Options{All: true}); len(qs) != 2 {
				t.Fatalf("%s: %d questions", tc.name, len(qs))
			}
			b.verdict(b.lib.Cells[0], tc.layer, tc.x*1000, tc.y*1000+500, tc.kind, reading)
			answered := 0
			qs := b.ask(tc.kind, Options{All: true})
			for _, q := range qs {
				if q.Verdict != "" {
					answered++
					if q.Verdict != reading || !q.Box.Contains(geom.Point{X: tc.x * 1000, Y: tc.y*1000 + 500}) && q.At != (geom.Point{X: tc.x * 1000, Y: tc.y*1000 + 500}) {
						t.Errorf("%s is %s: %s", tc.name, reading, describe(&q))
					}
				}
			}
			if len(qs) != 2 || answered != 1 {
				t.Errorf("%s is %s: %d questions, %d of them answered", tc.name, reading, len(qs), answered)
			}
		}
	}
}

// TestDiodesStayOne: four diffusions that nothing covers are one question, whatever they are said to be, and stay one.
func TestDiodesStayOne(t *testing.T) {
	for _, reading := range []string{"photodiode", "diode", "junction"} {
		b := newBoard(t)
		for i := range 4 {
			b.box("ndiff", 40000*i, 0, 40000*i+30000, 30000)
			b.plug(40000*i+15000, 15000, "")
			b.verdict(b.lib.Cells[0], "ndiff", 40000*i+10000, 10000, Photodiode, reading)
		}
		if q := b.one(Photodiode, Options{All: true}); q.Count != 4 || q.Verdict != reading || sawOf(&q, "array") != "many" {
			t.Errorf("%s: %s", reading, describe(&q))
		}
	}
}
