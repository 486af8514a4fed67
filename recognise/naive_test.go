package recognise

import (
	"fmt"
	"math/rand"
	"os"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// naive lays a pattern on a circuit by trying every device for every device, in the pattern's order, and checks the rules of the
// library's documentation at the end. It shares nothing with the matcher but the pattern's type, and is meant for a dozen devices.
type naive struct {
	p      *library.Pattern
	c      *netlist.Circuit
	mirror bool
	rail   map[netlist.Net]string // of the circuit: supply or ground
	device []int                  // of the circuit, by the pattern's devices; -1: optional and left out
	net    map[netlist.Net]netlist.Net
	sets   map[string]bool
}

// naiveSets returns the sets of devices that a pattern fits on, context left out, as sorted lists.
func naiveSets(p *library.Pattern, c *netlist.Circuit) map[string]bool {
	sets := map[string]bool{}
	for _, mirror := range []bool{false, true} {
		if mirror && !p.Mirror {
			break
		}
		n := &naive{p: p, c: c, mirror: mirror, rail: map[netlist.Net]string{}, net: map[netlist.Net]netlist.Net{}, sets: sets}
		for i := range c.Nets {
			switch c.Nets[i].Name {
			case "VDD":
				n.rail[netlist.Net(i)] = "supply"
			case "VSS":
				n.rail[netlist.Net(i)] = "ground"
			}
		}
		n.place(0)
	}
	return sets
}

func (n *naive) terminalsOf(k netlist.Kind) int {
	if k.IsMOS() {
		return 3
	}
	return 2
}

func (n *naive) place(i int) {
	if i == len(n.p.Circuit.Devices) {
		n.check()
		return
	}
	pd := &n.p.Circuit.Devices[i]
	if slices.Contains(n.p.Optional, pd.Name) {
		n.device = append(n.device, -1)
		n.place(i + 1)
		n.device = n.device[:i]
	}
	for k := range n.c.Devices {
		cd := &n.c.Devices[k]
		if slices.Contains(n.device, k) || !n.kindsMatch(pd, cd) {
			continue
		}
		ends := n.terminalsOf(pd.Kind)
		for turn := range 2 {
			if turn == 1 && pd.Kind == netlist.Diode {
				break
			}
			var mine []netlist.Net
			ok := true
			for t := range ends {
				u := t
				if (turn == 1 || n.mirror && pd.Kind == netlist.Diode) && (t == 0 || t == ends-1) {
					u = ends - 1 - t
				}
				a, b := pd.Terminals[t], cd.Terminals[u]
				if had, is := n.net[a]; is {
					ok = ok && had == b
				} else {
					n.net[a] = b
					mine = append(mine, a)
				}
			}
			if ok {
				n.device = append(n.device, k)
				n.place(i + 1)
				n.device = n.device[:i]
			}
			for _, a := range mine {
				delete(n.net, a)
			}
		}
	}
}

func (n *naive) kindsMatch(pd, cd *netlist.Device) bool {
	if !pd.Kind.IsMOS() || !cd.Kind.IsMOS() {
		return pd.Kind == cd.Kind
	}
	if slices.Contains(n.p.Either, pd.Name) {
		return true
	}
	return (pd.Kind == cd.Kind) != n.mirror
}

// check tests a complete assignment.
func (n *naive) check() {
	role := map[netlist.Net]string{}
	for i, net := range n.p.Circuit.Ports {
		role[net] = n.p.Ports[i].Role
	}
	name := func(net netlist.Net) string { return n.p.Circuit.Nets[net].Name }
	for a, x := range n.net {
		for b, y := range n.net {
			if a < b && x == y && !slices.Contains(n.p.Joins, [2]string{name(a), name(b)}) && !slices.Contains(n.p.Joins, [2]string{name(b), name(a)}) {
				return
			}
		}
		r, isPort := role[a]
		if n.mirror && (r == library.Supply || r == library.Ground) {
			r = map[string]string{library.Supply: library.Ground, library.Ground: library.Supply}[r]
		}
		switch {
		case !isPort:
			if n.rail[x] != "" || n.pins(x) != n.laidPins(a) {
				return
			}
		case r == library.Supply || r == library.Ground:
			if n.rail[x] != r {
				return
			}
		case r == library.Bias || r == library.Reference || r == library.Any:
		default:
			if n.rail[x] != "" {
				return
			}
		}
	}
	var set []int
	for i, k := range n.device {
		if k >= 0 && !slices.Contains(n.p.Context, n.p.Circuit.Devices[i].Name) {
			set = append(set, k)
		}
	}
	slices.Sort(set)
	n.sets[fmt.Sprint(set)] = true
}

// pins counts the terminals on a net of the circuit.
func (n *naive) pins(net netlist.Net) int {
	count := 0
	for i := range n.c.Devices {
		d := &n.c.Devices[i]
		for _, x := range d.Terminals[:n.terminalsOf(d.Kind)] {
			if x == net {
				count++
			}
		}
	}
	return count
}

// laidPins counts the terminals on a net of the pattern, of devices that have been laid.
func (n *naive) laidPins(net netlist.Net) int {
	count := 0
	for i := range n.p.Circuit.Devices {
		d := &n.p.Circuit.Devices[i]
		for _, x := range d.Terminals[:n.terminalsOf(d.Kind)] {
			if x == net && n.device[i] >= 0 {
				count++
			}
		}
	}
	return count
}

// plainOrder is a pattern whose series have the order that is written.
func plainOrder(p *library.Pattern) *library.Pattern {
	q := *p
	q.SeriesFree = false
	return &q
}

// foundSets returns the sets that the matcher finds, as naiveSets does.
func foundSets(t *testing.T, p *library.Pattern, c *netlist.Circuit) map[string]bool {
	t.Helper()
	ix := newIndex(parts.New(c, parts.Known{}))
	plans, err := plansOf(p)
	if err != nil {
		t.Fatal(err)
	}
	sets := map[string]bool{}
	for _, pl := range plans {
		b := newBag()
		if _, err := ix.run(t.Context(), pl, make([]bool, len(ix.g.Parts)), b.take); err != nil {
			t.Fatal(err)
		}
		for i := range b.all {
			var set []int
			for _, q := range ownParts(nil, pl, b.all[i].parts) {
				set = append(set, int(ix.g.Devices(q)[0]))
			}
			slices.Sort(set)
			sets[fmt.Sprint(set)] = true
		}
	}
	return sets
}

// simple reports whether no devices of a circuit count as one, and none has its ends on one net.
func simple(c *netlist.Circuit) bool {
	for i := range c.Devices {
		d := &c.Devices[i]
		if d.Terminals[0] == d.Terminals[2] && d.Kind.IsMOS() || d.Terminals[0] == d.Terminals[1] && !d.Kind.IsMOS() {
			return false
		}
	}
	return len(parts.New(c, parts.Known{}).Parts) == len(c.Devices)
}

// TestNearMisses moves each terminal of each pattern to each other net, and to a new one. Whether the result still is the pattern (most
// often it is not) says the naive search.
func TestNearMisses(t *testing.T) {
	lost, kept, most := 0, 0, 7
	if os.Getenv("UNDERMETAL_FULL") != "" {
		most = 11
	}
	for _, p := range library.Embedded() {
		p = plainOrder(p)
		base := instance(p)
		if len(base.Devices) > most {
			continue // the naive search takes too long
		}
		gone := 0
		for i := range base.Devices {
			d := &base.Devices[i]
			n := 2
			if d.Kind.IsMOS() {
				n = 3
			}
			for term := range n {
				for to := 0; to <= len(base.Nets); to++ {
					c := *base
					c.Nets = append(slices.Clone(base.Nets), netlist.NetInfo{Name: "new"})
					c.Devices = slices.Clone(base.Devices)
					if c.Devices[i].Terminals[term] == netlist.Net(to) {
						continue
					}
					c.Devices[i].Terminals[term] = netlist.Net(to)
					if !simple(&c) {
						continue
					}
					want, got := naiveSets(p, &c), foundSets(t, p, &c)
					if fmt.Sprint(sorted(want)) != fmt.Sprint(sorted(withoutSubsets(want, got))) {
						t.Errorf("%s with terminal %d of %s on net %s: found on %v, naively on %v", p.Name, term, d.Name, c.Nets[to].Name, sorted(got), sorted(want))
					}
					if len(got) == 0 {
						lost++
						gone++
					} else {
						kept++
					}
				}
			}
		}
		if gone == 0 {
			t.Errorf("%s: no near miss was refused", p.Name)
		}
	}
	t.Logf("%d near misses refused, %d are the pattern all the same", lost, kept)
	if lost < 5*kept {
		t.Errorf("only %d of %d near misses are refused", lost, lost+kept)
	}
}

// withoutSubsets adds to found those naive sets that only lack optional devices which the matcher lays wherever it can.
func withoutSubsets(want, got map[string]bool) map[string]bool {
	all := map[string]bool{}
	for g := range got {
		all[g] = true
	}
	for w := range want {
		for g := range got {
			if w != g && subset(w, g) {
				all[w] = true
			}
		}
	}
	return all
}

func subset(a, b string) bool {
	in := strings.Fields(strings.Trim(b, "[]"))
	for _, x := range strings.Fields(strings.Trim(a, "[]")) {
		if !slices.Contains(in, x) {
			return false
		}
	}
	return true
}

func sorted(m map[string]bool) []string {
	var all []string
	for k := range m {
		all = append(all, k)
	}
	slices.Sort(all)
	return all
}

// On small random circuits the matcher finds what the naive search finds.
func TestRandomCounts(t *testing.T) {
	rnd := rand.New(rand.NewSource(3))
	total := 0
	for round := range 400 {
		c := &netlist.Circuit{Name: "random"}
		for i := range 9 {
			c.Nets = append(c.Nets, netlist.NetInfo{Name: fmt.Sprintf("n%d", i)})
		}
		c.Nets[0].Name, c.Nets[1].Name = "VDD", "VSS"
		for i := range 12 {
			k, model := netlist.NMOS, "nmos"
			if rnd.Intn(3) == 0 {
				k, model = netlist.PMOS, "pmos"
			}
			pick := func() netlist.Net { return netlist.Net(rnd.Intn(len(c.Nets))) }
			drain, gate, source := pick(), pick(), pick()
			for source == drain {
				source = pick()
			}
			c.Devices = append(c.Devices, netlist.Device{Name: fmt.Sprintf("M%d", i), Kind: k, Model: model, Terminals: [4]netlist.Net{drain, gate, source, netlist.NoNet}})
		}
		if !simple(c) {
			continue
		}
		for _, p := range library.Embedded() {
			if len(p.Circuit.Devices) > 6 {
				continue
			}
			p = plainOrder(p)
			want, got := naiveSets(p, c), foundSets(t, p, c)
			total += len(want)
			if fmt.Sprint(sorted(want)) != fmt.Sprint(sorted(withoutSubsets(want, got))) {
				t.Errorf("circuit %d, %s: found on %v, naively on %v", round, p.Name, sorted(got), sorted(want))
			}
		}
	}
	t.Logf("%d placements", total)
	if total < 100 {
		t.Errorf("only %d placements in all", total)
	}
}
