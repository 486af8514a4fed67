package desk

import (
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"
	"time"
)

// somebody strikes keys and moves the mouse at random, with a liking for what draws.
type somebody struct {
	*rand.Rand
	keys []string
}

func newSomebody(seed uint64) *somebody {
	s := &somebody{Rand: rand.New(rand.NewPCG(seed, 8))}
	for _, b := range bindings {
		for _, k := range b.keys {
			if k != "Ctrl+q" && k != "Ctrl+c" && k != ":" {
				s.keys = append(s.keys, k)
			}
		}
	}
	return s
}

// lines that are typed now and then; numbers are put in for each %g.
var randomLines = []string{
	"go %g,%g", "at %g,%g", "rectangle %g,%g %g,%g", "polygon %g,%g %g,%g %g,%g %g,%g", "wire %g,%g %g,%g %g,%g", "stamp %g,%g",
	"subtract %g,%g %g,%g %g,%g", "split %g,%g %g,%g", "select all", "select box %g,%g %g,%g", "move %g,%g", "duplicate %g,%g", "copy", "paste %g,%g",
	"rotate %g", "mirror %g", "merge", "cell a", "cell b", "place a", "array 3 2 %g,%g %g,%g", "odd 1,1 c", "explode", "into", "into 1,1", "out", "label N%g", "unlabel", "area %g,%g %g,%g %g,%g",
	"axis %g", "step %g", "width %g", "size %g,%g", "undo", "redo", "find N", "list history", "answer open", "note here", "pair %g,%g", "map affine", "accept",
	"calibrate %g 0.1", "snap vertex edge angle grid 0.1", "snap off", "layer poly", "layer diffusion", "lock metal1", "unlock metal1", "hide poly", "stampfill %g,%g %g,%g 1.3,1.2",
	"contrast %g %g", "turn %g", "zoom %g", "resolve", "quux", "polygon", "go 1e400,3", "paste 1e9,1e9", "move 1e6,1e6", "'", "select layer poly", "keys", "walk", "show split",
}

func (s *somebody) line() string {
	l := randomLines[s.IntN(len(randomLines))]
	var args []any
	for i := 0; i+1 < len(l); i++ {
		if l[i] == '%' {
			args = append(args, float64(s.IntN(1000))/100)
		}
	}
	return fmt.Sprintf(l, args...)
}

func (s *somebody) act(b *bench) string {
	switch k := s.IntN(100); {
	case k < 45:
		w := s.keys[s.IntN(len(s.keys))]
		b.Key(key(w))
		return w
	case k < 60:
		l := s.line()
		if b.line == nil {
			b.keys("Esc")
		}
		b.keys(":" + l)
		return l
	case k < 63:
		b.Paste(s.line())
		return "paste"
	case k < 66:
		b.Key(Key{Rune: rune(s.IntN(0x300))})
		return "rune"
	case k < 68:
		b.Resize(1+s.IntN(900), 1+s.IntN(700), []float64{0, 1, 2}[s.IntN(3)], 1+s.IntN(120), 1+s.IntN(50))
		return "resize"
	case k < 71:
		b.Take()
		b.Tick(time.Unix(int64(s.IntN(100)), 0))
		return "take"
	default:
		m := Mouse{X: s.Float64()*700 - 50, Y: s.Float64()*560 - 50, Kind: MouseKind(s.IntN(5)), Button: s.IntN(4), Steps: s.IntN(7) - 3, Ctrl: s.IntN(5) == 0, Shift: s.IntN(4) == 0}
		b.Mouse(m)
		return fmt.Sprintf("mouse %+v", m)
	}
}

// seen looks at all that a terminal would.
func (b *bench) seen() {
	for _, p := range b.Panes() {
		if p.Scene.View.Width != p.Box.Dx() || p.Scene.View.Height != p.Box.Dy() || !(p.Scene.View.NmPerPx > 0) {
			b.t.Errorf("a view of %d × %d px, %g nm, in %v", p.Scene.View.Width, p.Scene.View.Height, p.Scene.View.NmPerPx, p.Box)
		}
	}
	b.Head()
	b.Foot()
	if l := b.Side(); l != nil && (l.Selected >= len(l.Rows) || l.Selected < 0 && len(l.Rows) > 0) {
		b.t.Errorf("row %d of %d in %s", l.Selected, len(l.Rows), l.Title)
	}
	if p := b.Prompt(); p != nil && (p.Cursor < 0 || p.Cursor > len(p.Text) || p.Chosen >= len(p.Candidates)) {
		b.t.Errorf("a line of %d letters, cursor %d, candidate %d of %d", len(p.Text), p.Cursor, p.Chosen, len(p.Candidates))
	}
	if p := b.Page(); p != nil && (p.Top < 0 || p.Top > len(p.Lines) || len(p.Choose) > 0 && p.Chosen >= len(p.Choose)) {
		b.t.Errorf("page %q from line %d of %d", p.Title, p.Top, len(p.Lines))
	}
}

// valid holds all shapes and areas against what makes a polygon.
func valid(b *bench) {
	b.t.Helper()
	cells, err := b.dos.Cells()
	if err != nil {
		b.t.Fatal(err)
	}
	for _, c := range cells {
		shapes, err := b.dos.Shapes(c.ID)
		if err != nil {
			b.t.Fatal(err)
		}
		for _, s := range shapes {
			if f, bad := s.Polygon.Fault(); bad {
				b.t.Errorf("a shape on %s: %s", s.Layer, f)
				h, _ := b.dos.History()
				for _, e := range h {
					if !e.Undone {
						b.t.Log(e.What)
					}
				}
			}
			if box := s.Polygon.Bounds(); !box.Min.InFrame() || !box.Max.InFrame() {
				b.t.Errorf("a shape in %v", box)
			}
		}
	}
	areas, err := b.dos.Areas()
	if err != nil {
		b.t.Fatal(err)
	}
	for _, a := range areas {
		if f, bad := a.Polygon.Fault(); bad {
			b.t.Errorf("an area on %s: %s", a.Layer, f)
		}
	}
}

// TestAnything: whatever is struck and clicked, nothing panics, no shape is invalid, and taking everything back leads to where it
// began.
func TestAnything(t *testing.T) {
	hands, events := 6, 400
	if os.Getenv("UNDERMETAL_FULL") != "" {
		hands, events = 200, 1500
	}
	for seed := range hands {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			shots := [][]string{nil, {"stripped"}, {"stripped", "metal"}}[seed%3]
			b := open(t, create(t, shots...), Options{})
			defer b.close()
			before := all(t, b.dos)
			start := standing(b)
			if len(shots) > 0 {
				b.keys(":calibrate 16.5 0.03")
			}
			s := newSomebody(uint64(seed))
			var last []string
			defer func() {
				if r := recover(); r != nil {
					t.Errorf("%v after %q", r, last)
					panic(r)
				}
			}()
			for range events {
				last = append(last, s.act(b))
				last = last[max(0, len(last)-12):]
				b.seen()
				if standing(b) < start { // the photographs were taken back: they are wanted
					b.undo(true)
				}
				if t.Failed() {
					t.Fatalf("after %q", last)
				}
			}
			valid(b)
			b.settle()
			if b.live == nil && b.said.tone == Failure {
				t.Error(b.said.text)
			}
			n := standing(b) - start
			for standing(b) > start {
				if !b.undo(false) {
					t.Fatal(b.said.text)
				}
			}
			if after := all(t, b.dos); !reflect.DeepEqual(before, after) {
				t.Errorf("%d edits taken back leave %v\nof %v", n, after, before)
			}
			t.Logf("%d edits", n)
		})
	}
}

// standing is how many edits stand.
func standing(b *bench) int {
	b.t.Helper()
	s, err := b.dos.Summary()
	if err != nil {
		b.t.Fatal(err)
	}
	return s.Undoable
}
