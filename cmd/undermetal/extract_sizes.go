package main

import (
	"fmt"
	"slices"

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
	scales  []float64     // standard uncertainties of their scales, as parts of them, but for the frame's; 0 for one without a scale
	frame   []float64     // that of the frame's in theirs
	notes   [][]string    // what is not in these
	biases  []map[layout.Layer]measure.Bias
}

func newProvenance(d *dossier.Dossier, st *stack.Stack, origins dossier.Origins) (*provenance, error) {
	shots, err := d.Shots()
	if err != nil {
		return nil, err
	}
	t := &provenance{origins: origins, number: map[int64]int{}, scales: make([]float64, len(shots)), frame: make([]float64, len(shots)), notes: make([][]string, len(shots)), biases: make([]map[layout.Layer]measure.Bias, len(shots))}
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
		if t.frame[i], t.scales[i], t.notes[i], err = d.ScaleSigma(p); err != nil {
			return nil, err
		}
	}
	biases, err := d.Biases()
	if err != nil {
		return nil, err
	}
	for _, b := range biases {
		if l, known := st.LayerNamed(b.Layer); known {
			i := t.number[b.Shot]
			if t.biases[i] == nil {
				t.biases[i] = map[layout.Layer]measure.Bias{}
			}
			t.biases[i][l] = measure.Bias{OutNm: b.OutNm, SigmaNm: b.SigmaNm}
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

// sources says how well a drawing is known. What is stated of a layer's bias in the call counts for all photographs, and where there
// is none.
func (d *drawing) sources() measure.Sources {
	t := d.traced
	if t == nil {
		return measure.Sources{Origin: func(*layout.Shape) measure.Origin { return measure.Origin{Shot: -1} }, Bias: func(_ int, l layout.Layer) measure.Bias { return d.bias[l] }}
	}
	return measure.Sources{Origin: t.origin, Scales: t.scales, Frame: t.frame, Bias: func(shot int, l layout.Layer) measure.Bias {
		if b, stated := d.bias[l]; stated || shot < 0 {
			return b
		}
		return t.biases[shot][l]
	}}
}

// corrects reports whether sizes are corrected by a known bias.
func (d *drawing) corrects() bool {
	known := func(of map[layout.Layer]measure.Bias) bool {
		for l, b := range of {
			if said, stated := d.bias[l]; stated {
				b = said
			}
			if b.OutNm != 0 {
				return true
			}
		}
		return false
	}
	return known(d.bias) || d.traced != nil && slices.ContainsFunc(d.traced.biases, known)
}

// sizes returns how well the sizes of a circuit's devices are known, nil for a drawing that is exact and without bias, and adds
// warnings of what is not in that.
func (d *drawing) sizes(res *extract.Result, sol *measure.Solution) []measure.Size {
	t := d.traced
	if t == nil && len(d.bias) == 0 {
		return nil
	}
	sizes := measure.Sizes(res, d.stack, d.sources(), sol)
	if t == nil {
		return sizes
	}
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

// uncertain adds how well the sizes of a device are known, and from which photographs. t is nil for a drawing without any; junctions says
// whether s tells of those of sources and drains.
func (d *jsonDevice) uncertain(s measure.Size, of *netlist.Device, t *provenance, junctions bool) {
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
	if junctions && of.Kind.IsMOS() {
		d.SigmaAS, d.SigmaAD, d.SigmaPS, d.SigmaPD = parts(s.AS, 1e6), parts(s.AD, 1e6), parts(s.PS, 1e3), parts(s.PD, 1e3)
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
