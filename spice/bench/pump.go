package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var (
	pumpText  = mustTemplate("pump")
	pumpBench = &Bench{text: pumpText, bind: bindPump, values: pumpValues, figures: pumpFigures}
)

const (
	pumpPeriod, pumpCycles = 1e-6, 400
	pumpLoad               = 100e-9
)

// reaches reports whether a capacitor, or a transistor's gate with source and drain on one net, hangs on a net.
func (v *view) capacitors(n netlist.Net) int {
	count := 0
	for _, p := range v.pins[n] {
		d := v.device(p.device)
		if d.Kind == netlist.Capacitor || d.Kind.IsMOS() && d.Terminals[netlist.Drain] == d.Terminals[netlist.Source] {
			count++
		}
	}
	return count
}

func bindPump(v *view, ports map[string]netlist.Net) (string, error) {
	var all []netlist.Net
	for i := range v.c.Nets {
		if n := netlist.Net(i); !v.isRail(n) {
			all = append(all, n)
		}
	}
	usual(v, ports, pumpText, all)
	for _, p := range []string{"clk", "out"} {
		if _, ok := ports[p]; !ok {
			return "", fmt.Errorf("no net has a usual name for %s\n    say --port %s=NET", p, p)
		}
	}
	if v.capacitors(ports["clk"]) == 0 {
		return "", errors.New("no capacitor hangs on the clock, to pump with")
	}
	if len(v.channelsOn(ports["out"])) == 0 {
		return "", fmt.Errorf("no transistor leads to %s", v.name(ports["out"]))
	}
	return fmt.Sprintf("clock %s by name, with a capacitor on it; output %s by name", v.name(ports["clk"]), v.name(ports["out"])), nil
}

func pumpValues(s *stage) (texts, error) {
	x := texts{"opposite": "-"}
	vdd := s.Process.SupplyV
	if _, ok := s.ports["clkb"]; ok {
		x["opposite"] = fmt.Sprintf("PULSE(%g 0 0 %g %g %g %g)", vdd, pumpPeriod/200, pumpPeriod/200, pumpPeriod*0.495, pumpPeriod)
	}
	x.set("edge", pumpPeriod/200)
	x.set("half", pumpPeriod*0.495)
	x.set("period", pumpPeriod)
	x.set("load", pumpLoad)
	x.set("step", pumpPeriod/100)
	x.set("stop", pumpCycles*pumpPeriod)
	return x, nil
}

// chain returns the stages of a pump of transistors connected as diodes, from the supply to out, its pumped nets and the smallest
// capacitor that pumps; 0 where it is no such chain.
func (s *stage) chain() (devices []*netlist.Device, farad float64) {
	at, farad := s.ports["out"], math.Inf(1)
	for range len(s.c.Devices) {
		found := false
		for _, i := range s.channelsOn(at) {
			d := s.device(i)
			far := across(d, at)
			if d.Kind != netlist.NMOS || d.Terminals[netlist.Gate] != far || far == at {
				continue
			}
			devices = append(devices, d)
			if s.isSupply(far) {
				return devices, farad
			}
			pumped := 0.0
			for _, p := range s.pins[far] {
				if c := s.device(p.device); c.Kind == netlist.Capacitor {
					pumped += c.Value
				}
			}
			farad = min(farad, pumped)
			at, found = far, true
			break
		}
		if !found {
			break
		}
	}
	return nil, 0
}

func pumpFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	w, err := waveOf(r, "pump", "v("+s.node("out")+")")
	if err != nil {
		return nil, err
	}
	end := pumpCycles * pumpPeriod
	late := wave{}
	for i := range w.x {
		if w.x[i] >= end-10*pumpPeriod {
			late.x, late.y = append(late.x, w.x[i]), append(late.y, w.y[i])
		}
	}
	low, high := late.minMax()
	f := Figure{"output, 100 nA", "V", late.mean(end-8*pumpPeriod, end-2*pumpPeriod), math.NaN(), 0, "", ""}
	if devices, farad := s.chain(); len(devices) > 1 && farad > 0 {
		vdd := s.Process.SupplyV
		v := vdd
		for k := len(devices) - 1; k >= 0; k-- {
			before := v
			m := level1(s.Process, devices[k])
			// it conducts until its source is a threshold below its gate
			v = softLevel(m, before)
			if k > 0 {
				v += vdd - pumpLoad*pumpPeriod/farad
			}
		}
		f.Expected, f.Tolerance = v, 0.1
		f.Formula, f.Source = "each stage adds VDD − VT(V) − I/(fC)", "J. F. Dickson, IEEE JSSC 11 (1976) 374, from memory"
	}
	return []Figure{f, {"ripple", "mV", (high - low) * 1e3, math.NaN(), 0, "", ""}}, nil
}
