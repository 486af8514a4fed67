package extract

import (
	"slices"

	"undermetal/layout/geom"
)

// waist tells quickly of pieces made of boxes whether they may have a neck. It keeps its room from piece to piece.
type waist struct {
	boxes []geom.Rect
	cuts  []int
	wide  []int // between two neighbouring cuts
}

// may reports whether what some boxes make together may have a neck. It never says no where neckIn finds one: it looks at the same widths, from
// the lowest to the highest point, but for whether these are in one piece. Where two boxes meet in a corner alone, which may part what they
// make, it says yes.
func (w *waist) may(boxes []geom.Rect) bool {
	all, least := boxes[0], min(boxes[0].Width(), boxes[0].Height())
	for _, b := range boxes[1:] {
		all, least = all.Union(b), min(least, b.Width(), b.Height())
	}
	if min(all.Width(), all.Height()) < leastWide*least { // nothing is narrower than the narrowest box: most wires stop here
		return false
	}
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
	w.cuts = w.cuts[:0]
	for _, b := range w.boxes {
		w.cuts = append(w.cuts, b.Min.X, b.Max.X)
	}
	slices.Sort(w.cuts)
	w.cuts, w.wide = slices.Compact(w.cuts), w.wide[:0]
	for i := 1; i < len(w.cuts); i++ {
		low, high := 0, 0
		any := false
		for _, b := range w.boxes {
			if b.Min.X > w.cuts[i-1] || b.Max.X < w.cuts[i] {
				continue
			}
			if !any {
				low, high, any = b.Min.Y, b.Max.Y, true
			}
			low, high = min(low, b.Min.Y), max(high, b.Max.Y)
		}
		w.wide = append(w.wide, high-low)
	}
	right := w.cuts[:len(w.wide)] // they are needed no more
	for i, most := len(w.wide)-1, 0; i >= 0; i-- {
		most = max(most, w.wide[i])
		right[i] = most
	}
	left := 0
	for i, x := range w.wide {
		left = max(left, x)
		if x > 0 && min(left, right[i]) >= leastWide*x {
			return true
		}
	}
	return false
}
