package question

import (
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/netlist/extract"
)

// LeadDb is by how much, in decibans, a reading must lead over the next for extraction to follow it before anybody has answered:
// 3 dB, twice as probable.
const LeadDb = 3

// followed are the kinds of question whose leading reading extraction follows. Those that would join nets, or part them, stay as
// drawn: a wrong joint spoils all that hangs on either net.
var followed = []string{Polarity, Photodiode}

// Lead is the leading reading of a question that nobody has answered, in one of its places.
type Lead struct {
	Question int // index
	Verdict  layout.Verdict
	OddsDb   float64
}

// LeadOver returns by how much the leading reading leads over the next, in decibans, 10·log10 of the ratio of their probabilities.
func (q *Question) LeadOver() float64 {
	return 10 * math.Log10(q.Readings[0].Probability/q.Readings[1].Probability)
}

// Leads returns the leading readings that change what is extracted, of questions of one circuit, in all their places: what is
// n or p, and what is a diode. They are for extract.Options.Leading.
func Leads(qs []Question) []Lead {
	var out []Lead
	for i := range qs {
		q := &qs[i]
		if q.Verdict != "" || !slices.Contains(followed, q.Kind) || q.LeadOver() < LeadDb || q.Leading().Reading == "junction" {
			continue
		}
		for _, p := range q.Places {
			out = append(out, Lead{i, layout.Verdict{Layer: q.layer, At: p.At, Kind: q.Kind, Reading: q.Leading().Reading}, q.Leading().OddsDb})
		}
	}
	return out
}

// Verdicts returns leads as extraction wants them.
func Verdicts(leads []Lead) []layout.Verdict {
	var out []layout.Verdict
	for i := range leads {
		out = append(out, leads[i].Verdict)
	}
	return out
}

// Followed is what became of leads in an extraction that was given them: by device, the index of the lead that made it what it is.
func Followed(leads []Lead, res *extract.Result) map[int]int {
	of := map[layout.Verdict]int{}
	for i := range leads {
		of[leads[i].Verdict] = i
	}
	by := map[int]int{}
	for _, u := range res.Leading {
		if i, ok := of[u.Verdict]; ok && !u.Unused && !u.Lost {
			for _, d := range u.Devices {
				by[d] = i
			}
		}
	}
	return by
}
