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

// strips returns the edges of what a job asks for, noded, in strips.
func (d *drawing) strips(j *job) []sweep.Strip {
	var segs []sweep.Seg
	type outline struct {
		end int // of its segments
		bit uint8
	}
	var outlines []outline
	add := func(pg geom.Polygon, bit uint8) {
		segs = sweep.AppendOutline(segs, pg)
		outlines = append(outlines, outline{len(segs), bit})
	}
	box := geom.EmptyRect()
	for i := range d.shapes {
		if p := &d.shapes[i]; j.layers>>p.layer&1 != 0 {
			add(d.polygon(p), j.bitOf(p.layer))
			box = box.Union(p.box)
		}
	}
	for i := range j.more {
		add(j.more[i].Polygon, j.moreBit(j.more[i].Layer))
		box = box.Union(j.more[i].Polygon.Bounds())
	}
	if len(segs) == 0 {
		return nil
	}
	n := d.opt.strips
	if n == 0 {
		n = stripCount(len(outlines), box)
	}
	noder := sweep.NewNoder(sweep.AppendLines(nil, nil, segs))
	noder.Settle(1)
	dealer := sweep.NewDealer(box.Min.X-2, box.Max.X+2, n) // slanted edges may be led 1 nm outside
	var noded []sweep.Seg
	start := 0
	for _, o := range outlines {
		noded = noder.AppendNoded(noded[:0], segs[start:o.end])
		dealer.Shape(noded, o.bit)
		start = o.end
	}
	return dealer.Strips
}
