package schematic

import (
	"fmt"
	"slices"

	"undermetal/netlist"
)

// part is what becomes one symbol.
type part struct {
	device, instance int32 // -1: none
	missing          *Missing
	array            *Array
	shape            Shape
	kind             netlist.Kind

	// Of all but boxes: the nets of the channel's or the device's upper and lower pin, and which terminals these are.
	upper, lower   netlist.Net
	upperT, lowerT int
	gate           netlist.Net // NoNet: has none
	bulk           netlist.Net // NoNet: not shown, or joined to the source

	pins   []Pin         // of a box, about its middle
	unseen []netlist.Net // of an array's box: nets that nothing else on the drawing has

	look     Look
	of       int // of a missing piece: its group
	texts    []string
	sideways bool
	swapped  bool // of what lies sideways: its lower pin is on the right
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
	c       *netlist.Circuit
	opt     Options
	names   []string
	role    []Role
	parts   []*part
	ports   []bool
	bulk    map[netlist.Kind]netlist.Net
	blocks  [][]*part
	pins    []int // by net: how many pins it has on the drawing
	sheets  []int // by net: on how many sheets it is
	level   []float64
	degree  []int  // by net: how many ends of channels it has
	pushed  []bool // by net: between the stages of a charge pump
	couples []bool // by net: capacitors alone bring a signal in
	clock   []bool // by net: opens switches that lie sideways
	diodes  []int  // by net: how many ends of diodes it has
	group   map[int32]int
}

func newPlan(c *netlist.Circuit, opt Options) (*plan, error) {
	p := &plan{c: c, opt: opt, role: make([]Role, len(c.Nets)), ports: make([]bool, len(c.Nets)), pins: make([]int, len(c.Nets)),
		sheets: make([]int, len(c.Nets)), degree: make([]int, len(c.Nets)), diodes: make([]int, len(c.Nets)), group: map[int32]int{}}
	for n, r := range opt.Roles {
		p.role[n] = r
	}
	for _, n := range c.Ports {
		p.ports[n] = true
	}
	p.nameNets()
	p.findRails()
	p.findBulks()
	hidden := p.hideArrays()
	for i := range c.Devices {
		if hidden[int32(i)] {
			continue
		}
		k, err := p.newPart(int32(i))
		if err != nil {
			return nil, err
		}
		p.parts = append(p.parts, k)
	}
	for i := range c.Instances {
		p.parts = append(p.parts, p.newBox(int32(i)))
	}
	for g := range p.opt.Groups {
		for _, d := range p.opt.Groups[g].Devices {
			p.group[d] = g
		}
		for m := range p.opt.Groups[g].Missing {
			k := p.newMissing(&p.opt.Groups[g].Missing[m])
			k.of = g
			p.parts = append(p.parts, k)
		}
	}
	p.addArrays()
	for _, k := range p.parts {
		k.nets(func(n netlist.Net) { p.pins[n]++ })
	}
	return p, nil
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
		if p.role[i] == NoRole && p.ports[i] {
			p.role[i] = portByName(p.names[i])
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
	free := func(n netlist.Net) bool { return n != netlist.NoNet && p.role[n] == NoRole }
	if n := most(bulks[netlist.NMOS]); !bottom && free(n) {
		p.role[n] = Ground
	}
	if n := most(bulks[netlist.PMOS]); !top && free(n) {
		p.role[n], top = Supply, true
	}
	if !top {
		p.guessSupply()
	}
}

// guessSupply takes a net for the supply where nothing says which one is: no gate and no bulk is on it, two channels at least, and more
// channels than on any other lead from it to nets that drive gates.
func (p *plan) guessSupply() {
	gated, ends, drives := map[netlist.Net]bool{}, map[netlist.Net]int{}, map[netlist.Net]int{}
	for i := range p.c.Devices {
		if d := &p.c.Devices[i]; d.Kind.IsMOS() {
			gated[d.Terminals[netlist.Gate]] = true
		}
	}
	for i := range p.c.Devices {
		d := &p.c.Devices[i]
		a, b := d.Terminals[netlist.Drain], d.Terminals[netlist.Source]
		if !d.Kind.IsMOS() || a == b {
			continue
		}
		for _, n := range [...][2]netlist.Net{{a, b}, {b, a}} {
			ends[n[0]]++
			if gated[n[1]] && !gated[n[0]] && n[0] != netlist.NoNet && p.role[n[0]] == NoRole && n[0] != d.Terminals[netlist.Bulk] {
				drives[n[0]]++
			}
		}
	}
	for n := range drives {
		if ends[n] < 2 {
			delete(drives, n)
		}
	}
	if n := most(drives); n != netlist.NoNet {
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
	if p.opt.Look != nil {
		k.look = p.opt.Look(int(i))
	}
	if k.look == Photodiode && k.shape == DiodeShape {
		k.shape = PhotodiodeShape
	}
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
	if k.shape.gated() {
		k.upperT, k.lowerT, k.gate = netlist.Drain, netlist.Source, at(1)
	}
	k.upper, k.lower = at(k.upperT), at(k.lowerT)
	if b := at(3); k.shape == MOSShape && b != netlist.NoNet || k.shape == BipolarShape && b != netlist.NoNet {
		if usual, ok := p.bulk[k.kind]; !ok || usual != b {
			k.bulk = b
		}
	}
}

// groupOf returns the group that a part belongs to.
func (p *plan) groupOf(k *part) (int, bool) {
	if k.missing != nil {
		return k.of, true
	}
	g, ok := p.group[k.device]
	return g, ok && k.device >= 0
}

func (p *plan) newMissing(m *Missing) *part {
	k := &part{device: -1, instance: -1, missing: m, kind: m.Kind, shape: shapeOf(m.Kind)}
	nets := slices.Clone(m.Nets)
	for len(nets) < 4 {
		nets = append(nets, netlist.NoNet)
	}
	p.setNets(k, nets)
	k.bulk = netlist.NoNet
	k.texts = []string{"? " + shortened(m.Name)}
	return k
}

// wired reports whether a net is drawn as a wire where it can be.
func (p *plan) wired(n netlist.Net) bool {
	return p.role[n] != Supply && p.role[n] != Ground && p.role[n] != Bias && p.pins[n] <= mostPins
}

// mostPins is how many pins a net has that is still drawn as a wire.
const mostPins = 12
