package question

import (
	"maps"
	"math"
	"reflect"
	"slices"
	"testing"
)

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// TestDecibans holds the engine against examples worked by hand.
func TestDecibans(t *testing.T) {
	for _, tc := range []struct {
		name, source string
		prior        float64   // P(A)
		ratios       []float64 // P(observation given A) / P(observation given not A)
		wantDb       float64   // odds of A
		wantP        float64
	}{
		{"one to ten", "10·log10(2) = 3.0103 by the definition", 1. / 3, nil, -3.0103, 1. / 3},
		{"five bad widgets in a row, one machine in eleven bad", "E. T. Jaynes, Probability Theory, 4.2 (from memory): -10 db and 3 db a bad one; 2⁵/10 = 3.2 to 1", 1. / 11, []float64{2, 2, 2, 2, 2}, 5.0515, 3.2 / 4.2},
		{"and two good ones", "the same: (1-1/3)/(1-1/6) = 0.8 for a good one; 3.2·0.64 = 2.048 to 1", 1. / 11, []float64{2, 2, 2, 2, 2, 0.8, 0.8}, 3.1133, 2.048 / 3.048},
		{"a test finds 90 % of the ill, and errs with 9 % of the well, 1 % are ill", "of 10,000: 90 ill and found, 891 well and found; 90/981", 0.01, []float64{0.9 / 0.09}, 10 * math.Log10(90./891), 90. / 981},
	} {
		a, not := Decibans(tc.prior), Decibans(1-tc.prior)
		for _, r := range tc.ratios {
			a += Decibans(r)
		}
		p := Posterior([]float64{a, not})
		odds := oddsDb([]float64{a, not})
		if !near(p[0], tc.wantP, 1e-12) || !near(odds[0], tc.wantDb, 1e-4) || !near(odds[1], -odds[0], 1e-9) || !near(OddsDb(p[0]), odds[0], 1e-9) {
			t.Errorf("%s: P = %g, odds %g db, want %g and %g (%s)", tc.name, p[0], odds[0], tc.wantP, tc.wantDb, tc.source)
		}
	}
	// Three readings: 1 to 2 to 7.
	p, odds := Posterior([]float64{0, Decibans(2), Decibans(7)}), oddsDb([]float64{0, Decibans(2), Decibans(7)})
	if !near(p[1], 0.2, 1e-12) || !near(odds[2], Decibans(7./3), 1e-9) {
		t.Errorf("1:2:7 gives P = %v, odds %v", p, odds)
	}
	// Odds stay apart where probabilities are 1 to the last bit.
	if a, b := oddsDb([]float64{200, 0}), oddsDb([]float64{300, 0}); !near(a[0], 200, 1e-9) || !near(b[0], 300, 1e-9) {
		t.Errorf("odds of 200 and 300 db come out as %v and %v", a, b)
	}
}

// h is the entropy of a coin in bits.
func h(p float64) float64 { return -p*math.Log2(p) - (1-p)*math.Log2(1-p) }

// TestInformation: known channels between reading and outcome.
func TestInformation(t *testing.T) {
	for _, tc := range []struct {
		name  string
		now   []float64
		given [][]float64 // by outcome, then reading
		want  float64
	}{
		{"binary symmetric channel: 1-H(p)", []float64{0.5, 0.5}, [][]float64{{0.89, 0.11}, {0.11, 0.89}}, 1 - h(0.11)},
		{"the same from uneven odds: H(output)-H(p)", []float64{0.2, 0.8}, [][]float64{{0.9, 0.1}, {0.1, 0.9}}, h(0.2*0.9+0.8*0.1) - h(0.1)},
		{"erasure channel: 1-e", []float64{0.5, 0.5}, [][]float64{{0.7, 1e-300}, {1e-300, 0.7}, {0.3, 0.3}}, 0.7},
		{"no noise: all the entropy there is", []float64{0.25, 0.25, 0.5}, [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 1.5},
		{"what says the same of all", []float64{0.3, 0.7}, [][]float64{{0.6, 0.6}, {0.4, 0.4}}, 0},
		{"settled already", []float64{1, 0}, [][]float64{{0.9, 0.1}, {0.1, 0.9}}, 0},
	} {
		if got := Information(tc.now, tc.given); !near(got, tc.want, 1e-12) {
			t.Errorf("%s: %g bits, want %g", tc.name, got, tc.want)
		}
	}
	if got := 1 - h(0.11); !near(got, 0.5, 1e-3) { // a figure that textbooks print: p = 0.11 leaves half a bit
		t.Errorf("1-H(0.11) = %g", got)
	}
}

const testTable = `kind test yes no
prior 0.5 0.5 | practice | why
a / one | look for a
  high 0.8 0.2 | practice | a is high
  low 0.2 0.8 | practice | a is low
b / one | look for b
  high 0.9 0.1 | practice | b is high
  low 0.1 0.9 | practice | b is low
c / two | look for c
  high 0.6 0.4 | practice | c is high
  low 0.4 0.6 | practice | c is low
d / three | -
  high 0.99 0.01 | practice | d is high
  low 0.01 0.99 | practice | d is low
`

// withTable lets newQuestion find the kinds of a text.
func withTable(t *testing.T, text string) {
	kinds, err := parseTable(text)
	if err != nil {
		t.Fatal(err)
	}
	old := theTable
	theTable = func() map[string]*kind { return kinds }
	t.Cleanup(func() { theTable = old })
}

// TestGroups: of a group only the strongest observation counts, whatever the others say; prior and groups add up.
func TestGroups(t *testing.T) {
	withTable(t, testTable)
	nine, four, oneAndHalf := Decibans(9), Decibans(4), Decibans(1.5)
	for _, tc := range []struct {
		name string
		saw  map[string]seen
		want float64 // odds of yes
		look string
	}{
		{"nothing", nil, 0, "look for b"},
		{"a: b would replace it", map[string]seen{"a": {outcome: "high"}}, four, "look for b"},
		{"b: a could not", map[string]seen{"b": {outcome: "high"}}, nine, "look for c"},
		{"a and b: b alone", map[string]seen{"a": {outcome: "high"}, "b": {outcome: "high"}}, nine, "look for c"},
		{"against each other: b alone", map[string]seen{"a": {outcome: "high"}, "b": {outcome: "low"}}, -nine, "look for c"},
		{"b and c", map[string]seen{"b": {outcome: "high"}, "c": {outcome: "high"}}, nine + oneAndHalf, ""},
		{"all", map[string]seen{"a": {outcome: "low"}, "b": {outcome: "high"}, "c": {outcome: "low"}, "d": {outcome: "low"}}, nine - oneAndHalf - Decibans(99), ""},
	} {
		q := newQuestion("test", nil, tc.saw)
		i := slices.IndexFunc(q.Readings, func(r Reading) bool { return r.Reading == "yes" })
		if got := q.Readings[i].OddsDb; !near(got, tc.want, 1e-9) || q.NextLook.Text != tc.look {
			t.Errorf("%s: odds %g db, next %q; want %g, %q", tc.name, got, q.NextLook.Text, tc.want, tc.look)
		}
		weighed := map[string]int{}
		for _, e := range q.Evidence {
			if e.Weighed {
				weighed[e.Group]++
				if !e.Observed {
					t.Errorf("%s: %q was weighed and never made", tc.name, e.Text)
				}
			}
		}
		for g, n := range weighed {
			if n > 1 {
				t.Errorf("%s: group %s was weighed %d times", tc.name, g, n)
			}
		}
	}
	if q := newQuestion("test", nil, nil); !near(q.NextLook.Bits, 1-h(0.1), 1e-12) {
		t.Errorf("look for b promises %g bits, want 1-H(0.1)", q.NextLook.Bits)
	}
}

// TestPriorShift: a prior shifts the odds by exactly its decibans, of two readings and of three.
func TestPriorShift(t *testing.T) {
	saw := map[string]seen{"nets": {outcome: "one"}, "length": {outcome: "long"}}
	odds := func(prior map[string]float64) map[string]float64 {
		q := newQuestion(TransistorOrCapacitor, prior, saw)
		m := map[string]float64{}
		for _, r := range q.Readings {
			m[r.Reading] = r.OddsDb
		}
		return m
	}
	base := newQuestion(TransistorOrCapacitor, nil, saw).Prior
	before := odds(nil)
	for _, shift := range []float64{-40, -7, 0.5, 3, 60} {
		for r := range base {
			prior := maps.Clone(base)
			prior[r] += shift
			if got := odds(prior)[r] - before[r]; !near(got, shift, 1e-9) {
				t.Errorf("%s is likelier by %g db and its odds shift by %g", r, shift, got)
			}
			if got := odds(map[string]float64{r: base[r] + shift})[r] - before[r]; !near(got, shift, 1e-9) {
				t.Errorf("%s alone given: its odds shift by %g, want %g", r, got, shift)
			}
		}
	}
}

// TestTable: the table is well formed, says where each figure comes from, and tells of what is wrong in another.
func TestTable(t *testing.T) {
	kinds, err := parseTable(weightsText)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{TransistorOrCapacitor, Polarity, Photodiode, FloatingGate, Contact, NearMiss, SuppliesShorted, SoftTie, Bulk, OutOfFamily, Asymmetry, WireOrResistor} {
		if kinds[name] == nil {
			t.Errorf("kind %s is not in the table", name)
		}
	}
	sources := []string{"practice", "count", "arithmetic"}
	for _, k := range kinds {
		if !slices.Contains(sources, k.source) {
			t.Errorf("%s: prior from %q", k.name, k.source)
		}
		for _, o := range k.observations {
			for _, c := range o.outcomes {
				if !slices.Contains(sources, c.source) || c.reason == "" {
					t.Errorf("%s, %s %s: from %q, because %q", k.name, o.name, c.name, c.source, c.reason)
				}
			}
		}
	}
	for _, tc := range []struct{ text, want string }{
		{"prior 0.5 0.5 | practice | x", "table of weights, line 1: a kind, with two readings or more, must come first"},
		{"kind k a b\nprior 0.5 0.6 | practice | x", "table of weights, kind k: the prior adds up to 1.1, not 1"},
		{"kind k a b\nprior 0.5 0.5 | practice | x\no / g | -\n  u 0.5 0.4 | practice | x\n  v 0.4 0.6 | practice | x", "table of weights, kind k: the outcomes of o given a add up to 0.9, not 1"},
		{"kind k a b\nprior 1 0.5 | practice | x", "table of weights, line 2: 1 is no probability between 0 and 1, both excluded: nothing seen may settle a question for good"},
		{"kind k a b\nprior 0.5 | practice | x", "table of weights, line 2: want a name, 2 probabilities, | SOURCE | REASON"},
		{"kind k a b\no | look", "table of weights, line 2: want NAME / GROUP | LOOK"},
		{"kind k a b\no / g | -\no / g | -", "table of weights, line 3: observation o is there twice"},
		{"kind k a b\n  u 0.5 0.4 | practice | x", "table of weights, line 2: an outcome without observation"},
		{"kind k a b\nkind k a b", "table of weights, line 2: kind k is there twice"},
	} {
		if _, err := parseTable(tc.text); err == nil || err.Error() != tc.want {
			t.Errorf("%q:\ngot  %v\nwant %s", tc.text, err, tc.want)
		}
	}
}

// TestTableIsKept: no question changes the table whose maps it shares, whatever prior it has and whatever is weighed; nor does who is told a prior.
func TestTableIsKept(t *testing.T) {
	want, err := parseTable(weightsText)
	if err != nil {
		t.Fatal(err)
	}
	for name, k := range want {
		prior, _, _ := TablePrior(name)
		for r := range prior {
			prior[r] += 7
		}
		for n := range 2 {
			saw := map[string]seen{}
			for _, o := range k.observations {
				saw[o.name] = seen{outcome: o.outcomes[n].name}
			}
			for _, p := range []map[string]float64{nil, prior, {k.readings[0]: 5}} {
				newQuestion(name, p, saw)
				newQuestion(name, p, nil)
			}
		}
	}
	if !reflect.DeepEqual(theTable(), want) {
		t.Error("the table is another than before the questions")
	}
}

// TestUnweighed: what an outcome was fitted to count holds where it is weighed; where it is not, only how probable it is is told.
// Worked by hand: 0.8 and 0.2 are -0.97 and -6.99 dB, 0.6 and 0.4 are -2.22 and -3.98.
func TestUnweighed(t *testing.T) {
	kinds, err := parseTable(`kind k a b
prior 0.5 0.5 | practice | r
strong / g | -
  y 0.8 0.2 > 7 0 | count | r
  n 0.2 0.8 | count | r
weak / g | -
  y 0.6 0.4 > -5 9 | count | r
  n 0.4 0.6 | count | r
`)
	if err != nil {
		t.Fatal(err)
	}
	k := kinds["k"]
	q := Question{Prior: map[string]float64{"a": -3, "b": -3}}
	for i := range k.observations {
		q.Evidence = append(q.Evidence, k.observations[i].evidence(k, seen{outcome: "y"}, true))
	}
	q.weigh(k)
	for i, want := range []map[string]float64{{"a": 7, "b": 0}, {"a": -2.218, "b": -3.979}} {
		for r, db := range want {
			if got := q.Evidence[i].Decibans[r]; !near(got, db, 1e-3) {
				t.Errorf("observation %d of %s: %g dB, want %g", i, r, got, db)
			}
		}
	}
	if got := q.Readings[0].OddsDb; !near(got, 7, 1e-9) {
		t.Errorf("odds %g dB, want 7", got)
	}
}
