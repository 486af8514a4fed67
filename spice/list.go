package spice

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// ListOptions are what a caller may choose.
type ListOptions struct {
	Ground  netlist.Net // becomes node 0; NoNet: no net but a global 0 does
	Process *Process    // makes the model cards, and values that nobody states; must be there
	Models  *ModelFile  // stands in for the cards, where it is not nil
}

// Listing is one flat circuit as lines of a deck, for somebody who puts sources and analyses around it. Its names are letters,
// digits and _ alone, so that they mean the same in every corner of a simulator, whatever the circuit's own names are.
type Listing struct {
	Nodes       []string // the node of each net
	Elements    []string // the element of each device
	Models      []string // the model of each device; empty where its value says it all
	Text, Cards string   // lines of elements, and of models
	Notes       []string // what was assumed
	Photodiodes []int    // devices, in their order

	names *namer
}

// List writes a circuit without instances as lines of a deck, with a model card for each model and channel length (LAMBDA
// goes with it), junctions, overlaps and gate oxide included, and a current source for each photodiode's dark current. A
// diode is a photodiode where "photo" is part of its model's name (common practice, and what verdicts write).
//
// Errors are phrases that name the device and its place: a transistor of unknown polarity, or without W or L; a resistor or
// capacitor without a value that the process could tell; a model that the user's file lacks, or has as another kind.
func List(c *netlist.Circuit, opt ListOptions) (*Listing, error) {
	l := &lister{opt: opt, c: *c, out: &Listing{names: newNamer()}, lengths: map[modelKey]map[int]bool{}, carded: map[string]bool{}}
	for _, s := range append([]string{"time", "temper", "hertz", "all", "allv", "alli", "off", "save"}, special...) {
		l.out.names.reserve(s)
	}
	l.c.Devices = append([]netlist.Device(nil), c.Devices...)
	l.c.Nets = append([]netlist.NetInfo(nil), c.Nets...)
	if err := l.values(); err != nil {
		return nil, err
	}
	for i := range l.c.Devices {
		d := &l.c.Devices[i]
		k := modelKey{folded(d.Model), d.Kind}
		if l.lengths[k] == nil {
			l.lengths[k] = map[int]bool{}
		}
		l.lengths[k][lengthKey(d)] = true
	}
	if err := l.models(); err != nil {
		return nil, err
	}
	l.nodes()
	l.out.Models = l.written
	return l.out, l.elements()
}

// Take returns a free name for a node or an element of the caller's own: want, made plain, or want_2 …
func (l *Listing) Take(want string) string { return l.names.take(plainName(want)) }

// plainName is name in letters, digits and _, with a letter before digits.
func plainName(name string) string {
	s := strings.Map(func(r rune) rune {
		if r < 0x80 && (isLetter(byte(r)) || isDigit(byte(r)) || r == '_') {
			return r
		}
		return '_'
	}, name)
	if s == "" || isDigit(s[0]) {
		s = "n" + s
	}
	return s
}

// DeviceWords says which device d, the i-th of its circuit, is and where: "nmos M3 at 2.011, 4.730 µm". What is read from a
// netlist has no place.
func DeviceWords(d *netlist.Device, i int) string {
	name := DeviceName(d, i)
	if d.At.X == 0 && d.At.Y == 0 {
		return fmt.Sprintf("%v %s", d.Kind, name)
	}
	return fmt.Sprintf("%v %s at %.3f, %.3f µm", d.Kind, name, float64(d.At.X)/1000, float64(d.At.Y)/1000)
}

// DeviceName is what device d, the i-th of its circuit, is called: its own name, or one by its number.
func DeviceName(d *netlist.Device, i int) string {
	if d.Name != "" {
		return d.Name
	}
	return fmt.Sprintf("%c%d", letters[d.Kind], i+1)
}

// Photodiode reports whether a device is a photodiode by its model's name.
func Photodiode(d *netlist.Device) bool {
	return d.Kind == netlist.Diode && strings.Contains(folded(d.Model), "photo")
}

type lister struct {
	opt     ListOptions
	c       netlist.Circuit
	out     *Listing
	written []string                  // the model of each device as written
	lengths map[modelKey]map[int]bool // channel lengths in nm, by model
	carded  map[string]bool
	lines   strings.Builder
}

func lengthKey(d *netlist.Device) int { return int(math.Round(d.L)) }

// values looks for what no line could be written without, and fills in what the process tells.
func (l *lister) values() error {
	p := l.opt.Process
	for i := range l.c.Devices {
		d := &l.c.Devices[i]
		what := DeviceWords(d, i)
		known := l.opt.Models.kind(d.Model) != ""
		switch {
		case d.Kind == netlist.MOS && l.opt.Models == nil:
			return fmt.Errorf("%s: nobody knows whether it is an n- or a p-channel\n    undermetal questions says what speaks for which, and takes the answer", what)
		case d.Kind.IsMOS() && (!(d.W > 0 || d.Ratio > 0) || !(d.L > 0)):
			return fmt.Errorf("%s: its W or L is not known\n    state it in the netlist, or draw the gate so that it can be measured", what)
		case d.Kind == netlist.Resistor && math.IsNaN(d.Value) && !known:
			sheet, squares := p.Resistors[folded(d.Model)], 0.0
			if d.Ratio > 0 {
				squares = 1 / d.Ratio
			} else if d.W > 0 {
				squares = d.L / d.W
			}
			if sheet == 0 || squares == 0 {
				return fmt.Errorf("%s: has no value, and %s\n    give its layer a sheet_ohm in the stack, or its model in --model-file", what, missing(sheet == 0, "the sheet resistance is not known", "its squares are not"))
			}
			d.Value = sheet * squares
			l.note("%s: %.4g ohm, by %.4g ohm per square", what, d.Value, sheet)
		case d.Kind == netlist.Capacitor && math.IsNaN(d.Value) && !known:
			if folded(d.Model) != "moscap" || d.Area == 0 {
				return fmt.Errorf("%s: has no value\n    give its rule an area_af_um2 in the stack, or its model in --model-file", what)
			}
			d.Value = p.Cox() * d.Area * 1e-18
			l.note("%s: %.4g F, by an oxide of %.4g nm", what, d.Value, p.GateOxideNm)
		case (d.Kind == netlist.Bipolar || d.Kind == netlist.JFET) && l.opt.Models == nil:
			return fmt.Errorf("%s: no preset has a model for it\n    give its model %s in --model-file", what, quote(d.Model))
		case d.Kind == netlist.Inductor && math.IsNaN(d.Value):
			return fmt.Errorf("%s: has no value\n    state it in the netlist", what)
		}
		if !math.IsNaN(d.Value) && (d.Kind == netlist.Resistor || d.Kind == netlist.Capacitor || d.Kind == netlist.Inductor) && !known {
			d.Model, d.W, d.L = "", 0, 0 // the value says it all
		}
	}
	return nil
}

func missing(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

func (l *lister) note(format string, args ...any) {
	l.out.Notes = append(l.out.Notes, fmt.Sprintf(format, args...))
}

// nodes names the nets.
func (l *lister) nodes() {
	l.out.Nodes = make([]string, len(l.c.Nets))
	for i := range l.c.Nets {
		n := &l.c.Nets[i]
		if netlist.Net(i) == l.opt.Ground || n.Global && n.Name == "0" {
			l.out.Nodes[i] = "0"
		}
	}
	for i := range l.c.Nets {
		if n := &l.c.Nets[i]; l.out.Nodes[i] == "" && n.Name != "" {
			l.out.Nodes[i] = l.out.Take(n.Name)
		}
	}
	for i, next := 0, 1; i < len(l.c.Nets); i++ {
		for l.out.Nodes[i] == "" {
			if name := "n" + strconv.Itoa(next); !l.out.names.has(name) {
				l.out.Nodes[i] = l.out.Take(name)
			}
			next++
		}
	}
}

// elements writes a line for each device.
func (l *lister) elements() error {
	for i := range l.c.Devices { // plain names for the writer to keep
		d := &l.c.Devices[i]
		if d.Name != "" {
			d.Name = plainName(d.Name)
		}
	}
	for i := range l.c.Nets {
		l.c.Nets[i].Name = ""
	}
	for i := range l.c.Devices {
		l.c.Devices[i].Model = l.written[i]
	}
	o := &writer{models: &models{names: map[modelKey]string{}}}
	for i := range l.c.Devices {
		d := &l.c.Devices[i]
		o.models.names[modelKey{d.Model, d.Kind}] = d.Model
		words, err := o.device(&l.c, i, l.out.Nodes, l.out.names)
		if err != nil {
			return err
		}
		if sub := l.opt.Models.sub(d.Model); sub != nil {
			words = sub.call(d, words, len(d.Kind.TerminalNames()), l.out.names)
		}
		l.out.Elements = append(l.out.Elements, words[0])
		l.lines.WriteString(strings.Join(words, " ") + "\n")
		if Photodiode(d) {
			l.out.Photodiodes = append(l.out.Photodiodes, i)
			name := l.out.Take("Idark_" + words[0])
			fmt.Fprintf(&l.lines, "%s %s %s DC %s\n", name, l.out.Nodes[d.Terminals[netlist.Cathode]], l.out.Nodes[d.Terminals[netlist.Anode]], number6(l.opt.Process.Dark*d.Area*1e-18))
		}
	}
	l.out.Text = l.lines.String()
	return nil
}

func number6(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
