package bench

import (
	"fmt"
	"strings"

	"undermetal/netlist"
	"undermetal/spice"
)

// pin is a terminal of a device on a net.
type pin struct{ device, terminal int }

// view is a circuit by its nets, with its supplies.
type view struct {
	c        *netlist.Circuit
	pins     [][]pin // of each net
	port     []bool  // of each net
	vdd, vss netlist.Net
	supplies []netlist.Net // all positive ones, vdd first
	grounds  []netlist.Net // all others than vss that are ground, by name or tie
	why      []string      // how supplies were found
	written  []string      // nets as a netlist calls them, once somebody asks
}

var (
	supplyNames = []string{"VDD", "VCC", "AVDD", "DVDD", "VDDA", "VDDD", "VPWR", "VDDPIX", "VPIX"}
	groundNames = []string{"VSS", "GND", "AVSS", "DVSS", "VSSA", "VSSD", "VGND", "AGND", "DGND", "0"}
)

// newView looks at a circuit. Supplies are those that the caller gave as vdd and vss, then nets with usual names, then what the
// bulks of p- and n-channels are tied to (common practice).
func newView(c *netlist.Circuit, given map[string]netlist.Net) *view {
	v := &view{c: c, pins: make([][]pin, len(c.Nets)), port: make([]bool, len(c.Nets)), vdd: netlist.NoNet, vss: netlist.NoNet}
	for i := range c.Devices {
		for k, n := range c.Devices[i].Terminals {
			if n != netlist.NoNet {
				v.pins[n] = append(v.pins[n], pin{i, k})
			}
		}
	}
	for _, p := range c.Ports {
		v.port[p] = true
	}
	v.findSupplies(given)
	return v
}

// called reports whether a net's name is one of the given ones, as it is or with digits, "!" or an underscore and more behind it.
func called(name string, names []string) bool {
	name = strings.TrimSuffix(strings.ToUpper(name), "!")
	if k := strings.LastIndexByte(name, '/'); k >= 0 {
		name = name[k+1:]
	}
	for _, s := range names {
		if rest, ok := strings.CutPrefix(name, s); ok && (rest == "" || rest[0] == '_' || rest[0] == '<' || rest[0] == '[' || strings.Trim(rest, "0123456789#") == "") {
			return true
		}
	}
	return false
}

func (v *view) findSupplies(given map[string]netlist.Net) {
	taken := map[netlist.Net]bool{}
	for name, n := range given {
		if name != "vdd" && name != "vss" {
			taken[n] = true // is something else, whatever it is called
		}
	}
	add := func(list *[]netlist.Net, n netlist.Net, why string) {
		if taken[n] {
			return
		}
		taken[n] = true
		*list = append(*list, n)
		v.why = append(v.why, why)
	}
	var grounds []netlist.Net
	if n, ok := given["vdd"]; ok {
		add(&v.supplies, n, "vdd is "+v.name(n)+", as given")
	}
	if n, ok := given["vss"]; ok {
		add(&grounds, n, "vss is "+v.name(n)+", as given")
	}
	for i := range v.c.Nets {
		switch n := netlist.Net(i); {
		case called(v.c.Nets[i].Name, supplyNames):
			add(&v.supplies, n, "supply "+v.name(n)+" by its name")
		case called(v.c.Nets[i].Name, groundNames):
			add(&grounds, n, "ground "+v.name(n)+" by its name")
		}
	}
	for i := range v.c.Devices { // bulks: wells and substrate
		d := &v.c.Devices[i]
		switch {
		case d.Kind == netlist.PMOS:
			add(&v.supplies, d.Terminals[netlist.Bulk], "supply "+v.name(d.Terminals[netlist.Bulk])+": bulk of p-channels")
		case d.Kind == netlist.NMOS:
			add(&grounds, d.Terminals[netlist.Bulk], "ground "+v.name(d.Terminals[netlist.Bulk])+": bulk of n-channels")
		case spice.Photodiode(d):
			if a := d.Terminals[netlist.Anode]; v.bulkOnly(a) {
				add(&grounds, a, "ground "+v.name(a)+": anode of photodiodes")
			}
		}
	}
	if len(v.supplies) > 0 {
		v.vdd = v.supplies[0]
	}
	if len(grounds) > 0 {
		v.vss, v.grounds = grounds[0], grounds[1:]
	}
}

// bulkOnly reports whether nothing but bulks and diodes hang on a net.
func (v *view) bulkOnly(n netlist.Net) bool {
	for _, p := range v.pins[n] {
		if d := &v.c.Devices[p.device]; d.Kind != netlist.Diode && !(d.Kind.IsMOS() && p.terminal == netlist.Bulk) {
			return false
		}
	}
	return true
}

// name is what a net is called in messages: without a label what a netlist calls it, and its place.
func (v *view) name(n netlist.Net) string {
	info := &v.c.Nets[n]
	if info.Name != "" {
		return info.Name
	}
	if v.written == nil {
		var err error
		if v.written, err = spice.NetNames(v.c, ""); err != nil {
			return fmt.Sprintf("net %d", n+1)
		}
	}
	if info.Layer == "" {
		return v.written[n]
	}
	return fmt.Sprintf("%s (%s at %.3f, %.3f µm)", v.written[n], info.Layer, float64(info.At.X)/1000, float64(info.At.Y)/1000)
}

func (v *view) device(i int) *netlist.Device { return &v.c.Devices[i] }

// isRail reports whether a net is a supply or ground.
func (v *view) isRail(n netlist.Net) bool { return v.isSupply(n) || v.isGround(n) }

func (v *view) isSupply(n netlist.Net) bool { return contains(v.supplies, n) }

func (v *view) isGround(n netlist.Net) bool { return n == v.vss || contains(v.grounds, n) }

func contains(list []netlist.Net, n netlist.Net) bool {
	for _, x := range list {
		if x == n {
			return true
		}
	}
	return false
}

// gatesOn returns the transistors with their gate on a net, channelsOn those with their source or drain there.
func (v *view) gatesOn(n netlist.Net) []int {
	return v.on(n, func(t int) bool { return t == netlist.Gate })
}

func (v *view) channelsOn(n netlist.Net) []int {
	return v.on(n, func(t int) bool { return t == netlist.Drain || t == netlist.Source })
}

func (v *view) on(n netlist.Net, want func(terminal int) bool) []int {
	var list []int
	for _, p := range v.pins[n] {
		if v.device(p.device).Kind.IsMOS() && want(p.terminal) && (len(list) == 0 || list[len(list)-1] != p.device) {
			list = append(list, p.device)
		}
	}
	return list
}

// across returns the other end of a transistor's channel.
func across(d *netlist.Device, n netlist.Net) netlist.Net {
	if d.Terminals[netlist.Drain] == n {
		return d.Terminals[netlist.Source]
	}
	return d.Terminals[netlist.Drain]
}

// inputs are the ports, no rails, on which gates hang and no channel ends; outputs those where channels end. A circuit
// without ports has those of its nets that have a name.
func (v *view) inputs() []netlist.Net {
	return v.pick(func(n netlist.Net) bool { return len(v.gatesOn(n)) > 0 && len(v.channelsOn(n)) == 0 })
}

func (v *view) outputs() []netlist.Net {
	return v.pick(func(n netlist.Net) bool { return len(v.channelsOn(n)) > 0 })
}

func (v *view) pick(ok func(netlist.Net) bool) []netlist.Net {
	var list []netlist.Net
	for i := range v.c.Nets {
		n := netlist.Net(i)
		if (v.port[n] || len(v.c.Ports) == 0 && v.c.Nets[n].Name != "") && !v.isRail(n) && ok(n) {
			list = append(list, n)
		}
	}
	return list
}

// level1 returns the large-signal model of a device.
func level1(p *spice.Process, d *netlist.Device) spice.Level1 {
	return p.Level1(d.Kind == netlist.PMOS, d.L)
}

// width is the W that the deck has.
func width(d *netlist.Device) float64 {
	if d.Ratio > 0 && d.L > 0 {
		return d.Ratio * d.L
	}
	return d.W
}

// beta is KP·W/L.
func beta(p *spice.Process, d *netlist.Device) float64 { return level1(p, d).KP * width(d) / d.L }
