package schematic

import (
	"cmp"
	"math"
	"slices"

	"undermetal/netlist"
)

const (
	mostEnds  = 12  // how many ends of channels a net has that still holds a block together
	portPull  = 0.3 // how strongly a port is pulled to the middle, where a channel pulls with 1
	sweeps    = 200
	sameLevel = 0.02 // what differs by less lies sideways
	levelWay  = 0.3  // and so by less does what leads both ways: capacitors, resistors, transmission gates
)

// settleRows makes blocks of what channels join, and tells each part its row, which end is up, and whether it lies sideways.
func (p *plan) settleRows() {
	for _, k := range p.parts {
		if k.shape != BoxShape {
			p.eachEnd(k, func(n netlist.Net) {
				p.degree[n]++
				if k.kind == netlist.Diode {
					p.diodes[n]++
				}
			})
		}
	}
	p.findLevels()
	p.findBlocks()
	p.findPushed()
	p.findCouples()
	for _, b := range p.blocks {
		p.rowsOf(b)
	}
	p.findClocks()
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
			if p.ports[n] || p.pins[n] == 1 {
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
		if g, ok := p.groupOf(k); ok && len(p.opt.Groups[g].Devices) <= mostEnds {
			if j, ok := first[g]; ok {
				join(i, j)
			} else {
				first[g] = i
			}
		}
	}
	for i, k := range p.parts {
		if k.array == nil || len(k.array.Unit) == 0 {
			continue
		}
		if j := slices.IndexFunc(p.parts, func(u *part) bool { return u.device == k.array.Unit[0] }); j >= 0 {
			join(i, j)
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
	kinds := switchKinds(b)
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
			k.sideways = !p.railNet(k.upper) && !p.railNet(k.lower) && math.Abs(up-low) < levelWay
		}
		if p.railNet(k.upper) != p.railNet(k.lower) {
			k.sideways = false
			if p.railNet(k.upper) && p.role[k.upper] == Ground || p.railNet(k.lower) && p.role[k.lower] == Supply {
				k.upper, k.lower = k.lower, k.upper
				k.upperT, k.lowerT = k.lowerT, k.upperT
			}
		}
		k.sideways = k.sideways || p.transmits(k, kinds) && math.Abs(up-low) < levelWay
		k.sideways = (k.sideways || p.isTransfer(k) || p.pumps(k)) && !p.pumped(k)
	}
	stacked := slices.DeleteFunc(slices.Clone(b), func(k *part) bool { return k.shape == BoxShape || k.sideways && !p.isTransfer(k) })
	slices.SortStableFunc(stacked, func(x, y *part) int {
		return cmp.Compare(p.levelOf(y.upper)+p.levelOf(y.lower), p.levelOf(x.upper)+p.levelOf(x.lower))
	})
	// the longest way from above, then from below
	top := map[*part]int{}
	depth := map[netlist.Net]int{}
	rows := 1
	for _, k := range stacked {
		if diode, gated, ok := p.transfer(k); ok { // the diode below what is on the other side, even where that is all
			depth[diode] = max(depth[diode], depth[gated], 1)
			continue
		}
		r := 0
		if p.inner(k.upper) {
			r = depth[k.upper]
		}
		top[k] = r
		if p.inner(k.lower) {
			depth[k.lower] = max(depth[k.lower], r+1)
		}
		rows = max(rows, r+1)
	}
	height := map[netlist.Net]int{}
	for _, k := range slices.Backward(stacked) {
		if diode, gated, ok := p.transfer(k); ok {
			h, ok := height[diode]
			if g, above := height[gated]; ok && (!above || h < g) {
				height[gated] = h
			}
			continue
		}
		low := rows - 1
		if h, ok := height[k.lower]; ok && p.inner(k.lower) {
			low = h
		}
		k.row = low
		if k.kind == netlist.PMOS || k.upper != netlist.NoNet && p.role[k.upper] == Supply && !(k.lower != netlist.NoNet && p.role[k.lower] == Ground) && k.kind != netlist.NMOS {
			k.row = top[k]
		}
		if _, below := height[k.lower]; !below && p.hangs(k) {
			k.row = top[k] // it hangs from the supply, and nothing hangs from it
		}
		k.row = max(k.row, top[k])
		if p.inner(k.upper) {
			if h, ok := height[k.upper]; !ok || k.row-1 < h {
				height[k.upper] = max(0, k.row-1)
			}
		}
	}
	upright := slices.DeleteFunc(stacked, func(k *part) bool { return k.sideways })
	for _, k := range upright {
		k.row = k.row*rowStep + rowStep
	}
	layLevel(b, upright, rows)
}

// rowStep is how many rows there are between two of upright parts: what lies sideways has its own between them, p transistors first.
const rowStep = 3

// layLevel gives what lies sideways its rows, as near as may be to where its nets leave the upright parts.
func layLevel(b, upright []*part, rows int) {
	leaves := map[netlist.Net][2]int{} // sum and number of rows at whose lower end a net leaves
	note := func(n netlist.Net, row int) {
		v := leaves[n]
		leaves[n] = [2]int{v[0] + row, v[1] + 1}
	}
	for _, k := range upright {
		note(k.upper, k.row/rowStep-1)
		note(k.lower, k.row/rowStep)
	}
	hasP := false
	for _, k := range b {
		hasP = hasP || k.sideways && k.kind == netlist.PMOS
	}
	for _, k := range b {
		if !k.sideways {
			continue
		}
		u, l := leaves[k.upper], leaves[k.lower]
		at := (rows + 1) / 2
		if n := u[1] + l[1]; n > 0 {
			at = (2*(u[0]+l[0]) + n) / (2 * n)
		}
		k.row = at*rowStep + 1
		k.turn = GateUp
		if hasP && k.kind == netlist.NMOS {
			k.row++
			k.turn = GateDown
		}
	}
}

func (p *plan) levelOf(n netlist.Net) float64 {
	if n == netlist.NoNet {
		return 0.5
	}
	return p.level[n]
}

func (p *plan) inner(n netlist.Net) bool { return n != netlist.NoNet && !p.rail(n) }

func (p *plan) railNet(n netlist.Net) bool { return n != netlist.NoNet && p.rail(n) }
