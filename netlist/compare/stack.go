package compare

import (
	"cmp"
	"slices"

	"undermetal/netlist"
)

// stack joins transistors in series to one element each, whose gates have no order.
//
// Two bundles of transistors are in series if they share a net that is no port and that nothing else touches, if they
// have the same model and bulk, and if W and L agree. A ring of such bundles has no ends and is left alone, and so is a
// chain along which W or L drift by more than the tolerance: its ends may not change places.
func (p *pair) stack(s *side) {
	inner := s.innerNets(p)
	of := make([]int32, s.elements()) // element of each bundle
	for i := range of {
		of[i] = -1
	}
	s.inner = make([]bool, len(s.c.Nets))
	var along []int32 // bundles, stack after stack
	starts := []int32{0}
	add := func(bundles []int32) {
		for _, b := range bundles {
			of[b] = int32(len(starts) - 1)
		}
		along = append(along, bundles...)
		starts = append(starts, int32(len(along)))
	}
	for b := range int32(len(of)) {
		if of[b] >= 0 {
			continue
		}
		chain, nets, closed := s.chain(b, inner)
		if closed || !p.alike(s, chain) {
			for i := range chain {
				add(chain[i : i+1])
			}
			continue
		}
		for _, n := range nets {
			s.inner[n] = true
		}
		add(chain)
	}
	s.elemStart, s.elemBundles = starts, along
}

// innerNets returns for every net the two bundles in series that meet there, or {-1, -1}.
func (s *side) innerNets(p *pair) [][2]int32 {
	touched := make([]int32, len(s.c.Nets))
	at := make([][2]int32, len(s.c.Nets))
	for n := range at {
		at[n] = [2]int32{-1, -1}
	}
	for b := range int32(s.elements()) {
		d := &s.c.Devices[s.bundleFirst(b)]
		for t := range d.Kind.TerminalNames() {
			n := d.Terminals[t]
			if n == netlist.NoNet {
				continue
			}
			if k := touched[n]; k < 2 && d.Kind.IsMOS() && role(d.Kind, t) == roleSD {
				at[n][k] = b
			}
			touched[n]++
		}
		for _, dev := range s.devices(b)[1:] { // of the others only loose terminals may be elsewhere
			for t, n := range s.c.Devices[dev].Terminals {
				if n != netlist.NoNet && n != d.Terminals[t] && p.bases[s.devBase[dev]].loose&(1<<t) != 0 {
					touched[n]++
				}
			}
		}
	}
	for _, n := range s.c.Ports {
		if n >= 0 && int(n) < len(touched) {
			touched[n] += 3
		}
	}
	for n := range at {
		if touched[n] != 2 || !p.inSeries(s, at[n][0], at[n][1]) {
			at[n] = [2]int32{-1, -1}
		}
	}
	return at
}

// inSeries reports whether two bundles that meet at a net of their own may change places.
func (p *pair) inSeries(s *side, x, y int32) bool {
	if x < 0 || y < 0 || x == y {
		return false
	}
	kx, ky := p.bundleKey(s, s.bundleFirst(x)), p.bundleKey(s, s.bundleFirst(y))
	if kx.base != ky.base || kx.net[netlist.Bulk] != ky.net[netlist.Bulk] ||
		kx.net[netlist.Gate] == netlist.NoNet || ky.net[netlist.Gate] == netlist.NoNet {
		return false
	}
	for _, k := range []bundleKey{kx, ky} {
		if k.net[netlist.Drain] == netlist.NoNet || k.net[netlist.Source] == netlist.NoNet {
			return false
		}
	}
	return p.alikeBundles(s, x, y)
}

// alike reports whether the sizes of any two of those bundles agree: whether those of extreme L and of extreme W do.
func (p *pair) alike(s *side, bundles []int32) bool {
	last := len(bundles) - 1
	for _, r := range bothReadings {
		byL := s.bySize(bundles, r)
		byW := slices.SortedFunc(slices.Values(bundles), func(x, y int32) int {
			return cmp.Compare(s.sum(s.devices(x), r.width), s.sum(s.devices(y), r.width))
		})
		if !p.alikeBundles(s, byL[0], byL[last]) || !p.alikeBundles(s, byW[0], byW[last]) {
			return false
		}
	}
	return true
}

// alikeBundles reports whether the sizes of two bundles of one circuit agree in both readings.
func (p *pair) alikeBundles(s *side, x, y int32) bool {
	return p.agreeBundlesIn(simple, s, x, s, y) && p.agreeBundlesIn(effective, s, x, s, y)
}

// chain follows inner nets from bundle b to both ends. It returns the bundles in order and the nets between them;
// closed says that they form a ring.
func (s *side) chain(b int32, inner [][2]int32) (bundles []int32, nets []netlist.Net, closed bool) {
	d := &s.c.Devices[s.bundleFirst(b)]
	bundles = []int32{b}
	if !d.Kind.IsMOS() {
		return bundles, nil, false
	}
	for _, n := range []netlist.Net{d.Terminals[netlist.Drain], d.Terminals[netlist.Source]} {
		for x := b; n != netlist.NoNet && inner[n][0] >= 0; {
			y := inner[n][0] + inner[n][1] - x
			if y == b {
				return bundles, nil, true
			}
			bundles, nets = append(bundles, y), append(nets, n)
			e := &s.c.Devices[s.bundleFirst(y)]
			n, x = e.Terminals[netlist.Drain]+e.Terminals[netlist.Source]-n, y
		}
		// what was found so far leads away from one end: turn it around, so that the other end can be appended
		slices.Reverse(bundles)
		slices.Reverse(nets)
	}
	return bundles, nets, false
}
