package region

import (
	"fmt"

	"undermetal/layout/geom"
)

// Union returns the pieces of what the polygons cover together.
func Union(pgs ...geom.Polygon) []Piece {
	var all []Piece
	u := single{finder: newFinder(func(m uint64) bool { return m != 0 })}
	for _, members := range clustersOf(pgs) {
		if len(members) == 1 {
			if p, ok := alone(pgs[members[0]], int(members[0])); ok {
				all = append(all, p)
				continue
			}
		}
		u.reset()
		for _, i := range members {
			u.in.add(pgs[i], 0, int(i)+1)
		}
		all = append(all, u.pieces()...)
	}
	order(all)
	return all
}

// Trimmer takes polygons away from others, one after the other, in the same memory. The zero value is ready; it is for one goroutine.
type Trimmer struct{ single }

// Outside returns what of a polygon lies outside of others: the first part of what Cut returns.
func (t *Trimmer) Outside(pg geom.Polygon, others ...geom.Polygon) []geom.Polygon {
	if t.finder == nil {
		t.finder = newFinder(func(m uint64) bool { return m == 1 })
	}
	t.reset()
	t.in.add(pg, 0, 1)
	for _, o := range others {
		t.in.add(o, 1, 0)
	}
	return Polygons(t.pieces())
}

// Clean returns valid polygons that cover what one polygon of any kind covers: none where that is nothing.
func Clean(pg geom.Polygon) []geom.Polygon { return Polygons(Union(pg)) }

// Polygons returns the polygons of pieces.
func Polygons(pieces []Piece) []geom.Polygon {
	var all []geom.Polygon
	for _, p := range pieces {
		all = append(all, p.Polygon)
	}
	return all
}

// Cut returns what of a polygon lies outside of others, and what lies inside.
func Cut(pg geom.Polygon, others ...geom.Polygon) (outside, inside []geom.Polygon) {
	in := &input{}
	in.add(pg, 0, 1)
	for _, o := range others {
		in.add(o, 1, 0)
	}
	out, both := in.run(func(m uint64) bool { return m == 1 }, func(m uint64) bool { return m == 3 })
	return Polygons(out), Polygons(both)
}

// Split returns what of a polygon lies left of the way from a to b, taken on in both directions, and what lies right of
// it. Where one of the two is empty, nothing was cut. The line is exact if it is parallel to an axis or at 45° to one;
// any other is if it reaches the box around the polygon at whole multiples of b - a divided by the greatest common divisor
// of its coordinates without leaving the frame; else its ends are rounded to the grid.
func Split(pg geom.Polygon, a, b geom.Point) (left, right []geom.Polygon, err error) {
	if a == b {
		return nil, nil, fmt.Errorf("a line from (%g, %g) µm to itself has no direction: give two points", um(a.X), um(a.Y))
	}
	var corners geom.Ring // of the box, left of the line, counterclockwise
	box := pg.Bounds()
	if box.Empty() {
		return nil, nil, nil
	}
	around, start, rightOf := box.Ring(), -1, false
	for i, c := range around {
		rightOf = rightOf || geom.Side(a, b, c) < 0
		if geom.Side(a, b, c) > 0 && geom.Side(a, b, around[(i+3)%4]) <= 0 {
			start = i
		}
	}
	switch {
	case !rightOf:
		return []geom.Polygon{pg}, nil, nil
	case start < 0:
		return nil, []geom.Polygon{pg}, nil
	}
	for i := start; geom.Side(a, b, around[i%4]) > 0; i++ {
		corners = append(corners, around[i%4])
	}
	in := &input{}
	in.add(pg, 0, 1)
	in.add(geom.Polygon{append(geom.Ring{beyond(b, a, box), beyond(a, b, box)}, corners...)}, 1, 0)
	l, r := in.run(func(m uint64) bool { return m == 3 }, func(m uint64) bool { return m == 1 })
	return Polygons(l), Polygons(r), nil
}

// beyond returns a point of the line through a and b, not before b, at which it has left the box that it crosses.
func beyond(a, b geom.Point, box geom.Rect) geom.Point {
	d := b.Sub(a)
	g := gcd(abs(d.X), abs(d.Y))
	d.X, d.Y = d.X/g, d.Y/g
	steps := 1 << 32 // from b
	if d.X != 0 {
		steps = min(steps, stepsTo(b.X, d.X, box.Min.X, box.Max.X))
	}
	if d.Y != 0 {
		steps = min(steps, stepsTo(b.Y, d.Y, box.Min.Y, box.Max.Y))
	}
	p := geom.Point{X: b.X + steps*d.X, Y: b.Y + steps*d.Y}
	if p.InFrame() {
		return p
	}
	way := 1.0 // from b to p, where it leaves the box
	if p.X < box.Min.X || p.X > box.Max.X {
		way = min(way, float64(min(max(p.X, box.Min.X), box.Max.X)-b.X)/float64(p.X-b.X))
	}
	if p.Y < box.Min.Y || p.Y > box.Max.Y {
		way = min(way, float64(min(max(p.Y, box.Min.Y), box.Max.Y)-b.Y)/float64(p.Y-b.Y))
	}
	return geom.Vec{X: float64(b.X) + way*float64(p.X-b.X), Y: float64(b.Y) + way*float64(p.Y-b.Y)}.Round()
}

// stepsTo returns how many steps of d it takes from x, at least none, to the end of the range that d leads to.
func stepsTo(x, d, lo, hi int) int {
	if d < 0 {
		x, d, hi = -x, -d, -lo
	}
	return max((hi-x+d-1)/d, 0)
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func um(nm int) float64 { return float64(nm) / 1000 }
