package logic

import (
	"context"
	"slices"
	"strconv"

	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// Find returns all static gates, clocked gates, latches, flip-flops and rings of inverters of a circuit, those in each other
// included. It ends early with the context's error.
func Find(ctx context.Context, g *parts.Graph) ([]Group, error) {
	w := newNetwork(g)
	m := newMaker(g)
	for n := range w.node {
		if n&0xfff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if w.node[n] {
			d := w.drive(int32(n))
			w.drivers[n] = d
			w.settle(int32(n), d)
		}
	}
	var all []Group
	for n, d := range w.drivers {
		if d == nil {
			continue
		}
		if d.static {
			all = append(all, m.make(w.gate(int32(n), d)))
		} else if s, ok := w.clocked(int32(n), d); ok {
			all = append(all, m.make(s))
		}
	}
	var cells []*cell
	for n := range w.drivers {
		if n&0xfff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if c := w.cell(int32(n)); c != nil {
			cells = append(cells, c)
			s := w.latch(c)
			m.settleOrder(&s)
			all = append(all, m.make(s))
		}
	}
	for _, f := range w.flipFlops(cells) {
		s := w.flipFlop(f)
		m.settleOrder(&s)
		all = append(all, m.make(s))
	}
	for _, r := range w.rings() {
		all = append(all, m.make(w.ring(r)))
	}
	for _, r := range w.setReset() {
		all = append(all, m.make(r))
	}
	return all, nil
}

// setReset finds two static gates of several inputs that each have the other's output among theirs.
func (w *network) setReset() []sketch {
	var all []sketch
	for n, d := range w.drivers {
		if d == nil || !d.static || len(d.inputs) < 2 {
			continue
		}
		for _, in := range d.inputs {
			e := w.drivers[in]
			if int(in) <= n || e == nil || !e.static || len(e.inputs) < 2 || !slices.Contains(e.inputs, int32(n)) {
				continue
			}
			f, h := w.formOf(int32(n), d), w.formOf(in, e)
			if f.name != h.name || f.name[:2] != "na" && f.name[:2] != "no" {
				continue
			}
			s := sketch{name: "sr_latch_" + f.name, title: "set-reset latch of two " + f.title, what: "keeps what was set or reset last",
				ports: map[int32]string{int32(n): "q", in: "qn"}, roles: map[int32]string{int32(n): library.Output, in: library.Output}}
			s.addRails(w.g, d)
			for _, x := range append(slices.Clone(f.inputs), h.inputs...) {
				if x != in && x != int32(n) && s.ports[x] == "" {
					s.ports[x], s.roles[x] = "s", library.Input
					s.order = append(s.order, x)
				}
			}
			s.order = append(s.order, int32(n), in)
			s.members = append(canonical(d, f), canonical(e, h)...)
			all = append(all, s)
		}
	}
	return all
}

func digits(n int) string { return strconv.Itoa(n) }
