package spice

import (
	"math"
	"slices"
	"strings"

	"undermetal/netlist"
)

// element reads one element line.
func (rd *reader) element(c card) error {
	b := rd.current
	name := c.words[0]
	key := strings.ToLower(name)
	if line, ok := b.names[key]; ok {
		return rd.fail(c, "rename one of them", "element %s is there already, on line %d", name, line)
	}
	b.names[key] = c.line
	switch key[0] {
	case 'm':
		return rd.mos(c)
	case 'd':
		return rd.diode(c)
	case 'r', 'c', 'l', 'v', 'i':
		return rd.twoTerminal(c)
	case 'x':
		return rd.instance(c)
	}
	return rd.fail(c, "elements that are read: M, D, R, C, L, V, I, X", "element %s: no device begins with %s here", name, name[:1])
}

// sizes are the parameters that are lengths or areas, in m and m²; none can be larger than largest.
var sizes = []string{"w", "l", "as", "ad", "ps", "pd", "a", "area", "p", "pj"}

const largest = 10

// params splits the words after the nodes into positional ones and name=value, names in lower case.
func (rd *reader) params(c card, words []string) (plain []string, named map[string]float64, err error) {
	named = map[string]float64{}
	for _, w := range words {
		k, v, ok := strings.Cut(w, "=")
		if !ok {
			plain = append(plain, w)
			continue
		}
		x, err := parseNumber(strings.Trim(v, "{}'"))
		if err != nil {
			return nil, nil, rd.fail(c, "write a number, such as 0.13u", "element %s: %s: %v", c.words[0], k, err)
		}
		key := strings.ToLower(strings.TrimPrefix(k, "$"))
		if slices.Contains(sizes, key) && !(x >= 0 && x <= largest) {
			return nil, nil, rd.fail(c, "lengths are in metres, areas in m²; write 0.13u for 0.13 µm", "element %s: %s = %g is no size of a device", c.words[0], k, x)
		}
		named[key] = x
	}
	return plain, named, nil
}

func (rd *reader) nodes(words []string) [4]netlist.Net {
	t := [4]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}
	for i, w := range words {
		t[i] = rd.current.net(w)
	}
	return t
}

func (rd *reader) add(c card, d netlist.Device) {
	rd.current.circuit.Devices = append(rd.current.circuit.Devices, d)
	rd.current.devices = append(rd.current.devices, c.line)
}

// times returns the multiplier m, 1 where none is given.
func (rd *reader) times(c card, named map[string]float64) (float64, error) {
	m, ok := named["m"]
	if !ok {
		return 1, nil
	}
	if !(m >= 1 && m <= 1e6) || m != math.Trunc(m) {
		return 0, rd.fail(c, "", "element %s: m = %v must be a whole number from 1 up", c.words[0], m)
	}
	return m, nil
}

// mos reads M d g s b model and its parameters. W is the total over ng fingers; m such devices lie in parallel.
func (rd *reader) mos(c card) error {
	if len(c.words) < 6 || strings.Contains(c.words[5], "=") {
		return rd.fail(c, "M1 d g s b model W=… L=…", "element %s: a transistor has four nodes and a model", c.words[0])
	}
	_, p, err := rd.params(c, c.words[6:])
	if err != nil {
		return err
	}
	m, err := rd.times(c, p)
	if err != nil {
		return err
	}
	d := netlist.Device{Name: c.words[0], Kind: netlist.MOS, Model: c.words[5], Terminals: rd.nodes(c.words[1:5]), Value: math.NaN(),
		W: nm(p["w"]) * m, L: nm(p["l"]), AS: nm2(p["as"]) * m, AD: nm2(p["ad"]) * m, PS: nm(p["ps"]) * m, PD: nm(p["pd"]) * m}
	fingers := max(p["ng"], p["nf"], 1) * m
	if !(fingers <= 1e9) {
		return rd.fail(c, "", "element %s has %v fingers", c.words[0], fingers)
	}
	if strings.EqualFold(d.Model, UnknownMOS) {
		d.Model = ""
	}
	if fingers > 1 {
		d.Fingers = int32(fingers)
	}
	rd.add(c, d)
	return nil
}

// diode reads D anode cathode model [area [perimeter]], in m² and m, or a=, area=, p=, pj=.
func (rd *reader) diode(c card) error {
	if len(c.words) < 4 {
		return rd.fail(c, "D1 anode cathode model", "element %s: a diode has two nodes and a model", c.words[0])
	}
	plain, p, err := rd.params(c, c.words[4:])
	if err != nil {
		return err
	}
	for i, w := range plain {
		x, err := parseNumber(w)
		if err != nil || i > 1 || !(x >= 0 && x <= largest) {
			return rd.fail(c, "", "element %s: %q is neither area nor perimeter", c.words[0], w)
		}
		p[[]string{"area", "pj"}[i]] = x
	}
	m, err := rd.times(c, p)
	if err != nil {
		return err
	}
	rd.add(c, netlist.Device{Name: c.words[0], Kind: netlist.Diode, Model: c.words[3], Terminals: rd.nodes(c.words[1:3]), Value: math.NaN(),
		Area: nm2(max(p["a"], p["area"])) * m, Perim: nm(max(p["p"], p["pj"])) * m})
	return nil
}

var twoTerminalKinds = map[byte]netlist.Kind{'r': netlist.Resistor, 'c': netlist.Capacitor, 'l': netlist.Inductor,
	'v': netlist.VoltageSource, 'i': netlist.CurrentSource}

func (rd *reader) twoTerminal(c card) error {
	if len(c.words) < 3 {
		return rd.fail(c, "", "element %s has two nodes", c.words[0])
	}
	plain, p, err := rd.params(c, c.words[3:])
	if err != nil {
		return err
	}
	d := netlist.Device{Name: c.words[0], Kind: twoTerminalKinds[strings.ToLower(c.words[0])[0]], Terminals: rd.nodes(c.words[1:3]),
		Value: math.NaN(), W: nm(p["w"]), L: nm(p["l"])}
	for _, w := range plain {
		if x, err := parseNumber(strings.Trim(w, "{}'")); err == nil {
			if math.IsNaN(d.Value) {
				d.Value = x
			}
		} else if d.Model == "" {
			d.Model = w
		}
	}
	if slices.ContainsFunc(rd.opt.Shorts, func(s string) bool { return strings.EqualFold(s, d.Model) }) && d.Kind == netlist.Resistor {
		rd.current.shorts = append(rd.current.shorts, [2]netlist.Net{d.Terminals[0], d.Terminals[1]})
		return nil
	}
	if d.Model == "" && math.IsNaN(d.Value) && d.Kind != netlist.VoltageSource && d.Kind != netlist.CurrentSource {
		return rd.fail(c, "", "element %s has neither a value nor a model", c.words[0])
	}
	rd.add(c, d)
	return nil
}

// instance reads X nets [/] subcircuit.
func (rd *reader) instance(c card) error {
	words := c.words[1:]
	for len(words) > 0 && strings.Contains(words[len(words)-1], "=") {
		k, _, _ := strings.Cut(words[len(words)-1], "=")
		if !strings.EqualFold(strings.TrimPrefix(k, "$"), "m") || !strings.HasSuffix(words[len(words)-1], "=1") {
			return rd.fail(c, "write the numbers into the subcircuit", "element %s: parameters of a subcircuit are not read here", c.words[0])
		}
		words = words[:len(words)-1]
	}
	if len(words) == 0 {
		return rd.fail(c, "X1 net … subcircuit", "element %s names no subcircuit", c.words[0])
	}
	of := words[len(words)-1]
	words = words[:len(words)-1]
	if len(words) > 0 && words[len(words)-1] == "/" {
		words = words[:len(words)-1]
	}
	in := netlist.Instance{Name: c.words[0]}
	for _, w := range words {
		in.Nets = append(in.Nets, rd.current.net(w))
	}
	rd.current.circuit.Instances = append(rd.current.circuit.Instances, in)
	rd.current.calls = append(rd.current.calls, call{of, c.line})
	return nil
}
