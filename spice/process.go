package spice

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout/stack"
)

// Process is what level-1 model cards are made of. Units are those of presets.txt.
type Process struct {
	Name                 string
	GateOxideNm, SupplyV float64
	N, P                 Transistor

	SheetGate, SheetDiffusion, SheetMetal float64 // ohm per square
	Responsivity                          float64 // of a photodiode, A/W
	Dark                                  float64 // its dark current, A/m²

	// Resistors has the sheet value in ohm per square of resistor models whose body's role is known.
	Resistors map[string]float64
	// Sources says where each figure comes from, by its name in presets.txt.
	Sources map[string]string
}

// Transistor is the figures that differ between n- and p-channel, and those of the junctions of their source and drain.
type Transistor struct {
	Mobility, VTO, Gamma, Phi, LambdaUm float64
	CJ, MJ, PB, CJSW, MJSW, JS          float64
	CGSO, CGDO, CGBO                    float64
}

//go:embed presets.txt
var presetText string

var presets = mustParsePresets(presetText)

func mustParsePresets(text string) []*Process {
	ps, err := parsePresets(text)
	if err != nil {
		panic("spice: " + err.Error())
	}
	return ps
}

// PresetNames returns the names of the presets.
func PresetNames() []string {
	names := make([]string, len(presets))
	for i, p := range presets {
		names[i] = p.Name
	}
	return names
}

// Preset returns a copy of the preset of that name. The error says which there are.
func Preset(name string) (*Process, error) {
	for _, p := range presets {
		if strings.EqualFold(p.Name, name) {
			return p.clone(), nil
		}
	}
	return nil, fmt.Errorf("there is no preset %q\n    there are %s", name, strings.Join(PresetNames(), ", "))
}

func (p *Process) clone() *Process {
	c := *p
	c.Sources, c.Resistors = map[string]string{}, map[string]float64{}
	for k, v := range p.Sources {
		c.Sources[k] = v
	}
	for k, v := range p.Resistors {
		c.Resistors[k] = v
	}
	return &c
}

// figures returns where the values of each figure stand: one, or that of n and that of p.
func (p *Process) figures() map[string][]*float64 {
	n, q := &p.N, &p.P
	return map[string][]*float64{
		"gate_oxide_nm": {&p.GateOxideNm}, "supply_v": {&p.SupplyV},
		"mobility": {&n.Mobility, &q.Mobility}, "vto": {&n.VTO, &q.VTO}, "gamma": {&n.Gamma, &q.Gamma}, "phi": {&n.Phi, &q.Phi},
		"lambda_um": {&n.LambdaUm, &q.LambdaUm}, "cj": {&n.CJ, &q.CJ}, "mj": {&n.MJ, &q.MJ}, "pb": {&n.PB, &q.PB},
		"cjsw": {&n.CJSW, &q.CJSW}, "mjsw": {&n.MJSW, &q.MJSW}, "js": {&n.JS, &q.JS},
		"cgso": {&n.CGSO, &q.CGSO}, "cgdo": {&n.CGDO, &q.CGDO}, "cgbo": {&n.CGBO, &q.CGBO},
		"sheet_gate": {&p.SheetGate}, "sheet_diffusion": {&p.SheetDiffusion}, "sheet_metal": {&p.SheetMetal},
		"responsivity": {&p.Responsivity}, "dark": {&p.Dark},
	}
}

// parsePresets reads presets.txt. Every figure must be there once, with its source.
func parsePresets(text string) ([]*Process, error) {
	var all []*Process
	var p *Process
	for i, line := range strings.Split(text, "\n") {
		fail := func(format string, args ...any) ([]*Process, error) {
			return nil, fmt.Errorf("presets.txt:%d: %s", i+1, fmt.Sprintf(format, args...))
		}
		line, source, sourced := strings.Cut(line, "|")
		words := strings.Fields(line)
		switch {
		case len(words) == 0 || strings.HasPrefix(words[0], "#"):
			continue
		case words[0] == "preset" && len(words) == 2:
			p = &Process{Name: words[1], Sources: map[string]string{}}
			all = append(all, p)
			continue
		case p == nil:
			return fail("a figure before the first preset")
		}
		places := p.figures()[words[0]]
		source = strings.TrimSpace(source)
		switch {
		case places == nil:
			return fail("there is no figure %q", words[0])
		case !sourced || source == "":
			return fail("%s has no source", words[0])
		case p.Sources[words[0]] != "":
			return fail("%s is there twice", words[0])
		case len(words) != 1+len(places):
			return fail("%s wants %d values", words[0], len(places))
		}
		for k, place := range places {
			v, err := strconv.ParseFloat(words[1+k], 64)
			if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
				return fail("%q is no number", words[1+k])
			}
			*place = v
		}
		p.Sources[words[0]] = source
	}
	for _, p := range all {
		for name := range p.figures() {
			if p.Sources[name] == "" {
				return nil, fmt.Errorf("presets.txt: preset %s lacks %s", p.Name, name)
			}
		}
	}
	return all, nil
}

// Nearest returns the name of the preset whose shortest gate is nearest to a length in nm, by ratio.
func Nearest(lengthNm float64) string {
	best, off := "", math.Inf(1)
	for _, p := range presets {
		l, _ := strconv.ParseFloat(strings.TrimSuffix(p.Name, "um"), 64)
		if d := math.Abs(math.Log(l * 1000 / lengthNm)); d < off {
			best, off = p.Name, d
		}
	}
	return best
}

// With returns the process with the figures that a stack states in place of its own. The body effect goes with the oxide.
func (p *Process) With(st *stack.Stack) *Process {
	c := p.clone()
	if st == nil {
		return c
	}
	const source = "stated in the stack"
	set := func(name string, v float64) {
		if v > 0 {
			*c.figures()[name][0] = v
			c.Sources[name] = source
		}
	}
	if v := st.Process.GateOxideNm; v > 0 {
		c.N.Gamma *= v / c.GateOxideNm
		c.P.Gamma *= v / c.GateOxideNm
		c.Sources["gamma"] += "; scaled to the stack's oxide"
	}
	set("gate_oxide_nm", st.Process.GateOxideNm)
	set("supply_v", st.Process.SupplyV)
	roles := map[stack.Role]string{stack.Gate: "sheet_gate", stack.Diffusion: "sheet_diffusion", stack.Metal: "sheet_metal"}
	for _, l := range slices.Backward(st.Layers) { // of several the first
		if name := roles[l.Role]; name != "" {
			set(name, l.SheetOhm)
		}
	}
	for _, r := range st.Resistors {
		l := st.Layers[r.Body]
		v := r.SheetOhm
		if v == 0 {
			v = l.SheetOhm
		}
		if name := roles[l.Role]; v == 0 && name != "" {
			v = *c.figures()[name][0]
		}
		if v > 0 {
			c.Resistors[folded(r.Model)] = v
		}
	}
	return c
}

// oxide is ε0·εr of silicon dioxide in F/m: CODATA's ε0 and the usual 3.9, which is what SPICE takes.
const oxide = 3.9 * 8.854214871e-12

// Cox returns the capacitance of the gate oxide in F/m².
func (p *Process) Cox() float64 { return oxide / (p.GateOxideNm * 1e-9) }

// Transistor returns the figures of a polarity.
func (p *Process) Transistor(pChannel bool) *Transistor {
	if pChannel {
		return &p.P
	}
	return &p.N
}

// Level1 returns the large-signal model of a transistor of that polarity and length in nm.
func (p *Process) Level1(pChannel bool, lengthNm float64) Level1 {
	t := p.Transistor(pChannel)
	return Level1{P: pChannel, VTO: t.VTO, KP: t.Mobility * 1e-4 * p.Cox(), Gamma: t.Gamma, Phi: t.Phi, Lambda: t.LambdaUm / (lengthNm / 1000)}
}

// Junction returns the capacitance in F of a junction of an area in nm² and a perimeter in nm at a reverse voltage in V.
//
//	C = CJ·A/(1 + V/PB)^MJ + CJSW·P/(1 + V/PB)^MJSW
func (t *Transistor) Junction(area, perim, reverse float64) float64 {
	x := 1 + max(reverse, 0)/t.PB
	return t.CJ*area*1e-18*math.Pow(x, -t.MJ) + t.CJSW*perim*1e-9*math.Pow(x, -t.MJSW)
}

// Sourced is a figure as it is shown: its name in presets.txt, its value or values, and where they come from.
type Sourced struct{ Name, Value, Source string }

// Figures returns all figures, in the order of presets.txt.
func (p *Process) Figures() []Sourced {
	var list []Sourced
	seen := map[string]bool{}
	all := p.figures()
	for _, line := range strings.Split(presetText, "\n") {
		words := strings.Fields(line)
		if len(words) < 2 || seen[words[0]] || all[words[0]] == nil {
			continue
		}
		seen[words[0]] = true
		var values []string
		for _, v := range all[words[0]] {
			values = append(values, strconv.FormatFloat(*v, 'g', 6, 64))
		}
		list = append(list, Sourced{words[0], strings.Join(values, " "), p.Sources[words[0]]})
	}
	return list
}
