package extract

import (
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// onDrawnNm is how far both ends of an outline's edge may lie off a drawn edge that it is a part of: places where edges cross are rounded
// to whole nm.
const onDrawnNm = 1

// drawnEdge is an edge of a shape as it was drawn. In other places of the same cell it is the same one.
type drawnEdge struct {
	shape      *layout.Shape
	ring, edge int
}

// numberDrawn finds for the edges of outlines which drawn edge each is a part of (Border.Drawn). The time goes with the shapes near
// outlines.
func numberDrawn(res *Result, flat *layout.Flat) {
	outlines := make([]*Outline, 0, len(res.Outlines)+len(res.Junctions))
	for k := range res.Outlines {
		outlines = append(outlines, &res.Outlines[k])
	}
	for k := range res.Junctions {
		outlines = append(outlines, &res.Junctions[k].Outline)
	}
	if len(outlines) == 0 {
		return
	}
	boxes, layers := make([]geom.Rect, len(outlines)), uint64(0)
	for k := range outlines {
		boxes[k] = geom.EmptyRect()
		for r, ring := range outlines[k].Rings {
			for i, p := range ring {
				boxes[k] = boxes[k].Extend(geom.Point{X: int(math.Floor(p.X)), Y: int(math.Floor(p.Y))}).Extend(geom.Point{X: int(math.Ceil(p.X)), Y: int(math.Ceil(p.Y))})
				layers |= 1 << outlines[k].Edges[r][i].Layer
			}
		}
	}
	in := newBoxGrid(boxes)
	edges := make([]*outlineEdges, len(outlines))
	numbers := map[drawnEdge]int32{}
	near := func(box geom.Rect, found func(k int)) {
		in.near(box, func(k int) {
			if touch(box, boxes[k]) {
				found(k)
			}
		})
	}
	walk := layout.Walk{Layers: layers, Overlaps: func(box geom.Rect) (any bool) {
		near(box, func(int) { any = true })
		return any
	}, Yield: func(p *layout.Placed) bool {
		var pg geom.Polygon
		near(p.Transform.Bounds(p.Polygon.Bounds()), func(k int) {
			if pg == nil {
				pg = p.Transform.ApplyPolygon(p.Polygon)
			}
			if edges[k] == nil {
				edges[k] = newOutlineEdges(outlines[k])
			}
			for r, ring := range pg {
				for i, a := range ring {
					edges[k].on(a, ring[(i+1)%len(ring)], p.Layer, func(b *Border) {
						key := drawnEdge{p.Shape, r, i}
						if numbers[key] == 0 {
							numbers[key] = int32(len(numbers) + 1)
						}
						b.Drawn = numbers[key]
					})
				}
			}
		})
		return true
	}}
	walk.Run(flat)
}

// outlineEdges finds the edges of an outline by place.
type outlineEdges struct {
	ends    [][2]geom.Vec
	borders []*Border
	boxes   []geom.Rect
	in      *boxGrid
}

func newOutlineEdges(o *Outline) *outlineEdges {
	e := &outlineEdges{}
	for r, ring := range o.Rings {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			e.ends, e.borders = append(e.ends, [2]geom.Vec{a, b}), append(e.borders, &o.Edges[r][i])
			e.boxes = append(e.boxes, geom.Box(int(math.Floor(min(a.X, b.X))), int(math.Floor(min(a.Y, b.Y))), int(math.Ceil(max(a.X, b.X))), int(math.Ceil(max(a.Y, b.Y)))))
		}
	}
	e.in = newBoxGrid(e.boxes)
	return e
}

// on tells of the edges on a layer that lie on the drawn edge from u to v, and on none that came before.
func (e *outlineEdges) on(u, v geom.Point, l layout.Layer, found func(*Border)) {
	box := geom.Box(min(u.X, v.X)-onDrawnNm, min(u.Y, v.Y)-onDrawnNm, max(u.X, v.X)+onDrawnNm, max(u.Y, v.Y)+onDrawnNm)
	dx, dy := float64(v.X-u.X), float64(v.Y-u.Y)
	length := math.Hypot(dx, dy)
	lies := func(p geom.Vec) bool {
		x, y := p.X-float64(u.X), p.Y-float64(u.Y)
		along := x*dx + y*dy
		return math.Abs(dx*y-dy*x) <= onDrawnNm*length && along >= -onDrawnNm*length && along <= (length+onDrawnNm)*length
	}
	if length == 0 {
		return
	}
	e.in.near(box, func(k int) {
		if b := e.borders[k]; b.Drawn == 0 && b.Layer == l && touch(e.boxes[k], box) && lies(e.ends[k][0]) && lies(e.ends[k][1]) {
			found(b)
		}
	})
}
