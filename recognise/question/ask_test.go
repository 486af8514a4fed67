package question

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// TestFold: members of an array make one question; one that differs makes another.
func TestFold(t *testing.T) {
	b := newBoard(t)
	cell := b.cell("CAP")
	drawPlate(b, 0, 0, "A", "G", "A")
	b.on = b.lib.Cells[0]
	b.array(cell, 4, 3, 60000, 60000)
	b.place(cell, 400000, 0)
	q := b.one(TransistorOrCapacitor, Options{All: true})
	if q.Count != 13 || len(q.Devices) != 13 || q.Path != "CAP.1[0,0]" || q.At != (geom.Point{X: 13000, Y: 9000}) {
		t.Errorf("thirteen placements: %s path %q at %v", describe(&q), q.Path, q.At)
	}
	// One member is overlaid: its ends become one net.
	b.box("metal1", 120500, -5000, 122500, 3000)
	b.box("metal1", 143500, -5000, 145500, 3000)
	b.box("metal1", 120500, -5000, 145500, -3000)
	qs := b.ask(TransistorOrCapacitor, Options{All: true})
	counts := []int{}
	for i := range qs {
		counts = append(counts, qs[i].Count)
	}
	slices.Sort(counts)
	if !slices.Equal(counts, []int{1, 12}) {
		t.Errorf("one that differs: counts %v, want 1 and 12", counts)
	}
}

// busy draws something of everything.
func busy(t *testing.T) *board {
	b := newBoard(t)
	b.mos("ndiff", 0, 0, 6000, 1000, "OUT", "IN", "GND")
	b.mos("unruly", 0, 30000, 6000, 1000, "OUT", "-", "VDD")
	drawPlate(b, 40000, 0, "GND", "VDD", "C")
	b.box("ndiff", 100000, 0, 140000, 60000)
	b.plug(110000, 20000, "")
	b.box("poly", 0, 100000, 200000, 101000)
	b.plug(500, 100500, "")
	b.plug(199500, 100500, "")
	b.plug(300000, 100500, "")
	b.box("metal1", 300000, 0, 305000, 2000)
	b.box("metal1", 305050, 0, 309000, 2000)
	cell := b.cell("CELL")
	b.mos("ndiff", 0, 0, 6000, 1000, "-", "", "")
	b.box("ndiff", -30000, -10000, 100, 20000)
	b.on = b.lib.Cells[0]
	for i := range 3 {
		b.place(cell, 400000+60000*i, 0)
	}
	return b
}

// TestSameForAnyOrder: shapes in another order, and labels, give the same questions with the same ids, in the same order.
func TestSameForAnyOrder(t *testing.T) {
	b := busy(t)
	plain := func(qs []Question) []Question {
		for i := range qs {
			for k := range qs[i].Evidence {
				qs[i].Evidence[k].of = nil
			}
		}
		return qs
	}
	want := plain(b.ask("", Options{All: true}))
	if len(want) < 8 {
		t.Fatalf("%d questions are too few to be put in another order", len(want))
	}
	ids := map[string]bool{}
	for i := range want {
		if ids[want[i].ID] {
			t.Errorf("two questions are called %s", want[i].ID)
		}
		ids[want[i].ID] = true
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 8 {
		for _, c := range b.lib.Cells {
			rnd.Shuffle(len(c.Shapes), func(i, k int) { c.Shapes[i], c.Shapes[k] = c.Shapes[k], c.Shapes[i] })
			rnd.Shuffle(len(c.Labels), func(i, k int) { c.Labels[i], c.Labels[k] = c.Labels[k], c.Labels[i] })
		}
		got := plain(b.ask("", Options{All: true}))
		if !reflect.DeepEqual(got, want) {
			for i := range min(len(got), len(want)) {
				if !reflect.DeepEqual(got[i], want[i]) {
					t.Fatalf("question %d:\ngot  %+v\nwant %+v", i, got[i], want[i])
				}
			}
			t.Fatalf("%d questions, want %d", len(got), len(want))
		}
	}
}

// TestMoved: a drawing that is moved asks the same questions, in the same order, that much away.
func TestMoved(t *testing.T) {
	by := geom.Point{X: -1234567, Y: 765432}
	b := busy(t)
	want := b.ask("", Options{All: true})
	moved := &layout.Cell{Name: "OUTER", Placements: []layout.Placement{{Name: "X", Cell: b.lib.Cells[0], Transform: geom.Move(by)}}}
	for _, l := range b.lib.Cells[0].Labels {
		moved.Labels = append(moved.Labels, layout.Label{Layer: l.Layer, At: l.At.Add(by), Text: l.Text})
	}
	b.lib.Cells = append([]*layout.Cell{moved}, b.lib.Cells...)
	got := b.ask("", Options{All: true})
	if len(got) != len(want) {
		t.Fatalf("%d questions, want %d", len(got), len(want))
	}
	for i := range got {
		if got[i].Kind != want[i].Kind || got[i].At != want[i].At.Add(by) || got[i].Count != want[i].Count || !reflect.DeepEqual(got[i].Readings, want[i].Readings) || !reflect.DeepEqual(got[i].Devices, want[i].Devices) {
			t.Errorf("question %d:\ngot  %s\nwant %s", i, describe(&got[i]), describe(&want[i]))
		}
	}
}

// TestWorst: what is most uncertain and touches most comes first; what is decided is not listed unless asked for.
func TestWorst(t *testing.T) {
	b := busy(t)
	all, open := b.ask("", Options{All: true}), b.ask("", Options{})
	for i := 1; i < len(all); i++ {
		if all[i-1].worth() < all[i].worth() {
			t.Errorf("%s comes before %s", all[i-1].ID, all[i].ID)
		}
	}
	if len(open) >= len(all) {
		t.Errorf("%d of %d questions are listed", len(open), len(all))
	}
	for i := range open {
		if q := &open[i]; q.Leading().OddsDb >= PlausibleDb && q.Kind != TransistorOrCapacitor {
			t.Errorf("decided, and listed: %s", describe(q))
		}
	}
	// An uncertain question of nine devices comes before one of a single device that is as uncertain.
	one, nine := newQuestion(Bulk, nil, nil), newQuestion(Bulk, nil, nil)
	nine.Devices = make([]int, 9)
	qs := []Question{one, nine}
	sortQuestions(qs)
	if len(qs[0].Devices) != 9 {
		t.Error("one device comes before nine")
	}
}

// TestOptions: kinds are chosen, priors are taken, and what nobody looked at is no evidence.
func TestOptions(t *testing.T) {
	b := busy(t)
	for _, q := range b.ask("", Options{Kinds: []string{Polarity, WireOrResistor}}) {
		if q.Kind != Polarity && q.Kind != WireOrResistor {
			t.Errorf("%s was not asked for", q.Kind)
		}
	}
	before := b.one(WireOrResistor, Options{All: true})
	after := b.one(WireOrResistor, Options{All: true, Prior: map[string]map[string]float64{WireOrResistor: {"wire": before.Prior["wire"] + 10}}})
	if d := odds(&after, "wire") - odds(&before, "wire"); !near(d, 10, 1e-9) {
		t.Errorf("a prior that is 10 db higher shifts the odds by %g", d)
	}
	// A plate over nothing, where the diffusion was not looked at: the plate says nothing about what lies beneath.
	b = newBoard(t)
	b.box("poly", 0, 0, 20000, 20000)
	b.plug(10000, 10000, "VDD")
	elsewhere := []layout.Shape{}
	for _, l := range []string{"ndiff", "pdiff", "unruly"} {
		elsewhere = append(elsewhere, layout.Shape{Layer: b.layer(l), Polygon: geom.Polygon{geom.Box(50000, 0, 90000, 40000).Ring()}})
	}
	looked, not := b.one(TransistorOrCapacitor, Options{All: true}), b.one(TransistorOrCapacitor, Options{All: true, Traced: elsewhere})
	if sawOf(&looked, "beneath") != "no" || sawOf(&not, "beneath") != "" {
		t.Errorf("beneath: %q where it was looked at, %q where not", sawOf(&looked, "beneath"), sawOf(&not, "beneath"))
	}
	// Stripping would tell more, but costs something of the die; tracing comes first.
	if not.NextLook.Text != "trace the metal, and see what gate, source and drain are joined to" {
		t.Errorf("next look: %s", describe(&not))
	}
	if odds(&looked, "capacitor") <= odds(&not, "capacitor") {
		t.Error("to have looked and found nothing says nothing")
	}
	// Without Facts there is what the circuit says.
	res := busy(t).extract()
	res.Facts = nil
	for _, q := range mustAsk(t, res, b.st, nil, Options{}) {
		if q.Kind == TransistorOrCapacitor {
			t.Error(fmt.Sprint("without facts: ", q.ID))
		}
	}
}

// ending is a context that ends when it is looked at for the n-th time; look counts.
type ending struct {
	context.Context
	n    int
	look *int
}

func (e ending) Err() error {
	if *e.look++; *e.look >= e.n {
		return context.Canceled
	}
	return nil
}

// TestInterrupted: at whichever look at the context asking ends, within recognition too, it returns nothing but that.
func TestInterrupted(t *testing.T) {
	b := newBoard(t).wire(memory("unruly")...)
	res := b.extract()
	all := 0
	if _, err := Ask(ending{t.Context(), math.MaxInt, &all}, res, b.st, nil, Options{}); err != nil {
		t.Fatal(err)
	}
	want := mustAsk(t, res, b.st, nil, Options{})
	if least := len(Kinds()) + len(want) + 5; all < least {
		t.Fatalf("looked %d times at the context, want more than %d: recognition does not", all, least)
	}
	for n := 1; n <= all; n += max(1, all/50) {
		look := 0
		if qs, err := Ask(ending{t.Context(), n, &look}, res, b.st, nil, Options{}); !errors.Is(err, context.Canceled) || qs != nil {
			t.Errorf("ended at look %d of %d: %v, %d questions", n, all, err, len(qs))
		}
		look = 0
		if qs, told, err := AskAndTell(ending{t.Context(), n, &look}, res, b.st, nil, Options{}); !errors.Is(err, context.Canceled) || qs != nil || told != nil {
			t.Errorf("telling, ended at look %d of %d: %v", n, all, err)
		}
	}
	told := 0
	got := mustAsk(t, res, b.st, nil, Options{Progress: func(done, total int) {
		if told++; done != told || done > total {
			t.Errorf("told of %d of %d, the %d. time", done, total, told)
		}
	}})
	if told == 0 || len(got) != len(want) {
		t.Errorf("told %d times; %d questions, want %d", told, len(got), len(want))
	}
}
