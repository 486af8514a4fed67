package question

import (
	"context"
	"math"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
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

// asked is what became of one drawing.
type asked struct {
	kind  ambiguous.Kind
	is    string // its reading
	q     Question
	found bool
}

// askAll asks about the drawings of seeds, on all processors; the order is that of the seeds. Evidence is kept on request.
func askAll(t *testing.T, first uint64, n int, evidence bool, draw func(seed uint64) ambiguous.Case) []asked {
	out := make([]asked, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				c := draw(first + uint64(i))
				a := asked{kind: c.Kind, is: string(c.Reading)}
				a.q, a.found = viewOf(t, &c, even).about(&c.Structure)
				if !evidence {
					a.q.Evidence = nil // of many they would fill the memory
				}
				out[i] = a
			}
		})
	}
	for i := range n {
		next <- i
		if i%10_000 == 9_999 {
			t.Logf("%d of %d drawings", i+1, n)
		}
	}
	close(next)
	wait.Wait()
	return out
}

// bin is the answers that were given with odds from one figure to another.
type bin struct {
	from, to float64 // decibans
	score
	is, said map[string]int // by reading: how many are that, and how many were taken for that
}

func (b *bin) add(a *asked) {
	b.score.add(&a.q, a.is)
	b.is[a.is]++
	b.said[a.q.Leading().Reading]++
}

func bins() []*bin {
	limits := []float64{0, 3, 6, 9.03, 10, 15, 20, math.Inf(1)} // 9.03 db are 8:1, 10 db are 10:1
	var out []*bin
	for i := range limits[1:] {
		out = append(out, &bin{from: limits[i], to: limits[i+1], is: map[string]int{}, said: map[string]int{}})
	}
	return out
}

// freshSeeds is where seeds begin that TestCalibration asks about: nothing was set by them, nor were any looked at. Weights are
// counted on seeds below 1,000,000; those from there to 2,000,000 are for whoever changes weights to look at.
const freshSeeds = 4_000_000

// TestCalibration holds what answers claim against how many are right, by odds and as a whole. Chance is allowed three standard
// deviations of the binomial distribution, and what groups share five in a hundred more; of those with odds of 8:1 to 10:1
// 88 to 92 in a hundred must be right where all is asked, and 2,000 of them there.
func TestCalibration(t *testing.T) {
	n, first := 750, uint64(freshSeeds)
	if full() {
		n = 96_000
	}
	if s := os.Getenv("UNDERMETAL_SEED"); s != "" {
		first, _ = strconv.ParseUint(s, 10, 64)
	}
	kinds, odds := map[ambiguous.Kind]*score{}, bins()
	var all score
	silent, brier := 0, 0.0
	for _, a := range askAll(t, first, n, false, traced) {
		if !a.found {
			silent++
			continue
		}
		if kinds[a.kind] == nil {
			kinds[a.kind] = &score{}
		}
		kinds[a.kind].add(&a.q, a.is)
		all.add(&a.q, a.is)
		lead := max(a.q.Leading().OddsDb, 0)
		odds[slices.IndexFunc(odds, func(b *bin) bool { return lead < b.to })].add(&a)
		for _, r := range a.q.Readings {
			is := 0.0
			if r.Reading == a.is {
				is = 1
			}
			brier += (r.Probability - is) * (r.Probability - is)
		}
	}
	for _, s := range ambiguous.Shares {
		if k := kinds[s.Kind]; k != nil {
			t.Logf("%-24s %6d asked, %5.1f %% right, %5.1f %% claimed", s.Kind, k.asked, 100*k.share(), 100*k.mean())
		}
	}
	for _, b := range odds {
		t.Logf("%5.4g to %4.4g db %6d asked, %5.1f %% right, %5.1f %% claimed; they are %v, taken for %v", b.from, b.to, b.asked, 100*b.share(), 100*b.mean(), b.is, b.said)
		p := b.mean()
		if away := math.Abs(b.share() - p); b.asked >= 30 && away > 0.05+3*math.Sqrt(p*(1-p)/float64(b.asked)) {
			t.Errorf("of %d with odds of %.4g to %.4g db %.1f %% are right where %.1f %% were claimed", b.asked, b.from, b.to, 100*b.share(), 100*p)
		}
		if b.from == 9.03 && full() && (b.asked < 2000 || b.share() < 0.88 || b.share() > 0.92) {
			t.Errorf("of %d with odds of 8:1 to 10:1 %.1f %% are right; want 2,000 and 88 to 92 %%", b.asked, 100*b.share())
		}
	}
	t.Logf("all %d asked, %.1f %% right, %.1f %% claimed; no structure found in %d; Brier score %.4f", all.asked, 100*all.share(), 100*all.mean(), silent, brier/float64(all.asked))
	if all.share() < 0.9 || silent > n/50 {
		t.Errorf("%.1f %% are right, and %d of %d have no structure", 100*all.share(), silent, n)
	}
	if p := all.mean(); math.Abs(all.share()-p) > 0.015+3*math.Sqrt(p*(1-p)/float64(all.asked)) {
		t.Errorf("%.1f %% are right where %.1f %% were claimed", 100*all.share(), 100*p)
	}
}

// TestCalibrationWithoutContacts: where no contact was traced the odds are clearly lower, and hold what they claim; nearly always the next
// look is at what is missing.
func TestCalibrationWithoutContacts(t *testing.T) {
	const n, first = 400, freshSeeds + 500_000
	var with, without []float64
	var s score
	looks := 0
	bare := askAll(t, first, n, true, func(seed uint64) ambiguous.Case { return ambiguous.WithoutContacts(ambiguous.Generate(seed)) })
	for i, a := range askAll(t, first, n, false, ambiguous.Generate) {
		b := &bare[i]
		if !a.found || !b.found {
			continue
		}
		s.add(&b.q, b.is)
		with = append(with, a.q.Leading().OddsDb)
		without = append(without, b.q.Leading().OddsDb)
		for i := range b.q.Evidence {
			if e := &b.q.Evidence[i]; (e.of.name == "contacts" || e.of.name == "ties") && e.Observed {
				t.Fatalf("%s: seen without contacts: %s", b.q.ID, e.Text)
			}
		}
		if strings.HasPrefix(b.q.NextLook.Text, "trace the contacts") || strings.HasPrefix(b.q.NextLook.Text, "trace the metal") {
			looks++
		}
	}
	t.Logf("%d asked without contacts: %.1f %% right, %.1f %% claimed; odds in the middle %.1f db, with contacts %.1f db; the next look is at contacts or metal in %.1f %%",
		s.asked, 100*s.share(), 100*s.mean(), median(without), median(with), 100*float64(looks)/float64(s.asked))
	if s.asked < 300 || median(without) > 0.7*median(with) {
		t.Errorf("%d asked, odds in the middle %.1f db without and %.1f db with contacts", s.asked, median(without), median(with))
	}
	if looks*100 < 95*s.asked {
		t.Errorf("the next look is at contacts or metal in %d of %d", looks, s.asked)
	}
	if p := s.mean(); math.Abs(s.share()-p) > 0.03+3*math.Sqrt(p*(1-p)/float64(s.asked)) {
		t.Errorf("%.1f %% are right where %.1f %% were claimed", 100*s.share(), 100*p)
	}
}
