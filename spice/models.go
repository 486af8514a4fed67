package spice

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
)

// shortModel is the model of a resistor that is a second name for a net; Read takes it so unless told otherwise.
const shortModel = "lvsres"

// modelTypes say what is written for a kind of device: the type of its model card, what follows it, and the model's name
// where the device has none.
var modelTypes = map[netlist.Kind]struct{ typ, remark, unnamed string }{
	netlist.NMOS:      {"nmos", "SPICE's defaults, not this process", "nmos_unnamed"},
	netlist.PMOS:      {"pmos", "SPICE's defaults, not this process", "pmos_unnamed"},
	netlist.MOS:       {"nmos", "polarity unknown, n assumed; SPICE's defaults, not this process", UnknownMOS},
	netlist.Diode:     {"d", "SPICE's defaults, not this process", "diode_unnamed"},
	netlist.Bipolar:   {"npn", "polarity unknown, npn assumed; SPICE's defaults, not this process", "bipolar_unnamed"},
	netlist.JFET:      {"njf", "polarity unknown, n assumed; SPICE's defaults, not this process", "jfet_unnamed"},
	netlist.Resistor:  {"r rsh=1", "1 ohm per square is a placeholder, not this process", ""},
	netlist.Capacitor: {"c", "SPICE's defaults, not this process", ""},
	netlist.Inductor:  {"l", "SPICE's defaults, not this process", ""},
}

// models is the names under which the models of a design are written.
type models struct {
	names map[modelKey]string // by model as the device has it
	cards map[modelKey]string // by folded model
	namer *namer

	bipolar bool // there are devices whose lines have keywords among the nodes
}

type modelKey struct {
	model string
	kind  netlist.Kind
}

// newModels names the models of all devices. Two that differ only by case are one; a name that two kinds of device use
// is written differently for the second.
func newModels(d *netlist.Design) *models {
	m := &models{names: map[modelKey]string{}, cards: map[modelKey]string{}, namer: newNamer()}
	m.cards[modelKey{UnknownMOS, netlist.MOS}] = UnknownMOS
	for _, s := range append([]string{UnknownMOS, shortModel}, special...) {
		m.namer.reserve(s)
	}
	for _, c := range d.Circuits {
		for i := range c.Devices {
			m.add(modelKey{c.Devices[i].Model, c.Devices[i].Kind})
		}
	}
	return m
}

func (m *models) add(k modelKey) {
	m.bipolar = m.bipolar || k.kind == netlist.Bipolar
	if _, ok := m.names[k]; ok {
		return
	}
	name := k.model
	if name == "" {
		name = modelTypes[k.kind].unnamed
	}
	if name == "" {
		m.names[k] = ""
		return
	}
	card := modelKey{folded(name), k.kind}
	if m.cards[card] == "" {
		m.cards[card] = m.namer.take(cleanModel(name, k.kind))
	}
	m.names[k] = m.cards[card]
}

// cleanModel is clean for a model, which must not look like the value or area that may stand beside it. ngspice-39 wants
// a letter in it, finds none that begins with @ or ^, and has more keywords here than elsewhere.
func cleanModel(name string, kind netlist.Kind) string {
	s := guard(clean(name), "off", "save", "time", "hertz", "thermal", "tnodeout")
	_, n := number(s)
	switch {
	case !strings.ContainsFunc(s, func(r rune) bool { return isLetter(byte(r)) }):
		return "m" + s
	case isArea(s), !isLetter(s[0]) && !isDigit(s[0]) && s[0] != '_':
		return "_" + s
	case n > 0 && (kind == netlist.Resistor || kind == netlist.Capacitor || kind == netlist.Inductor):
		return "_" + s
	}
	return s
}

// of returns the model that is written for a device; empty where none is.
func (m *models) of(d *netlist.Device) string { return m.names[modelKey{d.Model, d.Kind}] }

// shortest is the device that a model's card is made for.
type shortest struct {
	d      *netlist.Device
	inWell bool // a diode whose cathode is the bulk of p-channel transistors beside it
}

// shortest returns, by the written names of models, the transistor with the shortest gate, and of diodes the first.
func (o *writer) shortest() map[string]shortest {
	found := map[string]shortest{}
	for _, c := range o.design.Circuits {
		wells := map[netlist.Net]bool{}
		for i := range c.Devices {
			if d := &c.Devices[i]; d.Kind == netlist.PMOS {
				wells[d.Terminals[netlist.Bulk]] = true
			}
		}
		for i := range c.Devices {
			d := &c.Devices[i]
			if d.Kind != netlist.Diode && !(d.Kind.IsMOS() && d.L > 0) {
				continue
			}
			name := o.models.of(d)
			if old, ok := found[name]; !ok || d.Kind.IsMOS() && d.L < old.d.L {
				found[name] = shortest{d, d.Kind == netlist.Diode && wells[d.Terminals[netlist.Cathode]]}
			}
		}
	}
	return found
}

// modelCards writes a card for each model that is used: a placeholder, unless the process knows better.
func (o *writer) modelCards() {
	written := map[string]netlist.Kind{}
	for k, name := range o.models.names {
		if name != "" {
			written[name] = k.kind
		}
	}
	names := make([]string, 0, len(written))
	for name := range written {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(folded(a), folded(b)), cmp.Compare(a, b)) })
	var known map[string]shortest
	if p := o.opt.Process; p != nil {
		known = o.shortest()
		o.printf("\n* Level-1 cards of preset %s: a process of that kind, and not this one but for what its stack states.\n", p.Name)
	} else {
		o.printf("\n* Placeholders with SPICE's default parameters: they say nothing about this process.\n")
	}
	for _, name := range names {
		if k, ok := known[name]; ok {
			remark := ""
			switch {
			case k.d.Kind == netlist.MOS:
				remark = " ; polarity unknown, n assumed"
			case k.d.Kind.IsMOS():
				remark = fmt.Sprintf(" ; lambda for L = %.4g um, the shortest", k.d.L/1000)
			}
			o.printf("%s%s\n", o.opt.Process.card(k.d, name, k.inWell), remark)
			continue
		}
		t := modelTypes[written[name]]
		if t.typ != "" {
			o.printf(".model %s %s ; %s\n", name, t.typ, t.remark)
		}
	}
	if o.shorts {
		o.printf(".model %s r r=2m ; joins two names of one net\n", shortModel)
	}
}
