package schematic

import (
	"math"
	"slices"

	"undermetal/netlist"
)

const (
	mostEnds  = 12  // how many ends of channels a net has that still holds a block together
	portPull  = 0.3 // how strongly a port is pulled to the middle, where a channel pulls with 1
	sweeps    = 200
	sameLevel = 0.02 // what differs by less lies sideways
)

// settleRows makes blocks of what channels join, and tells each part its row, which end is up, and whether it lies sideways.
func (p *plan) settleRows() {
	for _, k := range p.parts {
		if k.shape != BoxShape {
			p.eachEnd(k, func(n netlist.Net) { p.degree[n]++ })
		}
	}
	p.findLevels()
	p.findBlocks()
	for _, b := range p.blocks {
		p.rowsOf(b)
	}
}

func (p *plan) eachEnd(k *part, f func(netlist.Net)) {
	if k.upper != netlist.NoNet {
		f(k.upper)
	}
	if k.lower != netlist.NoNet && k.lower != k.upper {
		f(k.lower)
	}
}

func (p *plan) rail(n netlist.Net) bool { return p.role[n] == Supply || p.role[n] == Ground }

// findLevels solves the circuit with every channel a resistor of 1, supplies at 1 and grounds at 0. Capacitors pull weakly.
func (p *plan) findLevels() {
	p.level = make([]float64, len(p.c.Nets))
	type tie struct {
		to netlist.Net
		g  float64
	}
	ties := make([][]tie, len(p.c.Nets))
	for _, k := range p.parts {
		if k.shape == BoxShape || k.upper == netlist.NoNet || k.lower == netlist.NoNet || k.upper == k.lower {
			continue
		}
		g := 1.0
		if k.shape == CapacitorShape {
			g = 0.05
		}
		ties[k.upper] = append(ties[k.upper], tie{k.lower, g})
		ties[k.lower] = append(ties[k.lower], tie{k.upper, g})
	}
	for n := range p.level {
		switch p.role[n] {
		case Supply:
			p.level[n] = 1
		case Ground:
		default:
			p.level[n] = 0.5
		}
	}
	for range sweeps {
		moved := 0.0
		for n, of := range ties {
			if p.rail(netlist.Net(n)) || len(of) == 0 {
				continue
			}
			sum, g := 0.0, 1e-6
			sum = 0.5e-6
			if p.ports[n] {
				sum, g = 0.5*portPull, portPull
			}
			for _, t := range of {
				sum += p.level[t.to] * t.g
				g += t.g
			}
			moved = max(moved, math.Abs(p.level[n]-sum/g))
			p.level[n] = sum / g
		}
		if moved < 1e-5 {
			break
		}
	}
}

// findBlocks makes blocks, in the order of their first parts; parts of one group are in one block.
func (p *plan) findBlocks() {
	parent := make([]int, len(p.parts))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	join := func(a, b int) {
		if a, b = find(a), find(b); a != b {
			parent[max(a, b)] = min(a, b)
		}
	}
	at := map[netlist.Net]int{}
	for i, k := range p.parts {
		if k.shape == BoxShape {
			continue
		}
		p.eachEnd(k, func(n netlist.Net) {
			if p.rail(n) || p.degree[n] > mostEnds {
				return
			}
			if j, ok := at[n]; ok {
				join(i, j)
			} else {
				at[n] = i
			}
		})
	}
	first := map[int]int{}
	for i, k := range p.parts {
		if g, ok := p.group[k.device]; ok && k.device >= 0 && len(p.opt.Groups[g].Devices) <= mostEnds {
			if j, ok := first[g]; ok {
				join(i, j)
			} else {
				first[g] = i
			}
		}
	}
	number := map[int]int{}
	for i, k := range p.parts {
		r := find(i)
		b, ok := number[r]
		if !ok {
			b = len(p.blocks)
			number[r] = b
			p.blocks = append(p.blocks, nil)
		}
		k.block = b
		p.blocks[b] = append(p.blocks[b], k)
	}
}

// rowsOf turns the parts of a block the right way up and puts each into a row: below all that is above it, p transistors and loads as
// high as may be, all else as low.
func (p *plan) rowsOf(b []*part) {
	for _, k := range b {
		if k.shape == BoxShape {
			continue
		}
		up, low := p.levelOf(k.upper), p.levelOf(k.lower)
		if k.kind == netlist.PMOS && k.lower != k.upper && math.Abs(up-low) < sameLevel {
			up, low = low, up // the source of a p transistor is up unless something says otherwise
		}
		if up < low {
			k.upper, k.lower = k.lower, k.upper
			k.upperT, k.lowerT = k.lowerT, k.upperT
		}
		k.sideways = k.upper != k.lower && math.Abs(up-low) < sameLevel && k.upper != netlist.NoNet && k.lower != netlist.NoNet
		if k.shape == CapacitorShape || k.shape == ResistorShape {
			k.sideways = !p.railNet(k.upper) && !p.railNet(k.lower) && math.Abs(up-low) < 0.3
		}
	}
	upright := slices.DeleteFunc(slices.Clone(b), func(k *part) bool { return k.sideways || k.shape == BoxShape })
	slices.SortStableFunc(upright, func(x, y *part) int {
		return cmpFloat(p.levelOf(y.upper)+p.levelOf(y.lower), p.levelOf(x.upper)+p.levelOf(x.lower))
	})
	// the longest way from above, then from below
	top := map[*part]int{}
	depth := map[netlist.Net]int{}
	rows := 1
	for _, k := range upright {
		r := 0
		if !p.railNet(k.upper) {
			r = depth[k.upper]
		}
		top[k] = r
		if !p.railNet(k.lower) {
			depth[k.lower] = max(depth[k.lower], r+1)
		}
		rows = max(rows, r+1)
	}
	height := map[netlist.Net]int{}
	for i := len(upright) - 1; i >= 0; i-- {
		k := upright[i]
		low := rows - 1
		if h, ok := height[k.lower]; ok && !p.railNet(k.lower) {
			low = h
		}
		k.row = low
		if k.kind == netlist.PMOS || k.upper != netlist.NoNet && p.role[k.upper] == Supply && !(k.lower != netlist.NoNet && p.role[k.lower] == Ground) && k.kind != netlist.NMOS {
			k.row = top[k]
		}
		k.row = max(k.row, top[k])
		if !p.railNet(k.upper) {
			if h, ok := height[k.upper]; !ok || k.row-1 < h {
				height[k.upper] = max(0, k.row-1)
			}
		}
	}
	for _, k := range b {
		switch {
		case k.sideways && k.kind == netlist.PMOS:
			k.row = max(0, (rows-1)/2)
			k.turn = GateUp
		case k.sideways && k.kind.IsMOS():
			k.row = (rows - 1) / 2
			if rows > 1 {
				k.row++
			}
			k.turn = GateDown
		case k.sideways:
			k.row = (rows - 1) / 2
			k.turn = GateUp
		}
	}
}

func (p *plan) levelOf(n netlist.Net) float64 {
	if n == netlist.NoNet {
		return 0.5
	}
	return p.level[n]
}

func (p *plan) railNet(n netlist.Net) bool { return n != netlist.NoNet && p.rail(n) }

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
