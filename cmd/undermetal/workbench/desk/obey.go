package desk

import (
	"context"
	"slices"
	"strings"
	"time"
)

// Said is what the desk says to a line.
type Said struct {
	Text   string   // the message; empty where there is none
	Failed bool     // it was not done
	Page   []string // what was shown at length
}

// askTheCircuit are the verbs that want the circuit as it is.
var askTheCircuit = []string{"find", "light", "question", "answer", "list"}

// Obey does what a line of the command line says, without a terminal, and waits until the drawing, and where the line asks for it the
// circuit, is as the lines before left it, and a verb of the command has ended. It is for programs; the owner of the desk calls it.
// The error is the context's.
func (d *Desk) Obey(ctx context.Context, line string) (Said, error) {
	wait := []string{"command", "drawing"}
	if w, err := words(line); err == nil && len(w) > 0 && slices.Contains(askTheCircuit, w[0]) {
		wait = append(wait, "circuit")
	}
	if err := d.settle(ctx, wait...); err != nil {
		return Said{}, err
	}
	d.said, d.page = message{}, nil
	d.obey(line)
	if err := d.settle(ctx, "command"); err != nil {
		return Said{}, err
	}
	s := Said{Text: d.said.text, Failed: d.said.tone == Failure || d.said.tone == Caution && d.said.usage}
	if d.page != nil {
		for _, l := range d.page.Lines {
			var text strings.Builder
			for _, span := range l {
				text.WriteString(span.Text)
			}
			s.Page = append(s.Page, text.String())
		}
	}
	return s, nil
}

// settle takes over what the background hands over until some of its jobs have nothing more to do, or the context ends.
func (d *Desk) settle(ctx context.Context, jobs ...string) error {
	for {
		d.Take()
		if !d.busyWith(jobs) {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(2 * time.Millisecond):
		}
	}
}

func (d *Desk) busyWith(jobs []string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.ContainsFunc(jobs, func(name string) bool { return d.jobs[name] != nil && d.jobs[name].got < d.jobs[name].due })
}
