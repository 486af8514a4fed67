package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
)

// This file tells whether two small circuits are the same by trying all mappings. It knows transistors and diodes with
// every terminal on a named net, which is all that the published cells hold, and shares no code with netlist/compare.

// mostElements bounds the circuits that are searched completely.
const mostElements = 8

// element is transistors or diodes in parallel: one model, the same nets.
type element struct {
	model   string
	mos     bool
	nets    []netlist.Net       // source and drain, in order of number, gate, bulk; or anode, cathode
	devices []int               // in the circuit
	sizes   []channel           // of each device
	total   map[float64]float64 // W by L; of diodes the area under 0, the perimeter under 1
}

type channel struct {
	w, l    float64
	fingers int32
}

// elements joins what is in parallel.
func elements(c *netlist.Circuit) (elems []element) {
	index := map[string]int{}
	for i := range c.Devices {
		d := &c.Devices[i]
		e := element{model: fmt.Sprint(d.Kind, " ", strings.ToLower(d.Model)), mos: d.Kind.IsMOS(), total: map[float64]float64{}}
		switch t := d.Terminals; {
		case e.mos:
			e.nets = []netlist.Net{min(t[netlist.Drain], t[netlist.Source]), max(t[netlist.Drain], t[netlist.Source]),
				t[netlist.Gate], t[netlist.Bulk]}
		case d.Kind == netlist.Diode:
			e.nets = []netlist.Net{t[netlist.Anode], t[netlist.Cathode]}
		default:
			panic("a published cell with a " + d.Kind.String())
		}
		key := fmt.Sprint(e.model, e.nets)
		k, ok := index[key]
		if !ok {
			k = len(elems)
			index[key] = k
			elems = append(elems, e)
		}
		elems[k].add(i, d)
	}
	return elems
}

func (e *element) add(i int, d *netlist.Device) {
	e.devices = append(e.devices, i)
	if e.mos {
		e.sizes = append(e.sizes, channel{d.W, d.L, max(1, d.Fingers)})
		e.total[d.L] += d.W
	} else {
		e.total[0] += d.Area
		e.total[1] += d.Perim
	}
}

// sameSizes: as much W of each L; and where there are as many devices of that L with one finger each, one by one. The
// sizes of the corpus differ by 5 nm or not at all, its areas by more than 1e-3.
func sameSizes(x, y element) bool {
	if len(x.total) != len(y.total) {
		return false
	}
	for l, w := range x.total {
		if v, ok := y.total[l]; !ok || math.Abs(w-v) > 1e-3*max(1, w) && (!x.mos || math.Abs(w-v) > 1) {
			return false
		}
		a, okA := single(x, l)
		b, okB := single(y, l)
		if okA && okB && len(a) == len(b) && !slices.EqualFunc(a, b, func(p, q float64) bool { return math.Abs(p-q) <= 1 }) {
			return false
		}
	}
	return true
}

// single returns the W of the devices of length l, in order, if each has one finger.
func single(e element, l float64) (ws []float64, ok bool) {
	for _, s := range e.sizes {
		if s.l == l {
			if s.fingers > 1 {
				return nil, false
			}
			ws = append(ws, s.w)
		}
	}
	slices.Sort(ws)
	return ws, true
}

// isomorphic reports whether the elements can be mapped one to one so that nets are mapped one to one, too.
func isomorphic(a, b []element) bool {
	if len(a) != len(b) {
		return false
	}
	used := make([]bool, len(b))
	var place func(i int, ab, ba map[netlist.Net]netlist.Net) bool
	place = func(i int, ab, ba map[netlist.Net]netlist.Net) bool {
		if i == len(a) {
			return true
		}
		for j := range b {
			if used[j] || a[i].model != b[j].model || !sameSizes(a[i], b[j]) {
				continue
			}
			for _, nets := range b[j].turns() {
				ab2, ba2 := joined(ab, ba, a[i].nets, nets)
				if ab2 == nil {
					continue
				}
				used[j] = true
				if place(i+1, ab2, ba2) {
					return true
				}
				used[j] = false
			}
		}
		return false
	}
	return place(0, map[netlist.Net]netlist.Net{}, map[netlist.Net]netlist.Net{})
}

// turns returns the nets of an element, and with source and drain changed over.
func (e *element) turns() [][]netlist.Net {
	if !e.mos {
		return [][]netlist.Net{e.nets}
	}
	return [][]netlist.Net{e.nets, {e.nets[1], e.nets[0], e.nets[2], e.nets[3]}}
}

// joined returns both maps with xs and ys mapped to each other as well; nil if that is no mapping one to one.
func joined(ab, ba map[netlist.Net]netlist.Net, xs, ys []netlist.Net) (ab2, ba2 map[netlist.Net]netlist.Net) {
	ab2, ba2 = map[netlist.Net]netlist.Net{}, map[netlist.Net]netlist.Net{}
	for x, y := range ab {
		ab2[x], ba2[y] = y, x
	}
	for k, x := range xs {
		y, okX := ab2[x]
		z, okY := ba2[ys[k]]
		if okX && y != ys[k] || okY && z != x {
			return nil, nil
		}
		ab2[x], ba2[ys[k]] = ys[k], x
	}
	return ab2, ba2
}

// invariant is the same for isomorphic circuits: of each element, in order of text, its model, its total sizes, and how
// many terminals of which sort lie on its nets.
func invariant(elems []element) string {
	degrees := map[netlist.Net]map[string]int{}
	for _, e := range elems {
		for k, n := range e.nets {
			if degrees[n] == nil {
				degrees[n] = map[string]int{}
			}
			if e.mos && k == 1 {
				k = 0 // source and drain are of one sort
			}
			degrees[n][fmt.Sprint(e.model, k)]++
		}
	}
	net := map[netlist.Net]string{}
	for n, d := range degrees {
		net[n] = fmt.Sprint(d) // maps are printed in order of their keys
	}
	lines := make([]string, len(elems))
	for i, e := range elems {
		var on []string
		for _, n := range e.nets {
			on = append(on, net[n])
		}
		if e.mos {
			slices.Sort(on[:2])
		}
		var sizes []string
		for l, w := range e.total {
			sizes = append(sizes, fmt.Sprintf("%.1f:%.1f", l, w))
		}
		slices.Sort(sizes)
		lines[i] = fmt.Sprint(e.model, sizes, on)
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// TestIsomorphic: the search itself, on circuits whose answer is plain.
func TestIsomorphic(t *testing.T) {
	// names: nets 0 vss, 1 a, 2 b, 3 y, 4 middle, 5 vdd
	nand := func(inputs [4]netlist.Net) *netlist.Circuit {
		mos := func(k netlist.Kind, d, g, s, b netlist.Net) netlist.Device {
			return netlist.Device{Kind: k, Terminals: [4]netlist.Net{d, g, s, b}, W: 1000, L: 180}
		}
		return &netlist.Circuit{Nets: make([]netlist.NetInfo, 6), Devices: []netlist.Device{
			mos(netlist.PMOS, 3, inputs[0], 5, 5), mos(netlist.PMOS, 5, inputs[1], 3, 5),
			mos(netlist.NMOS, 3, inputs[2], 4, 0), mos(netlist.NMOS, 0, inputs[3], 4, 0)}}
	}
	split := nand([4]netlist.Net{1, 2, 1, 2})
	half := split.Devices[2]
	half.W, split.Devices[2].W = 400, 600
	half.Terminals[0], half.Terminals[2] = half.Terminals[2], half.Terminals[0]
	split.Devices = append(split.Devices, half)
	for _, tc := range []struct {
		name string
		c    *netlist.Circuit
		want bool
	}{
		{"itself", nand([4]netlist.Net{1, 2, 1, 2}), true},
		{"inputs exchanged in the stack alone: a and b change their names", nand([4]netlist.Net{1, 2, 2, 1}), true},
		{"one gate of the stack on the other input", nand([4]netlist.Net{1, 2, 1, 1}), false},
		{"a gate on the output", nand([4]netlist.Net{1, 2, 1, 3}), false},
		{"a transistor in two parallel parts, one turned", split, true},
	} {
		a, b := elements(nand([4]netlist.Net{1, 2, 1, 2})), elements(tc.c)
		if got := isomorphic(a, b); got != tc.want {
			t.Errorf("%s: isomorphic is %v", tc.name, got)
		}
		if tc.want != (invariant(a) == invariant(b)) { // in these; it may fail to tell others
			t.Errorf("%s: the invariant tells otherwise", tc.name)
		}
	}
}
