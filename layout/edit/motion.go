package edit

import (
	"fmt"
	"math"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// motion is a map of the plane that keeps angles: a mirror at the x axis, a magnification and a turn, with a move.
type motion struct {
	t       geom.Transform
	mirror  bool
	mag     float64
	degrees float64
}

func moving(d geom.Point) motion { return motion{geom.Move(d), false, 1, 0} }

// turning turns by degrees counterclockwise about a point, which stays; with mirror, it mirrors at the level line through
// the point first.
func turning(mirror bool, degrees float64, about geom.Point) motion {
	back := geom.Move(geom.Point{X: -about.X, Y: -about.Y})
	return motion{back.Then(geom.NewTransform(mirror, 1, degrees, about)), mirror, 1, degrees}
}

// member is the motion from a cell to where a member of a placement shows it.
func member(p dossier.Placement, c, r int) motion {
	q := toLayout(p)
	return motion{q.Member(c, r), p.Mirror, p.Magnification, p.Degrees}
}

// polygons returns what a polygon becomes. Where points have to be rounded and a valid polygon does not stay so, it is made
// valid: that may be several polygons, or none if it has become too small.
func (m motion) polygons(pg geom.Polygon) []geom.Polygon {
	image := m.t.ApplyPolygon(pg)
	if m.t.Mirrors() {
		for _, r := range image {
			slices.Reverse(r)
		}
	}
	if m.t.Upright() {
		return []geom.Polygon{image}
	}
	if f, bad := image.Fault(); !bad || f.Kind == geom.BeyondFrame {
		return []geom.Polygon{image}
	}
	if _, before := pg.Fault(); before {
		return []geom.Polygon{image}
	}
	return region.Clean(image)
}

// vec returns what an extent becomes.
func (m motion) vec(v geom.Vec) geom.Vec {
	if m.mirror {
		v.Y = -v.Y
	}
	v = v.Scale(m.mag)
	switch turn := normal(m.degrees); turn {
	case 0:
		return v
	case 90:
		return geom.Vec{X: -v.Y, Y: v.X}
	case 180:
		return geom.Vec{X: -v.X, Y: -v.Y}
	case 270:
		return geom.Vec{X: v.Y, Y: -v.X}
	default:
		sin, cos := math.Sincos(turn * math.Pi / 180)
		return geom.Vec{X: float64(v.X*cos) - float64(v.Y*sin), Y: float64(v.X*sin) + float64(v.Y*cos)}
	}
}

// normal returns the angle in [0, 360).
func normal(degrees float64) float64 {
	turn := math.Mod(degrees, 360)
	if turn < 0 {
		turn += 360
	}
	if turn >= 360 { // a tiny negative one, rounded
		turn = 0
	}
	return turn
}

// placement returns what a placement becomes. Its members are rounded one by one in their new places.
func (m motion) placement(p dossier.Placement) dossier.Placement {
	if m.mirror {
		p.Mirror, p.Degrees = !p.Mirror, -p.Degrees
	}
	p.Degrees = normal(p.Degrees + m.degrees)
	p.Magnification *= m.mag
	p.At = m.t.Apply(p.At)
	p.ColumnExtent, p.RowExtent = m.vec(p.ColumnExtent), m.vec(p.RowExtent)
	return p
}

// move puts the things where they belong. Shapes that fall into several are several then, the first with its id; edges
// are as uncertain as before, in proportion to their size.
func (m motion) move(t *things) error {
	var shapes []dossier.Shape
	for _, s := range t.shapes {
		pgs := m.polygons(s.Polygon)
		if len(pgs) == 0 {
			return fmt.Errorf("%s: shape %d at %s would become smaller than the frame's grid of 1 nm: leave it out, or turn it by quarters", s.Layer, s.ID, place(s.Polygon[0][0]))
		}
		s.SigmaNm *= m.mag
		for _, pg := range pgs {
			s.Polygon = pg
			shapes = append(shapes, s)
			s.ID = 0
		}
	}
	t.shapes = shapes
	for i := range t.labels {
		t.labels[i].At = m.t.Apply(t.labels[i].At)
	}
	for i := range t.placements {
		t.placements[i] = m.placement(t.placements[i])
	}
	return nil
}

// arrange is an operation that moves what is selected.
func arrange(tx *dossier.Tx, sel Selection, m motion) error {
	t, err := load(tx, sel)
	if err == nil {
		err = m.move(&t)
	}
	if err == nil {
		err = t.write(tx)
	}
	return err
}

// Move moves what is selected.
func Move(tx *dossier.Tx, sel Selection, by geom.Point) error { return arrange(tx, sel, moving(by)) }

// Turn turns what is selected counterclockwise about a point. Quarters of a turn are exact; by other angles corners are
// rounded to the grid. Members of a turned array are rounded anew: where its pitch is not whole, they may lie 1 nm from
// where turning them one by one would put them.
func Turn(tx *dossier.Tx, sel Selection, about geom.Point, degrees float64) error {
	if err := angle(degrees); err != nil {
		return err
	}
	return arrange(tx, sel, turning(false, degrees, about))
}

// Mirror mirrors what is selected at the line through a point that rises at an angle: 0 for a level line, 90 for an
// upright one. Multiples of 45° are exact. Arrays are rounded as when they are turned.
func Mirror(tx *dossier.Tx, sel Selection, about geom.Point, degrees float64) error {
	if err := angle(degrees); err != nil {
		return err
	}
	return arrange(tx, sel, turning(true, 2*normal(degrees), about))
}

func angle(degrees float64) error {
	if !(degrees >= -1e6 && degrees <= 1e6) {
		return fmt.Errorf("an angle of %g°: give one between 0 and 360", degrees)
	}
	return nil
}

// Duplicate draws what is selected once more, moved, and returns the new things. They say of themselves what the old ones do.
func Duplicate(tx *dossier.Tx, sel Selection, by geom.Point) (Selection, error) {
	t, err := load(tx, sel)
	if err != nil {
		return Selection{}, err
	}
	t.asNew(t.cell)
	if err := moving(by).move(&t); err != nil {
		return Selection{}, err
	}
	if err := t.write(tx); err != nil {
		return Selection{}, err
	}
	return t.ids(), nil
}
