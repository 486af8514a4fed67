package check

import (
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
)

// sets is a union-find.
type sets []int32

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

func (s sets) find(n int32) int32 {
	for s[n] != n {
		s[n] = s[s[n]]
		n = s[n]
	}
	return n
}

func (s sets) union(a, b int32) {
	a, b = s.find(a), s.find(b)
	s[max(a, b)] = min(a, b)
}

// weak is a pair of shapes that meet in a strip narrower than the tolerance.
type weak struct {
	a, b  int32
	width int // nm
	at    geom.Point
}

// nearOverlaps finds shapes that become one net only by a strip that is narrower than the tolerance, and than both of them:
// shapes and contacts are joined by all other overlaps first. An edge that two shapes share over the tolerance or more is
// taken as meant.
func (d *drawing) nearOverlaps() error {
	j := &overlaps{drawing: d, joined: newSets(len(d.shapes))}
	for i := range d.shapes {
		if i%4096 == 0 && d.ctx.Err() != nil {
			return d.ctx.Err()
		}
		j.around(int32(i))
	}
	for n, p := range j.slow {
		if n%256 == 0 && d.ctx.Err() != nil {
			return d.ctx.Err()
		}
		if j.joined.find(p[0]) != j.joined.find(p[1]) {
			j.judge(d.polygons(p[0], p[1]))
		}
	}
	j.tell()
	return nil
}

// overlaps are what shapes have in common with each other.
type overlaps struct {
	*drawing
	joined   sets
	doubtful []weak
	slow     [][2]int32 // pairs that are not two rectangles, to be looked at last, and only if nothing else joins them
}

// around looks at what a shape meets.
func (j *overlaps) around(i int32) {
	s := &j.shapes[i]
	role := j.st.Layers[s.layer].Role
	if role != stack.Metal && role != stack.Gate && role != stack.Diffusion && role != stack.Contact {
		return
	}
	j.shapeGrid().near(s.box, func(k int32) bool {
		t := &j.shapes[k]
		switch {
		case !s.box.Overlaps(t.box):
		case role == stack.Contact:
			if slices.Contains(j.st.Layers[s.layer].Joins, t.layer) && j.lands(s, t) {
				j.joined.union(i, k)
			}
		case k <= i || s.layer != t.layer:
		case s.rect && t.rect:
			j.judge(j.rectangles(i, k))
		default:
			j.slow = append(j.slow, [2]int32{i, k})
		}
		return true
	})
}

// judge takes a meeting of two shapes for good, or for doubtful; ok false: they do not meet.
func (j *overlaps) judge(w weak, ok bool) {
	switch {
	case ok && w.width == 0:
		j.joined.union(w.a, w.b)
	case ok:
		j.doubtful = append(j.doubtful, w)
	}
}

// tell lists the doubtful meetings without which two shapes would not be joined. What was made to close a gap is meant.
func (j *overlaps) tell() {
	healed := func(k int32) bool { // the top cell's own shapes are drawn first
		i := int(j.shapes[k].index)
		return j.opt.Healed != nil && i < len(j.top.Shapes) && j.opt.Healed(i)
	}
	for _, w := range j.doubtful {
		if healed(w.a) || healed(w.b) {
			j.joined.union(w.a, w.b)
		}
	}
	for _, w := range j.doubtful {
		if s := &j.shapes[w.a]; j.joined.find(w.a) != j.joined.find(w.b) && j.checked(s.layer) {
			f := at(NearOverlap, s.layer, w.at, "two shapes are one net only by %s in which they meet: move them apart, or well over each other", um(w.width))
			f.Gap, f.HasGap = w.width, true
			j.add(f)
		}
	}
}

// lands reports whether a contact reaches a conductor's shape: by its box, or by its middle where that is not enough.
func (d *drawing) lands(contact, on *placed) bool {
	if on.rect {
		return contact.box.Min.X < on.box.Max.X && on.box.Min.X < contact.box.Max.X && contact.box.Min.Y < on.box.Max.Y && on.box.Min.Y < contact.box.Max.Y
	}
	return d.polygon(on).Locate(middle(contact.box)) != geom.Outside
}

func middle(r geom.Rect) geom.Point {
	return geom.Point{X: (r.Min.X + r.Max.X) / 2, Y: (r.Min.Y + r.Max.Y) / 2}
}

// rectangles says how two rectangles meet whose boxes do; width 0 is well enough. ok is false where they only share a corner.
func (d *drawing) rectangles(i, k int32) (w weak, ok bool) {
	a, b := d.shapes[i].box, d.shapes[k].box
	common := geom.Rect{Min: geom.Point{X: max(a.Min.X, b.Min.X), Y: max(a.Min.Y, b.Min.Y)}, Max: geom.Point{X: min(a.Max.X, b.Max.X), Y: min(a.Max.Y, b.Max.Y)}}
	narrow := min(narrowBox(a), narrowBox(b))
	w = weak{i, k, 0, middle(common)}
	x, y := common.Width(), common.Height()
	switch {
	case x == 0 && y == 0:
		return w, false
	case x == 0 || y == 0:
		x, y = max(x, y), max(x, y)
	}
	if by := min(x, y); by < d.opt.ToleranceNm && float64(by) < narrow {
		w.width = by
	}
	return w, true
}

func narrowBox(r geom.Rect) float64 {
	w, h := float64(r.Width()), float64(r.Height())
	return w * h / (w + h)
}

// polygons is rectangles for any two shapes.
func (d *drawing) polygons(i, k int32) (w weak, ok bool) {
	a, b := d.polygon(&d.shapes[i]), d.polygon(&d.shapes[k])
	narrow := min(narrowest(region.Clean(a)), narrowest(region.Clean(b)))
	_, both := region.Cut(a, b)
	by := 0.0
	for _, pg := range both {
		if n := hullWidth(pg); n > by {
			by, w.at = n, middle(pg.Bounds())
		}
	}
	if len(both) == 0 {
		by, w.at = sharedEdge(a, b)
	}
	w.a, w.b = i, k
	if by < float64(d.opt.ToleranceNm) && by < narrow {
		w.width = nearest(by)
	}
	return w, by > 0
}

// narrowest returns twice the area by the perimeter, which of a long strip is its width, and of a square half of it.
func narrowest(pgs []geom.Polygon) float64 {
	area, perimeter := 0.0, 0.0
	for _, pg := range pgs {
		for _, r := range pg {
			area += r.Area()
			perimeter += r.Perimeter()
		}
	}
	return 2 * math.Abs(area) / max(perimeter, 1)
}

// sharedEdge returns the longest stretch that two outlines have in common, and its middle.
func sharedEdge(a, b geom.Polygon) (longest float64, at geom.Point) {
	edges := func(pg geom.Polygon) (all []border) {
		for _, r := range pg {
			for i, p := range r {
				if q := r[(i+1)%len(r)]; p != q {
					all = append(all, border{a: p, b: q})
				}
			}
		}
		return all
	}
	of := edges(b)
	for _, e := range edges(a) {
		for _, f := range of {
			if geom.Side(e.a, e.b, f.a) != 0 || geom.Side(e.a, e.b, f.b) != 0 {
				continue
			}
			if lo, hi, ok := alongside(&e, &f); ok && (hi-lo)*length(e.way()) > longest {
				longest = (hi - lo) * length(e.way())
				at = toVec(e.a).plus(toVec(e.way()).times((lo + hi) / 2)).round()
			}
		}
	}
	return longest, at
}

// shapeGrid returns the shapes in a grid, which is made once.
func (d *drawing) shapeGrid() *grid {
	if d.byPlace == nil {
		d.byPlace = shapeGrid(d.shapes)
	}
	return d.byPlace
}

// shapesNear calls yield for each shape whose box meets a box.
func (d *drawing) shapesNear(box geom.Rect, yield func(*placed) bool) {
	d.shapeGrid().near(box, func(i int32) bool {
		return !d.shapes[i].box.Overlaps(box) || yield(&d.shapes[i])
	})
}
