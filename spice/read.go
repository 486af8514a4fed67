package spice

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"undermetal/netlist"
)

// ReadOptions are what a caller may choose.
type ReadOptions struct {
	// Shorts are the models of two-terminal resistors that are no more than a second name for a net; nil: lvsres.
	Shorts []string
	// Polarity tells what a transistor of a model is for which the file has no .model card; nil: PolarityByName.
	Polarity func(model string) netlist.Kind
}

// PolarityByName tells an n from a p transistor by what its model is usually called (common practice).
func PolarityByName(model string) netlist.Kind {
	m := strings.ToLower(model)
	switch {
	case strings.Contains(m, "nmos") || strings.Contains(m, "nfet") || strings.Contains(m, "nch"):
		return netlist.NMOS
	case strings.Contains(m, "pmos") || strings.Contains(m, "pfet") || strings.Contains(m, "pch"):
		return netlist.PMOS
	}
	return netlist.MOS
}

// Read reads a netlist. name stands in messages, and elements outside any subcircuit become a circuit of its name. The
// circuits of the design come in an order in which each follows those that it uses.
//
// The first line is a title, unless it is a comment or a card.
func Read(name string, r io.Reader, opt ReadOptions) (*netlist.Design, error) {
	if opt.Shorts == nil {
		opt.Shorts = []string{"lvsres"}
	}
	if opt.Polarity == nil {
		opt.Polarity = PolarityByName
	}
	base := strings.TrimSuffix(filepath.Base(name), filepath.Ext(name))
	rd := &reader{file: name, opt: opt, models: map[string]netlist.Kind{}, byName: map[string]*body{}}
	rd.top = rd.newBody(base, 0)
	rd.current = rd.top
	first := true
	err := cards(name, r, func(c card) error {
		if first {
			first = false
			if c.line == 1 && c.words[0][0] != '.' {
				return nil
			}
		}
		return rd.card(c)
	})
	if err != nil {
		return nil, err
	}
	if rd.current != rd.top {
		return nil, &Error{name, rd.current.line, fmt.Sprintf("subcircuit %s has no .ends", rd.current.circuit.Name), "the file may be cut short"}
	}
	return rd.finish()
}

// body is a subcircuit while it is read.
type body struct {
	circuit *netlist.Circuit
	line    int
	nets    map[string]netlist.Net // by lower-case name
	names   map[string]int         // elements, by lower-case name: the line
	shorts  [][2]netlist.Net
	calls   []call // of circuit.Instances
	devices []int  // the line of each device
	state   int
}

// call is an instance whose subcircuit may come later in the file.
type call struct {
	of   string
	line int
}

type reader struct {
	file    string
	opt     ReadOptions
	top     *body
	current *body
	bodies  []*body
	byName  map[string]*body
	models  map[string]netlist.Kind
	ended   bool
}

func (rd *reader) newBody(name string, line int) *body {
	return &body{circuit: &netlist.Circuit{Name: name}, line: line, nets: map[string]netlist.Net{}, names: map[string]int{}}
}

func (b *body) net(name string) netlist.Net {
	key := strings.ToLower(name)
	if key == "gnd" {
		key = "0"
	}
	if n, ok := b.nets[key]; ok {
		return n
	}
	n := netlist.Net(len(b.circuit.Nets))
	b.nets[key] = n
	b.circuit.Nets = append(b.circuit.Nets, netlist.NetInfo{Name: name})
	return n
}

func (rd *reader) fail(c card, remedy, format string, args ...any) error {
	return &Error{rd.file, c.line, fmt.Sprintf(format, args...), remedy}
}

func (rd *reader) card(c card) error {
	if rd.ended {
		return nil
	}
	if c.words[0][0] != '.' {
		return rd.element(c)
	}
	switch word := strings.ToLower(c.words[0]); word {
	case ".subckt":
		return rd.subckt(c)
	case ".ends":
		if rd.current == rd.top {
			return rd.fail(c, "", ".ends without .subckt")
		}
		rd.current = rd.top
	case ".model":
		return rd.model(c)
	case ".global":
		return rd.fail(c, "give the net to each subcircuit as a port", ".global is not read here")
	case ".option", ".options":
		for _, w := range c.words[1:] {
			if strings.HasPrefix(strings.ToLower(w), "scale") {
				return rd.fail(c, "write sizes with their unit, such as W=0.5u", "%s %s is not read here", word, w)
			}
		}
	case ".end":
		rd.ended = true
	case ".include", ".inc", ".lib":
		return rd.fail(c, "put its text into this file", "%s is refused: a netlist opens no other file", word)
	case ".control":
		return rd.fail(c, "take it out: only the circuit is read", "a .control section is refused: a netlist runs no commands")
	case ".param", ".if", ".func":
		return rd.fail(c, "write plain numbers", "%s is not read here", word)
	}
	return nil
}

func (rd *reader) subckt(c card) error {
	if rd.current != rd.top {
		return rd.fail(c, "end the first with .ends", "subcircuit within subcircuit %s", rd.current.circuit.Name)
	}
	if len(c.words) < 2 {
		return rd.fail(c, "", ".subckt without a name")
	}
	key := strings.ToLower(c.words[1])
	if old := rd.byName[key]; old != nil {
		return rd.fail(c, "rename one of them", "subcircuit %s is there already, on line %d", c.words[1], old.line)
	}
	b := rd.newBody(c.words[1], c.line)
	for _, p := range c.words[2:] {
		if strings.EqualFold(p, "params:") || strings.Contains(p, "=") {
			return rd.fail(c, "write plain numbers", "subcircuit %s has parameters, which are not read here", c.words[1])
		}
		if _, ok := b.nets[strings.ToLower(p)]; ok {
			return rd.fail(c, "", "subcircuit %s has port %s twice", c.words[1], p)
		}
		b.circuit.Ports = append(b.circuit.Ports, b.net(p))
	}
	rd.byName[key] = b
	rd.bodies = append(rd.bodies, b)
	rd.current = b
	return nil
}

func (rd *reader) model(c card) error {
	if len(c.words) < 3 {
		return rd.fail(c, ".model NAME nmos (…)", ".model wants a name and a type")
	}
	switch strings.ToLower(c.words[2]) {
	case "nmos":
		rd.models[strings.ToLower(c.words[1])] = netlist.NMOS
	case "pmos":
		rd.models[strings.ToLower(c.words[1])] = netlist.PMOS
	}
	return nil
}

// finish binds instances to subcircuits, applies models and shorts, and puts the circuits in order.
func (rd *reader) finish() (*netlist.Design, error) {
	d := &netlist.Design{}
	bodies := rd.bodies
	if len(rd.top.circuit.Devices)+len(rd.top.circuit.Instances) > 0 {
		bodies = append(bodies, rd.top)
	}
	for _, b := range bodies {
		if err := rd.order(b, d, nil); err != nil {
			return nil, err
		}
	}
	return d, nil
}

func (rd *reader) order(b *body, d *netlist.Design, path []string) error {
	const open, done = 1, 2
	switch b.state {
	case done:
		return nil
	case open:
		return &Error{rd.file, b.line, fmt.Sprintf("subcircuit %s contains itself: %s", b.circuit.Name, strings.Join(append(path, b.circuit.Name), " → ")), ""}
	}
	b.state = open
	for i, k := range b.calls {
		sub := rd.byName[strings.ToLower(k.of)]
		in := &b.circuit.Instances[i]
		if sub == nil {
			return &Error{rd.file, k.line, fmt.Sprintf("%s uses subcircuit %s, which the file does not define", in.Name, k.of), "add its .subckt"}
		}
		if len(in.Nets) != len(sub.circuit.Ports) {
			return &Error{rd.file, k.line, fmt.Sprintf("%s gives %d nets to subcircuit %s, which has %d ports", in.Name, len(in.Nets), k.of, len(sub.circuit.Ports)), ""}
		}
		if err := rd.order(sub, d, append(path, b.circuit.Name)); err != nil {
			return err
		}
		in.Of = sub.circuit
	}
	for i := range b.circuit.Devices {
		if dev := &b.circuit.Devices[i]; dev.Kind == netlist.MOS {
			if k, ok := rd.models[strings.ToLower(dev.Model)]; ok {
				dev.Kind = k
			} else {
				dev.Kind = rd.opt.Polarity(dev.Model)
			}
		}
	}
	b.short()
	b.state = done
	d.Circuits = append(d.Circuits, b.circuit)
	return nil
}

// short makes shorted nets one. A port keeps its place in the list, so that two of them may be the same net.
func (b *body) short() {
	if len(b.shorts) == 0 {
		return
	}
	c := b.circuit
	to := make([]netlist.Net, len(c.Nets))
	for i := range to {
		to[i] = netlist.Net(i)
	}
	find := func(n netlist.Net) netlist.Net {
		for to[n] != n {
			n = to[n]
		}
		return n
	}
	for _, s := range b.shorts {
		x, y := find(s[0]), find(s[1])
		to[max(x, y)] = min(x, y)
	}
	number := make([]netlist.Net, len(c.Nets))
	var kept []netlist.NetInfo
	for i := range c.Nets {
		if find(netlist.Net(i)) == netlist.Net(i) {
			number[i] = netlist.Net(len(kept))
			kept = append(kept, c.Nets[i])
		}
	}
	c.Nets = kept
	apply := func(nets []netlist.Net) {
		for i, n := range nets {
			if n != netlist.NoNet {
				nets[i] = number[find(n)]
			}
		}
	}
	apply(c.Ports)
	for i := range c.Devices {
		apply(c.Devices[i].Terminals[:])
	}
	for i := range c.Instances {
		apply(c.Instances[i].Nets)
	}
}
