package extract

import (
	"math"
	"slices"

	"undermetal/layout/geom"
)

// mostCut is the number of corners up to which a shape is cut into boxes: the time goes with their square, of combs and meshes with more.
const mostCut = 64

// boxesOf cuts a polygon at its corners, seen along x, into boxes that make it. Of one that has slanted edges, no area, many corners or several
// pieces there are none.
func boxesOf(pg geom.Polygon) (boxes []geom.Rect) {
	type level struct{ x0, x1, y, winding int }
	var levels []level
	var cuts []int
	for _, r := range pg {
		if !r.Manhattan() || len(cuts)+len(r) > mostCut {
			return nil
		}
		for i, a := range r {
			b := r[(i+1)%len(r)]
			cuts = append(cuts, a.X)
			switch {
			case a.X < b.X:
				levels = append(levels, level{a.X, b.X, a.Y, 1})
			case b.X < a.X:
				levels = append(levels, level{b.X, a.X, a.Y, -1})
			}
		}
	}
	slices.Sort(cuts)
	slices.SortFunc(levels, func(a, b level) int { return a.y - b.y })
	cuts = slices.Compact(cuts)
	for i := 1; i < len(cuts); i++ {
		low, winding := 0, 0
		for _, e := range levels {
			if e.x0 > cuts[i-1] || e.x1 < cuts[i] {
				continue
			}
			if winding == 0 {
				low = e.y
			}
			if winding += e.winding; winding != 0 || low == e.y {
				continue
			}
			goesOn := func(b geom.Rect) bool { return b.Max.X == cuts[i-1] && b.Min.Y == low && b.Max.Y == e.y }
			if k := slices.IndexFunc(boxes, goesOn); k >= 0 { // the corner is another stretch's
				boxes[k].Max.X = cuts[i]
			} else {
				boxes = append(boxes, geom.Box(cuts[i-1], low, cuts[i], e.y))
			}
		}
	}
	if !together(boxes) {
		return nil
	}
	return boxes
}

// together reports whether all boxes hang together, in corners too.
func together(boxes []geom.Rect) bool {
	of := make(sets, len(boxes))
	for i := range of {
		of[i] = node(i)
	}
	for i, a := range boxes {
		for k, b := range boxes[:i] {
			if touch(a, b) {
				of.union(node(i), node(k))
			}
		}
	}
	for i := range boxes {
		if of.find(node(i)) != 0 {
			return false
		}
	}
	return true
}

// waist tells quickly of pieces made of boxes whether they may have a neck. It keeps its room from piece to piece.
type waist struct {
	boxes []geom.Rect
	cuts  []int
	slabs []slab
}

// thin reports whether what some boxes make is too thin for a neck, as most wires are: nothing of it is narrower than the narrowest box.
func thin(boxes []geom.Rect) bool {
	all, least := geom.EmptyRect(), math.MaxInt
	for _, b := range boxes {
		all, least = all.Union(b), min(least, b.Width(), b.Height())
	}
	return min(all.Width(), all.Height()) < leastWide*least
}

// may reports whether what some boxes make together may have a neck. It never says no where neckIn finds one: it looks at the same slabs, or
// such that make them, without a union. Where two boxes meet in a corner alone, which may part what they make, it says yes.
func (w *waist) may(boxes []geom.Rect) bool {
	for i, a := range boxes {
		for _, b := range boxes[:i] {
			if (a.Max.X == b.Min.X || b.Max.X == a.Min.X) && (a.Max.Y == b.Min.Y || b.Max.Y == a.Min.Y) {
				return true
			}
		}
	}
	w.boxes = append(w.boxes[:0], boxes...)
	if w.along() {
		return true
	}
	for i, b := range w.boxes {
		w.boxes[i] = geom.Rect{Min: geom.Point{X: b.Min.Y, Y: b.Min.X}, Max: geom.Point{X: b.Max.Y, Y: b.Max.X}}
	}
	return w.along()
}

// along looks along x.
func (w *waist) along() bool {
	w.cuts, w.slabs = w.cuts[:0], w.slabs[:0]
	for _, b := range w.boxes {
		w.cuts = append(w.cuts, b.Min.X, b.Max.X)
	}
	slices.Sort(w.cuts)
	w.cuts = slices.Compact(w.cuts)
	slices.SortFunc(w.boxes, func(a, b geom.Rect) int { return a.Min.Y - b.Min.Y })
	for i := 1; i < len(w.cuts); i++ {
		low, high, one, any := 0, 0, true, false
		for _, b := range w.boxes {
			switch {
			case b.Min.X > w.cuts[i-1] || b.Max.X < w.cuts[i]:
			case !any:
				low, high, any = b.Min.Y, b.Max.Y, true
			default:
				one, high = one && b.Min.Y <= high, max(high, b.Max.Y)
			}
		}
		if wide := float64(high - low); any {
			w.slabs = append(w.slabs, slab{float64(w.cuts[i-1]), float64(w.cuts[i]), [2]float64{wide, wide}, one})
		}
	}
	_, _, _, found := narrow(w.slabs)
	return found
}
