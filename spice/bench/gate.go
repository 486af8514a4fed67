package bench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var gateBench = &Bench{text: mustTemplate("gate"), bind: bindGate, values: gateValues, figures: gateFigures}

const (
	gateLoad   = 20e-15 // F, some gates' worth (common practice)
	mostInputs = 8      // of a gate whose whole table is run
	mostLogic  = 2000   // devices of a circuit whose switches are followed
)

// numbered returns the nets of ports NAME1, NAME2 …
func numbered(ports map[string]netlist.Net, name string) []netlist.Net {
	var list []netlist.Net
	for k := 1; ; k++ {
		n, ok := ports[name+strconv.Itoa(k)]
		if !ok {
			return list
		}
		list = append(list, n)
	}
}

// bindNumbered gives in1 … and out1 … the circuit's inputs and outputs, unless the caller gave some of them.
func bindNumbered(v *view, ports map[string]netlist.Net) {
	fill := func(name string, nets []netlist.Net) {
		if len(numbered(ports, name)) > 0 {
			return
		}
		byName(v, nets)
		used := map[netlist.Net]bool{}
		for _, n := range ports {
			used[n] = true
		}
		k := 1
		for _, n := range nets {
			if !used[n] {
				ports[name+strconv.Itoa(k)] = n
				k++
			}
		}
	}
	fill("in", v.inputs())
	fill("out", v.outputs())
}

func byName(v *view, nets []netlist.Net) {
	slices.SortStableFunc(nets, func(a, b netlist.Net) int {
		switch x, y := v.c.Nets[a].Name, v.c.Nets[b].Name; {
		case netlist.NaturalLess(x, y):
			return -1
		case netlist.NaturalLess(y, x):
			return 1
		}
		return 0
	})
}

func bindGate(v *view, ports map[string]netlist.Net) (string, error) {
	if err := v.tooLarge(); err != nil {
		return "", err
	}
	bindNumbered(v, ports)
	in, out := numbered(ports, "in"), numbered(ports, "out")
	switch {
	case len(in) == 0 || len(out) == 0:
		return "", errors.New("it wants a port that gates alone hang on, and one that channels end on\n    say --port in1=NET --port out1=NET")
	case len(in) > mostInputs:
		return "", fmt.Errorf("has %d inputs, and a whole table is run for %d at most\n    say which with --port in1=NET …", len(in), mostInputs)
	}
	for _, i := range append(v.channelsOn(out[0]), v.gatesOn(in[0])...) {
		if k := v.device(i).Kind; k != netlist.NMOS && k != netlist.PMOS {
			return "", fmt.Errorf("%s has no polarity", word(v, i))
		}
	}
	driven := map[netlist.Net]level{}
	known := 0
	for row := range 1 << len(in) {
		for k, n := range in {
			driven[n] = levelOf(row>>k&1 == 1)
		}
		for _, o := range out {
			if l := settle(v, driven)[o]; l == high || l == low {
				known++
			}
		}
	}
	if 2*known < len(out)<<len(in) {
		return "", fmt.Errorf("its switches say in %d of %d entries of the table what an output is at: no static gate", known, len(out)<<len(in))
	}
	return fmt.Sprintf("inputs %s: gates alone hang on them; outputs %s; switches decide %d of %d entries of the table", v.names(in), v.names(out), known, len(out)<<len(in)), nil
}

func (v *view) tooLarge() error {
	if n := len(v.c.Devices); n > mostLogic {
		return fmt.Errorf("has %d devices, and switches are followed in %d at most\n    take a part of it with --top", n, mostLogic)
	}
	return nil
}

func (v *view) names(nets []netlist.Net) string {
	var s []string
	for _, n := range nets {
		s = append(s, v.name(n))
	}
	return strings.Join(s, ", ")
}

// slot is how long in s a row of a table lasts: long for the weakest transistor of the circuit with the load on it.
func (s *stage) slot() float64 {
	t := 20e-9
	vdd := s.Process.SupplyV
	for i := range s.c.Devices {
		if d := s.device(i); d.Kind.IsMOS() && width(d) > 0 {
			m := level1(s.Process, d)
			drive := m.KP * width(d) / d.L / 2 * math.Pow(vdd-math.Abs(m.VTO), 2)
			own := s.Process.Cox() * width(d) * d.L * 1e-18
			t = max(t, 100*(gateLoad+4*own)*vdd/drive)
		}
	}
	return t
}

// stimulus writes a source that is high or low in slots.
func stimulus(k int, node string, highs []bool, slot, vdd float64) string {
	edge := slot / 200
	var w pwl
	at := func(b bool) float64 {
		if b {
			return vdd
		}
		return 0
	}
	w.to(0, at(highs[0]))
	for i := 1; i < len(highs); i++ {
		if highs[i] != highs[i-1] {
			t := float64(i) * slot
			w.to(t, at(highs[i-1]))
			w.to(t+edge, at(highs[i]))
		}
	}
	return fmt.Sprintf("Vin%d %s 0 PWL(%s)", k+1, node, w.String())
}

// drive fills in stimuli, loads and vectors of a bench with numbered ports.
func (s *stage) drive(in, out []netlist.Net, rows [][]bool) texts {
	slot, vdd := s.slot(), s.Process.SupplyV
	var stimuli, loads, vectors, shown []string
	for k, n := range in {
		highs := make([]bool, len(rows))
		for i := range rows {
			highs[i] = rows[i][k]
		}
		stimuli = append(stimuli, stimulus(k, s.list.Nodes[n], highs, slot, vdd))
		vectors = append(vectors, "v("+s.list.Nodes[n]+")")
	}
	for k, n := range out {
		loads = append(loads, fmt.Sprintf("Cload%d %s 0 %g", k+1, s.list.Nodes[n], gateLoad))
		shown = append(shown, "v("+s.list.Nodes[n]+")")
	}
	x := texts{"stimuli": strings.Join(stimuli, "\n"), "loads": strings.Join(loads, "\n"), "vectors": strings.Join(append(vectors, shown...), " "), "shown": strings.Join(shown, " ")}
	x.set("step", slot/50)
	x.set("stop", slot*float64(len(rows)))
	return x
}

// tableRows are all combinations of n inputs, in1 the slowest.
func tableRows(n int) [][]bool {
	rows := make([][]bool, 1<<n)
	for i := range rows {
		for k := n - 1; k >= 0; k-- {
			rows[i] = append(rows[i], i>>k&1 == 1)
		}
	}
	return rows
}

func gateValues(s *stage) (texts, error) {
	in, out := numbered(s.ports, "in"), numbered(s.ports, "out")
	return s.drive(in, out, tableRows(len(in))), nil
}

func gateFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	in, out := numbered(s.ports, "in"), numbered(s.ports, "out")
	rows := tableRows(len(in))
	slot, vdd := s.slot(), s.Process.SupplyV
	var f []Figure
	worst := 0.0
	for _, o := range out {
		w, err := waveOf(r, "table", "v("+s.list.Nodes[o]+")")
		if err != nil {
			return nil, err
		}
		for i, row := range rows {
			driven := map[netlist.Net]level{}
			var words []string
			for k, n := range in {
				driven[n] = levelOf(row[k])
				words = append(words, fmt.Sprintf("%s=%d", s.name(n), bit(row[k])))
			}
			f = append(f, tableFigure(s.name(o)+" for "+strings.Join(words, " "), w.at((float64(i)+0.99)*slot)/vdd, settle(s.view, driven)[o]))
			if i > 0 {
				t := float64(i) * slot
				for _, rising := range []bool{true, false} {
					if c := w.first(vdd/2, rising, t); c < t+slot {
						worst = max(worst, c-t-slot/400)
					}
				}
			}
		}
	}
	return append(f, Figure{"longest delay in the table, 20 fF", "ns", worst * 1e9, math.NaN(), 0, "", ""}), nil
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// tableFigure is an output as a part of the supply, against what the switches say.
func tableFigure(name string, measured float64, l level) Figure {
	f := Figure{name, "of the supply", measured, math.NaN(), 0, "", ""}
	switch l {
	case high:
		f.Expected, f.Tolerance, f.Formula, f.Source = 1, 0.1, "a way of closed switches to the supply, none to ground", fromPhysics
	case low:
		f.Measured = math.Abs(measured) // near 0 a part of what is expected says nothing: 1 − it is held against 1
		f.Name, f.Measured = name+", below the supply", 1-measured
		f.Expected, f.Tolerance, f.Formula, f.Source = 1, 0.1, "a way of closed switches to ground, none to the supply", fromPhysics
	}
	return f
}
