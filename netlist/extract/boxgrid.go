package extract

import (
	"math"

	"undermetal/layout/geom"
)

// boxGrid finds boxes by place. Its bins are about as many as the boxes, so that one of a shape that is as long as the drawing
// still lies in few.
type boxGrid struct {
	min  geom.Point
	side int
	bins map[[2]int][]int
	all  geom.Rect
}

func newBoxGrid(boxes []geom.Rect) *boxGrid {
	all := geom.EmptyRect()
	for _, b := range boxes {
		all = all.Union(b)
	}
	g := &boxGrid{min: all.Min, side: 1, bins: map[[2]int][]int{}, all: all}
	if all.Empty() {
		return g
	}
	g.side = int(float64(max(all.Width(), all.Height()))/math.Sqrt(float64(len(boxes)))) + 1
	for i, b := range boxes {
		if b.Empty() {
			continue
		}
		g.eachBin(b, func(bin [2]int) { g.bins[bin] = append(g.bins[bin], i) })
	}
	return g
}

func (g *boxGrid) eachBin(r geom.Rect, visit func([2]int)) {
	for y := (r.Min.Y - g.min.Y) / g.side; y <= (r.Max.Y-g.min.Y)/g.side; y++ {
		for x := (r.Min.X - g.min.X) / g.side; x <= (r.Max.X-g.min.X)/g.side; x++ {
			visit([2]int{x, y})
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
	g.eachBin(r, func(bin [2]int) {
		for _, i := range g.bins[bin] {
			found(i)
		}
	})
}

func touch(a, b geom.Rect) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}
