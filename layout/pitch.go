package layout

import "undermetal/layout/geom"

// Pitch is how far the members of an array lie apart along its columns or its rows.
type Pitch struct {
	By   geom.Vec // nm in the frame, from one member to the next
	Path string   // of the member
}

// PitchesAt returns, for each place, the pitches of the arrays that the shape which covers it is drawn in, from the innermost array
// outwards, of one array the columns' first. Of several shapes it is the first in the order of the stream.
func (f *Flat) PitchesAt(places []Place) [][]Pitch {
	out, done := make([][]Pitch, len(places)), make([]bool, len(places))
	w := &pathWalk{places: places, open: func(k int32) bool { return !done[k] }}
	w.found = func(k int32, _ *Shape, _ geom.Transform) { done[k], out[k] = true, w.pitches() }
	w.run(f)
	return out
}

// pitches returns those of the arrays on the way, the innermost first.
func (w *pathWalk) pitches() []Pitch {
	var out []Pitch
	t, path := geom.Identity, ""
	for _, m := range w.way {
		p := &m.of.Placements[m.i]
		path = JoinPath(path, m.of.InstanceName(m.i, m.col, m.row))
		xx, xy, yx, yy, _, _ := t.Matrix()
		turned := func(extent geom.Vec, n int) Pitch {
			v := extent.Scale(1 / float64(n-1))
			return Pitch{geom.Vec{X: xx*v.X + xy*v.Y, Y: yx*v.X + yy*v.Y}, path}
		}
		cols, rows := p.Members()
		var own []Pitch
		if cols > 1 {
			own = append(own, turned(p.ColumnExtent, cols))
		}
		if rows > 1 {
			own = append(own, turned(p.RowExtent, rows))
		}
		out = append(own, out...)
		t = p.Member(m.col, m.row).Then(t)
	}
	return out
}
