package sweep

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
)

// Seg is a directed edge of a shape: what the shape covers lies left of the way from A to B.
type Seg struct {
	A, B geom.Point
	Tag  uint32 // given by the caller, for Sink.Tagged; 0: none
	Part uint32 // given by Outline: edges of one shape with the same Part border what is connected
}

// Slanted reports whether s is parallel to no axis.
func (s *Seg) Slanted() bool { return s.A.X != s.B.X && s.A.Y != s.B.Y }

// Line returns s without its direction.
func (s *Seg) Line() Line {
	x0, y0, x1, y1 := int32(s.A.X), int32(s.A.Y), int32(s.B.X), int32(s.B.Y)
	if y0 > y1 || y0 == y1 && x0 > x1 {
		x0, y0, x1, y1 = x1, y1, x0, y0
	}
	return Line{x0, y0, x1, y1}
}

// AppendLines appends the edges of one outline, each to the list that a Noder takes it from.
func AppendLines(slanted, upright []Line, segs []Seg) (s, u []Line) {
	for i := range segs {
		if segs[i].Slanted() {
			slanted = append(slanted, segs[i].Line())
		} else {
			upright = append(upright, segs[i].Line())
		}
	}
	return slanted, upright
}

// simpleMax is the number of points up to which a ring's simplicity is tested pair by pair. Above it the shape is
// resolved by a sweep of its own, which costs n log n.
const simpleMax = 64

// Outline returns the edges of what pg covers by non-zero winding. Edges of a simple ring are its own; a polygon that
// crosses or touches itself, or has several rings, gets the edges of the region it fills, crossings rounded to the
// grid. A polygon that covers nothing has none.
func Outline(pg geom.Polygon) []Seg { return AppendOutline(nil, pg) }

// AppendOutline appends the edges that Outline returns.
func AppendOutline(segs []Seg, pg geom.Polygon) []Seg {
	if len(pg) == 1 {
		r := dropRepeats(pg[0])
		if len(r) <= simpleMax && r.Simple() {
			return appendRing(segs, r, r.Sense() < 0)
		}
	}
	return append(segs, resolve(pg)...)
}

func appendRing(segs []Seg, r geom.Ring, reverse bool) []Seg {
	segs = slices.Grow(segs, len(r))
	for i, a := range r {
		b := r[0]
		if i+1 < len(r) {
			b = r[i+1]
		}
		if reverse {
			a, b = b, a
		}
		segs = append(segs, Seg{})
		s := &segs[len(segs)-1] // see appendEdge
		s.A, s.B = a, b
	}
	return segs
}

// dropRepeats returns r without points that equal the next one; r itself if there are none.
func dropRepeats(r geom.Ring) geom.Ring {
	for i, p := range r {
		if i > 0 && p == r[i-1] || i == 0 && p == r[len(r)-1] {
			var out geom.Ring
			for j := range r {
				if r[j] != r[(j+1)%len(r)] {
					out = append(out, r[j])
				}
			}
			return out
		}
	}
	return r
}

// resolve returns the borders of the region that winds a number of times other than 0.
func resolve(pg geom.Polygon) []Seg {
	var segs []Seg
	for _, r := range pg {
		r = dropRepeats(r)
		if len(r) > 2 {
			segs = appendRing(segs, r, false)
		}
	}
	if len(segs) == 0 {
		return nil
	}
	noder := NewNoder(AppendLines(nil, nil, segs))
	noder.Settle(1)
	var edges []Edge
	noded := noder.AppendNoded(nil, segs)
	for i := range noded {
		edges = appendEdge(edges, &noded[i], 0)
	}
	b := pg.Bounds()
	c := &borders{seen: map[Line]bool{}}
	Sweep(Strip{X0: b.Min.X - 1, X1: b.Max.X + 1, Edges: edges}, c)
	segs = joinUpright(c.segs)
	for i := range segs {
		segs[i].Part = uint32(i + 1)
	}
	return segs
}

// joinUpright makes pieces of one axis-parallel edge that follow each other one again. Where the sweep cut it depends on
// how the shape is turned, and each end makes a pixel hot.
func joinUpright(segs []Seg) []Seg {
	along := func(s Seg) geom.Point { // the direction, of length 1
		return geom.Point{X: cmp.Compare(s.B.X, s.A.X), Y: cmp.Compare(s.B.Y, s.A.Y)}
	}
	slices.SortFunc(segs, func(a, b Seg) int {
		u, v := along(a), along(b)
		across := func(s Seg, d geom.Point) int { return s.A.X*d.Y + s.A.Y*d.X } // of an upright edge: where its line lies
		return cmp.Or(comparePoints(u, v), cmp.Compare(across(a, u), across(b, v)), comparePoints(a.A, b.A)*cmp.Or(u.X+u.Y, 1), comparePoints(a.B, b.B))
	})
	var out []Seg
	for _, s := range segs {
		if k := len(out) - 1; k >= 0 && !s.Slanted() && !out[k].Slanted() && out[k].B == s.A && along(out[k]) == along(s) {
			out[k].B = s.B
		} else {
			out = append(out, s)
		}
	}
	return out
}

// borders is the sink that collects the edges between covered and not covered, whole where they are slanted.
type borders struct {
	Nop
	segs []Seg
	seen map[Line]bool
}

func (c *borders) Beside(l, r *Interval, y0, y1 int) {
	if l.Mask == r.Mask {
		return
	}
	line := l.R
	if line.Vertical() {
		line.Y0, line.Y1 = int32(y0), int32(y1)
	} else if c.seen[line] {
		return
	}
	c.seen[line] = true
	lo, hi := geom.Point{X: int(line.X0), Y: int(line.Y0)}, geom.Point{X: int(line.X1), Y: int(line.Y1)}
	if l.Mask != 0 {
		c.segs = append(c.segs, Seg{A: lo, B: hi}) // covered on the left of the way up
	} else {
		c.segs = append(c.segs, Seg{A: hi, B: lo})
	}
}

func (c *borders) Above(lo, hi *Interval, y int, x0, x1 float64) {
	if lo.Mask == hi.Mask || x0 != float64(int(x0)) || x1 != float64(int(x1)) {
		return
	}
	a, b := geom.Point{X: int(x0), Y: y}, geom.Point{X: int(x1), Y: y}
	if hi.Mask != 0 {
		c.segs = append(c.segs, Seg{A: a, B: b})
	} else {
		c.segs = append(c.segs, Seg{A: b, B: a})
	}
}
