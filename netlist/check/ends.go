package check

import (
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// end is source or drain of a transistor, on some net.
type end struct {
	other int32      // the net of the other end
	at    geom.Point // where the transistor lies
}

// findEnds lists the sources and drains of all transistors by their nets.
func (h *healer) findEnds() {
	nets := make([]int32, len(h.devices.Circuit.Nets)) // as asked for; 0: not asked for
	for i, a := range h.devices.Asked {
		if n := h.devices.AskedNet(i); n != netlist.NoNet {
			nets[n] = int32(a.Net)
		}
	}
	h.ends = map[int32][]end{}
	for i := range h.devices.Circuit.Devices {
		d := &h.devices.Circuit.Devices[i]
		if !d.Kind.IsMOS() {
			continue
		}
		s, t := nets[d.Terminals[netlist.Source]], nets[d.Terminals[netlist.Drain]]
		if s != 0 && t != 0 && s != t {
			h.ends[s] = append(h.ends[s], end{t, d.At})
			h.ends[t] = append(h.ends[t], end{s, d.At})
		}
	}
}

// joinEnds gives the ends of two nets that have become one to that.
func (h *healer) joinEnds(root, x, y int32) {
	if x == y {
		return
	}
	a, b := h.ends[x], h.ends[y]
	if len(a) < len(b) {
		a, b = b, a
	}
	delete(h.ends, x)
	delete(h.ends, y)
	h.ends[root] = append(a, b...)
}

// shorts reports whether some transistor lies between two nets that do not bear the same label, and where the first one is.
func (h *healer) shorts(x, y int32) (at geom.Point, short bool) {
	if p, q := h.labels[x], h.labels[y]; x == y || len(p) > 0 && slices.Equal(p, q) {
		return at, false
	}
	list, other := h.ends[x], y
	if len(h.ends[y]) < len(list) {
		list, other = h.ends[y], x
	}
	for _, e := range list {
		if h.nets.find(e.other) == other && (!short || comparePoints(e.at, at) < 0) {
			at, short = e.at, true
		}
	}
	return at, short
}
