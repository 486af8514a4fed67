package recognise

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// cloud finds the points nearest to a place among many: they lie in square cells, as many as there are points.
type cloud struct {
	points []geom.Vec
	cells  map[[2]int][]int32
	side   float64
	lo, hi [2]int // cells that hold something
}

func newCloud(points []geom.Vec) *cloud {
	c := &cloud{points: points, cells: map[[2]int][]int32{}}
	if len(points) == 0 {
		return c
	}
	c.side = max(extent(points)/math.Sqrt(float64(len(points))), 1)
	for i, p := range points {
		k := c.cell(p)
		if i == 0 {
			c.lo, c.hi = k, k
		}
		for a := range k {
			c.lo[a], c.hi[a] = min(c.lo[a], k[a]), max(c.hi[a], k[a])
		}
		c.cells[k] = append(c.cells[k], int32(i))
	}
	return c
}

func (c *cloud) cell(p geom.Vec) [2]int {
	return [2]int{int(math.Floor(p.X / c.side)), int(math.Floor(p.Y / c.side))}
}

// nearest returns up to n points no further than radius from p, the nearest first.
func (c *cloud) nearest(p geom.Vec, n int, radius float64) []int32 {
	if len(c.points) == 0 {
		return nil
	}
	at := c.cell(p)
	dist := func(i int32) float64 { return math.Hypot(c.points[i].X-p.X, c.points[i].Y-p.Y) }
	var found []int32
	far := max(abs(at[0]-c.lo[0]), abs(at[0]-c.hi[0]), abs(at[1]-c.lo[1]), abs(at[1]-c.hi[1]))
	for ring := 0; ring <= far && float64(ring-1)*c.side <= radius; ring++ {
		before := len(found)
		c.ring(at, ring, func(i int32) {
			if dist(i) <= radius {
				found = append(found, i)
			}
		})
		if before >= n { // those of one more ring have been seen: nothing nearer is left out
			break
		}
	}
	slices.SortFunc(found, func(a, b int32) int { return cmp.Or(cmp.Compare(dist(a), dist(b)), cmp.Compare(a, b)) })
	return found[:min(n, len(found))]
}

// ring visits the points in cells that lie r cells from one.
func (c *cloud) ring(at [2]int, r int, visit func(int32)) {
	for x := -r; x <= r; x++ {
		step := 2 * r
		if x == -r || x == r || r == 0 {
			step = 1
		}
		for y := -r; y <= r; y += step {
			for _, i := range c.cells[[2]int{at[0] + x, at[1] + y}] {
				visit(i)
			}
		}
	}
}

func abs(x int) int { return max(x, -x) }
