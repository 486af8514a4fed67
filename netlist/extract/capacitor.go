package extract

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"undermetal/netlist"
)

// capacitors follows the answers to "transistor or capacitor".
func (d *decision) capacitors() {
	for _, i := range d.byDepth(transistorOrCapacitor) {
		v := &d.verdicts[i]
		if !slices.Contains([]string{"capacitor", "transistor", "dummy"}, v.Reading) {
			d.unused(v, fmt.Sprintf("the reading %q is none of capacitor, transistor and dummy", v.Reading))
			continue
		}
		k := d.structureAt(v)
		s := &d.structures[k]
		v.parts = s.Devices
		if !d.takes(d.claims, i, k) {
			continue
		}
		switch {
		case v.Reading == "capacitor" && len(s.Devices) == 0:
			d.unused(v, "the diffusion has no edge beside the gate, so that the lower plate has no net")
		case v.Reading == "capacitor":
			d.capacitor(v, s)
		case v.Reading == "transistor":
			d.together(s)
		}
	}
}

// Of silicon dioxide: the vacuum's permittivity in F/m (CODATA 2022), and how many times as large it is in the oxide
// (common practice).
const (
	vacuum       = 8.8541878188e-12
	oxide        = 3.9
	capacitorOf  = "moscap" // the model of a capacitor whose value is not known
	equalLNm     = 0.5      // channels with lengths that differ by less are one device
	twoPlateNets = "plate-on-two-nets"
)

// capacitor makes one capacitor of a structure.
func (d *decision) capacitor(v *placedVerdict, s *Structure) {
	first := d.parts[s.Devices[0]]
	p := part{of: first.of, layer: first.layer}
	p.dev = netlist.Device{Kind: netlist.Capacitor, Area: s.Area, Fingers: int32(s.Fingers), Value: math.NaN(), Model: capacitorOf, At: first.dev.At}
	if t := d.plan.st.Process.GateOxideNm; t > 0 {
		p.dev.Value, p.dev.Model = vacuum*oxide/(t*1e-9)*(s.Area*1e-18), ""
	}
	edges := map[node]float64{}
	total := 0.0
	for _, c := range s.Channels {
		ch := &d.facts.Channels[c]
		p.dev.Perim += ch.Perimeter
		for _, e := range ch.Edges {
			edges[d.find(d.observed.regions[e.Region])] += e.Length
			total += e.Length
		}
	}
	nets := slices.SortedFunc(maps.Keys(edges), func(a, b node) int {
		return cmp.Or(cmp.Compare(share(edges[b], total), share(edges[a], total)), d.byPlace(d.lowest[a], d.lowest[b]))
	})
	if len(nets) > 1 {
		d.warnVerdict(twoPlateNets, v, fmt.Sprintf("the lower plate of the capacitor is on %d nets; it is given with the one that has more of the edge", len(nets)))
	}
	p.nets[0], p.nets[1] = first.nets[netlist.Gate], nets[0]
	n := d.add(p)
	for _, k := range s.Devices {
		d.into[k] = n
		d.parts[n].takeOver(&d.parts[k])
	}
}

// together makes one device of all transistors of a structure with the same nets and length.
func (d *decision) together(s *Structure) {
	var kept []int
	for _, k := range s.Devices {
		p := &d.parts[k]
		if p.code == "source-is-drain" { // that is no question any more
			p.code = ""
		}
		i := slices.IndexFunc(kept, func(i int) bool {
			q := &d.parts[i]
			same := p.nets == q.nets || p.nets == [4]node{q.nets[netlist.Source], q.nets[netlist.Gate], q.nets[netlist.Drain], q.nets[netlist.Bulk]}
			return same && p.dev.Kind == q.dev.Kind && p.dev.Model == q.dev.Model && p.code == q.code && math.Abs(p.dev.L-q.dev.L) < equalLNm
		})
		if i < 0 {
			kept = append(kept, k)
			continue
		}
		q := &d.parts[kept[i]]
		e := p.dev
		if p.nets != q.nets {
			e.AD, e.AS, e.PD, e.PS = e.AS, e.AD, e.PS, e.PD
		}
		q.dev.Fingers = max(q.dev.Fingers, 1) + 1
		q.dev.W += e.W
		q.dev.AD, q.dev.AS, q.dev.PD, q.dev.PS = q.dev.AD+e.AD, q.dev.AS+e.AS, q.dev.PD+e.PD, q.dev.PS+e.PS
		q.takeOver(p)
		d.into[k] = kept[i]
	}
}

// takeOver notes the regions of a part that p stands for from now on.
func (p *part) takeOver(q *part) {
	for _, n := range append([]node{q.of}, q.more...) {
		if n != p.of && !slices.Contains(p.more, n) {
			p.more = append(p.more, n)
		}
	}
}
