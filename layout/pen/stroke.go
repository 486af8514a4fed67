package pen

import (
	"math"
	"slices"

	"undermetal/layout/geom"
)

// A path with a width becomes the polygon that a pen of that width covers.
//
// The outline of a pair of neighbouring segments meets on the mitre; where the mitre's tip would be farther than the
// limit from the bend (with the usual one a turn of more than 151°), the tip is cut off straight across (bevel). Every corner is rounded
// to the grid, halves up, so a path along the axes keeps its width to the nanometre even where it is odd (it then
// lies half a nanometre higher and further right), and at any other angle a corner is at most 0.71 nm off; a slanted
// path of 1 nm may round to nothing. The first and last point are not joined, even if they are the same. Round ends are
// chords of the circle, see arc; bends inside a path with round ends are mitred like all others, unless RoundBends is set.
// (GDSII does not say how bends look: common practice.)
//
// The plain outline goes along one side and back along the other. Cut along the mitre of each bend, it falls into a
// quadrilateral for each segment. While these are all counterclockwise, the outline winds around each point as often
// as it lies in one of them, and non-zero winding fills exactly their union, also where the path crosses itself. And
// while what the mitre cuts off a segment's rectangle on the inner side of a bend lies in the quadrilateral of the
// other segment, that union is what the pen covers. Where a segment is too short for that (a fold back, a small jog,
// a curve of less than 1½ half widths), the polygon is made of one counterclockwise ring for each segment, each join
// and each round end.

// Ends says how a wire ends; the numbers are those of GDSII's PATHTYPE.
type Ends int

const (
	Flush Ends = 0
	Round Ends = 1
	Half  Ends = 2 // half a width beyond the end points
	Given Ends = 4 // Begin and End beyond them
)

// DefaultLimit is how many half widths the mitre's tip may be from the bend: common practice for GDSII, and the initial
// value of stroke-miterlimit in SVG.
const DefaultLimit = 4

// Stroke is what is known of a wire: its centre line of at least one point, none equal to the one before it, and lengths
// in nm. A negative extension shortens the wire, but not past the next bend.
type Stroke struct {
	Line       []geom.Point
	Width      int // > 0
	Ends       Ends
	Begin, End int     // beyond the ends, if they are Given
	Limit      float64 // of mitres, in half widths; 0: DefaultLimit, 1: every bend is cut off straight
	RoundBends bool    // a disc at every bend
}

// bend is what the outline has at one point of the line: one corner a side, or two on the outer side of a bevel.
type bend struct {
	right, left [2]geom.Point // in the direction of travel
	mitre       bool          // there is a tip: the outer corner is right[0] (left[0]), otherwise both
	outer       float64       // > 0: the outer side is the right one; < 0: the left one; 0: neither
	inner       [2]geom.Point // the inner corners of the two segments' rectangles, before and after the bend
}

// Stroker turns strokes into polygons. Its buffers are kept from one to the next.
type Stroker struct {
	stroke  Stroke
	minCos2 float64 // a mitre is cut off where cos²(turn/2) is less
	half    float64
	dirs    []geom.Vec // unit vectors, one for each segment
	from    geom.Vec   // where the pen is set down, with the extension
	to      geom.Vec
	bends   []bend
	points  []geom.Point
	outside bool
}

// Outline returns what the pen covers, nil if that is nothing. inFrame is false if it leaves the frame. keep makes a
// polygon of one ring from a copy of its points; nil: a new one. The stroke's line may be changed.
func (s *Stroker) Outline(path Stroke, keep func([]geom.Point) geom.Polygon) (pg geom.Polygon, inFrame bool) {
	if keep == nil {
		keep = func(points []geom.Point) geom.Polygon { return geom.Polygon{slices.Clone(points)} }
	}
	limit := path.Limit
	if limit == 0 {
		limit = DefaultLimit
	}
	if path.RoundBends {
		limit = 1
	}
	s.stroke, s.half, s.outside, s.minCos2 = path, float64(path.Width)/2, false, 1/(limit*limit)
	if !s.findDirections() {
		return nil, true
	}
	if s.findBends() && s.upright() {
		if ring := s.ring(s.around()); ring != nil {
			pg = keep(ring)
		}
	} else {
		pg = s.pieces()
	}
	if path.RoundBends {
		pg = s.discs(pg)
	}
	return pg, !s.outside
}

// findDirections finds the direction of each segment and the ends of the pen's way; false if there is no way.
func (s *Stroker) findDirections() bool {
	s.dirs = s.dirs[:0]
	if len(s.stroke.Line) == 1 { // a dot; it has no direction, so one is chosen
		s.stroke.Line = append(s.stroke.Line, s.stroke.Line[0])
		s.dirs = append(s.dirs, geom.Vec{X: 1})
	}
	lengthOf := func(i int) float64 {
		d := s.stroke.Line[i+1].Sub(s.stroke.Line[i])
		return math.Hypot(float64(d.X), float64(d.Y))
	}
	for i := len(s.dirs); i+1 < len(s.stroke.Line); i++ {
		d, l := s.stroke.Line[i+1].Sub(s.stroke.Line[i]), lengthOf(i)
		s.dirs = append(s.dirs, geom.Vec{X: float64(d.X) / l, Y: float64(d.Y) / l})
	}
	last := len(s.dirs) - 1
	var before, after float64
	switch s.stroke.Ends {
	case Half:
		before, after = s.half, s.half
	case Given:
		before, after = max(float64(s.stroke.Begin), -lengthOf(0)), max(float64(s.stroke.End), -lengthOf(last))
	}
	if last == 0 && s.stroke.Ends != Round && lengthOf(0)+before+after <= 0 {
		return false
	}
	s.from = along(s.stroke.Line[0], s.dirs[0], -before)
	s.to = along(s.stroke.Line[last+1], s.dirs[last], after)
	return true
}

func along(p geom.Point, dir geom.Vec, k float64) geom.Vec {
	return geom.Vec{X: float64(p.X) + float64(k*dir.X), Y: float64(p.Y) + float64(k*dir.Y)}
}

// beside returns the corner at k nm left of v, seen in direction dir, on the grid.
func beside(v geom.Vec, dir geom.Vec, k float64) geom.Point {
	return geom.Vec{X: v.X - float64(k*dir.Y), Y: v.Y + float64(k*dir.X)}.Round()
}

// findBends finds the corners at every point of the line; false if the line turns right back somewhere.
func (s *Stroker) findBends() bool {
	last := len(s.dirs) - 1
	s.bends = append(s.bends[:0], s.square(s.from, s.dirs[0]))
	for i := 1; i <= last; i++ {
		b, ok := s.corner(s.stroke.Line[i], s.dirs[i-1], s.dirs[i])
		if !ok {
			return false
		}
		s.bends = append(s.bends, b)
	}
	s.bends = append(s.bends, s.square(s.to, s.dirs[last]))
	return true
}

func (s *Stroker) square(v, dir geom.Vec) bend {
	r, l := beside(v, dir, -s.half), beside(v, dir, s.half)
	return bend{right: [2]geom.Point{r, r}, left: [2]geom.Point{l, l}, inner: [2]geom.Point{l, l}}
}

// corner returns the bend at p from direction d to direction f. ok is false for a turn so near to 180° that the two
// inner edges do not meet within any frame.
func (s *Stroker) corner(p geom.Point, d, f geom.Vec) (b bend, ok bool) {
	cosTurn, sinTurn := dot(d, f), cross(d, f)
	cos2 := (1 + cosTurn) / 2 // cos²(turn/2)
	if cos2 < 1e-9 {
		return bend{outer: sinTurn}, false
	}
	v := along(p, d, 0)
	// The mitre points along the sum of the two normals, whose length is 2·cos(turn/2).
	sum, k := geom.Vec{X: d.X + f.X, Y: d.Y + f.Y}, s.half/(2*cos2)
	r, l := beside(v, sum, -k), beside(v, sum, k)
	b = bend{right: [2]geom.Point{r, r}, left: [2]geom.Point{l, l}, mitre: true, outer: sinTurn}
	inner := math.Copysign(s.half, sinTurn)
	b.inner = [2]geom.Point{beside(v, d, inner), beside(v, f, inner)}
	if cos2 < s.minCos2 { // the mitre is h/cos(turn/2) long, for half a width h
		b.mitre = false
		if sinTurn > 0 {
			b.right = [2]geom.Point{beside(v, d, -s.half), beside(v, f, -s.half)}
		} else {
			b.left = [2]geom.Point{beside(v, d, s.half), beside(v, f, s.half)}
		}
	}
	return b, true
}

func dot(u, v geom.Vec) float64 { return float64(u.X*v.X) + float64(u.Y*v.Y) }

func cross(u, v geom.Vec) float64 { return float64(u.X*v.Y) - float64(u.Y*v.X) }

// upright reports whether the plain outline covers what the pen does: every quadrilateral, and every bevel's triangle,
// is counterclockwise on the grid, and at every bend the inner corner of each segment's rectangle lies on the near
// side of the other segment's far cut.
func (s *Stroker) upright() bool {
	for i := range s.bends {
		b := &s.bends[i]
		if !b.inFrame() { // beyond, Side is not exact
			return false
		}
		if !counterclockwise(b.left[0], b.right[0], b.right[1]) || !counterclockwise(b.right[0], b.left[1], b.left[0]) {
			return false
		}
	}
	for i := 1; i < len(s.bends); i++ {
		a, b := &s.bends[i-1], &s.bends[i]
		rs, re, le, ls := a.right[1], b.right[0], b.left[0], a.left[1]
		if !ahead(rs, re, s.dirs[i-1]) || !ahead(ls, le, s.dirs[i-1]) { // a quadrilateral on one line can turn back
			return false
		}
		if !counterclockwise(rs, re, le) || !counterclockwise(re, le, ls) ||
			!counterclockwise(le, ls, rs) || !counterclockwise(ls, rs, re) {
			return false
		}
		if !counterclockwise(re, le, a.inner[0]) || !counterclockwise(ls, rs, b.inner[1]) {
			return false
		}
	}
	return true
}

// counterclockwise reports whether c is not right of the line from a to b.
func counterclockwise(a, b, c geom.Point) bool { return geom.Side(a, b, c) >= 0 }

// ahead reports whether b is not behind a in direction dir.
func ahead(a, b geom.Point, dir geom.Vec) bool {
	d := b.Sub(a)
	return dot(geom.Vec{X: float64(d.X), Y: float64(d.Y)}, dir) >= 0
}

func (b *bend) inFrame() bool {
	for i := range 2 {
		if !b.right[i].InFrame() || !b.left[i].InFrame() || !b.inner[i].InFrame() {
			return false
		}
	}
	return true
}

// around returns the plain outline: the right side forth, the end, the left side back, the beginning.
func (s *Stroker) around() []geom.Point {
	last := len(s.dirs) - 1
	out := s.points[:0]
	for _, b := range s.bends {
		out = append(out, b.right[0], b.right[1])
	}
	if s.stroke.Ends == Round {
		out = s.arc(out, s.to, s.dirs[last])
	}
	for i := len(s.bends) - 1; i >= 0; i-- {
		out = append(out, s.bends[i].left[1], s.bends[i].left[0])
	}
	if s.stroke.Ends == Round {
		out = s.arc(out, s.from, s.dirs[0].Scale(-1))
	}
	s.points = out
	return out
}

// arc appends the inner points of the half circle that goes counterclockwise around v from its right to its left,
// seen in direction dir. The chords stay within 1 nm of the circle, up to a width of 6.6 µm; above that there
// are 64 of them, which stay within 0.031 % of half the width. Rounding to the grid comes on top.
func (s *Stroker) arc(out []geom.Point, v, dir geom.Vec) []geom.Point {
	const sagitta, maxChords = 1, 64
	chords := 2 // always even, so that the foremost point is a corner
	if s.half > sagitta {
		chords = min(maxChords, 2*int(math.Ceil(math.Pi/(4*math.Acos(1-sagitta/s.half)))))
	}
	for i := 1; i < chords; i++ {
		sin, cos := math.Sincos(math.Pi * float64(i) / float64(chords))
		x, y := float64(s.half*sin), float64(s.half*cos) // forward, right
		out = append(out, geom.Vec{
			X: v.X + float64(x*dir.X) + float64(y*dir.Y),
			Y: v.Y + float64(x*dir.Y) - float64(y*dir.X),
		}.Round())
	}
	return out
}

// ring drops repeated points; nil if nothing is covered or the ring leaves the frame.
func (s *Stroker) ring(points []geom.Point) geom.Ring {
	for _, p := range points {
		if !p.InFrame() {
			s.outside = true
			return nil
		}
	}
	points = ClosedOutline(points)
	if !Covers(points) {
		return nil
	}
	return points
}
