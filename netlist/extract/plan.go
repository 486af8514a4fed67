package extract

import (
	"fmt"
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
	body    // the part of a conductor or a well that is a resistor
	plates  // where the two plates of a capacitor lie over each other
	opening // a pad
)

// region is a kind of connected area that follows from the mask of layers.
type region struct {
	kind      kind
	layer     layout.Layer // of the conductor, the gate, the contact; for a tap or diode its diffusion or body, for plates the upper one
	rule      int          // of a tap, a diode or plates: its index in the stack
	on        []int        // regions of which the first that is there counts as lying below
	with      []int        // regions that are noted as well where they are there
	in        []int        // wells, or metals under a pad, of which the area is noted that lies in them
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
	bodies                               uint64
	walled                               uint64 // regions of which walls are kept: for outlines, of a well for a place within
	sided                                uint64 // junctions of which outlines are wanted
	boxed                                uint64 // regions of which it is kept where they lie
	diffusions                           uint64 // a mask of layers
	tagged                               uint64 // a mask of layers: contacts and pads, which other groups have too

	plugOf   [layout.MaxLayers]int // by contact or pad layer
	regionOf [layout.MaxLayers]int // by conductor or well layer, -1
	bodyOf   [layout.MaxLayers]int // by conductor or well layer: the region of its resistors, -1
	known    map[uint64]uint64     // regionsOf, by mask; each strip fills its own
	last     [64][2]uint64         // the masks that regionsOf was asked for last, by a hash, and their sets
}

// plan is what a stack means to the engine.
type plan struct {
	st        *stack.Stack
	groups    []*group
	tracedBit [layout.MaxLayers]uint64
	gates     []layout.Layer // from bottom to top
	metals    []layout.Layer // from bottom to top
	groupOf   [layout.MaxLayers]*group
	together  sets         // by layer
	substrate layout.Layer // of labels that name it
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
	p.gates, p.metals = p.upwards(stack.Gate), p.upwards(stack.Metal)
	p.together = p.sweptTogether()
	p.deviceGroup()
	for l := range st.Layers {
		if st.Layers[l].Role == stack.Metal && p.groupOf[l] == nil {
			p.metalGroup(layout.Layer(l))
		}
	}
	for _, g := range p.groups {
		if len(g.regions) > 64 {
			return nil, fmt.Errorf("the stack's rules make %d kinds of region that can meet, 64 is the most; leave out tap, diode or capacitor rules, or name their diffusion", len(g.regions))
		}
	}
	return p, nil
}

func (p *plan) role(l layout.Layer) stack.Role { return p.st.Layers[l].Role }

// upwards returns the layers of a role in the order in which they lie above each other, as far as the contacts tell it: one
// that joins two of them names the upper one first. Else they stay in the order of the stack.
func (p *plan) upwards(r stack.Role) []layout.Layer {
	var rest, ordered []layout.Layer
	for l := range p.st.Layers {
		if p.st.Layers[l].Role == r {
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
		ordered = append(ordered, rest[lowest])
		rest = slices.Delete(rest, lowest, lowest+1)
	}
	return ordered
}

// sweptTogether returns sets of layers that must be in one group: all that can make a device, the plates of a capacitor, and
// the lower ones of each contact, between which it chooses.
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
	for _, c := range p.st.Capacitors {
		s.union(node(c.Upper), node(c.Lower))
	}
	return s
}

func (p *plan) newGroup() *group {
	g := &group{plan: p, index: uint8(len(p.groups))}
	for i := range g.regionOf {
		g.regionOf[i], g.bodyOf[i] = -1, -1
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
	case plug, opening:
		g.plugOf[r.layer] = n
		g.tagged |= 1 << r.layer
		g.measured |= 1 << n
		g.covering |= 1 << n
		if r.kind == opening {
			g.boxed |= 1 << n
		}
	case body:
		g.bodyOf[r.layer] = n
		g.bodies |= 1 << n
		g.measured |= 1 << n
		g.covering |= 1 << n
		g.boxed |= 1 << n
	case plates:
		g.outlined |= 1 << n
		g.measured |= 1 << n
		g.covering |= 1 << n
		g.boxed |= 1 << n
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
	p.passives(g)
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
	p.passives(g)
	p.plugs(g)
}

// passives adds the capacitors and resistors that rules make of the conductors and wells of g.
func (p *plan) passives(g *group) {
	for i, c := range p.st.Capacitors {
		if up, low := g.regionOf[c.Upper], g.regionOf[c.Lower]; up >= 0 && low >= 0 {
			g.add(region{kind: plates, layer: c.Upper, rule: i, with: []int{up, low}})
			g.conditions(c.Where)
		}
	}
	for _, r := range p.st.Resistors {
		if g.regionOf[r.Body] < 0 {
			continue
		}
		if g.bodyOf[r.Body] < 0 {
			g.add(region{kind: body, layer: r.Body})
		}
		g.conditions(r.Where)
	}
}

// plugs adds the contacts that join a conductor of g, and the pads that may lie over one of its metals.
func (p *plan) plugs(g *group) {
	for l, layer := range p.st.Layers {
		if layer.Role == stack.Pad {
			p.pad(g, layout.Layer(l))
		}
		if layer.Role != stack.Contact {
			continue
		}
		r := region{kind: plug, layer: layout.Layer(l)}
		for i, j := range layer.Joins {
			if at := g.regionOf[j]; at >= 0 && p.groupOf[j] == g {
				found := []int{at}
				if resistor := g.bodyOf[j]; resistor >= 0 {
					found = append(found, resistor)
				}
				if i == 0 {
					r.with = append(r.with, found...)
				} else {
					r.on = append(r.on, found...)
				}
			}
		}
		r.direct = len(r.on)+len(r.with) == 1 && (len(r.with) == 1 || len(layer.Joins) == 2)
		if len(r.on)+len(r.with) > 0 {
			g.add(r)
		}
	}
}

// pad adds a pad layer to a group that has metals. Each group notes its own.
func (p *plan) pad(g *group, l layout.Layer) {
	r := region{kind: opening, layer: l}
	for _, m := range p.metals {
		if p.groupOf[m] == g {
			r.in = append(r.in, g.regionOf[m])
		}
	}
	if len(r.in) > 0 {
		g.add(r)
	}
}
