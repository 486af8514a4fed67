package extract

import (
	"math"
	"slices"

	"undermetal/layout/geom"
)

// around returns the box around the pieces of a region.
func around(boxes []box) geom.Rect {
	r := geom.EmptyRect()
	for _, b := range boxes {
		r = r.Union(geom.Box(int(b.x0), int(b.y0), int(b.x1), int(b.y1)))
	}
	return r
}

// inside returns a point in a region that depends on neither strips nor the order of shapes where its edges are upright:
// the middle of a rectangle, of another region that of the largest square that fits into its lowest, then leftmost
// corner. Between slanted edges it is the middle of a piece, and strips may cut others.
func inside(boxes []box, all geom.Rect, corner geom.Point) geom.Point {
	area, slanted := 0, false
	side, beyond := 1, min(all.Width(), all.Height())+1 // a square of side fits, one of beyond does not
	for i := range boxes {
		b := &boxes[i]
		area += int(b.x1-b.x0) * int(b.y1-b.y0)
		slanted = slanted || b.slanted
		if corner.X >= int(b.x0) && corner.Y >= int(b.y0) {
			side = max(side, min(int(b.x1)-corner.X, int(b.y1)-corner.Y))
		}
	}
	switch {
	case slanted:
		return largestMiddle(boxes)
	case area == all.Width()*all.Height():
		return geom.Point{X: (all.Min.X + all.Max.X) / 2, Y: (all.Min.Y + all.Max.Y) / 2}
	}
	for step := 1; side+1 < beyond; step *= 4 { // often the first square reaches as far as any
		if next := min(side+step, (side+beyond)/2); fills(boxes, corner, next) {
			side = next
		} else {
			beyond = next
		}
	}
	return geom.Point{X: corner.X + side/2, Y: corner.Y + side/2}
}

// insideWell is inside for a well, of which there are walls and few boxes: all that lies in it cuts it into pieces.
func insideWell(boxes []box, walls []wall, area float64, all geom.Rect, corner geom.Point) geom.Point {
	switch {
	case slices.ContainsFunc(boxes, func(b box) bool { return b.slanted }), slices.ContainsFunc(walls, func(w wall) bool { return w.ax != w.bx && w.ay != w.by }):
		return largestMiddle(boxes) // of a piece that leans by 1 nm the box may be as wide as the piece is at half its height
	case area == float64(all.Width()*all.Height()):
		return geom.Point{X: (all.Min.X + all.Max.X) / 2, Y: (all.Min.Y + all.Max.Y) / 2}
	}
	side := min(all.Width(), all.Height())
	for i := range walls {
		w := &walls[i]
		if int(max(w.ax, w.bx)) > corner.X && int(max(w.ay, w.by)) > corner.Y { // a square that is larger than this has it inside
			side = min(side, max(int(min(w.ax, w.bx))-corner.X, int(min(w.ay, w.by))-corner.Y))
		}
	}
	return geom.Point{X: corner.X + side/2, Y: corner.Y + side/2}
}

// fills reports whether boxes that do not overlap cover the square of that side right of and above corner.
func fills(boxes []box, corner geom.Point, side int) bool {
	area := 0
	for i := range boxes {
		b := &boxes[i]
		w := min(int(b.x1), corner.X+side) - max(int(b.x0), corner.X)
		h := min(int(b.y1), corner.Y+side) - max(int(b.y0), corner.Y)
		if w > 0 && h > 0 {
			area += w * h
		}
	}
	return area == side*side
}

// largestMiddle returns the middle of the largest of the pieces of a region: corners may be shared with a neighbour, and
// between slanted edges a sliver's box may be large.
func largestMiddle(boxes []box) geom.Point {
	b := slices.MaxFunc(boxes, func(a, b box) int { return larger(&a, &b) })
	return geom.Point{X: int(b.x), Y: (int(b.low) + int(b.high)) / 2}
}

// straight reports whether the spans of a channel are two opposite sides of a rectangle that the channel fills. Between two
// sides that face each other, the rest of an outline is no longer than twice their distance only where it goes straight
// from one to the other; area and perimeter then say all.
func straight(spans []span, area, perimeter float64) bool {
	if len(spans) < 2 {
		return false
	}
	length := math.Hypot(spans[0].bx-spans[0].ax, spans[0].by-spans[0].ay)
	ux, uy := (spans[0].bx-spans[0].ax)/length, (spans[0].by-spans[0].ay)/length
	type line struct{ at, lo, hi, covered float64 }
	var lines [2]line
	n := 0
	for _, s := range spans {
		a, b := ux*s.ay-uy*s.ax, ux*s.by-uy*s.bx
		if math.Abs(a-b) > nearNm {
			return false
		}
		lo, hi := ux*s.ax+uy*s.ay, ux*s.bx+uy*s.by
		lo, hi = min(lo, hi), max(lo, hi)
		k := 0
		for k < n && math.Abs(lines[k].at-a) > nearNm {
			k++
		}
		switch {
		case k == len(lines):
			return false
		case k == n:
			lines[k] = line{a, lo, hi, hi - lo}
			n++
		default:
			l := &lines[k]
			l.lo, l.hi, l.covered = min(l.lo, lo), max(l.hi, hi), l.covered+hi-lo
		}
	}
	near := func(a, b float64) bool { return math.Abs(a-b) <= nearNm }
	w, d := lines[0].hi-lines[0].lo, math.Abs(lines[0].at-lines[1].at)
	return n == 2 && near(lines[0].covered, w) && near(lines[1].covered, w) && near(lines[0].lo, lines[1].lo) && near(lines[0].hi, lines[1].hi) &&
		near(perimeter, 2*(w+d)) && share(area, w*d) == 1
}

// nearNm is by how much lengths may differ that are equal but for rounding of sums.
const nearNm = 1e-3
