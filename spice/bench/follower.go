package bench

import (
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

var followerBench = &Bench{text: mustTemplate("follower"), bind: bindFollower, values: followerValues, figures: followerFigures}

// followerOf returns the follower between in and out, of which either may be NoNet: any; -1 without, -2 with several.
func followerOf(v *view, in, out netlist.Net) int {
	found := -1
	for i := range v.c.Devices {
		d := v.device(i)
		if d.Kind != netlist.NMOS && d.Kind != netlist.PMOS {
			continue
		}
		for _, t := range []int{netlist.Drain, netlist.Source} {
			drain := d.Terminals[t]
			source := across(d, drain)
			far := d.Kind == netlist.NMOS && v.isSupply(drain) || d.Kind == netlist.PMOS && v.isGround(drain)
			if !far || v.isRail(source) || v.isRail(d.Terminals[netlist.Gate]) || d.Terminals[netlist.Gate] == source ||
				in != netlist.NoNet && d.Terminals[netlist.Gate] != in || out != netlist.NoNet && source != out {
				continue
			}
			if found >= 0 && found != i {
				return -2
			}
			found = i
			break
		}
	}
	return found
}

func given(ports map[string]netlist.Net, name string) netlist.Net {
	if n, ok := ports[name]; ok {
		return n
	}
	return netlist.NoNet
}

func bindFollower(v *view, ports map[string]netlist.Net) (string, error) {
	i := followerOf(v, given(ports, "in"), given(ports, "out"))
	switch i {
	case -1:
		return "", fmt.Errorf("no transistor has its drain on a supply and its source on another net, in and out as far as they are given")
	case -2:
		return "", fmt.Errorf("several transistors could be the follower\n    say which with --port in=NET and --port out=NET")
	}
	d := v.device(i)
	ports["in"] = d.Terminals[netlist.Gate]
	if v.isRail(d.Terminals[netlist.Drain]) {
		ports["out"] = d.Terminals[netlist.Source]
	} else {
		ports["out"] = d.Terminals[netlist.Drain]
	}
	return fmt.Sprintf("%s has its drain on a supply, gate %s, source %s", word(v, i), v.name(ports["in"]), v.name(ports["out"])), nil
}

const followerSink = 10e-6

func (s *stage) follower() *netlist.Device {
	return s.device(followerOf(s.view, s.ports["in"], s.ports["out"]))
}

func followerValues(s *stage) (texts, error) {
	vdd := s.Process.SupplyV
	x := texts{}
	x.set("bias", 0.6*vdd)
	x.set("kp", 2*followerSink/0.04)
	x.set("dv", vdd/500)
	x["rail"], x["drive"], x["loadvt"], x["type"] = "0", "0.3", "0.1", "nmos"
	if s.follower().Kind == netlist.PMOS {
		x.set("bias", 0.4*vdd)
		x["rail"], x["drive"], x["loadvt"], x["type"] = s.node("vdd"), "-0.3", "-0.1", "pmos"
	}
	return x, nil
}

// followerPoint returns the source's voltage and the operating point of a follower that carries a current, its bulk on its rail.
func followerPoint(p *spice.Process, d *netlist.Device, in, sink, vdd float64) (float64, spice.Operating) {
	m, w := level1(p, d), width(d)
	vd, vb, sign := vdd, 0.0, 1.0
	if d.Kind == netlist.PMOS {
		vd, vb, sign = 0, vdd, -1
	}
	v := root(func(v float64) float64 { return sign*m.At(w, d.L, vd, in, v, vb).ID - sink }, 0, vdd)
	return v, m.At(w, d.L, vd, in, v, vb)
}

func followerGain(p *spice.Process, d *netlist.Device, in, sink, vdd float64) float64 {
	_, o := followerPoint(p, d, in, sink, vdd)
	return o.GM / (o.GM + o.GMB + o.GDS)
}

func followerFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	out := "v(" + s.node("out") + ")"
	level, err := single(r, "op", out)
	if err != nil {
		return nil, err
	}
	gain, err := single(r, "small", out)
	if err != nil {
		return nil, err
	}
	transfer, err := waveOf(r, "transfer", out)
	if err != nil {
		return nil, err
	}
	d, vdd := s.follower(), s.Process.SupplyV
	in := 0.6 * vdd
	if d.Kind == netlist.PMOS {
		in = 0.4 * vdd
	}
	v, o := followerPoint(s.Process, d, in, followerSink, vdd)
	f := []Figure{
		{"output at " + volts(in), "V", level, v, 0.01, "ID(VGS) = I", fromShichman},
		{"gain", "", gain, o.GM / (o.GM + o.GMB + o.GDS), 0.01, "gm/(gm + gmb + gds)", fromText},
	}
	low, high := math.NaN(), math.NaN() // where the gain is 90 % of that in the middle
	for i := 1; i < len(transfer.x); i++ {
		if g := (transfer.y[i] - transfer.y[i-1]) / (transfer.x[i] - transfer.x[i-1]); g > 0.9*gain {
			if math.IsNaN(low) {
				low = transfer.y[i-1]
			}
			high = transfer.y[i]
		}
	}
	return append(f, Figure{"lowest output with 90 % of the gain", "V", low, math.NaN(), 0, "", ""}, Figure{"highest output with 90 % of the gain", "V", high, math.NaN(), 0, "", ""}), nil
}

func volts(v float64) string { return fmt.Sprintf("%.4g V", v) }
