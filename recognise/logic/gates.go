package logic

import (
	"slices"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// gate sketches the static gate that drives a node.
func (w *network) gate(net int32, d *driver) sketch {
	f := w.formOf(net, d)
	s := sketch{name: f.name, title: f.title, what: f.what, ports: map[int32]string{net: "y"}, roles: map[int32]string{net: library.Output}}
	s.addRails(w.g, d)
	for i, in := range f.inputs {
		s.ports[in], s.roles[in] = inputName(i), library.Input
		s.order = append(s.order, in)
	}
	s.order = append(s.order, net)
	s.members = canonical(d, f)
	return s
}

// addRails puts the rails that paths end on first among the ports.
func (s *sketch) addRails(g *parts.Graph, d *driver) {
	for _, ps := range [][]path{d.up, d.down} {
		for _, p := range ps {
			if !slices.Contains(s.order, p.to) {
				s.order = append(s.order, p.to)
			}
		}
	}
}

// canonical orders the transistors of a gate, so that gates of one form make one pattern: those of the pull-down as their tree
// has them, then those of the pull-up by their inputs.
func canonical(d *driver, f form) []int32 {
	var members []int32
	for _, t := range []*tree{f.net, f.pull} {
		if t == nil {
			continue
		}
		var leaves []*tree
		t.leaves(func(gate int32) int { return slices.Index(f.inputs, gate) }, func(l *tree) { leaves = append(leaves, l) })
		if t == f.pull && f.net != nil {
			slices.SortStableFunc(leaves, func(a, b *tree) int {
				return slices.Index(f.inputs, a.gate) - slices.Index(f.inputs, b.gate)
			})
		}
		for _, l := range leaves {
			members = append(members, l.part)
		}
	}
	for _, q := range d.parts {
		if !slices.Contains(members, q) {
			members = append(members, q)
		}
	}
	return members
}

// clocked sketches a driver that pulls up or down only while one of its inputs has a level, and then is a gate of the others.
// Inputs that are inverses of each other count as one. ok is false for every other driver.
func (w *network) clocked(net int32, d *driver) (s sketch, ok bool) {
	if d.odd || d.static || len(d.down) == 0 || len(d.up) == 0 || len(d.inputs) > maxInputs || slices.Contains(d.inputs, net) {
		return s, false
	}
	var roots []int32
	at := make([]int, len(d.inputs))
	inverse := make([]bool, len(d.inputs))
	for i, in := range d.inputs {
		if w.g.Rails[in] != parts.Signal {
			return s, false
		}
		r, inv := w.root(in)
		if !slices.Contains(roots, r) {
			roots = append(roots, r)
		}
		at[i], inverse[i] = slices.Index(roots, r), inv
	}
	n := len(roots)
	value := func(i int) func(int32) bool {
		return func(in int32) bool {
			k := slices.Index(d.inputs, in)
			return (i>>at[k]&1 == 1) != inverse[k]
		}
	}
	down := tableOf(n, func(i int) bool { return w.conducts(d.down, value(i)) })
	up := tableOf(n, func(i int) bool { return w.conducts(d.up, value(i)) })
	for e := range n {
		for _, level := range []bool{true, false} {
			if w.enabledBy(down, up, e, level) {
				return w.clockedSketch(net, d, roots, at, e, n), true
			}
		}
	}
	return s, false
}

// enabledBy reports whether the driver pulls just while input e has a level.
func (w *network) enabledBy(down, up table, e int, level bool) bool {
	for i := range 1 << down.n {
		on := i>>e&1 == 1 == level
		if down.at(i) && up.at(i) || on != (down.at(i) || up.at(i)) {
			return false
		}
	}
	_, constant := down.with(e, level).constant()
	return !constant
}

func (w *network) clockedSketch(net int32, d *driver, roots []int32, at []int, e, n int) sketch {
	s := sketch{name: "tristate_inverter", title: "tristate (clocked) inverter", what: "inverts while it is enabled, else leaves its output alone",
		ports: map[int32]string{net: "y"}, roles: map[int32]string{net: library.Output}}
	if n > 2 {
		s.name, s.title, s.what = "tristate_gate", "tristate (clocked) gate", "a gate while it is enabled, else it leaves its output alone"
	}
	s.addRails(w.g, d)
	var data, enable []int32
	for i, in := range d.inputs {
		if at[i] == e {
			enable = append(enable, in)
			s.ports[in], s.roles[in] = "en", library.Clock
		} else {
			data = append(data, in)
			s.ports[in], s.roles[in] = inputName(len(data)-1), library.Input
		}
	}
	s.order = append(append(append(s.order, data...), enable...), net)
	s.members = canonical(d, form{net: w.networkTree(net, d.down), pull: w.networkTree(net, d.up), inputs: append(data, enable...)})
	return s
}
