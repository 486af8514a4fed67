package extract

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// part is a device before its nets have numbers.
type part struct {
	dev   netlist.Device
	nets  [4]node // roots of nets; 0 for none
	layer layout.Layer
	of    node   // the region it was made of
	more  []node // other regions that verdicts made it of too
	code  string
}

// edge is the common border of a channel with one source or drain region.
type edge struct {
	diffusion node // region root
	net       node
	length    float64
	x, y      float64 // its lowest, then leftmost end
	stretches int     // into how many unbroken stretches it falls
}

// parts makes devices of channels, diodes, capacitors and resistors, in the order of place.
func (j *joiner) parts() []part {
	shares := j.edgeOfDiffusions()
	spansOf := j.spansInTurn()
	var parts []part
	for root, covers := range j.covered {
		switch j.regionKind(root) {
		case channel:
			parts = append(parts, j.transistors(root, covers, spansOf(root), shares)...)
		case diode:
			parts = append(parts, j.diode(root, covers))
		case plates:
			parts = append(parts, j.capacitor(root, covers))
		case body:
			parts = append(parts, j.resistors(root, covers, spansOf(root))...)
		}
	}
	slices.SortStableFunc(parts, func(a, b part) int { return j.partsByPlace(&a, &b) })
	return parts
}

func (j *joiner) partsByPlace(a, b *part) int {
	return cmp.Or(cmp.Compare(a.dev.At.Y, b.dev.At.Y), cmp.Compare(a.dev.At.X, b.dev.At.X),
		cmp.Compare(a.layer, b.layer), cmp.Compare(a.dev.Kind, b.dev.Kind), cmp.Compare(j.pieces[a.of].region, j.pieces[b.of].region))
}

// spansInTurn returns what gives the spans of a channel, asked for one channel after the other in their order.
func (j *joiner) spansInTurn() func(channel node) []span {
	spans := j.spans
	return func(channel node) []span {
		for len(spans) > 0 && j.root[spans[0].channel] < channel {
			spans = spans[1:]
		}
		n := 0
		for n < len(spans) && j.root[spans[n].channel] == channel {
			n++
		}
		own := spans[:n]
		spans = spans[n:]
		return own
	}
}

// edgeOfDiffusions returns, by node, for each source or drain region, the length in nm of its borders with channels.
func (j *joiner) edgeOfDiffusions() []float64 {
	sum := make([]float64, len(j.parent))
	for _, s := range j.spans {
		if j.regionKind(s.channel) != channel {
			continue
		}
		sum[j.root[s.diffusion]] += math.Hypot(s.bx-s.ax, s.by-s.ay)
	}
	return sum
}

// transistors makes the devices of one channel: one, or one a pair of nets where there are more than two.
func (j *joiner) transistors(ch node, covers []cover, spans []span, shares []float64) []part {
	edges := j.edges(spans)
	if j.observed != nil {
		j.observed.borders = append(j.observed.borders, edges)
	}
	if len(edges) == 0 {
		j.warn("no-source-drain", ch, "%s covers diffusion that has no edge beside it: no source or drain, so no transistor (plate over diffusion, or misdrawn)", j.layerOf(ch))
		return nil
	}
	base := part{of: ch, layer: j.layer(ch)}
	base.dev.At = j.at(ch)
	j.model(&base, covers)
	for _, e := range edges {
		base.dev.W += e.length
	}
	if stretches(edges) > 1 {
		base.dev.W /= 2
	}
	base.dev.L = j.pieces[ch].area / base.dev.W
	base.nets[netlist.Gate] = j.find(j.gateOf(ch, covers))
	var nets []node
	for _, e := range edges {
		if !slices.Contains(nets, e.net) {
			nets = append(nets, e.net)
		}
	}
	switch len(nets) {
	case 1:
		base.code = cmp.Or(base.code, "source-is-drain")
		return []part{j.between(base, edges, nets[0], nets[0], 1, shares)}
	case 2:
		return []part{j.between(base, edges, nets[0], nets[1], 1, shares)}
	}
	j.warn("three-way-channel", ch, "the channel under %s has %d source or drain nets; each pair is given as a device, W is half of the pair's edges", j.layerOf(ch), len(nets))
	var parts []part
	for a := range nets {
		for b := a + 1; b < len(nets); b++ {
			p := j.between(base, edges, nets[a], nets[b], len(nets)-1, shares)
			p.code = "three-way-channel"
			p.dev.W = 0
			for _, e := range edges {
				if e.net == nets[a] || e.net == nets[b] {
					p.dev.W += e.length / 2
				}
			}
			parts = append(parts, p)
		}
	}
	return parts
}

// between completes a device with drain d and source s, and their junctions. A region that several channels share is
// divided among them in proportion to their edges with it; pairs is how many devices of this channel a net is in.
func (j *joiner) between(p part, edges []edge, d, s node, pairs int, shares []float64) part {
	p.nets[netlist.Drain], p.nets[netlist.Source] = d, s
	for i, e := range edges {
		reg := &j.pieces[e.diffusion]
		k := e.length / shares[e.diffusion] / float64(pairs)
		if e.net == d && (d != s || i == 0) {
			p.dev.AD += reg.area * k
			p.dev.PD += reg.perimeter * k
		} else if e.net == s {
			p.dev.AS += reg.area * k
			p.dev.PS += reg.perimeter * k
		}
	}
	return p
}

// edges gathers the borders of a channel by source and drain region, the one with the lowest, then leftmost end first.
func (j *joiner) edges(spans []span) []edge {
	edges := make([]edge, 0, min(len(spans), 2)) // nearly always
	for _, s := range spans {
		root := j.root[s.diffusion]
		i := slices.IndexFunc(edges, func(e edge) bool { return e.diffusion == root })
		x, y := s.ax, s.ay
		if s.by < y || s.by == y && s.bx < x {
			x, y = s.bx, s.by
		}
		if i < 0 {
			edges = append(edges, edge{diffusion: root, net: j.find(root), x: x, y: y})
			i = len(edges) - 1
		}
		e := &edges[i]
		e.length += math.Hypot(s.bx-s.ax, s.by-s.ay)
		e.stretches++
		if y < e.y || y == e.y && x < e.x {
			e.x, e.y = x, y
		}
	}
	slices.SortFunc(edges, func(a, b edge) int {
		return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x), j.byPlace(a.diffusion, b.diffusion))
	})
	if len(spans) > len(edges) {
		j.eachSpanJoint(spans, func(diffusion node) {
			edges[slices.IndexFunc(edges, func(e edge) bool { return e.diffusion == diffusion })].stretches--
		})
	}
	return edges
}

// stretches counts the unbroken stretches of edges. Where two regions meet in a corner of the channel, the
// stretch is broken: from a source to a drain it is half the length that counts.
func stretches(edges []edge) int {
	n := 0
	for _, e := range edges {
		n += e.stretches
	}
	return n
}

// gateOf returns the gate's node over a channel.
func (j *joiner) gateOf(ch node, covers []cover) node {
	for _, c := range covers {
		if c.area == 0 && j.regionKind(c.on) == conductor {
			return c.on
		}
	}
	panic("extract: channel without gate")
}

// ground is what lies under a channel.
type ground struct {
	on    [layout.MaxLayers]float64 // area by layer
	wells map[node]float64          // area in each
	area  float64
}

func (j *joiner) groundOf(covers []cover) *ground {
	var on [layout.MaxLayers]float64
	wells := map[node]float64{} // area in each
	area := 0.0
	for _, c := range covers {
		if c.on != 0 {
			if j.regionKind(c.on) == well {
				wells[j.root[c.on]] += c.area
			}
			continue
		}
		area += c.area
		for l := range j.plan.st.Layers {
			if c.mask>>l&1 != 0 {
				on[l] += c.area
			}
		}
	}
	return &ground{on, wells, area}
}

// model finds the first rule whose conditions cover most of the channel, and with it polarity and bulk.
func (j *joiner) model(p *part, covers []cover) {
	u := j.groundOf(covers)
	g := j.layer(p.of)
	for i := range j.plan.st.MOS {
		rule := &j.plan.st.MOS[i]
		if !slices.Contains(rule.Gates, g) || !onDiffusion(rule.Diffusions, u.on[:], u.area) || !mostly(rule.Where, u.on[:], u.area) {
			continue
		}
		j.byRule(p, rule, u)
		j.mixed(p.of, rule, u.on[:], u.area)
		return
	}
	p.dev.Kind = netlist.MOS
	p.code = "polarity-unknown"
	j.warn("polarity-unknown", p.of, "no [[mos]] rule of the stack holds here; the transistor's polarity is unknown")
	j.bulk(p, stack.Tie{}, u.wells)
}

// byRule makes a device what a rule says.
func (j *joiner) byRule(p *part, rule *stack.MOSRule, u *ground) {
	p.dev.Kind, p.dev.Model = netlist.NMOS, rule.Model
	if rule.Type == "p" {
		p.dev.Kind = netlist.PMOS
	}
	j.bulk(p, rule.Bulk, u.wells)
}

// onDiffusion reports whether one of the diffusions lies under most of a channel.
func onDiffusion(ds []layout.Layer, on []float64, area float64) bool {
	return slices.ContainsFunc(ds, func(d layout.Layer) bool { return share(on[d], area) > 0.5 })
}

// mostly reports whether each condition covers more than half of the area, and each negated one less than half.
func mostly(where []stack.Condition, on []float64, area float64) bool {
	for _, c := range where {
		if s := share(on[c.Layer], area); c.Not && s >= 0.5 || !c.Not && s <= 0.5 {
			return false
		}
	}
	return true
}

func (j *joiner) mixed(ch node, rule *stack.MOSRule, on []float64, area float64) {
	for _, c := range rule.Where {
		if part := share(on[c.Layer], area); part > 0 && part < 1 {
			j.warn("mixed-channel", ch, "%s covers %.0f %% of the channel; taken as %s", j.plan.st.Layers[c.Layer].Name, 100*part, rule.Model)
		}
	}
}

// bulk sets the bulk net by the rule, through the nearest tap where several nets tie the well.
func (j *joiner) bulk(p *part, t stack.Tie, wells map[node]float64) {
	at := node(0)
	switch l, isWell := t.Well(); {
	case t.Substrate():
		at = j.substrate
	case isWell:
		maps.DeleteFunc(wells, func(w node, _ float64) bool { return j.layer(w) != l })
		at = j.largest(wells)
	}
	if at == 0 {
		return
	}
	p.nets[netlist.Bulk] = j.bodyNet(at, p)
}

// bodyNet returns the net of the well or substrate that a device lies in: that of the nearest tap where several nets tie
// it.
func (j *joiner) bodyNet(body node, p *part) node {
	ties := j.softTies[body]
	if ties == nil {
		return j.find(body)
	}
	p.code = cmp.Or(p.code, "soft-tie")
	own := j.boxesOf(p.of)
	nearest := slices.MinFunc(ties, func(a, b tie) int {
		return cmp.Or(cmp.Compare(distance(own, j.boxesOf(a.tap)), distance(own, j.boxesOf(b.tap))), j.byPlace(a.tap, b.tap))
	})
	return j.find(nearest.net)
}

// distance returns the square of the distance between two sets of boxes, in nm².
func distance(a, b []box) int {
	best := math.MaxInt
	gap := func(lo0, hi0, lo1, hi1 int32) int { return max(0, int(lo1)-int(hi0), int(lo0)-int(hi1)) }
	for _, p := range a {
		for _, q := range b {
			dx, dy := gap(p.x0, p.x1, q.x0, q.x1), gap(p.y0, p.y1, q.y0, q.y1)
			best = min(best, dx*dx+dy*dy)
		}
	}
	return best
}

func (j *joiner) diode(n node, covers []cover) part {
	reg := &j.plan.groups[j.pieces[n].group].regions[j.pieces[n].region]
	rule := &j.plan.st.Diodes[reg.rule]
	p := part{of: n, layer: reg.layer}
	p.dev = netlist.Device{Kind: netlist.Diode, Model: rule.Model, Area: j.pieces[n].area, Perim: j.pieces[n].perimeter, At: j.at(n)}
	body, to, _ := j.below(covers)
	if rule.To.Substrate() {
		to = j.substrate
	}
	anode, cathode := to, j.find(body)
	if j.regionKind(body) == well {
		cathode = j.bodyNet(body, &p)
	}
	if to != 0 {
		anode = j.bodyNet(to, &p)
	}
	if rule.Type == "p" {
		anode, cathode = cathode, anode
	}
	p.nets[netlist.Anode], p.nets[netlist.Cathode] = anode, cathode
	return p
}
