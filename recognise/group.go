package recognise

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
)

// Grouped is a circuit with what was recognised as circuits of their own.
type Grouped struct {
	Design *netlist.Design // the whole circuit is the last, and keeps its name and ports
	Left   []int32         // of each device of the last circuit, its index in the flat one
	Groups int             // how many fits became instances
}

// Group makes circuits of full fits, with the pattern's names for ports, nets and devices, and of arrays, whose members are instances
// in them; both become instances in the whole. Flat again, it is the same circuit. Fits of a pattern whose devices differ in size, or are
// joined otherwise (the bulk, say), are circuits of their own, NAME_2 and so on; the p flavour of a pattern is NAME_p. A device goes with
// the first suggestion that has it; a fit that lacks one by that, or a piece, stays as it is. So do devices that nothing explains.
//
// Places are left out in what is used more than once.
func Group(c *netlist.Circuit, suggestions []Suggestion) *Grouped {
	g := &grouper{c: c, owner: filled(len(c.Devices)), pins: make([]int32, len(c.Nets)), keep: make([]bool, len(c.Nets)),
		made: map[string]*netlist.Circuit{}, taken: map[string]bool{strings.ToLower(c.Name): true}, out: &Grouped{Design: &netlist.Design{}}}
	for i := range c.Devices {
		for _, n := range g.nets(int32(i)) {
			g.pins[n]++
		}
	}
	for _, p := range c.Ports {
		g.keep[p] = true
	}
	for i := range c.Nets {
		g.keep[i] = g.keep[i] || c.Nets[i].Global
	}
	top := &netlist.Circuit{Name: c.Name}
	count := map[string]int{}
	add := func(in netlist.Instance) {
		count[in.Of.Name]++
		in.Name = fmt.Sprintf("%s_%d", in.Of.Name, count[in.Of.Name])
		top.Instances = append(top.Instances, in)
	}
	for i := range suggestions {
		if s := &suggestions[i]; s.Array != nil {
			if in, ok := g.array(s.Array); ok {
				add(in)
			}
		}
	}
	for i := range suggestions {
		if s := &suggestions[i]; s.Array == nil && s.Full() && g.claim(s.Fit) {
			add(g.instance(s.Fit))
		}
	}
	g.rest(top)
	g.out.Design.Circuits = append(g.out.Design.Circuits, top)
	return g.out
}

// grouper makes a design of a flat circuit. Instances hold nets of the flat one until the end.
type grouper struct {
	c     *netlist.Circuit
	owner []int32 // by device: the number of its group; -1: none
	pins  []int32 // by net: terminals on it
	keep  []bool  // by net: it is known outside
	made  map[string]*netlist.Circuit
	taken map[string]bool // names of circuits in lower case
	out   *Grouped
}

// nets returns the nets of a device, as often as it is on them.
func (g *grouper) nets(device int32) []netlist.Net {
	d := &g.c.Devices[device]
	var all []netlist.Net
	for _, n := range d.Terminals[:len(d.Kind.TerminalNames())] {
		if n != netlist.NoNet {
			all = append(all, n)
		}
	}
	return all
}

// claim gives the devices of a fit to it, unless one is taken.
func (g *grouper) claim(f *Fit) bool {
	ds := f.Devices()
	if slices.ContainsFunc(ds, func(d int32) bool { return g.owner[d] >= 0 }) {
		return false
	}
	for _, d := range ds {
		g.owner[d] = int32(g.out.Groups)
	}
	g.out.Groups++
	return true
}

// formals are the nets of a circuit in the making.
type formals struct {
	circuit *netlist.Circuit
	of      map[netlist.Net]netlist.Net // by net of the flat circuit
	actual  []netlist.Net               // by net of the circuit
	taken   map[string]bool
}

func newFormals(name string) *formals {
	return &formals{circuit: &netlist.Circuit{Name: name}, of: map[netlist.Net]netlist.Net{}, taken: map[string]bool{}}
}

// add gives a net of the flat circuit a name, if it has none yet; where the name is taken, with a number.
func (f *formals) add(n netlist.Net, name string) {
	if _, ok := f.of[n]; ok || n == netlist.NoNet {
		return
	}
	free := name
	for k := 2; f.taken[strings.ToLower(free)]; k++ {
		free = fmt.Sprintf("%s_%d", name, k)
	}
	f.taken[strings.ToLower(free)] = true
	f.of[n] = netlist.Net(len(f.actual))
	f.actual = append(f.actual, n)
	f.circuit.Nets = append(f.circuit.Nets, netlist.NetInfo{Name: free})
}

// ports makes ports of the nets that are known outside, and returns them as they are in the flat circuit.
func (f *formals) ports(outside func(netlist.Net) bool) []netlist.Net {
	var actual []netlist.Net
	for k, n := range f.actual {
		if outside(n) {
			f.circuit.Ports = append(f.circuit.Ports, netlist.Net(k))
			actual = append(actual, n)
		}
	}
	return actual
}

// instance makes an instance of a fit whose devices were claimed, and the circuit that it is of, if there is none yet.
func (g *grouper) instance(f *Fit) netlist.Instance {
	p := f.Pattern
	name := p.Name
	if f.Mirror {
		name += "_p"
	}
	on := map[netlist.Net]int32{}
	for _, d := range f.Devices() {
		for _, n := range g.nets(d) {
			on[n]++
		}
	}
	to := newFormals(name)
	for i := range p.Ports {
		if n := f.Ports[i]; n != netlist.NoNet && on[n] > 0 {
			to.add(n, p.Ports[i].Name)
		}
	}
	inner := 0
	for n := range p.Circuit.Nets {
		if !slices.Contains(p.Circuit.Ports, netlist.Net(n)) {
			to.add(f.Inner[inner], p.Circuit.Nets[n].Name)
			inner++
		}
	}
	for i := range f.Members {
		g.devices(to, f, &f.Members[i])
	}
	actual := to.ports(func(n netlist.Net) bool { return g.keep[n] || g.pins[n] > on[n] })
	return netlist.Instance{Of: g.version(to.circuit), Nets: actual}
}

// devices adds a member and its fingers.
func (g *grouper) devices(to *formals, f *Fit, m *Member) {
	like := f.Pattern.Circuit.Devices[slices.IndexFunc(f.Pattern.Circuit.Devices, func(d netlist.Device) bool { return d.Name == m.Role })]
	var all []netlist.Device
	for _, k := range append([]int32{m.Device}, m.Fingers...) {
		d := g.c.Devices[k]
		for t, n := range d.Terminals[:len(d.Kind.TerminalNames())] {
			name := "n1"
			switch {
			case d.Kind == netlist.NMOS && t == netlist.Bulk:
				name = "bulk_n"
			case d.Kind == netlist.PMOS && t == netlist.Bulk:
				name = "bulk_p"
			case d.Kind.IsMOS() && t == netlist.Bulk:
				name = "bulk"
			}
			to.add(n, name)
			if n != netlist.NoNet {
				d.Terminals[t] = to.of[n]
			}
		}
		first := f.netOf(like.Terminals[0])
		if formal, ok := to.of[first]; ok {
			turn(&d, formal)
		}
		d.At.X, d.At.Y = 0, 0
		all = append(all, d)
	}
	for i := range all {
		all[i].Name = ""
	}
	slices.SortStableFunc(all, func(a, b netlist.Device) int { return cmp.Compare(deviceKey(&a), deviceKey(&b)) })
	for i := range all {
		all[i].Name = m.Role
		if i > 0 {
			all[i].Name = fmt.Sprintf("%s_%d", m.Role, i+1)
		}
	}
	to.circuit.Devices = append(to.circuit.Devices, all...)
}

// netOf is where the n-th net of the pattern lies.
func (f *Fit) netOf(n netlist.Net) netlist.Net { return f.Net(f.Pattern.Circuit.Nets[n].Name) }

// turn exchanges the ends of a symmetric device, if its last one is on the net that the first one should be on.
func turn(d *netlist.Device, first netlist.Net) {
	last := 1
	switch {
	case d.Kind.IsMOS():
		last = netlist.Source
	case d.Kind == netlist.Resistor || d.Kind == netlist.Capacitor || d.Kind == netlist.Inductor:
	default:
		return
	}
	if d.Terminals[0] != first && d.Terminals[last] == first {
		d.Terminals[0], d.Terminals[last] = d.Terminals[last], d.Terminals[0]
		d.AS, d.AD, d.PS, d.PD = d.AD, d.AS, d.PD, d.PS
	}
}

// deviceKey is all that is written of a device, to as many digits.
func deviceKey(d *netlist.Device) string {
	return fmt.Sprintf("%s %d %d %q %v %.9g %.9g %.9g %.9g %.9g %.9g %.9g %.9g %.9g %.9g", d.Name, d.Kind, d.Fingers, d.Model, d.Terminals, d.W, d.L, d.AS, d.AD, d.PS,
		d.PD, d.Area, d.Perim, d.Ratio, d.Value)
}

// version returns a circuit that is the same as c and was made before, or c, under a name of its own.
func (g *grouper) version(c *netlist.Circuit) *netlist.Circuit {
	var key strings.Builder
	key.WriteString(c.Name)
	for i := range c.Nets {
		fmt.Fprintf(&key, " %q", c.Nets[i].Name)
	}
	fmt.Fprint(&key, c.Ports)
	for i := range c.Devices {
		key.WriteString("\n" + deviceKey(&c.Devices[i]))
	}
	if have := g.made[key.String()]; have != nil {
		return have
	}
	g.made[key.String()] = c
	g.named(c)
	return c
}

// named gives a circuit a name that no other has, and adds it to the design.
func (g *grouper) named(c *netlist.Circuit) {
	name := c.Name
	for k := 2; g.taken[strings.ToLower(c.Name)]; k++ {
		c.Name = fmt.Sprintf("%s_%d", name, k)
	}
	g.taken[strings.ToLower(c.Name)] = true
	g.out.Design.Circuits = append(g.out.Design.Circuits, c)
}

// rest fills in the whole: devices that are in no group, and the nets that it still has.
func (g *grouper) rest(top *netlist.Circuit) {
	number := filled(len(g.c.Nets))
	net := func(n netlist.Net) netlist.Net {
		if n == netlist.NoNet {
			return n
		}
		if number[n] < 0 {
			number[n] = int32(len(top.Nets))
			top.Nets = append(top.Nets, g.c.Nets[n])
		}
		return netlist.Net(number[n])
	}
	for _, p := range g.c.Ports {
		top.Ports = append(top.Ports, net(p))
	}
	for i, o := range g.owner {
		if o >= 0 {
			continue
		}
		d := g.c.Devices[i]
		for t := range d.Terminals {
			d.Terminals[t] = net(d.Terminals[t])
		}
		top.Devices = append(top.Devices, d)
		g.out.Left = append(g.out.Left, int32(i))
	}
	for i := range top.Instances {
		nets := slices.Clone(top.Instances[i].Nets)
		for k := range nets {
			nets[k] = net(nets[k])
		}
		top.Instances[i].Nets = nets
	}
}
