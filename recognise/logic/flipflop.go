package logic

import (
	"slices"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// flipFlop is two cells of which the second takes in what the first keeps, at opposite levels of one clock.
type flipFlop struct{ first, second *cell }

// flipFlops pairs cells. Each second one has one first; a first one may serve several.
func (w *network) flipFlops(cells []*cell) []flipFlop {
	at := map[int32]*cell{} // by state, and by the nodes of its loop
	for _, c := range cells {
		at[c.state] = c
		for _, n := range c.loop {
			at[n] = c
		}
	}
	var all []flipFlop
	for _, c := range cells {
		for _, d := range c.data {
			if m := at[d]; m != nil && m != c && m.clock == c.clock && m.level != c.level {
				all = append(all, flipFlop{m, c})
				break
			}
		}
	}
	return all
}

// suffix tells what a cell can do beside keeping: clear, preset.
func (w *network) suffix(cells ...*cell) (name, title string) {
	clear, preset := false, false
	inverse := false // whether the cell's data are the inverse of the first one's
	for i, c := range cells {
		if i > 0 {
			inverse = !cells[0].levelOf(w, c.data)
		}
		for _, f := range c.forced {
			if f.set != inverse {
				preset = true
			} else {
				clear = true
			}
		}
	}
	switch {
	case clear && preset:
		return "_clear_preset", " with clear and preset"
	case clear:
		return "_clear", " with clear"
	case preset:
		return "_preset", " with preset"
	}
	return "", ""
}

// latch sketches a cell by itself.
func (w *network) latch(c *cell) sketch {
	s := sketch{name: "latch_low", title: "D latch, open while its clock is low", what: "takes in its data at one level of the clock, and keeps it at the other"}
	if c.level {
		s.name, s.title = "latch_high", "D latch, open while its clock is high"
	}
	n, t := w.suffix(c)
	s.name, s.title = s.name+n, s.title+t
	s.members = slices.Clone(c.parts)
	w.storagePorts(&s, c)
	return s
}

// flipFlop sketches two cells, with the inverters of the clock that nobody else uses.
func (w *network) flipFlop(f flipFlop) sketch {
	s := sketch{name: "flip_flop_fall", title: "D flip-flop, falling edge", what: "takes in its data at an edge of the clock"}
	if f.second.level {
		s.name, s.title = "flip_flop_rise", "D flip-flop, rising edge"
	}
	if f.first.mux {
		s.name, s.title = s.name+"_scan", s.title+", with a multiplexer before its data (scan)"
	}
	n, t := w.suffix(f.first, f.second)
	s.name, s.title = s.name+n, s.title+t
	s.members = slices.Clone(f.first.parts)
	for _, q := range f.second.parts {
		if !slices.Contains(s.members, q) {
			s.members = append(s.members, q)
		}
	}
	w.ownInverters(&s, f.first.clock)
	w.storagePorts(&s, f.first, f.second)
	return s
}

// ownInverters adds the inverters between the clock and the members that drive nothing else.
func (w *network) ownInverters(s *sketch, clock int32) {
	for changed := true; changed; {
		changed = false
		for i := 0; i < len(s.members); i++ {
			gate := w.g.Parts[s.members[i]].Nets[parts.Gate]
			if w.g.Rails[gate] != parts.Signal || w.invOf[gate] < 0 || gate == clock {
				continue
			}
			if r, _ := w.root(gate); r != clock || slices.Contains(s.members, w.drivers[gate].parts[0]) || !w.onlyFor(gate, s.members) {
				continue
			}
			s.members = append(s.members, w.drivers[gate].parts...)
			changed = true
		}
	}
}

// onlyFor reports whether all gates on a net are of members, or of inverters of its clock that only they use.
func (w *network) onlyFor(net int32, members []int32) bool {
	if w.g.Degree(net) > maxFan {
		return false
	}
	for _, pin := range w.g.On(net) {
		if pin.Terminal() == parts.Gate && w.g.Parts[pin.Part()].Kind.IsMOS() && !slices.Contains(members, pin.Part()) {
			return false
		}
	}
	return true
}

// storagePorts names the nets that matter.
func (w *network) storagePorts(s *sketch, cells ...*cell) {
	s.ports, s.roles = map[int32]string{}, map[int32]string{}
	name := func(n int32, port, role string) {
		if s.ports[n] == "" {
			s.ports[n], s.roles[n] = port, role
		}
	}
	for _, q := range s.members {
		gate := w.g.Parts[q].Nets[parts.Gate]
		if r, inverse := w.root(gate); r == cells[0].clock {
			if inverse {
				name(gate, "clkn", library.Clock)
			} else {
				name(gate, "clk", library.Clock)
			}
		}
	}
	last := cells[len(cells)-1]
	for _, c := range cells {
		for _, f := range c.forced {
			if f.set {
				name(f.net, "preset", library.Reset)
			} else {
				name(f.net, "clear", library.Reset)
			}
		}
	}
	name(last.state, "q", library.Output)
	for _, n := range last.loop {
		name(n, "q_loop", library.Output)
	}
	for _, n := range cells[0].data {
		name(n, "d", library.Input)
	}
}

// ring sketches inverters in a circle. outs are their outputs in order.
func (w *network) ring(outs []int32) sketch {
	s := sketch{ports: map[int32]string{}, roles: map[int32]string{}}
	switch n := len(outs); {
	case n == 2:
		s.name, s.title, s.what = "cross_coupled_inverters", "two cross-coupled inverters", "keeps one bit"
	case n%2 == 1:
		s.name, s.title, s.what = "ring_oscillator_"+digits(n), "ring oscillator of "+digits(n)+" inverters", "oscillates"
	default:
		s.name, s.title, s.what = "inverter_ring_"+digits(n), "ring of "+digits(n)+" inverters", "keeps one bit"
	}
	for i, o := range outs {
		s.ports[o], s.roles[o] = "q"+digits(i+1), library.Output
		if i == 0 {
			s.addRails(w.g, w.drivers[o])
		}
		s.order = append(s.order, o)
		f := w.formOf(o, w.drivers[o])
		s.members = append(s.members, canonical(w.drivers[o], f)...)
	}
	return s
}

// rings finds circles of inverters: each node has one inverter that drives it at most, so that following them back ends or
// comes round.
func (w *network) rings() [][]int32 {
	const far = 4096
	var all [][]int32
	stamp := make([]int32, len(w.invOf)) // the walk that came by
	for n := range w.invOf {
		if w.invOf[n] < 0 || stamp[n] != 0 {
			continue
		}
		walk := int32(n + 1)
		at := int32(n)
		for at >= 0 && stamp[at] == 0 {
			stamp[at] = walk
			at = w.invOf[at]
		}
		if at < 0 || stamp[at] != walk {
			continue
		}
		ring := []int32{at}
		for k := w.invOf[at]; k != at && len(ring) < far; k = w.invOf[k] {
			ring = append(ring, k)
		}
		slices.Reverse(ring)
		least := 0
		for i := range ring {
			if ring[i] < ring[least] {
				least = i
			}
		}
		all = append(all, append(slices.Clone(ring[least:]), ring[:least]...))
	}
	return all
}
