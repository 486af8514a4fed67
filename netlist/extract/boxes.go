package extract

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// box is the box around pieces of a region that make one rectangle, or around one piece with slanted edges; of a well around all that
// came. Of several pieces the largest one is remembered.
type box struct {
	of             node
	x0, y0, x1, y1 int32
	x, width       int32 // the middle and the width of the largest piece at half its height, to the nearest nm
	low, high      int32 // from where to where that piece reaches
	slanted        bool
}

// size returns that of the largest piece, in nm².
func (b *box) size() int { return int(b.width) * int(b.high-b.low) }

// larger orders boxes by their largest pieces: by size, of equal ones the lowest, then leftmost is the largest.
func larger(a, b *box) int {
	return cmp.Or(cmp.Compare(a.size(), b.size()), cmp.Compare(b.low, a.low), cmp.Compare(b.x, a.x))
}

// keepLargest takes over the largest piece of c where it is larger.
func (b *box) keepLargest(c *box) {
	if larger(c, b) > 0 {
		b.x, b.width, b.low, b.high = c.x, c.width, c.low, c.high
	}
}

// boxJoiner joins pieces to boxes as they come: from bottom to top, in a row from left to right. It joins most that make one
// rectangle, not all.
type boxJoiner struct {
	boxes []box
	rows  [64]box     // by region: pieces side by side that are none of boxes yet; of no node where there are none
	last  [1024]int32 // by some bits of place and node: the last of boxes there
	whole [64]int32   // by some bits of node: the last of boxes around a whole region
}

func (w *boxJoiner) reset() {
	w.boxes = w.boxes[:0]
	clear(w.rows[:])
	clear(w.last[:])
	clear(w.whole[:])
}

// add takes a piece of a region.
func (w *boxJoiner) add(region int, b *box) {
	row := &w.rows[region]
	if row.of == b.of && row.x1 == b.x0 && row.y0 == b.y0 && row.y1 == b.y1 && !row.slanted && !b.slanted {
		row.x1 = b.x1
		row.keepLargest(b)
		return
	}
	w.put(row)
	*row = *b
}

// put joins a row to the box below it, or makes it one of its own.
func (w *boxJoiner) put(row *box) {
	if row.of == 0 {
		return
	}
	last := &w.last[uint32(row.x0^row.of<<4)%uint32(len(w.last))]
	if k := int(*last); k < len(w.boxes) && !row.slanted {
		if b := &w.boxes[k]; b.of == row.of && b.x0 == row.x0 && b.x1 == row.x1 && b.y1 == row.y0 && !b.slanted {
			b.y1 = row.y1
			b.keepLargest(row)
			return
		}
	}
	*last = int32(len(w.boxes))
	w.boxes = append(w.boxes, *row)
}

// addWhole takes a piece of a region of which nobody asks more than the box around it and the largest piece.
func (w *boxJoiner) addWhole(b *box) {
	last := &w.whole[uint32(b.of)%uint32(len(w.whole))]
	if k := int(*last); k < len(w.boxes) && w.boxes[k].of == b.of {
		a := &w.boxes[k]
		a.x0, a.y0, a.x1, a.y1 = min(a.x0, b.x0), min(a.y0, b.y0), max(a.x1, b.x1), max(a.y1, b.y1)
		a.slanted = a.slanted || b.slanted
		a.keepLargest(b)
		return
	}
	*last = int32(len(w.boxes))
	w.boxes = append(w.boxes, *b)
}

// done returns all boxes, once there are no more pieces. They are valid until reset.
func (w *boxJoiner) done() []box {
	for i := range w.rows {
		w.put(&w.rows[i])
		w.rows[i].of = 0
	}
	return w.boxes
}

// box records where a piece of a device, a tap or a pad lies.
func (c *collector) box(iv *sweep.Interval, s *side, y int) {
	m := s.regions & c.group.boxed
	if m == 0 {
		return
	}
	b := pieceBox(iv, c.clip, y)
	for ; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		b.of = s.nodes[r]
		if c.group.regions[r].kind == well {
			c.joined.addWhole(&b)
		} else {
			c.joined.add(r, &b)
		}
	}
}

// pieceBox returns the box around an interval that ends at y, as far as a strip shows it, of no node.
func pieceBox(iv *sweep.Interval, clip sweep.Clip, y int) box {
	b := box{y0: iv.Y0, y1: int32(y), low: iv.Y0, high: int32(y)}
	lo, hi := clip.X0, clip.X1
	if iv.L.Vertical() && iv.R.Vertical() { // nearly always
		b.x0, b.x1 = max(int32(lo), iv.L.X0), min(int32(hi), iv.R.X0)
		b.x, b.width = middle(b.x0, b.x1), b.x1-b.x0
		return b
	}
	b.x0 = int32(max(lo, math.Floor(min(iv.L.At(int(iv.Y0)), iv.L.At(y)))))
	b.x1 = int32(min(hi, math.Ceil(max(iv.R.At(int(iv.Y0)), iv.R.At(y)))))
	half := func(e sweep.Line) float64 { // at half the height, of 1 nm too, which no row lies at
		return max(lo, min(hi, (e.At(int(iv.Y0))+e.At(y))/2))
	}
	left, right := half(iv.L), half(iv.R)
	b.x, b.width = int32(math.Round((left+right)/2)), int32(math.Round(right-left))
	b.slanted = b.width != b.x1-b.x0
	return b
}

// middle returns the middle of two whole numbers, away from 0 where it is none.
func middle(lo, hi int32) int32 {
	if s := int64(lo) + int64(hi); s < 0 {
		return int32((s - 1) / 2)
	} else {
		return int32((s + 1) / 2)
	}
}

// boxesOf returns the boxes around the pieces of a region.
func (j *joiner) boxesOf(root node) []box {
	lo, _ := slices.BinarySearchFunc(j.boxes, root, func(b box, n node) int { return cmp.Compare(j.root[b.of], n) })
	hi := lo
	for hi < len(j.boxes) && j.root[j.boxes[hi].of] == root {
		hi++
	}
	return j.boxes[lo:hi]
}

// boxed yields each region of which boxes are kept, with them.
func (j *joiner) boxed(yield func(root node, boxes []box) bool) {
	for lo := 0; lo < len(j.boxes); {
		root, hi := j.root[j.boxes[lo].of], lo
		for hi < len(j.boxes) && j.root[j.boxes[hi].of] == root {
			hi++
		}
		if !yield(root, j.boxes[lo:hi]) {
			return
		}
		lo = hi
	}
}

// within returns a point in a region.
func (j *joiner) within(root node) geom.Point {
	boxes := j.boxesOf(root)
	return inside(boxes, around(boxes), j.at(root))
}
