package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	"undermetal/recognise/question"
)

// mostQuestions is how many questions are listed where neither --all nor --kind is given; the JSON has them all.
const mostQuestions = 100

// list prints the questions as a table, then answers that nothing is done with.
func (a *asking) list(w io.Writer, f *questionsFlags, dos *dossier.Dossier) error {
	p := &printer{w: w}
	p.f("%s: %s", a.d.top.Name, counted(len(a.res.Circuit.Devices), "device"))
	if a.basis != "" {
		p.f("; %s", a.basis)
	}
	p.f("\n")
	if a.missing != "" {
		p.f("%s\n", a.missing)
	}
	a.printPrior(p)
	open, answered, decided, shown := 0, 0, 0, 0
	for i := range a.qs {
		q := &a.qs[i]
		switch {
		case q.Verdict != "":
			answered++
		case q.Listed():
			open++
		default:
			decided++
			if !f.all {
				continue
			}
		}
		if shown++; shown > mostQuestions && !f.all && len(f.kinds) == 0 {
			continue
		}
		if shown == 1 {
			p.f("\n%-12s  %-23s  %20s  %-10s  %5s  %-28s  %6s  %s\n", "id", "kind", "place, µm", "layer", "count", "leading reading", "dB", "answer")
		}
		at := place(q.At.X, q.At.Y)
		line := fmt.Sprintf("%-12s  %-23s  %20s  %-10s  %5d  %-28s  %6.1f  %s", a.short[i], q.Kind, fmt.Sprintf("%.3f, %.3f", at[0], at[1]), q.Layer, q.Count, oddsOf(q.Leading()), q.Leading().OddsDb, q.Verdict)
		p.f("%s\n", strings.TrimRight(line, " "))
	}
	if more := shown - mostQuestions; more > 0 && !f.all && len(f.kinds) == 0 {
		p.f("%d more; --kind or --all lists them, --json too\n", more)
	}
	p.f("\n%s open, %d answered, %d that the evidence has decided", counted(open, "question"), answered, decided)
	if decided > 0 && !f.all {
		p.f(" (--all lists them)")
	}
	p.f("\n")
	if err := a.listIdle(p, dos); err != nil {
		return err
	}
	return p.err
}

// printPrior says what is believed beforehand where it is not what the table says.
func (a *asking) printPrior(p *printer) {
	for _, kind := range slices.Sorted(maps.Keys(a.prior)) {
		table, _, _ := question.TablePrior(kind)
		for _, reading := range slices.Sorted(maps.Keys(a.prior[kind])) {
			p.f("prior as given: %s of %s %.1f dB, instead of %.1f\n", reading, kind, a.prior[kind][reading], table[reading])
		}
	}
}

// stored returns the answers that a dossier keeps, and its cells.
func (a *asking) stored(dos *dossier.Dossier) ([]shared.Kept, []dossier.Cell, error) {
	verdicts, err := dos.Verdicts()
	if err != nil {
		return nil, nil, err
	}
	cells, err := dos.Cells()
	if err != nil {
		return nil, nil, err
	}
	return shared.Answers(verdicts, cells, a.res, a.d.lib, a.d.stack), cells, nil
}

// idle reports whether nothing is done with an answer in any place, and why.
func (a *asking) idle(s *shared.Kept) (why string, ok bool) {
	for _, i := range s.Used {
		switch u := &a.res.Verdicts[i]; {
		case u.Unused:
			why = "extraction cannot follow it"
		case u.Lost && s.Cell == 0:
			why = "its cell is gone"
		case u.Lost:
			why = "nothing of the kind is there any more"
		default:
			return "", false
		}
	}
	return why, len(s.Used) > 0
}

// handle is what an answer that no question has is called by.
func handle(s *shared.Kept) string { return fmt.Sprintf("v%d", s.ID) }

// listIdle prints the answers that nothing is done with: their places are gone, or extraction cannot follow them.
func (a *asking) listIdle(p *printer, dos *dossier.Dossier) error {
	if dos == nil {
		return nil
	}
	kept, _, err := a.stored(dos)
	if err != nil {
		return err
	}
	first := true
	for _, s := range kept {
		why, ok := a.idle(&s)
		if !ok {
			continue
		}
		if first {
			p.f("\nanswers that nothing is done with; --withdraw takes one back:\n")
			first = false
		}
		at := place(s.At.X, s.At.Y)
		p.f("%-12s  %-23s  %20s  %-10s  %s, in cell %s: %s\n", handle(&s), s.Kind, fmt.Sprintf("%.3f, %.3f", at[0], at[1]), s.Layer, s.Reading, s.In, why)
	}
	return nil
}
