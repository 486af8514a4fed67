package desk

import (
	"undermetal/cmd/undermetal/workbench/picture"
)

// nextBeside changes how two photographs are seen while one is registered: side by side, one at a time, or, once there is a fit,
// one over the other.
func (d *Desk) nextBeside() {
	p := d.pairs
	if p == nil {
		d.try(d.known())
		return
	}
	switch {
	case !p.one && !p.over:
		p.one = true
		d.say("one photograph at a time: Tab shows the other")
	case p.one && p.shown != nil && d.located() != nil:
		p.one, p.over, d.eye, d.mode = false, true, 0, picture.Split
		d.say("where the pairs take it: , and ; move the border")
	default:
		p.one, p.over, d.mode = false, false, picture.Alone
		d.say("side by side")
	}
	d.fitPanes()
}

// together lays the photograph that is registered over the first, as far as its pairs tell.
func (d *Desk) together(s *picture.Scene) {
	if p := d.pairs; d.station == registering && p != nil && p.over && p.shown != nil && s.Base.Photo != nil {
		base := *s.Base.Photo
		base.Registered = true // a first photograph that is calibrated lies where it lies
		s.Base.Photo = &base
		s.Over = picture.Shown{Photo: p.shown, Display: d.photos[d.over].display}
		s.Mode = picture.Split
	}
}

// pairMarks are the pairs as an eye sees them, and their residuals.
func (d *Desk) pairMarks(s *picture.Scene, eye int) {
	p := d.pairs
	if d.station != registering || p == nil {
		return
	}
	e := &d.eyes[eye]
	second := d.second2()
	for i, q := range p.points {
		at := q.To
		if eye == 1 {
			at = second.ToFrame.Apply(q.From)
		}
		s.Lines = append(s.Lines, mark(e, at, 4, 4, pairInk))
		if eye == 0 && p.fit != nil {
			s.Arrows = append(s.Arrows, picture.Arrow{At: q.To, Residual: p.fit.Residuals[i], Outlier: p.fit.Outlier[i]})
		}
	}
	if eye == 0 {
		s.Enlarge = picture.Enlarging(e.view, s.Arrows)
		if p.to != nil {
			s.Lines = append(s.Lines, crossAt(e, *p.to, 4, pairInk)...)
		}
	} else if p.from != nil {
		s.Lines = append(s.Lines, crossAt(e, second.ToFrame.Apply(*p.from), 4, pairInk)...)
	}
}
