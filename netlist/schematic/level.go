package schematic

import "undermetal/netlist"

// leaves reports whether a port's place is on the right: something drives it, and not only a capacitor that leads to a gate.
func (p *plan) leaves(n netlist.Net) bool {
	switch p.role[n] {
	case Input:
		return false
	case Output:
		return true
	}
	return p.degree[n] > 0 && !p.couples[n]
}

// findCouples finds the nets that have capacitors alone on them, one of which leads to a net with a gate: signals that come in.
func (p *plan) findCouples() {
	p.couples = make([]bool, len(p.c.Nets))
	others := make([]bool, len(p.c.Nets))
	for _, k := range p.parts {
		if k.shape != CapacitorShape {
			k.nets(func(n netlist.Net) { others[n] = true })
			continue
		}
		for _, n := range [...][2]netlist.Net{{k.upper, k.lower}, {k.lower, k.upper}} {
			if p.inner(n[0]) && p.inner(n[1]) && p.pins[n[1]] > p.degree[n[1]] {
				p.couples[n[0]] = true
			}
		}
	}
	for n := range p.couples {
		p.couples[n] = p.couples[n] && !others[n]
	}
}

// transfer reports whether a part leads from a diode, and nothing else, to a net that has a gate: the transfer gate of a pixel.
func (p *plan) transfer(k *part) (diode, gated netlist.Net, ok bool) {
	if !k.kind.IsMOS() || !p.inner(k.upper) || !p.inner(k.lower) || k.upper == k.lower {
		return
	}
	for _, n := range [...][2]netlist.Net{{k.upper, k.lower}, {k.lower, k.upper}} {
		if p.pins[n[0]] == 2 && p.diodes[n[0]] == 1 && p.degree[n[0]] == 2 && p.pins[n[1]] > p.degree[n[1]] {
			return n[0], n[1], true
		}
	}
	return
}

func (p *plan) isTransfer(k *part) bool {
	_, _, ok := p.transfer(k)
	return ok
}

// switchKinds tells of which kinds the transistors between two nets are, by the nets in order, as bits.
func switchKinds(b []*part) map[[2]netlist.Net]int {
	kinds := map[[2]netlist.Net]int{}
	for _, k := range b {
		if k.kind.IsMOS() {
			kinds[k.ends()] |= 1 << k.kind
		}
	}
	return kinds
}

func (k *part) ends() [2]netlist.Net {
	return [2]netlist.Net{min(k.upper, k.lower), max(k.upper, k.lower)}
}

// transmits reports whether a transistor is one half of a transmission gate: n and p lead from one net to another, neither a rail.
func (p *plan) transmits(k *part, kinds map[[2]netlist.Net]int) bool {
	const both = 1<<netlist.NMOS | 1<<netlist.PMOS
	return k.kind.IsMOS() && k.upper != k.lower && p.inner(k.upper) && p.inner(k.lower) && kinds[k.ends()]&both == both
}

// pumps reports whether a part conducts one way only between nets that capacitors push: a stage of a charge pump.
func (p *plan) pumps(k *part) bool {
	return p.oneWay(k) && (p.pushed[k.upper] || p.pushed[k.lower])
}

// pumped reports whether a part is a capacitor that pushes such a net.
func (p *plan) pumped(k *part) bool {
	return k.shape == CapacitorShape && k.upper != netlist.NoNet && k.lower != netlist.NoNet && (p.pushed[k.upper] || p.pushed[k.lower])
}

func (p *plan) oneWay(k *part) bool {
	return k.upper != netlist.NoNet && k.lower != netlist.NoNet && k.upper != k.lower &&
		(k.kind == netlist.Diode || k.kind.IsMOS() && (k.gate == k.upper || k.gate == k.lower))
}

// findPushed finds the nets that have nothing on them but what conducts one way, twice at least, and capacitors, one of them to no rail.
func (p *plan) findPushed() {
	p.pushed = make([]bool, len(p.c.Nets))
	ways, caps, others := make([]int, len(p.pushed)), make([]int, len(p.pushed)), make([]bool, len(p.pushed))
	for _, k := range p.parts {
		switch {
		case k.shape == CapacitorShape && k.upper != netlist.NoNet && k.lower != netlist.NoNet:
			if !p.rail(k.upper) && !p.rail(k.lower) {
				caps[k.upper]++
				caps[k.lower]++
			}
		case p.oneWay(k):
			ways[k.upper]++
			ways[k.lower]++
		default:
			k.nets(func(n netlist.Net) { others[n] = true })
		}
	}
	for n := range p.pushed {
		p.pushed[n] = ways[n] > 1 && caps[n] > 0 && !others[n] && !p.rail(netlist.Net(n))
	}
}

// findClocks finds the nets that open n and p switches which lie sideways: their gates get names, as clocks have in textbooks.
func (p *plan) findClocks() {
	p.clock = make([]bool, len(p.c.Nets))
	kinds := map[netlist.Net]int{}
	for _, k := range p.parts {
		if k.sideways && k.kind.IsMOS() && k.gate != netlist.NoNet && k.gate != k.upper && k.gate != k.lower {
			kinds[k.gate] |= 1 << k.kind
			p.clock[k.gate] = kinds[k.gate]&(1<<netlist.NMOS) != 0 && kinds[k.gate]&(1<<netlist.PMOS) != 0
		}
	}
}

// clocked reports whether a part's gate has a name instead of a wire: it is on a clock, and the part does not make another one.
func (p *plan) clocked(k *part) bool {
	if !k.kind.IsMOS() || k.gate == netlist.NoNet || !p.clock[k.gate] {
		return false
	}
	makes := func(n netlist.Net) bool { return n != netlist.NoNet && p.clock[n] }
	return k.sideways || !makes(k.upper) && !makes(k.lower)
}
