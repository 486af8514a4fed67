package desk

import (
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

// snapping says what points are drawn to.
type snapping struct {
	on, vertices, edges, angles bool
	grid                        int // nm; 0: none
}

// reachPx is how far a vertex or an edge draws, in px of the view.
const reachPx = 3

// reach is the same in nm.
func (d *Desk) reach() int {
	return max(1, geom.RoundHalfUp(min(reachPx*d.eyes[0].view.NmPerPx, geom.Limit)))
}

// near is what snapping and clicks look at: shapes of what is drawn in that are open, but those that are being carried.
func (d *Desk) near(without ...int64) edit.Nearby {
	shapes := edit.ShapesOf(d.file, d.cell())
	return func(box geom.Rect) ([]dossier.Shape, error) {
		all, err := shapes(box)
		return slices.DeleteFunc(all, func(s dossier.Shape) bool { return !d.isOpen(s.Layer) || slices.Contains(without, s.ID) }), err
	}
}

// inDie is the cursor's place as a point of the die.
func (d *Desk) inDie() geom.Point {
	p := d.eyes[0].cursor.Round()
	p.X, p.Y = max(-geom.Limit, min(geom.Limit, p.X)), max(-geom.Limit, min(geom.Limit, p.Y))
	return p
}

// snapped is where the cursor is drawn to.
func (d *Desk) snapped() edit.Snapped {
	p := d.inDie()
	if !d.snap.on {
		return edit.Snapped{At: p, Kind: edit.SnapNothing}
	}
	s := edit.Snap{Grid: d.snap.grid, Reach: d.reach(), Vertices: d.snap.vertices, Edges: d.snap.edges, Axis: d.axis, Near: d.near()}
	switch {
	case d.carry != nil:
		s.Near = d.near(d.carry.shapes...)
		s.Anchor, s.Angles = d.carry.from, d.snap.angles && d.carry.angles
	case d.tool != nil && d.tool.angles && len(d.points) > 0:
		s.Anchor, s.Angles = d.points[len(d.points)-1], d.snap.angles
	}
	got, err := s.Point(p)
	if err != nil {
		d.fail(err)
		return edit.Snapped{At: p, Kind: edit.SnapNothing}
	}
	return got
}

// snapCorners is how many corners the mark of what caught a point has.
var snapCorners = map[edit.SnapKind]int{edit.SnapVertex: 4, edit.SnapEdge: 3, edit.SnapAngleAndEdge: 6, edit.SnapAngle: 5, edit.SnapGrid: 8}

// set turns parts of snapping on by their words.
func (s *snapping) set(words []string) error {
	n := snapping{on: true}
	for i := 0; i < len(words); i++ {
		switch words[i] {
		case "off":
			n = *s
			n.on = false
		case "on":
			n = *s
			n.on = true
		case "vertex":
			n.vertices = true
		case "edge":
			n.edges = true
		case "angle":
			n.angles = true
		case "grid":
			if i++; i == len(words) {
				return errUsage
			}
			v, err := number(words[i])
			if err != nil {
				return err
			}
			if n.grid = geom.RoundHalfUp(v * 1000); n.grid < 0 || n.grid > geom.Limit {
				return errUsage
			}
		default:
			return errUsage
		}
	}
	*s = n
	return nil
}
