//go:build unix

package workbench

import (
	"fmt"
	"image"
	"image/color"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/cmd/undermetal/workbench/picture"
)

// unlike says how a cell of an emulated terminal differs from one of a picture; empty: not to the eye.
func unlike(e *vt.Emulator, x, y int, want glyph.Cell, s glyph.Style) string {
	got := e.CellAt(x, y)
	ground := func(c glyph.RGB, index uint8) color.Color {
		switch {
		case s.ASCII || s.Colours == glyph.Mono:
			return nil
		case s.Colours == glyph.Indexed:
			return ansi.IndexedColor(index)
		}
		return color.RGBA{c[0], c[1], c[2], 255}
	}
	same := func(a, b color.Color) bool {
		if a == nil || b == nil {
			return a == nil && b == nil
		}
		p, pIndexed := a.(ansi.IndexedColor)
		q, qIndexed := b.(ansi.IndexedColor)
		if pIndexed || qIndexed {
			return pIndexed && qIndexed && p == q
		}
		return color.RGBAModel.Convert(a) == color.RGBAModel.Convert(b)
	}
	fg, bg := ground(want.FG, want.FGIndex), ground(want.BG, want.BGIndex)
	if got.Content != string(want.Rune) || want.Rune != ' ' && !same(got.Style.Fg, fg) || !same(got.Style.Bg, bg) || got.Style.Attrs != 0 || got.Style.Underline != 0 {
		return fmt.Sprintf("cell %d, %d is %q in %v on %v, attributes %d, want %q in %v on %v", x, y, got.Content, got.Style.Fg, got.Style.Bg, got.Style.Attrs, want.Rune, fg, bg)
	}
	return ""
}

// TestPaint: whatever was shown before, and whoever wrote beside the picture, an emulated terminal shows every cell of it after what
// is sent; the cursor is where it was; what is shown already is not sent again.
func TestPaint(t *testing.T) {
	const columns, rows = 37, 11
	for seed, s := range []glyph.Style{{}, {Blocks: glyph.Sextants}, {Colours: glyph.Indexed}, {Colours: glyph.Mono}, {ASCII: true}} {
		rnd := rand.New(rand.NewPCG(7, uint64(seed)))
		e := vt.NewEmulator(columns, rows)
		go io.Copy(io.Discard, e)
		t.Cleanup(func() { e.InputPipe().(io.Closer).Close() })
		p := &painter{marks: seed%2 == 0}
		p.resize(columns, rows)
		var g glyph.Grid
		for range 300 {
			// Another picture: anew, or some px of it, often of few colours, so that neighbours have some in common.
			w, h := s.Size()
			if img := image.NewRGBA(image.Rect(0, 0, (1+rnd.IntN(columns))*w, (1+rnd.IntN(rows))*h)); g.Columns == 0 || rnd.IntN(4) == 0 {
				few := 1 + rnd.IntN(255)
				for i := range img.Pix {
					img.Pix[i] = byte(rnd.Uint32()) / byte(few) * byte(few)
				}
				g.Fit(img, s)
			} else {
				for range rnd.IntN(9) {
					*g.At(rnd.IntN(g.Columns), rnd.IntN(g.Rows)) = *g.At(rnd.IntN(g.Columns), rnd.IntN(g.Rows))
				}
			}
			r := rect{x: rnd.IntN(columns), y: rnd.IntN(rows)}
			r.w, r.h = 1+rnd.IntN(columns-r.x), 1+rnd.IntN(rows-r.y)
			if rnd.IntN(2) == 0 {
				r = rect{0, 1, columns, rows - 2}
			}
			for y := range rows { // others write beside it
				for x := range columns {
					if !r.holds(x, y) && rnd.IntN(3) == 0 {
						fmt.Fprintf(e, "\x1b[%d;%dH\x1b[1;4;31mz\x1b[m", y+1, x+1)
					}
				}
			}
			if rnd.IntN(5) == 0 { // or wipe all
				io.WriteString(e, "\x1b[2J")
				p.keep(rect{})
			}
			seen := rnd.IntN(2) == 0
			at := image.Pt(rnd.IntN(columns), rnd.IntN(rows))
			fmt.Fprintf(e, "\x1b[%d;%dH\x1b[?25%c", at.Y+1, at.X+1, map[bool]byte{true: 'h', false: 'l'}[seen])
			p.keep(r)
			p.lay(&g, s, r.w, r.h)
			letters := ""
			if rnd.IntN(2) == 0 {
				letters = "├──┤ 10 µm "
				p.letter(0, 0, r.w, letters)
			}
			e.Write(p.paint(r, seen))
			for y := range r.h {
				for x := range r.w {
					want, style := glyph.Cell{Rune: ' '}, glyph.Style{Colours: glyph.Mono}
					if k := []rune(letters); y == 0 && x < len(k) {
						want.Rune = k[x]
					} else if x < g.Columns && y < g.Rows {
						want, style = *g.At(x, y), s
					}
					if d := unlike(e, r.x+x, r.y+y, want, style); d != "" {
						t.Fatalf("%+v, %v: %s", s, r, d)
					}
				}
			}
			if c := e.CursorPosition(); c.X != at.X || c.Y != at.Y || e.CursorHidden() == seen {
				t.Fatalf("the cursor is at %v, hidden %v, was at %v", c, e.CursorHidden(), at)
			}
			if again := p.paint(r, seen); len(again) > 0 {
				t.Fatalf("%q is sent for nothing", again)
			}
		}
	}
}

// TestNumbers: all that a screen or a colour may have.
func TestNumbers(t *testing.T) {
	for _, n := range []int{0, 1, 9, 10, 99, 100, 255, 256, 999, 1000, 1005, 2048, 12345} {
		p := &painter{}
		if p.code("", n); string(p.out) != fmt.Sprint(n) {
			t.Errorf("%d is written as %s", n, p.out)
		}
	}
}

// TestPaintable: terminals of which tcell's own table knows that they do not move the cursor by ECMA-48 alone are tcell's.
func TestPaintable(t *testing.T) {
	for name, want := range map[string][2]bool{"xterm-256color": {true, true}, "tmux-256color": {true, true}, "linux": {true, false}, "vt100": {false, false}, "nobody-knows": {false, false}} {
		if ok, marks := paintable(name); ok != want[0] || ok && marks != want[1] {
			t.Errorf("%s: %v, %v", name, ok, marks)
		}
	}
}

// isShown waits until a terminal shows the fake's picture, moved by so many px, in a part of its screen, cell for cell.
func (u *terminalUnder) isShown(r rect, width, height int, dx float64) {
	u.t.Helper()
	c := picture.New(picture.Options{})
	defer c.Close()
	f := newFake()
	f.Resize(2*width, 2*height, 2, 0, 0)
	s := f.Scene()
	s.View = s.View.Pan(dx, 0)
	img := image.NewRGBA(image.Rect(0, 0, 2*width, 2*height))
	if _, err := c.Draw(u.t.Context(), &s, img); err != nil {
		u.t.Fatal(err)
	}
	var g glyph.Grid
	g.Fit(img, glyph.Style{})
	why := ""
	defer func() {
		if u.t.Failed() {
			u.t.Log(why)
		}
	}()
	u.until("the picture", func() bool {
		u.mu.Lock()
		defer u.mu.Unlock()
		why = ""
		for y := range r.h {
			for x := range r.w {
				if d := unlike(u.vt, r.x+x, r.y+y, *g.At(x, y), glyph.Style{}); d != "" && why == "" {
					why = d
				}
			}
		}
		return why == ""
	})
}

// TestGlyphs: a terminal shows the picture whatever came over it: pages, lists, another size, and a terminal that was wiped.
func TestGlyphs(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	all := rect{0, 1, 80, 22}
	u.shows("picture 160 x 44")
	u.isShown(all, 80, 22, 0)
	u.types("m")
	u.isShown(all, 80, 22, 20)
	u.types("p")
	u.shows("with a line")
	u.isShown(rect{0, 1, 80, 19}, 80, 22, 20) // above the page
	u.types("m")
	u.isShown(rect{0, 1, 80, 19}, 80, 22, 40)
	u.types("c")
	u.isShown(all, 80, 22, 40)
	u.types("P")
	u.shows("a long page")
	u.types("c")
	u.isShown(all, 80, 22, 40)
	u.types("l") // a list beside it
	u.shows("diffusion")
	u.isShown(rect{0, 1, 53, 22}, 53, 22, 40)
	u.types("l")
	u.isShown(all, 80, 22, 40)
	u.mu.Lock()
	io.WriteString(u.vt, "\x1b[2J")
	u.mu.Unlock()
	u.types("\x0c")
	u.isShown(all, 80, 22, 40)
	for _, size := range [][2]int{{100, 30}, {60, 18}, {80, 24}} {
		u.mu.Lock()
		u.vt.Resize(size[0], size[1])
		u.mu.Unlock()
		if err := pty.Setsize(u.f, &pty.Winsize{Cols: uint16(size[0]), Rows: uint16(size[1]), X: uint16(10 * size[0]), Y: uint16(20 * size[1])}); err != nil {
			t.Fatal(err)
		}
		u.shows(fmt.Sprintf("picture %d x %d", 2*size[0], 2*size[1]-4))
		u.isShown(rect{0, 1, size[0], size[1] - 2}, size[0], size[1]-2, 40)
		if s := u.screen(); !strings.Contains(s, "kiln.dossier") {
			t.Errorf("no head:\n%s", s)
		}
		if size[0] < narrow { // the list lies over all of it
			u.types("L")
			u.shows("diffusion")
			u.types("l")
			u.isShown(rect{0, 1, size[0], size[1] - 2}, size[0], size[1]-2, 40)
		}
	}
	u.types("q")
	if status := u.ends(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	u.right()
}

// TestBarPainted: the scale bar lies over the picture in the terminal's own colours, by both ways.
func TestBarPainted(t *testing.T) {
	f := newFake()
	f.scene.Bar = true
	b, s := benchOn(t, f, 80, 24, 1<<24)
	settle(t, b)
	by := ""
	for _, line := range strings.Split(text(s), "\n") {
		if i := strings.Index(line, "├"); i >= 0 {
			by = strings.TrimRight(line[i:i+strings.Index(line[i:], "m")+1], " ")
		}
	}
	if by == "" {
		t.Fatalf("no bar is shown:\n%s", text(s))
	}
	u := underTest(t, 80, 24, answersPlain, "WORKBENCH_BAR=1")
	u.shows(by)
	u.types("q")
	u.ends()
}
