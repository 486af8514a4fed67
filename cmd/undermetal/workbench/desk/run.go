package desk

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// obey does what a command line says: by a verb of the desk, else by one of the command.
func (d *Desk) obey(line string) {
	args, err := words(line)
	if !d.try(err) || len(args) == 0 {
		return
	}
	if v := verbNamed(args[0]); v != nil {
		d.acted[v.name]++
		err := v.do(d, args[1:])
		if err == errUsage {
			d.warn("as in :%s", strings.TrimSpace(v.name+" "+v.args))
			d.said.usage = true
			return
		}
		d.try(err)
		return
	}
	if v, n := d.commandVerb(args); v != nil {
		d.runVerb(v, args, n)
		return
	}
	if strings.Contains(args[0], ",") {
		if d.try(d.goTo(args)) {
			return
		}
	}
	d.warn("there is no verb %q: Tab lists those that there are", args[0])
	d.said.usage = true
}

// commandVerb is the verb of the command that a line begins with, and how many words it has: the longest that fits.
func (d *Desk) commandVerb(args []string) (best *Verb, n int) {
	for i := range d.opt.Verbs {
		w := strings.Fields(d.opt.Verbs[i].Words)
		if len(w) > n && len(w) <= len(args) && slices.Equal(w, args[:len(w)]) {
			best, n = &d.opt.Verbs[i], len(w)
		}
	}
	return best, n
}

// full are the arguments of the command: with the dossier, where the verb wants it.
func (d *Desk) full(v *Verb, args []string, n int) []string {
	out := slices.Clone(args[:n])
	if v.Dossier {
		out = append(out, d.file.Path)
	}
	return append(out, args[n:]...)
}

// runVerb runs a verb of the command in the background; what it prints becomes a page, or a message where it is one line.
func (d *Desk) runVerb(v *Verb, args []string, n int) {
	if d.opt.Run == nil {
		d.warn("%s cannot be run from here", v.Words)
		return
	}
	d.mu.Lock()
	if j := d.jobs["command"]; j != nil && j.got < j.due {
		d.mu.Unlock()
		d.warn("%s: :stop ends it", j.says)
		return
	}
	ctx, cancel := context.WithCancel(Hold(d.ctx, d.file))
	j := &job{name: "command", says: v.Words + " is running", due: 1, part: -1, cancel: cancel, edits: v.Edits}
	d.jobs["command"] = j
	d.mu.Unlock()
	full := d.full(v, args, n)
	line := strings.Join(args, " ")
	var out, errs shared
	d.workers.Add(1)
	go func() {
		defer d.workers.Done()
		defer cancel()
		status, err := guarded(func() (int, error) { return d.opt.Run(ctx, full, &out, &errs), nil })
		if d.ctx.Err() != nil {
			return
		}
		d.post(func(d *Desk) {
			d.mu.Lock()
			j.got = 1
			d.mu.Unlock()
			d.ran(v, line, status, err, out.String(), errs.String())
		})
	}()
	d.say("%s", j.says)
}

// ran takes over what a verb has done.
func (d *Desk) ran(v *Verb, line string, status int, err error, out, errs string) {
	d.changed() // whatever it says of itself
	if err != nil {
		d.fail(fmt.Errorf("%s: %w", v.Words, err))
		return
	}
	text := strings.TrimSpace(strings.TrimRight(errs, "\n") + "\n" + out)
	switch {
	case status == 0 && text == "":
		d.good("%s: done", line)
	case !strings.Contains(text, "\n") && status == 0:
		d.good("%s", text)
	default:
		d.showText(line, text)
		if status != 0 {
			first, _, _ := strings.Cut(strings.TrimSpace(errs+"\n"+out), "\n")
			d.said = message{harmless(first), Failure, false}
			return
		}
		d.good("%s: done", line)
	}
}

// editing says that a verb which may edit the dossier is running: whoever wants to edit would wait for it, and the screen with him.
func (d *Desk) editing() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if j := d.jobs["command"]; j != nil && j.edits && j.got < j.due {
		return fmt.Errorf("%s: nothing else is edited until it has ended; :stop ends it", j.says)
	}
	return nil
}

// stopCommand ends the verb that is running.
func (d *Desk) stopCommand() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if j := d.jobs["command"]; j != nil {
		j.end()
	}
}

// shared is a buffer that several goroutines may write to. Of a line that a progress bar writes over and over, the last is kept.
type shared struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.Write(p)
}

func (s *shared) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	lines := strings.Split(s.buf.String(), "\n")
	for i, l := range lines {
		l = strings.TrimRight(l, "\r")
		if k := strings.LastIndexByte(l, '\r'); k >= 0 {
			l = l[k+1:]
		}
		lines[i] = l
	}
	return strings.Join(lines, "\n")
}

// complete returns how the last word of the beginning of a line may go on, or what to ask the command about it.
func (d *Desk) complete(text string) ([]Candidate, start) {
	last := lastWord(text)
	args, err := words(text[:len(text)-len(last)])
	if err != nil {
		return nil, start{}
	}
	typed := strings.Trim(last, `'"`)
	if len(args) == 0 {
		return fitting(d.verbCandidates(), typed), start{}
	}
	if v := verbNamed(args[0]); v != nil {
		if v.complete == nil {
			return nil, start{}
		}
		return fitting(v.complete(d, args[1:]), typed), start{}
	}
	var next []Candidate // words of verbs of several words
	for i := range d.opt.Verbs {
		v := &d.opt.Verbs[i]
		w := strings.Fields(v.Words)
		if len(w) > len(args) && slices.Equal(w[:len(args)], args) && !slices.ContainsFunc(next, func(c Candidate) bool { return c.Text == w[len(args)] }) {
			next = append(next, Candidate{w[len(args)], v.Short})
		}
	}
	if len(next) > 0 {
		return fitting(next, typed), start{}
	}
	if v, n := d.commandVerb(args); v != nil && d.opt.Complete != nil {
		return nil, start{text, append(d.full(v, args, n), typed)}
	}
	return nil, start{}
}

func (d *Desk) verbCandidates() (out []Candidate) {
	for _, v := range verbs {
		out = append(out, Candidate{v.name, v.what})
	}
	for _, v := range d.opt.Verbs {
		w, _, more := strings.Cut(v.Words, " ")
		note := v.Short
		if more {
			note = "…"
		}
		if !slices.ContainsFunc(out, func(c Candidate) bool { return c.Text == w }) {
			out = append(out, Candidate{w, note})
		}
	}
	slices.SortFunc(out, func(a, b Candidate) int { return strings.Compare(a.Text, b.Text) })
	return out
}

// fitting are the candidates that begin with what was typed.
func fitting(all []Candidate, typed string) (out []Candidate) {
	for _, c := range all {
		if strings.HasPrefix(c.Text, typed) {
			out = append(out, c)
		}
	}
	return out
}
