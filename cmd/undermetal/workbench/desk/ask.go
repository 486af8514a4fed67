package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/recognise/question"
)

// page is what lies over the picture.
type page struct {
	Text
	choose func(d *Desk, k int) // what Enter does with the chosen answer
}

// Page lies over the picture; nil: none does.
func (d *Desk) Page() *Text {
	if d.page == nil {
		return nil
	}
	t := d.page.Text
	return &t
}

// showText opens a page of plain lines.
func (d *Desk) showText(title, text string) {
	p := &page{Text: Text{Title: title, Hint: "Esc closes it"}}
	for _, l := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		p.Lines = append(p.Lines, []Span{{clean(l), Plain}})
	}
	d.page = p
}

// clean is harmless for a line whose blanks count.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0:
			return '\uFFFD'
		}
		return r
	}, s)
}

// goToQuestion goes to where a question is, and shows it in full.
func (d *Desk) goToQuestion(r row) {
	if d.live == nil || r.n >= len(d.live.questions) {
		return
	}
	d.goToRow(r)
	d.showQuestion(r.n)
}

// showQuestion shows a question with its readings, what speaks for them, and what could still be looked at.
func (d *Desk) showQuestion(k int) {
	q := d.live.questions[k]
	p := &page{Text: Text{Title: q.Kind, Hint: "Up and Down choose a reading, Enter answers, Esc closes it"}}
	add := func(tone Tone, format string, args ...any) {
		p.Lines = append(p.Lines, []Span{{harmless(fmt.Sprintf(format, args...)), tone}})
	}
	where := fmt.Sprintf("%s, at %s µm", q.Layer, place(vec(q.At)))
	if q.Path != "" {
		where += ", in " + q.Path
	}
	if q.Count > 1 {
		where += fmt.Sprintf("; %d places are alike", q.Count)
	}
	add(Quiet, "%s", where)
	for _, i := range q.Devices {
		if len(p.Lines) < 6 {
			add(Plain, "%s %s; %s", d.deviceTitle(i), d.sizeText(i), d.terminals(i))
		}
	}
	add(Plain, "")
	for _, r := range q.Readings {
		prior := ""
		if v, ok := q.Prior[r.Reading]; ok {
			prior = fmt.Sprintf("before anything was seen %+.0f dB", v)
		}
		p.Lines = append(p.Lines, []Span{{harmless(r.Reading), Strong}, {fmt.Sprintf("  %.3g %%, odds %+.1f dB  ", 100*r.Probability, r.OddsDb), Plain}, {prior, Quiet}})
	}
	add(Plain, "")
	for _, e := range q.Evidence {
		tone, mark := Plain, "•"
		switch {
		case !e.Observed:
			tone, mark = Quiet, "not looked at:"
		case !e.Weighed:
			tone, mark = Quiet, "not weighed, as it depends on a stronger one:"
		}
		var w []string
		for _, r := range q.Readings {
			if v, ok := e.Decibans[r.Reading]; ok && e.Observed {
				w = append(w, fmt.Sprintf("%s %+.0f dB", r.Reading, v))
			}
		}
		p.Lines = append(p.Lines, []Span{{harmless(mark + " " + e.Text), tone}, {"  " + harmless(strings.Join(w, ", ")), Quiet}})
	}
	if q.NextLook.Bits > 0 {
		add(Caution, "look next: %s (%.2f bits)", q.NextLook.Text, q.NextLook.Bits)
	}
	if q.Note != "" {
		add(Quiet, "%s", q.Note)
	}
	for _, r := range q.Readings {
		note := fmt.Sprintf("%.3g %%", 100*r.Probability)
		if r.Reading == q.Verdict {
			note += ", your answer"
		}
		p.Choose = append(p.Choose, Candidate{r.Reading, note})
	}
	if q.Verdict != "" {
		p.Choose = append(p.Choose, Candidate{"leave it open", "takes your answer back"})
	}
	p.choose = func(d *Desk, c int) {
		reading := ""
		if c < len(q.Readings) {
			reading = q.Readings[c].Reading
		}
		if d.try(d.answer(q, reading)) {
			d.page = nil
		}
	}
	d.page = p
}

// questionHere is the question that is meant: that of the selected row, else the nearest to the cursor.
func (d *Desk) questionHere() (int, error) {
	if d.live == nil || len(d.live.questions) == 0 {
		return 0, errors.New("there is no question")
	}
	if r, ok := d.row(); ok && d.list.kind == "questions" && r.n < len(d.live.questions) {
		return r.n, nil
	}
	best, off := 0, -1.0
	for i, q := range d.live.questions {
		x, y := float64(q.At.X)-d.eyes[0].cursor.X, float64(q.At.Y)-d.eyes[0].cursor.Y
		if o := x*x + y*y; off < 0 || o < off {
			best, off = i, o
		}
	}
	return best, nil
}

// answer stores what the user has settled on, as a verdict anchored in the cell that the place was drawn in; an empty reading
// takes the answer back. What a verdict must say for extraction is the question's matter.
func (d *Desk) answer(q question.Question, reading string) error {
	if d.live == nil {
		return errors.New("the circuit is not read yet")
	}
	word := reading
	if w := q.Answers[reading]; w != "" {
		word = w
	}
	anchors, err := d.anchors(q)
	if err != nil {
		return err
	}
	old, err := d.verdictsOn(q, anchors)
	if err != nil {
		return err
	}
	what := fmt.Sprintf("answer %s at %s µm: %s", q.Kind, place(vec(q.At)), reading)
	if reading == "" {
		what = fmt.Sprintf("take back the answer to %s at %s µm", q.Kind, place(vec(q.At)))
	}
	err = d.doEdit(what, func(tx *dossier.Tx) error {
		there := map[kept]bool{}
		for _, v := range old {
			if k := (kept{v.Cell, v.At}); reading != "" && !there[k] {
				there[k] = true
				v.Reading, v.Layer = word, q.Layer
				if err := tx.SetVerdict(&v); err != nil {
					return err
				}
				continue
			}
			if err := tx.RemoveVerdict(v.ID); err != nil {
				return err
			}
		}
		if reading == "" || len(old) > 0 {
			return nil
		}
		for _, k := range anchors {
			if err := tx.AddVerdict(&dossier.Verdict{Cell: k.cell, Layer: q.Layer, At: k.at, Kind: q.Kind, Reading: word}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}

// kept is where an answer is kept: a cell, and the place there.
type kept struct {
	cell int64
	at   geom.Point
}

// anchors are where answers to a question are kept, so that they hold in all its places.
func (d *Desk) anchors(q question.Question) (out []kept, err error) {
	lib := d.live.snap.lib
	for _, a := range q.Anchors(d.live.res, lib, lib.Cells[0]) {
		id, ok := d.live.snap.cells[a.Cell.Name]
		if a.Cell == lib.Cells[0] {
			id, ok = dossier.Frame, true
		}
		if !ok {
			return nil, fmt.Errorf("cell %q is gone", a.Cell.Name)
		}
		out = append(out, kept{id, a.At})
	}
	return out, nil
}

// verdictsOn are the answers that the dossier has to a question: those of its kind in its places, or that decided its devices.
func (d *Desk) verdictsOn(q question.Question, anchors []kept) (out []dossier.Verdict, err error) {
	all, err := d.file.Verdicts()
	if err != nil {
		return nil, err
	}
	for _, v := range all {
		if v.Kind != q.Kind || v.Cell == 0 {
			continue
		}
		hit := slices.Contains(anchors, kept{v.Cell, v.At})
		for _, p := range q.Places {
			for _, k := range p.By {
				u := &d.live.res.Verdicts[k]
				cell := d.live.snap.cells[u.Cell]
				if u.Cell == d.live.snap.lib.Cells[0].Name {
					cell = dossier.Frame
				}
				hit = hit || u.Verdict.At == v.At && cell == v.Cell
			}
		}
		if hit {
			out = append(out, v)
		}
	}
	return out, nil
}
