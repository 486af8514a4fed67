package recognise

import (
	"context"
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/spice"
)

// find is Find with one worker, on a circuit that must be taken.
func find(t testing.TB, c *netlist.Circuit, opt Options) *Result {
	t.Helper()
	r, err := Find(context.Background(), c, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// read reads a circuit from SPICE lines.
func read(t testing.TB, lines string) *netlist.Circuit {
	t.Helper()
	d, err := spice.Read("test.sp", strings.NewReader("* test\n.subckt top\n"+lines+"\n.ends\n"), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return d.Circuit("top")
}

// readFlat reads one subcircuit of a file of the corpus.
func readFile(t testing.TB, path string) *netlist.Design {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := spice.Read(filepath.Base(path), f, spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func corpus(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("UNDERMETAL_CORPUS")
	if dir == "" {
		t.Skip("UNDERMETAL_CORPUS is not set")
	}
	return dir
}

// instance is a pattern as a circuit of its own, its supplies called VDD and VSS.
func instance(p *library.Pattern) *netlist.Circuit {
	c := *p.Circuit
	c.Nets = slices.Clone(c.Nets)
	c.Devices = slices.Clone(c.Devices)
	c.Ports = slices.Clone(c.Ports)
	for i, n := range c.Ports {
		switch p.Ports[i].Role {
		case library.Supply:
			c.Nets[n].Name = "VDD"
		case library.Ground:
			c.Nets[n].Name = "VSS"
		}
	}
	return &c
}

// mirrored is a circuit with n and p, supply and ground swapped.
func mirrored(c *netlist.Circuit) *netlist.Circuit {
	m := *c
	m.Nets, m.Devices = slices.Clone(c.Nets), slices.Clone(c.Devices)
	for i := range m.Nets {
		switch m.Nets[i].Name {
		case "VDD":
			m.Nets[i].Name = "VSS"
		case "VSS":
			m.Nets[i].Name = "VDD"
		}
	}
	for i := range m.Devices {
		d := &m.Devices[i]
		switch d.Kind {
		case netlist.NMOS:
			d.Kind, d.Model = netlist.PMOS, "pmos"
		case netlist.PMOS:
			d.Kind, d.Model = netlist.NMOS, "nmos"
		case netlist.Diode:
			d.Terminals[0], d.Terminals[1] = d.Terminals[1], d.Terminals[0]
		}
	}
	return &m
}

// shuffled is a circuit with devices and nets in another order, and drains for sources by chance.
func shuffled(c *netlist.Circuit, rnd *rand.Rand) *netlist.Circuit {
	s := *c
	s.Nets, s.Devices, s.Ports = make([]netlist.NetInfo, len(c.Nets)), slices.Clone(c.Devices), slices.Clone(c.Ports)
	to := rnd.Perm(len(c.Nets))
	for i := range c.Nets {
		s.Nets[to[i]] = c.Nets[i]
	}
	for i := range s.Ports {
		s.Ports[i] = netlist.Net(to[s.Ports[i]])
	}
	rnd.Shuffle(len(s.Devices), func(i, k int) { s.Devices[i], s.Devices[k] = s.Devices[k], s.Devices[i] })
	for i := range s.Devices {
		d := &s.Devices[i]
		for t, n := range d.Terminals {
			if n != netlist.NoNet {
				d.Terminals[t] = netlist.Net(to[n])
			}
		}
		if d.Kind.IsMOS() && rnd.Intn(2) == 0 {
			d.Terminals[netlist.Drain], d.Terminals[netlist.Source] = d.Terminals[netlist.Source], d.Terminals[netlist.Drain]
		}
	}
	return &s
}

// split is a circuit with every device in two to four fingers.
func split(c *netlist.Circuit, rnd *rand.Rand) *netlist.Circuit {
	s := *c
	s.Devices, s.Nets = nil, slices.Clone(c.Nets)
	for i := range c.Devices {
		d := c.Devices[i]
		n := 2 + rnd.Intn(3)
		for k := range n {
			e := d
			e.Name, e.W = fmt.Sprintf("%s_f%d", d.Name, k), d.W/float64(n)
			s.Devices = append(s.Devices, e)
		}
	}
	return &s
}

// splitStacks is a circuit with every device twice; what lies between two transistors of one kind in series is twice, too.
func splitStacks(c *netlist.Circuit) *netlist.Circuit {
	s := *c
	s.Devices, s.Nets = nil, slices.Clone(c.Nets)
	second := map[netlist.Net]netlist.Net{}
	for n := range c.Nets {
		var on []*netlist.Device
		for i := range c.Devices {
			d := &c.Devices[i]
			last := 2
			if d.Kind.IsMOS() {
				last = 3
			}
			for t, x := range d.Terminals[:last] {
				if x == netlist.Net(n) {
					on = append(on, d)
					if t == netlist.Gate || !d.Kind.IsMOS() {
						on = append(on, d, d) // no joint of two channels
					}
				}
			}
		}
		if len(on) == 2 && on[0] != on[1] && on[0].Kind == on[1].Kind && !slices.Contains(c.Ports, netlist.Net(n)) {
			second[netlist.Net(n)] = netlist.Net(len(s.Nets))
			s.Nets = append(s.Nets, netlist.NetInfo{})
		}
	}
	for i := range c.Devices {
		a := c.Devices[i]
		b := a
		a.Name, b.Name = a.Name+"_f0", b.Name+"_f1"
		for t, n := range b.Terminals {
			if to, ok := second[n]; ok {
				b.Terminals[t] = to
			}
		}
		s.Devices = append(s.Devices, a, b)
	}
	return &s
}

// within is a circuit amid random transistors. These touch its ports and nets of their own, none of its inner nets.
func within(p *library.Pattern, c *netlist.Circuit, others int, rnd *rand.Rand) *netlist.Circuit {
	b := *c
	b.Nets, b.Devices = slices.Clone(c.Nets), slices.Clone(c.Devices)
	free := slices.Clone(c.Ports)
	for i := range others {
		free = append(free, netlist.Net(len(b.Nets)))
		b.Nets = append(b.Nets, netlist.NetInfo{Name: fmt.Sprintf("x%d", i)})
	}
	rail := func(name string) netlist.Net {
		k := slices.IndexFunc(b.Nets, func(n netlist.NetInfo) bool { return n.Name == name })
		if k < 0 {
			k = len(b.Nets)
			b.Nets = append(b.Nets, netlist.NetInfo{Name: name})
		}
		return netlist.Net(k)
	}
	vdd, vss := rail("VDD"), rail("VSS")
	for i := range others {
		d := netlist.Device{Name: fmt.Sprintf("MX%d", i), Kind: netlist.NMOS, Model: "nmos", W: 1000, L: 1000}
		bulk := vss
		if rnd.Intn(2) == 0 {
			d.Kind, d.Model, bulk = netlist.PMOS, "pmos", vdd
		}
		pick := func() netlist.Net { return free[rnd.Intn(len(free))] }
		d.Terminals = [4]netlist.Net{pick(), pick(), pick(), bulk}
		b.Devices = append(b.Devices, d)
	}
	return &b
}

// laidOn returns the fits of a pattern, in the cover or not, whose members are all of the named devices and no others.
func laidOn(r *Result, c *netlist.Circuit, p *library.Pattern, names func(string) bool) []*Fit {
	want := 0
	for i := range c.Devices {
		if names(c.Devices[i].Name) {
			want++
		}
	}
	var all []*Fit
	for _, fits := range [][]Fit{r.Fits, r.Others} {
		for i := range fits {
			f := &fits[i]
			if f.Pattern.Name != p.Name {
				continue
			}
			have, ok := 0, true
			for _, m := range f.Members {
				for _, d := range append([]int32{m.Device}, m.Fingers...) {
					have++
					ok = ok && names(c.Devices[d].Name)
				}
			}
			if ok && have == want {
				all = append(all, f)
			}
		}
	}
	return all
}

// own reports whether a device of a pattern's instance is none of its context.
func own(p *library.Pattern) func(string) bool {
	return func(name string) bool {
		name, _, _ = strings.Cut(name, "_f")
		return !slices.Contains(p.Context, name) && p.Circuit != nil && slices.ContainsFunc(p.Circuit.Devices, func(d netlist.Device) bool { return d.Name == name })
	}
}
