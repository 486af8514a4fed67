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
