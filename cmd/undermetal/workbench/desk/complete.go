package desk

import "slices"

// continuing is what the command is asked while a line is written: how its last argument may go on. That is looked up in the dossier, so that
// it is done in a goroutine: the latest start only, one at a time.
type continuing struct {
	latest start
	going  bool // one is being answered
}

// start is the beginning of a line. The zero value is none.
type start struct {
	before string   // of the line, up to its cursor
	args   []string // of the command, with what there is of the last
}

func (q start) same(o start) bool { return q.before == o.before && slices.Equal(q.args, o.args) }

// askCommand asks; the answer comes with Take.
func (d *Desk) askCommand(q start) {
	d.goesOn.latest = q
	if !d.goesOn.going {
		d.continued(q)
	}
}

func (d *Desk) continued(q start) {
	d.goesOn.going = true
	d.workers.Add(1)
	go func() {
		defer d.workers.Done()
		all, err := guarded(func() ([]Candidate, error) { return d.opt.Complete(Hold(d.ctx, d.file), q.args), nil })
		if d.ctx.Err() != nil {
			return
		}
		d.post(func(d *Desk) {
			d.goesOn.going = false
			switch {
			case d.goesOn.latest.args == nil: // nobody wants to know any more
			case !q.same(d.goesOn.latest):
				d.continued(d.goesOn.latest)
			default:
				d.try(err)
				d.answered(q, all)
			}
		})
	}()
}

// answered takes an answer over, if the line is still the one that was asked about; a key that wanted a word gets it.
func (d *Desk) answered(q start, all []Candidate) {
	d.goesOn.latest = start{}
	l := d.line
	if l == nil || !l.waits || l.before != q.before {
		return
	}
	owed := l.owed
	l.Candidates, l.Chosen, l.waits, l.owed = all, -1, false, 0
	if owed != 0 {
		l.next(d, owed < 0)
	}
}
