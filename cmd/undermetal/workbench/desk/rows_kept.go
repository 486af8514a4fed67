package desk

import (
	"fmt"
	"math"
	"time"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

func (d *Desk) cellRows() (rows []row) {
	cells, err := d.file.Cells()
	d.try(err)
	for _, c := range cells {
		if c.ID == dossier.Frame {
			continue
		}
		where, err := d.file.PlacementsOf(c.ID)
		d.try(err)
		note, n := counted(len(where), "placement"), 0
		for _, p := range where {
			n += max(p.Columns, 1) * max(p.Rows, 1)
		}
		if n > len(where) {
			note = fmt.Sprintf("%d times in %s", n, note)
		}
		r := row{Row: Row{Text: harmless(c.Name), Note: note, Layer: -1}, n: int(c.ID)}
		rows = append(rows, r)
	}
	for _, p := range d.placed {
		if p.box.Empty() {
			continue
		}
		r := placeRow(int(p.id), -1, geom.Point{X: p.box.Min.X + p.box.Width()/2, Y: p.box.Min.Y + p.box.Height()/2}, p.name, p.how)
		r.box = p.box
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) pairRows() (rows []row) {
	if d.pairs == nil {
		return nil
	}
	for i, p := range d.pairs.points {
		note := ""
		if f := d.pairs.fit; f != nil {
			note = fmt.Sprintf("off %.2f px", math.Hypot(f.ResidualsFrom[i].X, f.ResidualsFrom[i].Y)) // the arrows in the picture say which way
			if f.Outlier[i] {
				note += ", not with the others"
			}
		}
		r := row{Row{Text: fmt.Sprintf("%d: %.1f, %.1f px", i+1, p.From.X, p.From.Y), Note: note, Layer: -1, Place: true}, p.To, geom.EmptyRect(), i}
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) historyRows() (rows []row) {
	entries, err := d.file.History()
	d.try(err)
	for i := len(entries) - 1; i >= 0; i-- {
		e := entries[i]
		r := row{Row: Row{Text: harmless(e.What), Note: e.At.Local().Format(time.DateTime), Layer: -1}, n: i}
		if e.Undone {
			r.Mark, r.Note = "↶", "taken back"
		}
		rows = append(rows, r)
	}
	return rows
}

// goToEdit takes back all edits after one, or does again up to it.
func (d *Desk) goToEdit(r row) {
	entries, err := d.file.History()
	if !d.try(err) || r.n >= len(entries) {
		return
	}
	stand := 0
	for _, e := range entries {
		if !e.Undone {
			stand++
		}
	}
	for ; stand > r.n+1; stand-- {
		if !d.undo(false) {
			return
		}
	}
	for ; stand < r.n+1; stand++ {
		if !d.undo(true) {
			return
		}
	}
}
