package bench

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

var readingsBench = &Bench{anySupply: true, text: mustTemplate("readings"), bind: bindReadings, values: readingsValues, figures: readingsFigures}

// questioned returns the device in question: the transistor or capacitor with the largest gate, or plates, of those on the port
// gate where it is given.
func questioned(v *view, ports map[string]netlist.Net) int {
	best, most := -1, 0.0
	for i := range v.c.Devices {
		d := v.device(i)
		area, on := d.Area, d.Terminals[0]
		if d.Kind == netlist.NMOS || d.Kind == netlist.PMOS {
			area, on = width(d)*d.L, d.Terminals[netlist.Gate]
		} else if d.Kind != netlist.Capacitor {
			continue
		}
		if n, ok := ports["gate"]; ok && n != on {
			continue
		}
		if area > most {
			best, most = i, area
		}
	}
	return best
}

func bindReadings(v *view, ports map[string]netlist.Net) (string, error) {
	i := questioned(v, ports)
	if i < 0 {
		return "", errors.New("no transistor and no drawn capacitor is there to be read otherwise")
	}
	d := v.device(i)
	if d.Kind == netlist.Capacitor {
		return "", fmt.Errorf("%s is a capacitor by its drawing or by an answer: W and L of a transistor are not known of it", word(v, i))
	}
	why := "has the largest gate"
	if d.Terminals[netlist.Drain] == d.Terminals[netlist.Source] {
		why += ", and source and drain are one net"
	}
	return fmt.Sprintf("%s %s; undermetal questions says what speaks for which reading", word(v, i), why), nil
}

// reading is the device in question: what its gate takes when the channel is on, and the voltage that turns it on, both as for an n-channel.
func (s *stage) reading() (d *netlist.Device, farad, vg float64) {
	d = s.device(questioned(s.view, s.ports))
	vg = s.Process.SupplyV
	if d.Kind == netlist.PMOS {
		vg = -vg
	}
	return d, s.Process.Cox() * width(d) * d.L * 1e-18, vg
}

func readingsValues(s *stage) (texts, error) {
	d, farad, vg := s.reading()
	alone := *d
	alone.Name = "if_transistor"
	alone.Terminals = [4]netlist.Net{0, 1, 2, 2}
	c := &netlist.Circuit{Nets: []netlist.NetInfo{{Name: "td"}, {Name: "tg"}, {}}, Devices: []netlist.Device{alone}}
	l, err := spice.List(c, spice.ListOptions{Ground: 2, Process: s.Process, Models: s.Models})
	if err != nil {
		return nil, err
	}
	model := ""
	for i := range s.c.Devices {
		if s.device(i) == d {
			model = s.list.Models[i]
		}
	}
	x := texts{}
	x["transistor"] = fmt.Sprintf("%s %s %s 0 0 %s W=%gu L=%gu AS=%gp AD=%gp PS=%gu PD=%gu", s.list.Take(l.Elements[0]), s.node("td"), s.node("tg"), model,
		width(d)/1e3, d.L/1e3, d.AS/1e6, d.AD/1e6, d.PS/1e3, d.PD/1e3)
	x.set("farad", farad)
	x.set("vg", vg)
	return x, nil
}

func readingsFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	d, farad, vg := s.reading()
	get := func(plot, vector string) float64 {
		v, err := single(r, plot, s.current(vector))
		if err != nil {
			return math.NaN()
		}
		return math.Abs(v)
	}
	t := s.Process.Transistor(d.Kind == netlist.PMOS)
	overlap := (t.CGSO+t.CGDO)*width(d)*1e-9 + t.CGBO*d.L*1e-9
	on := math.Abs(level1(s.Process, d).At(width(d), d.L, 0.05, vg, 0, 0).ID)
	w := 2 * math.Pi * 1e6
	return []Figure{
		{"if transistor: current at 50 mV, gate on", "µA", get("passes", "i(Vdrain)") * 1e6, on * 1e6, 0.01, "β(VGS − VT − VDS/2)·VDS", fromShichman},
		{"if transistor: its gate takes at 1 MHz", "fF", get("takes", "i(Vgate)") / w * 1e15, (farad + overlap) * 1e15, 0.02, "Cox·W·L and the overlaps", fromText},
		{"if capacitor: current at 50 mV", "µA", get("passes", "i(Vplate)") * 1e6, 0, 0, "none: plates are insulated", fromPhysics},
		{"if capacitor: its plate takes at 1 MHz", "fF", get("takes", "i(Vupper)") / w * 1e15, farad * 1e15, 0.01, "Cox·area", fromPhysics},
	}, nil
}

// AsCapacitor returns a copy of a circuit in which one transistor is read as a capacitor: its gate over its oxide, half of it to
// each end of what was its channel, all to the one where source and drain are one net. The error is a phrase.
func AsCapacitor(c *netlist.Circuit, device int, p *spice.Process) (*netlist.Circuit, error) {
	d := c.Devices[device]
	if !d.Kind.IsMOS() || width(&d) == 0 || d.L == 0 {
		return nil, fmt.Errorf("%s is no transistor of known size, to be read as a capacitor", spice.DeviceWords(&d, device))
	}
	out := *c
	out.Devices = slices.Clone(c.Devices)
	plate := func(name string, to netlist.Net, part float64) netlist.Device {
		return netlist.Device{Name: name, Kind: netlist.Capacitor, Terminals: [4]netlist.Net{d.Terminals[netlist.Gate], to, netlist.NoNet, netlist.NoNet},
			Value: part * p.Cox() * width(&d) * d.L * 1e-18, At: d.At}
	}
	name := spice.DeviceName(&d, device)
	if d.Terminals[netlist.Drain] == d.Terminals[netlist.Source] {
		out.Devices[device] = plate("C_"+name, d.Terminals[netlist.Drain], 1)
		return &out, nil
	}
	out.Devices[device] = plate("C_"+name, d.Terminals[netlist.Drain], 0.5)
	out.Devices = append(out.Devices, plate("C_"+name+"_2", d.Terminals[netlist.Source], 0.5))
	return &out, nil
}
