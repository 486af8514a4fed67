package workbench

import (
	"strings"
	"testing"

	"undermetal/cmd/undermetal/workbench/desk"
)

// TestWrap: nothing of a line is lost, no row is too wide, and words are whole where they have room.
func TestWrap(t *testing.T) {
	p := &pen{}
	line := []desk.Span{{Text: "  • 0.016 µm, 0.032 times the side of a contact: ", Tone: desk.Strong}, {Text: "the gap is a tenth of the layer's usual spacing", Tone: desk.Plain}, {Text: "  日本語のラベル/" + strings.Repeat("path/", 12), Tone: desk.Quiet}}
	flat := func(rows [][]desk.Span) string {
		var s strings.Builder
		for _, r := range rows {
			for _, x := range r {
				s.WriteString(x.Text)
			}
		}
		return strings.Join(strings.Fields(s.String()), "")
	}
	want := strings.Join(strings.Fields(flat([][]desk.Span{line})), "")
	for w := 1; w < 220; w++ {
		rows := p.wrap(line, w)
		if got := flat(rows); got != want {
			t.Fatalf("%d columns: %q, want %q", w, got, want)
		}
		for _, r := range rows {
			n, text := 0, ""
			for _, x := range r {
				n += p.width(x.Text)
				text += x.Text
			}
			if n > max(w, 2) {
				t.Errorf("%d columns: a row of %d: %q", w, n, text)
			}
			if w > 40 && strings.HasSuffix(text, "spac") {
				t.Errorf("%d columns: a word is broken: %q", w, text)
			}
		}
	}
	if rows := p.wrap(nil, 20); len(rows) != 1 {
		t.Errorf("an empty line takes %d rows", len(rows))
	}
}

// TestPageWraps: on a narrow screen a page shows all of its lines, by scrolling down to the last, and passes over none.
func TestPageWraps(t *testing.T) {
	f := newFake()
	page := &desk.Text{Title: "question", Hint: "Esc closes"}
	for _, n := range []string{"one", "two", "three", "four", "five", "six", "seven", "eight"} {
		page.Lines = append(page.Lines, []desk.Span{{Text: "line " + n + " says so much that a row has no room for what comes last: end-of-" + n}})
	}
	f.page = page
	b, s := benchOn(t, f, 60, 12, 2)
	seen := ""
	for page.Top < len(page.Lines) {
		settle(t, b)
		b.measure()
		b.draw()
		s.Show()
		seen += text(s)
		page.Top += b.pen.pageLines(b.page, page)
	}
	for _, l := range page.Lines {
		_, word, _ := strings.Cut(l[0].Text, "last: ")
		if !strings.Contains(seen, word) {
			t.Errorf("%q is not seen on\n%s", word, seen)
		}
	}
}

// TestListHintWraps: what the keys do in a list is seen whole beside a picture of 80 columns, and covers no row of the list.
func TestListHintWraps(t *testing.T) {
	f := newFake()
	f.side = layersList()
	f.side.Hint = "Enter draws on it, h hides, k locks, o alone"
	b, s := benchOn(t, f, 80, 12, 2)
	settle(t, b)
	got := text(s)
	for _, w := range strings.Fields(f.side.Hint + " diffusion poly metal1") {
		if !strings.Contains(got, w) {
			t.Errorf("%q is not seen on\n%s", w, got)
		}
	}
	for h := range 5 {
		for w := range 40 {
			r := rect{0, 0, w, h}
			if n := 1 + b.pen.listRows(r, f.side) + len(b.pen.hint(r, f.side)); h > 0 && n > h {
				t.Errorf("%d × %d: %d rows", w, h, n)
			}
		}
	}
}
