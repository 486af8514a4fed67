package netlist

import (
	"fmt"
	"math"
)

// What Flatten refuses to go beyond: a few dozen lines of hierarchy can stand for more devices than any memory holds.
const (
	maxFlat  = 1 << 24 // devices, nets
	maxBytes = 1 << 31 // of their names
	maxWork  = 1 << 28 // nets, devices and instances looked at
	maxDepth = 10_000
)

// Flatten returns top as one circuit without instances, resolved to any depth. Devices and inner nets of an instance are
// named instance/name; where a circuit has one net on two ports, the nets that its user gives to them become one, which
// is called what the outermost of them is called. Global nets of one name are one net, and keep their name.
//
// The circuits of d need not be complete: what counts is what instances lead to. It is an error if a circuit contains
// itself, if an instance gives more or fewer nets than there are ports, and if the result would hold more than 16 million
// devices or nets. Time and memory go with the result.
func Flatten(d *Design, top *Circuit) (*Circuit, error) {
	m := measurer{sizes: map[*Circuit]*flatSize{}}
	size, err := m.measure(top)
	if err != nil {
		return nil, err
	}
	if size.devices > maxFlat || size.nets > maxFlat || size.bytes > maxBytes || size.work > maxWork {
		return nil, fmt.Errorf("circuit %s has %.3g devices, %.3g nets and %.3g bytes of names when it is flat; up to %d, %d and %d can be held\n    take a circuit further inside",
			top.Name, size.devices, size.nets, size.bytes, maxFlat, maxFlat, maxBytes)
	}
	f := &flattener{out: &Circuit{Name: top.Name}, global: map[string]Net{}}
	f.out.Devices = make([]Device, 0, int(size.devices))
	f.out.Nets = make([]NetInfo, 0, int(size.nets))
	nets := f.nets(top, "", nil)
	f.add(top, "", nets)
	for _, p := range top.Ports {
		f.out.Ports = append(f.out.Ports, nets[p])
	}
	f.joinNets()
	return f.out, nil
}

// flatSize is what a circuit holds when it is flat; float64, because it doubles with every level.
type flatSize struct {
	devices, nets float64
	names, bytes  float64 // names that a path is put before, instances among them; the bytes of all names
	work          float64 // nets, devices and instances that are looked at
	done          bool
}

// measurer counts before anything is made.
type measurer struct {
	sizes map[*Circuit]*flatSize
	path  []string
}

func (m *measurer) measure(c *Circuit) (*flatSize, error) {
	if s := m.sizes[c]; s != nil {
		if !s.done {
			return nil, fmt.Errorf("circuit %s contains itself, at %s", c.Name, m.place())
		}
		return s, nil
	}
	if len(m.path) > maxDepth {
		return nil, fmt.Errorf("circuits lie more than %d deep in each other, at %s", maxDepth, m.place())
	}
	s := &flatSize{devices: float64(len(c.Devices)), nets: float64(len(c.Nets)), names: float64(len(c.Devices) + len(c.Nets))}
	s.work = s.names
	m.sizes[c] = s
	for i := range c.Devices {
		s.bytes += float64(len(c.Devices[i].Name))
	}
	for i := range c.Nets {
		s.bytes += float64(len(c.Nets[i].Name))
	}
	for i := range c.Instances {
		in := &c.Instances[i]
		m.path = append(m.path, in.Name)
		if len(in.Nets) != len(in.Of.Ports) {
			return nil, fmt.Errorf("instance %s gives %d nets to circuit %s, which has %d ports", m.place(), len(in.Nets), in.Of.Name, len(in.Of.Ports))
		}
		sub, err := m.measure(in.Of)
		if err != nil {
			return nil, err
		}
		m.path = m.path[:len(m.path)-1]
		s.devices += sub.devices
		s.nets += math.Max(0, sub.nets-float64(len(in.Of.Ports)))
		s.names += sub.names + 1
		s.work += sub.work + 1
		s.bytes += sub.bytes + (sub.names+1)*float64(len(in.Name)+1)
	}
	s.done = true
	return s, nil
}

// place is the path of instances, its end if it is long.
func (m *measurer) place() string {
	const most = 20
	s, from := "", 0
	if len(m.path) > most {
		s, from = "…", len(m.path)-most
	}
	for _, name := range m.path[from:] {
		s = join(s, name)
	}
	return s
}

type flattener struct {
	out    *Circuit
	depth  []int32  // of each net of out: how many instances it lies in
	same   [][2]Net // nets that turned out to be one
	level  int32
	global map[string]Net
}

// nets gives numbers to the nets of one use of c; given are those of its ports.
func (f *flattener) nets(c *Circuit, path string, given []Net) []Net {
	nets := make([]Net, len(c.Nets))
	for i := range nets {
		nets[i] = NoNet
	}
	for i, g := range given {
		f.bind(&nets[c.Ports[i]], g)
	}
	for i := range c.Nets {
		info := &c.Nets[i]
		if info.Global {
			if g, ok := f.global[info.Name]; ok {
				f.bind(&nets[i], g)
			}
		}
		if nets[i] == NoNet {
			nets[i] = f.net(*info, path)
		}
		if info.Global {
			f.global[info.Name] = nets[i]
			f.out.Nets[nets[i]].Name, f.out.Nets[nets[i]].Global = info.Name, true
		}
	}
	return nets
}

// bind makes *n the net g, or notes that both are one.
func (f *flattener) bind(n *Net, g Net) {
	if *n == NoNet {
		*n = g
	} else if *n != g {
		f.same = append(f.same, [2]Net{*n, g})
	}
}

// net makes a new net.
func (f *flattener) net(info NetInfo, path string) Net {
	if info.Name != "" && !info.Global {
		info.Name = join(path, info.Name)
	}
	f.out.Nets = append(f.out.Nets, info)
	f.depth = append(f.depth, f.level)
	return Net(len(f.out.Nets) - 1)
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "/" + name
}

// add puts the devices of one use of c into the result, then those of its instances.
func (f *flattener) add(c *Circuit, path string, nets []Net) {
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
	f.level++
	for i := range c.Instances {
		in := &c.Instances[i]
		given := make([]Net, len(in.Nets))
		for k, n := range in.Nets {
			given[k] = nets[n]
		}
		sub := join(path, in.Name)
		f.add(in.Of, sub, f.nets(in.Of, sub, given))
	}
	f.level--
}

// joinNets renumbers the nets after those that are the same have become one. A global net keeps its name, else the
// outermost, of equals the first; ports of top come first.
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
	before := func(a, b Net) bool { // whether the net is called a rather than b
		if c.Nets[a].Global != c.Nets[b].Global {
			return c.Nets[a].Global
		}
		return f.depth[a] < f.depth[b] || f.depth[a] == f.depth[b] && a < b
	}
	for _, s := range f.same {
		a, b := find(s[0]), find(s[1])
		if before(b, a) {
			a, b = b, a
		}
		parent[b] = a
	}
	number := make([]Net, len(c.Nets))
	nets := c.Nets[:0]
	for i := range c.Nets {
		if find(Net(i)) == Net(i) {
			number[i] = Net(len(nets))
			nets = append(nets, c.Nets[i])
		}
	}
	c.Nets = nets
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
}
