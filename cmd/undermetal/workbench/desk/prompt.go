package desk

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// prompt is the command line.
type prompt struct {
	Prompt
	before string // what was typed before a candidate was taken
	past   int    // how far back one is in the lines obeyed before
	waits  bool   // for the command's answer how it may go on
	owed   int    // Tab was struck meanwhile: 1, or -1 with Shift
	full   string // why what was pasted last was not taken
}

// mostLine is how many letters a command line has.
const mostLine = 10_000

// Prompt is the command line; nil: it is closed.
func (d *Desk) Prompt() *Prompt {
	if d.line == nil {
		return nil
	}
	p := d.line.Prompt
	p.Hint = d.hint()
	return &p
}

// hint is what the command line wants next: the arguments of its verb, else the words that Tab puts in.
func (d *Desk) hint() string {
	l := d.line
	if l.full != "" {
		return l.full
	}
	if l.Chosen >= 0 && l.Chosen < len(l.Candidates) {
		return l.Candidates[l.Chosen].Note
	}
	var parts []string
	if args, err := words(string(l.Text)); err == nil && len(args) > 0 && strings.Contains(l.before, " ") {
		if v := verbNamed(args[0]); v != nil {
			parts = append(parts, v.args, v.what)
		} else if v, _ := d.commandVerb(args); v != nil {
			parts = append(parts, v.Short)
		}
	}
	if n := min(len(l.Candidates), hinted); n > 0 {
		parts = append(parts, "Tab:")
		for _, c := range l.Candidates[:n] {
			parts = append(parts, c.Text)
		}
	}
	return strings.TrimSpace(strings.Join(parts, "  "))
}

// hinted is how many words a hint lists; the line above has them all.
const hinted = 20

// ask opens the command line with the beginning of a line.
func (d *Desk) ask(text string) {
	d.line = &prompt{Prompt: Prompt{Label: ":"}}
	d.line.set(d, text)
}

func (l *prompt) set(d *Desk, text string) {
	l.Text = []rune(text)
	l.Cursor = len(l.Text)
	l.offer(d)
}

// typed puts text into the command line.
func (d *Desk) typed(text string) {
	l := d.line
	var in []rune
	for _, r := range text {
		if !unicode.IsControl(r) && r != unicode.ReplacementChar {
			in = append(in, r)
		}
	}
	in = in[:max(0, min(len(in), mostLine-len(l.Text)))]
	l.Text = slices.Insert(l.Text, l.Cursor, in...)
	l.Cursor += len(in)
	l.offer(d)
}

// Paste is text that was pasted into the terminal: into the command line; where that is closed, it is opened. Lines after the first are
// left out: nothing is obeyed that was not looked at. What has no room is left out whole.
func (d *Desk) Paste(text string) {
	text, _, _ = strings.Cut(strings.TrimLeft(text, "\r\n"), "\n")
	text = strings.TrimSpace(text)
	if text == "" || d.page != nil || d.done {
		return
	}
	room := mostLine
	if d.line != nil {
		room -= len(d.line.Text)
	}
	if n := utf8.RuneCountInString(text); n > room {
		d.warn("%d letters were pasted: a command line has no more than %d", n, mostLine)
		if d.line != nil {
			d.line.full = d.said.text
		}
		return
	}
	if d.line == nil {
		d.ask("")
	}
	d.typed(text)
}

func (l *prompt) move(d *Desk, by int) {
	l.Cursor = max(0, min(len(l.Text), l.Cursor+by))
	l.offer(d)
}

func (l *prompt) erase(d *Desk, after bool) {
	switch {
	case after && l.Cursor < len(l.Text):
		l.Text = slices.Delete(l.Text, l.Cursor, l.Cursor+1)
	case !after && l.Cursor > 0:
		l.Text = slices.Delete(l.Text, l.Cursor-1, l.Cursor)
		l.Cursor--
	case !after && len(l.Text) == 0:
		d.line = nil
		return
	}
	l.offer(d)
}

// recall brings back a line that was obeyed before.
func (l *prompt) recall(d *Desk, by int) {
	l.past = max(0, min(len(d.past), l.past-by))
	text := ""
	if l.past > 0 {
		text = d.past[len(d.past)-l.past]
	}
	past := l.past
	l.set(d, text)
	l.past = past
}

// offer finds out how the word before the cursor may go on. Where the command has to be asked, what fitted before stays as far as it fits.
func (l *prompt) offer(d *Desk) {
	was, now := l.before, string(l.Text[:l.Cursor])
	l.before, l.waits, l.owed, l.full = now, false, 0, ""
	all, q := d.complete(now)
	d.goesOn.latest = start{}
	if q.args != nil {
		l.waits = true
		head := len(now) - len(lastWord(now))
		if was != "" && len(was)-len(lastWord(was)) == head && was[:head] == now[:head] {
			all = fitting(l.Candidates, strings.Trim(lastWord(now), `'"`))
		}
		d.askCommand(q)
	}
	l.Candidates, l.Chosen = all, -1
}

// next takes the next candidate.
func (l *prompt) next(d *Desk, back bool) {
	n := len(l.Candidates)
	switch {
	case l.waits && back:
		l.owed = -1
		return
	case l.waits:
		l.owed = 1
		return
	case n == 0:
		return
	}
	rest := append([]rune(nil), l.Text[l.Cursor:]...)
	switch {
	case back && l.Chosen < 0:
		l.Chosen = n - 1
	case back:
		l.Chosen = (l.Chosen + n - 1) % n
	default:
		l.Chosen = (l.Chosen + 1) % n
	}
	word := lastWord(l.before)
	text := l.before[:len(l.before)-len(word)] + quoted(l.Candidates[l.Chosen].Text)
	if n == 1 {
		text += " "
	}
	l.Text = append([]rune(text), rest...)
	l.Cursor = len([]rune(text))
	if n == 1 {
		l.offer(d)
	}
}

// lastWord is what was typed of the last word, quotes and all.
func lastWord(s string) string {
	in, from := rune(0), 0
	for i, r := range s {
		switch {
		case in != 0:
			if r == in {
				in = 0
			}
		case r == '\'' || r == '"':
			in = r
		case r == ' ':
			from = i + 1
		}
	}
	return s[from:]
}

// quoted writes a word so that words reads it back.
func quoted(s string) string {
	switch {
	case s != "" && !strings.ContainsAny(s, " '\""):
		return s
	case !strings.Contains(s, "'"):
		return "'" + s + "'"
	}
	return `"` + s + `"`
}

// words splits a line at blanks; quotes of either kind keep them.
func words(s string) (out []string, err error) {
	var w strings.Builder
	in, begun := rune(0), false
	for _, r := range s {
		switch {
		case in != 0 && r == in:
			in = 0
		case in != 0:
			w.WriteRune(r)
		case r == '\'' || r == '"':
			in, begun = r, true
		case r == ' ':
			if begun {
				out = append(out, w.String())
			}
			w.Reset()
			begun = false
		default:
			w.WriteRune(r)
			begun = true
		}
	}
	if in != 0 {
		return nil, errorf("a quote %c that is not closed", in)
	}
	if begun {
		out = append(out, w.String())
	}
	return out, nil
}

// enterLine obeys the line and closes it.
func (d *Desk) enterLine() {
	text := strings.TrimSpace(string(d.line.Text))
	d.line = nil
	if text == "" {
		return
	}
	if n := len(d.past); n == 0 || d.past[n-1] != text {
		d.past = append(d.past, text)
	}
	d.obey(text)
}
