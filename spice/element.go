package spice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/netlist"
)

// element reads one element line.
func (rd *reader) element(b *build, c card) error {
	e, err := rd.parse(b, c)
	if err != nil {
		return err
	}
	b.folded = fold(b.folded[:0], e.name)
	if line, ok := b.elements[string(b.folded)]; ok {
		return rd.fail(c.line, "rename one of them", "element %s is there already, on line %d", e.name, line)
	}
	b.elements[string(b.folded)] = c.line
	switch lower(e.name[0]) {
	case 'm':
		e.mos()
	case 'd':
		e.diode()
	case 'q':
		e.bipolar()
	case 'j':
		e.jfet()
	case 'r', 'c', 'l':
		e.passive()
	case 'v', 'i':
		e.source()
	case 'x':
		e.instance()
	default:
		e.fail("elements that are read: M, D, Q, J, R, C, L, V, I, X", "no device begins with %s here", firstLetter(e.name))
	}
	return e.err
}

func firstLetter(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}

func (e *element) add(d netlist.Device) {
	if e.err == nil {
		d.Name = e.name
		e.b.circuit.Devices = append(e.b.circuit.Devices, d)
	}
}

// mostCopies is how many devices one line may stand for where each must be a device of its own.
const mostCopies = 1000

// addTimes adds a device, or m of them where there is nothing about it that m could multiply.
func (e *element) addTimes(d netlist.Device, plain bool, m float64) {
	if !plain {
		m = 1
	}
	if m > mostCopies {
		e.fail("give it an area or a value, which m multiplies", "stands for %v devices without a size, more than %d", m, mostCopies)
	}
	name := e.name
	for k := 1; k <= int(m) && e.err == nil; k++ {
		if k > 1 {
			e.name = fmt.Sprintf("%s#%d", name, k)
		}
		e.add(d)
	}
}

// mos reads M d g s b model and its parameters. W is the total over ng fingers; m such devices lie in parallel.
func (e *element) mos() {
	const form = "M1 d g s b model W=… L=…"
	if len(e.plain) < 5 {
		e.fail(form, "a transistor has four nodes and a model")
		return
	}
	d := netlist.Device{Value: math.NaN(), Terminals: e.nets(4), Model: e.modelName()}
	e.rest(form)
	m := e.times()
	d.W, d.L = e.length(m, "w"), e.length(1, "l")
	d.AS, d.AD = e.area(m, "as"), e.area(m, "ad")
	d.PS, d.PD = e.length(m, "ps"), e.length(m, "pd")
	fingers := e.whole("ng", "nf") * m
	if fingers > mostParallel {
		e.fail("", "has %v fingers, more than %d", fingers, mostParallel)
	}
	if fingers > 1 {
		d.Fingers = int32(fingers)
	}
	d.Kind = e.polarity(d.Model)
	if d.Kind == netlist.MOS && strings.EqualFold(d.Model, UnknownMOS) {
		d.Model = ""
	}
	e.add(d)
}

// polarity tells what a transistor of a model is: what its .model card says, else what the caller knows.
func (e *element) polarity(name string) netlist.Kind {
	if strings.EqualFold(name, UnknownMOS) {
		return netlist.MOS
	}
	m, ok := e.b.model(name)
	switch {
	case !ok, m.typ == "vdmos":
		return e.rd.opt.Polarity(name)
	case m.typ == "nmos":
		return netlist.NMOS
	case m.typ == "pmos":
		return netlist.PMOS
	}
	e.fail("", "model %s on line %d is of type %s, not nmos or pmos", name, m.line, m.typ)
	return netlist.MOS
}

// diode reads D anode cathode model [area [perimeter]]; area and perimeter may be parameters too, or follow from w and l.
func (e *element) diode() {
	const form = "D1 anode cathode model AREA=… PJ=…"
	if len(e.plain) < 3 {
		e.fail(form, "a diode has two nodes and a model")
		return
	}
	d := netlist.Device{Kind: netlist.Diode, Value: math.NaN(), Terminals: e.nets(2), Model: e.modelName()}
	m := e.times()
	s := e.rd.scale
	area, perim := e.given("area", "a") != nil, e.given("pj", "p", "perim", "peri") != nil
	d.Area, d.Perim = e.area(m, "area", "a"), e.length(m, "pj", "p", "perim", "peri")
	if !area && len(e.plain) > 0 && e.isValue(e.plain[0]) {
		area, d.Area = true, nm2(e.size("area", e.value(), s*s, m))
		if !perim && len(e.plain) > 0 && e.isValue(e.plain[0]) {
			perim, d.Perim = true, nm(e.size("perimeter", e.value(), s, m))
		}
	}
	if w, l := e.length(1, "w"), e.length(1, "l"); !area && !perim && w > 0 && l > 0 {
		d.Area, d.Perim = nm2(e.size("w times l", w*l*1e-18, 1, m)), nm(e.size("the perimeter", 2*(w+l)*1e-9, 1, m))
	}
	e.rest(form)
	e.addTimes(d, !area && d.Area == 0, m)
}

// bipolar reads Q c b e [s] model [area]. Value is the area, relative to that of the model.
func (e *element) bipolar() {
	const form = "Q1 collector base emitter [substrate] model"
	nodes := 3
	if len(e.plain) >= 5 && !e.isModel(e.plain[3]) {
		if w := e.plain[4]; e.isModel(w) || !w.expr && !isArea(w.text) && !e.b.params.has(w.text) && folded(w.text) != "off" {
			nodes = 4
		}
	}
	if len(e.plain) <= nodes {
		e.fail(form, "a bipolar transistor has three or four nodes and a model")
		return
	}
	d := netlist.Device{Kind: netlist.Bipolar, Terminals: e.nets(nodes), Model: e.modelName()}
	d.Value = e.factor()
	e.rest(form)
	e.add(d)
}

func (e *element) isModel(w word) bool {
	_, ok := e.b.model(w.text)
	return ok
}

// jfet reads J d g s model [area]. Value is the area, relative to that of the model.
func (e *element) jfet() {
	const form = "J1 drain gate source model"
	if len(e.plain) < 4 {
		e.fail(form, "a junction transistor has three nodes and a model")
		return
	}
	d := netlist.Device{Kind: netlist.JFET, Terminals: e.nets(3), Model: e.modelName()}
	d.Value = e.factor()
	e.rest(form)
	e.add(d)
}

// factor reads the area of a Q or J, a factor without unit; NaN where neither it nor m is given.
func (e *element) factor() float64 {
	x, ok := e.number("area")
	if !ok && len(e.plain) > 0 && e.isValue(e.plain[0]) {
		x, ok = e.value(), true
	}
	m := e.times()
	switch {
	case !ok && m == 1:
		return math.NaN()
	case !ok:
		return m
	case !(x > 0):
		e.fail("", "area = %v is no factor", x)
	}
	return x * m
}

var passives = map[byte]struct {
	kind netlist.Kind
	keys []string // parameters that give the value
}{
	'r': {netlist.Resistor, []string{"r", "resistance"}}, 'c': {netlist.Capacitor, []string{"c", "capacitance"}},
	'l': {netlist.Inductor, []string{"l", "inductance"}}}

// passive reads R, C, L: two nodes, then a value and a model in either order, or one of them.
func (e *element) passive() {
	kind := passives[lower(e.name[0])]
	if len(e.plain) < 2 {
		e.fail("", "a %s has two nodes", kind.kind)
		return
	}
	d := netlist.Device{Kind: kind.kind, Terminals: e.nets(2), Value: math.NaN()}
	if x, ok := e.number(kind.keys...); ok {
		d.Value = x
	}
	for len(e.plain) > 0 {
		switch w := e.plain[0]; {
		case e.isValue(w) && math.IsNaN(d.Value):
			d.Value = e.value()
		case !e.isValue(w) && d.Model == "" && (math.IsNaN(d.Value) || !isSuffix(w.text) || e.isModel(w)):
			d.Model = e.modelName()
		default:
			e.rest("write a value without blanks, such as 1k, and one model at most")
			e.plain = nil
		}
	}
	m := e.times()
	d.W = e.length(m, "w")
	if d.Kind != netlist.Inductor {
		d.L = e.length(1, "l")
	}
	if d.Kind == netlist.Capacitor {
		d.Value *= m
	} else {
		d.Value /= m
	}
	switch {
	case e.err != nil:
	case d.Kind == netlist.Resistor && slices.ContainsFunc(e.rd.opt.Shorts, func(s string) bool { return folded(s) == folded(d.Model) && s != "" }):
		e.b.shorts = append(e.b.shorts, short{d.Terminals[0], d.Terminals[1], e.line})
	case d.Model == "" && math.IsNaN(d.Value):
		e.fail("R1 a b 1k", "has neither a value nor a model")
	default:
		e.addTimes(d, math.IsNaN(d.Value) && d.W == 0, m)
	}
}

// isSuffix reports whether s could be the suffix and unit of a number that a blank parts from it.
func isSuffix(s string) bool {
	return slices.Contains([]string{"t", "g", "k", "m", "u", "n", "p", "f", "meg", "mil", "ohm", "kohm", "ff", "pf", "nf", "uf", "nh", "uh", "h"}, folded(s))
}

// waveforms are the words after which a source's value for a large or a small signal follows.
var waveforms = []string{"ac", "pulse", "sin", "exp", "pwl", "sffm", "am", "trnoise", "trrandom", "external", "distof1", "distof2"}

// source reads V and I: two nodes and the DC value. What else a source can do is passed over.
func (e *element) source() {
	d := netlist.Device{Kind: netlist.VoltageSource, Value: math.NaN()}
	if lower(e.name[0]) == 'i' {
		d.Kind = netlist.CurrentSource
	}
	if len(e.plain) < 2 {
		e.fail("", "a %s has two nodes", d.Kind)
		return
	}
	d.Terminals = e.nets(2)
	if x, ok := e.number("dc"); ok {
		d.Value = x
	}
	for len(e.plain) > 0 && e.err == nil {
		w := e.plain[0]
		switch key := folded(w.text); {
		case slices.Contains(waveforms, key):
			e.plain = nil
		case key == "dc" && len(e.plain) > 1:
			e.plain = e.plain[1:]
		case e.isValue(w) && math.IsNaN(d.Value):
			d.Value = e.value()
		default:
			e.rest("V1 plus minus 1.8")
			e.plain = nil
		}
	}
	if m := e.times(); d.Kind == netlist.CurrentSource {
		d.Value *= m
	}
	e.add(d)
}

// callee returns which of an X line's words names the subcircuit: the last before the parameters; 0 if there is none.
func callee(words []word) int {
	k := 0
	for k+1 < len(words) && !words[k+1].named {
		k++
	}
	if k > 0 && strings.EqualFold(words[k].text, "params:") {
		k--
	}
	return k
}

// instance reads X nets [/] subcircuit [parameters].
func (e *element) instance() {
	const form = "X1 net … subcircuit name=value …"
	if n := len(e.plain); n > 0 && strings.EqualFold(e.plain[n-1].text, "params:") {
		e.plain = e.plain[:n-1]
	}
	if len(e.plain) == 0 || e.late {
		e.fail(form, "names no subcircuit before its parameters")
		return
	}
	of := e.plain[len(e.plain)-1].text
	nets := e.plain[:len(e.plain)-1]
	if n := len(nets); n > 0 && nets[n-1].text == "/" {
		nets = nets[:n-1]
	}
	sub := e.b.sub(of)
	if sub == nil {
		e.fail("add its .subckt", "uses subcircuit %s, which the file does not define", of)
		return
	}
	if len(nets) != len(sub.ports) {
		e.fail("", "gives %d nets to subcircuit %s, which has %d ports", len(nets), of, len(sub.ports))
		return
	}
	in := netlist.Instance{Name: e.name, Nets: make([]netlist.Net, len(nets))}
	for i, w := range nets {
		in.Nets[i] = e.net(w)
	}
	given, times := e.overrides(sub)
	if e.err != nil {
		return
	}
	if in.Of, e.err = e.rd.circuit(sub, e.line, given, times); e.err == nil {
		sub.used = true
		e.b.circuit.Instances = append(e.b.circuit.Instances, in)
		e.b.calls = append(e.b.calls, call{sub, e.line})
	}
}

// overrides returns the values that an instance gives to its subcircuit's parameters, and the multiplier for all in it.
func (e *element) overrides(sub *block) (given map[string]float64, times float64) {
	has := func(name string) bool {
		return slices.ContainsFunc(sub.header, func(p param) bool { return folded(p.name) == name })
	}
	times = e.b.times
	if len(e.named) == 0 {
		return nil, times
	}
	if !has("m") {
		times = e.times()
	}
	for _, w := range e.named {
		key := folded(w.text)
		if !has(key) {
			if key != "m" {
				e.fail("write "+w.text+"=… into the line of its .subckt", "subcircuit %s has no parameter %s", sub.name, quote(w.text))
			}
			continue
		}
		x, ok := e.number(key)
		if given == nil {
			given = map[string]float64{}
		}
		if ok {
			given[key] = x
		}
	}
	return given, times
}
