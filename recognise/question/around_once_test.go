package question

import (
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// nand is a gate of two inputs and the load that its output should drive: out is the gate's side of a gap in that wire, load the other.
func nand(out, load string) []wired {
	return []wired{
		{"ndiff", 4000, 1000, "GND", "A", "_m"}, {"ndiff", 4000, 1000, "_m", "B", out},
		{"pdiff", 6000, 1000, "VDD", "A", out}, {"pdiff", 6000, 1000, "VDD", "B", out},
		{"ndiff", 4000, 1000, "X", load, "Y"},
	}
}

// TestGapBehindAGate: a gap in the wire from a gate's output to what it drives. The gate is there whether the gap is closed or not, and
// says nothing of it, though its joints weigh less on a longer net.
func TestGapBehindAGate(t *testing.T) {
	ts := nand("_out", "_far")
	b := newBoard(t).wire(ts...)
	beam := func(k int) int { return 40000*len(ts) + 6000*k } // nets by number: GND, A, _m, B, _out, VDD, X, _far
	// From _out's beam on metal1 over VDD's and X's on metal2, down to a hair before that of _far.
	b.box("nwell", -2000, 78000, 12000, 130000)
	b.box("metal2", 30000, beam(4)-1000, 32000, beam(7)-3000)
	b.box("via", 30500, beam(4)-500, 31500, beam(4)+500)
	b.box("metal1", 29900, beam(7)-4500, 32100, beam(7)-1000-200)
	b.box("via", 30500, beam(7)-4200, 31500, beam(7)-3200)
	qs := b.ask(NearMiss, Options{All: true})
	if len(qs) != 1 || sawOf(&qs[0], knownAround) != "" {
		t.Errorf("%d questions", len(qs))
		for i := range qs {
			t.Log(describe(&qs[i]))
		}
	}
}

// TestSupplyCountsOnce: the switches below in a memory cell are n since they are on ground, and fit the cell as n since they are on ground:
// that is one fact. Where the cell says otherwise than the supply, it is another.
func TestSupplyCountsOnce(t *testing.T) {
	qs := newBoard(t).wire(memory("unruly")...).ask(Polarity, Options{All: true})
	for n := 2; n < 6; n++ {
		q := deviceAt(t, qs, n)
		if w := math.Abs(weightOf(&q, "n", "p")); sawOf(&q, "source") == "signal" || w > 6 {
			t.Errorf("transistor %d, %g db: %s", n, w, describe(&q))
		}
	}
	if q := deviceAt(t, qs, 0); !(weightOf(&q, "n", "p") > 5) {
		t.Errorf("a switch to the bit line: %s", describe(&q))
	}
}

// TestPhotodiodesAsAsked: what a structure is told to be has the odds of its question, which is open of one pixel, and decided of an array of them,
// so that it is not listed.
func TestPhotodiodesAsAsked(t *testing.T) {
	for _, pixels := range []int{1, 4} {
		b := newBoard(t)
		cell := b.cell("PIXEL")
		b.wire(pixel(wired{"ndiff", 4000, 1000, "VDD", "RST", "_pd"})...)
		b.box("ndiff", 8500, 0, 38500, 30000)
		if pixels == 1 {
			b.place(cell, 0, 0)
		} else {
			b.array(cell, pixels, 1, 400000, 0)
		}
		res := b.extract()
		for _, kinds := range [][]string{nil, {Photodiode}, {Polarity}} {
			_, told := mustTell(t, res, b.st, nil, Options{Kinds: kinds})
			q := b.one(Photodiode, Options{All: true})
			if q.Leading().Reading != "photodiode" || q.Listed() != (pixels == 1) || len(told.Structures) != pixels {
				t.Errorf("asked %v: told %+v, %s", kinds, told.Structures, describe(&q))
			}
			for _, s := range told.Structures {
				if s.Role != Sensor || s.Odds != q.Leading().OddsDb {
					t.Errorf("asked %v: told %+v, %s", kinds, s, describe(&q))
				}
			}
		}
	}
}

// TestWhereNobodyLooked: of a pair of samples one capacitor is missing, and the other is asked about. What lacks a piece where all was looked
// at is little; where the gates were traced only as far as the one that is asked about goes, the other may well be there.
func TestWhereNobodyLooked(t *testing.T) {
	b := newBoard(t).wire(wired{"ndiff", 24000, 20000, "REF", "_s", "-"}, wired{"ndiff", 4000, 1000, "COL", "SHS", "_s"}, wired{"ndiff", 4000, 1000, "COL", "SHR", "_r"})
	for _, tc := range []struct {
		traced []layout.Shape
		want   string
	}{
		{nil, ""},
		{[]layout.Shape{{Layer: b.layer("poly"), Polygon: geom.Polygon{geom.Box(-200000, -200000, 200000, 200000).Ring()}}}, ""},
		{[]layout.Shape{{Layer: b.layer("poly"), Polygon: geom.Polygon{geom.Box(-200000, -200000, 200000, 30000).Ring()}}}, "capacitor-maybe"},
	} {
		q := deviceAt(t, b.ask(TransistorOrCapacitor, Options{All: true, Traced: tc.traced}), 0)
		if got := sawOf(&q, knownAround); got != tc.want {
			t.Errorf("traced %v: %q, want %q", tc.traced, got, tc.want)
		}
	}
}

// TestArticles: titles in sentences, those of the library that are easily got wrong and those of logic.
func TestArticles(t *testing.T) {
	for title, want := range map[string]string{
		"inverter": "an inverter", "one-transistor memory cell": "a one-transistor memory cell", "eight-transistor memory cell": "an eight-transistor memory cell",
		"two pixels that share a readout": "two pixels that share a readout", "pad protection by two diodes": "pad protection by two diodes",
		"pad resistor with clamp": "a pad resistor with clamp", "correlated double sampling": "correlated double sampling",
		"AND-OR-INVERT": "an AND-OR-INVERT", "NAND of 2 inputs": "a NAND of 2 inputs", "three-transistor active pixel": "a three-transistor active pixel",
	} {
		if got := withArticle(title); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
