package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var (
	amplifierText  = mustTemplate("amplifier")
	amplifierBench = &Bench{text: amplifierText, bind: bindAmplifier, values: amplifierValues, figures: amplifierFigures}
)

const (
	amplifierLoad = 1e-12
	biasCurrent   = 10e-6
)

func bindAmplifier(v *view, ports map[string]netlist.Net) (string, error) {
	usual(v, ports, &template{ports: []Port{amplifierText.ports[0], amplifierText.ports[1], amplifierText.ports[3]}}, v.inputs())
	usual(v, ports, &template{ports: []Port{amplifierText.ports[2]}}, v.outputs())
	for _, p := range []string{"in", "out"} {
		if _, ok := ports[p]; !ok {
			return "", fmt.Errorf("no net has a usual name for %s\n    say --port %s=NET", p, p)
		}
	}
	if len(v.gatesOn(ports["in"])) == 0 {
		return "", fmt.Errorf("no gate hangs on %s", v.name(ports["in"]))
	}
	if n, p := inverterOf(v, ports["in"], ports["out"]); len(n) > 0 && len(p) == 0 || len(n) > 0 || len(p) > 0 {
		return fmt.Sprintf("in is %s, out is %s: a common-source stage", v.name(ports["in"]), v.name(ports["out"])), nil
	}
	if followerOf(v, ports["in"], ports["out"]) >= 0 {
		return "", errors.New("in and out are those of a source follower, which does not invert")
	}
	return fmt.Sprintf("in is %s, out is %s by name", v.name(ports["in"]), v.name(ports["out"])), nil
}

func amplifierValues(s *stage) (texts, error) {
	x := texts{"supply": "-", "half": "-", "bias": "-"}
	vdd := s.Process.SupplyV
	if _, ok := s.ports["inp"]; ok {
		x.set("half", vdd/2)
	}
	if n, ok := s.ports["bias"]; ok {
		for _, i := range s.gatesOn(n) {
			d := s.device(i)
			v := diodeVoltage(s.Process, d, biasCurrent)
			if d.Kind == netlist.PMOS {
				v = vdd - v
			}
			x.set("bias", v)
		}
	}
	x.set("load", amplifierLoad)
	x.set("fhigh", 1e10)
	if source := s.supplyCurrent(); source != "" {
		x["supply"] = source
	}
	return x, nil
}

func amplifierFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	level, err := single(r, "op", "v("+s.node("out")+")")
	if err != nil {
		return nil, err
	}
	w, err := waveOf(r, "gain", "v("+s.node("out")+")")
	if err != nil {
		return nil, err
	}
	gain := w.y[0]
	corner := w.first(gain/math.Sqrt2, false, 0)
	unity := w.first(1, false, 0)
	wantLevel, wantGain, wantCorner, formula := s.commonSource()
	f := []Figure{{"output where in = out", "V", level, wantLevel, 0.01, formula, fromShichman},
		{"gain at 1 Hz", "", gain, wantGain, 0.02, "gm/(gds + 1/R) of all that hangs on the output", fromText},
		{"bandwidth, 1 pF", "MHz", corner / 1e6, wantCorner / 1e6, 0.25, "(gds + 1/R)/(2πC), C the load alone", fromText},
		{"gain is 1 at, 1 pF", "MHz", unity / 1e6, math.NaN(), 0, "", ""}}
	if source := s.supplyCurrent(); source != "" {
		if i, err := single(r, "op", source); err == nil {
			f = append(f, Figure{"supply current", "µA", -i * 1e6, math.NaN(), 0, "", ""})
		}
	}
	return f, nil
}

// commonSource is the operating point, gain and bandwidth of a single stage: transistors from the output to the rails, with their
// gates on the input, on the output or on the bias, and resistors to the rails. NaN of anything else.
func (s *stage) commonSource() (level, gain, corner float64, formula string) {
	nan := math.NaN()
	in, out, vdd := s.ports["in"], s.ports["out"], s.Process.SupplyV
	values, err := amplifierValues(s)
	if err != nil {
		return nan, nan, nan, ""
	}
	bias := nan
	if n, ok := s.ports["bias"]; ok && n != in {
		fmt.Sscan(values["bias"], &bias)
	}
	rail := func(n netlist.Net) (float64, bool) {
		switch {
		case s.isSupply(n):
			return vdd, true
		case s.isGround(n):
			return 0, true
		}
		return 0, false
	}
	// sum returns the current that leaves the output, and what it changes by with out and in.
	sum := func(v float64) (i, gout, gin float64, ok bool) {
		for _, p := range s.pins[out] {
			d := s.device(p.device)
			switch {
			case d.Kind == netlist.Resistor:
				far, isRail := rail(otherEnd(d, out))
				if !isRail {
					return 0, 0, 0, false
				}
				i, gout = i+(v-far)/d.Value, gout+1/d.Value
			case d.Kind.IsMOS() && (p.terminal == netlist.Drain || p.terminal == netlist.Source):
				far, isRail := rail(across(d, out))
				g := d.Terminals[netlist.Gate]
				vg := v
				if r, ok := rail(g); ok {
					vg = r
				} else if g == given(s.ports, "bias") && g != in {
					vg = bias
				} else if g != in && g != out {
					return 0, 0, 0, false
				}
				if !isRail {
					return 0, 0, 0, false
				}
				m, w := level1(s.Process, d), width(d)
				const h = 1e-6
				at := func(vo, vi float64) float64 { return m.At(w, d.L, vo, vi, far, far).ID }
				i += at(v, vg)
				gout += (at(v+h, vg) - at(v-h, vg)) / (2 * h)
				if g == in {
					gin += (at(v, vg+h) - at(v, vg-h)) / (2 * h)
				} else if g == out {
					gout += (at(v, vg+h) - at(v, vg-h)) / (2 * h)
				}
			}
		}
		return i, gout, gin, true
	}
	if _, _, _, ok := sum(vdd / 2); !ok || in == out {
		return nan, nan, nan, ""
	}
	level = root(func(v float64) float64 { i, _, _, _ := sum(v); return i }, 1e-6, vdd-1e-6)
	_, gout, gin, _ := sum(level)
	return level, math.Abs(gin / gout), gout / (2 * math.Pi * amplifierLoad), "the currents on the output add up to 0"
}

func otherEnd(d *netlist.Device, n netlist.Net) netlist.Net {
	if d.Terminals[0] == n {
		return d.Terminals[1]
	}
	return d.Terminals[0]
}
