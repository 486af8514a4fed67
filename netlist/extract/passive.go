package extract

import (
	"math"
	"slices"

	"undermetal/netlist"
)

// capacitor makes a device of a place where two plates lie over each other.
func (j *joiner) capacitor(n node, covers []cover) part {
	reg := &j.plan.groups[j.pieces[n].group].regions[j.pieces[n].region]
	rule := &j.plan.st.Capacitors[reg.rule]
	p := part{of: n, layer: reg.layer}
	p.dev = netlist.Device{Kind: netlist.Capacitor, Model: rule.Model, Area: j.pieces[n].area, Perim: j.pieces[n].perimeter, At: j.at(n)}
	p.dev.Value = j.farad(reg.rule, p.dev.Area, p.dev.Perim)
	var upper, lower node
	for _, c := range covers {
		switch {
		case c.on == 0:
		case j.layer(c.on) == rule.Upper:
			upper = j.root[c.on]
		default:
			lower = j.root[c.on]
		}
	}
	p.nets[0], p.nets[1] = j.endNet(upper, &p), j.endNet(lower, &p)
	if p.nets[0] == p.nets[1] {
		p.code = "plates-joined"
		j.warn(p.code, n, "both plates of a capacitor, %s over %s, are one net", j.layerOf(upper), j.layerOf(lower))
	}
	return p
}

// farad returns the capacitance of plates with an area in nm² and a perimeter in nm, by the figures of their rule, or of
// the upper plate's layer where the rule has no figure for the area; NaN without either.
func (j *joiner) farad(rule int, area, perim float64) float64 {
	perArea, perEdge := j.figures(rule)
	if perArea == 0 {
		return math.NaN()
	}
	return (perArea*(area/1e6) + perEdge*(perim/1e3)) / 1e18
}

// figures returns what a capacitor has of each µm² and each µm of its edge, in aF; 0 for the area where neither rule nor layer says.
func (j *joiner) figures(rule int) (perArea, perEdge float64) {
	r := &j.plan.st.Capacitors[rule]
	perArea, perEdge = r.AreaAFUm2, r.EdgeAFUm
	if perArea == 0 {
		upper := &j.plan.st.Layers[r.Upper]
		perArea = upper.AreaAFUm2
		if perEdge == 0 {
			perEdge = upper.EdgeAFUm
		}
	}
	return perArea, perEdge
}

// endNet returns the net of a region, for a well that of the nearest tap where several nets tie it.
func (j *joiner) endNet(region node, p *part) node {
	if j.regionKind(region) == well {
		return j.bodyNet(region, p)
	}
	return j.find(region)
}

// resistors makes the devices of one resistor's body: one, or one a pair of nets where there are more than two.
func (j *joiner) resistors(n node, covers []cover, spans []span) []part {
	p := part{of: n, layer: j.layer(n)}
	edges := j.edges(spans)
	var nets []node
	length := 0.0
	for _, e := range edges {
		length += e.length
		if net := j.endNet(e.diffusion, &p); !slices.Contains(nets, net) {
			nets = append(nets, net)
		}
	}
	rule := j.resistorRule(n, covers)
	p.dev = netlist.Device{Kind: netlist.Resistor, Model: j.plan.st.Resistors[rule].Model, Area: j.pieces[n].area, Value: math.NaN(), At: j.at(n)}
	if len(nets) > 2 {
		j.warn("many-ended-resistor", n, "a resistor of %s has %d nets at its ends; each pair is given as a device without W and L; its value is known only where it is solved for", j.layerOf(n), len(nets))
		p.code = "many-ended-resistor"
		var parts []part
		for a := range nets {
			for b := a + 1; b < len(nets); b++ {
				p.nets[0], p.nets[1] = nets[a], nets[b]
				parts = append(parts, p)
			}
		}
		return parts
	}
	if stretches(edges) < 2 {
		j.warn("one-ended-resistor", n, "a resistor of %s has %s; it makes no device", j.layerOf(n), [...]string{"no end: none of the layer lies beside it", "one end only"}[len(nets)])
		return nil
	}
	if len(nets) == 1 {
		p.code = "one-ended-resistor"
		j.warn(p.code, n, "both ends of a resistor of %s are one net", j.layerOf(n))
	}
	p.nets[0], p.nets[1] = nets[0], nets[len(nets)-1]
	p.dev.W = length / 2
	p.dev.L = p.dev.Area / p.dev.W
	if ohm := j.sheetOhm(rule); ohm > 0 {
		p.dev.Value = ohm * (p.dev.L / p.dev.W)
	}
	return []part{p}
}

// sheetOhm returns the resistance of a square by a rule, or by its layer; 0 where neither says.
func (j *joiner) sheetOhm(rule int) float64 {
	r := &j.plan.st.Resistors[rule]
	if r.SheetOhm > 0 {
		return r.SheetOhm
	}
	return j.plan.st.Layers[r.Body].SheetOhm
}

// resistorRule returns the rule that holds on most of a resistor's body; where several hold at a place the first counts.
func (j *joiner) resistorRule(n node, covers []cover) int {
	best, most := j.bestRule(n, covers)
	if most < 1 {
		j.warn("mixed-resistor", n, "the conditions of %s hold on %.0f %% of the body of a resistor of %s, those of others on the rest; taken as %[1]s",
			j.plan.st.Resistors[best].Model, 100*most, j.layerOf(n))
	}
	return best
}

// bestRule returns the rule that holds on most of a resistor's body, and on what part of it.
func (j *joiner) bestRule(n node, covers []cover) (best int, most float64) {
	all := j.plan.st.Resistors
	on := make([]float64, len(all))
	area := 0.0
	for _, c := range covers {
		for i := range all {
			if all[i].Body == j.layer(n) && holds(all[i].Where, c.mask) {
				on[i] += c.area
				area += c.area
				break
			}
		}
	}
	for i := range on {
		on[i] = share(on[i], area)
		if on[i] > on[best] {
			best = i
		}
	}
	return best, on[best]
}
