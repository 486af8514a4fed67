package stack

import (
	"fmt"
	"slices"

	"undermetal/layout"
)

// variant is one of the generic stacks.
type variant struct {
	polys, metals int
	well, split   bool
}

func (v variant) name() string {
	s := fmt.Sprintf("cmos-%dp%dm", v.polys, v.metals)
	if v.well {
		s += "-well"
	}
	if v.split {
		s += "-split"
	}
	return s
}

func variants() []variant {
	var vs []variant
	for _, well := range []bool{false, true} {
		for _, split := range []bool{false, true} {
			for p := 1; p <= 2; p++ {
				for m := 1; m <= 5; m++ {
					vs = append(vs, variant{p, m, well, split})
				}
			}
		}
	}
	return vs
}

// Builtins returns the names of the built-in stacks: generic CMOS, for those who have photographs and no process
// document.
//
// They are called cmos-PpMm with P layers of polysilicon (1 or 2) and M of metal (1 to 5), then -well where an n-well is
// traced, and -split where n and p diffusion are traced as two layers: cmos-1p2m, cmos-2p3m-well, cmos-1p1m-well-split.
//
//	layer                  GDSII   labels  in
//	diffusion, ndiffusion  1/0     1/1     one, or the n type of two
//	pdiffusion             2/0     2/1     -split
//	nwell                  3/0     3/1     -well
//	contact                10/0            joins metal1, poly2, poly and the diffusions
//	poly                   11/0    11/1
//	poly2                  12/0    12/1    2p; lies above poly
//	via N                  20+N/0          joins metal N+1 and metal N
//	metal N                30+N/0  30+N/1
//
// The numbers are our own, the same in every variant, so that drawings can be exchanged between them. Contacts and vias
// have no labels: a name belongs to a net on a conductor.
//
// What tells an n from a p transistor ("nfet", "pfet") is the well (n outside, p inside), the diffusion, or both. With
// neither there is no [[mos]] rule, and transistors come out with unknown polarity. With -split alone the bulk is
// unknown. Taps are told only by both together: ndiffusion in the well ties it, pdiffusion outside ties the substrate.
func Builtins() []string {
	var names []string
	for _, v := range variants() {
		names = append(names, v.name())
	}
	return names
}

// BuiltinPattern says in a line what the built-in stacks are called.
const BuiltinPattern = "cmos-PpMm with P polys (1 or 2) and M metals (1 to 5), then -well for a traced n-well, -split for n and p diffusion apart; such as cmos-1p2m-well"

// Builtin returns the built-in stack of that name; the caller may change it.
func Builtin(name string) (*Stack, bool) {
	for _, v := range variants() {
		if v.name() == name {
			return v.stack(), true
		}
	}
	return nil, false
}

// The colours are those of M. Okabe and K. Ito, "Color universal design", 2008 (values from memory), and a grey. There are
// fewer than layers: a hatch and a name tell layers apart, colour only helps.
var (
	metalColors = [5]string{"#0072b2", "#cc79a7", "#56b4e9", "#e69f00", "#999999"}
	polyColors  = [2]string{"#d55e00", "#f0e442"}
)

func (v variant) stack() *Stack {
	s := &Stack{Name: "generic CMOS: " + v.describe(), Substrate: Substrate{Type: "p"}}
	add := func(l Layer, number int16, labelled bool) layout.Layer {
		l.GDS = []Pair{{number, 0}}
		if labelled {
			l.Labels = []Pair{{number, 1}}
		}
		s.Layers = append(s.Layers, l)
		return layout.Layer(len(s.Layers) - 1)
	}
	var diffusions, polys []layout.Layer
	if v.split {
		diffusions = []layout.Layer{add(Layer{Name: "ndiffusion", Role: Diffusion, Color: "#009e73"}, 1, true),
			add(Layer{Name: "pdiffusion", Role: Diffusion, Color: "#e69f00"}, 2, true)}
	} else {
		diffusions = []layout.Layer{add(Layer{Name: "diffusion", Role: Diffusion, Color: "#009e73"}, 1, true)}
	}
	var nwell layout.Layer
	if v.well {
		nwell = add(Layer{Name: "nwell", Role: Well, Color: "#999999"}, 3, true)
	}
	for i := range v.polys {
		name := "poly"
		if i > 0 {
			name = "poly2"
		}
		polys = append([]layout.Layer{add(Layer{Name: name, Role: Gate, Color: polyColors[i]}, int16(11+i), true)}, polys...)
	}
	below := append(polys, diffusions...)
	for i := range v.metals {
		via := Layer{Name: "contact", Role: Contact, Color: "#000000"}
		number := int16(10)
		if i > 0 {
			via.Name = fmt.Sprintf("via%d", i)
			number = int16(20 + i)
		}
		metal := layout.Layer(len(s.Layers) + 1)
		via.Joins = append([]layout.Layer{metal}, below...)
		add(via, number, false)
		add(Layer{Name: fmt.Sprintf("metal%d", i+1), Role: Metal, Color: metalColors[i]}, int16(31+i), true)
		below = []layout.Layer{metal}
	}
	v.rules(s, diffusions, polys, nwell)
	return s
}

func (v variant) describe() string {
	s := fmt.Sprintf("%d poly, %d metal", v.polys, v.metals)
	if v.well {
		s += ", n-well traced"
	}
	if v.split {
		s += ", n and p diffusion apart"
	}
	return s
}

func (v variant) rules(s *Stack, diffusions, polys []layout.Layer, nwell layout.Layer) {
	gates := make([]layout.Layer, len(polys)) // in the order of the layers
	for i := range polys {
		gates[len(polys)-1-i] = polys[i]
	}
	mos := func(model, typ string, d []layout.Layer, bulk Tie, where ...Condition) {
		s.MOS = append(s.MOS, MOSRule{Model: model, Type: typ, Where: where, Gates: slices.Clone(gates), Diffusions: slices.Clone(d), Bulk: bulk})
	}
	out, in := Condition{nwell, true}, Condition{nwell, false}
	switch {
	case v.split && v.well:
		mos("nfet", "n", diffusions[:1], ToSubstrate, out)
		mos("pfet", "p", diffusions[1:], ToWell(nwell), in)
		s.Taps = []TapRule{
			{[]Condition{in}, slices.Clone(diffusions[:1]), ToWell(nwell)},
			{[]Condition{out}, slices.Clone(diffusions[1:]), ToSubstrate},
		}
	case v.split:
		mos("nfet", "n", diffusions[:1], Tie{})
		mos("pfet", "p", diffusions[1:], Tie{})
	case v.well:
		mos("nfet", "n", diffusions, ToSubstrate, out)
		mos("pfet", "p", diffusions, ToWell(nwell), in)
	}
}
