package geojson

import (
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// part is a polygon as the format has it: an outer ring, counterclockwise, and its holes, clockwise.
type part []geom.Ring

// parts returns what a polygon covers as parts. One ring stays as it is, even if it crosses itself. Of several, the rings
// stay where they are the border of what they cover together; otherwise the border is found, crossings rounded to the
// grid.
func parts(pg geom.Polygon) []part {
	if len(pg) == 1 {
		r := pg[0]
		if r.Sense() < 0 {
			r = reversed(r)
		}
		return []part{{r}}
	}
	if p, ok := plain(pg); ok {
		return []part{p}
	}
	border := sweep.Outline(pg)
	rings, ok := oriented(pg, border)
	if !ok {
		rings = sweep.Rings(sweep.CutUpright(border))
	}
	return nest(rings)
}

// plain returns a polygon whose first ring is simple and has the others, simple and apart from each other and from it, for
// holes; ok is false where it is not that, or too large to be looked at edge by edge. The usual case, without a sweep.
func plain(pg geom.Polygon) (p part, ok bool) {
	const most = 200
	n, sense := 0, pg[0].Sense()
	boxes := make([]geom.Rect, len(pg))
	for i, r := range pg {
		n += len(r)
		boxes[i] = r.Bounds()
		if n > most || !r.Simple() || i > 0 && r.Sense() != -sense {
			return nil, false
		}
	}
	for i, r := range pg {
		for k := 1; k < i; k++ {
			if boxes[i].Overlaps(boxes[k]) {
				return nil, false
			}
		}
		if i > 0 && ((geom.Polygon{pg[0]}).Locate(r[0]) != geom.Inside || meet(pg[0], r)) {
			return nil, false
		}
		if sense < 0 {
			r = reversed(r)
		}
		p = append(p, r)
	}
	return p, true
}

func meet(a, b geom.Ring) bool {
	for i, p := range a {
		for k, q := range b {
			if geom.SegmentsMeet(p, a[(i+1)%len(a)], q, b[(k+1)%len(b)]) {
				return true
			}
		}
	}
	return false
}

// reversed returns the ring the other way around, from the same point.
func reversed(r geom.Ring) geom.Ring {
	r = slices.Clone(r)
	slices.Reverse(r[1:])
	return r
}

// oriented returns the rings of pg, each with what is covered on its left; ok is false where their edges are not just
// those of the border.
func oriented(pg geom.Polygon, border []sweep.Seg) (rings []geom.Ring, ok bool) {
	type edge [2]geom.Point
	left := make(map[edge]bool, len(border))
	for _, s := range border {
		left[edge{s.A, s.B}] = true
	}
	n := 0
	for _, r := range pg {
		forth := left[edge{r[0], r[1]}]
		if !forth {
			r = reversed(r)
		}
		for i := range r {
			if !left[edge{r[i], r[(i+1)%len(r)]}] {
				return nil, false
			}
		}
		n += len(r)
		rings = append(rings, r)
	}
	return rings, n == len(border)
}

// nest puts every hole into the smallest outer ring around it. All have what is covered on their left, and none crosses
// another.
func nest(rings []geom.Ring) []part {
	var out []part
	var boxes []geom.Rect
	for _, r := range rings {
		if r.Sense() > 0 {
			out, boxes = append(out, part{r}), append(boxes, r.Bounds())
		}
	}
	for _, r := range rings {
		if r.Sense() > 0 {
			continue
		}
		best, box := -1, r.Bounds()
		for k := range out {
			b := boxes[k]
			if b.Contains(box.Min) && b.Contains(box.Max) && around(out[k][0], r) &&
				(best < 0 || out[k][0].Area() < out[best][0].Area()) {
				best = k
			}
		}
		if len(out) > 0 { // there is one around it; should rounding have opened that, the first must do
			best = max(best, 0)
			out[best] = append(out[best], r)
		}
	}
	return out
}

// around reports whether the ring a lies around b. The two do not cross, so the first point of b off a tells it.
func around(a, b geom.Ring) bool {
	for _, p := range b {
		switch (geom.Polygon{a}).Locate(p) {
		case geom.Inside:
			return true
		case geom.Outside:
			return false
		}
	}
	return true // only touching: then it fills it
}
