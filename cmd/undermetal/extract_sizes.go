package main

import (
	"cmp"
	"fmt"
	"strings"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
)

// provenance says where the shapes of a dossier's drawing come from, and how well the scales of its photographs are known.
type provenance struct {
	origins dossier.Origins
	number  map[int64]int // of the photographs, by their ids
	names   []string      // of the photographs, by number, like all that follows
	scales  []float64     // standard uncertainties of their scales, as parts of them; 0 for one without a scale
	notes   [][]string    // what is not in these
}

func newProvenance(d *dossier.Dossier, origins dossier.Origins) (*provenance, error) {
	shots, err := d.Shots()
	if err != nil {
		return nil, err
	}
	t := &provenance{origins: origins, number: map[int64]int{}, scales: make([]float64, len(shots)), notes: make([][]string, len(shots))}
	for i := range shots {
		s := &shots[i]
		t.number[s.ID] = i
		t.names = append(t.names, s.Name)
		p, err := d.Locate(s)
		if err != nil {
			return nil, err
		}
		if p.ToFrame == nil {
			continue
		}
		if t.scales[i], t.notes[i], err = d.ScaleSigma(p); err != nil {
			return nil, err
		}
	}
	return t, nil
}

func (t *provenance) origin(s *layout.Shape) measure.Origin {
	from := measure.Origin{Shot: -1}
	if o := t.origins[s]; o != nil {
		from.SigmaNm = o.SigmaNm
		if n, ok := t.number[o.Shot]; ok {
			from.Shot = n
		}
	}
	return from
}

// sizes returns how well the sizes of a circuit's devices are known, nil for a drawing that is exact and without bias, and adds
// warnings of what is not in that.
func (d *drawing) sizes(res *extract.Result, sol *measure.Solution, bias map[layout.Layer]float64) []measure.Size {
	t := d.traced
	if t == nil {
		if len(bias) == 0 {
			return nil
		}
		return measure.Sizes(res, d.stack, measure.Sources{Origin: func(*layout.Shape) measure.Origin { return measure.Origin{Shot: -1} }, Bias: bias}, sol)
	}
	sizes := measure.Sizes(res, d.stack, measure.Sources{Origin: t.origin, Scales: t.scales, Bias: bias}, sol)
	told := map[string]bool{}
	for _, s := range sizes {
		for _, k := range s.Shots {
			for _, note := range t.notes[k] {
				if !told[note] {
					told[note] = true
					res.Warnings = append(res.Warnings, extract.Warning{Code: "scale-unknown", Text: fmt.Sprintf("W and L from %s: %s", t.names[k], note)})
				}
			}
		}
	}
	return sizes
}

// parseBias reads what --bias says: LAYER=20nm, LAYER=±20nm or LAYER=0±20nm.
func parseBias(said []string, st *stack.Stack) (map[layout.Layer]float64, error) {
	bias := map[layout.Layer]float64{}
	for _, text := range said {
		name, value, ok := strings.Cut(text, "=")
		if !ok {
			return nil, usagef("--bias %s: says no layer and how uncertain its edges are together\n    as in --bias poly=20nm", text)
		}
		l, known := st.LayerNamed(strings.TrimSpace(name))
		if !known {
			return nil, usagef("--bias %s: the stack has no layer %q\n    it has %s", text, name, someNames(st.LayerNames()))
		}
		if mean, sigma, two := strings.Cut(value, "±"); two {
			if m, err := parseQuantity(cmp.Or(strings.TrimSpace(mean), "0"), "nm"); err != nil || m != 0 {
				return nil, usagef("--bias %s: only how uncertain the bias is can be stated, nothing is corrected by it\n    move the shapes, or state %s=0±%s", text, name, sigma)
			}
			value = sigma
		}
		nm, err := parseQuantity(value, "nm")
		if err != nil || nm < 0 {
			return nil, usagef("--bias %s: %q is no length from 0\n    as in --bias poly=20nm", text, value)
		}
		bias[l] = nm
	}
	return bias, nil
}

// uncertain adds how well the sizes of a device are known, and from which photographs. t is nil for a drawing without any.
func (d *jsonDevice) uncertain(s measure.Size, of *netlist.Device, t *provenance) {
	if t != nil {
		for _, k := range s.Shots {
			d.Shots = append(d.Shots, t.names[k])
		}
	}
	parts := func(x measure.Sigma, unit float64) *jsonSigma {
		return &jsonSigma{x.Edge / unit, x.Bias / unit, x.Scale / unit}
	}
	if of.Kind == netlist.Capacitor || of.Kind == netlist.Diode {
		d.SigmaArea, d.SigmaPer = parts(s.Area, 1e6), parts(s.Perimeter, 1e3)
	}
	if d.Value != nil {
		d.SigmaVal = parts(s.Value, 1)
	}
	if d.W == 0 {
		return
	}
	if of.Kind == netlist.Resistor {
		d.SigmaSq = parts(s.Ratio, 1/(d.Squares*d.Squares))
	} else {
		d.SigmaWL = parts(s.Ratio, 1)
	}
	d.SigmaW, d.SigmaL = parts(s.W, 1), parts(s.L, 1)
	d.Sigma = jsonSigma{max(s.W.Edge, s.L.Edge), max(s.W.Bias, s.L.Bias), max(s.W.Scale, s.L.Scale)}
}
