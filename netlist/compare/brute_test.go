package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/netlist"
)

// The brute-force comparison of this file shares no code with the package: it merges parallel transistors by a text
// key, tries every assignment of elements, and judges nets and wells on the complete assignment, by the rules of doc.go.

type bruteElem struct {
	key   string // kind and model
	kind  netlist.Kind
	ends  []netlist.Net // interchangeable terminals
	fixed []netlist.Net // the others, in order
	wells []netlist.Net // bulks left aside
	parts []netlist.Device
}

func isBulk(k netlist.Kind, t int) bool {
	return t == 3 && (k == netlist.NMOS || k == netlist.PMOS || k == netlist.Bipolar)
}

// bruteSoft returns which nets only bulks touch.
func bruteBulkOnly(c *netlist.Circuit) map[netlist.Net]bool {
	only := map[netlist.Net]bool{}
	for _, d := range c.Devices {
		for t := range d.Kind.TerminalNames() {
			if isBulk(d.Kind, t) {
				if _, ok := only[d.Terminals[t]]; !ok {
					only[d.Terminals[t]] = true
				}
			} else {
				only[d.Terminals[t]] = false
			}
		}
	}
	return only
}

func bruteLoose(byName bool, cs ...*netlist.Circuit) map[string]bool {
	loose := map[string]bool{}
	for _, c := range cs {
		only := bruteBulkOnly(c)
		for _, d := range c.Devices {
			for t := range d.Kind.TerminalNames() {
				n := d.Terminals[t]
				if !byName && isBulk(d.Kind, t) && only[n] && c.Nets[n].Name == "" {
					loose[fmt.Sprint(d.Kind, d.Model)] = true
				}
			}
		}
	}
	return loose
}

func bruteElems(c *netlist.Circuit, loose map[string]bool) []bruteElem {
	var elems []bruteElem
	index := map[string]int{}
	for i, d := range c.Devices {
		e := bruteElem{key: fmt.Sprint(d.Kind, d.Model), kind: d.Kind, parts: []netlist.Device{d}}
		switch d.Kind {
		case netlist.NMOS, netlist.PMOS:
			e.ends = []netlist.Net{d.Terminals[0], d.Terminals[2]}
			e.fixed = []netlist.Net{d.Terminals[1]}
		case netlist.Resistor, netlist.Capacitor:
			e.ends = []netlist.Net{d.Terminals[0], d.Terminals[1]}
		case netlist.Diode:
			e.fixed = []netlist.Net{d.Terminals[0], d.Terminals[1]}
		case netlist.Bipolar:
			e.fixed = []netlist.Net{d.Terminals[0], d.Terminals[1], d.Terminals[2]}
		}
		if len(d.Kind.TerminalNames()) == 4 {
			if loose[e.key] {
				e.wells = []netlist.Net{d.Terminals[3]}
			} else {
				e.fixed = append(e.fixed, d.Terminals[3])
			}
		}
		slices.Sort(e.ends)
		text := fmt.Sprint(e.key, e.ends, e.fixed)
		if d.Kind == netlist.Resistor || d.Kind == netlist.Bipolar {
			text += fmt.Sprint("#", i)
		}
		if k, ok := index[text]; ok {
			elems[k].parts = append(elems[k].parts, d)
			if !slices.Contains(elems[k].wells, d.Terminals[3]) && loose[e.key] {
				elems[k].wells = append(elems[k].wells, d.Terminals[3])
			}
			continue
		}
		index[text] = len(elems)
		elems = append(elems, e)
	}
	return elems
}

// bruteSizes compares elements whose sizes are either equal or far apart.
func bruteSizes(x, y bruteElem) bool {
	switch x.kind {
	case netlist.NMOS, netlist.PMOS:
		byL := func(e bruteElem) map[float64][]float64 {
			m := map[float64][]float64{}
			for _, d := range e.parts {
				m[d.L] = append(m[d.L], d.W)
				slices.Sort(m[d.L])
			}
			return m
		}
		mx, my := byL(x), byL(y)
		if len(mx) != len(my) {
			return false
		}
		sum := func(v []float64) (s float64) {
			for _, w := range v {
				s += w
			}
			return s
		}
		for l, ws := range mx {
			if my[l] == nil || abs(sum(ws)-sum(my[l])) > 1.001 {
				return false
			}
			if len(ws) == len(my[l]) {
				for i := range ws {
					if abs(ws[i]-my[l][i]) > 1.001 {
						return false
					}
				}
			}
		}
		return true
	case netlist.Resistor, netlist.Capacitor:
		var sx, sy float64
		for _, d := range x.parts {
			sx += d.Value
		}
		for _, d := range y.parts {
			sy += d.Value
		}
		return abs(sx-sy) < 1e-3*sx
	case netlist.Diode:
		var sx, sy float64
		for _, d := range x.parts {
			sx += d.Area
		}
		for _, d := range y.parts {
			sy += d.Area
		}
		return abs(sx-sy) < 1e-3*sx
	}
	return true
}

func abs(x float64) float64 { return max(x, -x) }

// bruteSame reports whether a and b are the same.
func bruteSame(a, b *netlist.Circuit, byName bool) bool {
	loose := bruteLoose(byName, a, b)
	ea, eb := bruteElems(a, loose), bruteElems(b, loose)
	if len(ea) != len(eb) {
		return false
	}
	ab, ba := map[netlist.Net]netlist.Net{}, map[netlist.Net]netlist.Net{}
	of := make([]int, len(ea))
	used := make([]bool, len(eb))
	var try func(i int) bool
	try = func(i int) bool {
		if i == len(ea) {
			return bruteWells(a, b, ea, eb, of, ab)
		}
		for j := range eb {
			if used[j] || ea[i].key != eb[j].key || !bruteSizes(ea[i], eb[j]) {
				continue
			}
			turns := 1
			if len(ea[i].ends) == 2 {
				turns = 2
			}
			for turn := range turns {
				x := slices.Concat(ea[i].ends, ea[i].fixed)
				y := slices.Concat(eb[j].ends, eb[j].fixed)
				if turn == 1 {
					y[0], y[1] = y[1], y[0]
				}
				var set [][2]netlist.Net
				ok := true
				for k := range x {
					fa, oka := ab[x[k]]
					fb, okb := ba[y[k]]
					if oka && fa != y[k] || okb && fb != x[k] {
						ok = false
						break
					}
					if !oka {
						ab[x[k]], ba[y[k]] = y[k], x[k]
						set = append(set, [2]netlist.Net{x[k], y[k]})
					}
				}
				if ok {
					used[j], of[i] = true, j
					if try(i + 1) {
						return true
					}
					used[j] = false
				}
				for _, s := range set {
					delete(ab, s[0])
					delete(ba, s[1])
				}
			}
		}
		return false
	}
	return try(0)
}

// tiny returns a random circuit of few devices on few nets, so that symmetric and parallel ones are frequent.
func tiny(rng *rand.Rand, devices, nets int, kinds []netlist.Kind) *netlist.Circuit {
	c := &netlist.Circuit{}
	for n := range nets {
		info := netlist.NetInfo{}
		if rng.IntN(2) == 0 {
			info.Name = fmt.Sprintf("n%d", n)
		}
		c.Nets = append(c.Nets, info)
	}
	for i := range devices {
		d := netlist.Device{Name: fmt.Sprintf("X%d", i), Kind: kinds[rng.IntN(len(kinds))],
			Terminals: [4]netlist.Net{-1, -1, -1, -1}}
		for t := range d.Kind.TerminalNames() {
			d.Terminals[t] = netlist.Net(rng.IntN(nets))
		}
		switch d.Kind {
		case netlist.NMOS, netlist.PMOS:
			d.W, d.L = []float64{1000, 1000, 2000}[rng.IntN(3)], []float64{180, 180, 180, 350}[rng.IntN(4)]
			if rng.IntN(2) == 0 { // often a net of its own for bulks
				d.Terminals[3] = netlist.Net(nets - 1 - rng.IntN(2))
			}
		case netlist.Resistor, netlist.Capacitor:
			d.Value = []float64{1, 1, 2}[rng.IntN(3)]
		case netlist.Diode:
			d.Area = 1e6
		}
		c.Devices = append(c.Devices, d)
	}
	return c
}

// mutated returns c with one change.
func mutated(c *netlist.Circuit, rng *rand.Rand) *netlist.Circuit {
	s := clone(c)
	i := rng.IntN(len(s.Devices))
	d := &s.Devices[i]
	k := len(d.Kind.TerminalNames())
	switch rng.IntN(6) {
	case 0: // one terminal elsewhere
		d.Terminals[rng.IntN(k)] = netlist.Net(rng.IntN(len(s.Nets)))
	case 1: // two terminals swapped
		e := &s.Devices[rng.IntN(len(s.Devices))]
		t, u := rng.IntN(k), rng.IntN(len(e.Kind.TerminalNames()))
		d.Terminals[t], e.Terminals[u] = e.Terminals[u], d.Terminals[t]
	case 2:
		s.Devices = append(s.Devices, s.Devices[i])
	case 3:
		s.Devices = slices.Delete(s.Devices, i, i+1)
	case 4:
		d.W *= 1.05
		d.Value *= 1.05
		d.Area *= 1.05
	case 5:
		switch d.Kind {
		case netlist.NMOS:
			d.Kind = netlist.PMOS
		case netlist.PMOS:
			d.Kind = netlist.NMOS
		}
	}
	return s
}

// TestBruteForce compares thousands of pairs of tiny circuits with a complete search: shuffled copies, single changes
// (which may well give the same circuit), and unrelated ones.
func TestBruteForce(t *testing.T) {
	sets := [][]netlist.Kind{
		{netlist.NMOS},
		{netlist.NMOS, netlist.PMOS},
		{netlist.Resistor},
		{netlist.NMOS, netlist.PMOS, netlist.Resistor, netlist.Capacitor, netlist.Bipolar},
		{netlist.Resistor, netlist.Bipolar},
	}
	count := map[bool]int{}
	rng := rand.New(rand.NewPCG(1, 2))
	n := rounds(2000, 5000)
	for round := range n {
		kinds := sets[round%len(sets)]
		a := tiny(rng, 1+rng.IntN(6), 3+rng.IntN(4), kinds)
		var b *netlist.Circuit
		switch rng.IntN(4) {
		case 0:
			b = shuffled(a, rng, false)
		case 1, 2:
			b = shuffled(mutated(a, rng), rng, false)
		case 3:
			b = tiny(rng, len(a.Devices), len(a.Nets), kinds)
		}
		for _, byName := range []bool{false, true} {
			want := bruteSame(a, b, byName)
			got := compare(t, a, b, Options{BulkByName: byName})
			if got.Same != want {
				t.Fatalf("round %d, bulk by name %v: got %v, a complete search says %v\n%s\nA:\n%s\nB:\n%s", round, byName,
					got.Same, want, account2text(got), show(a), show(b))
			}
			if back := compare(t, b, a, Options{BulkByName: byName}); back.Same != want {
				t.Fatalf("round %d: A to B %v, B to A %v", round, want, back.Same)
			}
			if want && byName {
				checkMapping(t, a, b, got)
			}
			count[want]++
		}
	}
	if count[true] < 3*n/10 || count[false] < 3*n/10 {
		t.Errorf("%d pairs were the same, %d were not: that tells little", count[true], count[false])
	}
}
