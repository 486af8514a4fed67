package workbench

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/uniseg"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/shot"
)

// styles say how tones look: by weight first, since not all have or see colours. The colours are of the set by M. Okabe and
// K. Ito that layers have, those of it that can be read on light and on dark.
var styles = map[desk.Tone]tcell.Style{
	desk.Plain:   tcell.StyleDefault,
	desk.Quiet:   tcell.StyleDefault.Dim(true),
	desk.Strong:  tcell.StyleDefault.Bold(true),
	desk.Good:    tcell.StyleDefault.Foreground(tcell.NewRGBColor(0x00, 0x9e, 0x73)).Bold(true),
	desk.Caution: tcell.StyleDefault.Foreground(tcell.NewRGBColor(0xe6, 0x9f, 0x00)).Underline(true),
	desk.Failure: tcell.StyleDefault.Foreground(tcell.NewRGBColor(0xd5, 0x5e, 0x00)).Bold(true).Underline(true),
	desk.Marked:  tcell.StyleDefault.Reverse(true),
}

// hatches look like shot.Ink's: rising, falling, level and upright lines, and two crossings of them.
var (
	hatches      = [shot.Hatches]rune{'╱', '╲', '─', '│', '┼', '╳'}
	hatchesASCII = [shot.Hatches]rune{'/', '\\', '-', '|', '+', 'x'}
)

// pen writes text into cells.
type pen struct {
	screen tcell.Screen
	ascii  bool
}

// harmless takes out of a text what would move the cursor or turn the text: names come from files of strangers.
func harmless(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case unicode.Is(unicode.Cf, r):
			return -1
		case unicode.IsControl(r), r == unicode.ReplacementChar:
			return '?'
		}
		return r
	}, s)
}

// plainer are stand-ins in terminals that have ASCII only.
var plainer = strings.NewReplacer("µ", "u", "×", "x", "±", "+-", "…", "~", "·", "-", "●", "*", "○", "o", "→", ">", "←", "<", "↑", "^", "↓", "v", "—", "-", "–", "-", "°", " deg", "²", "2", "√", "x", "▸", ">", "✓", "+", "Ω", "Ohm", "│", "|", "─", "-")

func (p *pen) text(s string) string {
	s = harmless(s)
	if p.ascii {
		s = plainer.Replace(s)
	}
	return s
}

// width is how many columns a text takes.
func (p *pen) width(s string) int { return uniseg.StringWidth(p.text(s)) }

// put writes a text into w columns from (x, y) on, and returns how many it took. What has no room is cut off, which the last column
// says.
func (p *pen) put(x, y, w int, s string, style tcell.Style) int {
	s = p.text(s)
	more := '…'
	if p.ascii {
		more = '~'
	}
	if uniseg.StringWidth(s) <= w {
		more = 0
	}
	at := 0
	for state := -1; s != ""; {
		var cluster string
		var wide int
		cluster, s, wide, state = uniseg.FirstGraphemeClusterInString(s, state)
		if wide == 0 {
			continue
		}
		room := w
		if more != 0 {
			room--
		}
		if at+wide > room {
			break
		}
		p.screen.Put(x+at, y, cluster, style)
		at += wide
	}
	if more != 0 && at < w {
		p.screen.SetContent(x+at, y, more, nil, style)
		at++
	}
	return at
}

// blank empties w columns.
func (p *pen) blank(x, y, w int, style tcell.Style) {
	for i := range w {
		p.screen.SetContent(x+i, y, ' ', nil, style)
	}
}

// spans writes a line of several tones, over a style, and empties what is left of it.
func (p *pen) spans(r rect, y int, line []desk.Span) {
	at := 0
	for _, s := range line {
		if at >= r.w {
			break
		}
		text := s.Text
		if s.Tone == desk.Marked { // blanks that fill a column are not marked
			text = strings.TrimRight(text, " ")
		}
		at += p.put(r.x+at, y, r.w-at, text, styles[s.Tone])
		if fill := min(len(s.Text)-len(text), r.w-at); fill > 0 {
			p.blank(r.x+at, y, fill, tcell.StyleDefault)
			at += fill
		}
	}
	p.blank(r.x+at, y, r.w-at, tcell.StyleDefault)
}

// right writes a text that ends at the right end of a line, and returns how many columns are left for others.
func (p *pen) right(r rect, y int, s string, style tcell.Style) (left int) {
	w := p.width(s)
	if w == 0 || w+1 > r.w*2/3 {
		return r.w
	}
	p.put(r.x+r.w-w, y, w, s, style)
	p.blank(r.x+r.w-w-1, y, 1, tcell.StyleDefault)
	return r.w - w - 1
}

// ink is the colour of a layer for text.
func ink(l picture.Layer) tcell.Style {
	c := l.Ink.Colour
	return tcell.StyleDefault.Foreground(tcell.NewRGBColor(int32(c.R), int32(c.G), int32(c.B)))
}

// hatch is a sample of how a layer is drawn.
func (p *pen) hatch(l picture.Layer) string {
	all := &hatches
	if p.ascii {
		all = &hatchesASCII
	}
	return strings.Repeat(string(all[max(0, l.Ink.Hatch)%len(all)]), 2)
}

// list writes the list beside the picture; top is the first row to be seen.
func (p *pen) list(r rect, l *desk.List, layers []picture.Layer, top int) {
	line := func(y int, s string, style tcell.Style) {
		n := p.put(r.x, y, r.w, s, style)
		p.blank(r.x+n, y, r.w-n, tcell.StyleDefault)
	}
	title := styles[desk.Strong]
	if l.Focus {
		title = title.Reverse(true)
	}
	line(r.y, l.Title, title)
	rows := p.listRows(r, l)
	for i := range rows {
		y := r.y + 1 + i
		if top+i >= len(l.Rows) {
			p.blank(r.x, y, r.w, tcell.StyleDefault)
			continue
		}
		p.row(rect{r.x, y, r.w, 1}, &l.Rows[top+i], layers, top+i == l.Selected, l.Focus)
	}
	hint := p.hint(r, l)
	for i, h := range hint {
		p.spans(r, r.y+r.h-len(hint)+i, h)
	}
}

// listRows is how many rows of a list are seen.
func (p *pen) listRows(r rect, l *desk.List) int { return max(0, r.h-1-len(p.hint(r, l))) }

// hint is what a list says below, on as many rows as it needs: three at most, and none where the list would be left without one.
func (p *pen) hint(r rect, l *desk.List) [][]desk.Span {
	if l.Hint == "" || r.h < 3 {
		return nil
	}
	rows := p.wrap([]desk.Span{{Text: l.Hint, Tone: desk.Quiet}}, r.w)
	return rows[:min(len(rows), 3, r.h-2)]
}

// row writes a row of a list.
func (p *pen) row(r rect, row *desk.Row, layers []picture.Layer, chosen, focus bool) {
	style, quiet := tcell.StyleDefault, styles[desk.Quiet]
	if chosen {
		style, quiet = style.Bold(true), quiet.Bold(true)
		if focus {
			style, quiet = style.Reverse(true), tcell.StyleDefault.Reverse(true)
		}
	}
	p.blank(r.x, r.y, r.w, style)
	full := r
	if row.Note != "" {
		if w := p.width(row.Note); w+1 <= r.w/2 || w+1+5+p.width(row.Text) <= r.w {
			p.put(r.x+r.w-w, r.y, w, row.Note, quiet)
			r.w -= w + 1
		}
	}
	at := 0
	mark := row.Mark
	if chosen && mark == "" && !focus {
		mark = "▸"
	}
	p.put(full.x, r.y, 1, mark, style)
	at = 2
	if row.Layer >= 0 && row.Layer < len(layers) && r.w > 6 {
		p.put(r.x+at, r.y, 2, p.hatch(layers[row.Layer]), ink(layers[row.Layer]))
		at += 3
	}
	if at < r.w {
		p.put(r.x+at, r.y, r.w-at, row.Text, style)
	}
}

// prompt writes the command line, and returns where its cursor is. The text moves so that the cursor is seen.
func (p *pen) prompt(r rect, q *desk.Prompt) (cursor int) {
	label := q.Label
	if label != ":" && label != "" {
		label += " "
	}
	at := p.put(r.x, r.y, r.w/2, label, styles[desk.Strong])
	room := r.w - at - 1
	cursor = max(0, min(len(q.Text), q.Cursor))
	first, before := p.fits(q.Text[:cursor], room)
	n := p.put(r.x+at, r.y, r.w-at, string(q.Text[first:]), tcell.StyleDefault)
	p.blank(r.x+at+n, r.y, r.w-at-n, tcell.StyleDefault)
	if gap := at + n + 3; q.Hint != "" && gap+8 <= r.w { // where the eyes are: the line above is far away
		p.put(r.x+gap, r.y, r.w-gap, q.Hint, styles[desk.Quiet])
	}
	return r.x + at + before
}

// fits is where the end of a text begins that takes room columns or fewer, and how many it takes.
func (p *pen) fits(text []rune, room int) (first, columns int) {
	columns = p.width(string(text))
	for columns > room && first < len(text) {
		cluster, _, _, _ := uniseg.FirstGraphemeClusterInString(string(text[first:min(first+mostCluster, len(text))]), -1)
		first += utf8.RuneCountInString(cluster)
		columns -= p.width(cluster)
	}
	return first, p.width(string(text[first:]))
}

// mostCluster is how many runes are looked at for what is seen as one letter; more are several.
const mostCluster = 32

// candidates writes what a command line can go on with, in one line, so that the chosen one is seen, with what is said of it.
func (p *pen) candidates(r rect, q *desk.Prompt) {
	chosen := q.Chosen
	note := ""
	if chosen >= 0 && chosen < len(q.Candidates) {
		note = q.Candidates[chosen].Note
	}
	left := p.right(r, r.y, note, styles[desk.Quiet])
	first, at := max(0, min(chosen, len(q.Candidates)-1)), 0
	for w := 0; ; first-- { // as many before the chosen one as have room
		if w += p.width(q.Candidates[first].Text) + 2; w > left && first < chosen {
			first++
			break
		}
		if first == 0 {
			break
		}
	}
	for i, c := range q.Candidates[first:] {
		style := tcell.StyleDefault
		if first+i == chosen {
			style = styles[desk.Marked]
		}
		if at >= left {
			break
		}
		at += p.put(r.x+at, r.y, left-at, c.Text, style)
		gap := min(2, left-at)
		p.blank(r.x+at, r.y, gap, tcell.StyleDefault)
		at += gap
	}
	p.blank(r.x+at, r.y, left-at, tcell.StyleDefault)
}

// pageLines is how many lines of a page are seen from its first one on; a line may take several rows.
func (p *pen) pageLines(r rect, t *desk.Text) int {
	room, n := max(1, r.h-2-len(t.Choose)), 0
	for _, l := range t.Lines[min(max(0, t.Top), len(t.Lines)):] {
		if room -= len(p.wrap(l, inside(r).w)); room < 0 {
			break
		}
		n++
	}
	return max(1, n)
}

// pageRows is how many rows a page would take; where it has no room in all that there is, some number larger than that.
func (p *pen) pageRows(r rect, t *desk.Text) int {
	n := len(t.Choose) + 2
	for _, l := range t.Lines {
		if n += len(p.wrap(l, inside(r).w)); n > r.h {
			break
		}
	}
	return n
}

// inside is what a page leaves for its lines.
func inside(r rect) rect { return rect{r.x + 1, r.y, max(0, r.w-2), r.h} }

// page writes a page over the picture: its title, its lines, the answers that can be chosen.
func (p *pen) page(r rect, t *desk.Text) {
	room := max(1, r.h-2-len(t.Choose))
	lines := p.pageLines(r, t)
	top := max(0, min(t.Top, len(t.Lines)-1))
	n := p.put(r.x, r.y, r.w, " "+t.Title+" ", styles[desk.Strong].Reverse(true))
	p.blank(r.x+n, r.y, r.w-n, tcell.StyleDefault.Reverse(true))
	if len(t.Lines) > lines {
		where := fmt.Sprintf(" lines %d to %d of %d ", top+1, min(top+lines, len(t.Lines)), len(t.Lines))
		if w := p.width(where); n+w < r.w {
			p.put(r.x+r.w-w, r.y, w, where, tcell.StyleDefault.Reverse(true))
		}
	}
	inner := inside(r)
	var rows [][]desk.Span
	for _, l := range t.Lines[min(top, len(t.Lines)):] {
		if rows = append(rows, p.wrap(l, inner.w)...); len(rows) >= room {
			break
		}
	}
	y := r.y + 1
	for i := 0; i < room && y < r.y+r.h; i++ {
		p.blank(r.x, y, r.w, tcell.StyleDefault)
		if i < len(rows) {
			p.spans(inner, y, rows[i])
		}
		y++
	}
	for i, c := range t.Choose {
		if y >= r.y+r.h {
			break
		}
		style, sign := tcell.StyleDefault, "  "
		if i == t.Chosen {
			style, sign = styles[desk.Marked], "▸ "
		}
		p.blank(r.x, y, r.w, tcell.StyleDefault)
		at := p.put(inner.x, y, inner.w, sign+c.Text, style)
		if c.Note != "" && at+2 < inner.w {
			p.put(inner.x+at+2, y, inner.w-at-2, c.Note, styles[desk.Quiet])
		}
		y++
	}
	if y < r.y+r.h {
		m := p.put(r.x, y, r.w, " "+t.Hint, styles[desk.Quiet])
		p.blank(r.x+m, y, r.w-m, tcell.StyleDefault)
		y++
	}
	for ; y < r.y+r.h; y++ {
		p.blank(r.x, y, r.w, tcell.StyleDefault)
	}
}
