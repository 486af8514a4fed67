package extract

import (
	"fmt"
	"slices"

	"undermetal/netlist"
)

// polarities follows the answers to "n or p", and leading readings of it.
func (d *decision) polarities() {
	settled := map[Warning]bool{} // without code and text
	for _, i := range d.byDepth(polarity) {
		v := &d.verdicts[i]
		if v.Reading != "n" && v.Reading != "p" {
			d.unused(v, fmt.Sprintf("the reading %q is neither n nor p", v.Reading))
			continue
		}
		s := d.structureAt(v)
		v.parts = d.structures[s].Devices
		about := s
		if v.leading {
			ch := &d.facts.Channels[d.channel[v.nodes[0]]]
			if about = -1 - d.channel[v.nodes[0]]; d.claimed(polarity, s) || ch.Device < 0 {
				v.Lost, v.Unused = false, true
				continue
			}
			v.parts = ch.Devices()
		}
		if !d.takes(d.claims, i, about) {
			continue
		}
		for _, k := range v.parts {
			p := &d.parts[k]
			d.setPolarity(p, v.Reading)
			settled[Warning{Layer: d.layerOf(p.of), X: d.at(p.of).X, Y: d.at(p.of).Y}] = true
		}
	}
	d.warnings = slices.DeleteFunc(d.warnings, func(w Warning) bool {
		return (w.Code == "polarity-unknown" || w.Code == "mixed-channel") && settled[Warning{Layer: w.Layer, X: w.X, Y: w.Y}]
	})
}

// setPolarity gives a transistor a type, with the first rule for its layers that has it.
func (d *decision) setPolarity(p *part, typ string) {
	covers := d.coversOf(p.of)
	u := d.groundOf(covers)
	p.dev.Kind, p.dev.Model, p.nets[netlist.Bulk] = netlist.NMOS, "", 0
	if typ == "p" {
		p.dev.Kind = netlist.PMOS
	}
	for i := range d.plan.st.MOS {
		if r := &d.plan.st.MOS[i]; r.Type == typ && slices.Contains(r.Gates, d.layer(p.of)) && onDiffusion(r.Diffusions, u.on[:], u.area) {
			d.byRule(p, r, u)
			break
		}
	}
	if p.code == "polarity-unknown" {
		p.code = ""
	}
}
