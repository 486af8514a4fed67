package workbench

import (
	"strings"

	"github.com/rivo/uniseg"

	"undermetal/cmd/undermetal/workbench/desk"
)

// wrap breaks a line that is wider than w columns at its blanks; what follows is indented by two more than the line. A word that is
// wider than that is broken where it has to be.
func (p *pen) wrap(line []desk.Span, w int) [][]desk.Span {
	width, text := 0, ""
	for _, s := range line {
		width += p.width(s.Text)
		text += s.Text
	}
	if width <= w || w < 1 {
		return [][]desk.Span{line}
	}
	indent := len(text) - len(strings.TrimLeft(text, " ")) + 2
	if indent > w/2 {
		indent = 0
	}
	rows, at, empty := [][]desk.Span{nil}, 0, true // empty: of words
	put := func(s string, tone desk.Tone) {
		rows[len(rows)-1] = append(rows[len(rows)-1], desk.Span{Text: s, Tone: tone})
		at += p.width(s)
	}
	next := func() {
		rows, at, empty = append(rows, nil), 0, true
		if indent > 0 {
			put(strings.Repeat(" ", indent), desk.Plain)
		}
	}
	for _, s := range line {
		for rest := s.Text; rest != ""; {
			word := rest
			if n := strings.IndexByte(rest, ' '); n > 0 {
				word = rest[:n]
			} else if n == 0 {
				word = rest[:len(rest)-len(strings.TrimLeft(rest, " "))]
			}
			rest = rest[len(word):]
			if word[0] == ' ' {
				if at+len(word) <= w && (len(rows) == 1 || !empty) {
					put(word, s.Tone)
				}
				continue
			}
			if at+p.width(word) > w && at > 0 && (!empty || w-at < 2) {
				next()
			}
			for at+p.width(word) > w {
				head, tail := p.cut(word, w-at)
				put(head, s.Tone)
				word = tail
				next()
			}
			put(word, s.Tone)
			empty = false
		}
	}
	return rows
}

// cut divides a word, so that the first part, of one letter or more, takes w columns or fewer.
func (p *pen) cut(s string, w int) (head, tail string) {
	state, tail := -1, s
	for tail != "" {
		cluster, rest, wide, after := uniseg.FirstGraphemeClusterInString(tail, state)
		if w -= wide; w < 0 && head != "" {
			break
		}
		head, tail, state = head+cluster, rest, after
	}
	return head, tail
}
