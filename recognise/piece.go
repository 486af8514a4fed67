package recognise

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// name fills in the pieces of a partial fit.
func (pl *placer) name(fit *Fit, c *candidate) {
	pl.addSupplies(c)
	switch e := c.plan.edit; e.kind {
	case without:
		for _, i := range e.parts {
			s := pl.expect(c, i)
			if q, t, on := pl.neighbour(c, i, s); q >= 0 {
				fit.Missing = append(fit.Missing, pl.joint(c, i, t, on, pl.f.ix.g.Devices(q)[0]))
			} else {
				fit.Missing = append(fit.Missing, pl.absent(c, i, s))
			}
		}
	case loose:
		own := c.parts[e.part]
		on := c.nets[len(c.nets)-1]
		fit.Missing = append(fit.Missing, pl.joint(c, e.part, e.terminal, on, pl.f.ix.g.Devices(own)[0]))
	}
	for _, q := range c.extra {
		fit.Extra = append(fit.Extra, pl.tooMany(c, q))
	}
}

// addSupplies gives ports for supplies that no part left is on the supply that most of the circuit is on.
func (pl *placer) addSupplies(c *candidate) {
	for i, n := range c.pattern.Circuit.Ports {
		if c.nets[n] >= 0 {
			continue
		}
		switch portClass(c.pattern.Ports[i].Role, c.mirror) {
		case supplyPort:
			c.nets[n] = pl.supply
		case groundPort:
			c.nets[n] = pl.ground
		}
	}
}

// mainRail is the rail of a kind with the most pins; -1: there is none.
func (f *finder) mainRail(kind parts.Rail) int32 {
	best := int32(-1)
	for n, r := range f.ix.g.Rails {
		if r == kind && (best < 0 || f.ix.g.Degree(int32(n)) > f.ix.g.Degree(best)) {
			best = int32(n)
		}
	}
	return best
}

// portsOf is where the ports of a candidate lie.
func portsOf(c *candidate) []netlist.Net {
	ports := make([]netlist.Net, len(c.pattern.Ports))
	for i, n := range c.pattern.Circuit.Ports {
		ports[i] = netlist.Net(c.nets[n])
	}
	return ports
}

// absent is a device that is not there.
func (pl *placer) absent(c *candidate, i int, s spot) Piece {
	d := &c.pattern.Circuit.Devices[c.plan.parts[i].device]
	p := Piece{Kind: "device", What: kindText(d.Kind, c.mirror), Role: d.Name, Device: -1, At: s.at, Looked: pl.looked(s.at)}
	var words []string
	for _, n := range d.Terminals[:terminals(d.Kind)] {
		p.Between = append(p.Between, netlist.Net(c.nets[n]))
		p.Names = append(p.Names, c.pattern.Circuit.Nets[n].Name)
		words = append(words, pl.netText(c, int(n)))
	}
	if d.Kind.IsMOS() {
		p.Text = fmt.Sprintf("%s between %s and %s, its gate on %s", p.What, words[0], words[2], words[1])
	} else {
		p.Text = fmt.Sprintf("%s between %s", p.What, strings.Join(words, " and "))
	}
	p.Text += pl.look(s.at)
	if !p.Looked {
		p.Text += ", where nobody has looked yet"
	}
	return p
}

// joint is a terminal that should be on another net: t of the pattern's part i, which lies on the net on.
func (pl *placer) joint(c *candidate, i, t int, on int32, device int32) Piece {
	d := &c.pattern.Circuit.Devices[c.plan.parts[i].device]
	want := d.Terminals[t]
	if c.mirror && d.Kind == netlist.Diode { // the plan has it turned round
		want = d.Terminals[1-t]
	}
	g := pl.f.ix.g
	at := g.Circuit.Devices[device].At
	p := Piece{Kind: "connection", What: "connection", Role: d.Name, Device: device, At: at, Looked: pl.looked(at),
		Between: []netlist.Net{netlist.Net(on), netlist.Net(c.nets[want])}, Names: []string{"", c.pattern.Circuit.Nets[want].Name}}
	p.Text = fmt.Sprintf("a connection between the %s of %s and %s", terminalText(d.Kind, t), d.Name, pl.netText(c, int(want))) + pl.look(at)
	return p
}

// tooMany is a part on an inner net.
func (pl *placer) tooMany(c *candidate, q int32) Piece {
	g := pl.f.ix.g
	device := g.Devices(q)[0]
	d := &g.Circuit.Devices[device]
	p := Piece{Kind: "device", What: kindText(d.Kind, false), Device: device, At: d.At, Looked: true}
	var words []string
	for _, n := range g.Parts[q].Nets {
		if n < 0 {
			continue
		}
		p.Between = append(p.Between, netlist.Net(n))
		name := ""
		if k := slices.Index(c.nets, n); k >= 0 && k < len(c.pattern.Circuit.Nets) {
			name = c.pattern.Circuit.Nets[k].Name
			if c.plan.nets[k].class == inner && !slices.Contains(words, name) {
				words = append(words, name)
			}
		}
		p.Names = append(p.Names, name)
	}
	p.Text = fmt.Sprintf("%s too many on %s", p.What, strings.Join(words, " and "))
	if pl.placed {
		p.Text += ", at " + micrometres(d.At.X, d.At.Y)
	}
	return p
}

// looked reports whether a place was traced.
func (pl *placer) looked(at geom.Point) bool { return pl.f.opt.Looked == nil || pl.f.opt.Looked(at) }

// look says where to look, where the circuit has places.
func (pl *placer) look(at geom.Point) string {
	if !pl.placed {
		return ""
	}
	return ": look near " + micrometres(at.X, at.Y)
}

// netText calls a net of the pattern: by its role and name, or by what it joins.
func (pl *placer) netText(c *candidate, n int) string {
	name := c.pattern.Circuit.Nets[n].Name
	text := name
	for i, p := range c.pattern.Circuit.Ports {
		if int(p) == n {
			switch r := c.pattern.Ports[i].Role; {
			case c.mirror && r == library.Supply: // the pattern's own name would say the opposite
				text = "ground"
			case c.mirror && r == library.Ground:
				text = "supply"
			case r != library.Any && r != "" && r != name:
				text = r + " " + name
			}
		}
	}
	if t := c.nets[n]; t >= 0 {
		if real := pl.f.ix.g.Circuit.Nets[t].Name; real != "" && !strings.EqualFold(real, name) {
			text += " (" + real + ")"
		}
	}
	for i, p := range c.parts { // of an inner net, what of the pattern is on it
		if p < 0 || i >= len(c.plan.parts) || c.plan.nets[n].port >= 0 {
			continue
		}
		d := &c.pattern.Circuit.Devices[c.plan.parts[i].device]
		for t, m := range d.Terminals[:terminals(d.Kind)] {
			if int(m) == n {
				return fmt.Sprintf("%s, the %s of %s", text, terminalText(d.Kind, t), d.Name)
			}
		}
	}
	return text
}

// terminals is how many terminals count: a bulk does not.
func terminals(k netlist.Kind) int {
	if k.IsMOS() {
		return 3
	}
	return min(len(k.TerminalNames()), 3)
}

func terminalText(k netlist.Kind, t int) string {
	if k.IsMOS() {
		return [...]string{"drain", "gate", "source"}[t]
	}
	switch name := k.TerminalNames()[t]; name {
	case "a":
		return "first end"
	case "b":
		return "second end"
	default:
		return name
	}
}

// kindText is a kind of device with its article.
func kindText(k netlist.Kind, mirror bool) string {
	if mirror {
		switch k {
		case netlist.NMOS:
			k = netlist.PMOS
		case netlist.PMOS:
			k = netlist.NMOS
		}
	}
	switch k {
	case netlist.NMOS:
		return "an n transistor"
	case netlist.PMOS:
		return "a p transistor"
	case netlist.MOS:
		return "a transistor"
	case netlist.Inductor:
		return "an inductor"
	}
	return "a " + k.String()
}

func micrometres(x, y int) string {
	return fmt.Sprintf("%.1f, %.1f µm", float64(x)/1000, float64(y)/1000)
}
