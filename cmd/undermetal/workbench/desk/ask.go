package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/shared"
	"undermetal/recognise/question"
)

// page is what lies over the picture.
type page struct {
	Text
	keys   *keysShown           // of the key page
	asks   *question.Question   // of a question in full: of the circuit as it is now
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
	p := &page{Text: Text{Title: q.Kind, Hint: "Up and Down choose a reading, Enter answers, Esc closes it"}, asks: &q}
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

// keepQuestion shows the question of the open page as it is in a new circuit, found by its place; where it is none any more, the page is closed.
func (d *Desk) keepQuestion() {
	if d.page == nil || d.page.asks == nil {
		return
	}
	old := d.page
	same := func(q question.Question) bool {
		return q.Kind == old.asks.Kind && q.Layer == old.asks.Layer && q.At == old.asks.At
	}
	k := slices.IndexFunc(d.live.questions, same)
	if k < 0 {
		d.page = nil
		d.warn("the question %s, at %s µm, is none any more", old.asks.Kind, place(vec(old.asks.At)))
		return
	}
	d.showQuestion(k)
	d.page.Top = min(old.Top, len(d.page.Lines)-1)
	for i, c := range d.page.Choose {
		if old.Chosen < len(old.Choose) && c.Text == old.Choose[old.Chosen].Text {
			d.page.Chosen = i
		}
	}
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

// answer stores what the user has settled on, as verdicts in the cells that its places were drawn in; an empty reading
// takes the answer back. What a verdict must say for extraction is the question's matter.
func (d *Desk) answer(q question.Question, reading string) error {
	if d.live == nil {
		return errors.New("the circuit is not read yet")
	}
	word := reading
	if w := q.Answers[reading]; w != "" {
		word = w
	}
	cells, err := d.file.Cells()
	if err != nil {
		return err
	}
	verdicts, err := d.file.Verdicts()
	if err != nil {
		return err
	}
	lib := d.live.snap.lib
	kept := shared.Answers(verdicts, cells, d.live.res, lib, d.live.stack)
	anchors, err := shared.Anchors(&q, d.live.res, lib, d.live.snap.top, cells, false)
	if err != nil {
		return err
	}
	var a shared.Answering
	what := fmt.Sprintf("answer %s at %s µm: %s", q.Kind, place(vec(q.At)), reading)
	if reading == "" {
		what = fmt.Sprintf("take back the answer to %s at %s µm", q.Kind, place(vec(q.At)))
		if len(a.Withdraw(&q, anchors, kept)) == 0 {
			return errors.New("it has no answer that could be taken back")
		}
	} else {
		a.Answer(&q, word, "", anchors, kept, false)
	}
	if err := d.doEdit(what, a.Do); err != nil {
		return err
	}
	d.good("%s", what)
	return nil
}
