package workbench

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
)

// TestLongLine: of a line that is wider than the screen its end is seen, as when its letters are tried one after the other.
func TestLongLine(t *testing.T) {
	p := &pen{}
	rnd := rand.New(rand.NewPCG(3, 8))
	for range 3000 {
		var text []rune
		for range rnd.IntN(40) {
			text = append(text, []rune("ab 日本µ")[rnd.IntN(6)])
		}
		room := rnd.IntN(30)
		want := 0
		for want < len(text) && p.width(string(text[want:])) > room {
			want++
		}
		if first, columns := p.fits(text, room); first != want || columns != p.width(string(text[want:])) {
			t.Fatalf("%q in %d columns: from %d, %d columns; want %d, %d", string(text), room, first, columns, want, p.width(string(text[want:])))
		}
	}
}

// TestManyCandidates: the chosen one is seen whole, however many there are, and as many before it as have room.
func TestManyCandidates(t *testing.T) {
	s := tcell.NewSimulationScreen("UTF-8")
	if err := s.Init(); err != nil {
		t.Fatal(err)
	}
	defer s.Fini()
	s.SetSize(60, 1)
	p := &pen{screen: s}
	for _, n := range []int{1, 2, 5, 1000} {
		q := &desk.Prompt{Chosen: -1}
		for i := range n {
			q.Candidates = append(q.Candidates, desk.Candidate{Text: fmt.Sprintf("n%d", i)})
		}
		for ; q.Chosen < n; q.Chosen++ {
			s.Clear()
			p.candidates(rect{0, 0, 60, 1}, q)
			s.Show()
			words := strings.Fields(text(s))
			first := 0 // by hand: words of so many letters, with two blanks behind each, in 60 columns
			for width := 0; first < q.Chosen; first++ {
				width = 0
				for k := first; k <= q.Chosen; k++ {
					width += len(q.Candidates[k].Text) + 2
				}
				if width <= 60 {
					break
				}
			}
			if words[0] != q.Candidates[first].Text || q.Chosen >= 0 && words[q.Chosen-first] != q.Candidates[q.Chosen].Text {
				t.Fatalf("%d of %d is chosen, shown are %v", q.Chosen, n, words)
			}
			if n == 1000 && q.Chosen > 20 && q.Chosen < 990 {
				q.Chosen += 97
			}
		}
	}
}

// TestFullLine: of a command line as long as one may be its end is seen, and the head is as ever.
func TestFullLine(t *testing.T) {
	f := newFake()
	f.prompt = &desk.Prompt{Label: ":", Chosen: -1, Text: []rune(strings.Repeat("x", 10_000)), Cursor: 10_000}
	b, s := benchOn(t, f, 60, 8, 2)
	settle(t, b)
	if got := text(s); !strings.Contains(got, "kiln.dossier") || !strings.Contains(got, ":xxxxx") {
		t.Errorf("shown is\n%s", got)
	}
	if x, y, _ := s.GetCursor(); x != 59 || y != 7 {
		t.Errorf("the cursor is at %d, %d", x, y)
	}
}
