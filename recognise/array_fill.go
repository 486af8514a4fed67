package recognise

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
)

// vacancy is a free place of an array.
type vacancy struct {
	pattern *library.Pattern
	mirror  bool
	at      geom.Point
}

// fillPlaces seats what lies on free places: fits with a loose port, and those that lack a piece. What else lies there is told.
func (b *arrayBuilder) fillPlaces() {
	b.vacant = map[vacancy]string{}
	var strays []*Fit
	for _, fits := range [][]Fit{b.r.Fits, b.r.Partial} {
		for i := range fits {
			if !b.in[&fits[i]] {
				strays = append(strays, &fits[i])
			}
		}
	}
	at := make([]geom.Vec, len(strays))
	for i, f := range strays {
		at[i] = middleOf(f.Box)
	}
	near := newCloud(at)
	for k := range b.all {
		if a := &b.all[k]; slices.Contains(a.Members, nil) {
			if b.placed {
				b.fillByPlace(a, strays, near)
			} else {
				b.fillByNets(a, strays)
			}
		}
	}
}

// fillByPlace seats the best of what lies within half a step of a free place.
func (b *arrayBuilder) fillByPlace(a *Array, strays []*Fit, near *cloud) {
	dr, dc := meanStep(a.rowAt), meanStep(a.columnAt)
	if dr == 0 {
		dr = dc
	}
	if dc == 0 {
		dc = dr
	}
	for i := range a.Members {
		if a.Members[i] != nil {
			continue
		}
		row, column := a.rowAt[i/a.Columns], a.columnAt[i%a.Columns]
		var here []*Fit
		for _, k := range near.nearest(a.point(row, column), 30, math.Hypot(dr, dc)/2) {
			f := strays[k]
			if !b.in[f] && math.Abs(a.along(f, true)-row) < dr/2 && math.Abs(a.along(f, false)-column) < dc/2 {
				here = append(here, f)
			}
		}
		if len(here) == 0 {
			continue
		}
		slices.SortStableFunc(here, func(x, y *Fit) int { return cmp.Or(cmp.Compare(a.rank(x), a.rank(y)), cmp.Compare(y.Weight, x.Weight)) })
		if a.rank(here[0]) < otherFit {
			a.Members[i] = here[0]
			b.in[here[0]] = true
		} else {
			b.vacant[vacancy{a.Pattern, a.Mirror, a.Place(i/a.Columns, i%a.Columns)}] = "there is a " + here[0].Pattern.Title + " here"
		}
	}
}

const otherFit = 2

// rank orders what may be meant by a place of the array: the pattern, then the pattern with pieces missing, then others.
func (a *Array) rank(f *Fit) int {
	switch {
	case f.Pattern != a.Pattern || f.Mirror != a.Mirror:
		return otherFit
	case !f.Full():
		return 1
	}
	return 0
}

// Full reports whether nothing is missing from a fit, and nothing too many.
func (f *Fit) Full() bool { return len(f.Missing)+len(f.Extra) == 0 }

// meanStep is how far lines lie apart, in nm; 0: there is one only.
func meanStep(at []float64) float64 {
	if len(at) < 2 {
		return 0
	}
	return (at[len(at)-1] - at[0]) / float64(len(at)-1)
}

// fillByNets seats fits where their nets say: on the row and the column that they have a net of, or on the only free place of it.
func (b *arrayBuilder) fillByNets(a *Array, strays []*Fit) {
	us := a.usuals()
	for _, f := range strays {
		if b.in[f] || a.rank(f) >= otherFit {
			continue
		}
		rows, columns := a.linesOf(f, us, byRow), a.linesOf(f, us, byColumn)
		var free []int
		for i, m := range a.Members {
			if m == nil && (rows[i/a.Columns] || len(rows) == 0) && (columns[i%a.Columns] || len(columns) == 0) {
				free = append(free, i)
			}
		}
		if len(rows)+len(columns) > 0 && len(free) == 1 {
			a.Members[free[0]] = f
			b.in[f] = true
		}
	}
}

// linesOf returns the rows, or columns, that a port of f is on the net of.
func (a *Array) linesOf(f *Fit, us []usualNets, kind lined) map[int]bool {
	lines := map[int]bool{}
	for i := range us {
		u := &us[i]
		if u.lined != kind {
			continue
		}
		keys := u.rows
		if kind == byColumn {
			keys = u.columns
		}
		for l, k := range keys {
			for _, p := range u.class.ports {
				if n := f.Ports[p]; n != netlist.NoNet && slices.Contains(k[:], n) {
					lines[l] = true
				}
			}
		}
	}
	return lines
}
