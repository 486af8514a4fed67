package desk

import (
	"context"
	"testing"
)

// TestTabAhead: keys do not wait for the command's answer; Tab takes its word when that comes, and an answer to what is not there any
// more is dropped.
func TestTabAhead(t *testing.T) {
	hold := make(chan struct{})
	b := open(t, create(t), Options{Verbs: []Verb{{Words: "version"}}, Complete: func(_ context.Context, args []string) []Candidate {
		<-hold
		return []Candidate{{Text: args[len(args)-1] + "end"}}
	}})
	defer b.close()
	b.keys(":")
	for _, r := range "version ab" {
		b.Key(Key{Rune: r})
	}
	b.keys("Tab")
	if text := string(b.Prompt().Text); text != "version ab" {
		t.Errorf("before the answer it says %q", text)
	}
	close(hold)
	b.settle()
	if text := string(b.Prompt().Text); text != "version abend " {
		t.Errorf("it says %q", text)
	}
}
