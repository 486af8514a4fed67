package question

import (
	"os"
	"strings"
	"testing"

	"undermetal/testdata/ambiguous"
)

// score counts answers.
type score struct {
	asked, right int
	claimed      float64
}

func (s *score) add(q *Question, reading string) {
	s.asked++
	s.claimed += q.Leading().Probability
	if q.Leading().Reading == reading {
		s.right++
	}
}

func (s *score) share() float64 { return float64(s.right) / float64(max(s.asked, 1)) }

func (s *score) mean() float64 { return s.claimed / float64(max(s.asked, 1)) }

// full reports whether all that takes long is to be done.
func full() bool { return os.Getenv("UNDERMETAL_FULL") != "" }

// TestAccuracy asks about drawings as they are, and about the same drawn carefully by a hand, with the table's own prior.
// Of capacitors and of switches that look like them 98 in a hundred must be read as what they are, of each by itself.
func TestAccuracy(t *testing.T) {
	want := 100 // of each reading and level
	if full() {
		want = 600
	}
	for _, careless := range []float64{0, 0.1} {
		kinds := map[ambiguous.Kind]*score{}
		of := map[ambiguous.Reading]*score{ambiguous.Capacitor: {}, ambiguous.Transistor: {}}
		for seed := uint64(2_000_000); of[ambiguous.Capacitor].asked < want || of[ambiguous.Transistor].asked < want; seed++ {
			c := ambiguous.Generate(seed)
			if c.Kind == ambiguous.Logic || of[c.Reading].asked >= want {
				continue
			}
			c = ambiguous.Degrade(c, seed, careless)
			q, ok := viewOf(t, &c, nil).about(&c.Structure)
			if !ok {
				t.Logf("%s: nothing is asked", c.Name) // wrong, too
				of[c.Reading].asked++
				continue
			}
			if kinds[c.Kind] == nil {
				kinds[c.Kind] = &score{}
			}
			of[c.Reading].add(&q, string(c.Reading))
			kinds[c.Kind].add(&q, string(c.Reading))
			if testing.Verbose() && q.Leading().Reading != string(c.Reading) {
				t.Logf("%s, %v, %s\n%s", c.Name, c.Faults, c.About, describe(&q))
			}
		}
		for _, s := range ambiguous.Shares {
			if k := kinds[s.Kind]; k != nil {
				t.Logf("level %g: %-24s %4d asked, %5.1f %% right, %5.1f %% claimed", careless, s.Kind, k.asked, 100*k.share(), 100*k.mean())
			}
		}
		for reading, s := range of {
			t.Logf("level %g: %-24s %4d asked, %5.1f %% right, %5.1f %% claimed", careless, reading, s.asked, 100*s.share(), 100*s.mean())
			if s.share() < 0.98 {
				t.Errorf("level %g: %.1f %% of %d are read as %s, want 98", careless, 100*s.share(), s.asked, reading)
			}
		}
	}
}

// TestHandCases: the hard cases one by one, each with what it must be told by.
func TestHandCases(t *testing.T) {
	why := map[string][]string{
		"interdigitated power switch":                {"nets two", "fingers alternate"},
		"output driver at a pad":                     {"nets two", "fingers alternate"},
		"waffle switch":                              {"nets chequered"},
		"waffle switch of two rows":                  {"nets chequered"},
		"mesh on one net":                            {"nets tied", "ties supplies"},
		"clamp at a pad":                             {"nets two", "ties off"},
		"ring gates":                                 {"nets two"},
		"one long gate":                              {"nets two"},
		"bank of squares, own diffusions, staggered": {"nets one", "sides round"},
		"bank of squares, own diffusions, on a grid": {"nets one", "sides round", "ties supplies"},
		"bank of squares, one diffusion, staggered":  {"nets one", "sides round"},
		"bank of squares, one diffusion, on a grid":  {"nets one", "sides round", "ties supplies"},
		"source on drain":                            {"nets one", "ties supplies"},
		"source on drain, in a well":                 {"nets one", "ties supplies"},
		"one-sided":                                  {"nets one", "sides one", "ties supplies"},
		"no diffusion, over a well":                  {"beneath no"},
		"no diffusion, under metal":                  {"beneath no"},
		"covered diffusion":                          {"nets none", "sides none"},
		"row with dummies":                           {"nets all", "likes row"},
		"row with dummies, gates that run on":        {"nets one", "likes row"},
		"two polys with a rule":                      nil,
		"two polys without a rule":                   {"beneath no"},
		"serpentine with a rule":                     nil,
		"serpentine without a rule":                  {"squares most", "course folded"},
	}
	for _, c := range ambiguous.Hand() {
		seen, known := why[c.Name]
		if !known {
			t.Errorf("%s: nobody says what it is told by", c.Name)
			continue
		}
		v := viewOf(t, &c, nil)
		var q Question
		ok := false
		if c.Reading == ambiguous.Resistor {
			qs := mustAsk(t, v.res, c.Stack, nil, Options{Kinds: []string{WireOrResistor}, All: true})
			for i := range qs {
				if grown(c.Box, 3000).Contains(qs[i].At) && sawOf(&qs[i], "squares") == "most" {
					q, ok = qs[i], true
				}
			}
		} else {
			q, ok = v.about(&c.Structure)
		}
		if len(seen) == 0 { // a rule of the stack makes it a device
			if c.Reading == ambiguous.Resistor && ok {
				t.Errorf("%s: asked all the same\n%s", c.Name, describe(&q))
			}
			continue
		}
		if !ok {
			t.Errorf("%s: nothing is asked", c.Name)
			continue
		}
		if q.Leading().Reading != string(c.Reading) {
			t.Errorf("%s: want %s\n%s", c.Name, c.Reading, describe(&q))
		}
		for _, s := range seen {
			name, want, _ := strings.Cut(s, " ")
			if got := sawOf(&q, name); got != want {
				t.Errorf("%s: %s is %q, want %q\n%s", c.Name, name, got, want, describe(&q))
			}
		}
		t.Logf("%s: %s, %.1f db", c.Name, q.Leading().Reading, q.Leading().OddsDb)
	}
}
