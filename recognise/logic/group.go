package logic

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// Group is parts that a recogniser has found to be something.
type Group struct {
	Pattern *library.Pattern
	Parts   []int32 // by the pattern's devices
	Nets    []int32 // by the pattern's nets
}

// maker makes the patterns of groups: equal groups have the same one.
type maker struct {
	g      *parts.Graph
	made   map[string]*library.Pattern // by what the circuit is
	number map[string]int              // of patterns by name
}

func newMaker(g *parts.Graph) *maker {
	return &maker{g: g, made: map[string]*library.Pattern{}, number: map[string]int{}}
}

// sketch is a group before it has a pattern.
type sketch struct {
	name, title, what string
	members           []int32          // in canonical order
	ports             map[int32]string // names of nets that have a meaning
	roles             map[int32]string // and their roles
	order             []int32          // ports, in order; others that touch the rest follow
}

// make turns a sketch into a group.
func (m *maker) make(s sketch) Group {
	gr := Group{Parts: s.members}
	index := map[int32]netlist.Net{}
	net := func(n int32) netlist.Net {
		k, ok := index[n]
		if !ok {
			k = netlist.Net(len(gr.Nets))
			index[n] = k
			gr.Nets = append(gr.Nets, n)
		}
		return k
	}
	for _, n := range s.order {
		net(n)
	}
	var key strings.Builder
	key.WriteString(s.name)
	within := map[int32]int{}
	for _, q := range s.members {
		p := &m.g.Parts[q]
		fmt.Fprintf(&key, " %d", p.Kind)
		a, b := p.Nets[parts.End], p.Nets[parts.Other]
		if ka, kb := netFor(index, a), netFor(index, b); kb < ka {
			a, b = b, a // so that ends that were exchanged make no other pattern
		}
		for _, n := range []int32{a, p.Nets[parts.Gate], b} {
			fmt.Fprintf(&key, ",%d", net(n))
			within[n]++
		}
	}
	ports := slices.Clone(s.order)
	for _, n := range gr.Nets {
		if !slices.Contains(ports, n) && (m.g.Degree(n) > within[n] || m.g.Port[n] || m.g.Rails[n] != parts.Signal) {
			ports = append(ports, n)
		}
	}
	for _, n := range ports {
		fmt.Fprintf(&key, " %d%s", index[n], s.roles[n])
	}
	p := m.made[key.String()]
	if p == nil {
		p = m.pattern(s, gr, index, ports)
		m.made[key.String()] = p
	}
	gr.Pattern = p
	return gr
}

// settleOrder brings members into an order that follows from how they are joined, not from how they were found: nets and parts take
// on what is around them, a few times over, and parts are sorted by that. Parts that this cannot tell apart are as good as each other.
func (m *maker) settleOrder(s *sketch) {
	nets := map[int32]uint64{}
	mix := func(h, x uint64) uint64 {
		h = (h ^ x) * 0xff51afd7ed558ccd
		return h ^ h>>32
	}
	for _, q := range s.members {
		for _, n := range m.g.Parts[q].Nets {
			h := mix(uint64(m.g.Rails[n])+1, 7)
			for _, r := range s.ports[n] {
				h = mix(h, uint64(r))
			}
			nets[n] = h
		}
	}
	colour := make(map[int32]uint64, len(s.members))
	for range 6 {
		next := maps.Clone(nets)
		for _, q := range s.members {
			p := &m.g.Parts[q]
			a, g, b := nets[p.Nets[parts.End]], nets[p.Nets[parts.Gate]], nets[p.Nets[parts.Other]]
			h := mix(mix(mix(uint64(p.Kind)+3, a+b), a*b), g)
			colour[q] = h
			next[p.Nets[parts.End]] += mix(h, 1+b)
			next[p.Nets[parts.Other]] += mix(h, 1+a)
			next[p.Nets[parts.Gate]] += mix(h, 2)
		}
		nets = next
	}
	slices.SortStableFunc(s.members, func(a, b int32) int { return cmp.Compare(colour[a], colour[b]) })
}

// netFor orders nets that have a number before those that have none.
func netFor(index map[int32]netlist.Net, n int32) int {
	if k, ok := index[n]; ok {
		return int(k)
	}
	return 1 << 30
}

// pattern writes a group down as a pattern.
func (m *maker) pattern(s sketch, gr Group, index map[int32]netlist.Net, ports []int32) *library.Pattern {
	p := &library.Pattern{Name: s.name, Title: s.title, What: s.what, Group: "digital",
		Source: "found by what it computes; Weste & Harris, CMOS VLSI Design, for the names"}
	m.number[s.name]++
	if k := m.number[s.name]; k > 1 {
		p.Name = fmt.Sprintf("%s_v%d", s.name, k)
	}
	c := &netlist.Circuit{Name: p.Name}
	taken := map[string]bool{}
	bulk := [2]netlist.Net{netlist.NoNet, netlist.NoNet}
	for i, n := range gr.Nets {
		name := s.ports[n]
		switch m.g.Rails[n] {
		case parts.Supply:
			name, bulk[1] = "vdd", netlist.Net(i)
		case parts.Ground:
			name, bulk[0] = "vss", netlist.Net(i)
		}
		if name == "" {
			name = fmt.Sprintf("n%d", i+1)
		}
		for base, k := name, 2; taken[name]; k++ {
			name = fmt.Sprintf("%s%d", base, k)
		}
		taken[name] = true
		c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
	}
	for _, n := range ports {
		role := s.roles[n]
		switch m.g.Rails[n] {
		case parts.Supply:
			role = library.Supply
		case parts.Ground:
			role = library.Ground
		}
		c.Ports = append(c.Ports, index[n])
		p.Ports = append(p.Ports, library.Port{Name: c.Nets[index[n]].Name, Role: role})
	}
	for i, q := range s.members {
		t := &m.g.Parts[q]
		d := netlist.Device{Name: fmt.Sprintf("MN%d", i+1), Kind: netlist.NMOS, Model: "nmos",
			Terminals: [4]netlist.Net{index[t.Nets[parts.End]], index[t.Nets[parts.Gate]], index[t.Nets[parts.Other]], bulk[0]}}
		if t.Kind == parts.P {
			d.Name, d.Kind, d.Model, d.Terminals[netlist.Bulk] = fmt.Sprintf("MP%d", i+1), netlist.PMOS, "pmos", bulk[1]
		}
		c.Devices = append(c.Devices, d)
	}
	p.Circuit = c
	return p
}
