package desk

import (
	"fmt"
	"slices"
	"strings"
)

// keysShown is what the key page shows of all that can be struck and typed.
type keysShown struct {
	all  bool   // all stations, and not this one alone
	find string // only what has these words
}

// showKeys opens the key page, made of the table that keys are dispatched by: of this station, what holds everywhere and the mouse.
// A second ? shows all; what is typed is looked for among all.
func (d *Desk) showKeys() {
	d.page = &page{keys: &keysShown{}}
	d.fillKeys()
}

// typeOnPage looks for what is typed on the key page.
func (d *Desk) typeOnPage(text string) {
	if d.page.keys != nil {
		d.page.keys.find += text
		d.page.Top = 0
		d.fillKeys()
	}
}

// pageKey is what ?, Space and Backspace do on a page: on the key page they show all, and search; others are closed.
func (d *Desk) pageKey(k Key) {
	s := d.page.keys
	switch {
	case s == nil:
		d.page = nil
	case k.Rune == '?':
		s.all, s.find = !s.all, ""
		d.page.Top = 0
		d.fillKeys()
	case s.find == "":
		d.page = nil
	case k.Rune == ' ':
		d.typeOnPage(" ")
	default:
		r := []rune(s.find)
		s.find = string(r[:len(r)-1])
		d.page.Top = 0
		d.fillKeys()
	}
}

// closePage gives up what is looked for, then the page.
func (d *Desk) closePage() {
	if s := d.page.keys; s != nil && s.find != "" {
		s.find = ""
		d.fillKeys()
		return
	}
	d.page = nil
}

// keySection is a part of the key page.
type keySection struct {
	title string
	rows  [][2]string // what is struck or typed, and what it does
	here  bool        // also where not all is shown
}

// fillKeys makes the lines of the key page.
func (d *Desk) fillKeys() {
	s := d.page.keys
	words := strings.Fields(strings.ToLower(s.find))
	var lines [][]Span
	n := 0
	wide := max(12, min(33, d.columns/3)) // of keys: on a narrow screen, what they do is to stand beside them, too
	for _, part := range d.keySections() {
		if !part.here && !s.all && len(words) == 0 {
			continue
		}
		var rows [][]Span
		for _, r := range part.rows {
			text := strings.ToLower(part.title + " " + r[0] + " " + r[1])
			if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) }) {
				rows = append(rows, []Span{{fmt.Sprintf("  %-*s ", wide, r[0]), Marked}, {r[1], Plain}})
			}
		}
		if len(rows) > 0 {
			n += len(rows)
			lines = append(append(append(lines, []Span{{part.title, Strong}}), rows...), nil)
		}
	}
	t := Text{Title: "keys of " + stationWords[d.station], Lines: lines, Top: d.page.Top, Hint: "type what you look for, ? all stations, Up, Down, PgUp, PgDn read on, Esc closes it"}
	switch {
	case s.find != "":
		t.Title = fmt.Sprintf("keys and commands with “%s”: %d", harmless(s.find), n)
		t.Hint = "Backspace takes a letter away, Esc all of them"
		if n == 0 {
			t.Lines = [][]Span{{{"nothing has these words: fewer letters find more", Caution}}}
		}
	case s.all:
		t.Title = "all keys and commands"
		t.Hint = "type what you look for, ? this station, Up, Down, PgUp, PgDn read on, Esc closes it"
	}
	d.page.Text = t
}

// keySections are all parts of the key page, that of this station first.
func (d *Desk) keySections() (parts []keySection) {
	here := []where{atLook, atRegister, atTrace, atAsk, atName, atHand}[d.station]
	order := []where{here, anywhere}
	for w := atLook; w <= inPrompt; w++ {
		if w != here {
			order = append(order, w)
		}
	}
	mouse := keySection{title: "mouse", here: true, rows: [][2]string{
		{"left", "here; in trace: select, drag moves, drag from nothing selects a box"},
		{"right", "done; without anything begun, back to where you were"},
		{"middle, or Ctrl and left", "move the picture"},
		{"wheel", "magnify or reduce about the pointer; with Shift, part of the second photograph"},
	}}
	for i, w := range order {
		part := keySection{title: whereWords[w], here: i < 2}
		for _, b := range bindings {
			if b.where == w {
				part.rows = append(part.rows, [2]string{keyList(b.keys), b.what})
			}
		}
		parts = append(parts, part)
		if i == 1 {
			parts = append(parts, mouse)
		}
	}
	lines := keySection{title: "command line"}
	for _, v := range verbs {
		lines.rows = append(lines.rows, [2]string{":" + strings.TrimSpace(v.name+" "+v.args), v.what})
	}
	for _, v := range d.opt.Verbs {
		lines.rows = append(lines.rows, [2]string{":" + v.Words, v.Short})
	}
	return append(parts, lines)
}

// keyList writes keys for people: arrows as one.
func keyList(keys []string) string {
	text := strings.Join(keys, " ")
	for _, mod := range []string{"", "Shift+", "Alt+", "Ctrl+"} {
		text = strings.ReplaceAll(text, mod+"Left "+mod+"Right "+mod+"Up "+mod+"Down", mod+"arrows")
	}
	return text
}
