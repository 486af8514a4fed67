package question

import (
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

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
