package question

import (
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// askFloating asks about gates that nothing drives: their net has no source or drain, no pad, no label, and does not go on
// beyond what was traced.
func (v *view) askFloating() []draft {
	var out []draft
	seenNet := make([]bool, v.f.Nets)
	for i := range v.f.Channels {
		id := v.f.Regions[v.f.Channels[i].Gate].NetID
		if seenNet[id] {
			continue
		}
		seenNet[id] = true
		if v.floats(id) {
			out = append(out, v.floatingDraft(id))
		}
	}
	return out
}

func (v *view) floats(netID int) bool {
	if n := v.netOf(netID); n != netlist.NoNet {
		if info := &v.c.Nets[n]; info.Name != "" || info.Open {
			return false
		}
	}
	return !slices.ContainsFunc(v.byNet[netID], func(i int) bool {
		r := &v.f.Regions[i]
		return r.Kind != extract.GateRegion || r.Open
	})
}

func (v *view) floatingDraft(netID int) draft {
	d := draft{kind: FloatingGate, saw: map[string]seen{}}
	box := geom.EmptyRect()
	var gates []extract.RegionID
	contacts := 0
	for _, i := range v.byNet[netID] {
		gates = append(gates, extract.RegionID(i))
		box = box.Union(v.f.Regions[i].Box)
		contacts += v.f.Regions[i].Contacts
	}
	var mine []int // channels
	for _, g := range gates {
		mine = append(mine, v.made[g]...)
	}
	slices.Sort(mine)
	first := &v.f.Channels[mine[0]]
	d.form.channels, d.form.gates = mine, gates
	d.at, d.layer, d.path = first.At, first.Layer, first.Path
	for _, i := range mine {
		if k := v.f.Channels[i].Device; k >= 0 {
			d.devices = append(d.devices, k)
		}
	}
	if n := v.netOf(netID); n != netlist.NoNet {
		d.nets = []netlist.Net{n}
	}
	d.saw["above"] = v.gateAbove(gates)
	switch {
	case contacts > 0:
		d.saw["nearby"] = seen{"contacts", "it has " + plural(contacts, "contact", "contacts") + ", and what they lead to drives nothing"}
		d.saw["shot"] = seen{outcome: beside}
	case v.contactsNear(box):
		d.saw["nearby"] = seen{"contacts", ""}
	default:
		d.saw["nearby"] = seen{"none", ""}
	}
	d.saw["likes"] = v.gateLikes(netID, mine[0])
	return d
}

// gateAbove tells whether a gate of another layer lies on the gates, as far as their boxes tell.
func (v *view) gateAbove(gates []extract.RegionID) seen {
	if v.gateBoxes == nil {
		v.gateBoxes = newGrid(max(int(50*v.feature), 1))
		for i := range v.f.Regions {
			if v.f.Regions[i].Kind == extract.GateRegion {
				v.gateBoxes.add(int32(i), v.f.Regions[i].Box)
			}
		}
	}
	found := false
	for _, g := range gates {
		r := &v.f.Regions[g]
		v.gateBoxes.near(r.Box, func(k int32) bool {
			q := &v.f.Regions[k]
			found = found || q.Layer != r.Layer && overlap(q.Box, r.Box) > 0.5*float64(r.Box.Width())*float64(r.Box.Height())
			return !found
		})
	}
	if found {
		return seen{"gate", ""}
	}
	return seen{outcome: "none"}
}

// overlap returns the area in nm² that two boxes have in common.
func overlap(a, b geom.Rect) float64 {
	w, h := min(a.Max.X, b.Max.X)-max(a.Min.X, b.Min.X), min(a.Max.Y, b.Max.Y)-max(a.Min.Y, b.Min.Y)
	return float64(max(w, 0)) * float64(max(h, 0))
}

// gateLikes tells whether gates of the same size near one float, too.
func (v *view) gateLikes(netID, channel int) seen {
	p := &v.plates[v.plateOf[channel]]
	near := grown(p.box, 4*max(p.box.Width(), p.box.Height()))
	driven, floating := 0, 0
	v.likes.near(p.area/float64(len(p.channels)), p.across, near, func(k int32) bool {
		q := &v.plates[k]
		if q == p || q.gateNet == netID || !q.box.Overlaps(near) || len(q.channels) == 0 {
			return true
		}
		if v.floats(q.gateNet) {
			floating++
		} else {
			driven++
		}
		return driven+floating < mostTwins
	})
	switch {
	case driven > floating:
		return seen{"driven", ""}
	case floating > 0:
		return seen{"floating", ""}
	}
	return seen{outcome: "alone"}
}
