package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var inverterBench = &Bench{text: mustTemplate("inverter"), bind: bindInverter, values: inverterValues, figures: inverterFigures}

const inverterLoad = 1e-12

// inverterOf returns the n- and p-channels between out and the rails with their gates on in.
func inverterOf(v *view, in, out netlist.Net) (n, p []int) {
	for _, i := range v.channelsOn(out) {
		d := v.device(i)
		if d.Terminals[netlist.Gate] != in {
			continue
		}
		switch far := across(d, out); {
		case d.Kind == netlist.NMOS && v.isGround(far):
			n = append(n, i)
		case d.Kind == netlist.PMOS && v.isSupply(far):
			p = append(p, i)
		}
	}
	return n, p
}

func bindInverter(v *view, ports map[string]netlist.Net) (string, error) {
	if _, ok := ports["in"]; !ok {
		var ins []netlist.Net
		for _, in := range v.inputs() {
			for _, out := range v.outputs() {
				if n, p := inverterOf(v, in, out); len(n) > 0 && len(p) > 0 && len(v.channelsOn(out)) == len(n)+len(p) {
					ins = append(ins, in)
					break
				}
			}
		}
		if _, err := theOne(v, ports, "in", "input of an inverter", ins); err != nil {
			return "", err
		}
	}
	in := ports["in"]
	if _, ok := ports["out"]; !ok {
		var outs []netlist.Net
		for i := range v.c.Nets {
			if n, p := inverterOf(v, in, netlist.Net(i)); len(n) > 0 && len(p) > 0 {
				outs = append(outs, netlist.Net(i))
			}
		}
		if _, err := theOne(v, ports, "out", "output of an inverter", outs); err != nil {
			return "", err
		}
	}
	n, p := inverterOf(v, in, ports["out"])
	if len(n) == 0 || len(p) == 0 {
		return "", errors.New("no n-channel to ground and p-channel to the supply have their gates on in and meet on out")
	}
	return fmt.Sprintf("%s and %s between %s and the rails, gates on %s", word(v, n[0]), word(v, p[0]), v.name(ports["out"]), v.name(in)), nil
}

// currents returns the current in A that an inverter's n- and p-channels draw from and give to its output.
func (s *stage) inverterCurrents(vin, vout float64) (down, up float64) {
	n, p := inverterOf(s.view, s.ports["in"], s.ports["out"])
	vdd := s.Process.SupplyV
	for _, i := range n {
		d := s.device(i)
		down += level1(s.Process, d).At(width(d), d.L, vout, vin, 0, 0).ID
	}
	for _, i := range p {
		d := s.device(i)
		up -= level1(s.Process, d).At(width(d), d.L, vout, vin, vdd, vdd).ID
	}
	return down, up
}

// half is the time in s in which the load goes from one rail to the middle: ∫ C dV/I.
func (s *stage) halfTime(falling bool) float64 {
	vdd := s.Process.SupplyV
	c := inverterLoad
	n, p := inverterOf(s.view, s.ports["in"], s.ports["out"])
	for _, i := range append(n, p...) {
		d := s.device(i)
		t := s.Process.Transistor(d.Kind == netlist.PMOS)
		c += t.CGDO*width(d)*1e-9 + t.Junction(max(d.AD, d.AS), max(d.PD, d.PS), vdd/2)
	}
	sum := 0.0
	const steps = 2000
	for k := range steps {
		v := vdd/2 + (float64(k)+0.5)/steps*vdd/2 // from the middle to the rail that it starts from
		down, _ := s.inverterCurrents(vdd, v)
		_, up := s.inverterCurrents(0, vdd-v)
		if falling {
			sum += c * vdd / 2 / steps / down
		} else {
			sum += c * vdd / 2 / steps / up
		}
	}
	return sum
}

func inverterValues(s *stage) (texts, error) {
	x := texts{}
	half := 10 * max(s.halfTime(true), s.halfTime(false))
	if math.IsInf(half, 0) || math.IsNaN(half) {
		return nil, errors.New("one of the two transistors never conducts at this supply")
	}
	x.set("half", half)
	x.set("period", 4*half)
	x.set("stop", 3*half)
	x.set("edge", half/1e5)
	x.set("step", half/1000)
	x.set("load", inverterLoad)
	x.set("dv", s.Process.SupplyV/2000)
	return x, nil
}

func inverterFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	out := "v(" + s.node("out") + ")"
	curve, err := waveOf(r, "transfer", out)
	if err != nil {
		return nil, err
	}
	in, err := waveOf(r, "delay", "v("+s.node("in")+")")
	if err != nil {
		return nil, err
	}
	delay, err := waveOf(r, "delay", out)
	if err != nil {
		return nil, err
	}
	vdd := s.Process.SupplyV
	less := wave{curve.x, make([]float64, len(curve.x))}
	for i := range curve.x {
		less.y[i] = curve.y[i] - curve.x[i]
	}
	threshold := root(func(v float64) float64 { down, up := s.inverterCurrents(v, v); return down - up }, 0, vdd)
	// the gain where in = out, by the balance of currents near there
	const h = 1e-5
	balance := func(vin, vout float64) float64 { down, up := s.inverterCurrents(vin, vout); return down - up }
	gain := -(balance(threshold+h, threshold) - balance(threshold-h, threshold)) / (balance(threshold, threshold+h) - balance(threshold, threshold-h))
	measured := less.first(0, false, 0)
	f := []Figure{
		{"threshold, in = out", "V", measured, threshold, 0.01, "In(V) = Ip(V); without λ (VDD − |VTP| + VTN·r)/(1 + r), r = √(βn/βp)", fromShichman},
		{"gain there", "", curve.slope(measured-2e-4*vdd, measured+2e-4*vdd), gain, 0.05, "−(gmn + gmp)/(gdsn + gdsp)", fromText},
	}
	low, high := curve.minMax()
	f = append(f, Figure{"output high", "V", high, vdd, 0.01, "VDD", fromPhysics}, Figure{"output low, as part of the supply", "", low / vdd, math.NaN(), 0, "", ""})
	rise, fall := in.first(vdd/2, true, 0), in.first(vdd/2, false, 0)
	return append(f, Figure{"delay to low, 1 pF", "ns", (delay.first(vdd/2, false, rise) - rise) * 1e9, s.halfTime(true) * 1e9, 0.05, "∫ C dV/In(V) from VDD to VDD/2", fromText},
		Figure{"delay to high, 1 pF", "ns", (delay.first(vdd/2, true, fall) - fall) * 1e9, s.halfTime(false) * 1e9, 0.05, "∫ C dV/Ip(V) from 0 to VDD/2", fromText}), nil
}
