package desk

import (
	"fmt"

	"undermetal/layout/geom"
)

// leave ends the work. What is begun and is no edit yet would be lost: that is said once, and done where it is asked for again.
func (d *Desk) leave() {
	if what := d.begun(); what != "" {
		if now := what + d.begunSoFar(); now != d.warned { // what was begun since was not warned of
			d.warned = now
			d.warn("%s; leave once more, and that is lost", what)
			return
		}
	}
	d.done = true
}

// begunSoFar is all that was begun, for comparing.
func (d *Desk) begunSoFar() string {
	text := fmt.Sprint(d.points)
	if p := d.pairs; p != nil {
		text += fmt.Sprint(p.shot, p.points, p.from != nil, p.to != nil)
	}
	return text
}

// begun is what was begun and is not in the dossier, with how it gets there; empty where there is nothing.
func (d *Desk) begun() string {
	switch p := d.pairs; {
	case d.tool != nil && len(d.points) > 1:
		return counted(len(d.points), "corner") + " of a " + d.tool.name + ": Enter ends it"
	case p != nil && d.file.ReadOnly() == "" && (p.from != nil || p.to != nil || !p.stored(d)):
		return "pairs are not accepted yet: a in the station register accepts them"
	}
	return ""
}

// stored reports whether the dossier has these pairs.
func (p *pairing) stored(d *Desk) bool {
	has, err := d.file.ControlPoints(p.shot)
	if err != nil || len(has) != len(p.points) {
		return err != nil
	}
	for i, q := range p.points {
		if c := has[i]; (geom.Vec{X: c.PX, Y: c.PY}) != q.From || (geom.Vec{X: c.X, Y: c.Y}) != q.To {
			return false
		}
	}
	return true
}
