package bench

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var (
	clockedText  = mustTemplate("clocked")
	clockedBench = &Bench{text: clockedText, bind: bindClocked, values: clockedValues, figures: clockedFigures}
)

// clockedSteps is how many single changes the sequence has. By chance alone, an output that does what another cell does would agree in
// all of them with a probability of 2^-clockedSteps.
const clockedSteps = 160

var clockedInputs = []string{"clk", "d", "rn", "sn", "se", "si"}

func bindClocked(v *view, ports map[string]netlist.Net) (string, error) {
	if err := v.tooLarge(); err != nil {
		return "", err
	}
	usual(v, ports, clockedText, v.inputs())
	for _, p := range []string{"clk", "d"} {
		if _, ok := ports[p]; !ok {
			return "", fmt.Errorf("no input has a usual name for %s\n    say --port %s=NET", p, p)
		}
	}
	if len(numbered(ports, "out")) == 0 {
		bindNumbered(v, ports)
		for k := range numbered(ports, "in") {
			delete(ports, fmt.Sprintf("in%d", k+1))
		}
	}
	if len(numbered(ports, "out")) == 0 {
		return "", errors.New("no port is an output\n    say --port out1=NET")
	}
	driven := map[netlist.Net]level{}
	for _, p := range clockedInputs {
		if n, ok := ports[p]; ok {
			driven[n] = low
		}
	}
	for _, p := range []string{"rn", "sn"} {
		if n, ok := ports[p]; ok {
			driven[n] = high
		}
	}
	keeps := false
	for _, clk := range []level{low, high} {
		driven[ports["clk"]] = clk
		for i, l := range settle(v, driven) {
			keeps = keeps || l == unknown && len(v.gatesOn(netlist.Net(i))) > 0
		}
	}
	if !keeps {
		return "", errors.New("its switches decide every net by the inputs: it keeps nothing")
	}
	return fmt.Sprintf("clk is %s, d is %s by name; with the inputs at rest some nets keep what they had", v.name(ports["clk"]), v.name(ports["d"])), nil
}

// sequence are the inputs of each step; one at most changes from one to the next.
func (s *stage) sequence() (in []netlist.Net, names []string, rows [][]bool) {
	for _, p := range clockedInputs {
		if n, ok := s.ports[p]; ok {
			in, names = append(in, n), append(names, p)
		}
	}
	rnd := rand.New(rand.NewPCG(9, 39))
	row := make([]bool, len(in))
	for k, p := range names {
		row[k] = p == "rn" || p == "sn"
	}
	rows = append(rows, slices.Clone(row))
	for i := range clockedSteps {
		k := 0
		if i%2 == 1 {
			if rnd.IntN(3) == 0 { // data that changed in every period would make both edges alike
				rows = append(rows, slices.Clone(row))
				continue
			}
			k = 1 + rnd.IntN(len(in)-1)
			if p := names[k]; (p == "rn" || p == "sn") && row[k] && rnd.IntN(3) > 0 {
				k = 1 // resets are rarer than data
			}
			for j, p := range names {
				if (p == "rn" || p == "sn") && !row[j] && rnd.IntN(2) == 0 {
					k = j // and end soon
				}
			}
		}
		row[k] = !row[k]
		rows = append(rows, slices.Clone(row))
	}
	return in, names, rows
}

func clockedValues(s *stage) (texts, error) {
	in, _, rows := s.sequence()
	return s.drive(in, numbered(s.ports, "out"), rows), nil
}

// behaviour is what a sequential cell may do. next gives the output after a step from the inputs before and after it.
type behaviour struct {
	name string
	next func(q *kept, was, is map[string]bool)
}

// kept is what a cell keeps, and gives.
type kept struct{ store, out bool }

func behaviours() []behaviour {
	data := func(in map[string]bool) bool {
		if in["se"] {
			return in["si"]
		}
		return in["d"]
	}
	var list []behaviour
	for _, first := range []string{"set", "reset"} { // which wins where both are at 0
		async := func(q *kept, in map[string]bool) bool {
			rn, hasR := in["rn"]
			sn, hasS := in["sn"]
			r, s := hasR && !rn, hasS && !sn
			if r && s {
				r, s = first == "reset", first == "set"
			}
			if r || s {
				q.store, q.out = s, s
			}
			return r || s
		}
		for _, up := range []bool{true, false} {
			edge, gate := "rising", "high"
			if !up {
				edge, gate = "falling", "low"
			}
			list = append(list, behaviour{"flip-flop on the " + edge + " edge", func(q *kept, was, is map[string]bool) {
				if !async(q, is) && was["clk"] != up && is["clk"] == up {
					q.store = data(was)
					q.out = q.store
				}
			}}, behaviour{"latch, open while the clock is " + gate, func(q *kept, was, is map[string]bool) {
				if !async(q, is) && is["clk"] == up {
					q.store = data(is)
					q.out = q.store
				}
			}})
		}
	}
	for _, up := range []bool{true, false} { // in a clock gate "se" enables as "d" does
		gate := "low"
		if !up {
			gate = "high"
		}
		list = append(list, behaviour{"clock gate, at rest " + gate, func(q *kept, was, is map[string]bool) {
			if is["clk"] != up {
				q.store = is["d"] || is["se"]
			}
			q.out = !up
			if q.store {
				q.out = is["clk"]
			}
		}})
	}
	return list
}

// Behaviour is what a sequential cell does, and in how many of the steps at which that is defined an output does just that.
type Behaviour struct {
	Name           string
	Output         string // the net
	Inverted       bool
	Agree, Defined int
	Rivals         []string // what else agrees as well
}

// words is the behaviour's name, and whether the output is the complement.
func (b *Behaviour) words() string {
	if b.Inverted {
		return b.Name + ", inverted"
	}
	return b.Name
}

// Behaviours returns what each output behaves as: the best of flip-flop, latch and clock gate on either edge.
func Behaviours(setup Setup, r *simulate.Result) ([]Behaviour, error) {
	_, s, err := clockedBench.prepare(setup)
	if err != nil {
		return nil, err
	}
	return s.behaviours(r)
}

func (s *stage) behaviours(r *simulate.Result) ([]Behaviour, error) {
	_, names, rows := s.sequence()
	slot, vdd := s.slot(), s.Process.SupplyV
	var list []Behaviour
	for _, o := range numbered(s.ports, "out") {
		w, err := waveOf(r, "steps", "v("+s.list.Nodes[o]+")")
		if err != nil {
			return nil, err
		}
		var best Behaviour
		for _, b := range behaviours() {
			for _, inverted := range []bool{false, true} {
				got := Behaviour{Name: b.name, Output: s.name(o), Inverted: inverted}
				var q kept
				known := false
				was := asMap(names, rows[0])
				for i := 1; i < len(rows); i++ {
					is := asMap(names, rows[i])
					before := q
					b.next(&q, was, is)
					// What it keeps at first is not known: it is, once a clock of either edge and level has come.
					known = known || q != before || i > 8
					if known {
						got.Defined++
						high := w.at((float64(i)+0.99)*slot) > vdd/2
						if level := w.at((float64(i) + 0.99) * slot); (level < 0.1*vdd || level > 0.9*vdd) && high == (q.out != inverted) {
							got.Agree++
						}
					}
					was = is
				}
				switch better, worse := got.Agree*best.Defined, best.Agree*got.Defined; {
				case best.Defined == 0 || better > worse:
					best = got
				case better == worse && (got.Name != best.Name || got.Inverted != best.Inverted):
					best.Rivals = append(best.Rivals, got.words())
				}
			}
		}
		list = append(list, best)
	}
	return list, nil
}

func asMap(names []string, row []bool) map[string]bool {
	m := map[string]bool{}
	for k, p := range names {
		m[p] = row[k]
	}
	return m
}

func clockedFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	list, err := s.behaviours(r)
	if err != nil {
		return nil, err
	}
	var f []Figure
	for _, b := range list {
		words := b.words()
		for _, r := range b.Rivals {
			words += ", or a " + r
		}
		f = append(f, Figure{b.Output + " as a " + words, "steps", float64(b.Agree), float64(b.Defined), 0, "the best of flip-flops, latches and clock gates, step by step", fromPhysics})
	}
	return f, nil
}
