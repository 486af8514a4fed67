package question

import (
	"cmp"
	"math"
	"slices"
)

// Decibans returns 10·log10 p, the weight of a probability in I. J. Good's unit (Probability and the Weighing of Evidence,
// 1950; from memory). p above 0.
func Decibans(p float64) float64 { return 10 * math.Log10(p) }

// OddsDb returns the odds of a probability, 10·log10(p/(1-p)): ±Inf for 1 and 0.
func OddsDb(p float64) float64 { return 10 * math.Log10(p/(1-p)) }

// Posterior returns the probabilities of readings whose weights, prior and evidence added up, are given in decibans up to a
// common constant. They add up to 1.
func Posterior(decibans []float64) []float64 {
	top := slices.Max(decibans)
	out := make([]float64, len(decibans))
	sum := 0.0
	for i, d := range decibans {
		out[i] = math.Pow(10, (d-top)/10)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// oddsDb returns the odds, in decibans, of each reading against all others together. It is taken from the weights and not
// from the probabilities, which are 1 to the last bit long before the odds say nothing more.
func oddsDb(decibans []float64) []float64 {
	out := make([]float64, len(decibans))
	for i, d := range decibans {
		top, others := math.Inf(-1), 0.0
		for k, e := range decibans {
			if k != i {
				top = max(top, e)
			}
		}
		for k, e := range decibans {
			if k != i {
				others += math.Pow(10, (e-top)/10)
			}
		}
		out[i] = d - top - Decibans(others)
	}
	return out
}

// Entropy returns −Σ p·log2 p in bits; terms of p = 0 are 0.
func Entropy(p []float64) float64 {
	sum := 0.0
	for _, x := range p {
		if x > 0 {
			sum -= x * math.Log2(x)
		}
	}
	return sum
}

// Information returns what a look is expected to tell about the readings, in bits: the mutual information of outcome and
// reading,
//
//	I = Σ P(reading)·P(outcome given reading)·log2(P(outcome given reading) / P(outcome))
//
// now are the probabilities of the readings, given[k][i] is P(outcome k given reading i); each reading's column adds up to
// 1. From 0 to the entropy of now. C. E. Shannon, A Mathematical Theory of Communication, 1948 (from memory).
func Information(now []float64, given [][]float64) float64 {
	bits := 0.0
	for _, row := range given {
		p := 0.0
		for i, x := range row {
			p += now[i] * x
		}
		for i, x := range row {
			if now[i] > 0 && x > 0 {
				bits += now[i] * x * math.Log2(x/p)
			}
		}
	}
	return max(bits, 0)
}

// strength says how strongly an outcome speaks: how far apart, in decibans, its probabilities put the two readings that the
// table takes for the likeliest beforehand, of equals the first. It is the table's prior, whatever the user's is: what is
// weighed does not hang on what is believed.
func (k *kind) strength(c *outcome) float64 {
	a, b := k.likeliest()
	return math.Abs(Decibans(c.given[a]) - Decibans(c.given[b]))
}

// likeliest returns the two readings that the table takes for the likeliest.
func (k *kind) likeliest() (first, second int) {
	first, second = -1, -1
	for i, p := range k.prior {
		switch {
		case first < 0 || p > k.prior[first]:
			first, second = i, first
		case second < 0 || p > k.prior[second]:
			second = i
		}
	}
	return first, second
}

// weigh adds up prior and evidence, and finds the next look. Of each group of observations the one that was made and speaks
// most strongly is weighed, of equals the first; the others of the group are shown and count nothing. So the
// sum never holds one fact twice; where the observations of a group tell different things, it holds less than they say.
func (q *Question) weigh(k *kind) {
	strongest := map[string]int{}
	for i := range q.Evidence {
		e := &q.Evidence[i]
		e.Weighed = false
		if !e.Observed {
			continue
		}
		if n, ok := strongest[e.Group]; !ok || e.as.strength > q.Evidence[n].as.strength {
			strongest[e.Group] = i
		}
	}
	sum := make([]float64, len(k.readings))
	for i, r := range k.readings {
		sum[i] = q.Prior[r]
	}
	for i := range q.Evidence { // in their order: sums are the same to the last bit
		e := &q.Evidence[i]
		if n, ok := strongest[e.Group]; !ok || n != i {
			continue
		}
		e.Weighed = true
		e.Decibans = e.as.weighed
		for i, r := range k.readings {
			sum[i] += e.Decibans[r]
		}
	}
	now, odds := Posterior(sum), oddsDb(sum)
	q.Readings = q.Readings[:0]
	for i, r := range k.readings {
		q.Readings = append(q.Readings, Reading{r, odds[i], now[i]})
	}
	slices.SortStableFunc(q.Readings, func(a, b Reading) int { return cmp.Compare(b.OddsDb, a.OddsDb) })
	q.NextLook = q.nextLook(now, strongest)
}

// nextLook finds, among the observations that were not made, the one that promises most under the odds as they are now. One
// that could not speak more strongly than what is weighed of its group already would not be weighed, and promises nothing. A look
// that costs something of the die is taken only where it promises several times as much as one that needs tracing only.
func (q *Question) nextLook(now []float64, weighed map[string]int) Look {
	var best, free Look
	for i := range q.Evidence {
		e := &q.Evidence[i]
		if e.Observed || e.of.look == "" {
			continue
		}
		if n, ok := weighed[e.Group]; ok && e.of.strongest <= q.Evidence[n].as.strength {
			continue
		}
		bits := Information(now, e.of.given)
		if bits > best.Bits {
			best = Look{e.of.look, bits}
		}
		if bits > free.Bits && !e.of.costly {
			free = Look{e.of.look, bits}
		}
	}
	if best.Bits < costlyTimes*free.Bits {
		return free
	}
	return best
}

// costlyTimes is how many times as much a costly look must promise.
const costlyTimes = 4
