package library

import (
	"slices"
	"strings"

	"undermetal/netlist"
)

// maxDevices is how many devices a pattern may have.
const maxDevices = 64

// check compares the circuit with the header, makes names equal in case, and refuses what could never be found.
func (p *Pattern) check(h header, text string) error {
	if err := p.checkPorts(h); err != nil {
		return err
	}
	if err := p.checkNames(h); err != nil {
		return err
	}
	return p.checkCircuit(func(name string) int { return lineOf(text, name) })
}

// checkPorts brings the ports into the circuit's order.
func (p *Pattern) checkPorts(h header) error {
	line := h["ports"].line
	var ordered []Port
	for _, n := range p.Circuit.Ports {
		name := p.Circuit.Nets[n].Name
		i := slices.IndexFunc(p.Ports, func(x Port) bool { return strings.EqualFold(x.Name, name) })
		if i < 0 {
			return wrong(line, "", "port %s of the subcircuit has no role", name)
		}
		ordered = append(ordered, Port{name, p.Ports[i].Role})
	}
	for i, x := range p.Ports {
		if !slices.ContainsFunc(ordered, func(o Port) bool { return strings.EqualFold(o.Name, x.Name) }) {
			return wrong(line, "", "%s is no port of the subcircuit", x.Name)
		}
		if slices.ContainsFunc(p.Ports[:i], func(o Port) bool { return strings.EqualFold(o.Name, x.Name) }) {
			return wrong(line, "", "port %s has two roles", x.Name)
		}
	}
	for i, n := range p.Circuit.Ports {
		if slices.Contains(p.Circuit.Ports[:i], n) {
			return wrong(line, "", "port %s is one net with another", ordered[i].Name)
		}
	}
	p.Ports = ordered
	for i, j := range p.Joins {
		for k, name := range j {
			at := slices.IndexFunc(p.Ports, func(x Port) bool { return strings.EqualFold(x.Name, name) })
			if at < 0 {
				return wrong(h["joins"].line, "", "%s, which may be joined, is no port", name)
			}
			p.Joins[i][k] = p.Ports[at].Name
		}
	}
	return nil
}

// checkNames looks up the devices that the header names.
func (p *Pattern) checkNames(h header) error {
	for _, l := range []struct {
		key   string
		names []string
	}{{"optional", p.Optional}, {"either", p.Either}, {"shared", p.Shared}, {"context", p.Context}} {
		for i, name := range l.names {
			d := p.device(name)
			if d < 0 {
				return wrong(h[l.key].line, "", "%q names %s, and there is no such device", l.key, name)
			}
			if l.key == "either" && !p.Circuit.Devices[d].Kind.IsMOS() {
				return wrong(h[l.key].line, "", "%s is no transistor, and has no polarity", name)
			}
			l.names[i] = p.Circuit.Devices[d].Name
		}
	}
	for _, name := range p.Context {
		if slices.Contains(p.Optional, name) {
			return wrong(h["context"].line, "", "%s cannot be context and optional", name)
		}
	}
	return nil
}

// lineOf returns the line of a device in the text of a netlist; 0: it is written in another way.
func lineOf(text, device string) int {
	for i, line := range strings.Split(text, "\n") {
		if words := strings.Fields(line); len(words) > 0 && strings.EqualFold(words[0], device) {
			return i + 1
		}
	}
	return 0
}

// checkCircuit refuses what recognition could not lay on anything. at is the line of a device or an instance.
func (p *Pattern) checkCircuit(at func(name string) int) error {
	c := p.Circuit
	if len(c.Instances) > 0 {
		return wrong(at(c.Instances[0].Name), "write its devices out", "instance %s: a pattern holds devices only", c.Instances[0].Name)
	}
	if len(c.Devices) == 0 || len(c.Devices) > maxDevices {
		return wrong(0, "", "has %d devices; a pattern has 1 to %d", len(c.Devices), maxDevices)
	}
	if !slices.ContainsFunc(c.Devices, func(d netlist.Device) bool {
		return !slices.Contains(p.Optional, d.Name) && !slices.Contains(p.Context, d.Name)
	}) {
		return wrong(0, "", "no device of it must be there")
	}
	for i := range c.Devices {
		d := &c.Devices[i]
		ns := channel(d)
		if ns[0] == ns[len(ns)-1] {
			remedy := ""
			if d.Kind.IsMOS() {
				remedy = "a transistor with its source on its drain is found as a capacitor: write it as one"
			}
			return wrong(at(d.Name), remedy, "device %s has both ends on one net", d.Name)
		}
		for _, n := range ns {
			if name := c.Nets[n].Name; (c.Nets[n].Global || name == "0") && !slices.Contains(c.Ports, n) {
				return wrong(at(d.Name), "make it a port, with its role: ground or supply", "device %s is on net %s, which is global but no port", d.Name, name)
			}
		}
		for k := range i {
			if e := &c.Devices[k]; e.Kind == d.Kind && sameNets(e, d) {
				return wrong(at(d.Name), "leave one of them out: parallel devices count as one", "devices %s and %s are parallel", e.Name, d.Name)
			}
		}
	}
	if a, b := p.apart(); a >= 0 {
		return wrong(at(c.Devices[b].Name), "make two patterns of it", "only supplies join %s and %s", c.Devices[a].Name, c.Devices[b].Name)
	}
	return nil
}

// channel returns the nets of a device without a transistor's bulk.
func channel(d *netlist.Device) []netlist.Net {
	n := len(d.Kind.TerminalNames())
	if n == 4 {
		n = 3
	}
	return d.Terminals[:n]
}

func sameNets(a, b *netlist.Device) bool {
	x, y := channel(a), channel(b)
	if slices.Equal(x, y) {
		return true
	}
	n := len(x) - 1
	switch a.Kind {
	case netlist.Diode, netlist.Bipolar, netlist.VoltageSource, netlist.CurrentSource:
		return false
	}
	return x[0] == y[n] && x[n] == y[0] && (n == 1 || x[1] == y[1])
}

// apart returns two devices that hang together by supplies only, optional ones left out; -1 if there are none.
func (p *Pattern) apart() (a, b int) {
	c := p.Circuit
	rail := make([]bool, len(c.Nets))
	for i, n := range c.Ports {
		rail[n] = p.Ports[i].Role == Supply || p.Ports[i].Role == Ground
	}
	counts := func(i int) bool { return !slices.Contains(p.Optional, c.Devices[i].Name) }
	first := slices.IndexFunc(c.Devices, func(d netlist.Device) bool { return !slices.Contains(p.Optional, d.Name) })
	reached := make([]bool, len(c.Devices))
	reached[first] = true
	for changed := true; changed; {
		changed = false
		for i := range c.Devices {
			for k := range c.Devices {
				if reached[i] && !reached[k] && counts(k) && meet(&c.Devices[i], &c.Devices[k], rail) {
					reached[k], changed = true, true
				}
			}
		}
	}
	for i := range reached {
		if !reached[i] && counts(i) {
			return first, i
		}
	}
	return -1, -1
}

func meet(a, b *netlist.Device, rail []bool) bool {
	for _, n := range channel(a) {
		if !rail[n] && slices.Contains(channel(b), n) {
			return true
		}
	}
	return false
}
