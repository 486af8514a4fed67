package question

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// part is a channel or a region of what a question is about.
type part struct {
	what      byte // 'c' for channels, else the region's kind
	layer     int
	area      int // nm²
	perimeter int // nm
	contacts  int
	net       int // by NetID, -1 of channels
	box       geom.Rect
}

// formOf writes what is drawn of a draft's structure, the same for what is congruent: equal but for where it lies and how it is turned by
// right angles or mirrored, with the same roles of nets and the same parts on one net. Empty of a draft that has no structure.
//
// Parts are told by layer, area, perimeter and box, to the nanometre; of the eight ways to lie the first in order of bytes stands for all.
func (v *view) formOf(d *draft) string {
	parts := v.room.form.parts[:0]
	add := func(r extract.RegionID) {
		g := &v.f.Regions[r]
		parts = append(parts, part{byte(g.Kind), int(g.Layer), int(math.Round(g.Area + g.TapArea + g.DiodeArea)), int(math.Round(g.Perimeter)), g.Contacts, g.NetID, g.Box})
	}
	channels, gates, rims := d.form.channels, d.form.gates, d.form.rims
	if d.plate != nil {
		channels, gates, rims = d.plate.channels, d.plate.gates, d.plate.rims
	}
	for _, k := range channels {
		c := &v.f.Channels[k]
		parts = append(parts, part{'c', int(c.Layer)<<8 | int(c.Diffusion), int(math.Round(c.Area)), int(math.Round(c.Perimeter)), 0, -1, c.Box})
	}
	for _, all := range [][]extract.RegionID{gates, rims} {
		for _, r := range all {
			add(r)
		}
	}
	v.room.form.parts = parts
	if len(parts) == 0 {
		return ""
	}
	var best []byte
	for way := range 8 {
		if b := v.lying(way); best == nil || bytes.Compare(b, best) < 0 {
			best = append(best[:0], b...)
		}
	}
	return string(best)
}

// formRoom is room for formOf, to be used again.
type formRoom struct {
	parts []part
	boxes []geom.Rect // of parts as they are turned
	bytes []byte
	rows  [][]byte // by part, in bytes
	order []int
	out   []byte
	nets  map[int]int
}

// lying writes the parts in the room for them as they lie once they are turned and mirrored one of eight ways, their lowest, leftmost place at
// the origin. What it returns holds until the next.
func (v *view) lying(way int) []byte {
	r := &v.room.form
	whole := geom.EmptyRect()
	r.boxes, r.bytes, r.rows, r.order, r.out = r.boxes[:0], slices.Grow(r.bytes[:0], 80*len(r.parts)), r.rows[:0], r.order[:0], r.out[:0]
	for i := range r.parts {
		box := laid(r.parts[i].box, way)
		whole = whole.Union(box)
		r.boxes, r.order = append(r.boxes, box), append(r.order, i)
	}
	for i := range r.parts {
		p, box, from := &r.parts[i], r.boxes[i], len(r.bytes)
		b := r.bytes
		for _, n := range [...]int{int(p.what), p.layer, p.area, p.perimeter, p.contacts, box.Min.X - whole.Min.X, box.Min.Y - whole.Min.Y, box.Width(), box.Height()} {
			b = binary.BigEndian.AppendUint64(b, uint64(n))
		}
		if p.net >= 0 {
			b = append(b, byte(v.roleOf(p.net)), 0)
			if v.pads[p.net] {
				b[len(b)-1] = 1
			}
		}
		r.bytes, r.rows = b, append(r.rows, b[from:])
	}
	slices.SortStableFunc(r.order, func(a, b int) int { return bytes.Compare(r.rows[a], r.rows[b]) })
	if r.nets == nil {
		r.nets = map[int]int{}
	}
	clear(r.nets) // they are numbered as they come
	for _, i := range r.order {
		r.out = append(r.out, r.rows[i]...)
		if n := r.parts[i].net; n >= 0 {
			if _, there := r.nets[n]; !there {
				r.nets[n] = len(r.nets)
			}
			r.out = binary.BigEndian.AppendUint64(r.out, uint64(r.nets[n]))
		}
	}
	return r.out
}

// laid turns a box: way/2 quarters of a turn, of which every second is of the mirrored box.
func laid(r geom.Rect, way int) geom.Rect {
	if way%2 == 1 {
		r = geom.Box(-r.Max.X, r.Min.Y, -r.Min.X, r.Max.Y)
	}
	for range way / 2 {
		r = geom.Box(-r.Max.Y, r.Min.X, -r.Min.Y, r.Max.X)
	}
	return r
}
