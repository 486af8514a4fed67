package logic

import (
	"slices"

	"undermetal/recognise/parts"
)

const (
	maxPaths = 256 // from one node; a network of more is no gate
	maxDepth = 12  // transistors in series
	bigNet   = 64  // a net of more pins is a bus: a node whose channels are looked at from their other ends only
)

// path is transistors in series from a node to a rail or to another node.
type path struct {
	parts []int32
	to    int32 // net
}

// driver is what a node is driven by.
type driver struct {
	down, up []path // n transistors to ground, p transistors to the supply
	pass     []path // to other nodes
	odd      bool   // more than a gate has: n transistors to the supply, p to ground, unknown ones, too many paths
	parts    []int32
	inputs   []int32 // nets of the gates of down and up, in the order of the paths
	static   bool    // down and up complement each other
}

// network is the circuit as nodes: nets that mean a logic level, because a gate sees them, because n and p meet there, or
// because they lead elsewhere. All other nets lie within a path of transistors in series.
type network struct {
	g       *parts.Graph
	node    []bool
	drivers []*driver // by net
	invOf   []int32   // by net: the net that it is the inverse of; -1: no inverter drives it
	gateOf  [][]int32 // by part: the nodes whose static gates it is in
}

func newNetwork(g *parts.Graph) *network {
	w := &network{g: g, node: make([]bool, len(g.Rails)), drivers: make([]*driver, len(g.Rails)), invOf: make([]int32, len(g.Rails)),
		gateOf: make([][]int32, len(g.Parts))}
	for n := range g.Rails {
		w.invOf[n] = -1
		w.node[n] = g.Rails[n] == parts.Signal && w.isNode(int32(n))
	}
	return w
}

func (w *network) isNode(net int32) bool {
	on := w.g.On(net)
	if len(on) > bigNet {
		return true
	}
	var kinds [3]int
	for _, pin := range on {
		k := w.g.Parts[pin.Part()].Kind
		if !k.IsMOS() || pin.Terminal() == parts.Gate {
			return true
		}
		kinds[k]++
	}
	return kinds[parts.N] > 0 && kinds[parts.P] > 0 || w.g.Port[net] && len(on) != 2
}

// drive looks for all paths that end on a node.
func (w *network) drive(net int32) *driver {
	d := &driver{}
	if w.g.Degree(net) > bigNet {
		d.odd = true
		return d
	}
	var trail, nets []int32 // transistors and the nets between them
	paths := 0
	var walk func(at int32)
	walk = func(at int32) {
		for _, pin := range w.g.On(at) {
			q := pin.Part()
			p := &w.g.Parts[q]
			if !p.Kind.IsMOS() || pin.Terminal() == parts.Gate || slices.Contains(trail, q) {
				continue
			}
			if p.Kind == parts.Unknown {
				d.odd = true
				continue
			}
			if len(trail) > 0 && w.g.Parts[trail[0]].Kind != p.Kind {
				continue
			}
			to := p.Nets[2-pin.Terminal()]
			if to == net || len(trail) == maxDepth || slices.Contains(nets, to) {
				continue
			}
			if paths++; paths > maxPaths {
				d.odd = true
				return
			}
			trail = append(trail, q)
			switch w.g.Rails[to] {
			case parts.Signal:
				if w.node[to] {
					d.pass = append(d.pass, path{slices.Clone(trail), to})
				} else {
					nets = append(nets, to)
					walk(to)
					nets = nets[:len(nets)-1]
				}
			case parts.Ground:
				d.odd = d.odd || p.Kind != parts.N
				d.down = append(d.down, path{slices.Clone(trail), to})
			case parts.Supply:
				d.odd = d.odd || p.Kind != parts.P
				d.up = append(d.up, path{slices.Clone(trail), to})
			}
			trail = trail[:len(trail)-1]
		}
	}
	walk(net)
	for _, ps := range [][]path{d.down, d.up} {
		for _, p := range ps {
			for _, q := range p.parts {
				if !slices.Contains(d.parts, q) {
					d.parts = append(d.parts, q)
				}
				if in := w.g.Parts[q].Nets[parts.Gate]; !slices.Contains(d.inputs, in) {
					d.inputs = append(d.inputs, in)
				}
			}
		}
	}
	slices.Sort(d.parts)
	return d
}

// conducts reports whether one of the paths does, where value gives the level of a gate's net.
func (w *network) conducts(ps []path, value func(net int32) bool) bool {
	for _, p := range ps {
		on := true
		for _, q := range p.parts {
			t := &w.g.Parts[q]
			gate := t.Nets[parts.Gate]
			level := w.g.Rails[gate] == parts.Supply
			if w.g.Rails[gate] == parts.Signal {
				level = value(gate)
			}
			if level != (t.Kind == parts.N) {
				on = false
				break
			}
		}
		if on {
			return true
		}
	}
	return false
}

// settle finds out whether the driver of a node is a static gate: whatever its inputs, it pulls either up or down.
func (w *network) settle(net int32, d *driver) {
	if d.odd || len(d.down) == 0 || len(d.up) == 0 || len(d.inputs) > maxInputs {
		return
	}
	for _, in := range d.inputs {
		if in == net || w.g.Rails[in] != parts.Signal {
			return
		}
	}
	for i := range 1 << len(d.inputs) {
		value := func(n int32) bool { return i>>slices.Index(d.inputs, n)&1 == 1 }
		if w.conducts(d.down, value) == w.conducts(d.up, value) {
			return
		}
	}
	d.static = true
	for _, q := range d.parts {
		w.gateOf[q] = append(w.gateOf[q], net)
	}
	if len(d.inputs) == 1 {
		w.invOf[net] = d.inputs[0]
	}
}

// maxInverters is how far a chain of inverters is followed.
const maxInverters = 16

// root follows inverters back from a net: the net at the beginning of their chain, and whether it is the inverse.
func (w *network) root(net int32) (root int32, inverse bool) {
	for range maxInverters {
		if w.invOf[net] < 0 {
			return net, inverse
		}
		net, inverse = w.invOf[net], !inverse
	}
	return net, inverse
}
