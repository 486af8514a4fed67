package schematic

import (
	"slices"

	"undermetal/netlist"
)

// Joined tells which pins a drawing joins: for every symbol of every sheet a number for each of its pins, the same for what wires, dots
// and names make one net. It looks at geometry and texts only, never at the nets that things were drawn for. A bulk without a pin
// has no number here; what the notes say of it stands in Drawing.BulkN and BulkP.
//
// names holds the numbers of names; the sign for ground without a text is that of Drawing.GroundName. Wires meet where one ends on another, or where a dot is; where they only cross they do not.
func (d *Drawing) Joined() (pins [][][]int, names map[string]int) {
	names = map[string]int{}
	next := 0
	var parent []int
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	fresh := func() int {
		parent = append(parent, next)
		next++
		return next - 1
	}
	pins = make([][][]int, len(d.Sheets))
	for si, s := range d.Sheets {
		at := map[Point]int{} // what ends at a place, or is joined there by a dot
		node := func(p Point) int {
			if n, ok := at[p]; ok {
				return n
			}
			at[p] = fresh()
			return at[p]
		}
		for _, w := range s.Wires {
			for i := 1; i < len(w.Points); i++ {
				parent[find(node(w.Points[i]))] = find(node(w.Points[i-1]))
			}
		}
		for _, q := range s.Dots {
			node(q.At)
		}
		for i := range s.Symbols {
			for _, q := range s.Symbols[i].Pins {
				node(q.At)
			}
		}
		for _, f := range s.Flags {
			node(f.At)
		}
		// Whatever ends, or has a dot, in the middle of a wire is joined to it.
		for _, w := range s.Wires {
			for i := 1; i < len(w.Points); i++ {
				for _, p := range between(w.Points[i-1], w.Points[i]) {
					if n, ok := at[p]; ok {
						parent[find(n)] = find(at[w.Points[i]])
					}
				}
			}
		}
		for _, f := range s.Flags {
			name := f.Text
			if name == "" {
				name = d.GroundName
			}
			m, ok := names[name]
			if !ok {
				m = fresh()
				names[name] = m
			}
			parent[find(at[f.At])] = find(m)
		}
		pins[si] = make([][]int, len(s.Symbols))
		for i := range s.Symbols {
			for _, q := range s.Symbols[i].Pins {
				pins[si][i] = append(pins[si][i], at[q.At])
			}
		}
	}
	for _, s := range pins {
		for _, y := range s {
			for i := range y {
				y[i] = find(y[i])
			}
		}
	}
	for name, n := range names {
		names[name] = find(n)
	}
	return pins, names
}

// Read returns the circuit that a drawing shows, by Joined: devices in the order of c, whose kinds and sizes it takes. It is for
// comparing a drawing with what it was drawn from. Instances are left out.
func (d *Drawing) Read(c *netlist.Circuit) *netlist.Circuit {
	pins, names := d.Joined()
	out := &netlist.Circuit{Name: c.Name, Devices: make([]netlist.Device, len(c.Devices))}
	number := map[int]netlist.Net{}
	net := func(k int) netlist.Net {
		n, ok := number[k]
		if !ok {
			n = netlist.Net(len(out.Nets))
			number[k] = n
			out.Nets = append(out.Nets, netlist.NetInfo{})
		}
		return n
	}
	for si, s := range d.Sheets {
		for i := range s.Symbols {
			y := &s.Symbols[i]
			if y.Device < 0 {
				continue
			}
			dev := c.Devices[y.Device]
			for t := range dev.Terminals {
				dev.Terminals[t] = netlist.NoNet
			}
			for j, q := range y.Pins {
				if t := slices.Index(dev.Kind.TerminalNames(), q.Terminal); t >= 0 {
					dev.Terminals[t] = net(pins[si][i][j])
				}
			}
			out.Devices[y.Device] = dev
		}
	}
	bulk := func(kind netlist.Kind, of netlist.Net, name string) {
		if of == netlist.NoNet {
			return
		}
		k, ok := names[name]
		if !ok { // nothing else is drawn on it
			k = -1 - int(of)
		}
		for i := range out.Devices {
			if dev := &out.Devices[i]; dev.Kind == kind && dev.Terminals[netlist.Bulk] == netlist.NoNet && c.Devices[i].Terminals[netlist.Bulk] != netlist.NoNet {
				dev.Terminals[netlist.Bulk] = net(k)
			}
		}
	}
	bulk(netlist.NMOS, d.BulkN, d.BulkNName)
	bulk(netlist.PMOS, d.BulkP, d.BulkPName)
	return out
}
