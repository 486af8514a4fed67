package compare

import (
	"encoding/json"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"undermetal/netlist"
)

// published is testdata/graphs.json: graphs and netlists with the numbers of their automorphisms, and the pairs of graphs
// that colour refinement cannot tell apart. The file names the source of its numbers.
type published struct {
	Graphs map[string]struct {
		N             int
		Automorphisms int // 0: not listed
		Edges         edges
	}
	Alike    [][2]string `json:"indistinguishable_by_colour_refinement_but_not_isomorphic"`
	Netlists map[string]struct {
		Automorphisms int
		Devices       [][5]string // name, type, drain, gate, source
	}
}

func readPublished(t testing.TB) (p published) {
	text, err := os.ReadFile("testdata/graphs.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &p); err != nil {
		t.Fatal(err)
	}
	if len(p.Graphs) != 12 || len(p.Alike) != 3 || len(p.Netlists) != 12 {
		t.Fatalf("%d graphs, %d pairs, %d netlists; the file has 12, 3 and 12", len(p.Graphs), len(p.Alike), len(p.Netlists))
	}
	return p
}

// netlist returns a netlist of the file, without bulks.
func (p published) netlist(name string) *netlist.Circuit {
	b, nets := newBuilder(), map[string]netlist.Net{}
	net := func(name string) netlist.Net {
		if _, ok := nets[name]; !ok {
			nets[name] = b.net("%s", name)
		}
		return nets[name]
	}
	for _, d := range p.Netlists[name].Devices {
		kind := map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS}[d[1]]
		b.mos(kind, net(d[2]), net(d[3]), net(d[4]), netlist.NoNet, 1000, 180)
	}
	return b.c
}

// railsOf returns the nets named vdd and vss.
func railsOf(c *netlist.Circuit) (rails []netlist.Net) {
	for _, name := range []string{"vdd", "vss"} {
		for n := range c.Nets {
			if c.Nets[n].Name == name {
				rails = append(rails, netlist.Net(n))
			}
		}
	}
	return rails
}

// marked returns c with a capacitor from each of nets to a common net: 1 F on the first, 2 F on the next and so on.
func marked(c *netlist.Circuit, nets []netlist.Net) *netlist.Circuit {
	s := clone(c)
	common := netlist.Net(len(s.Nets))
	s.Nets = append(s.Nets, netlist.NetInfo{})
	for i, n := range nets {
		s.Devices = append(s.Devices, netlist.Device{Kind: netlist.Capacitor, Value: float64(i + 1),
			Terminals: [4]netlist.Net{n, common, netlist.NoNet, netlist.NoNet}})
	}
	return s
}

// automorphisms counts the maps of c to itself that keep the nets fixed, by comparing alone: net by net, how many nets
// it can be mapped to while those before it stay; the product is the number (orbits and stabilisers; no two devices may
// lie in parallel).
func automorphisms(t *testing.T, c *netlist.Circuit, fixed []netlist.Net) int {
	count := 1
	keep := fixed
	for v := range c.Nets {
		if slices.Contains(keep, netlist.Net(v)) {
			continue
		}
		orbit := 0
		a := marked(c, append(keep[:len(keep):len(keep)], netlist.Net(v)))
		for w := range c.Nets {
			if !slices.Contains(keep, netlist.Net(w)) && compare(t, a, marked(c, append(keep[:len(keep):len(keep)], netlist.Net(w))), Options{}).Same {
				orbit++
			}
		}
		count *= orbit
		keep = append(keep[:len(keep):len(keep)], netlist.Net(v))
	}
	return count
}

// TestAutomorphisms counts the symmetries of graphs and netlists with a known number of them: each comparison must come
// out right for the product to do so.
func TestAutomorphisms(t *testing.T) {
	p := readPublished(t)
	for name, g := range p.Graphs {
		if g.Automorphisms == 0 {
			continue
		}
		c := anonymous(bare(g.Edges))
		if got := automorphisms(t, c, nil); got != g.Automorphisms || len(c.Nets) != g.N {
			t.Errorf("%s: %d automorphisms on %d vertices, want %d on %d", name, got, len(c.Nets), g.Automorphisms, g.N)
		}
	}
	for name, n := range p.Netlists {
		c := p.netlist(name)
		if got := automorphisms(t, anonymous(c), railsOf(c)); got != n.Automorphisms {
			t.Errorf("%s: %d automorphisms, want %d", name, got, n.Automorphisms)
		}
	}
}

// bare makes every vertex a net and every edge a resistor, nothing else.
func bare(g edges) *netlist.Circuit {
	c := resistors(g)
	for i := range c.Devices {
		for t := range 2 {
			c.Devices[i].Terminals[t]-- // the common net is the first, and unused
		}
	}
	c.Nets = c.Nets[1:]
	return c
}

// TestPublishedNetlists: each netlist is the same as itself, shuffled and without names, and as no other; ring6 and
// two_ring3, one ring of six inverters and two of three, are the pair that colour refinement cannot tell apart.
func TestPublishedNetlists(t *testing.T) {
	p := readPublished(t)
	rng := rand.New(rand.NewPCG(8, 9))
	names := slices.Sorted(maps.Keys(p.Netlists))
	for _, x := range names {
		for _, y := range names {
			a, b := p.netlist(x), anonymous(shuffled(p.netlist(y), rng, false))
			if r := compare(t, a, b, Options{}); r.Same != (x == y) {
				t.Errorf("%s and %s: same is %v", x, y, r.Same)
			}
		}
	}
}
