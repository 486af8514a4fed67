package measure

import (
	"math"

	"undermetal/layout"
)

// line is what tells a drawn edge from others: its number, or, where an edge of the outline is part of none, such as of one that several
// shapes make, its layer, its direction in 1e-6 and its distance from the origin in nm.
type line struct {
	drawn    int32
	layer    layout.Layer
	dir, off float64
}

// lineOf returns the line of an edge. Edges of one line are parts of one drawn edge, such as those of a diffusion that the bars of a mesh
// part, or of a bar that many openings lie along, and move as one. Edges of several shapes, or of several openings of one, err by
// themselves though they may lie on one line; those of copies of a cell err alike.
func (n *normal) lineOf(r, i int) line {
	e := n.edges[r][i]
	if e.drawn > 0 {
		return line{drawn: e.drawn}
	}
	p, q := n.rings[r][i], n.rings[r][(i+1)%len(n.rings[r])]
	length := math.Hypot(q.X-p.X, q.Y-p.Y)
	nx, ny := (q.Y-p.Y)/length, -(q.X-p.X)/length
	return line{0, e.layer, math.Round(math.Atan2(ny, nx) * 1e6), math.Round(nx*p.X + ny*p.Y)}
}
