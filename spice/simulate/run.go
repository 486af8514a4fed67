package simulate

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Runner runs decks. Its zero value finds ngspice on PATH and has the limits below.
type Runner struct {
	Program  string        // path or name of ngspice; empty: "ngspice", from PATH
	Limit    time.Duration // for one run; 0: 2 minutes
	MaxBytes int64         // of all files of one run and what is printed, together; 0: 256 MiB
	// Progress, if any, hears from the goroutine of Run how much is done, 0 to 1, and what is being done.
	Progress func(done float64, what string)
}

// What keeps a run from having a result; errors.Is finds them.
var (
	ErrMissing = errors.New("no simulator")              // with how to install one
	ErrDeck    = errors.New("deck refused")              // by Safe and its like, before anything ran
	ErrTime    = errors.New("time limit of simulation")  // the simulator took longer than Limit
	ErrSize    = errors.New("too much from simulator")   // it wrote more than MaxBytes
	ErrFailed  = errors.New("simulation without result") // it crashed, complained, or did not give what it must
)

// Run simulates a deck in a private folder, which is gone afterwards, as is every process that was started.
//
// The result is nil only where nothing ran; else it holds what came out and all complaints, also beside an error. There is
// no error only if the simulator ended by itself with status 0, complained of nothing fatal, and every analysis gave every
// vector of its Save, over its whole sweep, without a value that is no number. The errors are those above, wrapped, or
// the context's cause.
func (r *Runner) Run(ctx context.Context, d *Deck) (*Result, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	program, err := Find(r.Program)
	if err != nil {
		return nil, err
	}
	text := d.Text()
	dir, remove, err := folder(text)
	if err != nil {
		return nil, fmt.Errorf("simulation's folder: %w", err)
	}
	defer remove()
	start := time.Now()
	e := newEar(text, d.Places)
	_, err = r.batch(ctx, program, dir, e, r.progress(d, dir, e))
	result := &Result{Simulator: e.simulator()}
	if err == nil || errors.Is(err, ErrFailed) {
		r.collect(d, dir, result, e)
	}
	result.Complaints = e.complaints
	result.Elapsed = time.Since(start)
	return result, conclude(err, result)
}

// Batch runs a whole deck, with a control section that the caller has written, as Run does, and returns what the simulator
// printed and what it complained of. Nothing of the deck is checked: never give it text from elsewhere.
func (r *Runner) Batch(ctx context.Context, deck string) (said string, complaints []Complaint, err error) {
	program, err := Find(r.Program)
	if err != nil {
		return "", nil, err
	}
	dir, remove, err := folder(deck)
	if err != nil {
		return "", nil, fmt.Errorf("simulation's folder: %w", err)
	}
	defer remove()
	e := newEar(deck, nil)
	said, err = r.batch(ctx, program, dir, e, func() {})
	return said, e.complaints, err
}

func (r *Runner) batch(ctx context.Context, program, dir string, e *ear, watch func()) (string, error) {
	p := process{program: program, dir: dir, limit: r.Limit, bytes: r.MaxBytes, hear: e.line, watch: watch}
	if p.limit <= 0 {
		p.limit = 2 * time.Minute
	}
	if p.bytes <= 0 {
		p.bytes = 256 << 20
	}
	said, err := p.run(ctx)
	e.end()
	return said, err
}

// collect reads the files of all analyses and complains about what is not in them.
func (r *Runner) collect(d *Deck, dir string, result *Result, e *ear) {
	for i := range d.Analyses {
		a := &d.Analyses[i]
		for _, o := range a.outputs() {
			p, err := readOutput(filepath.Join(dir, o.file), o)
			if err != nil {
				e.keep(Complaint{Text: fmt.Sprintf("analysis %s: %v", a.Name, err), Fatal: true})
				continue
			}
			p.Name = o.plot
			result.Plots = append(result.Plots, *p)
			for _, lack := range lacks(a, &o, p) {
				e.keep(Complaint{Text: fmt.Sprintf("analysis %s: %s", a.Name, lack.text), What: e.place(lack.name), Fatal: true})
			}
		}
	}
}

// readOutput reads the one plot of a raw file. The folder held no such file before the run.
func readOutput(path string, o output) (*Plot, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, errors.New("the simulator wrote nothing")
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("what the simulator wrote is no file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	plots, err := ReadRaw(f, info.Size())
	switch {
	case err != nil:
		return nil, err
	case len(plots) != 1:
		return nil, fmt.Errorf("%d plots instead of one", len(plots))
	case !strings.EqualFold(plots[0].Title, o.kind):
		return nil, fmt.Errorf("the simulator wrote a plot %q instead of %q", shorten(plots[0].Title, 60), o.kind)
	}
	return &plots[0], nil
}

// simulator returns the name and version that the simulator gave itself.
func (e *ear) simulator() string {
	if e.version == "" {
		return "simulator of unknown version"
	}
	return e.version
}
