package spice

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// WriteOptions are what a caller may choose.
type WriteOptions struct {
	// Models adds a .model card for each model, with SPICE's defaults: enough for a simulator to read the netlist, and
	// nothing about the process.
	Models bool
	// Ground names the net that becomes node 0 in every circuit that has it; empty: none does.
	Ground string
	// Places adds each device's place on the die as a comment.
	Places bool
	// Comment adds a remark to the i-th device of the last circuit; may be nil.
	Comment func(i int) string
}

// UnknownMOS is the model of a transistor whose polarity is unknown.
const UnknownMOS = "mos_unknown"

// width is the length of a line beyond which it is continued on the next.
const width = 100

// Write writes a design: a .subckt for each circuit, in the order of the design. W is the total over all fingers.
func Write(w io.Writer, d *netlist.Design, opt WriteOptions) error {
	out := &writer{w: bufio.NewWriter(w), opt: opt, circuits: map[*netlist.Circuit]string{}, models: map[string]netlist.Kind{}}
	out.printf("* Netlist written by undermetal. Lengths in metres: u = 1e-6, p = 1e-12.\n")
	names := namer{}
	ground := opt.Ground == ""
	for i, c := range d.Circuits {
		out.circuits[c] = names.take(clean(c.Name))
		g := opt.Ground
		if !slices.ContainsFunc(c.Nets, func(n netlist.NetInfo) bool { return n.Name == g }) {
			g = ""
		}
		ground = ground || g != ""
		if err := out.circuit(c, g, i == len(d.Circuits)-1); err != nil {
			return err
		}
	}
	if !ground {
		return fmt.Errorf("no net is called %q, so it cannot be ground\n    a label gives a net its name", opt.Ground)
	}
	if opt.Models {
		out.modelCards()
	}
	return out.w.Flush()
}

type writer struct {
	w        *bufio.Writer
	opt      WriteOptions
	circuits map[*netlist.Circuit]string
	models   map[string]netlist.Kind // by name as written
}

func (o *writer) printf(format string, args ...any) { fmt.Fprintf(o.w, format, args...) }

// words writes a line, continued where it grows too long.
func (o *writer) words(words []string, comment string) {
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

func (o *writer) circuit(c *netlist.Circuit, ground string, remarks bool) error {
	nets, err := NetNames(c, ground)
	if err != nil {
		return err
	}
	head := []string{".subckt", o.circuits[c]}
	seen := map[netlist.Net]bool{}
	for _, p := range c.Ports {
		if seen[p] {
			return fmt.Errorf("circuit %s has net %s on two ports, which a subcircuit cannot say\n    flatten the design first", c.Name, nets[p])
		}
		seen[p] = true
		if nets[p] != "0" {
			head = append(head, nets[p])
		}
	}
	o.printf("\n")
	o.words(head, "")
	elements := namer{}
	for i := range c.Devices {
		d := &c.Devices[i]
		var remark []string
		if o.opt.Places {
			remark = append(remark, fmt.Sprintf("at %.3f, %.3f um", float64(d.At.X)/1000, float64(d.At.Y)/1000))
		}
		if o.opt.Comment != nil && remarks {
			if s := o.opt.Comment(i); s != "" {
				remark = append(remark, clean(s))
			}
		}
		o.words(o.device(d, i, nets, elements), strings.Join(remark, ", "))
	}
	for i := range c.Instances {
		in := &c.Instances[i]
		words := []string{elements.take(element('X', in.Name, i))}
		for k, n := range in.Nets {
			if in.Of.Nets[in.Of.Ports[k]].Name != o.opt.Ground || o.opt.Ground == "" {
				words = append(words, nets[n])
			}
		}
		o.words(append(words, o.circuits[in.Of]), "")
	}
	o.printf(".ends %s\n", o.circuits[c])
	return nil
}

// element returns a name that begins with the letter of its kind.
func element(letter byte, name string, i int) string {
	if name == "" {
		return string(letter) + strconv.Itoa(i+1)
	}
	s := clean(name)
	if s[0]&^0x20 != letter {
		s = string(letter) + "_" + s
	}
	return s
}

var letters = map[netlist.Kind]byte{netlist.NMOS: 'M', netlist.PMOS: 'M', netlist.MOS: 'M', netlist.Diode: 'D', netlist.Capacitor: 'C',
	netlist.Resistor: 'R', netlist.Inductor: 'L', netlist.Bipolar: 'Q', netlist.JFET: 'J', netlist.VoltageSource: 'V', netlist.CurrentSource: 'I'}

func (o *writer) device(d *netlist.Device, i int, nets []string, elements namer) []string {
	words := []string{elements.take(element(letters[d.Kind], d.Name, i))}
	for _, n := range d.Terminals {
		if n != netlist.NoNet {
			words = append(words, nets[n])
		}
	}
	model := d.Model
	if d.Kind == netlist.MOS && model == "" {
		model = UnknownMOS
	}
	if model != "" {
		model = clean(model)
		o.models[model] = d.Kind
		words = append(words, model)
	}
	add := func(key string, v, unit float64, suffix string) {
		if v != 0 {
			words = append(words, key+"="+number(v/unit)+suffix)
		}
	}
	switch {
	case d.Kind.IsMOS():
		add("W", d.W, 1e3, "u")
		add("L", d.L, 1e3, "u")
		add("AS", d.AS, 1e6, "p")
		add("AD", d.AD, 1e6, "p")
		add("PS", d.PS, 1e3, "u")
		add("PD", d.PD, 1e3, "u")
	case d.Kind == netlist.Diode:
		add("AREA", d.Area, 1e6, "p")
		add("PJ", d.Perim, 1e3, "u")
	case !math.IsNaN(d.Value):
		words = append(words, strconv.FormatFloat(d.Value, 'g', -1, 64))
	}
	return words
}

// number writes a value in µm or µm² with six decimals, a thousandth of a nanometre, without trailing zeros.
func number(v float64) string {
	s := strconv.FormatFloat(v, 'f', 6, 64)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

func (o *writer) modelCards() {
	types := map[netlist.Kind]string{netlist.NMOS: "nmos", netlist.PMOS: "pmos", netlist.MOS: "nmos", netlist.Diode: "d",
		netlist.Capacitor: "c", netlist.Resistor: "r"}
	names := make([]string, 0, len(o.models))
	for m := range o.models {
		names = append(names, m)
	}
	slices.Sort(names)
	o.printf("\n* Placeholders with SPICE's default parameters: they say nothing about this process.\n")
	for _, m := range names {
		typ := types[o.models[m]]
		if typ == "" {
			continue
		}
		remark := ""
		if o.models[m] == netlist.MOS {
			remark = " ; polarity unknown, n assumed"
		}
		o.printf(".model %s %s%s\n", m, typ, remark)
	}
}
