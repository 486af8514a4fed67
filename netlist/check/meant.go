package check

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// device is what of a device a bridge may not change: size and place of a transistor, and its nets. Diodes on one net count
// as one, since their bodies may become one.
type device struct {
	kind, model string
	w, l        int // pm: sums of areas and lengths differ in their last bits
	at          geom.Point
	nets        [4]deviceNet // source and drain in the order of nets
}

// deviceNet is a net as meant. Wells are no pieces; where none is tied to the net, that has a number of the circuit's own.
type deviceNet struct {
	own bool
	net int32
}

// devices lists the devices of a circuit in order. meant gives the net as meant for one as asked for.
func devices(r *extract.Result, meant func(net int) int32) (all []device) {
	nets := make([]deviceNet, len(r.Circuit.Nets))
	for i := range nets {
		nets[i] = deviceNet{true, int32(i)}
	}
	for i, a := range r.Asked {
		if n := r.AskedNet(i); n != netlist.NoNet {
			nets[n] = deviceNet{false, meant(a.Net)}
		}
	}
	pm := func(nm float64) int { return int(math.Round(nm * 1000)) }
	for i := range r.Circuit.Devices {
		d := &r.Circuit.Devices[i]
		v := device{kind: d.Kind.String(), model: d.Model, w: pm(d.W), l: pm(d.L)}
		for k := range d.Kind.TerminalNames() {
			v.nets[k] = nets[d.Terminals[k]]
		}
		if d.Kind.IsMOS() {
			v.at = d.At
			if s, t := &v.nets[netlist.Source], &v.nets[netlist.Drain]; compareNets(*s, *t) > 0 {
				*s, *t = *t, *s
			}
		}
		all = append(all, v)
	}
	slices.SortFunc(all, func(a, b device) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.model, b.model), cmp.Compare(a.w, b.w), cmp.Compare(a.l, b.l), comparePoints(a.at, b.at),
			slices.CompareFunc(a.nets[:], b.nets[:], compareNets))
	})
	return slices.CompactFunc(all, func(a, b device) bool { return a == b && a.kind == netlist.Diode.String() })
}

// compareNets puts nets of the circuit's own last, whose numbers say nothing.
func compareNets(a, b deviceNet) int {
	switch {
	case a.own && b.own:
		return 0
	case a.own == b.own:
		return cmp.Compare(a.net, b.net)
	case a.own:
		return 1
	}
	return -1
}

// sameDevices reports whether devices are alike in two circuits. What is a net of its own in one is one in the other.
func sameDevices(before, after []device) bool {
	is, was := map[deviceNet]deviceNet{}, map[deviceNet]deviceNet{}
	same := func(a, b deviceNet) bool {
		if !a.own || !b.own {
			return a == b
		}
		x, known := is[a]
		y, taken := was[b]
		is[a], was[b] = b, a
		return (!known || x == b) && (!taken || y == a)
	}
	return slices.EqualFunc(before, after, func(a, b device) bool {
		nets := slices.EqualFunc(a.nets[:], b.nets[:], same)
		a.nets = b.nets
		return nets && a == b
	})
}
