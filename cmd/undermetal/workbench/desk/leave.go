package desk

import "undermetal/layout/geom"

// leave ends the work. What is begun and is no edit yet would be lost: that is said once, and done where it is asked for again.
func (d *Desk) leave() {
	if what := d.begun(); what != "" && what != d.warned {
		d.warned = what
		d.warn("%s; leave once more, and that is lost", what)
		return
	}
	d.done = true
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
