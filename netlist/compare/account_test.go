package compare

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"testing"

	"undermetal/netlist"
)

// logic returns a random circuit of static gates, with some loads, of about n transistors.
func logic(rng *rand.Rand, n int) *netlist.Circuit {
	b := newBuilder()
	r := rails{b.net("vdd"), b.net("vss")}
	var nets []netlist.Net
	for i := range 3 + n/20 {
		nets = append(nets, b.net("in%d", i))
	}
	pick := func() netlist.Net { return nets[max(0, len(nets)-1-rng.IntN(min(len(nets), 30)))] }
	for len(b.c.Devices) < n {
		out := b.net("y%d", len(b.c.Nets))
		switch rng.IntN(5) {
		case 0:
			b.inverter(r, pick(), out)
		case 1:
			b.nand(r, out, pick(), pick())
		case 2:
			b.nand(r, out, pick(), pick(), pick())
		case 3: // pass gate with its inverter
			on, off := pick(), b.net("off%d", len(b.c.Nets))
			b.inverter(r, on, off)
			in := pick()
			b.mos(netlist.NMOS, in, on, out, r.vss, 600, 180)
			b.mos(netlist.PMOS, in, off, out, r.vdd, 1200, 180)
		case 4: // AOI21
			m, k := b.net("m%d", len(b.c.Nets)), b.net("k%d", len(b.c.Nets))
			x, y, z := pick(), pick(), pick()
			b.mos(netlist.PMOS, m, x, r.vdd, r.vdd, 1200, 180)
			b.mos(netlist.PMOS, m, y, r.vdd, r.vdd, 1200, 180)
			b.mos(netlist.PMOS, out, z, m, r.vdd, 1200, 180)
			b.mos(netlist.NMOS, out, x, k, r.vss, 900, 180)
			b.mos(netlist.NMOS, k, y, r.vss, r.vss, 900, 180)
			b.mos(netlist.NMOS, out, z, r.vss, r.vss, 600, 180)
		}
		nets = append(nets, out)
	}
	return b.c
}

// soup returns a random circuit without any plan.
func soup(rng *rand.Rand, n int) *netlist.Circuit {
	b := newBuilder()
	r := rails{b.net("vdd"), b.net("vss")}
	for i := range n {
		b.net("x%d", i)
	}
	for range n {
		pick := func() netlist.Net {
			if rng.IntN(6) == 0 {
				return netlist.Net(rng.IntN(2))
			}
			return netlist.Net(rng.IntN(len(b.c.Nets)))
		}
		if rng.IntN(2) == 0 {
			b.mos(netlist.NMOS, pick(), pick(), pick(), r.vss, float64(200*(1+rng.IntN(5))), 180)
		} else {
			b.mos(netlist.PMOS, pick(), pick(), pick(), r.vdd, float64(200*(1+rng.IntN(5))), 180)
		}
	}
	return b.c
}

// change makes one change to c and returns what it was and the names of which one must be in the account.
func change(c *netlist.Circuit, rng *rand.Rand) (s *netlist.Circuit, what string, names []string) {
	s = clone(c)
	i := rng.IntN(len(s.Devices))
	d := &s.Devices[i]
	name := func(n netlist.Net) string {
		if n == netlist.NoNet {
			return ""
		}
		return s.Nets[n].Name
	}
	names = []string{d.Name}
	switch rng.IntN(6) {
	case 0:
		e := &s.Devices[rng.IntN(len(s.Devices))]
		d.Terminals[netlist.Gate], e.Terminals[netlist.Gate] = e.Terminals[netlist.Gate], d.Terminals[netlist.Gate]
		return s, "gates swapped", append(names, e.Name)
	case 1:
		t := rng.IntN(4)
		was := d.Terminals[t]
		d.Terminals[t] = netlist.Net(rng.IntN(len(s.Nets)))
		return s, fmt.Sprintf("terminal %d moved", t), append(names, name(was), name(d.Terminals[t]))
	case 2: // where devices are alike, which one is missing shows only in the nets that lack it
		names = append(names, name(d.Terminals[netlist.Drain]), name(d.Terminals[netlist.Gate]), name(d.Terminals[netlist.Source]))
		s.Devices = slices.Delete(s.Devices, i, i+1)
		return s, "device removed", slices.DeleteFunc(names, func(n string) bool { return n == "" || n == "vdd" || n == "vss" })
	case 3:
		e := *d
		e.Name = "ADDED"
		e.Terminals[netlist.Gate] = netlist.Net(rng.IntN(len(s.Nets)))
		e.Terminals[netlist.Drain] = netlist.Net(rng.IntN(len(s.Nets)))
		s.Devices = append(s.Devices, e)
		return s, "device added", []string{"ADDED"}
	case 4:
		d.W *= 1.05
		return s, "W changed", names
	}
	if d.Kind == netlist.NMOS {
		d.Kind, d.Model = netlist.PMOS, "pfet"
	} else {
		d.Kind, d.Model = netlist.NMOS, "nfet"
	}
	return s, "polarity changed", names
}

// TestAccountNamesTheChange: of single changes to random circuits, nine of ten are named in the first three lines.
func TestAccountNamesTheChange(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	type tally struct{ named, of int }
	for _, tc := range []struct {
		name string
		make func() *netlist.Circuit
	}{
		{"logic, 20 devices", func() *netlist.Circuit { return logic(rng, 20) }},
		{"logic, 100 devices", func() *netlist.Circuit { return logic(rng, 100) }},
		{"logic, 600 devices", func() *netlist.Circuit { return logic(rng, 600) }},
		{"soup, 12 devices", func() *netlist.Circuit { return soup(rng, 12) }},
		{"soup, 50 devices", func() *netlist.Circuit { return soup(rng, 50) }},
		{"soup, 300 devices", func() *netlist.Circuit { return soup(rng, 300) }},
		{"memory with decoder", func() *netlist.Circuit { return memory(8, 6, true) }},
		{"memory without decoder", func() *netlist.Circuit { return memory(6, 7, false) }},
		{"ring", func() *netlist.Circuit { return ring(15) }},
		{"separate latches", func() *netlist.Circuit { return separate(12) }},
	} {
		for _, names := range []string{"kept", "other"} {
			sum, kinds := tally{}, map[string]*tally{}
			n := rounds(30, 60)
			for range n {
				a := tc.make()
				b, what, want := change(a, rng)
				was := b
				if names == "other" {
					b = renamed(b, rng)
					for i, n := range was.Nets {
						if slices.Contains(want, n.Name) {
							want = append(want, b.Nets[i].Name)
						}
					}
					for i, d := range was.Devices {
						if slices.Contains(want, d.Name) {
							want = append(want, b.Devices[i].Name)
						}
					}
				}
				r := compare(t, a, shuffled(b, rng, false), Options{BulkByName: rng.IntN(2) == 0})
				if r.Same {
					continue // the change made no difference; TestBruteForce sees to that
				}
				if kinds[what] == nil {
					kinds[what] = &tally{}
				}
				kinds[what].of++
				sum.of++
				if named(r, want) {
					kinds[what].named++
					sum.named++
				} else if testing.Verbose() {
					t.Logf("%s, %s, want one of %v:\n%.900s", tc.name, what, want, account2text(r))
				}
			}
			for what, k := range kinds {
				t.Logf("%s, names %s: %s: %d of %d", tc.name, names, what, k.named, k.of)
			}
			if 3*sum.of < 2*n || 10*sum.named < 9*sum.of {
				t.Errorf("%s, names %s: %d of %d changes are named in three lines", tc.name, names, sum.named, sum.of)
			}
		}
	}
}

// named reports whether the first three lines name one of want.
func named(r *Result, want []string) bool {
	for _, d := range r.Differences[:min(3, len(r.Differences))] {
		for _, w := range want {
			if regexp.MustCompile(`\b` + regexp.QuoteMeta(w) + `\b`).MatchString(d.Text) {
				return true
			}
		}
	}
	return false
}
