package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

var mirrorBench = &Bench{anySupply: true, text: mustTemplate("mirror"), bind: bindMirror, values: mirrorValues, figures: mirrorFigures}

const mirrorCurrent = 10e-6

// mirrorOf returns the diode-connected transistor on in and the one that mirrors it to out, or -1.
func mirrorOf(v *view, in, out netlist.Net) (diode, copies int) {
	diode, copies = -1, -1
	for _, i := range v.gatesOn(in) {
		d := v.device(i)
		for _, t := range []int{netlist.Drain, netlist.Source} {
			if d.Terminals[t] == in && v.isRail(across(d, in)) {
				diode = i
			}
		}
	}
	if diode < 0 {
		return diode, copies
	}
	rail, kind := across(v.device(diode), in), v.device(diode).Kind
	for _, i := range v.gatesOn(in) {
		d := v.device(i)
		if i == diode || d.Kind != kind || d.Terminals[netlist.Drain] != rail && d.Terminals[netlist.Source] != rail {
			continue
		}
		if o := across(d, rail); o != in && !v.isRail(o) && (out == netlist.NoNet || o == out) {
			return diode, i
		}
	}
	return diode, copies
}

func bindMirror(v *view, ports map[string]netlist.Net) (string, error) {
	if _, ok := ports["in"]; !ok {
		var ins []netlist.Net
		for i := range v.c.Nets {
			if _, k := mirrorOf(v, netlist.Net(i), given(ports, "out")); k >= 0 {
				ins = append(ins, netlist.Net(i))
			}
		}
		if _, err := theOne(v, ports, "in", "net with a transistor connected as a diode and another one's gate", ins); err != nil {
			return "", err
		}
	}
	in := ports["in"]
	i, k := mirrorOf(v, in, given(ports, "out"))
	if i < 0 || k < 0 {
		return "", errors.New("no transistor is connected as a diode on in, with one that mirrors it to out")
	}
	d := v.device(k)
	rail := across(v.device(i), in)
	if v.device(i).Kind == netlist.PMOS && v.vdd == netlist.NoNet {
		return "", errNoSupply
	}
	ports["out"] = across(d, rail)
	return fmt.Sprintf("%s is connected as a diode on %s, %s has its gate there and its drain on %s", word(v, i), v.name(in), word(v, k), v.name(ports["out"])), nil
}

func mirrorValues(s *stage) (texts, error) {
	i, _ := mirrorOf(s.view, s.ports["in"], s.ports["out"])
	x := texts{"rail": "0"}
	x.set("into", mirrorCurrent)
	if s.device(i).Kind == netlist.PMOS {
		x["rail"] = s.node("vdd")
		x.set("into", -mirrorCurrent)
	}
	x.set("vout", s.Process.SupplyV/2)
	x.set("dv", s.Process.SupplyV/200)
	return x, nil
}

// diodeVoltage returns |VGS| of a transistor connected as a diode that carries a current in A, its bulk on its source.
func diodeVoltage(p *spice.Process, d *netlist.Device, current float64) float64 {
	m := level1(p, d)
	m.P, m.VTO = false, math.Abs(m.VTO)
	return root(func(v float64) float64 { return m.At(width(d), d.L, v, v, 0, 0).ID - current }, 0, 100)
}

func mirrorFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	i, k := mirrorOf(s.view, s.ports["in"], s.ports["out"])
	a, b := s.device(i), s.device(k)
	vdd := s.Process.SupplyV
	vin, err := single(r, "op", "v("+s.node("in")+")")
	if err != nil {
		return nil, err
	}
	iout, err := single(r, "op", "i(Vout)")
	if err != nil {
		return nil, err
	}
	sweep, err := waveOf(r, "sweep", "i(Vout)")
	if err != nil {
		return nil, err
	}
	drop, vds := vin, vdd/2
	if a.Kind == netlist.PMOS {
		drop = vdd - vin
	}
	v1 := diodeVoltage(s.Process, a, mirrorCurrent)
	m := level1(s.Process, b)
	m.P, m.VTO = false, math.Abs(m.VTO)
	o := m.At(width(b), b.L, vds, v1, 0, 0)
	g := math.Abs(sweep.slope(vdd/2-vdd/20, vdd/2+vdd/20))
	return []Figure{
		{"|VGS| at 10 µA", "V", drop, v1, 0.01, "VT + √(2I/β(1 + λV))", fromShichman},
		{"ratio at half of the supply", "", math.Abs(iout) / mirrorCurrent, o.ID / mirrorCurrent, 0.01, "(W2/L2)/(W1/L1)·(1 + λ2·V2)/(1 + λ1·V1)", fromText},
		{"output resistance", "kohm", 1 / g / 1000, 1 / o.GDS / 1000, 0.02, "1/gds = (1 + λV)/(λI)", fromText},
	}, nil
}
