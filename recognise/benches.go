package recognise

import (
	"fmt"
	"strings"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// benchPorts says by which net of a pattern a port of a test bench of package spice/bench is known.
type benchPorts struct {
	bench string
	ports map[string]string
}

// benchesOf are the benches for patterns of the library. Of the amplifiers, "in" is the input that inverts.
var benchesOf = map[string]benchPorts{
	"pixel_3t":                  {"pixel", map[string]string{"pd": "pd", "rst": "rst", "sel": "row", "col": "col"}},
	"pixel_4t":                  {"pixel4t", map[string]string{"ppd": "ppd", "tx": "tg", "fd": "fd", "rst": "rst", "sel": "row", "col": "col"}},
	"source_follower":           {"follower", map[string]string{"in": "in", "out": "out"}},
	"mirror_simple":             {"mirror", map[string]string{"in": "in", "out": "out"}},
	"ota_5t":                    {"amplifier", map[string]string{"in": "b", "inp": "a", "out": "out", "bias": "vb"}},
	"opamp_two_stage":           {"amplifier", map[string]string{"in": "a", "inp": "b", "out": "out", "bias": "vb"}},
	"charge_pump_dickson":       {"pump", map[string]string{"clk": "phi1", "clkb": "phi2", "out": "out"}},
	"charge_pump_cross_coupled": {"pump", map[string]string{"clk": "c", "clkb": "cn", "out": "out"}},
	"ring_starved_3":            {"oscillator", map[string]string{"out": "o1"}},
}

// Bench returns the name of the test bench that drives what a suggestion is about, and the nets of its ports, vdd and vss among them;
// of an array it is that of one member. An empty name: there is no bench for it.
func (s *Suggestion) Bench() (name string, ports map[string]netlist.Net) { return s.Fit.Bench() }

// Bench is what Suggestion.Bench is, for one fit. A port whose net is missing is left out.
func (f *Fit) Bench() (name string, ports map[string]netlist.Net) {
	ports = map[string]netlist.Net{}
	set := func(port string, n netlist.Net) {
		if n != netlist.NoNet {
			ports[port] = n
		}
	}
	p := f.Pattern
	inputs, outputs, clocks := f.withRole(library.Input), f.withRole(library.Output), f.withRole(library.Clock)
	known, ok := benchesOf[p.Name]
	switch {
	case ok:
		name = known.bench
		for port, net := range known.ports {
			set(port, f.Net(net))
		}
	case p.Name == "inverter" || strings.HasPrefix(p.Name, "inverter_v"):
		name = "inverter"
		if len(inputs) == 1 && len(outputs) == 1 {
			set("in", inputs[0])
			set("out", outputs[0])
		}
	case strings.HasPrefix(p.Name, "ring_oscillator_") && len(outputs) > 0:
		name = "oscillator"
		set("out", outputs[0])
	case strings.HasPrefix(p.Name, "flip_flop") || strings.HasPrefix(p.Name, "latch_"):
		name = "clocked"
		if n := f.Net("clk"); n != netlist.NoNet {
			set("clk", n)
		} else if len(clocks) > 0 {
			set("clk", clocks[0])
		}
		set("d", f.Net("d"))
		set("out1", f.Net("q"))
	case p.Group == "digital" && len(outputs) == 1 && len(inputs) > 1 && len(clocks) == 0:
		name = "gate"
		for i, n := range inputs {
			set(fmt.Sprintf("in%d", i+1), n)
		}
		set("out1", outputs[0])
	default:
		return "", nil
	}
	supply, ground := library.Supply, library.Ground
	if f.Mirror {
		supply, ground = ground, supply
	}
	if n := f.withRole(supply); len(n) > 0 {
		set("vdd", n[0])
	}
	if n := f.withRole(ground); len(n) > 0 {
		set("vss", n[0])
	}
	return name, ports
}

// withRole returns the nets of the ports of a role.
func (f *Fit) withRole(role string) []netlist.Net {
	var nets []netlist.Net
	for i := range f.Pattern.Ports {
		n := f.Ports[i]
		if f.Pattern.Ports[i].Role == role && n != netlist.NoNet {
			nets = append(nets, n)
		}
	}
	return nets
}
