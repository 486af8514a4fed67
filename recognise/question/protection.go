package question

import (
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// tellProtection finds what lies between a signal's pad and a supply and does not conduct as long as the pad is between the supplies:
// diodes, transistors whose gate is tied off, and junctions that are much larger than they need be, of which no rule made a device. A pad
// of a supply is protected by all that lies between the supplies, so that nothing is told of it.
func (v *view) tellProtection(t *Told, photo *photodiodes) {
	pads := map[netlist.Net][]int{} // of extract.Result.Pads, by net
	for i, p := range v.res.Pads {
		if p.Net != netlist.NoNet && v.role[p.Net] == signal {
			pads[p.Net] = append(pads[p.Net], i)
		}
	}
	if len(pads) == 0 {
		return
	}
	at := map[extract.RegionID]bool{} // junctions of devices that protect
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		from, ok := v.protects(d, pads)
		if !ok || d.Kind == netlist.Diode && photo.device[i] {
			continue
		}
		t.Roles[i] = Protection
		for _, p := range pads[from] {
			t.Protects[p].Devices = append(t.Protects[p].Devices, i)
		}
		for _, c := range v.channelsOf[i] {
			for _, e := range v.f.Channels[c].Edges {
				at[e.Region] = true
			}
		}
	}
	for _, id := range v.largeJunctions() {
		r := &v.f.Regions[id]
		if r.Net == netlist.NoNet || len(pads[r.Net]) == 0 || r.DiodeArea > r.Area || at[id] || photo.region[id] {
			continue
		}
		if k := v.answers.in(Photodiode, r.Layer, r.Box, id); k >= 0 && v.answers.all[k].Reading == "junction" {
			continue
		}
		for _, p := range pads[r.Net] {
			t.Protects[p].Structures = append(t.Protects[p].Structures, len(t.Structures))
		}
		t.Structures = append(t.Structures, Structure{Role: Protection, Layer: r.Layer, At: r.Within, Path: v.f.Path(id), Net: r.Net, Area: r.Area + r.DiodeArea})
	}
}

// protects reports whether a device lies between the net of a pad and a supply or a body, and does not conduct; from is the pad's net.
func (v *view) protects(d *netlist.Device, pads map[netlist.Net][]int) (from netlist.Net, ok bool) {
	between := func(a, b netlist.Net, body netlist.Net) bool {
		return len(pads[a]) > 0 && b != netlist.NoNet && len(pads[b]) == 0 && (v.role[b] != signal || b == body)
	}
	ends := [2]netlist.Net{d.Terminals[0], d.Terminals[1]}
	body := netlist.NoNet
	switch {
	case d.Kind.IsMOS():
		ends = [2]netlist.Net{d.Terminals[netlist.Drain], d.Terminals[netlist.Source]}
		body = d.Terminals[netlist.Bulk]
	case d.Kind == netlist.Diode:
		for _, n := range ends {
			if v.c.Nets[n].Layer == "substrate" {
				body = n
			}
		}
	default:
		return netlist.NoNet, false
	}
	for k, n := range ends {
		other := ends[1-k]
		if between(n, other, body) && (d.Kind == netlist.Diode || v.tiedOff(d, other)) {
			return n, true
		}
	}
	return netlist.NoNet, false
}

// tiedOff reports whether a transistor never conducts: its gate is on the supply that keeps it off, or on its source where that is its
// bulk; of unknown type, on its source where that is a supply.
func (v *view) tiedOff(d *netlist.Device, source netlist.Net) bool {
	g := d.Terminals[netlist.Gate]
	if off(d.Kind, v.role[g]) {
		return true
	}
	if d.Kind == netlist.MOS {
		return g == source && v.role[g] != signal
	}
	return g == source && g == d.Terminals[netlist.Bulk]
}
