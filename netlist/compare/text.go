package compare

import (
	"fmt"
	"strconv"
	"strings"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// maxNames bounds the names that a text lists.
const maxNames = 4

// elemName returns the names of the devices of an element, or what and where it is if they have none.
func (p *pair) elemName(side int, e int32) string {
	s := p.side[side]
	var devs []int32
	s.elemDevices(e, func(d int32) { devs = append(devs, d) })
	return p.joinNames(side, devs, "+")
}

// listNames returns the names of all devices of elements es.
func (p *pair) listNames(side int, es []int32) string {
	var devs []int32
	for _, e := range es {
		p.side[side].elemDevices(e, func(d int32) { devs = append(devs, d) })
	}
	return p.joinNames(side, devs, ", ")
}

func (p *pair) joinNames(side int, devs []int32, sep string) string {
	var b strings.Builder
	for i, d := range devs {
		if i == maxNames && len(devs) > maxNames+1 {
			fmt.Fprintf(&b, " and %d more", len(devs)-i)
			break
		}
		if i > 0 {
			b.WriteString(sep)
		}
		b.WriteString(p.deviceName(side, d))
	}
	return b.String()
}

func (p *pair) deviceName(side int, dev int32) string {
	s := p.side[side]
	if name := s.c.Devices[dev].Name; name != "" {
		return name
	}
	return "device " + strconv.Itoa(int(dev))
}

// label names an element with model and place: "M3 (nfet_05v0) at 14.200, 88.000 µm".
func (ac *account) label(side int, e int32) string {
	s := ac.p.side[side]
	text := ac.p.elemName(side, e)
	b := ac.p.bases[ac.p.classes[s.elemClass[e]].base]
	if b.shown != "" {
		text += " (" + b.shown + ")"
	} else {
		text += " (" + b.kind.String() + ")"
	}
	return text + atPlace(ac.p.elemAt(side, e))
}

func atPlace(at *geom.Point) string {
	if at == nil {
		return ""
	}
	return fmt.Sprintf(" at %.3f, %.3f µm", float64(at.X)/1000, float64(at.Y)/1000)
}

// elemAt returns the place of the first device of an element, nil if it has none.
func (p *pair) elemAt(side int, e int32) *geom.Point {
	s := p.side[side]
	return p.deviceAt(side, s.bundleFirst(s.bundles(e)[0]))
}

func (p *pair) deviceAt(side int, dev int32) *geom.Point {
	if at := p.side[side].c.Devices[dev].At; at != (geom.Point{}) {
		return &at
	}
	return nil
}

// netLabel names a net, with its place if it has no name.
func (p *pair) netLabel(s *side, n netlist.Net) string {
	if name := s.c.Nets[n].Name; name != "" {
		return name
	}
	return p.netName(s, n) + atPlace(p.netPlace(s, n))
}

func (p *pair) netName(s *side, n netlist.Net) string {
	if name := s.c.Nets[n].Name; name != "" {
		return name
	}
	return "net " + strconv.Itoa(int(n))
}

func (p *pair) netPlace(s *side, n netlist.Net) *geom.Point {
	if at := s.c.Nets[n].At; at != (geom.Point{}) {
		return &at
	}
	return nil
}

func (p *pair) netAt(side int, n netlist.Net) *geom.Point { return p.netPlace(p.side[side], n) }

// terminalName returns the name of terminal t of element e of A.
func (p *pair) terminalName(e int32, t int) string {
	return fullName(p.base(p.side[0], e).kind, t)
}

// roleName returns the name of the terminals of that role of element e of A.
func (p *pair) roleName(e int32, r uint8) string {
	k := p.base(p.side[0], e).kind
	switch {
	case r == roleSD && k.IsMOS():
		return "source or drain"
	case r == roleSD && interchangeable(k):
		return "end"
	}
	for t := range k.TerminalNames() {
		if role(k, t) == r {
			return fullName(k, t)
		}
	}
	return "terminal"
}

// fullName returns the name of terminal t of a device of kind k, for texts.
func fullName(k netlist.Kind, t int) string {
	short := k.TerminalNames()[t]
	var long map[string]string
	switch {
	case k.IsMOS(), k == netlist.JFET:
		long = map[string]string{"d": "drain", "g": "gate", "s": "source", "b": "bulk"}
	case k == netlist.Bipolar:
		long = map[string]string{"c": "collector", "b": "base", "e": "emitter", "s": "substrate"}
	}
	if name, ok := long[short]; ok {
		return name
	}
	return short
}

// wiring lists the terminals of an element with their nets, and what these are called in the other circuit if that is
// something else.
func (ac *account) wiring(side int, e int32) string {
	s := ac.p.side[side]
	return ac.terminalsOf(side, s.bundleFirst(s.bundles(e)[0]))
}

// terminalsOf is wiring for a device.
func (ac *account) terminalsOf(side int, dev int32) string {
	s, other := ac.p.side[side], ac.p.side[1-side]
	d := &s.c.Devices[dev]
	var parts []string
	for t := range d.Kind.TerminalNames() {
		n := d.Terminals[t]
		if n == netlist.NoNet {
			continue
		}
		part := fullName(d.Kind, t) + " on " + ac.p.netLabel(s, n)
		if v := ac.g.vertex[side][n]; v >= 0 && ac.m[v] >= 0 {
			if there := ac.p.netLabel(other, ac.g.netOf(ac.m[v])); there != ac.p.netLabel(s, n) {
				part += " (" + there + " in " + other.letter + ")"
			}
		}
		parts = append(parts, part)
	}
	return strings.Join(parts, ", ")
}

// plural returns the number of devices of elements es, with the model: "3 nfet_05v0", "1 diode without model".
func (p *pair) plural(side int, b *base, es []int32) string {
	n := 0
	for _, e := range es {
		p.side[side].elemDevices(e, func(int32) { n++ })
	}
	return fmt.Sprintf("%d %s", n, b)
}
