package bench

import (
	"fmt"
	"math"
	"strings"

	"undermetal/netlist"
	"undermetal/spice/simulate"
)

var operatingBench = &Bench{anySupply: true, text: mustTemplate("operating"), bind: bindOperating, values: operatingValues, figures: operatingFigures}

// mostNets is of how many nets the operating point is told.
const mostNets = 40

func bindOperating(v *view, _ map[string]netlist.Net) (string, error) {
	return strings.Join(append([]string{"fits everything"}, v.why...), "; "), nil
}

// told are the nets of which the operating point is told: those with a name first.
func (s *stage) told() []netlist.Net {
	var list []netlist.Net
	for _, named := range []bool{true, false} {
		for i := range s.c.Nets {
			n := netlist.Net(i)
			if (s.c.Nets[i].Name != "") == named && len(s.pins[n]) > 0 && !s.isRail(n) && len(list) < mostNets {
				list = append(list, n)
			}
		}
	}
	return list
}

func operatingValues(s *stage) (texts, error) {
	var vectors []string
	for _, n := range s.told() {
		if s.list.Nodes[n] != "0" {
			vectors = append(vectors, "v("+s.list.Nodes[n]+")")
		}
	}
	if source := s.supplyCurrent(); source != "" {
		vectors = append(vectors, source)
	}
	if len(vectors) == 0 {
		return nil, fmt.Errorf("no net is left between the rails")
	}
	return texts{"none": "-", "vectors": strings.Join(vectors, " ")}, nil
}

func operatingFigures(s *stage, r *simulate.Result) ([]Figure, error) {
	floating := map[netlist.Net]bool{}
	for _, n := range s.floating() {
		floating[n] = true
	}
	var f []Figure
	for _, n := range s.told() {
		if s.list.Nodes[n] == "0" {
			continue
		}
		v, err := single(r, "op", "v("+s.list.Nodes[n]+")")
		if err != nil {
			return nil, err
		}
		name := s.name(n)
		if floating[n] {
			name += ", floats"
		}
		f = append(f, Figure{name, "V", v, math.NaN(), 0, "", ""})
	}
	if source := s.supplyCurrent(); source != "" {
		i, err := single(r, "op", source)
		if err != nil {
			return nil, err
		}
		f = append(f, Figure{"supply current", "µA", -i * 1e6, math.NaN(), 0, "", ""})
	}
	return append(f, Figure{"nets that float", "", float64(len(floating)), math.NaN(), 0, "", ""}), nil
}
