package bench

import (
	"errors"
	"fmt"
	"math"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var (
	oscillatorText  = mustTemplate("oscillator")
	oscillatorBench = &Bench{text: oscillatorText, bind: bindOscillator, values: oscillatorValues, figures: oscillatorFigures}
)

// ringFrom returns the shortest ring of stages through a net: each net's transistors drive the next one's gates. A stage is a net
// that both an n- and a p-channel with a common gate end on.
func ringFrom(v *view, start netlist.Net) []netlist.Net {
	from := map[netlist.Net]netlist.Net{}
	queue := []netlist.Net{start}
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		for _, next := range v.driven(n) {
			if next == start {
				ring := []netlist.Net{n}
				for n != start {
					n = from[n]
					ring = append(ring, n)
				}
				return ring
			}
			if _, seen := from[next]; !seen && next != start {
				from[next] = n
				queue = append(queue, next)
			}
		}
	}
	return nil
}

// driven returns the nets on which an n- and a p-channel end that have their gates on n.
func (v *view) driven(n netlist.Net) []netlist.Net {
	if v.isRail(n) {
		return nil
	}
	ends := map[netlist.Net]int{} // 1: an n-channel, 2: a p-channel, 3: both
	var list []netlist.Net
	for _, i := range v.gatesOn(n) {
		d := v.device(i)
		kind := map[netlist.Kind]int{netlist.NMOS: 1, netlist.PMOS: 2}[d.Kind]
		for _, o := range [2]netlist.Net{d.Terminals[netlist.Drain], d.Terminals[netlist.Source]} {
			if before := ends[o]; before != 3 && before|kind == 3 && !v.isRail(o) {
				list = append(list, o)
			}
			ends[o] |= kind
		}
	}
	return list
}

// mostRingNets is in how many nets a ring is looked for without a port that lies on it: each is looked at from each.
const mostRingNets = 3000

func bindOscillator(v *view, ports map[string]netlist.Net) (string, error) {
	usual(v, ports, &template{ports: oscillatorText.ports[1:]}, v.inputs())
	var ring []netlist.Net
	if n, ok := ports["out"]; ok {
		ring = ringFrom(v, n)
	} else {
		if len(v.c.Nets) > mostRingNets {
			return "", fmt.Errorf("a ring is looked for in %d nets at most, and there are %d\n    say --port out=NET", mostRingNets, len(v.c.Nets))
		}
		for i := range v.c.Nets {
			n := netlist.Net(i)
			if r := ringFrom(v, n); len(r)%2 == 1 && len(r) > 1 && (ring == nil || called(v.c.Nets[n].Name, oscillatorText.ports[0].Usual)) {
				ring = r
				ports["out"] = n
			}
		}
	}
	if len(ring) < 3 || len(ring)%2 == 0 {
		delete(ports, "out")
		return "", errors.New("no odd ring of inverting stages goes through it")
	}
	return fmt.Sprintf("a ring of %d inverting stages through %s", len(ring), v.name(ports["out"])), nil
}

// roughFrequency is 1/Σ(C·VDD/2/Isat) over all stages and both edges: common practice, good to a factor of two.
func (s *stage) roughFrequency() float64 {
	vdd, sum := s.Process.SupplyV, 0.0
	for _, n := range ringFrom(s.view, s.ports["out"]) {
		c := 0.0
		drive := map[netlist.Kind]float64{}
		for _, p := range s.pins[n] {
			d := s.device(p.device)
			t := s.Process.Transistor(d.Kind == netlist.PMOS)
			switch {
			case d.Kind == netlist.Capacitor:
				c += d.Value
			case !d.Kind.IsMOS() || p.terminal == netlist.Bulk:
			case p.terminal == netlist.Gate:
				c += s.Process.Cox()*width(d)*d.L*1e-18 + (t.CGSO+t.CGDO)*width(d)*1e-9
			default:
				c += t.Junction(max(d.AS, d.AD), max(d.PS, d.PD), vdd/2) + 2*t.CGDO*width(d)*1e-9
				drive[d.Kind] += beta(s.Process, d) / 2 * math.Pow(vdd-math.Abs(t.VTO), 2)
			}
		}
		for _, k := range []netlist.Kind{netlist.NMOS, netlist.PMOS} {
			sum += c * vdd / 2 / drive[k]
		}
	}
	return 1 / sum
}

func oscillatorValues(s *stage) (texts, error) {
	x := texts{"supply": "-", "enable": "-"}
	if _, ok := s.ports["en"]; ok {
		x.set("enable", s.Process.SupplyV)
	}
	period := 1.7 / s.roughFrequency() // it is 1.6 to 1.8 times too fast
	if !(period > 0) || math.IsInf(period, 0) {
		return nil, errors.New("its stages never switch at this supply")
	}
	x.set("step", period/200)
	x.set("stop", 60*period)
	if source := s.supplyCurrent(); source != "" {
		x["supply"] = source
	}
	return x, nil
}

func oscillatorFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	w, err := waveOf(r, "run", "v("+s.node("out")+")")
	if err != nil {
		return nil, err
	}
	rises := w.crossings(s.Process.SupplyV/2, true)
	f := math.NaN()
	if n := len(rises); n > 10 {
		k := n / 2 // what comes before may still settle
		f = float64(n-1-k) / (rises[n-1] - rises[k])
	}
	figures := []Figure{{"frequency", "MHz", f / 1e6, s.roughFrequency() / 1.7 / 1e6, 0.5, "1/(1.7·Σ C·VDD/2/Isat), rough", fromPractice}}
	if source := s.supplyCurrent(); source != "" {
		if i, err := waveOf(r, "run", source); err == nil && len(rises) > 10 {
			figures = append(figures, Figure{"mean supply current", "µA", -i.mean(rises[len(rises)/2], rises[len(rises)-1]) * 1e6, math.NaN(), 0, "", ""})
		}
	}
	return figures, nil
}

// mean is the mean between two places.
func (w wave) mean(x0, x1 float64) float64 {
	sum := 0.0
	for i := 1; i < len(w.x); i++ {
		if w.x[i-1] >= x0 && w.x[i] <= x1 {
			sum += (w.y[i] + w.y[i-1]) / 2 * (w.x[i] - w.x[i-1])
		}
	}
	return sum / (x1 - x0)
}
