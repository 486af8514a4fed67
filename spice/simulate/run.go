package simulate

import (
	"context"
	"errors"
	"io"
	"time"
)

// Runner runs decks. Its zero value finds ngspice on PATH and has the limits below.
type Runner struct {
	Program  string        // path or name of ngspice; empty: "ngspice", from PATH
	Limit    time.Duration // for one run; 0: 2 minutes
	MaxBytes int64         // of all files of one run together; 0: 256 MiB
	// Progress, if any, hears from the goroutine of Run how much is done, 0 to 1, and what is being done.
	Progress func(done float64, what string)
}

// What keeps a run from having a result; errors.Is finds them.
var (
	ErrMissing = errors.New("no simulator")              // with how to install one
	ErrDeck    = errors.New("deck refused")              // by Safe, before anything ran
	ErrTime    = errors.New("time limit")                // the simulator took longer than Limit
	ErrSize    = errors.New("too much output")           // it wrote more than MaxBytes
	ErrFailed  = errors.New("simulation without result") // it crashed, complained, or did not give what it must
)

// Run simulates a deck. The result is nil only where nothing ran; else it holds what came out and all complaints, also
// beside an error.
func (r *Runner) Run(ctx context.Context, d *Deck) (*Result, error) {
	return nil, errors.New("runs are not built yet")
}

// ReadRaw reads a raw file.
func ReadRaw(r io.Reader, limit int64) ([]Plot, error) {
	return nil, errors.New("reading is not built yet")
}

// Find returns the path of a simulator.
func Find(program string) (path string, err error) { return "", ErrMissing }

// Safe says whether the body of a deck can do nothing but describe a circuit.
func Safe(body string) error { return errors.New("checks are not built yet") }

// Text returns the whole deck.
func (d *Deck) Text() string { return "" }
