package desk

import (
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"undermetal/layout/dossier"
)

// TestEditsDoNotWait: while a verb holds the dossier for an edit of its own, a key that would edit is answered at once and not when the
// verb has ended; :stop can be typed, and afterwards all is as before.
func TestEditsDoNotWait(t *testing.T) {
	held := make(chan struct{})
	b := open(t, create(t, "stripped"), Options{
		Verbs: []Verb{{Words: "trace import", Short: "bring drawings in", Edits: true}},
		Run: func(ctx context.Context, _ []string, _, _ io.Writer) int {
			Held(ctx).Edit(ctx, "import", func(*dossier.Tx) error {
				close(held)
				<-ctx.Done()
				return ctx.Err()
			})
			return 1
		},
	})
	defer b.close()
	b.keys(":calibrate 16.5 0.03")
	b.settle()
	b.keys(":trace import big.png")
	<-held
	done := make(chan string)
	go func() {
		b.keys(":rectangle 0,0 1,1")
		said := b.said.text
		b.keys("u")
		done <- said + " / " + b.said.text
	}()
	select {
	case got := <-done:
		if n := strings.Count(got, "trace import is running"); n != 2 || !strings.Contains(got, ":stop") {
			t.Errorf("the foot says %q", got)
		}
		b.keys(":stop")
	case <-time.After(10 * time.Second):
		b.stopCommand() // from another goroutine than the owner's, who waits
		<-done
		t.Error("a key waits for a verb")
	}
	b.settle()
	b.keys("Esc", ":rectangle 0,0 1,1") // Esc closes the page of the verb
	b.settle()
	if len(b.drawn()) != 1 {
		t.Errorf("%q: %s", b.drawn(), b.said.text)
	}
}
