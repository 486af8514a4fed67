package schematic

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"undermetal/netlist"
)

// part is what becomes one symbol.
type part struct {
	device, instance int32 // -1: none
	missing          *Missing
	shape            Shape
	kind             netlist.Kind

	// Of all but boxes: the nets of the channel's or the device's upper and lower pin, and which terminals these are.
	upper, lower   netlist.Net
	upperT, lowerT int
	gate           netlist.Net // NoNet: has none
	bulk           netlist.Net // NoNet: not shown, or joined to the source

	pins []Pin // of a box, about its middle

	texts    []string
	sideways bool
	block    int
	row, col int
	turn     Turn
	width    int // of a box: half of it
	height   int
}

// nets calls f with each net that the part has a pin on.
func (k *part) nets(f func(netlist.Net)) {
	if k.shape == BoxShape {
		for _, p := range k.pins {
			f(p.Net)
		}
		return
	}
	for _, n := range [...]netlist.Net{k.upper, k.lower, k.gate, k.bulk} {
		if n != netlist.NoNet {
			f(n)
		}
	}
}

// plan is a drawing on its way.
type plan struct {
	c      *netlist.Circuit
	opt    Options
	names  []string
	role   []Role
	parts  []*part
	ports  []bool
	bulk   map[netlist.Kind]netlist.Net
	blocks [][]*part
	pins   []int // by net: how many pins it has on the drawing
	sheets []int // by net: on how many sheets it is
	level  []float64
	degree []int // by net: how many ends of channels it has
	group  map[int32]int
}

func newPlan(c *netlist.Circuit, opt Options) (*plan, error) {
	p := &plan{c: c, opt: opt, role: make([]Role, len(c.Nets)), ports: make([]bool, len(c.Nets)), pins: make([]int, len(c.Nets)),
		sheets: make([]int, len(c.Nets)), degree: make([]int, len(c.Nets)), group: map[int32]int{}}
	for n, r := range opt.Roles {
		p.role[n] = r
	}
	for _, n := range c.Ports {
		p.ports[n] = true
	}
	p.nameNets()
	p.findRails()
	p.findBulks()
	for i := range c.Devices {
		k, err := p.newPart(int32(i))
		if err != nil {
			return nil, err
		}
		p.parts = append(p.parts, k)
	}
	for i := range c.Instances {
		p.parts = append(p.parts, p.newBox(int32(i)))
	}
	for g := range opt.Groups {
		for _, d := range opt.Groups[g].Devices {
			p.group[d] = g
		}
		for m := range opt.Groups[g].Missing {
			p.parts = append(p.parts, p.newMissing(&opt.Groups[g].Missing[m]))
		}
	}
	for _, k := range p.parts {
		k.nets(func(n netlist.Net) { p.pins[n]++ })
	}
	return p, nil
}

// nameNets gives each net a name of its own: flags join nets by their names.
func (p *plan) nameNets() {
	used := map[string]bool{}
	p.names = make([]string, len(p.c.Nets))
	for i, n := range p.c.Nets {
		if n.Name == "" {
			continue
		}
		name := n.Name
		for k := 2; used[name]; k++ {
			name = n.Name + "#" + strconv.Itoa(k)
		}
		used[name] = true
		p.names[i] = name
	}
	next := 1
	for i := range p.names {
		for p.names[i] == "" {
			if name := "n" + strconv.Itoa(next); !used[name] {
				p.names[i], used[name] = name, true
			}
			next++
		}
	}
}

// findRails tells supplies by their names where no role does (common practice), and where there is none, by what bulks are tied to.
func (p *plan) findRails() {
	var top, bottom bool
	for i := range p.role {
		if p.role[i] == NoRole {
			p.role[i] = railByName(p.names[i])
			if p.c.Nets[i].Global && p.c.Nets[i].Name == "0" {
				p.role[i] = Ground
			}
		}
		top, bottom = top || p.role[i] == Supply, bottom || p.role[i] == Ground
	}
	bulks := map[netlist.Kind]map[netlist.Net]int{netlist.NMOS: {}, netlist.PMOS: {}}
	for i := range p.c.Devices {
		d := &p.c.Devices[i]
		if m := bulks[d.Kind]; m != nil && d.Terminals[netlist.Bulk] != netlist.NoNet {
			m[d.Terminals[netlist.Bulk]]++
		}
	}
	if n := most(bulks[netlist.NMOS]); !bottom && n != netlist.NoNet && p.role[n] == NoRole {
		p.role[n] = Ground
	}
	if n := most(bulks[netlist.PMOS]); !top && n != netlist.NoNet && p.role[n] == NoRole {
		p.role[n] = Supply
	}
}

func most(count map[netlist.Net]int) netlist.Net {
	best := netlist.NoNet
	for n, k := range count {
		if best == netlist.NoNet || k > count[best] || k == count[best] && n < best {
			best = n
		}
	}
	return best
}

// railByName tells a supply by what it is usually called (common practice).
func railByName(name string) Role {
	s := strings.ToLower(strings.Trim(name, "!"))
	if k := strings.LastIndexByte(s, '/'); k >= 0 {
		s = s[k+1:]
	}
	switch {
	case s == "0", strings.HasPrefix(s, "gnd"), strings.HasPrefix(s, "vss"), strings.HasPrefix(s, "agnd"), strings.HasPrefix(s, "dgnd"),
		strings.HasPrefix(s, "avss"), strings.HasPrefix(s, "dvss"), strings.HasPrefix(s, "vgnd"):
		return Ground
	case strings.HasPrefix(s, "vdd"), strings.HasPrefix(s, "vcc"), strings.HasPrefix(s, "avdd"), strings.HasPrefix(s, "dvdd"),
		strings.HasPrefix(s, "vpwr"):
		return Supply
	}
	return NoRole
}

// findBulks finds the net that the bulks of most transistors of a polarity have; those are not drawn.
func (p *plan) findBulks() {
	p.bulk = map[netlist.Kind]netlist.Net{netlist.NMOS: netlist.NoNet, netlist.PMOS: netlist.NoNet}
	for kind := range p.bulk {
		count := map[netlist.Net]int{}
		for i := range p.c.Devices {
			if d := &p.c.Devices[i]; d.Kind == kind && d.Terminals[netlist.Bulk] != netlist.NoNet {
				count[d.Terminals[netlist.Bulk]]++
			}
		}
		p.bulk[kind] = most(count)
	}
}

func (p *plan) newPart(i int32) (*part, error) {
	d := &p.c.Devices[i]
	for t := range d.Kind.TerminalNames() {
		if n := d.Terminals[t]; n < 0 || int(n) >= len(p.c.Nets) {
			if d.Kind.IsMOS() && t == netlist.Bulk || d.Kind == netlist.Bipolar && t == 3 {
				continue
			}
			return nil, fmt.Errorf("device %d (%s): terminal %s has no net", i, d.Kind, d.Kind.TerminalNames()[t])
		}
	}
	k := &part{device: i, instance: -1, kind: d.Kind, shape: shapeOf(d.Kind)}
	p.setNets(k, d.Terminals[:])
	k.texts = p.label(int(i))
	return k, nil
}

// setNets tells which terminals are the upper and the lower pin, and what becomes of the bulk.
func (p *plan) setNets(k *part, nets []netlist.Net) {
	at := func(t int) netlist.Net {
		if t < len(nets) {
			return nets[t]
		}
		return netlist.NoNet
	}
	k.gate, k.bulk = netlist.NoNet, netlist.NoNet
	k.upperT, k.lowerT = 0, 1
	if k.shape == MOSShape || k.shape == BipolarShape {
		k.upperT, k.lowerT, k.gate = netlist.Drain, netlist.Source, at(1)
	}
	k.upper, k.lower = at(k.upperT), at(k.lowerT)
	if b := at(3); k.shape == MOSShape && b != netlist.NoNet || k.shape == BipolarShape && b != netlist.NoNet {
		if usual, ok := p.bulk[k.kind]; !ok || usual != b {
			k.bulk = b
		}
	}
}

func (p *plan) newMissing(m *Missing) *part {
	k := &part{device: -1, instance: -1, missing: m, kind: m.Kind, shape: shapeOf(m.Kind)}
	nets := slices.Clone(m.Nets)
	for len(nets) < 4 {
		nets = append(nets, netlist.NoNet)
	}
	p.setNets(k, nets)
	k.bulk = netlist.NoNet
	k.texts = []string{"? " + m.Name}
	return k
}

// newBox makes an instance a box: outputs on the right, all else on the left.
func (p *plan) newBox(i int32) *part {
	in := &p.c.Instances[i]
	k := &part{device: -1, instance: i, shape: BoxShape, texts: []string{in.Name, in.Of.Name}}
	var left, right []int
	for j, n := range in.Nets {
		if p.role[n] == Output {
			right = append(right, j)
		} else {
			left = append(left, j)
		}
	}
	for len(left) > len(right)+1 { // the last ones go to the right
		right = append(right, left[len(left)-1])
		left = left[:len(left)-1]
	}
	name := func(j int) string {
		if port := in.Of.Ports[j]; in.Of.Nets[port].Name != "" {
			return in.Of.Nets[port].Name
		}
		return strconv.Itoa(j + 1)
	}
	widest := [2]int{1, 1}
	for s, side := range [2][]int{left, right} {
		for _, j := range side {
			widest[s] = max(widest[s], textWidth(name(j)))
		}
	}
	rows := max(len(left), len(right))
	k.height = rows + 1 // half of it; pins are two units apart
	k.width = max(3, (widest[0]+widest[1]+3)/2, (textWidth(in.Of.Name)+2)/2, (textWidth(in.Name)+2)/2)
	for s, side := range [2][]int{left, right} {
		for r, j := range side {
			x, out := -k.width, Left
			if s == 1 {
				x, out = k.width, Right
			}
			k.pins = append(k.pins, Pin{Terminal: name(j), Net: in.Nets[j], At: Point{x, 2*r - rows + 1}, Side: out})
		}
	}
	return k
}

// elementLetters are those that elements of SPICE begin with.
var elementLetters = map[netlist.Kind]string{netlist.NMOS: "M", netlist.PMOS: "M", netlist.MOS: "M", netlist.Diode: "D", netlist.Capacitor: "C",
	netlist.Resistor: "R", netlist.Inductor: "L", netlist.Bipolar: "Q", netlist.JFET: "J", netlist.VoltageSource: "V", netlist.CurrentSource: "I"}

func (p *plan) label(i int) []string {
	if p.opt.Label != nil {
		return p.opt.Label(i)
	}
	d := &p.c.Devices[i]
	name := d.Name
	if name == "" { // as it is called in a netlist
		name = elementLetters[d.Kind] + strconv.Itoa(i+1)
	}
	if d.W > 0 && d.L > 0 {
		return []string{name, fmt.Sprintf("%.4g/%.4g", d.W/1000, d.L/1000)}
	}
	return []string{name}
}

// wired reports whether a net is drawn as a wire where it can be.
func (p *plan) wired(n netlist.Net) bool {
	return p.role[n] != Supply && p.role[n] != Ground && p.role[n] != Bias && p.pins[n] <= mostPins
}

// mostPins is how many pins a net has that is still drawn as a wire.
const mostPins = 12
