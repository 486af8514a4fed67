package desk

import (
	"fmt"
	"strings"
)

// showKeys opens the key page, made of the table that keys are dispatched by, those of this station first.
func (d *Desk) showKeys() {
	p := &page{Text: Text{Title: "keys", Hint: "Up, Down, PgUp, PgDn read on, Esc closes it"}}
	here := []where{atLook, atRegister, atTrace, atAsk, atName, atHand}[d.station]
	order := []where{here, anywhere}
	for w := atLook; w <= inPrompt; w++ {
		if w != here {
			order = append(order, w)
		}
	}
	for _, w := range order {
		p.Lines = append(p.Lines, []Span{{whereWords[w], Strong}})
		for _, b := range bindings {
			if b.where == w {
				p.Lines = append(p.Lines, []Span{{fmt.Sprintf("  %-34s", keyList(b.keys)), Marked}, {b.what, Plain}})
			}
		}
		p.Lines = append(p.Lines, nil)
	}
	p.Lines = append(p.Lines, []Span{{"mouse", Strong}})
	for _, m := range [][2]string{
		{"left", "here; in trace: select, drag moves, drag from nothing selects a box"},
		{"right", "done; without anything begun, back to where you were"},
		{"middle, or Ctrl and left", "move the picture"},
		{"wheel", "magnify or reduce about the pointer; with Shift, part of the second photograph"},
	} {
		p.Lines = append(p.Lines, []Span{{fmt.Sprintf("  %-34s", m[0]), Marked}, {m[1], Plain}})
	}
	p.Lines = append(p.Lines, nil, []Span{{"command line", Strong}})
	for _, v := range verbs {
		p.Lines = append(p.Lines, []Span{{fmt.Sprintf("  :%-33s", strings.TrimSpace(v.name+" "+v.args)), Marked}, {v.what, Plain}})
	}
	for _, v := range d.opt.Verbs {
		p.Lines = append(p.Lines, []Span{{fmt.Sprintf("  :%-33s", v.Words), Marked}, {v.Short, Plain}})
	}
	d.page = p
}

// keyList writes keys for people: arrows as one.
func keyList(keys []string) string {
	text := strings.Join(keys, " ")
	for _, mod := range []string{"", "Shift+", "Alt+", "Ctrl+"} {
		text = strings.ReplaceAll(text, mod+"Left "+mod+"Right "+mod+"Up "+mod+"Down", mod+"arrows")
	}
	return text
}
