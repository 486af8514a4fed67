package compare

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// rounds returns few, or many where the environment variable UNDERMETAL_FULL is set.
func rounds(few, many int) int {
	if os.Getenv("UNDERMETAL_FULL") != "" {
		return many
	}
	return few
}

// circuit builds a circuit from lines: name, kind, nets, sizes. Kinds: n, p and m (transistors: d g s b, W L fingers), d
// (diode: anode cathode, area perimeter), r, c, l (a b, value), q (bipolar: c b e s); n:nfet gives a model. A net whose
// name begins with _ is unnamed, - is no net.
func circuit(t testing.TB, text string) *netlist.Circuit {
	t.Helper()
	c := &netlist.Circuit{Name: "test"}
	nets := map[string]netlist.Net{"-": netlist.NoNet}
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		d := netlist.Device{Name: f[0], Terminals: [4]netlist.Net{-1, -1, -1, -1}, Value: math.NaN()}
		letter, model, _ := strings.Cut(f[1], ":")
		d.Kind = map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS, "m": netlist.MOS, "d": netlist.Diode,
			"r": netlist.Resistor, "c": netlist.Capacitor, "l": netlist.Inductor, "q": netlist.Bipolar}[letter]
		if d.Model = model; model == "" {
			d.Model = map[string]string{"n": "nfet", "p": "pfet"}[letter]
		}
		k := len(d.Kind.TerminalNames())
		for i, name := range f[2 : 2+k] {
			if _, ok := nets[name]; !ok {
				nets[name] = netlist.Net(len(c.Nets))
				c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
				if strings.HasPrefix(name, "_") {
					c.Nets[nets[name]].Name = ""
				}
			}
			d.Terminals[i] = nets[name]
		}
		size := [3]float64{}
		for i, s := range f[2+k:] {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			size[i] = x
		}
		switch {
		case d.Kind.IsMOS():
			d.W, d.L, d.Fingers = size[0], size[1], int32(size[2])
		case d.Kind == netlist.Diode:
			d.Area, d.Perim = size[0], size[1]
		case len(f) > 2+k:
			d.Value = size[0]
		}
		c.Devices = append(c.Devices, d)
	}
	return c
}

func compare(t testing.TB, a, b *netlist.Circuit, opt Options) *Result {
	t.Helper()
	r, err := Compare(context.Background(), a, b, opt)
	if err != nil {
		t.Fatalf("%v\nA:\n%s\nB:\n%s", err, show(a), show(b))
	}
	return r
}

// same requires that A and B are the same, with a mapping that holds.
func same(t testing.TB, a, b *netlist.Circuit, opt Options) *Result {
	t.Helper()
	r := compare(t, a, b, opt)
	if !r.Same {
		t.Fatalf("not the same:\n%s\nA:\n%s\nB:\n%s", account2text(r), show(a), show(b))
	}
	if len(r.Differences) != 0 || r.Matched != len(a.Devices) {
		t.Fatalf("same, but %d differences and %d of %d devices matched", len(r.Differences), r.Matched, len(a.Devices))
	}
	return r
}

func differ(t testing.TB, a, b *netlist.Circuit, opt Options) *Result {
	t.Helper()
	r := compare(t, a, b, opt)
	if r.Same || len(r.Differences) == 0 {
		t.Fatalf("taken for the same\nA:\n%s\nB:\n%s", show(a), show(b))
	}
	return r
}

func account2text(r *Result) string {
	var b strings.Builder
	for _, d := range r.Differences {
		fmt.Fprintf(&b, "%s: %s\n", d.Kind, d.Text)
	}
	return b.String()
}

func show(c *netlist.Circuit) string {
	var b strings.Builder
	for i, d := range c.Devices {
		if i == 40 {
			b.WriteString("...\n")
			break
		}
		fmt.Fprintf(&b, "%s %v:%s", d.Name, d.Kind, d.Model)
		for _, n := range d.Terminals[:len(d.Kind.TerminalNames())] {
			if n >= 0 && c.Nets[n].Name != "" {
				fmt.Fprintf(&b, " %s", c.Nets[n].Name)
			} else {
				fmt.Fprintf(&b, " _%d", n)
			}
		}
		fmt.Fprintf(&b, " W%v L%v F%d A%v P%v V%v\n", d.W, d.L, d.Fingers, d.Area, d.Perim, d.Value)
	}
	return b.String()
}

// shuffled returns c with devices and nets in another order, source and drain swapped at random, and, if fingers is
// set, transistors split in parallel parts.
func shuffled(c *netlist.Circuit, rng *rand.Rand, fingers bool) *netlist.Circuit {
	s := &netlist.Circuit{Name: c.Name, Nets: make([]netlist.NetInfo, len(c.Nets))}
	perm := rng.Perm(len(c.Nets))
	for i, n := range perm {
		s.Nets[n] = c.Nets[i]
	}
	for _, p := range c.Ports {
		s.Ports = append(s.Ports, netlist.Net(perm[p]))
	}
	for _, i := range rng.Perm(len(c.Devices)) {
		d := c.Devices[i]
		for t, n := range d.Terminals {
			if n >= 0 {
				d.Terminals[t] = netlist.Net(perm[n])
			}
		}
		swap := func(x, y int) {
			if rng.IntN(2) == 0 {
				d.Terminals[x], d.Terminals[y] = d.Terminals[y], d.Terminals[x]
			}
		}
		switch {
		case d.Kind.IsMOS():
			swap(netlist.Drain, netlist.Source)
		case interchangeable(d.Kind):
			swap(0, 1)
		}
		if fingers && d.Kind.IsMOS() && rng.IntN(3) == 0 {
			half := d
			half.W, half.Name, half.At = d.W/2, d.Name+"_b", d.At.Add(geom.Point{X: 100})
			d.W = d.W / 2
			s.Devices = append(s.Devices, half)
		}
		s.Devices = append(s.Devices, d)
	}
	return s
}

// anonymous returns c without names of nets and devices.
func anonymous(c *netlist.Circuit) *netlist.Circuit {
	s := clone(c)
	for i := range s.Nets {
		s.Nets[i].Name = ""
	}
	for i := range s.Devices {
		s.Devices[i].Name = ""
	}
	return s
}

// renamed returns c with names that have nothing to do with the former ones.
func renamed(c *netlist.Circuit, rng *rand.Rand) *netlist.Circuit {
	s := clone(c)
	for i, n := range rng.Perm(len(s.Nets)) {
		if s.Nets[i].Name != "" {
			s.Nets[i].Name = fmt.Sprintf("x%d", n)
		}
	}
	for i, n := range rng.Perm(len(s.Devices)) {
		s.Devices[i].Name = fmt.Sprintf("Y%d", n)
	}
	return s
}

func clone(c *netlist.Circuit) *netlist.Circuit {
	s := *c
	s.Nets, s.Devices, s.Ports = slices.Clone(c.Nets), slices.Clone(c.Devices), slices.Clone(c.Ports)
	return &s
}

// checkMapping checks a result that says same on its own: every device of A without parallel ones has the nets of its
// counterpart. Loose bulks are left to the tests of wells.
func checkMapping(t testing.TB, a, b *netlist.Circuit, r *Result) {
	t.Helper()
	used := map[netlist.Net]netlist.Net{}
	for i := range a.Devices {
		d := &a.Devices[i]
		if r.Devices[i] < 0 {
			t.Fatalf("device %d has no counterpart", i)
		}
		e := &b.Devices[r.Devices[i]]
		to := func(t int) netlist.Net { return r.Nets[d.Terminals[t]] }
		ok := true
		switch {
		case d.Kind.IsMOS():
			x, y := to(netlist.Drain), to(netlist.Source)
			ok = to(netlist.Gate) == e.Terminals[netlist.Gate] && (x == e.Terminals[0] && y == e.Terminals[2] ||
				y == e.Terminals[0] && x == e.Terminals[2])
		case interchangeable(d.Kind):
			x, y := to(0), to(1)
			ok = x == e.Terminals[0] && y == e.Terminals[1] || y == e.Terminals[0] && x == e.Terminals[1]
		case d.Kind != netlist.Diode:
			for t := range d.Kind.TerminalNames() {
				ok = ok && to(t) == e.Terminals[t]
			}
		}
		if !ok || d.Kind != e.Kind {
			t.Fatalf("device %d %+v is not mapped to %+v", i, d, e)
		}
	}
	for n, m := range r.Nets {
		if m != netlist.NoNet && a.Nets[n].Name != "" {
			if other, ok := used[m]; ok && a.Nets[other].Name != "" {
				t.Fatalf("nets %d and %d are both mapped to %d", other, n, m)
			}
			used[m] = netlist.Net(n)
		}
	}
}
