package extract

import (
	"fmt"
	"math/bits"
	"slices"

	"undermetal/layout"
	"undermetal/layout/stack"
)

// kind says what a region is.
type kind uint8

const (
	conductor kind = iota // gate or metal
	junction              // diffusion that is no channel: source, drain, tap
	channel               // where a gate crosses diffusion
	well
	plug // contact or via
	tap
	diode
)

// region is a kind of connected area that follows from the mask of layers.
type region struct {
	kind      kind
	layer     layout.Layer // of the conductor, the gate, the contact; for a tap or diode its diffusion or body
	rule      int          // of a tap or diode: its index in the stack
	on        []int        // regions of which the first that is there counts as lying below
	with      []int        // regions that are noted as well where they are there
	in        []int        // wells, of which the area is noted that lies in them
	direct    bool         // of a contact: all that it can reach in this group is one conductor, without a choice
	tracedBit uint64       // the mask bit of the layer's traced area, 0 if it has none
}

// group is a set of layers that are swept together.
type group struct {
	plan    *plan
	index   uint8  // in plan.groups
	layers  uint64 // by layout.Layer
	regions []region

	// Sets of regions, as masks.
	outlined, measured, covering, traced uint64
	channels, junctions, noJunction      uint64
	boxed                                uint64 // regions of which it is kept where they lie
	diffusions                           uint64 // a mask of layers
	tagged                               uint64 // a mask of layers: contacts, which other groups have too

	plugOf   [layout.MaxLayers]int // by contact layer
	regionOf [layout.MaxLayers]int // by conductor or well layer, -1
	known    map[uint64]uint64     // regionsOf, by mask; each strip fills its own
	last     [2]uint64             // the mask that regionsOf was asked for last, and its set
}

// plan is what a stack means to the engine.
type plan struct {
	st        *stack.Stack
	groups    []*group
	tracedBit [layout.MaxLayers]uint64
	gates     []layout.Layer // the one nearest to the diffusion first
	groupOf   [layout.MaxLayers]*group
	together  sets // by layer
}

func newPlan(st *stack.Stack, traced []layout.Shape) (*plan, error) {
	p := &plan{st: st}
	bit := len(st.Layers)
	for _, t := range traced {
		if p.tracedBit[t.Layer] == 0 {
			if bit >= layout.MaxLayers {
				return nil, fmt.Errorf("%d layers and their traced areas need more than the %d bits of a mask; leave out layers that the stack does not use",
					len(st.Layers), layout.MaxLayers)
			}
			p.tracedBit[t.Layer] = 1 << bit
			bit++
		}
	}
	p.orderGates()
	p.together = p.sweptTogether()
	p.deviceGroup()
	for l := range st.Layers {
		if st.Layers[l].Role == stack.Metal && p.groupOf[l] == nil {
			p.metalGroup(layout.Layer(l))
		}
	}
	for _, g := range p.groups {
		if len(g.regions) > 64 {
			return nil, fmt.Errorf("the stack's rules make %d kinds of region that can meet, 64 is the most; leave out tap or diode rules, or name their diffusion", len(g.regions))
		}
	}
	return p, nil
}

func (p *plan) role(l layout.Layer) stack.Role { return p.st.Layers[l].Role }

// orderGates puts the gate layers in the order in which they lie above the diffusion, as far as the contacts tell it: one
// that joins two of them names the upper one first. Else they stay in the order of the stack.
func (p *plan) orderGates() {
	var rest []layout.Layer
	for l := range p.st.Layers {
		if p.st.Layers[l].Role == stack.Gate {
			rest = append(rest, layout.Layer(l))
		}
	}
	above := func(a, b layout.Layer) bool {
		return slices.ContainsFunc(p.st.Layers, func(c stack.Layer) bool {
			i, k := slices.Index(c.Joins, a), slices.Index(c.Joins, b)
			return i >= 0 && k > i
		})
	}
	for len(rest) > 0 {
		lowest := max(slices.IndexFunc(rest, func(a layout.Layer) bool {
			return !slices.ContainsFunc(rest, func(b layout.Layer) bool { return above(a, b) })
		}), 0)
		p.gates = append(p.gates, rest[lowest])
		rest = slices.Delete(rest, lowest, lowest+1)
	}
}

// sweptTogether returns sets of layers that must be in one group: all that can make a device, and the lower ones of each
// contact, between which it chooses.
func (p *plan) sweptTogether() sets {
	s := make(sets, len(p.st.Layers))
	device := node(-1)
	for l := range p.st.Layers {
		s[l] = node(l)
		switch p.st.Layers[l].Role {
		case stack.Diffusion, stack.Gate, stack.Well:
			if device < 0 {
				device = node(l)
			}
			s.union(device, node(l))
		}
	}
	for _, c := range p.st.Layers {
		for i := 2; i < len(c.Joins); i++ {
			s.union(node(c.Joins[1]), node(c.Joins[i]))
		}
	}
	return s
}

func (p *plan) newGroup() *group {
	g := &group{plan: p, index: uint8(len(p.groups))}
	for i := range g.regionOf {
		g.regionOf[i] = -1
	}
	p.groups = append(p.groups, g)
	return g
}

func (g *group) add(r region) int {
	r.tracedBit = 0
	n := len(g.regions)
	g.layers |= 1 << r.layer
	if r.kind == conductor || r.kind == junction {
		r.tracedBit = g.plan.tracedBit[r.layer]
	}
	if r.tracedBit != 0 {
		g.traced |= 1 << n
	}
	switch r.kind {
	case conductor, well:
		g.regionOf[r.layer] = n
		g.plan.groupOf[r.layer] = g
	case junction:
		g.regionOf[r.layer] = n
		g.plan.groupOf[r.layer] = g
		g.outlined |= 1 << n
		g.measured |= 1 << n
		g.junctions |= 1 << n
		g.diffusions |= 1 << r.layer
	case channel:
		g.measured |= 1 << n
		g.covering |= 1 << n
		g.channels |= 1 << n
		g.noJunction |= 1 << n
		g.boxed |= 1 << n
	case plug:
		g.plugOf[r.layer] = n
		g.tagged |= 1 << r.layer
		g.measured |= 1 << n
		g.covering |= 1 << n
	case tap, diode:
		g.outlined |= 1 << n
		g.measured |= 1 << n
		g.covering |= 1 << n
		g.boxed |= 1 << n
		if g.plan.role(r.layer) != stack.Well { // sources and drains inside a well are none of its diode
			g.noJunction |= 1 << n
		}
	}
	g.regions = append(g.regions, r)
	return n
}

// deviceGroup takes everything that can make a device: diffusions, gates, wells, the layers of conditions, and the
// contacts that reach down to them.
func (p *plan) deviceGroup() {
	g := p.newGroup()
	var wells []int
	for l, layer := range p.st.Layers {
		switch layer.Role {
		case stack.Diffusion:
			g.add(region{kind: junction, layer: layout.Layer(l)})
		case stack.Gate:
			g.add(region{kind: conductor, layer: layout.Layer(l)})
		case stack.Well:
			wells = append(wells, g.add(region{kind: well, layer: layout.Layer(l)}))
		}
	}
	for _, l := range p.gates {
		g.add(region{kind: channel, layer: l, with: []int{g.regionOf[l]}, in: wells})
	}
	for l, layer := range p.st.Layers {
		if layer.Role == stack.Metal && slices.ContainsFunc(g.regions, func(r region) bool { return p.together.find(node(r.layer)) == p.together.find(node(l)) }) {
			g.add(region{kind: conductor, layer: layout.Layer(l)})
		}
	}
	for i, t := range p.st.Taps {
		for _, d := range t.Diffusions {
			g.add(region{kind: tap, layer: d, rule: i, on: g.regionsFor(t.Ties), with: []int{g.regionOf[d]}})
		}
		g.conditions(t.Where)
	}
	for i, d := range p.st.Diodes {
		g.add(region{kind: diode, layer: d.Body, rule: i, on: g.regionsFor(d.To), with: []int{g.regionOf[d.Body]}})
		g.conditions(d.Where)
	}
	for _, m := range p.st.MOS {
		g.conditions(m.Where)
	}
	for _, c := range p.st.Capacitors {
		g.conditions(c.Where)
	}
	p.plugs(g)
}

func (g *group) conditions(where []stack.Condition) {
	for _, c := range where {
		g.layers |= 1 << c.Layer
	}
}

// regionsFor returns the region of the well that a rule refers to, none for the substrate.
func (g *group) regionsFor(t stack.Tie) []int {
	if l, ok := t.Well(); ok {
		return []int{g.regionOf[l]}
	}
	return nil
}

// metalGroup takes a metal and those that are swept together with it.
func (p *plan) metalGroup(metal layout.Layer) {
	g := p.newGroup()
	for l, layer := range p.st.Layers {
		if layer.Role == stack.Metal && p.together.find(node(l)) == p.together.find(node(metal)) {
			g.add(region{kind: conductor, layer: layout.Layer(l)})
		}
	}
	p.plugs(g)
}

// plugs adds the contacts that join a conductor of g.
func (p *plan) plugs(g *group) {
	for l, layer := range p.st.Layers {
		if layer.Role != stack.Contact {
			continue
		}
		r := region{kind: plug, layer: layout.Layer(l)}
		for i, j := range layer.Joins {
			if at := g.regionOf[j]; at >= 0 && p.groupOf[j] == g {
				if i == 0 {
					r.with = append(r.with, at)
				} else {
					r.on = append(r.on, at)
				}
			}
		}
		r.direct = len(r.on)+len(r.with) == 1 && (len(r.with) == 1 || len(layer.Joins) == 2)
		if len(r.on)+len(r.with) > 0 {
			g.add(r)
		}
	}
}

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
	if mask == g.last[0] {
		return g.last[1]
	}
	set, ok := g.known[mask]
	if !ok {
		set = g.derive(mask)
		g.known[mask] = set
	}
	g.last = [2]uint64{mask, set}
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
	for i := range g.regions {
		r := &g.regions[i]
		in := false
		switch r.kind {
		case conductor, well, plug:
			in = has(r.layer)
		case junction:
			in = has(r.layer) && !crossed
		case channel:
			in = crossed && gate == r.layer
		case tap:
			in = has(r.layer) && !crossed && holds(g.plan.st.Taps[r.rule].Where, mask)
		case diode:
			in = has(r.layer) && !(crossed && g.plan.role(r.layer) == stack.Diffusion) &&
				holds(g.plan.st.Diodes[r.rule].Where, mask)
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
