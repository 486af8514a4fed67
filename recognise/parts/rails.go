package parts

import (
	"slices"
	"strings"

	"undermetal/netlist"
)

// Rail says whether a net is a supply.
type Rail uint8

// The kinds of net. Ground is the lower supply, Supply the upper.
const (
	Signal Rail = iota
	Ground
	Supply
)

var (
	groundNames = []string{"GND", "VSS", "VEE", "GROUND", "VGND", "AGND", "DGND", "PGND", "SGND", "AVSS", "DVSS", "GNDA", "GNDD", "VSSA",
		"VSSD", "VSSIO", "SUB", "VSUB", "VBB"}
	supplyNames = []string{"VDD", "VCC", "VPP", "VPWR", "AVDD", "DVDD", "PVDD", "VDDA", "VDDD", "VDDIO", "VDDQ", "VCCA", "VCCD", "VBAT"}
)

// RailByName tells a supply by its name (common practice). A path before it, a number behind it and signs do not count.
func RailByName(name string) Rail {
	s := bare(name)
	switch {
	case slices.Contains(groundNames, s):
		return Ground
	case slices.Contains(supplyNames, s):
		return Supply
	}
	return Signal
}

func bare(name string) string {
	s := strings.ToUpper(name[strings.LastIndex(name, "/")+1:])
	s, _, _ = strings.Cut(s, "#")
	return strings.Trim(s, "!_+-.0123456789")
}

// startRail tells by how a name begins what may be a supply of something: VDDPIX, VSS_CORE. Only where the net looks like one, too.
func startRail(name string) Rail {
	s := bare(name)
	switch {
	case strings.HasPrefix(s, "VSS"), strings.HasPrefix(s, "GND"):
		return Ground
	case strings.HasPrefix(s, "VDD"), strings.HasPrefix(s, "VCC"):
		return Supply
	}
	return Signal
}

// Rails returns what New takes for supplies, by net.
func Rails(c *netlist.Circuit) []Rail { return findRails(c, Known{}) }

// findRails tells supplies by name, then by bulk: the net that is the bulk of most n transistors is a ground, that of most p
// transistors a supply, where its name says nothing else and channels end on it.
func findRails(c *netlist.Circuit, known Known) []Rail {
	rails := make([]Rail, len(c.Nets))
	channels, gates := make([]int32, len(c.Nets)), make([]int32, len(c.Nets))
	bulks := map[netlist.Kind]map[netlist.Net]int{netlist.NMOS: {}, netlist.PMOS: {}}
	for i := range c.Devices {
		d := &c.Devices[i]
		if !d.Kind.IsMOS() {
			continue
		}
		channels[d.Terminals[netlist.Drain]]++
		channels[d.Terminals[netlist.Source]]++
		gates[d.Terminals[netlist.Gate]]++
		if n := bulks[d.Kind]; n != nil && d.Terminals[netlist.Bulk] != netlist.NoNet {
			n[d.Terminals[netlist.Bulk]]++
		}
	}
	for i := range c.Nets {
		info := &c.Nets[i]
		if info.Global && info.Name == "0" {
			rails[i] = Ground
			continue
		}
		for _, name := range append([]string{info.Name}, info.Labels...) {
			if rails[i] == Signal {
				rails[i] = RailByName(name)
			}
			if bare(name) == "SUB" && gates[i] > 0 && bulks[netlist.NMOS][netlist.Net(i)]+bulks[netlist.PMOS][netlist.Net(i)] == 0 {
				rails[i] = Signal // an adder's "subtract", and no substrate
			}
			if rails[i] == Signal && channels[i] >= 4 && gates[i]*4 <= channels[i] {
				rails[i] = startRail(name)
			}
		}
	}
	n, p := most(bulks[netlist.NMOS]), most(bulks[netlist.PMOS])
	if n != p {
		if n != netlist.NoNet && rails[n] == Signal && channels[n] > 0 {
			rails[n] = Ground
		}
		if p != netlist.NoNet && rails[p] == Signal && channels[p] > 0 {
			rails[p] = Supply
		}
	}
	for _, n := range known.Supply {
		rails[n] = Supply
	}
	for _, n := range known.Ground {
		rails[n] = Ground
	}
	return rails
}

// most returns the net with the largest count, of equals the first.
func most(count map[netlist.Net]int) netlist.Net {
	best := netlist.NoNet
	for n, c := range count {
		if best == netlist.NoNet || c > count[best] || c == count[best] && n < best {
			best = n
		}
	}
	return best
}
