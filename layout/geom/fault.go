package geom

import (
	"cmp"
	"fmt"
	"slices"
)

// FaultKind says what is wrong with a polygon.
type FaultKind int

const (
	NoRing       FaultKind = iota + 1 // a polygon without rings
	FewPoints                         // a ring of fewer than three points
	BeyondFrame                       // a point outside ±Limit
	TwicePoint                        // a point that repeats the one before it
	Crosses                           // two edges cross
	Touches                           // the outline comes back to a place where it has been
	Overlaps                          // two edges run along each other: a spike, or no area
	OutsideOuter                      // a ring that lies beside the first outer one
	InsideHole                        // a ring that lies in a hole
	SameSense                         // a ring in the outer one that turns the same way, so that it is no hole
)

// Fault is the reason why a polygon is not a valid one.
type Fault struct {
	Kind FaultKind
	At   Point // where; rounded to the grid where edges cross
}

func (f Fault) String() string {
	what := map[FaultKind]string{
		NoRing: "a polygon without rings", FewPoints: "a ring of fewer than three points",
		BeyondFrame: "a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m)", TwicePoint: "a point that is there twice",
		Crosses: "the outline crosses itself", Touches: "the outline touches itself", Overlaps: "the outline runs along itself",
		OutsideOuter: "a second ring that lies outside of the first", InsideHole: "a ring inside of a hole",
		SameSense: "a ring in another one that turns the same way, and so is no hole",
	}[f.Kind]
	if f.Kind == NoRing {
		return what
	}
	return fmt.Sprintf("%s at (%g, %g) µm", what, float64(f.At.X)/1000, float64(f.At.Y)/1000)
}

// Fault returns what keeps pg from being a valid polygon, and false if nothing does. A polygon is valid if it has one
// outer ring and any number of holes in it, which turn the other way; if each ring has three points or more, none of
// them twice, all of them within the frame; and if no two edges meet but neighbours at their common end. Points in the
// middle of a straight edge are allowed. So the outline of a valid polygon tells inside from outside, and it covers one
// connected region.
//
// Exact. Time is n log n in the number of points, whatever the outline looks like: the method is that of M. I. Shamos
// and D. Hoey, Geometric intersection problems, FOCS 1976 (from memory), with the end at the first two edges that
// meet. Which of several faults is told depends on their places only.
func (pg Polygon) Fault() (Fault, bool) {
	if f, bad := pg.faultyPoints(); bad {
		return f, true
	}
	if len(pg) == 1 && len(pg[0]) <= 16 && pg[0].Simple() {
		return Fault{}, false
	}
	v := newVertices(pg)
	for i := 1; i < len(v.sorted); i++ {
		if p := v.sorted[i].at; p == v.sorted[i-1].at {
			return Fault{Touches, p}, true
		}
	}
	s := &scan{vertices: v, status: newStatus(len(v.edges)), parent: make([]int, len(pg))}
	for _, at := range v.sorted {
		if s.visit(at); s.found {
			return s.fault, true
		}
	}
	return s.nesting(pg)
}

// faultyPoints looks at numbers and places of points.
func (pg Polygon) faultyPoints() (Fault, bool) {
	if len(pg) == 0 {
		return Fault{Kind: NoRing}, true
	}
	for _, r := range pg {
		for i, p := range r {
			if !p.InFrame() {
				return Fault{BeyondFrame, p}, true
			}
			if len(r) > 1 && p == r[(i+1)%len(r)] {
				return Fault{TwicePoint, p}, true
			}
		}
		if len(r) < 3 {
			f := Fault{Kind: FewPoints}
			if len(r) > 0 {
				f.At = r[0]
			}
			return f, true
		}
	}
	return Fault{}, false
}

func comparePoints(p, q Point) int { return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y)) }

// segment is an edge from its left end to its right one; an upright one goes up.
type segment struct {
	a, b    Point
	ring    int
	forward bool // as the ring goes
}

// vertex is a point with its two edges, by index.
type vertex struct {
	at       Point
	ring     int
	one, two int32
}

type vertices struct {
	edges  []segment
	sorted []vertex // from left to right, and up
	first  []Point  // of each ring
	sense  []int
}

func newVertices(pg Polygon) *vertices {
	n := 0
	for _, r := range pg {
		n += len(r)
	}
	v := &vertices{edges: make([]segment, 0, n), sorted: make([]vertex, 0, n)}
	for k, r := range pg {
		start := len(v.edges)
		first := r[0]
		for i, a := range r {
			b := r[(i+1)%len(r)]
			before := len(v.edges) - 1
			if i == 0 {
				before = start + len(r) - 1
			}
			v.sorted = append(v.sorted, vertex{a, k, int32(before), int32(len(v.edges))})
			if comparePoints(a, first) < 0 {
				first = a
			}
			if comparePoints(a, b) < 0 {
				v.edges = append(v.edges, segment{a, b, k, true})
			} else {
				v.edges = append(v.edges, segment{b, a, k, false})
			}
		}
		v.first, v.sense = append(v.first, first), append(v.sense, r.Sense())
	}
	slices.SortFunc(v.sorted, func(a, b vertex) int { return comparePoints(a.at, b.at) })
	return v
}

// scan passes over the vertices from left to right.
type scan struct {
	*vertices
	status *status
	parent []int // the ring that each one lies in, -1: none
	fault  Fault
	found  bool
}

// visit replaces the edges that end at a vertex by those that begin there, and looks at edges that have become
// neighbours.
func (s *scan) visit(v vertex) {
	e, f := v.one, v.two
	begins := func(i int32) bool { return s.edges[i].a == v.at }
	if begins(e) && !begins(f) {
		e, f = f, e
	}
	switch {
	case begins(e): // so does f
		s.begin(v, e, f)
	case begins(f):
		s.status.replace(e, f)
		s.meet(s.status.below[f], f)
		s.meet(f, s.status.above[f])
	default:
		for _, i := range [2]int32{e, f} {
			below, above := s.status.below[i], s.status.above[i]
			s.status.remove(i)
			s.meet(below, above)
		}
	}
}

// begin puts in two edges that begin at v.
func (s *scan) begin(v vertex, low, high int32) {
	switch Side(v.at, s.edges[low].b, s.edges[high].b) {
	case 0:
		s.tell(Overlaps, v.at)
		return
	case -1:
		low, high = high, low
	}
	on := false
	s.status.insert(low, func(i int32) bool {
		side := Side(s.edges[i].a, s.edges[i].b, v.at)
		on = on || side == 0
		return side > 0
	})
	if on {
		s.tell(Touches, v.at)
		return
	}
	below := s.status.below[low]
	s.status.insertAbove(high, low)
	s.meet(below, low)
	s.meet(high, s.status.above[high])
	if v.at != s.first[v.ring] {
		return
	}
	s.parent[v.ring] = -1
	if below >= 0 {
		e := s.edges[below]
		if e.forward == (s.sense[e.ring] > 0) { // what lies above that edge is inside its ring
			s.parent[v.ring] = e.ring
		} else {
			s.parent[v.ring] = s.parent[e.ring]
		}
	}
}

// meet tells of two edges, either of which may be none (-1), if they meet elsewhere than at a common end.
func (s *scan) meet(i, j int32) {
	if i < 0 || j < 0 || s.found {
		return
	}
	e, f := &s.edges[i], &s.edges[j]
	if e.a == f.a || e.b == f.b || e.a == f.b || e.b == f.a || !SegmentsMeet(e.a, e.b, f.a, f.b) {
		return // those that begin at one place are compared there, and one that ends on another meets it before
	}
	if p, ok := Crossing(e.a, e.b, f.a, f.b); ok {
		s.tell(Crosses, p)
		return
	}
	kind := Touches
	if Side(e.a, e.b, f.a) == 0 && Side(e.a, e.b, f.b) == 0 {
		kind = Overlaps
	}
	for _, p := range [2]Point{f.a, f.b} {
		if onSegment(e.a, e.b, p) {
			s.tell(kind, p)
			return
		}
	}
	for _, p := range [2]Point{e.a, e.b} {
		if onSegment(f.a, f.b, p) {
			s.tell(kind, p)
			return
		}
	}
}

func (s *scan) tell(kind FaultKind, at Point) {
	if !s.found {
		s.fault, s.found = Fault{kind, at}, true
	}
}

// nesting looks at which ring lies in which; no two of them meet.
func (s *scan) nesting(pg Polygon) (Fault, bool) {
	outer := slices.Index(s.parent, -1)
	for k, p := range s.parent {
		switch {
		case p < 0 && k != outer:
			return Fault{OutsideOuter, s.first[k]}, true
		case p >= 0 && s.parent[p] >= 0:
			return Fault{InsideHole, s.first[k]}, true
		case p >= 0 && s.sense[k] == s.sense[p]:
			return Fault{SameSense, s.first[k]}, true
		}
	}
	return Fault{}, false
}
