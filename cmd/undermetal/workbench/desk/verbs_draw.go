package desk

import (
	"errors"
	"strconv"

	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

func (d *Desk) toolCandidates([]string) (out []Candidate) {
	for _, t := range tools {
		out = append(out, Candidate{Text: t.name})
	}
	return out
}

func (d *Desk) toolVerb(a []string) error {
	if len(a) != 1 || toolNamed(a[0]) == nil {
		return errUsage
	}
	d.begin(toolNamed(a[0]))
	return nil
}

func (d *Desk) stampFill(a []string) error {
	if len(a) != 3 {
		return errUsage
	}
	pts, err := d.framePoints(a[:2])
	if err != nil {
		return err
	}
	pitch, err := framePoint(a[2])
	if err != nil {
		return err
	}
	return d.draw("stamp a box full", func(tx *dossier.Tx, on edit.On) error {
		_, err := edit.StampFill(tx, on, d.stampSize(), pitch, geom.Box(pts[0].X, pts[0].Y, pts[1].X, pts[1].Y))
		return err
	})
}

func (d *Desk) selectCandidates(before []string) []Candidate {
	if len(before) == 1 && before[0] == "layer" {
		return d.layerCandidates(nil)
	}
	return wordsOf("here", "more", "all", "none", "layer", "box")(d, nil)
}

func (d *Desk) selectVerb(a []string) error {
	switch {
	case len(a) == 1 && (a[0] == "here" || a[0] == "more"):
		d.click(a[0] == "more")
		return nil
	case len(a) == 1 && a[0] == "all":
		return d.chooseAll("")
	case len(a) == 1 && a[0] == "none":
		d.choose(edit.Selection{})
		return nil
	case len(a) == 2 && a[0] == "layer":
		if _, err := d.layerNamed(a[1]); err != nil {
			return err
		}
		return d.chooseAll(a[1])
	case len(a) == 3 && a[0] == "box":
		pts, err := d.framePoints(a[1:])
		if err != nil {
			return err
		}
		return d.chooseBox(pts)
	}
	return errUsage
}

func (d *Desk) pasteVerb(a []string) error {
	switch len(a) {
	case 0:
		d.carryClip()
		return nil
	case 1:
		v, err := d.framePoint(a[0])
		if err != nil {
			return err
		}
		if len(d.clip.Shapes)+len(d.clip.Labels)+len(d.clip.Placements) == 0 {
			return errors.New("nothing was copied")
		}
		var made edit.Selection
		if d.edit("paste a copy", func(tx *dossier.Tx) (err error) {
			made, err = edit.Paste(tx, d.cell(), d.clip, v.Round())
			return err
		}) {
			d.choose(made)
		}
		return nil
	}
	return errUsage
}

// nameCandidates are the names of nets and labels.
func (d *Desk) nameCandidates([]string) (out []Candidate) {
	seen := map[string]bool{}
	add := func(name, note string) {
		if name != "" && !seen[name] && len(out) < 1000 {
			seen[name] = true
			out = append(out, Candidate{harmless(name), note})
		}
	}
	if d.live != nil {
		for _, n := range d.live.res.Circuit.Nets {
			add(n.Name, n.Layer)
		}
	}
	for _, l := range d.labels {
		add(l.Text, l.Layer)
	}
	return out
}

func (d *Desk) cellCandidates([]string) (out []Candidate) {
	cells, err := d.file.Cells()
	if err != nil {
		return nil
	}
	for _, c := range cells {
		if c.ID != dossier.Frame {
			out = append(out, Candidate{Text: c.Name})
		}
	}
	return out
}

func (d *Desk) listCandidates([]string) (out []Candidate) {
	for _, k := range listKinds {
		out = append(out, Candidate{k.kind, k.title})
	}
	return out
}

func (d *Desk) arrayVerb(a []string) error {
	if len(a) != 4 {
		return errUsage
	}
	columns, err1 := strconv.Atoi(a[0])
	rows, err2 := strconv.Atoi(a[1])
	if err1 != nil || err2 != nil {
		return errUsage
	}
	c, err := framePoint(a[2])
	if err != nil {
		return err
	}
	r, err := framePoint(a[3])
	if err != nil {
		return err
	}
	return d.arrayOf(columns, rows, c, r)
}

func (d *Desk) oddVerb(a []string) error {
	if len(a) != 2 {
		return errUsage
	}
	v, err := pair(a[0])
	if err != nil || v != vec(v.Round()) {
		return errUsage
	}
	return d.oddOne(int(v.X), int(v.Y), a[1])
}
