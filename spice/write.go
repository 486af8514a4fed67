package spice

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"undermetal/netlist"
)

// WriteOptions are what a caller may choose.
type WriteOptions struct {
	// Models adds a .model card for each model, with SPICE's defaults: enough for a simulator to read the netlist, and
	// nothing about the process.
	Models bool
	// Process, where it is not nil, makes the cards of transistors and diodes: level 1, one for each model, with the channel-length
	// modulation of its shortest gate. It implies Models, whose placeholders the other cards are.
	Process *Process
	// Ground names the net that becomes node 0 in the circuits that no other uses; empty: none does. Where it is a port,
	// the subcircuit goes without, since node 0 is the same everywhere. Circuits below it get the net through their ports.
	Ground string
	// Places adds the place on the die of each device of the last circuit as a comment; the others may lie in several places.
	Places bool
	// Comment adds a remark to the i-th device of the last circuit; may be nil.
	Comment func(i int) string
}

// Lines are continued on the next beyond these lengths: a device stays on one line in all but odd cases, so that it can
// be found with its place.
const (
	listWidth   = 80
	deviceWidth = 100
)

// Write writes a design: a .subckt for each circuit, in the order of the design, ports in the order of Circuit.Ports. The
// same design gives the same text. W is the total over all fingers, whose number is a comment.
//
// Names are those of NetNames, and for circuits, elements and models likewise: own names where a simulator can read them,
// distinct when case is ignored. Where a circuit has one net on two ports, the second gets a name of its own and a
// resistor of the model lvsres between, which Read takes for what it is.
//
// An error is a phrase: no net of the name Ground, a device without a net on a terminal or without value and model, an
// instance of a circuit that the design does not hold; or what w returns.
func Write(w io.Writer, d *netlist.Design, opt WriteOptions) error {
	out := &writer{w: bufio.NewWriter(w), opt: opt, design: d, circuits: map[*netlist.Circuit]string{}, models: newModels(d)}
	out.globals = globalNames(d, opt.Ground, out.models)
	names := newNamer()
	for _, s := range special { // ngspice-39 mistakes a net 0 for a subcircuit of that name
		names.reserve(s)
	}
	for _, c := range d.Circuits {
		out.circuits[c] = names.take(cleanCircuit(c.Name))
	}
	if err := out.look(); err != nil {
		return err
	}
	out.head()
	for i := range d.Circuits {
		if err := out.circuit(i); err != nil {
			return err
		}
	}
	if opt.Models || opt.Process != nil {
		out.modelCards()
	}
	return out.w.Flush()
}

type writer struct {
	w        *bufio.Writer
	opt      WriteOptions
	design   *netlist.Design
	circuits map[*netlist.Circuit]string // names as written
	globals  map[string]string           // names as written, by name
	models   *models
	used     map[*netlist.Circuit]bool
	odd      map[port]bool // ports on a global net that an instance gives another net
	shorts   bool          // a second name for a net was written
}

// port is the k-th port of a circuit.
type port struct {
	of *netlist.Circuit
	k  int
}

func (o *writer) printf(format string, args ...any) { fmt.Fprintf(o.w, format, args...) }

// look finds out which circuits are used by others and which ports on a global net need a name of their own, and checks
// that the net to be ground is there.
func (o *writer) look() error {
	o.used, o.odd = map[*netlist.Circuit]bool{}, map[port]bool{}
	for _, c := range o.design.Circuits {
		for i := range c.Instances {
			in := &c.Instances[i]
			if o.circuits[in.Of] == "" {
				return fmt.Errorf("instance %s of circuit %s is of circuit %s, which the design does not hold", in.Name, c.Name, in.Of.Name)
			}
			if len(in.Nets) != len(in.Of.Ports) {
				return fmt.Errorf("instance %s of circuit %s gives %d nets to circuit %s, which has %d ports", in.Name, c.Name, len(in.Nets), in.Of.Name, len(in.Of.Ports))
			}
			o.used[in.Of] = true
			for k, n := range in.Nets {
				inner, outer := &in.Of.Nets[in.Of.Ports[k]], &c.Nets[n]
				if inner.Global && !(outer.Global && outer.Name == inner.Name) {
					o.odd[port{in.Of, k}] = true
				}
			}
		}
	}
	if g := o.opt.Ground; g != "" && o.globals[g] != "0" &&
		!slices.ContainsFunc(o.design.Circuits, func(c *netlist.Circuit) bool { return o.ground(c) != "" }) {
		return noGround(g)
	}
	return nil
}

// ground returns the option Ground where it holds for c, else nothing.
func (o *writer) ground(c *netlist.Circuit) string {
	if o.opt.Ground == "" || o.used[c] || netNamed(c, o.opt.Ground) == netlist.NoNet {
		return ""
	}
	return o.opt.Ground
}

// head writes what stands before the first circuit.
func (o *writer) head() {
	o.printf("* Netlist written by undermetal. Lengths in metres: u = 1e-6, p = 1e-12.\n")
	if _, ok := o.models.names[modelKey{"", netlist.MOS}]; ok {
		o.printf("* %s: transistors whose polarity is unknown.\n", UnknownMOS)
	}
	var globals []string
	for _, s := range o.globals {
		if s != "0" {
			globals = append(globals, s)
		}
	}
	if len(globals) > 0 {
		slices.Sort(globals)
		o.words(append([]string{".global"}, globals...), "", listWidth)
	}
}

// words writes a line, continued where it grows too long.
func (o *writer) words(words []string, comment string, width int) {
	n := 0
	for i, s := range words {
		if i > 0 && n+1+len(s) > width {
			o.w.WriteString("\n+")
			n = 1
		}
		if i > 0 {
			o.w.WriteByte(' ')
			n++
		}
		o.w.WriteString(s)
		n += len(s)
	}
	if comment != "" {
		o.w.WriteString(" ; " + comment)
	}
	o.w.WriteByte('\n')
}

func (o *writer) circuit(i int) error {
	c := o.design.Circuits[i]
	nets, err := nameNets(c, o.ground(c), o.globals, o.models)
	if err != nil {
		return err
	}
	o.printf("\n")
	o.renamed(c, nets)
	second := o.header(c, nets)
	elements := newNamer()
	for k := range c.Devices {
		words, err := o.device(c, k, nets.of, elements)
		if err != nil {
			return fmt.Errorf("circuit %s: %w", c.Name, err)
		}
		o.words(words, strings.Join(o.remarks(&c.Devices[k], k, i == len(o.design.Circuits)-1), ", "), deviceWidth)
	}
	for k := range c.Instances {
		in := &c.Instances[k]
		words := []string{elements.take(elementName('X', in.Name, k))}
		for _, n := range in.Nets {
			words = append(words, nets.of[n])
		}
		o.words(append(words, o.circuits[in.Of]), "", listWidth)
	}
	for k, s := range second {
		o.shorts = true
		o.words([]string{elements.take(elementName('R', "", k)), s[0], s[1], shortModel}, "one net", listWidth)
	}
	o.printf(".ends %s\n", o.circuits[c])
	return nil
}

// renamed says which nets could be taken for ground by their names.
func (o *writer) renamed(c *netlist.Circuit, nets *netNames) {
	if nets.ground != netlist.NoNet {
		o.printf("* Node 0 is net %s.\n", cleanRemark(c.Nets[nets.ground].Name))
	}
	for i := range c.Nets {
		if name := c.Nets[i].Name; slices.Contains(special, folded(clean(name))) && nets.of[i] != "0" && name != "" && !c.Nets[i].Global {
			o.printf("* Net %s is not ground or global here: it is called %s.\n", cleanRemark(name), nets.of[i])
		}
	}
}

// header writes the .subckt line, and returns the second names of nets with the names.
func (o *writer) header(c *netlist.Circuit, nets *netNames) (second [][2]string) {
	words := []string{".subckt", o.circuits[c]}
	seen := make(map[netlist.Net]bool, len(c.Ports))
	for k, p := range c.Ports {
		if p == nets.ground || o.opt.Ground != "" && c.Nets[p].Global && c.Nets[p].Name == o.opt.Ground && !o.used[c] {
			continue
		}
		name := nets.of[p]
		if seen[p] || o.odd[port{c, k}] {
			name = nets.take(name)
			second = append(second, [2]string{name, nets.of[p]})
		}
		seen[p] = true
		words = append(words, name)
	}
	o.words(words, "", listWidth)
	return second
}
