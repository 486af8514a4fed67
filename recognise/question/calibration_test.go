package question

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"undermetal/netlist/extract"
	"undermetal/testdata/ambiguous"
)

// even is a prior that takes a transistor for as likely as a capacitor, as the generator does, and dummies for rare.
var even = map[string]map[string]float64{TransistorOrCapacitor: {"transistor": 0, "capacitor": 0, "dummy": -20}}

// level is how carelessly the case of a seed is traced: from 0 to 1, evenly.
func level(seed uint64) float64 {
	x := seed * 0x9e3779b97f4a7c15
	x ^= x >> 29
	return float64(x%1000) / 999
}

// traced returns the drawing of a seed as a hand traced it.
func traced(seed uint64) ambiguous.Case {
	return ambiguous.Degrade(ambiguous.Generate(seed), seed, level(seed))
}

// viewOf extracts a case.
func viewOf(t testing.TB, c *ambiguous.Case, prior map[string]map[string]float64) *view {
	res, err := extract.Run(context.Background(), c.Library, c.Top, c.Stack, extract.Options{Facts: true, Workers: 1})
	if err != nil {
		t.Fatalf("%s: %v", c.Name, err)
	}
	return newView(res, c.Stack, nil, Options{Prior: prior, Traced: c.Library.Traced})
}

// about returns the question about a structure: of those that its box meets the one that covers its place, else the largest.
func (v *view) about(s *ambiguous.Structure) (q Question, ok bool) {
	best, size := -1, 0.0
	for k := range v.plates {
		p := &v.plates[k]
		a := overlap(p.box, s.Box)
		if p.box.Contains(s.Place.At) {
			a += 1e18
		}
		if a > size {
			best, size = k, a
		}
	}
	if best < 0 {
		return q, false
	}
	d := v.plateDraft(&v.plates[best])
	return v.question(&d), true
}

// TestCalibration asks about generated drawings that no weight was set by, nor was any looked at. It holds the share of right answers, and of those
// that were given with some odds the share that is right.
func TestCalibration(t *testing.T) {
	n, first := 400, uint64(3_000_000)
	if os.Getenv("UNDERMETAL_FULL") != "" {
		n = 4000
	}
	if s := os.Getenv("UNDERMETAL_SEED"); s != "" {
		first, _ = strconv.ParseUint(s, 10, 64)
	}
	bins := []float64{3, 6, 10, 15, 20, math.Inf(1)}
	type score struct {
		asked, right int
		claimed      float64
	}
	kinds, odds := map[ambiguous.Kind]*score{}, make([]score, len(bins))
	var all, silent score
	brier := 0.0
	for i := range n {
		c := traced(first + uint64(i))
		q, ok := viewOf(t, &c, even).about(&c.Structure)
		if kinds[c.Kind] == nil {
			kinds[c.Kind] = &score{}
		}
		if !ok {
			silent.asked++
			continue
		}
		lead := q.Leading()
		b := slices.IndexFunc(bins, func(x float64) bool { return lead.OddsDb < x })
		right := lead.Reading == string(c.Reading)
		for _, s := range []*score{kinds[c.Kind], &odds[b], &all} {
			s.asked++
			s.claimed += lead.Probability
			if right {
				s.right++
			}
		}
		for _, r := range q.Readings {
			is := 0.0
			if r.Reading == string(c.Reading) {
				is = 1
			}
			brier += (r.Probability - is) * (r.Probability - is)
		}
		if testing.Verbose() && !right && lead.OddsDb > 15 {
			t.Logf("%s, %v\n%s", c.Name, c.Faults, describe(&q))
		}
	}
	say := func(name string, s *score) {
		t.Logf("%-24s %5d asked, %5.1f %% right, %5.1f %% claimed", name, s.asked, 100*float64(s.right)/float64(max(s.asked, 1)), 100*s.claimed/float64(max(s.asked, 1)))
	}
	for _, s := range ambiguous.Shares {
		if kinds[s.Kind] != nil {
			say(string(s.Kind), kinds[s.Kind])
		}
	}
	low := 0.0
	for i := range odds {
		say(fmt.Sprintf("odds of %g to %g db", low, bins[i]), &odds[i])
		low = bins[i]
	}
	say("all", &all)
	// The bounds are far from what the seeds above give, so that chance does not break them: 400 cases err by 1.5 % each way.
	part := func(s *score) float64 { return float64(s.right) / float64(max(s.asked, 1)) }
	if part(&all) < 0.88 || silent.asked > n/50 {
		t.Errorf("%.1f %% are right, and %d of %d have no structure", 100*part(&all), silent.asked, n)
	}
	if claimed := all.claimed / float64(all.asked); math.Abs(part(&all)-claimed) > 0.05 {
		t.Errorf("%.1f %% are right where %.1f %% were claimed", 100*part(&all), 100*claimed)
	}
	for i := range odds {
		if s := &odds[i]; s.asked >= 30 && part(s) < s.claimed/float64(s.asked)-0.15 {
			t.Errorf("odds up to %g db claim too much: %.1f %% right of %d", bins[i], 100*part(s), s.asked)
		}
	}
	t.Logf("no structure found in %d; Brier score %.4f", silent.asked, brier/float64(all.asked))
}

// TestCalibrationWithoutContacts: where no contact was traced the odds are lower, and hold what they claim; mostly the next look is at
// what is missing.
func TestCalibrationWithoutContacts(t *testing.T) {
	n := 300
	right, asked, sure, contacts, claimed := 0, 0, 0, 0, 0.0
	for i := range n {
		c := ambiguous.WithoutContacts(ambiguous.Generate(2_500_000 + uint64(i)))
		q, ok := viewOf(t, &c, even).about(&c.Structure)
		if !ok {
			continue
		}
		asked++
		claimed += q.Leading().Probability
		if q.Leading().Reading == string(c.Reading) {
			right++
		}
		if q.Leading().OddsDb > PlausibleDb {
			sure++
		}
		for i := range q.Evidence {
			if e := &q.Evidence[i]; (e.of.name == "contacts" || e.of.name == "ties") && e.Observed {
				t.Fatalf("%s: seen without contacts: %s", c.Name, e.Text)
			}
		}
		if strings.HasPrefix(q.NextLook.Text, "trace the contacts") || strings.HasPrefix(q.NextLook.Text, "trace the metal") {
			contacts++
		}
	}
	t.Logf("%d asked: %.1f %% right, %.1f %% claimed; %.1f %% above %d db; the next look is at contacts or metal in %.1f %%", asked, 100*float64(right)/float64(asked), 100*claimed/float64(asked),
		100*float64(sure)/float64(asked), PlausibleDb, 100*float64(contacts)/float64(asked))
	if asked < n*9/10 || claimed/float64(asked) > float64(right)/float64(asked)+0.1 {
		t.Errorf("%d of %d asked, %.1f %% right, %.1f %% claimed", asked, n, 100*float64(right)/float64(asked), 100*claimed/float64(asked))
	}
}

// TestCount counts what is seen of generated drawings, by reading, and writes it as lines of the table of weights. It runs
// only where UNDERMETAL_COUNT says how many seeds; they are those from 0 on.
func TestCount(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv("UNDERMETAL_COUNT"))
	if err != nil {
		t.Skip("set UNDERMETAL_COUNT to the number of seeds to count on")
	}
	if n > 1_000_000 {
		t.Fatal("seeds from 1,000,000 on are not for counting")
	}
	k := theTable()[TransistorOrCapacitor]
	count := map[string][]int{}
	note := func(q *Question, reading string) {
		r := slices.Index(k.readings, reading)
		for i := range q.Evidence {
			if e := &q.Evidence[i]; e.Observed {
				key := e.of.name + " " + e.Outcome
				if count[key] == nil {
					count[key] = make([]int, len(k.readings))
				}
				count[key][r]++
			}
		}
	}
	for seed := range uint64(n) {
		c := traced(seed)
		v := viewOf(t, &c, even)
		if q, ok := v.about(&c.Structure); ok {
			note(&q, string(c.Reading))
		}
		for i := range c.Beside {
			if s := &c.Beside[i]; s.Reading == ambiguous.Dummy {
				if q, ok := v.about(s); ok {
					note(&q, "dummy")
				}
			}
		}
	}
	for i := range k.observations {
		o := &k.observations[i]
		sums := make([]int, len(k.readings))
		for _, c := range o.outcomes {
			for r, x := range count[o.name+" "+c.name] {
				sums[r] += x
			}
		}
		var s strings.Builder
		fmt.Fprintf(&s, "%s %v\n", o.name, sums)
		for _, c := range o.outcomes {
			fmt.Fprintf(&s, "  %s", c.name)
			x := count[o.name+" "+c.name]
			for r := range k.readings {
				got := 0
				if x != nil {
					got = x[r]
				}
				fmt.Fprintf(&s, " %.4f", (float64(got)+0.5)/(float64(sums[r])+0.5*float64(len(o.outcomes))))
			}
			s.WriteString("\n")
		}
		t.Log(s.String())
	}
}
