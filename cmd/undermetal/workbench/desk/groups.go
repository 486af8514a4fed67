package desk

import (
	"fmt"
	"strings"

	"undermetal/layout/geom"
)

// groupRows are what was recognised: arrays, each followed by its odd members, full fits, and fits that lack pieces, with these.
func (d *Desk) groupRows() (rows []row) {
	if d.live == nil {
		return nil
	}
	add := func(n int, box geom.Rect, at geom.Point, mark, text, note string) {
		r := placeRow(n, -1, at, text, note)
		r.Mark, r.box = mark, box
		rows = append(rows, r)
	}
	for i := range d.live.groups {
		s := &d.live.groups[i]
		switch a := s.Array; {
		case a != nil:
			add(i, a.Box, a.Box.Min.Add(geom.Point{X: a.Box.Width() / 2, Y: a.Box.Height() / 2}), "▦", s.Title(), fmt.Sprintf("%s, %d odd", counted(a.Count(), "member"), len(a.Odd)))
			for _, o := range a.Odd {
				add(i, geom.Rect{Min: o.At, Max: o.At}, o.At, "!", fmt.Sprintf("row %d, column %d", o.Row, o.Column), o.Text)
			}
		default:
			box, mark, note := s.Fit.Box, " ", counted(len(s.Devices()), "device")
			at := box.Min.Add(geom.Point{X: box.Width() / 2, Y: box.Height() / 2})
			if !s.Full() {
				var lacks []string
				for _, p := range s.Fit.Missing {
					lacks = append(lacks, "lacks "+p.Text)
					at = p.At
				}
				for _, p := range s.Fit.Extra {
					lacks = append(lacks, "has "+p.Text)
					at = p.At
				}
				mark, note = "?", strings.Join(lacks, "; ")
			}
			add(i, box, at, mark, s.Title(), note)
		}
	}
	return rows
}
