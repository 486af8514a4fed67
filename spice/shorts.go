package spice

import "undermetal/netlist"

// short is two nets that are one.
type short struct {
	a, b netlist.Net
	line int
}

// join makes shorted nets one: the global one, else the one that came first, so a port before an inner net. A port keeps
// its place in the list, so that two of them may be the same net. Labels keeps all names.
func (rd *reader) join(b *build) error {
	if len(b.shorts) == 0 {
		return nil
	}
	c := b.circuit
	to := make([]netlist.Net, len(c.Nets))
	for i := range to {
		to[i] = netlist.Net(i)
	}
	find := func(n netlist.Net) netlist.Net {
		for to[n] != n {
			to[n] = to[to[n]]
			n = to[n]
		}
		return n
	}
	for _, s := range b.shorts {
		x, y := find(s.a), find(s.b)
		if x == y {
			continue
		}
		switch gx, gy := c.Nets[x].Global, c.Nets[y].Global; {
		case gx && gy:
			return rd.fail(s.line, "give both the same name", "the global nets %s and %s are shorted in %s", c.Nets[x].Name, c.Nets[y].Name, c.Name)
		case gy || !gx && y < x:
			x, y = y, x
		}
		to[y] = x
	}
	number := make([]netlist.Net, len(c.Nets))
	var kept []netlist.NetInfo
	for i := range c.Nets {
		if find(netlist.Net(i)) == netlist.Net(i) {
			number[i] = netlist.Net(len(kept))
			kept = append(kept, c.Nets[i])
		}
	}
	for i := range c.Nets {
		if n := find(netlist.Net(i)); n != netlist.Net(i) {
			k := &kept[number[n]]
			if len(k.Labels) == 0 {
				k.Labels = []string{k.Name}
			}
			k.Labels = append(k.Labels, c.Nets[i].Name)
		}
	}
	c.Nets = kept
	renumber(c, func(n netlist.Net) netlist.Net { return number[find(n)] })
	return nil
}

// renumber gives each net that a circuit's ports, devices and instances refer to the number that to says.
func renumber(c *netlist.Circuit, to func(netlist.Net) netlist.Net) {
	apply := func(nets []netlist.Net) {
		for i, n := range nets {
			if n != netlist.NoNet {
				nets[i] = to(n)
			}
		}
	}
	apply(c.Ports)
	for i := range c.Devices {
		apply(c.Devices[i].Terminals[:])
	}
	for i := range c.Instances {
		apply(c.Instances[i].Nets)
	}
}
