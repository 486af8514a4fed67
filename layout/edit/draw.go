package edit

import (
	"fmt"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
	"undermetal/layout/region"
)

// Rectangle draws the rectangle between two opposite corners and returns its id.
func Rectangle(tx *dossier.Tx, on On, a, b geom.Point) (int64, error) {
	if a.X == b.X || a.Y == b.Y {
		return 0, fmt.Errorf("%s: a rectangle from %s to %s has no area: give corners that differ in x and in y", on.Layer, place(a), place(b))
	}
	return Polygon(tx, on, geom.Polygon{geom.Box(a.X, a.Y, b.X, b.Y).Ring()})
}

// Polygon draws a polygon and returns its id: an outer ring, and holes in it. Points that repeat the one before are
// dropped, and rings are turned so that the outer one is counterclockwise and the holes are clockwise.
func Polygon(tx *dossier.Tx, on On, pg geom.Polygon) (int64, error) {
	if err := on.check(tx); err != nil {
		return 0, err
	}
	s := on.shape()
	s.Polygon = oriented(pg)
	err := put(tx, &s)
	return s.ID, err
}

// Wire draws what a pen of a width, in nm, covers on its way along a line, and returns the ids of the shapes: as a rule
// one. A wire that crosses itself has holes; one that touches itself in a single point is two shapes. Joins are mitred,
// and cut off straight at turns of more than 151°; see layout/pen, also for the ends. Where the width is odd, a wire
// along the axes lies half a nanometre higher and further right.
func Wire(tx *dossier.Tx, on On, line []geom.Point, width int, ends pen.Ends) ([]int64, error) {
	if err := on.check(tx); err != nil {
		return nil, err
	}
	if len(line) == 0 {
		return nil, fmt.Errorf("%s: a wire without points: give two or more", on.Layer)
	}
	if width < 1 || width > geom.Limit {
		return nil, fmt.Errorf("%s: a wire of width %g µm at %s: give one of 0.001 µm or more, within the frame", on.Layer, um(width), place(line[0]))
	}
	for _, p := range line {
		if !p.InFrame() {
			return nil, valid(on.Layer, geom.Polygon{{p, p, p}})
		}
	}
	pg, inside := new(pen.Stroker).Outline(pen.Stroke{Line: pen.DistinctNeighbours(append([]geom.Point(nil), line...)), Width: width, Ends: ends}, nil)
	if !inside {
		return nil, fmt.Errorf("%s: a wire from %s of width %g µm leaves the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin", on.Layer, place(line[0]), um(width))
	}
	pgs := []geom.Polygon{pg}
	if _, bad := pg.Fault(); bad {
		pgs = region.Clean(pg)
	}
	if len(pgs) == 0 {
		return nil, fmt.Errorf("%s: a wire at %s covers nothing: give two points that differ, or a larger width", on.Layer, place(line[0]))
	}
	for i := range pgs {
		pgs[i] = oriented(pgs[i])
	}
	return addAll(tx, on.shape(), pgs)
}

// Stamp draws a rectangle of a size, in nm, around each of some points, such as contacts, and returns their ids. Where the
// size is odd, a rectangle lies half a nanometre further right, or up.
func Stamp(tx *dossier.Tx, on On, size geom.Point, at ...geom.Point) ([]int64, error) {
	if err := on.check(tx); err != nil {
		return nil, err
	}
	if len(at) == 0 {
		return nil, fmt.Errorf("%s: no point to stamp at: give one or more", on.Layer)
	}
	if err := checkSize(on.Layer, size, at[0]); err != nil {
		return nil, err
	}
	var pgs []geom.Polygon
	for _, p := range at {
		if !p.InFrame() {
			return nil, valid(on.Layer, geom.Polygon{{p, p, p}})
		}
		lo := geom.Point{X: p.X - size.X/2, Y: p.Y - size.Y/2}
		pgs = append(pgs, geom.Polygon{geom.Rect{Min: lo, Max: lo.Add(size)}.Ring()})
	}
	return addAll(tx, on.shape(), pgs)
}

func checkSize(layer string, size, at geom.Point) error {
	if size.X < 1 || size.Y < 1 || size.X > geom.Limit || size.Y > geom.Limit {
		return fmt.Errorf("%s: a stamp of %g × %g µm at %s: give sides of 0.001 µm or more, within the frame", layer, um(size.X), um(size.Y), place(at))
	}
	return nil
}

// MaxStamps is the most rectangles that StampFill draws.
const MaxStamps = 1 << 20

// StampFill draws as many rectangles of a size, in nm, as a box holds at a pitch, in its middle, and returns their ids, row
// by row from below. The pitch need not be whole: each rectangle is rounded to the grid by itself.
func StampFill(tx *dossier.Tx, on On, size geom.Point, pitch geom.Vec, box geom.Rect) ([]int64, error) {
	if box.Empty() {
		return nil, fmt.Errorf("%s: a box that holds nothing: give its lower left corner first", on.Layer)
	}
	if err := checkSize(on.Layer, size, box.Min); err != nil {
		return nil, err
	}
	if !(pitch.X >= float64(size.X) && pitch.Y >= float64(size.Y)) {
		return nil, fmt.Errorf("%s: a pitch of %g × %g µm for stamps of %g × %g µm at %s: give one that is no smaller, so that they do not overlap",
			on.Layer, pitch.X/1000, pitch.Y/1000, um(size.X), um(size.Y), place(box.Min))
	}
	columns, x := share(box.Width(), size.X, pitch.X)
	rows, y := share(box.Height(), size.Y, pitch.Y)
	if columns < 1 || rows < 1 {
		return nil, fmt.Errorf("%s: a box of %g × %g µm at %s holds no stamp of %g × %g µm: take a larger box, or a smaller stamp",
			on.Layer, um(box.Width()), um(box.Height()), place(box.Min), um(size.X), um(size.Y))
	}
	if columns > MaxStamps/rows {
		return nil, fmt.Errorf("%s: %d × %d stamps in the box at %s, and %d are allowed: make a cell and place it as an array", on.Layer, columns, rows, place(box.Min), MaxStamps)
	}
	var at []geom.Point
	half := geom.Point{X: size.X / 2, Y: size.Y / 2}
	for r := range rows {
		for c := range columns {
			corner := geom.Vec{X: x + float64(c)*pitch.X, Y: y + float64(r)*pitch.Y}.Round()
			at = append(at, box.Min.Add(corner).Add(half))
		}
	}
	return Stamp(tx, on, size, at...)
}

// share returns how many stamps a length holds, and where the first one begins so that they lie in the middle.
func share(length, size int, pitch float64) (n int, first float64) {
	if length < size {
		return 0, 0
	}
	n = int(float64(length-size)/pitch) + 1
	return n, (float64(length-size) - float64(n-1)*pitch) / 2
}
