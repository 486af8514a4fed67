package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	"undermetal/netlist"
	"undermetal/recognise/question"
)

// showOne tells one question in full, and draws its place.
func (f *questionsFlags) showOne(c *cobra.Command, a *asking, dos *dossier.Dossier) error {
	i, err := a.find("--show", f.show)
	if err != nil {
		return err
	}
	text, err := "", error(nil)
	if f.picture != "" {
		if text, err = f.drawPlace(c, a, &a.qs[i], dos); err != nil {
			return err
		}
	}
	p := &printer{w: c.OutOrStdout()}
	if f.picture == "-" {
		return nil
	}
	a.show(p, i, dos != nil)
	if text != "" {
		p.f("picture    %s\n", text)
	}
	return p.err
}

// show prints a question. answerable says whether an answer could be kept.
func (a *asking) show(p *printer, i int, answerable bool) {
	q := &a.qs[i]
	at := place(q.At.X, q.At.Y)
	p.f("%s  %s\n", a.short[i], q.ID)
	p.f("%s at (%.3f, %.3f) µm", inWords(q.Kind), at[0], at[1])
	if q.Layer != "" {
		p.f(" on %s", q.Layer)
	}
	if q.Path != "" {
		p.f(" in %s", q.Path)
	}
	if q.Count > 1 {
		p.f(", %d places alike", q.Count)
	}
	p.f("\n\n%-14s  %-14s  %6s  %s\n", "reading", "odds", "dB", "probability")
	for _, r := range q.Readings {
		p.f("%-14s  %-14s  %6.1f  %9s %%\n", r.Reading, odds(r.OddsDb), r.OddsDb, percent(r.Probability))
	}
	table, source, why := question.TablePrior(q.Kind)
	p.f("\n")
	p.wrap("prior      ", fmt.Sprintf("%s dB (%s: %s)", decibans(q.Readings, q.Prior), source, why))
	for _, r := range q.Readings {
		if q.Prior[r.Reading] != table[r.Reading] {
			p.f("           of %s as given; the table says %.1f dB\n", r.Reading, table[r.Reading])
		}
	}
	a.showEvidence(p, q)
	if q.NextLook.Bits >= leastBits {
		p.f("\n")
		p.wrap("next look  ", fmt.Sprintf("%s (%.2f bits of %.2f are expected)", q.NextLook.Text, q.NextLook.Bits, uncertainty(q)))
	} else {
		p.f("\nnext look  none that would tell more\n")
	}
	p.wrap("devices    ", orNone(named(q.Devices, a.devices)))
	nets := named(q.Nets, a.nets)
	for k, n := range q.Nets {
		if name := a.res.Circuit.Nets[n].Name; name != "" {
			nets[k] = name
		}
	}
	p.wrap("nets       ", orNone(nets))
	p.f("shots      %s\n", orNone(q.Shots))
	switch {
	case q.Verdict != "":
		p.f("answer     %s\n", q.Verdict)
		if kept := shared.Settling(q, a.kept); len(kept) > 1 {
			var all []string
			for _, s := range kept {
				all = append(all, keptAt(s))
			}
			p.wrap("kept       ", strings.Join(all, ", "))
		}
	case answerable:
		p.f("answer     none; undermetal questions %s --answer %s=%s settles it\n", word(a.name), a.short[i], q.Leading().Reading)
	default:
		p.f("answer     none; answers are kept in dossiers\n")
	}
	if q.By >= 0 && a.notes[q.By] != "" {
		p.f("remark     %s\n", a.notes[q.By])
	}
	if q.Note != "" {
		p.wrap("note       ", q.Note)
	}
}

// leastBits is how much a look must promise to be told of: less is written as 0.00.
const leastBits = 0.005

// showEvidence prints what speaks for the leading reading, what against it, what counts nothing and what was not looked at.
func (a *asking) showEvidence(p *printer, q *question.Question) {
	lead, rival := q.Readings[0].Reading, q.Readings[1].Reading
	lean := func(e *question.Evidence) float64 { return e.Decibans[lead] - e.Decibans[rival] }
	for _, part := range []struct {
		title string
		holds func(e *question.Evidence) bool
	}{
		{"for " + lead + " rather than " + rival, func(e *question.Evidence) bool { return e.Weighed && lean(e) > 0 }},
		{"against " + lead, func(e *question.Evidence) bool { return e.Weighed && lean(e) <= 0 }},
		{"not counted, since a stronger observation of the group is", func(e *question.Evidence) bool { return e.Observed && !e.Weighed }},
		{"not observed", func(e *question.Evidence) bool { return !e.Observed }},
	} {
		var es []*question.Evidence
		for i := range q.Evidence {
			if e := &q.Evidence[i]; part.holds(e) {
				es = append(es, e)
			}
		}
		if len(es) == 0 {
			continue
		}
		slices.SortStableFunc(es, func(a, b *question.Evidence) int {
			return -compareAbs(lean(a), lean(b))
		})
		p.f("\n%s:\n", part.title)
		for _, e := range es {
			text := e.Text
			if e.Observed {
				text += " (" + decibans(q.Readings, e.Decibans) + " dB)"
			}
			p.wrap(fmt.Sprintf("  %-10s ", e.Group), text)
		}
	}
}

func compareAbs(a, b float64) int {
	switch x, y := math.Abs(a), math.Abs(b); {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// decibans lists the weights of readings, in their order.
func decibans(readings []question.Reading, db map[string]float64) string {
	var all []string
	for _, r := range readings {
		all = append(all, fmt.Sprintf("%s %.1f", r.Reading, db[r.Reading]))
	}
	return strings.Join(all, ", ")
}

// percent writes a probability in percent, so that neither 0 nor 100 is said of what is not sure.
func percent(p float64) string {
	switch {
	case p > 0.9999:
		return "> 99.99"
	case p < 0.0001:
		return "< 0.01"
	}
	return fmt.Sprintf("%.2f", 100*p)
}

// uncertainty is the entropy of a question's readings, in bits.
func uncertainty(q *question.Question) float64 {
	p := make([]float64, len(q.Readings))
	for i := range p {
		p[i] = q.Readings[i].Probability
	}
	return question.Entropy(p)
}

// named returns the ids of devices or nets by their numbers.
func named[N int | netlist.Net](numbers []N, ids []string) []string {
	out := make([]string, len(numbers))
	for i, n := range numbers {
		out[i] = ids[n]
	}
	return out
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return someNames(names)
}

// wrap prints a text in lines of about a hundred letters, the first behind head, the others as far to the right.
func (p *printer) wrap(head, text string) {
	const wide = 110
	line := head
	for i, w := range strings.Fields(text) {
		if i > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > wide {
			p.f("%s\n", line)
			line = strings.Repeat(" ", utf8.RuneCountInString(head)) + w
			continue
		}
		if i > 0 {
			line += " "
		}
		line += w
	}
	p.f("%s\n", line)
}

// readNotes reads the remarks that answers of a dossier were given with.
func (a *asking) readNotes(dos *dossier.Dossier) error {
	a.notes = make([]string, len(a.res.Verdicts))
	if dos == nil {
		return nil
	}
	var err error
	if a.kept, _, err = a.stored(dos); err != nil {
		return err
	}
	for _, s := range a.kept {
		for _, k := range s.Used {
			a.notes[k] = s.Note
		}
	}
	return nil
}
