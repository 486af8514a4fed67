package schematic

import "undermetal/netlist"

// Cut returns the circuit of some of c's devices, in the order given: its nets are those that they have, its ports those that are ports of c
// or have anything else on them.
func Cut(c *netlist.Circuit, devices []int32) *netlist.Circuit {
	out := &netlist.Circuit{Name: c.Name}
	number := map[netlist.Net]netlist.Net{}
	chosen := map[int32]bool{}
	for _, i := range devices {
		chosen[i] = true
		d := c.Devices[i]
		for t, n := range d.Terminals {
			if n == netlist.NoNet {
				continue
			}
			m, ok := number[n]
			if !ok {
				m = netlist.Net(len(out.Nets))
				number[n] = m
				out.Nets = append(out.Nets, c.Nets[n])
			}
			d.Terminals[t] = m
		}
		out.Devices = append(out.Devices, d)
	}
	port := make([]bool, len(out.Nets))
	mark := func(n netlist.Net) {
		if m, ok := number[n]; ok {
			port[m] = true
		}
	}
	for _, n := range c.Ports {
		mark(n)
	}
	for i := range c.Devices {
		if !chosen[int32(i)] {
			for _, n := range c.Devices[i].Terminals {
				mark(n)
			}
		}
	}
	for i := range c.Instances {
		for _, n := range c.Instances[i].Nets {
			mark(n)
		}
	}
	for n, is := range port {
		if is {
			out.Ports = append(out.Ports, netlist.Net(n))
		}
	}
	return out
}
