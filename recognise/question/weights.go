package question

import (
	_ "embed"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// weightsText is the table of weights; it says itself how it is written.
//
//go:embed weights.txt
var weightsText string

// kind is a kind of question in the table.
type kind struct {
	name         string
	readings     []string
	prior        []float64 // by reading
	source       string    // of the prior
	why          string    // of the prior
	observations []observation

	priorDb map[string]float64 // by reading, in decibans
	unseen  map[string]float64 // what an observation that was not made lends each reading: 0
}

// observation is what can be looked at, in the table.
type observation struct {
	name, group string
	look        string // what to do where it was not made; empty: nothing
	costly      bool   // the look takes something off the die, or etches it
	outcomes    []outcome

	given     [][]float64 // P(outcome given reading), by outcome and reading
	strongest float64     // how strongly it may speak, in decibans
}

// outcome is what can be seen.
type outcome struct {
	name           string
	given          []float64 // P(outcome given reading), by reading
	worth          []float64 // what it counts where it is weighed, by reading, in decibans up to a constant; nil: 10·log10 of given
	source, reason string

	db, weighed map[string]float64 // by reading, in decibans: of given, and of what counts where it is weighed
	strength    float64            // how strongly it speaks, in decibans
}

var theTable = sync.OnceValue(func() map[string]*kind {
	kinds, err := parseTable(weightsText)
	if err != nil {
		panic("question: " + err.Error()) // the table is part of the program; TestTable reads it
	}
	return kinds
})

// Kinds returns the kinds of question, sorted.
func Kinds() []string { return slices.Sorted(maps.Keys(theTable())) }

// Readings returns the readings that questions of a kind have, in the order of the table; none of an unknown kind.
func Readings(kind string) []string {
	if k := theTable()[kind]; k != nil {
		return slices.Clone(k.readings)
	}
	return nil
}

// TablePrior returns what the table believes of a kind's readings before anything is looked at, in decibans, and why.
func TablePrior(kind string) (decibans map[string]float64, source, why string) {
	k := theTable()[kind]
	if k == nil {
		return nil, "", ""
	}
	return maps.Clone(k.priorDb), k.source, k.why
}

// parseTable reads a table of weights. Errors name the line.
func parseTable(text string) (map[string]*kind, error) {
	kinds := map[string]*kind{}
	var k *kind
	for i, line := range strings.Split(text, "\n") {
		if strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#") {
			continue
		}
		var err error
		switch words := strings.Fields(line); {
		case words[0] == "kind" && len(words) > 3:
			k = &kind{name: words[1], readings: words[2:]}
			if kinds[k.name] != nil {
				err = fmt.Errorf("kind %s is there twice", k.name)
			}
			kinds[k.name] = k
		case k == nil:
			err = fmt.Errorf("a kind, with two readings or more, must come first")
		default:
			err = k.line(line, words[0])
		}
		if err != nil {
			return nil, fmt.Errorf("table of weights, line %d: %w", i+1, err)
		}
	}
	for name, k := range kinds {
		if err := k.check(); err != nil {
			return nil, fmt.Errorf("table of weights, kind %s: %w", name, err)
		}
		k.reckon()
	}
	return kinds, nil
}

// line reads one line within a kind.
func (k *kind) line(line, first string) error {
	parts := strings.Split(line, "|")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	switch {
	case strings.HasPrefix(line, "  "):
		if len(k.observations) == 0 {
			return fmt.Errorf("an outcome without observation")
		}
		o, err := k.outcome(parts)
		of := &k.observations[len(k.observations)-1]
		of.outcomes = append(of.outcomes, o)
		return err
	case first == "prior":
		o, err := k.outcome(parts)
		k.prior, k.source, k.why = o.given, o.source, o.reason
		return err
	}
	name, group, ok := strings.Cut(parts[0], " / ")
	if !ok || len(parts) != 2 || parts[1] == "" {
		return fmt.Errorf("want NAME / GROUP | LOOK")
	}
	if k.observation(name) != nil {
		return fmt.Errorf("observation %s is there twice", name)
	}
	look, costly := strings.CutPrefix(parts[1], "! ")
	k.observations = append(k.observations, observation{name: name, group: group, look: strings.TrimPrefix(look, "-"), costly: costly})
	return nil
}

// outcome reads a name, a probability for each reading, the source and the reason.
func (k *kind) outcome(parts []string) (outcome, error) {
	counted, worth, has := strings.Cut(parts[0], ">")
	words := strings.Fields(counted)
	if len(parts) != 3 || len(words) != 1+len(k.readings) {
		return outcome{}, fmt.Errorf("want a name, %d probabilities, | SOURCE | REASON", len(k.readings))
	}
	o := outcome{name: words[0], source: parts[1], reason: parts[2]}
	for _, w := range words[1:] {
		p, err := strconv.ParseFloat(w, 64)
		if err != nil || !(p > 0 && p < 1) {
			return o, fmt.Errorf("%s is no probability between 0 and 1, both excluded: nothing seen may settle a question for good", w)
		}
		o.given = append(o.given, p)
	}
	if !has {
		return o, nil
	}
	for _, w := range strings.Fields(worth) {
		db, err := strconv.ParseFloat(w, 64)
		if err != nil || !(math.Abs(db) < 100) {
			return o, fmt.Errorf("%s is no weight in decibans", w)
		}
		o.worth = append(o.worth, db)
	}
	if len(o.worth) != len(k.readings) {
		return o, fmt.Errorf("want %d weights in decibans after >", len(k.readings))
	}
	return o, nil
}

// check sees that all probabilities of a column add up to 1.
func (k *kind) check() error {
	if math.Abs(total(k.prior)-1) > 1e-9 {
		return fmt.Errorf("the prior adds up to %g, not 1", total(k.prior))
	}
	for i := range k.observations {
		o := &k.observations[i]
		for r, reading := range k.readings {
			sum := 0.0
			for _, c := range o.outcomes {
				sum += c.given[r]
			}
			if math.Abs(sum-1) > 1e-9 {
				return fmt.Errorf("the outcomes of %s given %s add up to %g, not 1", o.name, reading, sum)
			}
		}
	}
	return nil
}

func total(p []float64) float64 {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	return sum
}

// observation returns the observation of that name, or nil.
func (k *kind) observation(name string) *observation {
	if i := slices.IndexFunc(k.observations, func(o observation) bool { return o.name == name }); i >= 0 {
		return &k.observations[i]
	}
	return nil
}

// reckon works out what all questions of a kind share.
func (k *kind) reckon() {
	byReading := func(value func(i int) float64) map[string]float64 {
		m := make(map[string]float64, len(k.readings))
		for i, r := range k.readings {
			m[r] = value(i)
		}
		return m
	}
	k.priorDb = byReading(func(i int) float64 { return Decibans(k.prior[i]) })
	k.unseen = byReading(func(int) float64 { return 0 })
	for i := range k.observations {
		o := &k.observations[i]
		for n := range o.outcomes {
			c := &o.outcomes[n]
			c.db = byReading(func(i int) float64 { return Decibans(c.given[i]) })
			if c.weighed = c.db; c.worth != nil {
				c.weighed = byReading(func(i int) float64 { return c.worth[i] })
			}
			c.strength = k.strength(c)
			o.given, o.strongest = append(o.given, c.given), max(o.strongest, c.strength)
		}
	}
}

// seen is what was seen: the outcome, in the words of the table, and the fact in words of the drawing.
type seen struct{ outcome, fact string }

// beside is the outcome of an observation that means nothing in a place: it is left out.
const beside = "-"

// newQuestion makes a question of a kind. What is in saw was observed, by the name of the observation; all the rest of the
// kind's observations were not made.
func newQuestion(name string, prior map[string]float64, saw map[string]seen) Question {
	k := theTable()[name]
	q := Question{Kind: name, Count: 1, Prior: k.priorDb, Evidence: make([]Evidence, 0, len(k.observations))}
	if len(prior) > 0 {
		q.Prior = maps.Clone(k.priorDb)
		for _, r := range k.readings {
			if p, ok := prior[r]; ok {
				q.Prior[r] = p
			}
		}
	}
	known := 0
	for i := range k.observations {
		o := &k.observations[i]
		s, ok := saw[o.name]
		if ok {
			known++
		}
		if s.outcome == beside {
			continue
		}
		q.Evidence = append(q.Evidence, o.evidence(k, s, ok))
	}
	if known != len(saw) {
		panic(fmt.Sprintf("question: of %v not all are observations of %s", saw, name))
	}
	q.weigh(k)
	return q
}

// evidence makes one of an observation.
func (o *observation) evidence(k *kind, s seen, made bool) Evidence {
	e := Evidence{Group: o.group, Observed: made, Decibans: k.unseen, of: o}
	if !made {
		e.Text = "not seen: " + o.name
		if o.look != "" {
			e.Text = "not known yet: " + o.look
		}
		return e
	}
	i := slices.IndexFunc(o.outcomes, func(c outcome) bool { return c.name == s.outcome })
	if i < 0 {
		panic(fmt.Sprintf("question: %s is no outcome of %s", s.outcome, o.name))
	}
	c := &o.outcomes[i]
	e.Decibans = c.db // what it is worth beside the others is known of what is weighed only
	e.Outcome, e.as = c.name, c
	e.Text = c.reason
	if s.fact != "" {
		e.Text = s.fact + ": " + c.reason
	}
	return e
}
