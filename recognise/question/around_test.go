package question

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/layout"
)

// wired is a transistor of a circuit on a board: its layer, its width and length in nm, its nets. Nets that begin with "_" have no label.
type wired struct {
	diff    string
	w, l    int
	d, g, s string
}

// wire draws transistors one above the other and joins their nets: to the left of them an upright of metal2 for each net for drains, to
// the right one for gates and sources, above them a beam of metal1 from one to the other. "-" has neither contact nor wire. The n-th
// transistor begins at a height of n·40 µm.
func (b *board) wire(ts ...wired) *board {
	const step, left, right, track = 40000, -10000, 60000, 6000
	number := map[string]int{}
	top := step * len(ts)
	b.box("nwell", -1000000, -3000000, -990000, -2990000) // wells were looked for
	for i, t := range ts {
		y := step * i
		b.mos(t.diff, 0, y, t.w, t.l, tied(t.d), tied(t.g), tied(t.s))
		for _, p := range []struct {
			x, y int
			net  string
			side int
		}{{1500, y + t.w/2, t.d, left}, {5500, y + t.w + 2500, t.g, right}, {6500 + t.l, y + t.w/2, t.s, right}} {
			if p.net == "-" {
				continue
			}
			k, ok := number[p.net]
			if !ok {
				k = len(number)
				number[p.net] = k
				beam := top + track*k
				for _, x := range []int{left - track*k, right + track*k} {
					b.box("metal2", x-1000, -5000, x+1000, beam+1000)
					b.box("via", x-500, beam-500, x+500, beam+500)
				}
				b.box("metal1", left-track*k-1000, beam-1000, right+track*k+1000, beam+1000)
				if !strings.HasPrefix(p.net, "_") {
					b.label("metal1", right+track*k, beam, p.net)
				}
			}
			x := p.side + track*k
			if p.side == left {
				x = left - track*k
			}
			b.box("metal1", min(p.x, x-1000), p.y-600, max(p.x, x+1000), p.y+600)
			b.box("via", x-500, p.y-500, x+500, p.y+500)
		}
	}
	return b
}

// tied gives a terminal a contact without a label, unless it has none.
func tied(net string) string {
	if net == "-" {
		return "-"
	}
	return ""
}

// plateAt returns the question of the structure of the n-th transistor, with all that it asks.
func plateAt(t *testing.T, b *board, n int) Question {
	t.Helper()
	return deviceAt(t, b.ask(TransistorOrCapacitor, Options{All: true}), n)
}

func deviceAt(t *testing.T, qs []Question, n int) Question {
	t.Helper()
	for i := range qs {
		for _, p := range qs[i].Places {
			if p.At.Y >= 40000*n-2000 && p.At.Y < 40000*n+38000 && p.At.X > -2000 && p.At.X < 50000 {
				return qs[i]
			}
		}
	}
	for i := range qs {
		t.Log(describe(&qs[i]))
	}
	t.Fatalf("no question about transistor %d", n)
	return Question{}
}

// weightOf is what an observation counts for one reading against another, in decibans; NaN where it is not weighed.
func weightOf(q *Question, a, b string) float64 {
	for i := range q.Evidence {
		if e := &q.Evidence[i]; e.of.name == knownAround && e.Weighed {
			return e.Decibans[a] - e.Decibans[b]
		}
	}
	return math.NaN()
}

// pixel is a three-transistor pixel whose reset may be a plate: far wider and longer than any other gate.
func pixel(reset wired) []wired {
	return []wired{reset, {"ndiff", 4000, 1000, "VDD", "_pd", "_x"}, {"ndiff", 4000, 1000, "_x", "SEL", "COL"}}
}

var largeReset = wired{"ndiff", 20000, 20000, "VDD", "RST", "_pd"}

// TestPixelReset: a reset that is as large as a plate stands in a pixel that is whole but for it. The rest of the pixel says that it is a
// transistor; without the rest, and with half of it, nothing does, whatever it is read as.
func TestPixelReset(t *testing.T) {
	whole := plateAt(t, newBoard(t).wire(pixel(largeReset)...), 0)
	if sawOf(&whole, knownAround) != "transistor" || whole.Leading().Reading != "transistor" {
		t.Errorf("in a pixel: %s", describe(&whole))
	}
	alone := plateAt(t, newBoard(t).wire(largeReset), 0)
	half := plateAt(t, newBoard(t).wire(pixel(largeReset)[:2]...), 0)
	for _, q := range []Question{alone, half} {
		if s := sawOf(&q, knownAround); s == "transistor" || strings.HasPrefix(s, "capacitor") {
			t.Errorf("without the pixel's rest it is %q: %s", s, describe(&q))
		}
		if d := odds(&whole, "transistor") - odds(&q, "transistor"); d < 5 {
			t.Errorf("the pixel counts %g db", d)
		}
	}
	// By the definition of the table: 10·log10 of P(seen given transistor) over P(seen given capacitor).
	o := theTable()[TransistorOrCapacitor].observation(knownAround)
	if got, want := weightOf(&whole, "transistor", "capacitor"), 10*math.Log10(o.outcomes[0].given[0]/o.outcomes[0].given[1]); math.Abs(got-want) > 1e-9 {
		t.Errorf("it counts %g db, want %g", got, want)
	}
	for i := range alone.Evidence {
		if e := &alone.Evidence[i]; e.of.name == knownAround && (e.Observed || e.Weighed || !strings.Contains(e.Text, "not seen")) {
			t.Errorf("alone: %+v", e)
		}
	}
}

// TestAgainstTheDefault: two capacitors of a pair of samples, of which one plate has lost a contact: drawn, and by all else, it is a
// transistor of which one side leads nowhere. The three others are there, and have a capacitor in its place.
func TestAgainstTheDefault(t *testing.T) {
	pair := []wired{
		{"ndiff", 24000, 20000, "REF", "_s", "-"},
		{"ndiff", 4000, 1000, "COL", "SHS", "_s"},
		{"ndiff", 4000, 1000, "COL", "SHR", "_r"},
		{"ndiff", 16000, 12000, "REF", "_r", "REF"},
	}
	q := plateAt(t, newBoard(t).wire(pair...), 0)
	alone := plateAt(t, newBoard(t).wire(pair[0]), 0)
	if s := sawOf(&q, knownAround); !strings.HasPrefix(s, "capacitor") || weightOf(&q, "capacitor", "transistor") < 5 {
		t.Errorf("%q: %s", s, describe(&q))
	}
	if odds(&q, "capacitor") < odds(&alone, "capacitor")+5 {
		t.Errorf("beside its pair %g db, alone %g db: %s", odds(&q, "capacitor"), odds(&alone, "capacitor"), describe(&alone))
	}
}

// TestNoVouchingInCircles: of a pixel all three gates are as large as plates. Two that are in doubt themselves vouch for none.
func TestNoVouchingInCircles(t *testing.T) {
	ts := pixel(largeReset)
	ts[1].w, ts[1].l, ts[2].w, ts[2].l = 20000, 20000, 20000, 20000
	b := newBoard(t).wire(ts...)
	for n := range ts {
		if q := plateAt(t, b, n); q.Open() && !math.IsNaN(weightOf(&q, "transistor", "capacitor")) {
			t.Errorf("transistor %d: %s", n, describe(&q))
		}
	}
}

// memory is a six-transistor cell.
func memory(access string) []wired {
	return []wired{
		{"unruly", 6000, 1000, "BL", "WL", "_q"}, {"unruly", 6000, 1000, "BLN", "WL", "_qn"},
		{access, 6000, 1000, "_q", "_qn", "GND"}, {access, 6000, 1000, "_qn", "_q", "GND"},
		{"unruly", 6000, 1000, "_q", "_qn", "VDD"}, {"unruly", 6000, 1000, "_qn", "_q", "VDD"},
	}
}

// TestMemoryPolarity: no rule knows the diffusion of a memory cell. Supplies tell what is tied to them; that the switches to the bit lines are
// n only the whole cell tells. Where no supply has a name nothing does.
func TestMemoryPolarity(t *testing.T) {
	qs := newBoard(t).wire(memory("unruly")...).ask(Polarity, Options{All: true})
	for n, want := range []string{"n", "n", "n", "n", "p", "p"} {
		q := deviceAt(t, qs, n)
		if q.Leading().Reading != want || n < 2 && (sawOf(&q, knownAround) != "n" || sawOf(&q, "source") != "signal") {
			t.Errorf("transistor %d, want %s: %s", n, want, describe(&q))
		}
		if n >= 2 && weightOf(&q, "n", "p") > 0 && want == "p" {
			t.Errorf("transistor %d: %s", n, describe(&q))
		}
	}
	ts := memory("unruly")
	for i := range ts {
		ts[i].s = map[string]string{"GND": "_a", "VDD": "_b"}[ts[i].s]
		if ts[i].s == "" {
			ts[i].s = memory("unruly")[i].s
		}
	}
	qs = newBoard(t).wire(ts...).ask(Polarity, Options{All: true})
	for n := 2; n < 6; n++ {
		if q := deviceAt(t, qs, n); weightOf(&q, "n", "p") > 0 || weightOf(&q, "n", "p") < 0 {
			t.Errorf("without supplies transistor %d: %s", n, describe(&q))
		}
	}
}

// TestSameOddsEverywhere: whatever is asked beside it, whatever is listed, and whether it was answered, recognition says the same of a
// structure: its odds are the same.
func TestSameOddsEverywhere(t *testing.T) {
	b := newBoard(t).wire(pixel(largeReset)...)
	res := b.extract()
	want := plateAt(t, b, 0)
	same := func(how string, q Question) {
		t.Helper()
		for _, r := range want.Readings {
			if got := odds(&q, r.Reading); math.Abs(got-r.OddsDb) > 1e-9 {
				t.Errorf("%s: %s has %g db, want %g", how, r.Reading, got, r.OddsDb)
			}
		}
	}
	told, _ := mustTell(t, res, b.st, nil, Options{All: true})
	var plates []Question
	for _, q := range told {
		if q.Kind == TransistorOrCapacitor {
			plates = append(plates, q)
		}
	}
	same("AskAndTell", deviceAt(t, plates, 0))
	at, ok, err := TransistorOrCapacitorAt(t.Context(), res, b.st, want.Devices[0], Options{})
	if !ok || err != nil {
		t.Fatal("no question of the device: ", err)
	}
	same("TransistorOrCapacitorAt", at)
	for _, reading := range []string{"transistor", "capacitor"} {
		b.lib.Cells[0].Verdicts = []layout.Verdict{{Layer: b.layer("poly"), At: want.At, Kind: TransistorOrCapacitor, Reading: reading}}
		q := plateAt(t, b, 0)
		if q.Verdict != reading {
			t.Fatalf("not answered: %s", describe(&q))
		}
		if reading == "transistor" {
			same("answered", q)
		}
	}
	b = newBoard(t).wire(memory("unruly")...)
	open := deviceAt(t, b.ask(Polarity, Options{All: true}), 0)
	b.lib.Cells[0].Verdicts = []layout.Verdict{{Layer: b.layer("poly"), At: open.Places[0].At, Kind: Polarity, Reading: "p"}}
	answered := deviceAt(t, b.ask(Polarity, Options{All: true}), 0)
	if answered.Verdict != "p" || math.Abs(odds(&answered, "n")-odds(&open, "n")) > 1e-9 {
		t.Errorf("answered as p: %s\nopen: %s", describe(&answered), describe(&open))
	}
}

// TestGapInAPixel: the wire from the reset to the follower has a hair of a gap. With it closed there is a pixel, as it is there is none; a
// gap between two wires that a pixel needs apart says the opposite.
func TestGapInAPixel(t *testing.T) {
	ts := pixel(wired{"ndiff", 4000, 1000, "VDD", "RST", "_pd"})
	ts[1].g = "_pd2"
	b := newBoard(t).wire(ts...)
	beam := func(k int) int { return 40000*len(ts) + 6000*k } // nets by number: VDD, RST, _pd, _pd2, _x, SEL, COL
	b.box("metal1", 30000, beam(2)+1000, 32000, beam(3)-1000-200)
	qs := b.ask(NearMiss, Options{All: true})
	if len(qs) != 1 || sawOf(&qs[0], knownAround) != "joined" {
		t.Errorf("a gap in a wire: %d questions", len(qs))
		for i := range qs {
			t.Log(describe(&qs[i]))
		}
	}
	b = newBoard(t).wire(pixel(wired{"ndiff", 4000, 1000, "VDD", "RST", "_pd"})...)
	b.box("metal1", 30000, 40000*3+6000*1+1000, 32000, 40000*3+6000*2-1000-200) // RST and _pd
	if qs = b.ask(NearMiss, Options{All: true}); len(qs) != 1 || sawOf(&qs[0], knownAround) != "apart" {
		t.Errorf("a gap between two wires: %d questions", len(qs))
		for i := range qs {
			t.Log(describe(&qs[i]))
		}
	}
}

// TestGateOfAMemoryCell: a gate of a memory cell has no contact. Nothing else is missing of the cell.
func TestGateOfAMemoryCell(t *testing.T) {
	ts := memory("unruly")
	ts[2].g = "-"
	q := newBoard(t).wire(ts...).one(FloatingGate, Options{All: true})
	if sawOf(&q, knownAround) != "lacking" || weightOf(&q, "missing", "floating") < 5 {
		t.Errorf("%s", describe(&q))
	}
	q = newBoard(t).wire(ts[2]).one(FloatingGate, Options{All: true})
	if sawOf(&q, knownAround) != "" {
		t.Errorf("alone: %s", describe(&q))
	}
}

// TestSenseNode: a large junction on the node that a pixel gathers light on; the same junction elsewhere.
func TestSenseNode(t *testing.T) {
	ts := pixel(wired{"ndiff", 4000, 1000, "VDD", "RST", "_pd"})
	b := newBoard(t).wire(ts...)
	b.box("ndiff", 8500, 0, 38500, 30000) // the source of the reset goes on
	q := b.one(Photodiode, Options{All: true})
	if sawOf(&q, knownAround) != "light" || weightOf(&q, "photodiode", "junction") < 5 {
		t.Errorf("%s", describe(&q))
	}
	b = newBoard(t).wire(ts[0])
	b.box("ndiff", 8500, 0, 38500, 30000)
	if q = b.one(Photodiode, Options{All: true}); sawOf(&q, knownAround) != "" {
		t.Errorf("alone: %s", describe(&q))
	}
}

// TestSizesInPixels: of ten pixels on one column one has a wider follower: its likes have the same place, and should have the same size.
func TestSizesInPixels(t *testing.T) {
	var ts []wired
	for i := range 10 {
		w := 6000
		if i == 7 {
			w = 6480
		}
		pd, x := fmt.Sprint("_pd", i), fmt.Sprint("_x", i)
		ts = append(ts, wired{"ndiff", 4000, 2000, "VDD", fmt.Sprint("RST", i), pd}, wired{"ndiff", w, 1000, "VDD", pd, x}, wired{"ndiff", 4000, 2000, x, fmt.Sprint("SEL", i), "COL"})
	}
	b := newBoard(t).wire(ts...)
	found := false
	for _, q := range b.ask(OutOfFamily, Options{All: true}) {
		if b.extract().Circuit.Devices[q.Devices[0]].W == 6480 {
			found = true
			if sawOf(&q, knownAround) != "same" || weightOf(&q, "slip", "meant") < 3 {
				t.Errorf("%s", describe(&q))
			}
		}
	}
	if !found {
		t.Error("nobody asks about the wider follower")
	}
}
