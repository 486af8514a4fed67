package question

import (
	"fmt"
	"slices"

	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// askPolarity asks about transistors of which no rule of the stack says whether they are n or p.
func (v *view) askPolarity() []draft {
	var out []draft
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		cs := v.channelsOf[i]
		if !d.Kind.IsMOS() || d.Kind != netlist.MOS && !v.decided(Polarity, i) || len(cs) == 0 || v.f.Channels[cs[0]].Device != i {
			continue
		}
		c := &v.f.Channels[cs[0]]
		q := draft{kind: Polarity, at: c.At, layer: c.Layer, path: c.Path, devices: []int{i}, nets: netsOf(d), saw: v.lookAtPolarity(i, c)}
		q.form.channels, q.form.gates = cs[:1], []extract.RegionID{c.Gate}
		for _, e := range c.Edges {
			q.form.rims = append(q.form.rims, e.Region)
		}
		out = append(out, q)
	}
	return out
}

// netsOf returns the nets of gate, drain and source, each once.
func netsOf(d *netlist.Device) []netlist.Net {
	var nets []netlist.Net
	for _, t := range []int{netlist.Gate, netlist.Drain, netlist.Source} {
		if n := d.Terminals[t]; n != netlist.NoNet && !slices.Contains(nets, n) {
			nets = append(nets, n)
		}
	}
	return nets
}

func (v *view) lookAtPolarity(i int, c *extract.Channel) map[string]seen {
	d := &v.c.Devices[i]
	saw := map[string]seen{}
	if kind, net := v.kindBySource(d); kind != netlist.MOS {
		saw["source"] = seen{map[netlist.Kind]string{netlist.NMOS: "ground", netlist.PMOS: "supply"}[kind], "one of source and drain is " + v.sayNet(net)}
	} else if v.supplies() && v.bothJoined(c) {
		saw["source"] = seen{"signal", "source and drain are " + v.sayNet(d.Terminals[netlist.Drain]) + " and " + v.sayNet(d.Terminals[netlist.Source])}
	}
	if t := v.diffusionType(c.Diffusion); t != "" {
		saw["layer"] = seen{t, v.st.Layers[c.Diffusion].Name}
	}
	if t := v.bodyType(c.Well); t != "" && (c.Well != extract.NoRegion || v.diffusions() > 1) {
		saw["well"] = seen{t + "-body", "it lies " + v.inside(c.Well)}
	}
	saw["twin"] = v.twin(i)
	saw["strip"] = v.stripType(c)
	return saw
}

func (v *view) inside(well extract.RegionID) string {
	if well == extract.NoRegion {
		return "outside all wells"
	}
	return "in " + v.st.Layers[v.f.Regions[well].Layer].Name
}

// bothJoined reports whether all sources and drains of a channel have contacts.
func (v *view) bothJoined(c *extract.Channel) bool {
	return !slices.ContainsFunc(c.Edges, func(e extract.Edge) bool { return v.f.Regions[e.Region].Contacts == 0 })
}

// kindBySource tells a transistor's kind by the supply that one side of it is tied to; MOS where none is, or both kinds.
func (v *view) kindBySource(d *netlist.Device) (netlist.Kind, netlist.Net) {
	kind, net := netlist.MOS, netlist.NoNet
	for _, t := range []int{netlist.Drain, netlist.Source} {
		n := d.Terminals[t]
		if n == netlist.NoNet || v.role[n] == signal {
			continue
		}
		k := map[role]netlist.Kind{ground: netlist.NMOS, supply: netlist.PMOS}[v.role[n]]
		if kind != netlist.MOS && kind != k {
			return netlist.MOS, netlist.NoNet
		}
		kind, net = k, n
	}
	return kind, net
}

// known returns the kind of a transistor, by its rule or by its source; MOS where neither tells.
func (v *view) known(i int) netlist.Kind {
	if k := v.c.Devices[i].Kind; k != netlist.MOS {
		return k
	}
	k, _ := v.kindBySource(&v.c.Devices[i])
	return k
}

// letters of kinds, as the table has them.
var letters = map[netlist.Kind]string{netlist.NMOS: "n", netlist.PMOS: "p"}

// twin looks for a transistor of known kind that shares the gate net and a drain that is no supply.
func (v *view) twin(i int) seen {
	d := &v.c.Devices[i]
	for _, k := range v.gatedBy(d.Terminals[netlist.Gate]) {
		e := &v.c.Devices[k]
		if k == i {
			continue
		}
		for _, t := range []int{netlist.Drain, netlist.Source} {
			n := e.Terminals[t]
			if n == netlist.NoNet || v.role[n] != signal || n != d.Terminals[netlist.Drain] && n != d.Terminals[netlist.Source] {
				continue
			}
			if l := letters[v.known(k)]; l != "" {
				return seen{l, fmt.Sprintf("%s and %s", v.sayNet(d.Terminals[netlist.Gate]), v.sayNet(n))}
			}
		}
	}
	return seen{outcome: "none"}
}

// gatedBy returns the transistors whose gate is a net, in their order.
func (v *view) gatedBy(n netlist.Net) []int {
	if v.gated == nil {
		v.gated = map[netlist.Net][]int{}
		for i := range v.c.Devices {
			if d := &v.c.Devices[i]; d.Kind.IsMOS() {
				v.gated[d.Terminals[netlist.Gate]] = append(v.gated[d.Terminals[netlist.Gate]], i)
			}
		}
	}
	ds := v.gated[n]
	return ds[:min(len(ds), mostTwins)]
}

// mostTwins is how many transistors of one gate net are looked at.
const mostTwins = 64

// stripType looks for a transistor of known kind on the same diffusion.
func (v *view) stripType(c *extract.Channel) seen {
	if v.onRegion == nil {
		v.onRegion = map[extract.RegionID][]int{}
		for i := range v.f.Channels {
			if d := v.f.Channels[i].Device; d >= 0 {
				for _, e := range v.f.Channels[i].Edges {
					v.onRegion[e.Region] = append(v.onRegion[e.Region], d)
				}
			}
		}
	}
	for _, e := range c.Edges {
		ds := v.onRegion[e.Region]
		for _, k := range ds[:min(len(ds), mostTwins)] {
			if l := letters[v.known(k)]; l != "" && k != c.Device {
				return seen{outcome: l}
			}
		}
	}
	return seen{outcome: "none"}
}
