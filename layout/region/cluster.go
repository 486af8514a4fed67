package region

import "undermetal/layout/geom"

// nearNm is how far apart the boxes of polygons have to be that do not change each other: snap rounding moves what is slanted by
// less than a nanometre, on either side.
const nearNm = 2

// clusterMost is how many boxes are compared with each other rather than divided by place.
const clusterMost = 16

// clusters parts polygons by place: those whose boxes touch, or nearly so, hang together. What a sweep costs grows with what crosses
// one height, and most drawings fall into many small parts.
type clusters struct {
	boxes  []geom.Rect // a little larger than those of the polygons; empty ones are nowhere
	parent []int32
}

// clustersOf returns the numbers of polygons that hang together, in lists that are in the order of their first ones. What has no points is in none.
func clustersOf(pgs []geom.Polygon) (all [][]int32) {
	c := &clusters{boxes: make([]geom.Rect, len(pgs)), parent: make([]int32, len(pgs))}
	around := geom.EmptyRect()
	in := make([]int32, 0, len(pgs))
	for i, pg := range pgs {
		c.parent[i] = int32(i)
		b := pg.Bounds()
		if b.Empty() {
			c.boxes[i] = b
			continue
		}
		b.Max = b.Max.Add(geom.Point{X: nearNm, Y: nearNm}) // half of the gap between two each
		c.boxes[i] = b
		around = around.Union(b)
		in = append(in, int32(i))
	}
	if len(in) > 0 {
		c.divide(around, in)
	}
	list := make([]int32, len(pgs)) // by root, from 1
	for _, i := range in {
		root := c.find(i)
		if list[root] == 0 {
			all = append(all, nil)
			list[root] = int32(len(all))
		}
		all[list[root]-1] = append(all[list[root]-1], i)
	}
	return all
}

func (c *clusters) find(i int32) int32 {
	for c.parent[i] != i {
		c.parent[i] = c.parent[c.parent[i]]
		i = c.parent[i]
	}
	return i
}

func (c *clusters) join(i, k int32) {
	i, k = c.find(i), c.find(k)
	c.parent[max(i, k)] = min(i, k)
}

// divide joins what touches within a part of the plane that all of in reach into. One that covers the part touches all others there, so
// that division ends even where they lie on each other: at a single point at the latest.
func (c *clusters) divide(part geom.Rect, in []int32) {
	apart := false
	root := c.find(in[0])
	for _, i := range in {
		if b := c.boxes[i]; b.Min.X <= part.Min.X && b.Min.Y <= part.Min.Y && b.Max.X >= part.Max.X && b.Max.Y >= part.Max.Y {
			for _, k := range in {
				c.join(i, k)
			}
			return
		}
		apart = apart || c.find(i) != root
	}
	switch {
	case !apart:
		return
	case len(in) <= clusterMost:
		for n, i := range in {
			for _, k := range in[:n] {
				if touching(c.boxes[i], c.boxes[k]) {
					c.join(i, k)
				}
			}
		}
		return
	}
	mid := geom.Point{X: part.Min.X + part.Width()/2, Y: part.Min.Y + part.Height()/2}
	for quarter := range 4 {
		q := part
		if quarter&1 == 0 {
			q.Max.X = mid.X
		} else if q.Min.X = mid.X + 1; q.Min.X > q.Max.X {
			continue
		}
		if quarter&2 == 0 {
			q.Max.Y = mid.Y
		} else if q.Min.Y = mid.Y + 1; q.Min.Y > q.Max.Y {
			continue
		}
		var within []int32
		for _, i := range in {
			if touching(c.boxes[i], q) {
				within = append(within, i)
			}
		}
		if len(within) > 1 {
			c.divide(q, within)
		}
	}
}

// touching reports whether closed boxes have a point of the grid in common.
func touching(a, b geom.Rect) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}

// alone is the piece of a polygon that touches no other and is one ring of edges parallel to the axes, without a flaw: there is nothing to
// be found out about it.
func alone(pg geom.Polygon, source int) (Piece, bool) {
	if len(pg) != 1 || len(pg[0]) < 4 || len(pg[0]) > 64 {
		return Piece{}, false
	}
	r := pg[0]
	for i, at := range r {
		if next := r[(i+1)%len(r)]; (at.X == next.X) == (at.Y == next.Y) {
			return Piece{}, false // slanted, or twice the same point
		}
	}
	if !r.Simple() {
		return Piece{}, false
	}
	p := Piece{Polygon: geom.Polygon{r}, Sources: []int{source}}
	if r.Sense() < 0 {
		p.Polygon[0] = make(geom.Ring, len(r))
		for i, at := range r {
			p.Polygon[0][len(r)-1-i] = at
		}
	}
	p.tidy()
	return p, true
}
