package recognise

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/parts"
)

// Of nets that are cut in two, hardly any fit is lost when they are joined again, and mostly one is won; of two nets that have nothing to do
// with each other it is the other way round. The table of weights of package question takes one in fifty for the share of gaps in whose
// middle chance makes a circuit of three devices or more; three standard deviations are allowed.
func TestGaps(t *testing.T) {
	const times, seeds = 60, 3
	won, lost := map[bool]int{}, map[bool]int{} // by whether the nets were one
	for seed := range int64(seeds) {
		c := grow(800, seed)
		whole := NewAround(c)
		rng := rand.New(rand.NewPCG(uint64(seed), 7))
		net := func(least int) netlist.Net {
			for {
				n := netlist.Net(rng.IntN(len(c.Nets)))
				if k := len(whole.on(n)); whole.rails[n] == parts.Signal && k >= least && k <= smallNet {
					return n
				}
			}
		}
		for range times {
			look := func(a *Around, sides []netlist.Net, one bool) {
				t.Helper()
				apart, err := a.Find(context.Background(), sides, Reading{}, 0)
				if err != nil {
					t.Fatal(err)
				}
				joined, err := a.Find(context.Background(), nil, Reading{Join: sides}, 0)
				if err != nil {
					t.Fatal(err)
				}
				weight := func(fits []*Fit) (w float64) {
					large := false
					for _, f := range fits {
						w += f.Weight
						large = large || len(f.Members) > 2 && slices.ContainsFunc(sides, func(n netlist.Net) bool { return slices.Contains(f.Ports, n) || slices.Contains(f.Inner, n) })
					}
					if !large {
						return 0
					}
					return w
				}
				switch j, a := weight(joined.NotIn(apart)), weight(apart.NotIn(joined)); {
				case j > a:
					won[one]++
				case a > j:
					lost[one]++
				}
			}
			x, y := net(1), net(1)
			if x != y {
				look(whole, []netlist.Net{x, y}, false)
			}
			x = net(2)
			look(NewAround(parted(c, x, rng)), []netlist.Net{x, netlist.Net(len(c.Nets))}, true)
		}
	}
	t.Logf("of nets cut in two joining wins %d and loses %d, of others %d and %d, of %d each", won[true], lost[true], won[false], lost[false], times*seeds)
	if most := times * seeds / 50; lost[true] > most+6 || won[false] > most+6 { // √(180·0.02·0.98) is 1.9
		t.Errorf("of nets cut in two joining loses %d, of others it wins %d", lost[true], won[false])
	}
	if won[true]*3 < times*seeds || lost[false]*3 < times*seeds {
		t.Errorf("of nets cut in two joining wins %d, of others it loses %d", won[true], lost[false])
	}
}

// parted is a circuit of which some pins of a net, one at least and not all, lie on a new one.
func parted(c *netlist.Circuit, net netlist.Net, rng *rand.Rand) *netlist.Circuit {
	d := *c
	d.Nets, d.Devices = append(slices.Clone(c.Nets), netlist.NetInfo{}), slices.Clone(c.Devices)
	var pins []*netlist.Net
	for i := range d.Devices {
		for t, n := range ends(&d.Devices[i]) {
			if n == net {
				pins = append(pins, &d.Devices[i].Terminals[t])
			}
		}
	}
	rng.Shuffle(len(pins), func(i, j int) { pins[i], pins[j] = pins[j], pins[i] })
	for _, p := range pins[:1+rng.IntN(len(pins)-1)] {
		*p = netlist.Net(len(c.Nets))
	}
	return &d
}
