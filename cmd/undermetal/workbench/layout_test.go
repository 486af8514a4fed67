package workbench

import (
	"fmt"
	"image"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
)

// TestSnapshots: what is where, in terminals of several sizes. Looked at by a person when they were written.
func TestSnapshots(t *testing.T) {
	page := &desk.Text{Title: "keys", Hint: "Esc closes"}
	for i := range 30 {
		page.Lines = append(page.Lines, []desk.Span{{Text: fmt.Sprintf("key %d", i), Tone: desk.Strong}, {Text: "  does something", Tone: desk.Plain}})
	}
	answer := &desk.Text{Title: "transistor or capacitor?", Lines: [][]desk.Span{{{Text: "source and drain are one net"}}}, Choose: []desk.Candidate{{Text: "capacitor", Note: "87 %"}, {Text: "transistor", Note: "13 %"}}, Hint: "Enter answers"}
	for _, tc := range []struct {
		name          string
		columns, rows int
		set           func(*fake)
	}{
		{"plain-80x24", 80, 24, func(*fake) {}},
		{"bar-80x24", 80, 24, func(f *fake) { f.scene.Bar = true }}, // 200 nm a px, one px a column: 10 µm are 50 columns
		{"list-100x20", 100, 20, func(f *fake) { f.side = layersList() }},
		{"list-focus-100x20", 100, 20, func(f *fake) { f.side = layersList(); f.side.Focus = true }},
		{"list-40x12", 40, 12, func(f *fake) { f.side = layersList() }},
		{"list-focus-40x12", 40, 12, func(f *fake) { f.side = layersList(); f.side.Focus = true }},
		{"prompt-80x24", 80, 12, func(f *fake) {
			f.prompt = &desk.Prompt{Label: ":", Text: []rune("trace "), Cursor: 6, Chosen: 1, Candidates: []desk.Candidate{{Text: "label", Note: "name nets"}, {Text: "heal", Note: "close gaps"}, {Text: "check"}}}
		}},
		{"prompt-hint-60x8", 60, 8, func(f *fake) {
			f.prompt = &desk.Prompt{Label: ":", Text: []rune("calibrate "), Cursor: 10, Chosen: -1, Hint: "NM SIGMA  how wide a pixel of the first photograph is, in nm"}
		}},
		{"page-60x12", 60, 12, func(f *fake) { f.page = page; page.Top = 3 }},
		{"answer-60x12", 60, 12, func(f *fake) { f.page = answer }},
		{"busy-60x8", 60, 8, func(f *fake) { f.busy, f.part = "reading the circuit", 0.42 }},
		{"hostile-60x8", 60, 8, func(f *fake) {
			f.head = []desk.Span{{Text: "a\x1b[31mb\u202ec\x07d.dossier"}}
			f.foot = []desk.Span{{Text: "日本語のラベル " + strings.Repeat("long ", 20)}}
		}},
		{"tiny-10x3", 10, 3, func(f *fake) { f.side = layersList() }},
		{"one-row", 20, 1, func(f *fake) {}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := newFake()
			tc.set(f)
			b, s := benchOn(t, f, tc.columns, tc.rows, 2)
			settle(t, b)
			got := text(s)
			if strings.ContainsAny(got, "\x1b\x07\u202e") {
				t.Error("control characters reach the terminal")
			}
			if x, y, seen := s.GetCursor(); seen {
				got += fmt.Sprintf("cursor at %d, %d\n", x, y)
			}
			snapshot(t, tc.name, got)
		})
	}
}

// TestDivide: no two parts of a screen share a cell, and none reaches beyond it.
func TestDivide(t *testing.T) {
	for columns := range 130 {
		for rows := range 30 {
			for list := range 3 {
				a := divide(columns, rows, list > 0, list > 1)
				seen := map[image.Point]string{}
				for name, r := range map[string]rect{"head": a.head, "picture": a.picture, "side": a.side, "foot": a.foot} {
					for y := r.y; y < r.y+r.h; y++ {
						for x := r.x; x < r.x+r.w; x++ {
							if x >= columns || y >= rows || x < 0 || y < 0 {
								t.Fatalf("%d × %d: %s has %d, %d", columns, rows, name, x, y)
							}
							if other := seen[image.Pt(x, y)]; other != "" {
								t.Fatalf("%d × %d: %d, %d is of %s and %s", columns, rows, x, y, name, other)
							}
							seen[image.Pt(x, y)] = name
						}
					}
				}
				if columns >= narrow && rows > 2 && list > 0 && (a.side.w < leastSide || a.picture.w < columns/2) {
					t.Fatalf("%d × %d: list %v, picture %v", columns, rows, a.side, a.picture)
				}
			}
		}
	}
}

// TestResize: from large to 40 × 12 and back, the desk hears of every size, and the screen is what it was.
func TestResize(t *testing.T) {
	f := newFake()
	f.side = layersList()
	b, s := benchOn(t, f, 120, 40, 2)
	settle(t, b)
	before := text(s)
	s.SetSize(40, 12)
	b.event(tcell.NewEventResize(40, 12))
	settle(t, b)
	if f.cells != image.Pt(40, 10) || f.size != image.Pt(40, 20) {
		t.Errorf("the desk was told %v px, %v cells", f.size, f.cells)
	}
	s.SetSize(120, 40)
	b.event(tcell.NewEventResize(120, 40))
	settle(t, b)
	if got := text(s); got != before {
		t.Errorf("after coming back:\n%s\nbefore:\n%s", got, before)
	}
}

// TestKeys: keys of tcell as the desk wants them.
func TestKeys(t *testing.T) {
	for _, tc := range []struct {
		ev   *tcell.EventKey
		want string
	}{
		{tcell.NewEventKey(tcell.KeyRune, 'r', 0), "r"},
		{tcell.NewEventKey(tcell.KeyRune, 'R', tcell.ModShift), "R"},
		{tcell.NewEventKey(tcell.KeyRune, 'µ', 0), "µ"},
		{tcell.NewEventKey(tcell.KeyRune, ' ', 0), "Space"},
		{tcell.NewEventKey(tcell.KeyCtrlZ, 0, tcell.ModCtrl), "Ctrl+z"},
		{tcell.NewEventKey(tcell.KeyRune, 'z', tcell.ModCtrl), "Ctrl+z"},
		{tcell.NewEventKey(tcell.KeyRune, 'x', tcell.ModAlt), "Alt+x"},
		{tcell.NewEventKey(tcell.KeyEnter, 0, 0), "Enter"},
		{tcell.NewEventKey(tcell.KeyEscape, 0, 0), "Esc"},
		{tcell.NewEventKey(tcell.KeyTab, 0, 0), "Tab"},
		{tcell.NewEventKey(tcell.KeyBacktab, 0, 0), "Shift+Tab"},
		{tcell.NewEventKey(tcell.KeyBackspace2, 0, 0), "Backspace"},
		{tcell.NewEventKey(tcell.KeyLeft, 0, tcell.ModShift), "Shift+Left"},
		{tcell.NewEventKey(tcell.KeyUp, 0, tcell.ModCtrl), "Ctrl+Up"},
		{tcell.NewEventKey(tcell.KeyF12, 0, 0), "F12"},
		{tcell.NewEventKey(tcell.KeyPgDn, 0, 0), "PgDn"},
	} {
		if k, ok := keyOf(tc.ev); !ok || k.String() != tc.want {
			t.Errorf("%v: %v, %v, want %s", tc.ev.Name(), k, ok, tc.want)
		}
	}
	if k, ok := keyOf(tcell.NewEventKey(tcell.KeyF40, 0, 0)); ok {
		t.Errorf("F40 is %v", k)
	}
}

// TestMouse: what is pressed, dragged and let go, with its place in px: the middle of a cell of two by two.
func TestMouse(t *testing.T) {
	f := newFake()
	f.side = layersList()
	b, _ := benchOn(t, f, 100, 20, 1<<24)
	settle(t, b)
	send := func(x, y int, buttons tcell.ButtonMask, mod tcell.ModMask) {
		b.event(tcell.NewEventMouse(x, y, buttons, mod))
	}
	send(4, 3, tcell.ButtonNone, 0)
	send(5, 3, tcell.Button1, tcell.ModShift)
	send(8, 6, tcell.Button1, 0)
	send(90, 6, tcell.Button1, 0) // over the list: it is still the picture's
	send(8, 7, tcell.ButtonNone, 0)
	send(8, 7, tcell.WheelUp, tcell.ModCtrl)
	send(8, 7, tcell.WheelDown, 0)
	send(8, 7, tcell.Button2, 0)
	send(8, 7, tcell.ButtonNone, 0)
	send(8, 0, tcell.Button1, 0) // the head
	send(8, 0, tcell.ButtonNone, 0)
	want := []desk.Mouse{
		{X: 9, Y: 5, Kind: desk.Move},
		{X: 11, Y: 5, Kind: desk.Press, Button: desk.Left, Shift: true},
		{X: 17, Y: 11, Kind: desk.Drag, Button: desk.Left},
		{X: 181, Y: 11, Kind: desk.Drag, Button: desk.Left},
		{X: 17, Y: 13, Kind: desk.Release, Button: desk.Left},
		{X: 17, Y: 13, Kind: desk.Wheel, Steps: 1, Ctrl: true},
		{X: 17, Y: 13, Kind: desk.Wheel, Steps: -1},
		{X: 17, Y: 13, Kind: desk.Press, Button: desk.Right},
		{X: 17, Y: 13, Kind: desk.Release, Button: desk.Right},
	}
	for i := range max(len(want), len(f.mice)) {
		if i >= len(want) || i >= len(f.mice) || f.mice[i] != want[i] {
			t.Fatalf("mouse %d: %+v\nwant %+v", i, f.mice, want)
		}
	}
	send(80, 3, tcell.Button1, 0)
	send(80, 3, tcell.ButtonNone, 0)
	send(80, 9, tcell.Button1, 0) // below the last row
	send(80, 9, tcell.ButtonNone, 0)
	if len(f.clicks) != 1 || f.clicks[0] != 1 || len(f.mice) != len(want) {
		t.Errorf("clicks on rows %v, want the one on row 1", f.clicks)
	}
}

// TestNothingChanged: an event that changes nothing has no picture drawn, and a still screen draws nothing at all.
func TestNothingChanged(t *testing.T) {
	f := newFake()
	b, _ := benchOn(t, f, 80, 24, 1<<24)
	var asks atomic.Int64
	b.renderer.hook = func(string) { asks.Add(1) }
	settle(t, b)
	events := make(chan tcell.Event)
	go func() {
		for range 50 {
			events <- tcell.NewEventMouse(3, 3, 0, 0)
		}
		time.Sleep(20 * frameTime) // in which nothing happens
		events <- tcell.NewEventKey(tcell.KeyRune, 'q', 0)
	}()
	before, shown := asks.Load(), b.shows
	if err := b.loop(t.Context(), events); err != nil {
		t.Fatal(err)
	}
	if asks.Load() != before || b.shows-shown > 52 || b.shows == shown {
		t.Errorf("%d pictures, %d screens for 50 moves", asks.Load()-before, b.shows-shown)
	}
}

// TestWalkRow: what the walk says has rows of its own above the foot, as long as there is something to say, and takes them from the picture.
func TestWalkRow(t *testing.T) {
	f := newFake()
	b, screen := benchOn(t, f, 80, 24, 1<<24)
	rows := func() []string { settle(t, b); return strings.Split(text(screen), "\n") }
	rows()
	full := f.size.Y
	f.walk = []desk.Span{{Text: "walk 3 of 9"}}
	b.desk.Key(desk.Key{Rune: 'x'})
	if got := rows(); !strings.HasPrefix(got[22], "walk 3 of 9") || f.size.Y >= full {
		t.Errorf("a picture %d px high, %d before, and above the foot %q", f.size.Y, full, got[22])
	}
	f.walk = []desk.Span{{Text: "walk 3 of 9: " + strings.Repeat("word ", 20)}, {Text: "at last"}}
	if got := rows(); !strings.HasPrefix(got[21], "walk 3 of 9: word") || !strings.Contains(got[22], "at last") {
		t.Errorf("two rows of words are\n%s", strings.Join(got[21:], "\n"))
	}
	f.walk = nil
	if got := rows(); strings.Contains(strings.Join(got, "\n"), "walk") || f.size.Y != full {
		t.Errorf("after the walk a picture %d px high, %d before, and\n%s", f.size.Y, full, strings.Join(got, "\n"))
	}
}
