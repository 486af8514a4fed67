package compare

import (
	"cmp"
	"slices"

	"undermetal/netlist"
)

// devices returns the counterpart of every device of A. Devices in parallel are paired in order of W; where B has fewer,
// the last one stands for the rest.
func (ac *account) devices() []int32 {
	a, b := ac.p.side[0], ac.p.side[1]
	of := make([]int32, len(a.c.Devices))
	for i := range of {
		of[i] = -1
	}
	for e := range int32(a.elements()) {
		v := ac.m[ac.g.elems[0]+e]
		if v < 0 {
			continue
		}
		for i, y := range ac.partners(e, ac.g.elem(v)) {
			xs, ys := a.byWidth(a.bundles(e)[i]), b.byWidth(y)
			for k, dev := range xs {
				of[dev] = ys[min(k, len(ys)-1)]
			}
		}
	}
	return of
}

// byWidth returns the devices of a bundle by L, then W.
func (s *side) byWidth(bundle int32) []int32 {
	devs := slices.Clone(s.devices(bundle))
	slices.SortStableFunc(devs, func(x, y int32) int {
		d, e := &s.c.Devices[x], &s.c.Devices[y]
		return cmp.Or(cmp.Compare(d.L, e.L), cmp.Compare(d.W, e.W))
	})
	return devs
}

// partners returns, for every bundle of element x of A, its counterpart among those of element y of B: in a stack the
// one with the same gate.
func (ac *account) partners(x, y int32) []int32 {
	as, bs := ac.p.side[0].bundles(x), slices.Clone(ac.p.side[1].bundles(y))
	if len(as) == 1 {
		return bs
	}
	gate := func(side int, b int32) netlist.Net {
		return ac.p.side[side].c.Devices[ac.p.side[side].bundleFirst(b)].Terminals[netlist.Gate]
	}
	for i, a := range as {
		for j := i; j < len(bs); j++ {
			if ac.mapped(gate(0, a), gate(1, bs[j])) {
				bs[i], bs[j] = bs[j], bs[i]
				break
			}
		}
	}
	return bs
}

// nets returns the counterpart of every net of A.
func (ac *account) nets() []netlist.Net {
	of := make([]netlist.Net, len(ac.p.side[0].c.Nets))
	for n := range of {
		of[n] = netlist.NoNet
		if v := ac.g.vertex[0][n]; v >= 0 && ac.m[v] >= 0 {
			of[n] = ac.g.netOf(ac.m[v])
		}
	}
	for n, other := range ac.wells.first[0] {
		if of[n] == netlist.NoNet && ac.g.vertex[0][n] < 0 {
			of[n] = other
		}
	}
	return of
}

// mapped reports whether the graph has nets a and b, and the matching maps one to the other.
func (ac *account) mapped(a, b netlist.Net) bool {
	v := ac.g.vertex[0][a]
	return v >= 0 && ac.m[v] >= 0 && ac.m[v] == ac.g.vertex[1][b]
}
