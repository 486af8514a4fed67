package desk

import (
	"context"
	"fmt"
	"time"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
)

// job is work in the background that is done anew after each edit.
type job struct {
	name   string
	says   string // while it goes on
	delay  time.Duration
	do     func(d *Desk, ctx context.Context, j *job) (func(*Desk), error)
	wake   chan struct{} // of one place
	due    int           // the generation that is wanted; with the next three guarded by Desk.mu
	got    int           // the one that was handed over
	part   float64
	cancel context.CancelFunc // of what goes on
	edits  bool               // it may hold the dossier
}

// end cancels what goes on. Desk.mu is held.
func (j *job) end() {
	if j.cancel != nil {
		j.cancel()
	}
}

// start begins the work in the background.
func (d *Desk) start() {
	settle := d.opt.Settle
	switch {
	case settle == 0:
		settle = 120 * time.Millisecond
	case settle < 0:
		settle = 0
	}
	for _, j := range []*job{
		{name: "drawing", says: "arranging the drawing", do: (*Desk).arrange},
		{name: "circuit", says: "reading the circuit", delay: settle, do: (*Desk).extract},
	} {
		j.wake = make(chan struct{}, 1)
		j.part = -1
		d.jobs[j.name] = j
		d.workers.Add(1)
		go func() {
			defer d.workers.Done()
			d.run(j)
		}()
	}
}

// wake has the background look at the dossier as it is now.
func (d *Desk) wake() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.gen++
	d.drawnIn = d.cell()
	for _, j := range d.jobs {
		if j.wake == nil {
			continue
		}
		j.due = d.gen
		j.end()
		select {
		case j.wake <- struct{}{}:
		default:
		}
	}
}

// run does a job whenever it is due, until the desk is closed.
func (d *Desk) run(j *job) {
	for {
		select {
		case <-d.ctx.Done():
			return
		case <-j.wake:
		}
		if j.delay > 0 {
			select {
			case <-d.ctx.Done():
				return
			case <-time.After(j.delay):
			}
		}
		ctx, cancel := context.WithCancel(d.ctx)
		d.mu.Lock()
		gen := j.due
		j.cancel, j.part = cancel, -1
		d.mu.Unlock()
		hand, err := guarded(func() (func(*Desk), error) { return j.do(d, ctx, j) })
		late := ctx.Err() != nil
		cancel()
		if d.ctx.Err() != nil {
			return
		}
		if late {
			continue // an edit came: there is another turn
		}
		d.post(func(d *Desk) {
			d.mu.Lock()
			j.got = max(j.got, gen)
			d.mu.Unlock()
			if err != nil {
				d.fail(fmt.Errorf("%s: %w", j.says, err))
				return
			}
			hand(d)
		})
	}
}

// guarded turns a panic into an error.
func guarded[T any](f func() (T, error)) (v T, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a fault of the program: %v; the dossier is as it was", r)
		}
	}()
	return f()
}

// post leaves something for the owner.
func (d *Desk) post(f func(*Desk)) {
	d.mu.Lock()
	d.mail = append(d.mail, f)
	d.mu.Unlock()
	if d.opt.Notify != nil {
		d.opt.Notify()
	}
}

// Take takes over what background work has handed over since; it reports whether there was something.
func (d *Desk) Take() bool {
	d.mu.Lock()
	mail := d.mail
	d.mail = nil
	d.mu.Unlock()
	for _, f := range mail {
		f(d)
	}
	return len(mail) > 0
}

// progress is told by work how far it has come.
func (d *Desk) progress(j *job, done, total int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if total > 0 {
		j.part = float64(done) / float64(total)
	}
}

// Busy says what goes on in the background; empty where nothing does. part is how much of it is done, 0 to 1, below 0 where nobody
// knows. What was done and not taken over by Take yet goes on.
func (d *Desk) Busy() (text string, part float64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, name := range []string{"command", "circuit", "drawing"} {
		if j := d.jobs[name]; j != nil && j.got < j.due {
			return j.says, j.part
		}
	}
	return "", 0
}

// arrange makes the drawing anew.
func (d *Desk) arrange(ctx context.Context, j *job) (func(*Desk), error) {
	var s *snapshot
	cell := d.cellNow()
	err := d.file.Moment(func(m dossier.Moment) (err error) {
		s, err = take(m, cell)
		return err
	})
	if err != nil {
		return nil, err
	}
	drawing := picture.NewDrawing(s.drawn())
	return func(d *Desk) {
		if s.cell != d.cell() {
			return // one is elsewhere now
		}
		first := !d.arranged && len(d.photos) == 0
		d.arranged = true
		d.drawing, d.placed, d.labels, d.areas, d.blocks = drawing, s.placed, s.labels, s.areas, s.blocks
		d.bounds()
		if len(d.sel.Placements) > 0 { // their cells may have other boxes now
			d.showSelected()
		}
		if first {
			d.look()
		}
	}, nil
}
