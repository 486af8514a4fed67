package question

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// lookAtPlate makes all observations of a plate that the drawing allows.
func (v *view) lookAtPlate(p *plate) map[string]seen {
	saw := make(map[string]seen, len(theTable()[TransistorOrCapacitor].observations)+1)
	if len(p.channels) == 0 {
		v.lookBeneath(p, saw)
	} else {
		v.lookAtRims(p, saw)
	}
	v.lookAtShape(p, saw)
	saw["plain"] = seen{outcome: beside}
	if plain(saw) {
		saw["plain"] = seen{outcome: "plain"}
	}
	v.lookAtTies(p, saw)
	// Likes tell a plate of a bank, or a dummy, from a transistor that is shorted: they say nothing where there may be two nets.
	switch nets, known := saw["nets"]; {
	case nets.outcome == "two" || nets.outcome == "chequered" || nets.outcome == "loose":
		saw["likes"] = seen{outcome: beside}
	case known:
		v.lookAtLikes(p, saw)
	}
	v.lookAtDoping(p, saw)
	return saw
}

// lookBeneath looks for diffusion beneath a plate that crosses none.
func (v *view) lookBeneath(p *plate, saw map[string]seen) {
	where, traced := []string{}, true
	for l := range v.st.Layers {
		if v.st.Layers[l].Role == stack.Diffusion {
			looked, _ := v.looked(layout.Layer(l), p.box)
			traced = traced && looked
			where = append(where, v.st.Layers[l].Name)
		}
	}
	for _, name := range []string{"nets", "fingers", "sides", "contacts"} {
		saw[name] = seen{outcome: beside}
	}
	if traced {
		saw["beneath"] = seen{"no", v.tell(func() string {
			return fmt.Sprintf("no %s is drawn beneath these %s of %s", strings.Join(where, " or "), area(p.area), v.st.Layers[p.layer].Name)
		})}
	}
}

// lookAtRims looks at the sources and drains of a plate.
func (v *view) lookAtRims(p *plate, saw map[string]seen) {
	if !p.skim {
		saw["stripped"] = seen{outcome: beside}
		saw["beneath"] = seen{"yes", "diffusion is drawn beneath"}
	}
	if p.skim && len(p.rims) == 1 && len(p.gates) == 1 {
		return // what is on the other side may only just fail to reach the gate
	}
	saw["sides"] = v.sides(p)
	if one := saw["sides"].outcome; (one == "one" || one == "none") && v.cut(p) {
		delete(saw, "sides") // the other side may lie where nobody looked
		return
	}
	traced := v.contactsNear(p.box, p.gates, p.rims) && v.contactLayersLooked(p)
	switch {
	case len(p.rims) == 0:
		saw["nets"] = seen{"none", "no diffusion borders on the gate"}
		saw["contacts"] = seen{outcome: beside}
	case len(p.nets) == 1:
		saw["nets"] = v.oneNet(p)
	case traced:
		if s := v.severalNets(p); s.outcome != "" {
			saw["nets"] = s
		}
	}
	switch _, known := saw["nets"]; {
	case known: // contacts say no more then; between transistors in series there are none
		saw["contacts"] = seen{outcome: beside}
	case traced:
		saw["contacts"] = v.contactSides(p)
	}
	if saw["sides"].outcome == "openings" { // nets of a mesh are counted apart: as many as there are, they are easily cut
		saw["fingers"] = seen{outcome: beside}
		if s, ok := saw["nets"]; ok {
			if nets, _ := v.joinedNets(p); s.outcome == "two" && slices.Contains(nets, p.gateNet) {
				s = seen{"all", s.fact + ", one of which the gate is on"}
			}
			saw["nets"] = seen{map[string]string{"two": "chequered", "one": "tied", "all": "welded", "forked": "disputed", "loose": "loose"}[s.outcome], fmt.Sprintf("%d openings of a mesh, %s", len(p.rims), s.fact)}
			saw["sides"], saw["contacts"] = seen{outcome: beside}, seen{outcome: beside} // in the counts of meshes already
		}
	} else if s := v.fingers(p, saw["nets"].outcome); s.outcome != "" {
		saw["fingers"] = s
	}
}

// mostShare is which part of a plate's sources and drains must be on one net to be taken for one: a contact that was missed
// here and there does not make two. Of many, half will do where no other net has much.
const (
	mostShare = 0.8
	leastRims = 4
)

// oneNet tells of a plate with one net on all sources and drains.
func (v *view) oneNet(p *plate) seen {
	what := v.tell(func() string { return "source and drain are one net, " + v.say(p.nets[0]) })
	if len(p.rims) == 1 {
		what = "all diffusion beside the gate is one piece"
	}
	if labels := v.labels(p.nets[0]); len(p.rims) > 1 && len(labels) > 1 {
		return seen{"forked", v.tell(func() string {
			return fmt.Sprintf("%s, which carries the labels %s", what, strings.Join(labels, " and "))
		})}
	}
	if p.nets[0] == p.gateNet {
		return seen{"all", what + ", and the gate is on it, too"}
	}
	return seen{"one", what}
}

// severalNets tells of a plate with several nets on its sources and drains, where contacts were traced.
func (v *view) severalNets(p *plate) seen {
	nets, counts, loose := v.tally(p)
	n := len(p.rims) - loose
	switch {
	case len(nets) == 0:
		return seen{}
	case n >= leastRims && float64(counts[0]) >= mostShare*float64(n), n >= 2*leastRims && 2*counts[0] > n && float64(counts[1]) < (1-mostShare)*float64(n):
		fact := v.tell(func() string {
			return fmt.Sprintf("%d of %d pieces of diffusion beside the gate are on %s", counts[0], len(p.rims), v.say(nets[0]))
		})
		switch labels := v.labels(nets[0]); {
		case len(labels) > 1:
			return seen{"forked", fmt.Sprintf("%s, which carries the labels %s", fact, strings.Join(labels, " and "))}
		case nets[0] == p.gateNet:
			return seen{"all", fact + ", as is the gate"}
		}
		return seen{"one", fact}
	case len(nets) == 1:
		return seen{"loose", v.tell(func() string {
			return fmt.Sprintf("%s leads somewhere, %s", v.say(nets[0]), plural(loose, "other piece of diffusion does not", "other pieces of diffusion do not"))
		})}
	}
	return seen{"two", v.tell(func() string { return fmt.Sprintf("source and drain lie on %s", v.sayTwo(nets)) })}
}

// cut reports whether a gate or a diffusion of a plate reaches the rim of what was traced.
func (v *view) cut(p *plate) bool {
	open := func(r extract.RegionID) bool { return v.f.Regions[r].Open }
	return slices.ContainsFunc(p.gates, open) || slices.ContainsFunc(p.rims, open)
}

// fingers looks at the pattern of many sources and drains.
func (v *view) fingers(p *plate, nets string) seen {
	channels, rims := len(p.channels), len(p.rims)
	of, counts, loose := v.tally(p)
	n := rims - loose
	switch {
	case channels < 3 && rims < 3:
		return seen{"few", v.tell(func() string { return plural(channels, "strip of gate", "strips of gate") })}
	case nets == "one" || nets == "all" || nets == "forked":
		return seen{"likewise", v.tell(func() string {
			return fmt.Sprintf("%s, and one net on the diffusion between them", plural(channels, "channel", "channels"))
		})}
	case nets == "two" && 4*counts[1] >= n:
		return seen{"alternate", v.tell(func() string {
			return fmt.Sprintf("%s between %d pieces of diffusion, on %s by turns", plural(channels, "channel", "channels"), rims, v.sayTwo(of))
		})}
	}
	return seen{}
}

// labels returns the labels of a net.
func (v *view) labels(netID int) []string {
	if n := v.netOf(netID); n != netlist.NoNet {
		return v.c.Nets[n].Labels
	}
	return nil
}

func (v *view) contactLayersLooked(p *plate) bool {
	for l := range v.st.Layers {
		layer := &v.st.Layers[l]
		if layer.Role == stack.Contact && slices.Contains(layer.Joins, p.layer) {
			if looked, _ := v.looked(layout.Layer(l), p.box); !looked {
				return false
			}
		}
	}
	return true
}

func (v *view) sayTwo(nets []int) string {
	if len(nets) == 2 {
		a, b := v.say(nets[0]), v.say(nets[1])
		if a == b {
			return "two nets without label"
		}
		return a + " and " + b
	}
	return fmt.Sprintf("%d nets", len(nets))
}

// sides tells where diffusion goes on beside the gate, of the first channel: those of a plate are alike.
func (v *view) sides(p *plate) seen {
	c := &v.f.Channels[p.channels[0]]
	if p.skim {
		return v.skimSides(p)
	}
	border, stretches := 0.0, 0
	for _, e := range c.Edges {
		border += e.Length
		stretches += e.Stretches
	}
	switch {
	case len(c.Edges) == 0:
		return seen{"none", "the gate covers the diffusion on all sides"}
	case len(c.Edges) > 2:
		return seen{"openings", v.tell(func() string { return fmt.Sprintf("%d pieces of diffusion border on one channel", len(c.Edges)) })}
	case len(c.Edges) == 2 || stretches > 1:
		return seen{"opposite", v.tell(func() string {
			return fmt.Sprintf("%d edges of the gate have diffusion beside them", max(stretches, 2))
		})}
	case border > 0.95*c.Perimeter:
		return seen{"round", "diffusion lies all around the gate"}
	}
	return seen{"one", v.tell(func() string {
		return fmt.Sprintf("diffusion lies along %.0f %% of the gate's outline, in one stretch", 100*border/c.Perimeter)
	})}
}

// skimSides tells on how many sides diffusion comes up to a gate.
func (v *view) skimSides(p *plate) seen {
	fact := fmt.Sprintf("%s up to the gate, and not drawn beneath", plural(len(p.rims), "piece of diffusion comes", "pieces of diffusion come"))
	switch {
	case len(p.rims) == 1 && len(p.channels) == 1:
		return seen{"one", fact}
	case len(p.rims) > 2*len(p.gates)+1 && !v.inLine(p.rims):
		return seen{"openings", fact}
	}
	return seen{"opposite", fact}
}

// inLine reports whether one upright or level line passes through all regions, as far as their boxes tell: strips between
// fingers lie so, openings of a mesh do not.
func (v *view) inLine(rims []extract.RegionID) bool {
	x0, x1, y0, y1 := math.MinInt, math.MaxInt, math.MinInt, math.MaxInt
	for _, id := range rims {
		b := v.f.Regions[id].Box
		x0, x1, y0, y1 = max(x0, b.Min.X), min(x1, b.Max.X), max(y0, b.Min.Y), min(y1, b.Max.Y)
	}
	return x0 < x1 || y0 < y1
}

// contactSides tells which of the diffusions beside the first channel have contacts; of a gate that is only skimmed, which of
// those that come up to it.
func (v *view) contactSides(p *plate) seen {
	rims := p.rims
	if !p.skim {
		rims = nil
		for _, e := range v.f.Channels[p.channels[0]].Edges {
			rims = append(rims, e.Region)
		}
	}
	with := 0
	for _, id := range rims {
		if v.f.Regions[id].Contacts > 0 {
			with++
		}
	}
	fact := v.tell(func() string {
		return fmt.Sprintf("%d of %s beside a gate", with, plural(len(rims), "piece of diffusion", "pieces of diffusion"))
	})
	switch {
	case with == 0:
		return seen{"none", fact + " have contacts"}
	case with == 1:
		return seen{"one", fact + " has contacts"}
	}
	return seen{"both", fact + " have contacts"}
}

// mesh reports whether diffusion shows in several openings of one gate.
func (v *view) mesh(p *plate) bool { return len(p.channels) > 0 && v.sides(p).outcome == "openings" }

// lookAtShape looks at lengths and areas. Of a mesh they say little: its bars are as narrow in a capacitor as in a switch.
func (v *view) lookAtShape(p *plate, saw map[string]seen) {
	if v.mesh(p) {
		for _, name := range []string{"length", "ratio", "rim", "farads"} {
			saw[name] = seen{outcome: beside}
		}
		return
	}
	if v.feature > 0 {
		k := p.across / v.feature
		saw["length"] = seen{pick(k, []float64{2, 4, 10}, "short", "middling", "long", "plate"),
			v.tell(func() string { return fmt.Sprintf("%s across, %s%s", um(p.across), times(k), v.featureHow) })}
	}
	switch {
	case p.w > 0 && p.l > 0 && saw["sides"].outcome != "round" && saw["sides"].outcome != "one":
		k := p.w / float64(len(p.channels)) / p.l
		saw["ratio"] = seen{pick(k, []float64{0.5, 2, 40}, "weak", "square", "ordinary", "wide"), v.tell(func() string { return "W over L is " + figure(k) })}
	case p.area > 0:
		each := p.area / float64(max(len(p.channels), 1))
		k := each / (p.across * p.across)
		saw["ratio"] = seen{pick(k, []float64{0.5, 2, 40}, "weak", "square", "ordinary", "wide"), v.tell(func() string { return fmt.Sprintf("a plate is %sas long as wide", times(k)) })}
	}
	if len(p.rims) > 0 && p.area > 0 {
		rim := 0.0
		for _, id := range p.rims {
			rim += v.f.Regions[id].Area + v.f.Regions[id].TapArea
		}
		saw["rim"] = seen{pick(rim/p.area, []float64{0.15, 0.7}, "starved", "even", "fed"), v.tell(func() string { return fmt.Sprintf("source and drain have %sthe area of the gate", times(rim/p.area)) })}
	} else {
		saw["rim"] = seen{outcome: beside}
	}
	if c, how := v.farads(p); c > 0 {
		saw["farads"] = seen{pick(c*1e15, []float64{50, 1000}, "small", "some", "much"), v.tell(func() string { return fmt.Sprintf("as a capacitor it has %s, with %s", engineering(c, "F"), how) })}
	}
}

// plain reports whether a plate is small, with diffusion on opposite sides, and not known to have one net there: as all ordinary
// transistors are. Only such gates differ in how frequent they are from those that the weights were counted on.
func plain(saw map[string]seen) bool {
	switch saw["nets"].outcome {
	case "one", "all", "forked", "none":
		return false
	}
	return saw["farads"].outcome == "small" && saw["sides"].outcome == "opposite"
}

// pick returns the name of the bin that x lies in; limits rise.
func pick(x float64, limits []float64, names ...string) string {
	i := 0
	for i < len(limits) && x >= limits[i] {
		i++
	}
	return names[i]
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// times says a ratio in words, in front of "as long" or "the area".
func times(k float64) string {
	if figure(k) == "1" {
		return ""
	}
	return figure(k) + " times "
}

// area writes an area in µm².
func area(nm2 float64) string { return figure(nm2/1e6) + " µm²" }
