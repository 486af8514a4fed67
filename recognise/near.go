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
	off := func(i int) (nearest, farthest int) { // rings along one axis that hold something
		return max(c.lo[i]-at[i], at[i]-c.hi[i], 0), max(abs(at[i]-c.lo[i]), abs(at[i]-c.hi[i]))
	}
	fromX, toX := off(0)
	fromY, toY := off(1)
	for ring := max(fromX, fromY); ring <= max(toX, toY) && float64(ring-1)*c.side <= radius; ring++ {
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

// ring visits the points in cells that lie r cells from one, of those between lo and hi.
func (c *cloud) ring(at [2]int, r int, visit func(int32)) {
	for x := max(at[0]-r, c.lo[0]); x <= min(at[0]+r, c.hi[0]); x++ {
		if abs(x-at[0]) < r {
			c.visitCell(x, at[1]-r, visit)
			c.visitCell(x, at[1]+r, visit)
			continue
		}
		for y := max(at[1]-r, c.lo[1]); y <= min(at[1]+r, c.hi[1]); y++ {
			c.visitCell(x, y, visit)
		}
	}
}

// visitCell visits the points in a cell.
func (c *cloud) visitCell(x, y int, visit func(int32)) {
	for _, i := range c.cells[[2]int{x, y}] {
		visit(i)
	}
}

func abs(x int) int { return max(x, -x) }
