package main

import (
	"fmt"

	"undermetal/layout"
	"undermetal/layout/dossier"
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
		if t.scales[i], t.notes[i], err = scaleSigma(d, p); err != nil {
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

// sizes returns how well the sizes of a circuit's transistors are known, nil for a drawing that is exact, and adds warnings
// of what is not in that.
func (d *drawing) sizes(res *extract.Result) []measure.Size {
	t := d.traced
	if t == nil {
		return nil
	}
	sizes := measure.Sizes(res, d.stack, t.scales, t.origin)
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

// uncertain adds how well W and L are known, and from which photographs.
func (d *jsonDevice) uncertain(s measure.Size, t *provenance) {
	for _, k := range s.Shots {
		d.Shots = append(d.Shots, t.names[k])
	}
	if d.W == 0 {
		return
	}
	d.SigmaW, d.SigmaL = &jsonSigma{s.W.Edge, s.W.Bias, s.W.Scale}, &jsonSigma{s.L.Edge, s.L.Bias, s.L.Scale}
	d.Sigma = jsonSigma{max(s.W.Edge, s.L.Edge), max(s.W.Bias, s.L.Bias), max(s.W.Scale, s.L.Scale)}
}
