package workbench

import (
	"strings"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2/terminfo"
	"github.com/rivo/uniseg"

	"undermetal/cmd/undermetal/workbench/glyph"
)

// brick is what a cell of the screen shows. Colours are 24 bits, red highest, or numbers of the palette; own is the terminal's.
type brick struct {
	r      rune // 0: nobody knows
	fg, bg int32
}

const own = -1

// painter writes pictures of block characters to a terminal: only the cells that are not as they should be, and of their colours
// only those that change from one to the next. tcell formats every colour by terminfo, which takes longer than all else. It knows what
// is on the screen as long as nobody else writes there: the cells are locked for tcell.
type painter struct {
	indexed bool // colours are numbers
	marks   bool // the terminal knows where a frame begins and ends

	columns, rows int
	shown         []brick // of all the screen
	want          []brick // of a part of it
	out           []byte
}

// paintable reports whether a terminal, by its terminfo, understands what a painter writes, and whether it knows frames. Those that
// move the cursor by ECMA-48 take its colours, too (SGR 38 and 48: ISO 8613-6; common practice where colours are said to be there). A
// block must be one column wide.
func paintable(name string) (ok, marks bool) {
	ti, err := terminfo.LookupTerminfo(name)
	if err != nil {
		return false, false // tcell has asked elsewhere
	}
	return ti.SetCursor == "\x1b[%i%p1%d;%p2%dH" && uniseg.StringWidth("▀") == 1, ti.XTermLike || strings.HasPrefix(name, "xterm") // as tcell sees it
}

// resize says how large the screen is; of another size nothing is known.
func (p *painter) resize(columns, rows int) {
	if p.columns != columns || p.rows != rows {
		p.columns, p.rows = columns, rows
		p.shown = make([]brick, columns*rows)
	}
}

// keep forgets what is shown beside a part of the screen.
func (p *painter) keep(r rect) {
	for y := range p.rows {
		row := p.shown[y*p.columns : (y+1)*p.columns]
		if y < r.y || y >= r.y+r.h {
			clear(row)
			continue
		}
		clear(row[:max(0, min(r.x, len(row)))])
		clear(row[max(0, min(r.x+r.w, len(row))):])
	}
}

// lay makes a picture that begins at the upper left of a part of the screen what that is to show. Where the picture has no cells, nothing
// is shown.
func (p *painter) lay(g *glyph.Grid, s glyph.Style, w, h int) {
	if cap(p.want) < w*h {
		p.want = make([]brick, w*h)
	}
	p.want = p.want[:w*h]
	p.indexed = s.Colours == glyph.Indexed
	mono := s.ASCII || s.Colours == glyph.Mono
	for y := range h {
		row := p.want[y*w : (y+1)*w]
		n := 0
		if y < g.Rows {
			n = min(w, g.Columns)
			cells := g.Cells[y*g.Columns:][:n]
			for x := range cells {
				c := &cells[x]
				switch {
				case mono:
					row[x] = brick{c.Rune, own, own}
				case p.indexed:
					row[x] = brick{c.Rune, int32(c.FGIndex), int32(c.BGIndex)}
				default:
					row[x] = brick{c.Rune, packed(c.FG), packed(c.BG)}
				}
				if c.Rune == ' ' {
					row[x].fg = row[x].bg // it is not seen
				}
			}
		}
		for x := n; x < w; x++ {
			row[x] = brick{' ', own, own}
		}
	}
}

func packed(c glyph.RGB) int32 { return int32(c[0])<<16 | int32(c[1])<<8 | int32(c[2]) }

// letter writes a text over the picture, w columns wide, from a place of it on; every rune of it is one column wide.
func (p *painter) letter(x, y, w int, s string) {
	for _, r := range s {
		p.want[y*w+x] = brick{r, own, own}
		if x++; x == w {
			return
		}
	}
}

// paint returns what a part of the screen has to be sent to show what it should; nothing where it does. What is returned counts as sent. The
// cursor stays, and is seen afterwards if it is to be.
func (p *painter) paint(r rect, cursor bool) []byte {
	p.out = p.out[:0]
	fg, bg := int32(own), int32(own)
	atX, atY := -1, -1
	for y := r.y; y < min(r.y+r.h, p.rows); y++ {
		want := p.want[(y-r.y)*r.w:][:r.w]
		shown := p.shown[y*p.columns:][:p.columns]
		for i := range want[:max(0, min(r.w, p.columns-r.x))] {
			x, b := r.x+i, want[i]
			if shown[x] == b {
				continue
			}
			shown[x] = b
			if len(p.out) == 0 {
				p.begin(cursor)
			}
			switch {
			case atY != y:
				p.code("\x1b[", y+1)
				p.code(";", x+1)
				p.out = append(p.out, 'H')
			case atX != x:
				p.code("\x1b[", x-atX)
				p.out = append(p.out, 'C')
			}
			if b.r == ' ' {
				b.fg = fg
			}
			if b.fg != fg || b.bg != bg {
				p.out = append(p.out, "\x1b["...)
				if b.fg != fg {
					p.colour('3', b.fg)
				}
				if b.bg != bg {
					if b.fg != fg {
						p.out = append(p.out, ';')
					}
					p.colour('4', b.bg)
				}
				p.out = append(p.out, 'm')
				fg, bg = b.fg, b.bg
			}
			p.out = utf8.AppendRune(p.out, b.r)
			atX, atY = x+1, y
		}
	}
	if len(p.out) > 0 {
		p.end(cursor)
	}
	return p.out
}

// begin starts a frame (mode 2026, as tcell does) and keeps the cursor out of sight.
func (p *painter) begin(cursor bool) {
	if p.marks {
		p.out = append(p.out, "\x1b[?2026h"...)
	}
	p.out = append(p.out, keepCursor...)
	if cursor {
		p.out = append(p.out, "\x1b[?25l"...)
	}
	p.out = append(p.out, "\x1b[m"...)
}

func (p *painter) end(cursor bool) {
	p.out = append(p.out, "\x1b[m"+bringCursor...)
	if cursor {
		p.out = append(p.out, "\x1b[?25h"...)
	}
	if p.marks {
		p.out = append(p.out, "\x1b[?2026l"...)
	}
}

// colour adds the parameters of a colour; ground is '3' for the foreground, '4' for the background.
func (p *painter) colour(ground byte, c int32) {
	p.out = append(p.out, ground)
	switch {
	case c == own:
		p.out = append(p.out, '9')
	case p.indexed:
		p.code("8;5;", int(c))
	default:
		p.code("8;2;", int(c>>16))
		p.code(";", int(c>>8&255))
		p.code(";", int(c&255))
	}
}

// code adds a text and a number.
func (p *painter) code(before string, n int) {
	p.out = append(p.out, before...)
	if n < len(digits) {
		p.out = append(p.out, digits[n]...)
		return
	}
	p.out = append(p.out, digits[n/1000]...) // of screens with more columns than that
	p.out = append(p.out, byte('0'+n/100%10), byte('0'+n/10%10), byte('0'+n%10))
}

// digits are the numbers up to 999, which strconv would take apart each time.
var digits = func() (all [1000]string) {
	for n := range all {
		s := ""
		for k := n; k > 0 || s == ""; k /= 10 {
			s = string(rune('0'+k%10)) + s
		}
		all[n] = s
	}
	return all
}()
