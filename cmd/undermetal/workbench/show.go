package workbench

import (
	"fmt"
	"image"
	"strings"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/glyph"
)

// measure divides the screen, and tells the desk what became of it.
func (b *bench) measure() {
	columns, rows := b.screen.Size()
	list := b.desk.Side()
	b.areas = divide(columns, rows, list != nil, list != nil && list.Focus)
	if walk := b.desk.Walk(); walk != nil {
		b.areas.giveWalk(len(b.pen.wrap(walk, columns)))
	}
	m := b.base
	m.left, m.above = b.areas.picture.x, b.areas.picture.y
	m.columns, m.rows = b.areas.picture.w, b.areas.picture.h
	if c := b.cellSize(columns, rows); c != (image.Point{}) {
		m.cell = c
	}
	if m != b.manner {
		b.manner, b.placed = m, false
		if size, aspect := m.px(); size.X > 0 && size.Y > 0 {
			b.desk.Resize(size.X, size.Y, aspect, m.columns, m.rows)
		}
	}
	page := b.desk.Page()
	b.page = rect{}
	if page != nil {
		b.page = b.areas.picture
		if b.page.w == 0 {
			b.page = b.areas.side
		}
		if need := b.pen.pageRows(b.page, page); m.pixels == Glyphs && need < b.page.h { // real pixels are whole or not at all
			b.page.y += b.page.h - need
			b.page.h = need
		}
	}
	scroll := b.scroll
	if page != nil {
		scroll[0] = b.pen.pageLines(b.page, page)
	}
	if list != nil {
		scroll[1] = b.pen.listRows(b.areas.side, list)
	}
	if scroll != b.scroll {
		b.scroll = scroll
		b.desk.Scroll(scroll[0], scroll[1])
	}
}

// cellSize is how many px a cell has; 0 where the terminal does not say.
func (b *bench) cellSize(columns, rows int) image.Point {
	if b.tty == nil || columns < 1 || rows < 1 {
		return image.Point{}
	}
	ws, err := b.tty.WindowSize()
	if err != nil || ws.PixelWidth < ws.Width || ws.PixelHeight < ws.Height || ws.Width < 1 || ws.Height < 1 {
		return image.Point{}
	}
	return image.Pt(ws.PixelWidth/ws.Width, ws.PixelHeight/ws.Height)
}

// draw puts everything into the cells.
func (b *bench) draw() {
	a, list, page, prompt := &b.areas, b.desk.Side(), b.desk.Page(), b.desk.Prompt()
	b.screen.HideCursor()
	b.drawHead(prompt)
	if a.picture.w > 0 && (b.page.h < a.picture.h || page == nil) {
		b.drawPicture()
	}
	if list != nil && a.side.w > 0 {
		if a.picture.w > 0 {
			line := '│'
			if b.pen.ascii {
				line = '|'
			}
			for y := range a.side.h {
				b.screen.SetContent(a.side.x-1, a.side.y+y, line, nil, styles[desk.Quiet])
			}
		}
		seen := b.pen.listRows(a.side, list)
		b.top = max(0, min(b.top, len(list.Rows)-seen))
		if list.Selected >= 0 && seen > 0 {
			b.top = max(min(b.top, list.Selected), list.Selected-seen+1)
		}
		s := b.desk.Scene()
		b.pen.list(a.side, list, s.Layers, b.top)
	}
	if page != nil {
		b.pen.page(b.page, page)
		b.placed = false
	}
	if a.walk.h > 0 {
		for i, row := range b.pen.wrap(b.desk.Walk(), a.walk.w) {
			if i < a.walk.h {
				b.pen.spans(a.walk, a.walk.y+i, row)
			}
		}
	}
	b.drawFoot(prompt)
}

// drawHead writes the line above; what goes on in the background is at its right end. While a command is written, it shows how that
// may go on.
func (b *bench) drawHead(prompt *desk.Prompt) {
	r := b.areas.head
	if prompt != nil && len(prompt.Candidates) > 0 {
		b.pen.candidates(r, prompt)
		return
	}
	text, part := b.desk.Busy()
	if text != "" && part >= 0 {
		text = fmt.Sprintf("%s %.0f %%", text, 100*part)
	}
	left := b.pen.right(r, r.y, text, styles[desk.Caution])
	b.pen.spans(rect{r.x, r.y, left, 1}, r.y, b.desk.Head())
}

func (b *bench) drawFoot(prompt *desk.Prompt) {
	r := b.areas.foot
	switch {
	case r.h == 0:
	case prompt != nil:
		b.screen.ShowCursor(b.pen.prompt(r, prompt), r.y)
	case b.notice != "":
		b.pen.spans(r, r.y, []desk.Span{{Text: b.notice, Tone: desk.Caution}})
	case b.trouble != nil:
		text, _, _ := strings.Cut(b.trouble.Error(), "\n")
		left := b.pen.right(r, r.y, text, styles[desk.Failure])
		b.pen.spans(rect{r.x, r.y, left, 1}, r.y, b.desk.Foot())
	default:
		b.pen.spans(r, r.y, b.desk.Foot())
	}
}

// under is the part of the screen that is not tcell's: the picture, where it is written by ourselves. Real pixels are whole or not at all,
// glyphs give way to a page by the rows that it takes.
func (b *bench) under() rect {
	r := b.areas.picture
	switch {
	case b.manner.pixels == Glyphs && b.painter == nil:
		return rect{}
	case b.manner.pixels == Glyphs:
		r.h -= b.page.h
	case b.desk.Page() != nil:
		return rect{}
	}
	if r.w <= 0 || r.h <= 0 {
		return rect{}
	}
	return r
}

// drawPicture puts the latest picture into the cells, unless it is there; what is not tcell's is sent behind the text.
func (b *bench) drawPicture() {
	r := b.areas.picture
	d := b.latest
	if b.manner.pixels != Glyphs || b.painter != nil {
		if b.locked != b.under() || b.locked == (rect{}) {
			b.clear(r)
		}
		return
	}
	if b.placed {
		return
	}
	if d == nil || d.manner.pixels != Glyphs || d.grid.Columns == 0 {
		b.clear(r)
		return
	}
	g := &d.grid
	for y := range r.h {
		for x := range r.w {
			if x >= g.Columns || y >= g.Rows { // made for a smaller screen: the next one is on its way
				b.screen.SetContent(r.x+x, r.y+y, ' ', nil, tcell.StyleDefault)
				continue
			}
			c := g.At(x, y)
			b.screen.Put(r.x+x, r.y+y, string(c.Rune), cellStyle(c, &d.manner))
		}
	}
	for _, bar := range d.bars {
		if bar.y < r.h && bar.x+bar.w <= r.w {
			b.pen.put(r.x+bar.x, r.y+bar.y, r.w-bar.x, b.barText(bar), tcell.StyleDefault)
		}
	}
	b.placed = d.manner == b.manner
}

// barText is a scale bar with its length.
func (b *bench) barText(bar bar) string {
	left, line, right := "├", "─", "┤"
	if b.pen.ascii {
		left, line, right = "|", "-", "|"
	}
	return left + strings.Repeat(line, bar.w-2) + right + " " + bar.text + " "
}

func (b *bench) clear(r rect) {
	for y := range r.h {
		b.pen.blank(r.x, r.y+y, r.w, tcell.StyleDefault)
	}
}

// cellStyle is how a cell of a picture is written.
func cellStyle(c *glyph.Cell, m *manner) tcell.Style {
	switch {
	case m.style.ASCII || m.style.Colours == glyph.Mono:
		return tcell.StyleDefault
	case m.style.Colours == glyph.Indexed:
		return tcell.StyleDefault.Foreground(tcell.PaletteColor(int(c.FGIndex))).Background(tcell.PaletteColor(int(c.BGIndex)))
	}
	return tcell.StyleDefault.Foreground(tcell.NewRGBColor(int32(c.FG[0]), int32(c.FG[1]), int32(c.FG[2]))).
		Background(tcell.NewRGBColor(int32(c.BG[0]), int32(c.BG[1]), int32(c.BG[2])))
}

// send has the terminal show the cells, and what is not tcell's beside them.
func (b *bench) send() {
	want := b.under()
	painting := b.manner.pixels == Glyphs
	if b.locked != (rect{}) && (b.locked != want || b.wiped) {
		b.screen.LockRegion(b.locked.x, b.locked.y, b.locked.w, b.locked.h, false)
		b.write([]byte(erasePixels(b.manner.pixels)))
		b.locked, b.placed = rect{}, false
	}
	if painting { // what stays a part of the picture is not to be blank in between
		b.lock(want)
	}
	if b.wiped {
		b.screen.Sync()
		b.wiped = false
		if b.painter != nil {
			b.painter.keep(rect{})
		}
	} else {
		b.screen.Show()
	}
	if b.painter != nil { // what others wrote is not known, also where no picture is seen at all
		b.painter.resize(b.screen.Size())
		b.painter.keep(want)
	}
	if want == (rect{}) || b.placed || b.latest == nil {
		return
	}
	if painting {
		b.paint(want)
		b.placed = b.latest.manner == b.manner
	} else if b.latest.manner == b.manner {
		b.lock(want)
		b.write(b.latest.bytes.Bytes())
		b.placed = true
	}
}

// lock takes cells from tcell, unless they are taken.
func (b *bench) lock(r rect) {
	if b.locked != (rect{}) || r == (rect{}) {
		return
	}
	b.screen.LockRegion(r.x, r.y, r.w, r.h, true)
	b.locked = r
}

// paint writes the latest picture, as far as it is seen, to the terminal. Where it was made for a smaller screen, the next one is on its way.
func (b *bench) paint(r rect) {
	p, d := b.painter, b.latest
	p.lay(&d.grid, d.manner.style, r.w, r.h)
	for _, bar := range d.bars {
		if bar.y < r.h && bar.x+bar.w <= r.w {
			p.letter(bar.x, bar.y, r.w, b.pen.text(b.barText(bar)))
		}
	}
	b.write(p.paint(r, b.desk.Prompt() != nil))
}

// write sends bytes of our own to the terminal.
func (b *bench) write(p []byte) {
	if b.tty != nil && len(p) > 0 {
		b.tty.Write(p)
	}
}
