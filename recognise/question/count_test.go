package question

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"undermetal/testdata/ambiguous"
)

// bareShare is of how many drawings one is counted without contacts, too: as it is seen before these were traced.
const bareShare = 4

// sight is what was seen of a structure, and what it is, both by number in the table.
type sight struct {
	saw     []int // by observation: the outcome plus 1, 0 where it was not made
	reading int
}

// sights looks at the drawings of seeds from 0 on, in their order.
func sights(t *testing.T, k *kind, n int) []sight {
	all := make([][]sight, n)
	next := make(chan uint64)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for seed := range next {
				all[seed] = sightsOf(t, k, seed)
			}
		})
	}
	for seed := range uint64(n) {
		next <- seed
	}
	close(next)
	wait.Wait()
	return slices.Concat(all...)
}

func sightsOf(t *testing.T, k *kind, seed uint64) []sight {
	var out []sight
	look := func(v *view, s *ambiguous.Structure) {
		q, ok := v.about(s)
		if !ok {
			return
		}
		is := sight{saw: make([]int, len(k.observations)), reading: slices.Index(k.readings, string(s.Reading))}
		for i := range q.Evidence {
			if e := &q.Evidence[i]; e.Observed {
				o := slices.IndexFunc(k.observations, func(o observation) bool { return o.name == e.of.name })
				is.saw[o] = 1 + slices.IndexFunc(e.of.outcomes, func(c outcome) bool { return c.name == e.Outcome })
			}
		}
		out = append(out, is)
	}
	drawn := ambiguous.Generate(seed)
	c := ambiguous.Degrade(drawn, seed, level(seed))
	v := viewOf(t, &c, even)
	look(v, &c.Structure)
	for i := range c.Beside {
		if c.Beside[i].Reading == ambiguous.Dummy {
			look(v, &c.Beside[i])
		}
	}
	if seed%bareShare == 0 {
		c := ambiguous.WithoutContacts(drawn)
		look(viewOf(t, &c, even), &c.Structure)
	}
	return out
}

// TestCount counts what is seen of generated drawings, by reading, and writes it into the table of weights. It runs only where
// UNDERMETAL_COUNT says how many seeds; they are those from 0 on.
func TestCount(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv("UNDERMETAL_COUNT"))
	if err != nil {
		t.Skip("set UNDERMETAL_COUNT to the number of seeds to count on; weights.txt will be written")
	}
	if n > 1_000_000 {
		t.Fatal("seeds from 1,000,000 on are not for counting")
	}
	k := theTable()[TransistorOrCapacitor]
	all := sights(t, k, n)
	count(k, all)
	f := newFit(k, all)
	f.run(400)
	f.write()
	text := write(weightsText, k)
	if _, err := parseTable(text); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("weights.txt", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d structures, %d of them different; mean log likelihood %.5f", len(all), len(f.cases), f.likelihood)
}

// fewTimes is how often an outcome must have been weighed for its weight to be fitted.
const fewTimes = 20

// count sets the probabilities of outcomes that come from counts, with half a drawing more for each outcome, rounded so that
// they add up to 1.
func count(k *kind, all []sight) {
	for i := range k.observations {
		o := &k.observations[i]
		if o.outcomes[0].source != "count" {
			continue
		}
		for r := range k.readings {
			seen := make([]float64, len(o.outcomes))
			sum := 0.0
			for c := range seen {
				seen[c] = 0.5
			}
			for s := range all {
				if x := all[s].saw[i]; x > 0 && all[s].reading == r {
					seen[x-1]++
				}
			}
			for _, x := range seen {
				sum += x
			}
			left, most := 1.0, 0
			for c, x := range seen {
				p := max(math.Round(x/sum*1e4)/1e4, 1e-4)
				o.outcomes[c].given[r] = p
				left -= p
				if x > seen[most] {
					most = c
				}
			}
			o.outcomes[most].given[r] += left
		}
	}
}

// fit finds what each outcome is worth where it is weighed. What groups say is not independent: so of all weights those are
// taken that make the readings of the drawings counted most likely, with the log likelihood less tie times the square of
// how far a weight is from the count of how often its group says just that. Only transistors and capacitors are fitted: dummies are
// few, and drawn beside what is asked about. Theirs is the weight of transistors and the ratio of the counts; but the shape of a dummy
// is that of the transistors beside it, whatever these are.
type fit struct {
	k          *kind
	cases      [][]int     // features of each different sight
	times      [][]float64 // by case and reading
	prior      []float64   // natural logarithms
	feature    [][2]int    // observation and outcome
	start, w   [][]float64 // by feature and reading, natural logarithms
	seen       []float64
	likelihood float64
}

const (
	tie    = 2
	fitted = 2 // readings, the first of the table
)

func newFit(k *kind, all []sight) *fit {
	f := &fit{k: k, prior: make([]float64, len(k.readings))}
	number := map[[2]int]int{}
	of := map[string]int{}
	for i := range all {
		if all[i].reading < fitted {
			f.prior[all[i].reading]++
		}
		var features []int
		for _, o := range f.weighed(&all[i]) {
			key := [2]int{o, all[i].saw[o] - 1}
			n, ok := number[key]
			if !ok {
				n = len(f.feature)
				number[key] = n
				f.feature = append(f.feature, key)
			}
			features = append(features, n)
		}
		key := fmt.Sprint(features)
		c, ok := of[key]
		if !ok {
			c = len(f.cases)
			of[key] = c
			f.cases, f.times = append(f.cases, features), append(f.times, make([]float64, len(k.readings)))
		}
		f.times[c][all[i].reading]++
	}
	for r := range fitted {
		f.prior[r] = math.Log(f.prior[r])
	}
	f.startFromCounts()
	return f
}

// weighed returns the observations of a sight that are weighed: of each group the strongest.
func (f *fit) weighed(s *sight) []int {
	best := map[string]int{}
	for o, x := range s.saw {
		if x == 0 || f.k.observations[o].outcomes[0].source != "count" {
			continue
		}
		group := f.k.observations[o].group
		if b, ok := best[group]; !ok || f.k.strength(&f.k.observations[o].outcomes[x-1]) > f.k.strength(&f.k.observations[b].outcomes[s.saw[b]-1]) {
			best[group] = o
		}
	}
	var out []int
	for _, o := range best {
		out = append(out, o)
	}
	slices.Sort(out)
	return out
}

// startFromCounts takes for each weight how often its group says just that.
func (f *fit) startFromCounts() {
	groups := map[string][]float64{}
	f.start, f.seen = make([][]float64, len(f.feature)), make([]float64, len(f.feature))
	for i := range f.feature {
		f.start[i] = make([]float64, len(f.prior))
		for r := range f.start[i] {
			f.start[i][r] = 0.5
		}
	}
	for c, features := range f.cases {
		for _, i := range features {
			g := f.k.observations[f.feature[i][0]].group
			if groups[g] == nil {
				groups[g] = make([]float64, len(f.prior))
			}
			for r, n := range f.times[c] {
				f.start[i][r] += n
				groups[g][r] += n
				f.seen[i] += n
			}
		}
	}
	for i := range f.start {
		mean := 0.0
		for r := range f.start[i] {
			f.start[i][r] = math.Log(f.start[i][r] / (groups[f.k.observations[f.feature[i][0]].group][r] + 1))
			mean += f.start[i][r] / float64(len(f.prior))
		}
		for r := range f.start[i] {
			f.start[i][r] -= mean
		}
		f.w = append(f.w, slices.Clone(f.start[i]))
	}
}

// run goes up the gradient, with steps that are scaled by what gradients were before (Adam: Kingma and Ba, 2015, from memory),
// and grow smaller towards the end.
func (f *fit) run(rounds int) {
	total := 0.0
	for _, ts := range f.times {
		for _, n := range ts[:fitted] {
			total += n
		}
	}
	zero := func() [][]float64 {
		out := make([][]float64, len(f.w))
		for i := range out {
			out[i] = make([]float64, len(f.prior))
		}
		return out
	}
	mean, square := zero(), zero()
	for round := range rounds {
		g := zero()
		f.likelihood = f.gradient(g) / total
		step := 0.08 * math.Pow(0.01, float64(round)/float64(rounds))
		for i := range f.w {
			for r := range fitted {
				x := (g[i][r] - tie*(f.w[i][r]-f.start[i][r])) / total
				mean[i][r] = 0.9*mean[i][r] + 0.1*x
				square[i][r] = 0.99*square[i][r] + 0.01*x*x
				m, s := mean[i][r]/(1-math.Pow(0.9, float64(round+1))), square[i][r]/(1-math.Pow(0.99, float64(round+1)))
				f.w[i][r] += step * m / (math.Sqrt(s) + 1e-8)
			}
		}
	}
}

// gradient adds up the gradient of the log likelihood, which it returns.
func (f *fit) gradient(g [][]float64) float64 {
	sum := 0.0
	p := make([]float64, fitted)
	for c, features := range f.cases {
		copy(p, f.prior)
		for _, i := range features {
			for r := range p {
				p[r] += f.w[i][r]
			}
		}
		top, all, n := slices.Max(p), 0.0, 0.0
		for r := range p {
			p[r] = math.Exp(p[r] - top)
			all += p[r]
			n += f.times[c][r]
		}
		for r := range p {
			p[r] /= all
			if f.times[c][r] > 0 {
				sum += f.times[c][r] * math.Log(max(p[r], 1e-300))
			}
			for _, i := range features {
				g[i][r] += f.times[c][r] - n*p[r]
			}
		}
	}
	return sum
}

// write puts the weights into the table, where they were seen often enough.
func (f *fit) write() {
	for i := range f.k.observations {
		o := &f.k.observations[i]
		for c := range o.outcomes {
			if o.outcomes[c].source == "count" {
				o.outcomes[c].worth = nil
			}
		}
	}
	for i, at := range f.feature {
		for r := fitted; r < len(f.prior); r++ {
			f.w[i][r] = f.w[i][0]
			o := &f.k.observations[at[0]]
			if given := o.outcomes[at[1]].given; o.group != "shape" {
				f.w[i][r] += math.Log(given[r] / given[0])
			}
		}
		c := &f.k.observations[at[0]].outcomes[at[1]]
		if f.seen[i] < fewTimes || c.source != "count" {
			continue
		}
		for _, w := range f.w[i] {
			c.worth = append(c.worth, math.Round(100*10*w/math.Ln10)/100)
		}
	}
}

// write replaces the figures of a kind in the text of a table.
func write(text string, k *kind) string {
	lines := strings.Split(text, "\n")
	kind, observation := "", ""
	for n, line := range lines {
		words := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "kind "):
			kind = words[1]
		case kind != k.name || len(words) == 0 || words[0] == "prior" || words[0] == "#":
		case !strings.HasPrefix(line, "  "):
			observation = words[0]
		default:
			o := k.observation(observation)
			c := &o.outcomes[slices.IndexFunc(o.outcomes, func(c outcome) bool { return c.name == words[0] })]
			if o.outcomes[0].source != "count" {
				continue
			}
			s := "  " + c.name
			for _, p := range c.given {
				s += fmt.Sprintf(" %.4f", p)
			}
			if c.worth != nil {
				s += " >"
				for _, w := range c.worth {
					s += fmt.Sprintf(" %.2f", cmp.Or(w, 0))
				}
			}
			_, rest, _ := strings.Cut(line, "|")
			lines[n] = s + " |" + rest
		}
	}
	return strings.Join(lines, "\n")
}
