package desk

import (
	"strings"
	"testing"
)

// TestHint: the command line says what it wants next: the words that Tab puts in, what the chosen one does, or the arguments.
func TestHint(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{Verbs: []Verb{{Words: "trace import", Short: "bring drawings in"}}})
	defer b.close()
	for _, tc := range []struct{ typed, want string }{
		{":", "Tab:  accept  all  answer"},
		{":cal", "Tab:  calibrate"},
		{":calibrate ", "NM SIGMA  how wide a pixel"},
		{":calibrate 16.5 ", "NM SIGMA"},
		{":undo", "Tab:  undo"},
		{":layer ", "LAYER  draw on a layer  Tab:  diffusion  poly"},
		{":layer p", "LAYER  draw on a layer  Tab:  poly  photo"},
		{":trace ", "Tab:  import"},
		{":trace import x.svg", "bring drawings in"},
		{":nonsense ", ""},
	} {
		for _, r := range tc.typed {
			b.Key(Key{Rune: r})
		}
		if got := b.Prompt().Hint; !strings.HasPrefix(got, tc.want) || tc.want == "" && got != "" {
			t.Errorf("%q is hinted at by %q", tc.typed, got)
		}
		b.keys("Esc")
	}
	for _, r := range ":quit" {
		b.Key(Key{Rune: r})
	}
	if b.keys("Tab"); !strings.Contains(b.Prompt().Hint, "leave; every edit is kept") {
		t.Errorf("of the chosen word nothing is said: %+v", b.Prompt())
	}
}

// TestPasteTooLong: what has no room in a command line is left out whole, which is said, whether the line is open or not; the keys go on as before.
func TestPasteTooLong(t *testing.T) {
	b := open(t, create(t), Options{})
	defer b.close()
	b.Paste(strings.Repeat("x", 1<<20))
	if b.Prompt() != nil || !strings.Contains(b.said.text, "1048576 letters were pasted") {
		t.Errorf("said: %s, line %v", b.said.text, b.Prompt())
	}
	b.keys(":")
	b.Paste("turn 45")
	b.Paste(strings.Repeat("x", mostLine))
	if p := b.Prompt(); string(p.Text) != "turn 45" || !strings.Contains(p.Hint, "no more than 10000") {
		t.Errorf("the line is %q, and hints at %q", string(p.Text), p.Hint)
	}
	b.keys("Enter")
	if b.eyes[0].view.Turn != 45 {
		t.Errorf("turned by %g°", b.eyes[0].view.Turn)
	}
	b.keys(":")
	b.Paste(strings.Repeat("x", mostLine))
	b.keys("x")
	if n := len(b.line.Text); n != mostLine {
		t.Errorf("%d letters", n)
	}
}

// TestNarrowKeys: on a screen of 40 columns most keys leave half of them to what they do, and no key runs into it.
func TestNarrowKeys(t *testing.T) {
	b := open(t, create(t), Options{})
	defer b.close()
	b.Resize(80, 40, 1, 40, 10)
	b.keys("3", "?")
	beside := 0
	for _, l := range b.Page().Lines {
		if len(l) < 2 {
			continue
		}
		if !strings.HasSuffix(l[0].Text, " ") {
			t.Errorf("%q runs into %q", l[0].Text, l[1].Text)
		}
		if len(l[0].Text) <= 20 {
			beside++
		}
	}
	if beside < 20 {
		t.Errorf("%d keys have room beside them", beside)
	}
	b.keys("s", "n", "a", "p", "Space", "g", "r", "i", "d")
	found := false
	for _, l := range b.Page().Lines {
		found = found || len(l) == 2 && strings.HasSuffix(l[0].Text, "[grid UM] ")
	}
	if !found {
		t.Errorf("%+v", b.Page().Lines)
	}
}
