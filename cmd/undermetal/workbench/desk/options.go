package desk

import (
	"context"
	"io"
	"time"
)

// Verb is a verb of the command that can be called on the open dossier.
type Verb struct {
	Words   string // as in "trace label"
	Short   string
	Dossier bool // its first argument is the dossier: the desk puts it in
	Edits   bool // it may change the dossier
}

// Options are what a caller gives a Desk.
type Options struct {
	// Notify is called when background work has something to hand over, from any goroutine: post an event, and call Take in the
	// owner's goroutine. It must not block. May be nil.
	Notify func()
	// Verbs are those of the command that the command line offers beside its own.
	Verbs []Verb
	// Run runs the command as a process would, in a goroutine of its own; ctx carries the open dossier (Held), so that a verb
	// works on that and does not open the file again. It returns the exit status. May be nil.
	Run func(ctx context.Context, args []string, out, err io.Writer) int
	// Complete returns how the last of some arguments may go on. It runs in a goroutine of its own, one call at a
	// time. May be nil.
	Complete func(ctx context.Context, args []string) []Candidate
	// Clip takes text to the system's clipboard. May be nil.
	Clip func(text string)
	// Settle is how long after an edit the circuit is read anew; 0: 120 ms, below 0: at once.
	Settle time.Duration
	// FirstRun opens the walk.
	FirstRun bool
}
