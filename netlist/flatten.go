package netlist

import (
	"fmt"
	"strings"
)

// Flatten returns top as one circuit without instances. Devices and inner nets of an instance are named instance/name;
// where a circuit has one net on two ports, the nets that its user gives to them become one. A net called 0 in any
// circuit is the same ground everywhere. It is an error if a circuit contains itself.
func Flatten(d *Design, top *Circuit) (*Circuit, error) {
	f := &flattener{out: &Circuit{Name: top.Name}, inside: map[*Circuit]bool{}, ground: NoNet}
	nets := f.nets(top, "", nil)
	if err := f.add(top, "", nets); err != nil {
		return nil, err
	}
	for _, p := range top.Ports {
		f.out.Ports = append(f.out.Ports, nets[p])
	}
	f.joinNets()
	return f.out, nil
}

type flattener struct {
	out    *Circuit
	same   [][2]Net // nets that turned out to be one
	inside map[*Circuit]bool
	ground Net
}

// nets gives numbers to the nets of one use of c; given are those of its ports.
func (f *flattener) nets(c *Circuit, path string, given []Net) []Net {
	nets := make([]Net, len(c.Nets))
	for i := range nets {
		nets[i] = NoNet
	}
	for i, g := range given {
		if p := c.Ports[i]; nets[p] == NoNet {
			nets[p] = g
		} else if nets[p] != g {
			f.same = append(f.same, [2]Net{nets[p], g})
		}
	}
	for i := range c.Nets {
		isGround := c.Nets[i].Name == "0"
		if isGround && f.ground != NoNet && nets[i] == NoNet {
			nets[i] = f.ground
		}
		if nets[i] == NoNet {
			nets[i] = Net(len(f.out.Nets))
			info := c.Nets[i]
			if info.Name != "" && !isGround {
				info.Name = join(path, info.Name)
			}
			f.out.Nets = append(f.out.Nets, info)
		}
		if isGround {
			if f.ground == NoNet {
				f.ground = nets[i]
			} else if f.ground != nets[i] {
				f.same = append(f.same, [2]Net{f.ground, nets[i]})
			}
		}
	}
	return nets
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "/" + name
}

func (f *flattener) add(c *Circuit, path string, nets []Net) error {
	if f.inside[c] {
		return fmt.Errorf("circuit %s contains itself, at %s", c.Name, path)
	}
	f.inside[c] = true
	for i := range c.Devices {
		d := c.Devices[i]
		d.Name = join(path, d.Name)
		for t, n := range d.Terminals {
			if n != NoNet {
				d.Terminals[t] = nets[n]
			}
		}
		f.out.Devices = append(f.out.Devices, d)
	}
	for i := range c.Instances {
		in := &c.Instances[i]
		if len(in.Nets) != len(in.Of.Ports) {
			return fmt.Errorf("instance %s gives %d nets to circuit %s, which has %d ports", join(path, in.Name), len(in.Nets), in.Of.Name, len(in.Of.Ports))
		}
		given := make([]Net, len(in.Nets))
		for k, n := range in.Nets {
			given[k] = nets[n]
		}
		sub := join(path, in.Name)
		if err := f.add(in.Of, sub, f.nets(in.Of, sub, given)); err != nil {
			return err
		}
	}
	f.inside[c] = false
	return nil
}

// joinNets renumbers the nets after those that are the same have become one, which keeps the shorter path's name.
func (f *flattener) joinNets() {
	if len(f.same) == 0 {
		return
	}
	c := f.out
	parent := make([]Net, len(c.Nets))
	for i := range parent {
		parent[i] = Net(i)
	}
	find := func(n Net) Net {
		for parent[n] != n {
			parent[n] = parent[parent[n]]
			n = parent[n]
		}
		return n
	}
	for _, s := range f.same {
		a, b := find(s[0]), find(s[1])
		if depth := func(n Net) int { return strings.Count(c.Nets[n].Name, "/") }; depth(b) < depth(a) {
			a, b = b, a
		}
		if a != b {
			parent[b] = a
		}
	}
	number := make([]Net, len(c.Nets))
	var nets []NetInfo
	for i := range c.Nets {
		if find(Net(i)) == Net(i) {
			number[i] = Net(len(nets))
			nets = append(nets, c.Nets[i])
		}
	}
	to := func(n Net) Net { return number[find(n)] }
	for i := range c.Devices {
		for t, n := range c.Devices[i].Terminals {
			if n != NoNet {
				c.Devices[i].Terminals[t] = to(n)
			}
		}
	}
	for i, p := range c.Ports {
		c.Ports[i] = to(p)
	}
	c.Nets = nets
}
