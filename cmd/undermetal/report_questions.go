package main

import (
	"fmt"
	"strings"

	"undermetal/cmd/undermetal/report"
)

// questions are told with their evidence and a picture of their place, the worst first.
func (k *collecting) questions() error {
	ask := &questionsFlags{picture: "-"}
	a, err := ask.askDossier(k.c, k.name, k.d)
	if err != nil {
		return err
	}
	if err := a.readNotes(k.d); err != nil {
		return err
	}
	if a.missing != "" {
		k.left("%s", strings.Replace(a.missing, "--tolerance", "undermetal questions --tolerance", 1)) // which a report does not have
	}
	var listed []int
	for i := range a.qs {
		if a.qs[i].Listed() {
			listed = append(listed, i)
		}
	}
	if len(listed) > k.f.questions {
		k.left("%d more questions, which are less in doubt: undermetal questions lists them.", len(listed)-k.f.questions)
		listed = listed[:k.f.questions]
	}
	b := newBar(k.c, "drawing places")
	defer b.end()
	for n, i := range listed {
		b.set(n, len(listed))
		q := &a.qs[i]
		v, err := ask.viewOf(a, q, k.d)
		if err != nil {
			return err
		}
		x := told(a, i)
		if x.Picture, err = pictureOf(k.c.Context(), v, "The place of the question "+a.short[i], v.describe()+"; the frame is around what is asked about."); err != nil {
			return err
		}
		k.r.Questions = append(k.r.Questions, x)
	}
	return nil
}

// told is a question as the report tells it.
func told(a *asking, i int) report.Question {
	q := &a.qs[i]
	at := place(q.At.X, q.At.Y)
	x := report.Question{Title: strings.ToUpper(inWords(q.Kind)[:1]) + inWords(q.Kind)[1:] + "?", Answer: q.Verdict, Note: q.Note}
	x.Where = fmt.Sprintf("%s, at (%.3f, %.3f) µm", a.short[i], at[0], at[1])
	for _, s := range []struct{ before, text string }{{" on ", q.Layer}, {" in ", q.Path}} {
		if s.text != "" {
			x.Where += s.before + s.text
		}
	}
	if q.Count > 1 {
		x.Where += fmt.Sprintf(", %d places alike", q.Count)
	}
	if len(q.Shots) > 0 {
		x.Where += ", traced over " + strings.Join(q.Shots, ", ")
	}
	if q.By >= 0 {
		x.Remark = a.notes[q.By]
	}
	for _, r := range q.Readings {
		x.Readings = append(x.Readings, report.Reading{Name: r.Reading, Odds: odds(r.OddsDb), Percent: percent(r.Probability) + " %"})
	}
	if len(q.Readings) > 1 {
		lead, rival := q.Readings[0].Reading, q.Readings[1].Reading
		for k := range q.Evidence {
			e := &q.Evidence[k]
			lean := e.Decibans[lead] - e.Decibans[rival]
			switch text := fmt.Sprintf("%s (%+.1f dB)", e.Text, lean); {
			case !e.Observed:
				text := e.Text
				for _, before := range []string{"not known yet: ", "not seen: "} { // the heading says so
					text = strings.TrimPrefix(text, before)
				}
				x.Unseen = append(x.Unseen, text)
			case !e.Weighed:
			case lean > 0:
				x.For = append(x.For, text)
			default:
				x.Against = append(x.Against, text)
			}
		}
	}
	if q.NextLook.Bits >= leastBits {
		x.NextLook = q.NextLook.Text
	}
	return x
}
