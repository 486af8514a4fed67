package check

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// placed is a shape in one of its places.
type placed struct {
	index     int32 // in layout.Flat.Drawn
	order     int32 // in the stream
	layer     layout.Layer
	rect      bool // it is its box
	box       geom.Rect
	transform geom.Transform
}

// flatten lists the placed shapes of a drawing.
func flatten(flat *layout.Flat) []placed {
	var all []placed
	var buf geom.Polygon
	w := layout.Walk{Layers: ^uint64(0), Yield: func(p *layout.Placed) bool {
		buf = p.Transform.ApplyPolygonIn(buf, p.Polygon)
		box := buf.Bounds()
		all = append(all, placed{int32(p.Index), int32(len(all)), p.Layer, isBox(buf, box), box, p.Transform})
		return true
	}}
	w.Run(flat)
	return all
}

// isBox reports whether a polygon is the rectangle of its bounds.
func isBox(pg geom.Polygon, box geom.Rect) bool {
	if len(pg) != 1 || len(pg[0]) != 4 || !pg[0].Manhattan() || !pg[0].Simple() {
		return false
	}
	return box.Width() > 0 && box.Height() > 0
}

// polygon returns a placed shape in the frame.
func (d *drawing) polygon(p *placed) geom.Polygon {
	return p.transform.ApplyPolygon(d.flat.Drawn()[p.index].Polygon)
}

// edges returns the edges of what a job asks for, noded.
func (d *drawing) edges(j *job) (edges []sweep.Edge, x0, x1 int) {
	var segs []sweep.Seg
	var bits []uint8
	add := func(pg geom.Polygon, bit uint8) {
		segs = sweep.AppendOutline(segs, pg)
		for len(bits) < len(segs) {
			bits = append(bits, bit)
		}
	}
	for i := range d.shapes {
		if p := &d.shapes[i]; j.layers>>p.layer&1 != 0 {
			add(d.polygon(p), j.bitOf(p.layer))
		}
	}
	for i := range j.more {
		add(j.more[i].Polygon, j.moreBit(j.more[i].Layer))
	}
	noder := sweep.NewNoder(sweep.AppendLines(nil, nil, segs))
	noder.Settle(1)
	box := geom.EmptyRect()
	var noded []sweep.Seg
	for i, s := range segs {
		noded = noder.AppendNoded(noded[:0], s)
		for _, p := range noded {
			box = box.Extend(p.A).Extend(p.B)
			if p.A.Y == p.B.Y {
				continue
			}
			e := sweep.Edge{Line: p.Line(), Layer: bits[i], Winding: 1}
			if p.A.Y < p.B.Y { // covered on the left of the way up
				e.Winding = -1
			}
			edges = append(edges, e)
		}
	}
	return edges, box.Min.X - 1, box.Max.X + 1
}
