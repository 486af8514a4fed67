package question

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// lookAtTies looks at what gate, source and drain are joined to.
func (v *view) lookAtTies(p *plate, saw map[string]seen) {
	nets, _ := v.joinedNets(p)
	if !v.supplies() || !v.gateKnown(p) || len(p.channels) > 0 && (saw["nets"].outcome == "" || len(nets) == 0) {
		return
	}
	g := v.roleOf(p.gateNet)
	has := func(r role) bool {
		return slices.ContainsFunc(nets, func(n int) bool { return v.roleOf(n) == r })
	}
	pad := v.pads[p.gateNet] || slices.ContainsFunc(nets, v.signalPad)
	fact := v.tell(func() string {
		return fmt.Sprintf("the gate is on %s, source and drain on %s", v.say(p.gateNet), v.sayAll(nets))
	})
	kind := v.kindOf(p)
	switch {
	case len(nets) == 0:
		return
	case len(nets) == 1 && nets[0] == p.gateNet:
		saw["ties"] = seen{outcome: beside} // told by nets already
	case off(kind, g):
		saw["ties"] = seen{"off", fact}
	case len(nets) == 1 && (g == ground && has(supply) || g == supply && has(ground)):
		saw["ties"] = seen{"supplies", fact}
	case len(nets) == 1 && pad && (has(ground) || has(supply) || g != signal):
		saw["ties"] = seen{"pad", fact}
	case slices.Contains(nets, p.gateNet):
		saw["ties"] = seen{"diode", fact}
	default:
		saw["ties"] = seen{"signal", fact}
	}
}

// off reports whether a gate on a net of a role keeps a transistor off for good.
func off(kind netlist.Kind, gate role) bool {
	return gate == ground && kind == netlist.NMOS || gate == supply && kind == netlist.PMOS
}

// signalPad reports whether a net, by its number in Facts, is joined to a pad and no supply: one that has to be protected.
func (v *view) signalPad(netID int) bool { return v.pads[netID] && v.roleOf(netID) == signal }

// gateKnown reports whether the gate is known to lead somewhere.
func (v *view) gateKnown(p *plate) bool {
	if n := v.netOf(p.gateNet); n != netlist.NoNet && (v.c.Nets[n].Name != "" || v.c.Nets[n].Open) {
		return true
	}
	return slices.ContainsFunc(p.gates, func(g extract.RegionID) bool { return v.f.Regions[g].Contacts > 0 }) || len(v.byNet[p.gateNet]) > len(p.gates)
}

func (v *view) sayAll(nets []int) string {
	names := make([]string, len(nets))
	for i, n := range nets {
		names[i] = v.say(n)
	}
	slices.Sort(names)
	return strings.Join(slices.Compact(names), " and ")
}

// kindOf returns what kind of transistor a plate makes, if it makes one.
func (v *view) kindOf(p *plate) netlist.Kind {
	if len(p.devices) == 0 {
		return netlist.MOS
	}
	return v.c.Devices[p.devices[0]].Kind
}

// lookAtLikes looks at neighbours of the same size: no farther away than twice the plate's size. The same drawing in another
// placement of its cell is no neighbour: it would only say once more what is said already.
func (v *view) lookAtLikes(p *plate, saw map[string]seen) {
	if s := v.likesOf(p); s.outcome != "" {
		saw["likes"] = s
	}
}

// likesMatter reports whether likes may be looked at: lookAtPlate does not where source and drain are known to be two nets, as nearly all of
// a memory are.
func (v *view) likesMatter(p *plate) bool {
	if len(p.nets) < 2 {
		return true
	}
	nets, _, _ := v.tally(p)
	two := v.severalNets(p).outcome
	return two != "two" && two != "loose" || slices.Contains(nets, p.gateNet) // of a mesh that makes one net
}

// likesOf is what lookAtLikes sees; nothing where that means nothing.
func (v *view) likesOf(p *plate) seen {
	each := p.area / float64(max(len(p.channels), 1))
	near := grown(p.box, 2*max(p.box.Width(), p.box.Height()))
	plates, row, unknown := 0, 0, 0
	mayBePlates := len(p.nets) == 1 || len(p.channels) == 0
	v.likes.near(each, p.across, near, func(k int32) bool {
		q := &v.plates[k]
		if q.drawn.Shape != nil && q.drawn.Shape == p.drawn.Shape && q.drawn.At == p.drawn.At || !q.box.Overlaps(near) || q.layer != p.layer ||
			!alike(q.area/float64(max(len(q.channels), 1)), each) || !alike(q.across, p.across) {
			return true
		}
		nets, _, _ := v.tally(q)
		switch {
		case len(q.nets) == 1 && len(p.nets) == 1 && q.gateNet == p.gateNet && q.nets[0] == p.nets[0], len(q.channels) == 0 && len(p.channels) == 0 && q.gateNet == p.gateNet:
			plates++
		case len(nets) > 1:
			row++
		default:
			unknown++
		}
		return plates == 0 && (mayBePlates || row == 0) && plates+row+unknown < 64 // what decides is known
	})
	switch {
	case plates > 0:
		return seen{"plates", "others of its size lie beside it on the same two nets"}
	case row > 0:
		return seen{"row", "others of its size lie beside it"}
	case unknown == 0:
		return seen{"alone", "nothing of its size lies beside it"}
	}
	return seen{}
}

// lookAtDoping compares the types of the diffusion beside and the silicon beneath, where layers tell both.
func (v *view) lookAtDoping(p *plate, saw map[string]seen) {
	if len(p.channels) == 0 {
		saw["stain"] = seen{outcome: beside}
		return
	}
	c := &v.f.Channels[p.channels[0]]
	rim, beneath := v.diffusionType(c.Diffusion), v.bodyType(c.Well)
	switch {
	case rim == "" || beneath == "":
	case rim == beneath:
		saw["stain"] = seen{"same", v.tell(func() string {
			return fmt.Sprintf("%s lies in silicon of %s type", v.st.Layers[c.Diffusion].Name, beneath)
		})}
	default:
		saw["stain"] = seen{"other", v.tell(func() string {
			return fmt.Sprintf("%s lies in silicon of %s type", v.st.Layers[c.Diffusion].Name, beneath)
		})}
	}
}
