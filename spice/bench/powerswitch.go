package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var switchBench = &Bench{text: mustTemplate("switch"), bind: bindSwitch, values: switchValues, figures: switchFigures}

// switchDrop is the voltage in V across a switch that is on: small, so that it is linear.
const switchDrop = 0.05

// switchOf returns the transistors of a switch: all between the two nets with their gate on the third.
func switchOf(v *view, gate, a, b netlist.Net) []int {
	var list []int
	for _, i := range v.gatesOn(gate) {
		d := v.device(i)
		if n := d.Terminals; n[netlist.Drain] == a && n[netlist.Source] == b || n[netlist.Drain] == b && n[netlist.Source] == a {
			list = append(list, i)
		}
	}
	return list
}

// bindSwitch takes the widest transistor, where nobody says more: it is four times as wide as its length's other ones, and
// its gate is no rail.
func bindSwitch(v *view, ports map[string]netlist.Net) (string, error) {
	best, second := -1, 0.0
	for i := range v.c.Devices {
		d := v.device(i)
		if d.Kind != netlist.NMOS && d.Kind != netlist.PMOS {
			continue
		}
		n := d.Terminals
		if g, ok := ports["gate"]; ok && n[netlist.Gate] != g || n[netlist.Drain] == n[netlist.Source] || v.isRail(n[netlist.Gate]) {
			continue
		}
		if o, ok := ports["out"]; ok && n[netlist.Drain] != o && n[netlist.Source] != o {
			continue
		}
		if o, ok := ports["in"]; ok && n[netlist.Drain] != o && n[netlist.Source] != o {
			continue
		}
		switch w := width(d) / d.L; {
		case best < 0 || w > width(v.device(best))/v.device(best).L:
			if best >= 0 {
				second = width(v.device(best)) / v.device(best).L
			}
			best = i
		default:
			second = max(second, w)
		}
	}
	if best < 0 {
		return "", errors.New("no transistor has the ports on it")
	}
	d := v.device(best)
	_, told := ports["gate"]
	if ratio := width(d) / d.L; !told && (ratio < 20 || ratio < 4*second) {
		return "", fmt.Errorf("no transistor stands out by its W/L (the widest has %.3g, the next %.3g)\n    say which with --port gate=NET and --port out=NET", ratio, second)
	}
	ports["gate"] = d.Terminals[netlist.Gate]
	a, b := d.Terminals[netlist.Drain], d.Terminals[netlist.Source]
	if v.isRail(b) || given(ports, "in") == b || given(ports, "out") == a {
		a, b = b, a
	}
	if v.isRail(b) {
		return "", errors.New("the widest transistor lies between two rails")
	}
	ports["in"], ports["out"] = a, b
	return fmt.Sprintf("%s from %s to %s, W/L %.4g, next %.4g", word(v, best), v.name(a), v.name(b), width(d)/d.L, second), nil
}

// switchState returns the transistors, whether they are p-channels, and the voltage at the end that they lead from.
func (s *stage) switchState() (list []int, p bool, level float64) {
	list = switchOf(s.view, s.ports["gate"], s.ports["in"], s.ports["out"])
	p = s.device(list[0]).Kind == netlist.PMOS
	if p || s.isSupply(s.ports["in"]) {
		level = s.Process.SupplyV
	}
	return list, p, level
}

func switchValues(s *stage) (texts, error) {
	_, p, level := s.switchState()
	vdd := s.Process.SupplyV
	x := texts{}
	x.set("on", vdd)
	x.set("off", 0)
	if p {
		x.set("on", 0)
		x.set("off", vdd)
	}
	x.set("high", level)
	x.set("level", level-switchDrop)
	if level == 0 {
		x.set("level", switchDrop)
	}
	if s.isGround(s.ports["in"]) {
		x["high"] = "-"
	}
	return x, nil
}

func switchFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	list, p, level := s.switchState()
	on, err := single(r, "on", "i(Vout)")
	if err != nil {
		return nil, err
	}
	off, err := single(r, "off", "i(Vout)")
	if err != nil {
		return nil, err
	}
	vdd := s.Process.SupplyV
	gate, bulk, other := vdd, 0.0, level-switchDrop
	if p {
		gate, bulk = 0, vdd
	}
	if level == 0 {
		other = switchDrop
	}
	sum := 0.0
	for _, i := range list {
		d := s.device(i)
		sum += math.Abs(level1(s.Process, d).At(width(d), d.L, other, gate, level, bulk).ID)
	}
	return []Figure{
		{"resistance when on, at 50 mV", "ohm", switchDrop / math.Abs(on), switchDrop / sum, 0.01, "V/I, about 1/(β·(VGS − VT))", fromShichman},
		{"current when off, at 50 mV", "A", math.Abs(off), math.NaN(), 0, "", ""},
	}, nil
}
