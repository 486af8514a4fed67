package extract

import (
	"math/bits"
	"slices"

	"undermetal/layout"
	"undermetal/layout/stack"
)

func holds(where []stack.Condition, mask uint64) bool {
	for _, c := range where {
		if mask>>c.Layer&1 != 0 == c.Not {
			return false
		}
	}
	return true
}

// regionsOf returns the set of regions that cover a place with the layers of mask. The result is kept; a group is used
// by one goroutine at a time (see forStrip).
func (g *group) regionsOf(mask uint64) uint64 {
	if mask == 0 {
		return 0
	}
	last := &g.last[mask*0x9e3779b97f4a7c15>>58] // an odd number whose bits look random
	if mask == last[0] {
		return last[1]
	}
	set, ok := g.known[mask]
	if !ok {
		set = g.derive(mask)
		g.known[mask] = set
	}
	*last = [2]uint64{mask, set}
	return set
}

// forStrip returns a copy of g that another goroutine may use.
func (g *group) forStrip() *group {
	c := *g
	c.known = map[uint64]uint64{}
	return &c
}

func (g *group) derive(mask uint64) uint64 {
	gate, crossed := g.crossing(mask)
	has := func(l layout.Layer) bool { return mask>>l&1 != 0 }
	var set uint64
	conducts := func(l layout.Layer) bool { return set>>g.regionOf[l]&1 != 0 } // as a layer or a well does, in what was added first
	for i := range g.regions {
		r := &g.regions[i]
		in := false
		switch r.kind {
		case conductor, well:
			in = has(r.layer) && !g.resists(r.layer, mask, gate, crossed)
		case junction:
			in = has(r.layer) && !crossed && !g.resists(r.layer, mask, gate, crossed)
		case body:
			in = has(r.layer) && g.resists(r.layer, mask, gate, crossed)
		case plug, opening:
			in = has(r.layer)
		case channel:
			in = crossed && gate == r.layer
		case tap:
			in = conducts(r.layer) && holds(g.plan.st.Taps[r.rule].Where, mask)
		case diode:
			in = conducts(r.layer) && holds(g.plan.st.Diodes[r.rule].Where, mask)
		case plates:
			in = g.faces(r.rule, mask, crossed) && conducts(r.layer) && conducts(g.plan.st.Capacitors[r.rule].Lower)
		}
		if in {
			set |= 1 << i
		}
	}
	return set
}

// crossing returns the gate that makes a channel where mask holds: the one nearest to the diffusion, unless a capacitor
// rule lets the diffusion pass beneath it.
func (g *group) crossing(mask uint64) (layout.Layer, bool) {
	diffusions := mask & g.diffusions
	if diffusions == 0 {
		return 0, false
	}
	d := layout.Layer(bits.TrailingZeros64(diffusions))
next:
	for _, l := range g.plan.gates {
		if mask>>l&1 == 0 {
			continue
		}
		for _, c := range g.plan.st.Capacitors {
			if c.Upper == l && c.Lower == d && holds(c.Where, mask) {
				continue next
			}
		}
		return l, true
	}
	return 0, false
}

// resists reports whether the layer l, which is there where mask holds, is the body of a resistor. Where a gate crosses
// diffusion there is a channel, whatever the rules for resistors say.
func (g *group) resists(l layout.Layer, mask uint64, gate layout.Layer, crossed bool) bool {
	if g.bodyOf[l] < 0 || crossed && (l == gate || g.plan.role(l) == stack.Diffusion) {
		return false
	}
	return slices.ContainsFunc(g.plan.st.Resistors, func(r stack.ResistorRule) bool { return r.Body == l && holds(r.Where, mask) })
}

// faces reports whether nothing but a dielectric lies between the plates of a capacitor where mask holds, as far as gates and
// diffusions can tell, and whether its rule is the first for these plates that holds.
func (g *group) faces(rule int, mask uint64, crossed bool) bool {
	all := g.plan.st.Capacitors
	c := &all[rule]
	same := func(d stack.CapacitorRule) bool {
		return d.Upper == c.Upper && d.Lower == c.Lower && holds(d.Where, mask)
	}
	if slices.IndexFunc(all, same) != rule {
		return false
	}
	if crossed && g.plan.role(c.Lower) == stack.Well { // a channel lies between
		return false
	}
	if g.plan.role(c.Upper) != stack.Gate || g.plan.role(c.Lower) == stack.Metal {
		return true
	}
	gates := g.plan.gates // from bottom to top
	from, to := slices.Index(gates, c.Lower), slices.Index(gates, c.Upper)
	for _, l := range gates[min(from, to)+1 : max(from, to)] {
		if mask>>l&1 != 0 {
			return false
		}
	}
	return true
}
