package compare

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// TestRules: pairs of circuits, and whether they are the same. Each case follows from a sentence of doc.go.
func TestRules(t *testing.T) {
	for _, tc := range []struct {
		name string
		a, b string
		opt  Options
		same bool
	}{
		{"nothing", "", "", Options{}, true},
		{"names", "M1 n x y z b 1000 180", "Q n p q r s 1000 180", Options{}, true},
		{"source and drain", "M1 n x y z b 1000 180\nR r x y 5", "M1 n z y x b 1000 180\nR r x y 5", Options{}, true},
		{"gate is not source", "M1 n x y z b 1000 180\nR r x y 5", "M1 n x y z b 1000 180\nR r x z 5", Options{}, false},
		{"model's case", "M1 n:NFET x y z b 1 1", "M1 n:nfet x y z b 1 1", Options{}, true},
		{"model", "M1 n:nfet x y z b 1 1", "M1 n:nfet2 x y z b 1 1", Options{}, false},
		{"polarity unknown", "M1 m:fet x y z b 1 1", "M1 n:fet x y z b 1 1", Options{}, false},
		{"both unknown", "M1 m:fet x y z b 1 1", "M1 m:fet x y z b 1 1", Options{}, true},

		{"W within 1 nm", "M1 n x y z b 815 180", "M1 n x y z b 816 180", Options{}, true},
		{"W off by 1.01 nm", "M1 n x y z b 815 180", "M1 n x y z b 816.01 180", Options{}, false},
		{"L off", "M1 n x y z b 815 180", "M1 n x y z b 815 182", Options{}, false},
		{"wider tolerance", "M1 n x y z b 815 180", "M1 n x y z b 856 182", Options{ToleranceNm: 41}, true},
		{"relative tolerance", "M1 n x y z b 815 180", "M1 n x y z b 856 182", Options{ToleranceRel: 0.05}, true},
		{"relative tolerance alone leaves no 1 nm", "M1 n x y z b 100 180", "M1 n x y z b 100.9 180", Options{ToleranceRel: 0.001}, false},
		{"W not given", "M1 n x y z b", "M1 n x y z b 815 180", Options{}, false},
		{"W not given on either side", "M1 n x y z b", "M1 n x y z b", Options{}, true},

		{"fingers add up", "M1 n x y z b 400 180\nM2 n z y x b 600 180", "M1 n x y z b 1000 180", Options{}, true},
		{"fingers add up to less", "M1 n x y z b 400 180\nM2 n z y x b 590 180", "M1 n x y z b 1000 180", Options{}, false},
		{"one by one", "M1 n x y z b 400 180\nM2 n x y z b 600 180", "M1 n x y z b 600 180\nM2 n x y z b 400 180", Options{}, true},
		{"one by one, same total", "M1 n x y z b 400 180\nM2 n x y z b 600 180", "M1 n x y z b 500 180\nM2 n x y z b 500 180", Options{}, false},
		{"totals over fingers", "M1 n x y z b 400 180 2\nM2 n x y z b 600 180", "M1 n x y z b 500 180\nM2 n x y z b 500 180", Options{}, true},
		{"other numbers of fingers", "M1 n x y z b 400 180\nM2 n x y z b 600 180", "M1 n x y z b 500 180\nM2 n x y z b 250 180\nM3 n x y z b 250 180", Options{}, true},
		{"two L", "M1 n x y z b 400 180\nM2 n x y z b 600 350", "M1 n x y z b 600 350\nM2 n x y z b 400 180", Options{}, true},
		{"two L against one", "M1 n x y z b 400 180\nM2 n x y z b 600 350", "M1 n x y z b 1000 180", Options{}, false},
		{"two L, W exchanged", "M1 n x y z b 400 180\nM2 n x y z b 600 350", "M1 n x y z b 600 180\nM2 n x y z b 400 350", Options{}, false},
		{"not parallel: another bulk by name", "M1 n x y z b 400 180\nM2 n x y z c 600 180", "M1 n x y z b 1000 180\nR r c c 1", Options{BulkByName: true}, false},
		{"all terminals on one net", "M1 n x x x x 400 180", "M1 n y y y y 400 180", Options{}, true},
		{"all terminals on one net, missing", "M1 n x x x x 400 180\nM2 n x a x x 1 1", "M2 n x a x x 1 1", Options{}, false},

		{"resistor", "R1 r a b 1000", "R1 r b a 1000.9", Options{}, true},
		{"resistor's value", "R1 r a b 1000", "R1 r b a 1002", Options{}, false},
		{"resistor's value, tolerance", "R1 r a b 1000", "R1 r b a 1040", Options{ToleranceRel: 0.05}, true},
		{"resistor without value", "R1 r a b", "R1 r b a 1000", Options{}, false},
		{"resistors do not merge", "R1 r a b 1000\nR2 r a b 1000", "R1 r b a 500", Options{}, false},
		{"capacitors add up", "C1 c a b 1e-15\nC2 c b a 2e-15", "C1 c a b 3e-15", Options{}, true},
		{"capacitors do not add up", "C1 c a b 1e-15\nC2 c b a 2e-15", "C1 c a b 3.1e-15", Options{}, false},
		{"capacitors without values", "C1 c a b\nC2 c b a", "C1 c a b", Options{}, false},
		{"capacitors without values, as many", "C1 c a b\nC2 c b a", "C1 c a b\nC3 c a b", Options{}, true},
		{"inductor", "L1 l a b 1e-9", "L1 l a b 2e-9", Options{}, false},

		{"diode", "D1 d:dio a k 1e6 4000\nR r a x 1", "D1 d:dio a k 1.0005e6 4000\nR r a x 1", Options{}, true},
		{"diode turned around", "D1 d:dio a k 1e6 4000\nR r a x 1", "D1 d:dio k a 1e6 4000\nR r a x 1", Options{}, false},
		{"diode's area", "D1 d:dio a k 1e6 4000", "D1 d:dio a k 1.002e6 4000", Options{}, false},
		{"diode's perimeter", "D1 d:dio a k 1e6 4000", "D1 d:dio a k 1e6 4100", Options{}, false},
		{"diodes add up", "D1 d:dio a k 1e6 4000\nD2 d:dio a k 1e6 4000", "D1 d:dio a k 2e6 8000", Options{}, true},
		{"diodes against each other do not", "D1 d:dio a k 1e6 4000\nD2 d:dio k a 1e6 4000", "D1 d:dio a k 2e6 8000", Options{}, false},
		{"bipolar", "Q1 q:npn c b e s", "Q1 q:npn c b e s", Options{}, true},
		{"bipolar, emitter is not collector", "Q1 q:npn c b e s\nR r c b 1", "Q1 q:npn e b c s\nR r c b 1", Options{}, false},
		{"a kind that one lacks", "R1 r a b 1\nD1 d:dio a b 1 1", "R1 r a b 1", Options{}, false},
		{"terminal on no net", "M1 n x - z b 1 1", "M1 n x y z b 1 1", Options{}, false},
		{"terminal on no net, both", "M1 n x - z b 1 1", "M1 n z - x b 1 1", Options{}, true},
	} {
		a, b := circuit(t, tc.a), circuit(t, tc.b)
		for _, turned := range []bool{false, true} {
			if turned {
				a, b = b, a
			}
			if r := compare(t, a, b, tc.opt); r.Same != tc.same {
				t.Errorf("%s (turned %v): same = %v, want %v\n%s", tc.name, turned, r.Same, tc.same, account2text(r))
			}
		}
	}
}

// TestPorts: nets without devices are fine, be they ports or labelled.
func TestPorts(t *testing.T) {
	a, b := circuit(t, "M1 n x y z b 1 1"), circuit(t, "M1 n x y z b 1 1")
	a.Nets = append(a.Nets, netlist.NetInfo{Name: "VDD"}, netlist.NetInfo{})
	a.Ports = []netlist.Net{4, 0}
	r := same(t, a, b, Options{})
	if r.Nets[4] != netlist.NoNet || r.Nets[0] != 0 {
		t.Errorf("nets are mapped to %v", r.Nets)
	}
	fill := &netlist.Circuit{Nets: a.Nets[4:5], Ports: []netlist.Net{0}}
	same(t, fill, &netlist.Circuit{}, Options{})
}

// TestMapping: parallel devices share counterparts in order of W, and everything is counted in devices of A.
func TestMapping(t *testing.T) {
	a := circuit(t, "M1 n x y z b 600 180\nM2 n x y z b 300 180\nM3 n x y z b 100 180\nR1 r x y 5")
	b := circuit(t, "R1 r y x 5\nM1 n x y z b 900 180\nM2 n x y z b 100 180")
	r := same(t, a, b, Options{})
	if got, want := r.Devices, []int32{1, 1, 2, 0}; !equal(got, want) || r.Matched != 4 {
		t.Errorf("devices are mapped to %v, want %v", got, want)
	}
	// names choose among equally good mappings
	a = circuit(t, "R1 r a x 5\nR2 r b x 5\nR3 r c x 5")
	r = same(t, a, circuit(t, "R3 r c x 5\nR1 r a x 5\nR2 r b x 5"), Options{})
	if !equal(r.Devices, []int32{1, 2, 0}) {
		t.Errorf("devices are mapped to %v, names say 1, 2, 0", r.Devices)
	}
}

func equal(a, b []int32) bool {
	for i := range a {
		if i >= len(b) || a[i] != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}

// TestToleranceChains: sizes that agree only by chance of tolerance must be exchanged until all do. 100 agrees with 101,
// 101 with 102, but 100 does not agree with 102.
func TestToleranceChains(t *testing.T) {
	for _, tc := range []struct {
		a, b []string
		same bool
	}{
		{[]string{"100", "101"}, []string{"101", "102"}, true},
		{[]string{"101", "100"}, []string{"101", "102"}, true},
		{[]string{"101", "100", "103"}, []string{"101", "102", "102"}, true},
		{[]string{"100", "100"}, []string{"101", "102"}, false},
		{[]string{"100", "101", "102", "103", "104"}, []string{"104", "103", "102", "101", "101"}, true},
		{[]string{"100", "101", "102", "103", "104"}, []string{"105", "103", "103", "101", "103"}, false},
	} {
		make := func(ws []string) *netlist.Circuit {
			var text string
			for i, w := range ws { // each with nets of its own, so that they are interchangeable
				n := string(rune('a' + i))
				text += "M" + n + " n x" + n + " y" + n + " z" + n + " b " + w + " 180\n"
			}
			return circuit(t, text)
		}
		if r := compare(t, make(tc.a), make(tc.b), Options{}); r.Same != tc.same {
			t.Errorf("W %v against %v: same = %v", tc.a, tc.b, r.Same)
		}
	}
}

// TestErrors: every error, and its text.
func TestErrors(t *testing.T) {
	good := circuit(t, "M1 n x y z b 1 1")
	instances, badNet, badKind := clone(good), clone(good), clone(good)
	instances.Instances = []netlist.Instance{{Name: "X1"}}
	badNet.Devices[0].Terminals[1] = 7
	badKind.Devices[0].Kind = 99
	for _, tc := range []struct {
		a, b *netlist.Circuit
		opt  Options
		want string
	}{
		{nil, good, Options{}, "circuit A is missing"},
		{good, instances, Options{}, "circuit B (test) holds instances, X1 is the first; flatten it before comparing"},
		{badNet, good, Options{}, "circuit A (test): device 0 (M1) has its g on net 7, there are only 4 nets"},
		{good, badKind, Options{}, "circuit B (test): device 0 (M1) is of unknown kind 99"},
		{good, good, Options{ToleranceNm: -1}, "tolerance -1: it must be zero or more, in nm or as a fraction"},
		{good, good, Options{ToleranceRel: math.NaN()}, "tolerance NaN: it must be zero or more"},
		{good, good, Options{ToleranceRel: math.Inf(1)}, "tolerance +Inf: it must be zero or more"},
	} {
		if _, err := Compare(context.Background(), tc.a, tc.b, tc.opt); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("got %v, want %q", err, tc.want)
		}
	}
	if _, err := verified(&Result{Same: true}, false); !errors.Is(err, ErrUndecided) || !strings.Contains(err.Error(), "does not hold") {
		t.Errorf("a mapping that does not hold: %v", err)
	}
	tooMany := &netlist.Circuit{Name: "big", Nets: make([]netlist.NetInfo, 2)}
	if err := checkSize(tooMany, "A", 1); err == nil || err.Error() != "circuit A (big) has 0 devices and 2 nets, at most 1 of each can be compared" {
		t.Errorf("too many: %v", err)
	}
}

// TestCancel: a cancelled context ends a comparison with its error.
func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	a := memory(128, 64, true)
	b, _, _ := change(a, rand.New(rand.NewPCG(1, 1)))
	for _, x := range []*netlist.Circuit{a, b} {
		if _, err := Compare(ctx, a, x, Options{}); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
	}
}

// TestTexts: the account of small differences, whole.
func TestTexts(t *testing.T) {
	for _, tc := range []struct {
		name, a, b string
		opt        Options
		want       []string
	}{
		{"gate", "M1 n:nfet x y z b 1000 180\nM2 n:nfet z u y b 500 180\nR1 r y x 5\nR2 r u z 7",
			"M1 n:nfet x u z b 1000 180\nM2 n:nfet z u y b 500 180\nR1 r y x 5\nR2 r u z 7", Options{},
			[]string{"terminal: M1 (nfet) has its gate on y, its counterpart M1 (nfet) on u, not on y"}},
		{"W", "M1 n:nfet x y z b 815 180", "Q1 n:nfet x y z b 856 180", Options{},
			[]string{"size: M1 (nfet): W is 0.815 µm against 0.856 µm of Q1"}},
		{"L", "M1 n:nfet x y z b 815 180", "Q1 n:nfet x y z b 815 190.5", Options{},
			[]string{"size: M1 (nfet): L is 0.18 µm against 0.1905 µm of Q1"}},
		{"both", "M1 n:nfet x y z b 815 180", "Q1 n:nfet x y z b 856 190", Options{},
			[]string{"size: M1 (nfet): L is 0.18 µm and W 0.815 µm against 0.19 µm and 0.856 µm of Q1"}},
		{"no W", "M1 n:nfet x y z b 0 180", "Q1 n:nfet x y z b 856 180", Options{},
			[]string{"size: M1 (nfet): W is no µm against 0.856 µm of Q1"}},
		{"finger", "M1 n x y z b 500 180\nM2 n x y z b 525 180", "M3 n x y z b 500 180\nM4 n x y z b 500 180", Options{},
			[]string{"size: M2 (nfet): W is 0.525 µm against 0.5 µm of M4"}},
		{"fingers that only add up wrongly", "M1 n x y z b 500 180\nM2 n x y z b 500 180", "M3 n x y z b 500.8 180\nM4 n x y z b 500.8 180", Options{},
			[]string{"size: M1+M2 (nfet): W is 1 µm against 1.0016 µm of M3+M4"}},
		{"fewer fingers", "M1 n x y z b 500 180\nM2 n x y z b 500 180", "M2 n x y z b 500 180", Options{},
			[]string{"size: M1+M2 (nfet): W is 1 µm (2 in parallel; drain on x, gate on y, source on z, bulk on b) against 0.5 µm (1) of M2"}},
		{"total of fingers", "M1 n x y z b 500 180 2", "M2 n x y z b 600 180", Options{},
			[]string{"size: M1 (nfet): W is 0.5 µm against 0.6 µm of M2"}},
		{"fingers of another L", "M1 n x y z b 500 180\nM2 n x y z b 500 350", "M3 n x y z b 500 180\nM4 n x y z b 500 180", Options{},
			[]string{"size: M1 (nfet): W is 0.5 µm (1 in parallel; drain on x, gate on y, source on z, bulk on b) against 1 µm (2) of M3+M4",
				"size: M2 (nfet): L is 0.35 µm against 0.18 µm of M3+M4"}},
		{"L drifts", "M1 n x y z b 500 180", "M3 n x y z b 250 181\nM4 n x y z b 250 182", Options{},
			[]string{"size: M1 (nfet): L is 0.18 to 0.18 µm against 0.181 to 0.182 µm of M3+M4"}},
		{"resistor", "R1 r a b 1000", "R2 r a b 1100", Options{}, []string{"size: R1: value is 1000 ohm against 1100 ohm of R2"}},
		{"capacitor", "C1 c a b", "C2 c a b 1.5e-15", Options{}, []string{"size: C1: value is none against 1.5e-15 F of C2"}},
		{"capacitors", "C1 c a b\nC2 c a b", "C3 c a b", Options{}, []string{"size: C1+C2: 2 in parallel, without value, against 1 of C3"}},
		{"diode", "D1 d:dio a k 1e6 4000", "D1 d:dio a k 2e6 6000", Options{},
			[]string{"size: D1 (dio): area is 1 µm² against 2 µm² of D1", "size: D1 (dio): perimeter is 4 µm against 6 µm of D1"}},
		{"polarity", "M1 n:nfet x y z b 1000 180\nM2 p:pfet x y u c 1000 180\nM3 n:nfet u x z b 900 180", "M1 n:nfet x y z b 1000 180\nM2 p:pfet x y u c 1000 180\nM3 p:pfet u x z b 900 180",
			Options{BulkByName: true}, []string{"model: M3 (nfet) is a pfet (pmos) in B, there M3 (pfet)"}},
		{"no device of a model", "R1 r a b 1\nM1 n:nfet a b a b 1 1", "R1 r a b 1", Options{},
			[]string{"device: M1 (nfet) in A has no counterpart in B, which has no nfet (nmos) at all: drain on a, gate on b, source on a, bulk on b"}},
		{"no device of a kind, many", "R1 r a b 1", "R1 r a b 1\nC1 c a x 1\nC2 c b x 1\nC3 c a y 1\nC4 c b y 1\nC5 c a z 1\nC6 c b z 1", Options{},
			[]string{"count: B has 6 capacitor without model (C1, C2, C3, C4 and 2 more), A has none"}},
		{"fewer", "R1 r a x 1\nR2 r b x 1", "R1 r a x 1", Options{}, []string{"device: R2 (resistor) in A has no counterpart in B: a on b, b on x"}},
		{"terminal on nothing", "M1 n x - z b 1 1\nR1 r x z 5", "M1 n x y z b 1 1\nR1 r x z 5", Options{},
			[]string{"terminal: M1 (nfet) has its gate on y, its counterpart M1 (nfet) has none there"}},
		{"open net", "R1 r n a 1\nR2 r n b 2\nR3 r n c 3\nR4 r n d 4\nR5 r n e 5", "R1 r n a 1\nR2 r n b 2\nR3 r n c 3\nR4 r m d 4\nR5 r m e 5", Options{},
			[]string{"net: n in A is two nets in B: n and m"}},
		{"bulk", "M1 p x y vdd vdd 1 1\nM2 p z x vdd _w 1 1\nM3 p u z vdd vdd 1 1", "M1 p x y vdd vdd 1 1\nM2 p z x vdd vdd 1 1\nM3 p u z vdd y 1 1", Options{},
			[]string{"bulk: M3 (pfet) has its bulk on vdd, its counterpart M3 (pfet) on y, not on vdd"}},
	} {
		r := differ(t, circuit(t, tc.a), circuit(t, tc.b), tc.opt)
		if got, want := account2text(r), strings.Join(tc.want, "\n")+"\n"; got != want {
			t.Errorf("%s: got\n%swant\n%s", tc.name, got, want)
		}
	}
}

// TestPlaces: places are in µm in texts, in nm in Difference.At; A's if it has one, else B's. Nets without name are named
// by number and place.
func TestPlaces(t *testing.T) {
	a, b := circuit(t, "M1 n:nfet x _y z b 815 180"), circuit(t, "M1 n:nfet x y z b 856 180")
	b.Devices[0].At = geom.Point{X: -500, Y: 1000000}
	r := differ(t, a, b, Options{})
	if want := "M1 (nfet): W is 0.815 µm against 0.856 µm of M1 at -0.500, 1000.000 µm"; r.Differences[0].Text != want || *r.Differences[0].At != b.Devices[0].At {
		t.Errorf("got %+v, want %q", r.Differences[0], want)
	}
	a.Devices[0].At, a.Devices[0].Name = geom.Point{X: 14200, Y: 88000}, ""
	r = differ(t, a, b, Options{})
	d := r.Differences[0]
	if want := "device 0 (nfet) at 14.200, 88.000 µm: W is 0.815 µm against 0.856 µm of M1 at -0.500, 1000.000 µm"; d.Text != want ||
		*d.At != a.Devices[0].At || d.A != "device 0" || d.B != "M1" || d.Kind != "size" {
		t.Errorf("got %+v, want %q", d, want)
	}
	a.Nets[1].At = geom.Point{X: 1500, Y: 10}
	r = differ(t, a, circuit(t, "R1 r a b 1"), Options{})
	if want := "device 0 (nfet) at 14.200, 88.000 µm in A has no counterpart in B, which has no nfet (nmos) at all: drain on x, gate on net 1 at 1.500, 0.010 µm, source on z, bulk on b"; r.Differences[0].Text != want {
		t.Errorf("got %q, want %q", r.Differences[0].Text, want)
	}
}

// TestManyDifferences: totals come before long lists, and the list ends with what it leaves out.
func TestManyDifferences(t *testing.T) {
	a, b := &netlist.Circuit{Nets: make([]netlist.NetInfo, 2)}, &netlist.Circuit{Nets: make([]netlist.NetInfo, 2)}
	r := netlist.Device{Name: "R", Kind: netlist.Resistor, Terminals: [4]netlist.Net{0, 1, -1, -1}, Value: 1}
	for range 1500 {
		a.Devices = append(a.Devices, r)
	}
	b.Devices = append(b.Devices, r)
	res := differ(t, a, b, Options{})
	if got := res.Differences[0].Text; got != "A has 1500 resistor without model, B has 1 resistor without model" {
		t.Errorf("first line: %q", got)
	}
	last := res.Differences[len(res.Differences)-1]
	if len(res.Differences) != maxDifferences+1 || last.Kind != "more" || last.Text != "500 more differences; these are the nearest matches" {
		t.Errorf("%d lines, the last is %+v", len(res.Differences), last)
	}
}
