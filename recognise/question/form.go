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
	var parts []part
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
	if len(parts) == 0 {
		return ""
	}
	var best []byte
	for way := range 8 {
		if b := v.lying(parts, way); best == nil || bytes.Compare(b, best) < 0 {
			best = b
		}
	}
	return string(best)
}

// lying writes parts as they lie once they are turned and mirrored one of eight ways, their lowest, leftmost place at the origin.
func (v *view) lying(parts []part, way int) []byte {
	turned := make([]part, len(parts))
	whole := geom.EmptyRect()
	for i, p := range parts {
		p.box = laid(p.box, way)
		whole = whole.Union(p.box)
		turned[i] = p
	}
	rows := make([][]byte, len(parts))
	for i, p := range turned {
		b := make([]byte, 0, 80)
		for _, n := range []int{int(p.what), p.layer, p.area, p.perimeter, p.contacts, p.box.Min.X - whole.Min.X, p.box.Min.Y - whole.Min.Y, p.box.Width(), p.box.Height()} {
			b = binary.BigEndian.AppendUint64(b, uint64(n))
		}
		if p.net >= 0 {
			b = append(b, byte(v.roleOf(p.net)), 0)
			if v.pads[p.net] {
				b[len(b)-1] = 1
			}
		}
		rows[i] = b
	}
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return bytes.Compare(rows[a], rows[b]) })
	var out []byte
	number := map[int]int{} // nets, as they come
	for _, i := range order {
		out = append(out, rows[i]...)
		if n := turned[i].net; n >= 0 {
			if _, there := number[n]; !there {
				number[n] = len(number)
			}
			out = binary.BigEndian.AppendUint64(out, uint64(number[n]))
		}
	}
	return out
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
