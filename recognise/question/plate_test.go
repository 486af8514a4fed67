package question

import (
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// drawPlate draws a plate of 20 µm over a diffusion that goes on at two sides; its ends lie on nets a and b, the plate on gate.
func drawPlate(b *board, x, y int, a, gate, c string) {
	b.box("ndiff", x, y, x+26000, y+18000)
	b.box("poly", x+3000, y-1000, x+23000, y+19000)
	b.box("poly", x+3000, y+19000, x+6000, y+22000)
	for i := range 3 {
		b.plug(x+1500, y+3000+6000*i, "")
		b.plug(x+24500, y+3000+6000*i, "")
		b.box("metal1", x+500, y+2000, x+2500, y+16000)
		b.box("metal1", x+23500, y+2000, x+25500, y+16000)
	}
	b.label("metal1", x+1500, y+3000, a)
	b.plug(x+4500, y+20500, gate)
	b.label("metal1", x+24500, y+3000, c)
}

// TestTalliesStay: what was counted by a copy of a view, such as looks at one plate beside another, is not overwritten by what the view counts.
func TestTalliesStay(t *testing.T) {
	b := newBoard(t)
	drawPlate(b, 0, 0, "A", "G", "B")
	drawPlate(b, 0, 60000, "C", "H", "D")
	drawPlate(b, 0, 120000, "E", "I", "F")
	v := newView(b.extract(), b.st, nil, Options{})
	v.tally(&v.plates[2])
	w := *v
	nets, counts, _ := w.tally(&v.plates[0])
	wantNets, wantCounts := slices.Clone(nets), slices.Clone(counts)
	v.tally(&v.plates[1])
	if nets, counts, _ = v.tally(&v.plates[0]); len(nets) != 2 || !slices.Equal(nets, wantNets) || !slices.Equal(counts, wantCounts) {
		t.Errorf("nets %v, %v times, were %v, %v times", nets, counts, wantNets, wantCounts)
	}
}

// TestPlates: what each structure is taken for, and what was seen of it.
func TestPlates(t *testing.T) {
	for _, tc := range []struct {
		name    string
		draw    func(b *board)
		leads   string
		atLeast float64 // its odds
		listed  bool
		seen    []string
	}{
		{"an ordinary transistor is decided", func(b *board) { b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND") }, "transistor", 30, false,
			[]string{"nets two", "sides opposite", "fingers few", "length short", "ratio ordinary", "rim fed", "ties signal", "stain other", "stripped not there", "contacts not there"}},
		{"a plate with one net on both ends, between supplies", func(b *board) {
			drawPlate(b, 0, 0, "GND", "VDD", "GND")
			b.box("metal1", 500, -5000, 2500, 3000)
			b.box("metal1", 23500, -5000, 25500, 3000)
			b.box("metal1", 500, -5000, 25500, -3000)
		}, "capacitor", 20, true, []string{"nets one", "sides opposite", "length plate", "ratio square", "rim even", "ties supplies", "likes alone"}},
		{"the same plate between two nets", func(b *board) { drawPlate(b, 0, 0, "A", "IN", "B") }, "capacitor", 0, true, []string{"nets two", "length plate"}}, // no switch is as long

		{"a plate that a diffusion surrounds", func(b *board) {
			b.box("ndiff", 0, 0, 26000, 26000)
			b.box("poly", 3000, 3000, 23000, 23000)
			b.plug(1500, 13000, "GND")
			b.plug(13000, 13000, "VDD")
		}, "capacitor", 20, true, []string{"nets one", "sides round", "contacts not there", "ratio square"}},
		{"a gate that covers its diffusion", func(b *board) {
			b.box("ndiff", 1000, 1000, 19000, 19000)
			b.box("poly", 0, 0, 20000, 20000)
			b.plug(10000, 10000, "VDD")
		}, "capacitor", 10, true, []string{"nets none", "sides none", "contacts not there", "rim not there"}},
		{"a diffusion that ends beneath the plate", func(b *board) {
			b.box("ndiff", -4000, 1000, 15000, 19000)
			b.box("poly", 0, 0, 20000, 20000)
			b.plug(-2000, 10000, "GND")
			b.plug(10000, 10000, "VDD")
		}, "capacitor", 10, true, []string{"nets one", "sides one"}},
		{"a plate over nothing", func(b *board) {
			b.box("poly", 0, 0, 20000, 20000)
			b.plug(10000, 10000, "VDD")
		}, "capacitor", 5, true, []string{"beneath no", "nets not there", "length plate", "stripped "}},
		{"n diffusion in an n well", func(b *board) {
			b.box("nwell", -3000, -3000, 30000, 30000)
			drawPlate(b, 0, 0, "A", "IN", "B")
		}, "capacitor", 20, false, []string{"stain same"}},
		{"a mesh whose openings are two nets by turns", func(b *board) { drawMesh(b, true) }, "transistor", 10, true,
			[]string{"nets chequered", "sides not there", "fingers not there", "length not there"}},
		{"the same mesh with one net in all openings", func(b *board) { drawMesh(b, false) }, "capacitor", 0, true, []string{"nets tied", "contacts not there"}},
	} {
		b := newBoard(t)
		tc.draw(b)
		all := b.ask(TransistorOrCapacitor, Options{All: true})
		if len(all) != 1 {
			t.Errorf("%s: %d structures", tc.name, len(all))
			continue
		}
		q := &all[0]
		for _, s := range tc.seen {
			name, want, _ := strings.Cut(s, " ")
			if got := sawOf(q, name); got != want {
				t.Errorf("%s: %s is %q, want %q", tc.name, name, got, want)
			}
		}
		if q.Leading().Reading != tc.leads || q.Leading().OddsDb < tc.atLeast {
			t.Errorf("%s: want %s with %g db or more\n%s", tc.name, tc.leads, tc.atLeast, describe(q))
		}
		if listed := len(b.ask(TransistorOrCapacitor, Options{})) == 1; listed != tc.listed {
			t.Errorf("%s: listed %v, want %v\n%s", tc.name, listed, tc.listed, describe(q))
		}
		if len(q.Devices) > 0 {
			if again, ok, err := TransistorOrCapacitorAt(t.Context(), b.extract(), b.st, q.Devices[0], Options{}); err != nil || !ok || again.Leading() != q.Leading() {
				t.Errorf("%s: asked for by its device it is %v", tc.name, again.Readings)
			}
		}
	}
}

// drawMesh draws a mesh of poly with openings of 3 µm over one diffusion, in four rows and columns. A plane of metal2 joins the
// openings of one colour of a chessboard, slanted lines of metal1 those of the other; or the plane joins all.
func drawMesh(b *board, two bool) {
	const n, pitch = 4, 4000
	side := n*pitch + 1000
	b.box("ndiff", 500, 500, side-500, side-500)
	for i := range n + 1 {
		b.box("poly", i*pitch, 0, i*pitch+1000, side)
		b.box("poly", 0, i*pitch, side, i*pitch+1000)
	}
	b.box("poly", -4000, 0, 0, 3000)
	gate, plane := "VDD", "GND"
	if two {
		gate, plane = "G", "A"
	}
	b.plug(-2500, 1500, gate)
	b.box("metal2", 0, 0, side, side)
	b.label("metal2", 500, 500, plane)
	for r := range n {
		for c := range n {
			x, y := c*pitch+2500, r*pitch+2500
			b.plug(x, y, "")
			if !two || (r+c)%2 == 0 {
				b.box("via", x-300, y-300, x+300, y+300)
				continue
			}
			for _, dx := range []int{-pitch, pitch} {
				if c+dx/pitch < 0 || c+dx/pitch >= n || r+1 >= n {
					continue
				}
				to := geom.Point{X: x + dx, Y: y + pitch}
				b.on.Shapes = append(b.on.Shapes, layout.Shape{Layer: b.layer("metal1"), Polygon: geom.Polygon{{{X: x - 400, Y: y}, {X: x + 400, Y: y}, {X: to.X + 400, Y: to.Y}, {X: to.X - 400, Y: to.Y}}}})
			}
		}
	}
}

// TestWithoutContacts: without contacts the odds fall back towards even, and the next look is the one that is missing.
func TestWithoutContacts(t *testing.T) {
	b := newBoard(t)
	drawPlate(b, 0, 0, "GND", "VDD", "GND")
	b.box("metal1", 500, -5000, 2500, 3000)
	b.box("metal1", 23500, -5000, 25500, 3000)
	b.box("metal1", 500, -5000, 25500, -3000)
	with := b.one(TransistorOrCapacitor, Options{All: true})
	none := b.without("contact")
	without := none.one(TransistorOrCapacitor, Options{All: true})
	if odds(&with, "capacitor") < 20 || math.Abs(odds(&without, "capacitor")) > odds(&with, "capacitor")/3 {
		t.Errorf("with and without contacts:\n%s\n%s", describe(&with), describe(&without))
	}
	for _, name := range []string{"nets", "contacts", "ties"} {
		if got := sawOf(&without, name); got != "" {
			t.Errorf("without contacts %s is seen to be %q", name, got)
		}
	}
	if !strings.Contains(without.NextLook.Text, "trace the contacts") || without.NextLook.Bits <= with.NextLook.Bits {
		t.Errorf("next look without contacts: %+v, with: %+v", without.NextLook, with.NextLook)
	}
	// A plain transistor without contacts is less sure, too, and still one.
	m := newBoard(t)
	m.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	sure, unsure := m.one(TransistorOrCapacitor, Options{All: true}), m.without("contact").one(TransistorOrCapacitor, Options{All: true})
	if a, b := odds(&sure, "transistor"), odds(&unsure, "transistor"); b < 10 || a-b < 5 {
		t.Errorf("a transistor has %g db with contacts and %g without", a, b)
	}
}

// TestGroupsOfDrawings: whatever is drawn, no group is weighed twice, the sum is that of what is weighed, and probabilities add
// up to 1.
func TestGroupsOfDrawings(t *testing.T) {
	b := newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	drawPlate(b, 40000, 0, "GND", "VDD", "C")
	b.box("ndiff", 100000, 0, 140000, 60000)
	b.plug(110000, 20000, "")
	b.box("poly", 0, 100000, 200000, 101000)
	b.plug(0, 100500, "")
	b.plug(200000, 100500, "")
	b.plug(300000, 100500, "")
	b.mos("unruly", 0, 60000, 6000, 1000, "OUT", "-", "VDD")
	qs := b.ask("", Options{All: true})
	kinds := map[string]bool{}
	for i := range qs {
		q := &qs[i]
		kinds[q.Kind] = true
		groups := map[string]bool{}
		sums := map[string]float64{}
		for r, p := range q.Prior {
			sums[r] = p
		}
		for _, e := range q.Evidence {
			if !e.Weighed {
				continue
			}
			if groups[e.Group] {
				t.Errorf("group %s is weighed twice:\n%s", e.Group, describe(q))
			}
			groups[e.Group] = true
			for r, d := range e.Decibans {
				sums[r] += d
			}
		}
		total := 0.0
		for _, a := range q.Readings {
			total += a.Probability
			for _, c := range q.Readings {
				if want := sums[a.Reading] - sums[c.Reading]; !near(Decibans(a.Probability)-Decibans(c.Probability), want, 1e-6) {
					t.Errorf("%s to %s: %g db, want %g\n%s", a.Reading, c.Reading, Decibans(a.Probability/c.Probability), want, describe(q))
				}
			}
		}
		if !near(total, 1, 1e-9) {
			t.Errorf("probabilities add up to %g", total)
		}
	}
	for _, k := range []string{TransistorOrCapacitor, Polarity, Photodiode, FloatingGate, Contact, WireOrResistor} {
		if !kinds[k] {
			t.Errorf("nothing is asked about %s", k)
		}
	}
	if !slices.IsSortedFunc(qs, func(a, b Question) int {
		switch {
		case a.worth() > b.worth():
			return -1
		case a.worth() < b.worth():
			return 1
		}
		return 0
	}) {
		t.Error("the worst do not come first")
	}
}
