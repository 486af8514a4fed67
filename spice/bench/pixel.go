package bench

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
)

// pixelOptions: photocurrents are some fA, charges some fC.
const pixelOptions = ".options gmin=1e-20 reltol=1e-5 abstol=1e-18 vntol=1e-9 chgtol=1e-18"

var pixelBench = &Bench{text: mustTemplate("pixel"), bind: bindPixel, part: pixelPart, values: pixelValues, figures: pixelFigures, options: pixelOptions}

// The times of a pixel's frame in s, the current that the column draws in A, and its capacitance in F: common practice.
const (
	resetTime, integrateTime, readTime = 10e-6, 10e-3, 100e-6
	frameTime                          = 10.5e-3
	columnSink                         = 5e-6
	columnFarad                        = 100e-15
	lights                             = 3
)

// lightParts are the lights, as parts of the one that swings the photodiode through half of its reset level.
var lightParts = [lights]float64{0.2, 0.5, 1}

// photodiodes returns the photodiodes' nodes: of each the end that is no rail.
func photodiodes(v *view) []netlist.Net {
	var list []netlist.Net
	seen := map[netlist.Net]bool{}
	for i := range v.c.Devices {
		if d := v.device(i); spice.Photodiode(d) {
			for _, n := range d.Terminals[:2] {
				if !v.isRail(n) && !seen[n] {
					seen[n] = true
					list = append(list, n)
				}
			}
		}
	}
	return list
}

// theOne returns the port's net, or the only one of some candidates.
func theOne(v *view, ports map[string]netlist.Net, port, what string, candidates []netlist.Net) (netlist.Net, error) {
	if n, ok := ports[port]; ok {
		return n, nil
	}
	switch len(candidates) {
	case 0:
		return netlist.NoNet, fmt.Errorf("there is no %s\n    if a net is one, say --port %s=NET", what, port)
	case 1:
		ports[port] = candidates[0]
		return candidates[0], nil
	}
	var names []string
	for i, n := range candidates {
		if i == 4 {
			names = append(names, "…")
			break
		}
		names = append(names, v.name(n))
	}
	return netlist.NoNet, fmt.Errorf("there are %d of what could be %s (%s)\n    say which with --port %s=NET", len(candidates), what, strings.Join(names, ", "), port)
}

// bindPixel finds reset, follower and select around a photodiode's node.
func bindPixel(v *view, ports map[string]netlist.Net) (string, error) {
	var nodes []netlist.Net
	for _, n := range photodiodes(v) {
		if len(v.gatesOn(n)) > 0 {
			nodes = append(nodes, n)
		}
	}
	pd, err := theOne(v, ports, "pd", "photodiode with a gate on its node", nodes)
	if err != nil {
		return "", err
	}
	return bindReadout(v, ports, pd)
}

// pixelPart is a pixel's own nets.
func pixelPart(v *view, ports map[string]netlist.Net) []netlist.Net {
	sense, nets := ports["pd"], []netlist.Net{}
	if fd, ok := ports["fd"]; ok {
		sense = fd
		nets = append(nets, ports["ppd"])
	}
	return append(nets, sense, readoutOf(v, sense).mid)
}

// bindReadout finds reset, follower and select around the node that the follower's gate is on.
func bindReadout(v *view, ports map[string]netlist.Net, sense netlist.Net) (string, error) {
	r := readoutOf(v, sense)
	switch {
	case r.follower < 0:
		return "", fmt.Errorf("no transistor between a supply and a row select has its gate on %s", v.name(sense))
	case r.reset < 0:
		return "", fmt.Errorf("no transistor leads from %s to a supply, to reset it", v.name(sense))
	}
	set := func(port string, n netlist.Net) {
		if _, ok := ports[port]; !ok {
			ports[port] = n
		}
	}
	if g := v.device(r.reset).Terminals[netlist.Gate]; v.isRail(g) {
		return "", errors.New("the reset transistor's gate is on a supply: this pixel is logarithmic, and is never reset")
	} else {
		set("rst", g)
	}
	set("sel", v.device(r.sel).Terminals[netlist.Gate])
	set("col", r.col)
	return fmt.Sprintf("%s between supply and %s, gate %s; follower %s on it; %s to the column %s, gate %s", word(v, r.reset), v.name(sense), v.name(ports["rst"]),
		word(v, r.follower), word(v, r.sel), v.name(ports["col"]), v.name(ports["sel"])), nil
}

func word(v *view, i int) string { return spice.DeviceWords(v.device(i), i) }

// readout is the transistors around a sense node, -1 where there is none.
type readout struct {
	reset, follower, sel int
	mid, col             netlist.Net
}

func readoutOf(v *view, sense netlist.Net) readout {
	r := readout{reset: -1, follower: -1, sel: -1}
	for _, i := range v.channelsOn(sense) {
		if v.isSupply(across(v.device(i), sense)) && r.reset < 0 {
			r.reset = i
		}
	}
	for _, i := range v.gatesOn(sense) {
		d := v.device(i)
		for _, t := range []int{netlist.Drain, netlist.Source} {
			if !v.isSupply(d.Terminals[t]) || r.follower >= 0 {
				continue
			}
			mid := across(d, d.Terminals[t])
			for _, k := range v.channelsOn(mid) {
				if k != i && !v.isRail(across(v.device(k), mid)) {
					r.follower, r.sel, r.mid, r.col = i, k, mid, across(v.device(k), mid)
					break
				}
			}
		}
	}
	return r
}

// softLevel is where a transistor with its gate at vg stops charging a node: V = VG − VT(V), bulk at 0.
func softLevel(m spice.Level1, vg float64) float64 {
	return root(func(v float64) float64 { return vg - m.Threshold(-v) - v }, 0, vg)
}

// junctions is the capacitance in F of all junctions on a net at a voltage against ground, n in p.
func junctions(s *stage, n netlist.Net, volts float64) float64 {
	t, c := &s.Process.N, 0.0
	for _, p := range s.pins[n] {
		switch d := s.device(p.device); {
		case d.Kind == netlist.Diode && p.terminal == netlist.Cathode:
			c += t.Junction(d.Area, d.Perim, volts)
		case d.Kind == netlist.NMOS && p.terminal == netlist.Drain:
			c += t.Junction(d.AD, d.PD, volts)
		case d.Kind == netlist.NMOS && p.terminal == netlist.Source:
			c += t.Junction(d.AS, d.PS, volts)
		case d.Kind == netlist.Capacitor:
			c += d.Value
		}
	}
	return c
}

// senseFarad is the capacitance in F of a sense node at a voltage: junctions, the overlaps of all transistors on it, and the gate of
// the follower. While the row is selected that follows, and its source hides all but 1 − gain of it. While it is not, off is how
// far the gate is below the voltage at which it would conduct, and the channel goes: Meyer's capacitances as SPICE has them (RCA
// Review 32 (1971) 42, from memory),
//
//	Cgb = Cox·off/φ up to Cox, Cgs = 2/3·Cox·(1 − 2·off/φ) down to 0, in series with what hangs on the node between.
//
// follows is how much of a small fall the node between follower and select follows then, as a part.
func senseFarad(s *stage, n netlist.Net, r readout, volts, off float64, selected bool) (c, follows float64) {
	t := &s.Process.N
	c = junctions(s, n, volts)
	for _, i := range s.channelsOn(n) {
		c += t.CGSO * width(s.device(i)) * 1e-9
	}
	for _, i := range s.gatesOn(n) {
		d := s.device(i)
		overlap := t.CGSO * width(d) * 1e-9
		c += overlap + t.CGBO*d.L*1e-9
		if i != r.follower {
			c += overlap
			continue
		}
		oxide := s.Process.Cox() * width(d) * d.L * 1e-18
		if selected {
			c += (1 - followerGain(s.Process, d, volts, columnSink, s.Process.SupplyV)) * (overlap + oxide*2/3)
			continue
		}
		source := overlap + oxide*2/3*max(0, 1-2*off/t.Phi)
		below := junctions(s, r.mid, volts/2) + t.CGSO*width(s.device(r.sel))*1e-9
		if source+below > 0 {
			follows = source / (source + below)
		}
		c += oxide*min(1, off/t.Phi) + below*follows
	}
	return c, follows
}

// meanFarad is the mean from v0 down to v1, in a row that is not selected, of a node that was reset to a level above both.
func (s *stage) meanFarad(n netlist.Net, r readout, level, v0, v1 float64) float64 {
	const steps = 400
	sum, count, off := 0.0, 0.0, 0.0
	for k := range steps {
		v := level + (v1-level)*(float64(k)+0.5)/steps
		c, follows := senseFarad(s, n, r, v, off, false)
		off += (level - v1) / steps * (1 - follows)
		if v <= v0 {
			sum, count = sum+c, count+1
		}
	}
	return sum / count
}

// pwl writes corners of a waveform.
type pwl struct{ strings.Builder }

func (p *pwl) to(t, v float64) {
	if p.Len() > 0 {
		p.WriteByte(' ')
	}
	fmt.Fprintf(p, "%.9g %.6g", t, v)
}

// pulse goes from low to high at t0 and back at t1, within edge.
func (p *pwl) pulse(t0, t1, edge, low, high float64) {
	p.to(t0, low)
	p.to(t0+edge, high)
	p.to(t1, high)
	p.to(t1+edge, low)
}

// pixelState is what values and figures of the pixel share.
type pixelState struct {
	r            readout
	level        float64 // V after a soft reset
	photo        [lights]float64
	dark, farad0 float64 // A, F
}

func (s *stage) pixel(sense netlist.Net) pixelState {
	p := pixelState{r: readoutOf(s.view, sense)}
	p.level = softLevel(level1(s.Process, s.device(p.r.reset)), s.Process.SupplyV)
	p.farad0 = s.meanFarad(sense, p.r, p.level, p.level, p.level/2)
	for k := range p.photo {
		p.photo[k] = round2(lightParts[k] * p.farad0 * p.level / 2 / integrateTime)
	}
	for _, i := range s.list.Photodiodes {
		if contains(s.device(i).Terminals[:2], sense) {
			p.dark += s.Process.Dark * s.device(i).Area * 1e-18
		}
	}
	return p
}

// round2 rounds to two digits.
func round2(v float64) float64 {
	if v == 0 {
		return 0
	}
	e := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/e) * e
}

func pixelValues(s *stage) (texts, error) {
	p := s.pixel(s.ports["pd"])
	vdd := s.Process.SupplyV
	const edge = 100e-9
	var reset, sel, light, sink pwl
	reset.to(0, vdd)
	sel.to(0, 0)
	sink.to(0, 0)
	for k := range lights {
		t := float64(k) * frameTime
		light.to(t, p.photo[k])
		light.to(t+frameTime-edge, p.photo[k])
		if k > 0 {
			reset.to(t-edge, 0)
			reset.to(t, vdd)
		}
		reset.to(t+resetTime, vdd)
		reset.to(t+resetTime+edge, 0)
		read := t + resetTime + integrateTime
		sel.pulse(read, read+readTime, edge, 0, vdd)
		sink.pulse(read, read+readTime, edge, 0, 0.3)
	}
	x := texts{"reset": reset.String(), "select": sel.String(), "light": light.String(), "sink": sink.String()}
	x.set("kp", 2*columnSink/0.04)
	x.set("ccol", columnFarad)
	x.set("step", 20e-6)
	x.set("stop", lights*frameTime)
	x.set("dv", vdd/200)
	x.set("cpd", p.farad0)
	ron := 1e4
	x.set("ron", ron)
	corner := 1 / (2 * math.Pi * ron * p.farad0)
	x.set("flow", corner/1e5)
	x.set("fhigh", corner*1e5)
	return x, nil
}

func pixelFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	p := s.pixel(s.ports["pd"])
	pd, err := waveOf(r, "frames", "v("+s.node("pd")+")")
	if err != nil {
		return nil, err
	}
	col, err := waveOf(r, "frames", "v("+s.node("col")+")")
	if err != nil {
		return nil, err
	}
	transfer, err := waveOf(r, "transfer", "v("+s.node("col")+")")
	if err != nil {
		return nil, err
	}
	nan := math.NaN()
	before := pd.at(resetTime)
	after := pd.at(resetTime + 1e-6)
	f := []Figure{
		{"soft-reset level", "V", before, p.level, 0.01, "V = VG − VTO − γ(√(φ + V) − √φ)", fromShichman},
		{"step when reset ends", "V", after - before, nan, 0, "", ""},
	}
	out := [lights]float64{}
	for k := range lights {
		t := float64(k)*frameTime + resetTime
		x0, x1 := t+0.1*integrateTime, t+0.9*integrateTime
		i := p.photo[k] + p.dark
		c := s.meanFarad(s.ports["pd"], p.r, p.level, pd.at(x0), pd.at(x1))
		f = append(f, Figure{fmt.Sprintf("slope at %s", amps(p.photo[k])), "V/s", pd.slope(x0, x1), -i / c, 0.05, "dV/dt = I/C(V)", "definition; C by junctions, overlaps and the follower's gate"})
		out[k] = col.at(t + integrateTime + readTime*0.9)
	}
	top := transfer.at(before)
	for k := range lights {
		f = append(f, Figure{fmt.Sprintf("column at %s", amps(p.photo[k])), "V", out[k], s.columnLevel(p.r, pd.at(float64(k)*frameTime+resetTime+integrateTime+readTime*0.9)), 0.01,
			"follower, select and load carry one current", fromShichman})
	}
	x0, x1 := resetTime+0.1*integrateTime, resetTime+0.9*integrateTime
	c := s.meanFarad(s.ports["pd"], p.r, p.level, pd.at(x0), pd.at(x1))
	f = append(f, Figure{"conversion gain at the photodiode", "µV/e", -pd.slope(x0, x1) / (p.photo[0] + p.dark) * charge * 1e6, charge / c * 1e6, 0.05, "q/C", fromPhysics})
	mid := p.level * 0.75
	gain := transfer.slope(mid-0.1, mid+0.1)
	f = append(f, Figure{"gain of the follower", "", gain, followerGain(s.Process, s.device(p.r.follower), mid, columnSink, s.Process.SupplyV), 0.02, "gm/(gm + gmb + gds)", fromText},
		Figure{"column after reset", "V", top, nan, 0, "", ""},
		Figure{"swing of the column", "V", top - max(transfer.at(0), 0), nan, 0, "", ""})
	f = append(f, Figure{"linearity: largest miss of a line", "%", 100 * linearity(p.photo[:], out[:]), nan, 0, "", ""})
	noise, err := single(r, "noise.total", "onoise_total")
	if err != nil {
		return nil, err
	}
	return append(f, Figure{"noise of a hard reset, R and C alone", "µV", noise * 1e6, math.Sqrt(boltzmann*kelvin/p.farad0) * 1e6, 0.01, "√(kT/C)", "Nyquist; a soft reset has at most 1/√2 of it: Tian, Fowler, El Gamal, IEEE JSSC 36 (2001) 92"},
		Figure{"the same in electrons", "e", noise * p.farad0 / charge, math.Sqrt(boltzmann*kelvin*p.farad0) / charge, 0.01, "√(kTC)/q", fromPhysics}), nil
}

// columnLevel is the column's voltage where a follower and a select carry the column's load, at a voltage of the sense node.
// The load draws its current down to 0.2 V, and less below, as a square does.
func (s *stage) columnLevel(r readout, sense float64) float64 {
	vdd := s.Process.SupplyV
	at := func(i int, vd, vg, vs float64) float64 {
		d := s.device(i)
		return level1(s.Process, d).At(width(d), d.L, vd, vg, vs, 0).ID
	}
	load := func(v float64) float64 {
		if v >= 0.2 {
			return columnSink
		}
		return columnSink * (1 - (1-v/0.2)*(1-v/0.2))
	}
	return root(func(col float64) float64 {
		mid := root(func(mid float64) float64 { return at(r.follower, vdd, sense, mid) - load(col) }, 0, vdd)
		if math.IsNaN(mid) { // the follower cannot carry it
			return -1
		}
		return at(r.sel, mid, vdd, col) - load(col)
	}, 1e-6, vdd)
}

// amps writes a current with its prefix.
func amps(i float64) string {
	switch {
	case math.Abs(i) < 1e-12:
		return fmt.Sprintf("%.4g fA", i*1e15)
	case math.Abs(i) < 1e-9:
		return fmt.Sprintf("%.4g pA", i*1e12)
	case math.Abs(i) < 1e-6:
		return fmt.Sprintf("%.4g nA", i*1e9)
	}
	return fmt.Sprintf("%.4g µA", i*1e6)
}

// linearity is the largest distance of points from the line that fits them best, as a part of the range of y.
func linearity(x, y []float64) float64 {
	n, sx, sy, sxx, sxy := float64(len(x)), 0.0, 0.0, 0.0, 0.0
	for i := range x {
		sx, sy, sxx, sxy = sx+x[i], sy+y[i], sxx+x[i]*x[i], sxy+x[i]*y[i]
	}
	b := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	a := (sy - b*sx) / n
	low, high := wave{y: y}.minMax()
	worst := 0.0
	for i := range x {
		worst = max(worst, math.Abs(y[i]-a-b*x[i]))
	}
	return worst / (high - low)
}
