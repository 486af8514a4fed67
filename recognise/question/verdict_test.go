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
