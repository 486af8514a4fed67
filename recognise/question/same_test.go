package question

import (
	"context"
	"os"
	"reflect"
	"testing"

	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
	"undermetal/testdata/ambiguous"
)

// TestSame: plates that are taken for the same are asked about as if each were looked at by itself: in the corpus' memory, which
// repeats its cells thousands of times.
func TestSame(t *testing.T) {
	dir := os.Getenv("UNDERMETAL_CORPUS")
	if dir == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: no memory to ask about")
	}
	dir += "/ihp-sg13g2/"
	st, err := stack.Load(dir + "ihp-sg13g2.stack.toml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(dir + "RM_IHPSG13_1P_256x8_c3_bm_bist.gds")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(f.Name(), f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	res, err := extract.Run(context.Background(), lib, lib.Tops()[0], st, extract.Options{Facts: true})
	if err != nil {
		t.Fatal(err)
	}
	sameAsEach(t, newView(res, st, nil, Options{All: true, Kinds: []string{TransistorOrCapacitor}}), 100)
}

// TestSameVerdicts: cells with answers, for all and for one place, on supplies and on signals.
func TestSameVerdicts(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("CAP")
	drawPlate(b, 0, 0, "A", "G", "B")
	b.on = b.lib.Cells[0]
	for i := range 5 {
		b.place(cell, 100000*i, 0)
	}
	b.mos("unruly", 0, 60000, 6000, 1000, "OUT", "IN", "GND")
	for range 3 {
		res := b.extract()
		sameAsEach(t, newView(res, b.st, nil, Options{All: true}), 0)
		if len(cell.Verdicts) == 0 {
			b.verdict(cell, "poly", 13000, 9000, TransistorOrCapacitor, "capacitor")
		} else {
			b.verdict(b.lib.Cells[0], "poly", 213000, 9000, TransistorOrCapacitor, "dummy")
		}
	}
}

// sameAsEach compares what is asked with what is asked where each plate is looked at by itself; at least folded plates must be
// spared.
func sameAsEach(t *testing.T, v *view, folded int) {
	t.Helper()
	w := newView(v.res, v.st, v.checks, v.opt)
	w.each = true
	got, err := v.ask()
	want, err2 := w.ask()
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	if len(got) != len(want) {
		t.Fatalf("%d questions, want %d", len(got), len(want))
	}
	count := 0
	for i := range got {
		for _, q := range []*Question{&got[i], &want[i]} {
			for k := range q.Evidence {
				q.Evidence[k].of = nil
			}
			q.Box = geom.Rect{}
		}
		count += got[i].Count - 1
		if !reflect.DeepEqual(got[i], want[i]) {
			t.Errorf("question %d: %s\nwant %s", i, describe(&got[i]), describe(&want[i]))
			if got[i].ID != want[i].ID {
				break
			}
		}
	}
	if count < folded {
		t.Errorf("only %d plates are the same as others", count)
	}
}

// TestSameSkims: one gate, placed twice, with eight pieces of diffusion up to it: once in one line, as between fingers, once on two
// sides, as in openings. They are two questions.
func TestSameSkims(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("GATE")
	b.box("poly", 0, 0, 80000, 20000)
	b.on = b.lib.Cells[0]
	for i := range 8 {
		x, y := 2000+9000*i, -4500
		b.box("ndiff", x, y, x+5000, y+5000)
		if i%2 == 1 {
			y = 19500
		}
		b.box("ndiff", 300000+x, y, 300000+x+5000, y+5000)
	}
	b.place(cell, 0, 0)
	b.place(cell, 300000, 0)
	res := b.extract()
	v := newView(res, b.st, nil, Options{All: true, Kinds: []string{TransistorOrCapacitor}})
	if len(v.plates) != 2 || !v.plates[0].skim || !v.plates[1].skim {
		t.Fatalf("%d plates", len(v.plates))
	}
	sameAsEach(t, v, 0)
}

// TestLikesMatter: where likes are said not to matter, none are looked at: in generated drawings, as drawn, as traced and without contacts.
func TestLikesMatter(t *testing.T) {
	idle, looked := 0, 0
	for seed := uint64(1_000_000); seed < 1_000_200; seed++ {
		drawn := ambiguous.Generate(seed)
		for _, c := range []ambiguous.Case{drawn, traced(seed), ambiguous.WithoutContacts(drawn)} {
			v := viewOf(t, &c, nil)
			for k := range v.plates {
				p := &v.plates[k]
				s := v.lookAtPlate(p)["likes"].outcome
				at := s != "" && s != beside
				switch {
				case !v.likesMatter(p) && at:
					t.Fatalf("%s: plate %d, whose likes do not matter, sees %q", c.Name, k, s)
				case at:
					looked++
				case !v.likesMatter(p):
					idle++
				}
			}
		}
	}
	if idle < 500 || looked < 100 {
		t.Errorf("of %d plates likes do not matter, of %d some are looked at", idle, looked)
	}
}
