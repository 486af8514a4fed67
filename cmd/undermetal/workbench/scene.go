package workbench

import (
	"slices"

	"undermetal/cmd/undermetal/workbench/picture"
)

// sameJob reports whether two pictures would be the same, so that the second need not be drawn.
func sameJob(a, b *job) bool {
	return a.manner == b.manner && slices.EqualFunc(a.panes, b.panes, func(p, q pane) bool {
		return p.Bar == q.Bar && p.Box == q.Box && sameScene(&p.Scene, &q.Scene)
	})
}

func sameScene(a, b *picture.Scene) bool {
	return a.View == b.View && a.Base == b.Base && a.Over == b.Over && a.Mode == b.Mode && a.Part == b.Part && a.Second == b.Second &&
		a.Drawing == b.Drawing && a.Net == b.Net && a.Selected == b.Selected && a.Enlarge == b.Enlarge && a.Bar == b.Bar && a.Text == b.Text &&
		(a.Ruler == b.Ruler || a.Ruler != nil && b.Ruler != nil && *a.Ruler == *b.Ruler) &&
		slices.Equal(a.Layers, b.Layers) && slices.Equal(a.Arrows, b.Arrows) &&
		slices.EqualFunc(a.Lines, b.Lines, func(k, l picture.Line) bool {
			return k.Closed == l.Closed && k.Ink == l.Ink && slices.Equal(k.Places, l.Places)
		})
}
