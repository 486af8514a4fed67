package extract

import (
	"math"
	"math/bits"
	"slices"

	"undermetal/layout/geom"
)

// boxGrid finds boxes by place. In a square drawing its bins are a quarter as many as the boxes, or up to as many, so that one of a shape that is
// as long as the drawing still lies in few.
type boxGrid struct {
	all           geom.Rect
	shift         uint // the side of a bin is 1<<shift nm
	columns, rows int
	first         []int32 // by bin, row by row: where its boxes begin in in; and the end of the last
	in            []int32 // boxes, ascending in each bin
}

func newBoxGrid(boxes []geom.Rect) *boxGrid {
	g := &boxGrid{}
	g.fill(boxes)
	return g
}

// fill makes the grid one of these boxes. What room it has is used again.
func (g *boxGrid) fill(boxes []geom.Rect) {
	g.all, g.first, g.in = geom.EmptyRect(), g.first[:0], g.in[:0]
	for _, b := range boxes {
		g.all = g.all.Union(b)
	}
	if g.all.Empty() {
		return
	}
	g.shift = uint(bits.Len(uint(float64(max(g.all.Width(), g.all.Height())) / math.Sqrt(float64(len(boxes))))))
	g.columns, g.rows = g.all.Width()>>g.shift+1, g.all.Height()>>g.shift+1
	bins := g.columns * g.rows
	g.first = slices.Grow(g.first, bins+1)[:bins+1]
	clear(g.first)
	for _, b := range boxes {
		if !b.Empty() {
			g.eachBin(b, func(bin int) { g.first[bin+1]++ })
		}
	}
	for bin := range bins {
		g.first[bin+1] += g.first[bin]
	}
	g.in = slices.Grow(g.in, int(g.first[bins]))[:g.first[bins]]
	for i := len(boxes) - 1; i >= 0; i-- { // from the end of each bin, so that what is left in first is where it begins
		if b := boxes[i]; !b.Empty() {
			g.eachBin(b, func(bin int) {
				g.first[bin+1]--
				g.in[g.first[bin+1]] = int32(i)
			})
		}
	}
	copy(g.first, g.first[1:])
	g.first[bins] = int32(len(g.in))
}

// eachBin visits the bins that a box within all lies in.
func (g *boxGrid) eachBin(r geom.Rect, visit func(bin int)) {
	x0, x1 := (r.Min.X-g.all.Min.X)>>g.shift, (r.Max.X-g.all.Min.X)>>g.shift
	for y := (r.Min.Y - g.all.Min.Y) >> g.shift; y <= (r.Max.Y-g.all.Min.Y)>>g.shift; y++ {
		for x := x0; x <= x1; x++ {
			visit(y*g.columns + x)
		}
	}
}

// near tells of all boxes that may touch r, of some several times.
func (g *boxGrid) near(r geom.Rect, found func(i int)) {
	if g.all.Empty() || !touch(r, g.all) {
		return
	}
	r.Min = geom.Point{X: max(r.Min.X, g.all.Min.X), Y: max(r.Min.Y, g.all.Min.Y)}
	r.Max = geom.Point{X: min(r.Max.X, g.all.Max.X), Y: min(r.Max.Y, g.all.Max.Y)}
	g.eachBin(r, func(bin int) {
		for _, i := range g.in[g.first[bin]:g.first[bin+1]] {
			found(int(i))
		}
	})
}

// pairs tells of each pair of boxes that touch each other once; boxes are those that the grid was made of.
func (g *boxGrid) pairs(boxes []geom.Rect, found func(i, k int)) {
	type small struct{ x0, y0, x1, y1, i int32 } // the frame has 31 bits
	var in []small                               // the boxes of a bin, side by side: all with all is what takes the time
	for bin := range max(0, len(g.first)-1) {
		in = in[:0]
		for _, i := range g.in[g.first[bin]:g.first[bin+1]] {
			b := &boxes[i]
			in = append(in, small{int32(b.Min.X), int32(b.Min.Y), int32(b.Max.X), int32(b.Max.Y), i})
		}
		left, low := g.all.Min.X+bin%g.columns<<g.shift, g.all.Min.Y+bin/g.columns<<g.shift
		for n := range in {
			a := &in[n]
			for m := range in[:n] {
				b := &in[m]
				if a.x0 > b.x1 || b.x0 > a.x1 || a.y0 > b.y1 || b.y0 > a.y1 {
					continue
				}
				// Of the bins that both lie in, the one with the lower left corner of what they share tells.
				if x, y := int(max(a.x0, b.x0)), int(max(a.y0, b.y0)); x >= left && x < left+1<<g.shift && y >= low && y < low+1<<g.shift {
					found(int(a.i), int(b.i))
				}
			}
		}
	}
}

func touch(a, b geom.Rect) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}
