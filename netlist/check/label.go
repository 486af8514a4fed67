package check

import (
	"undermetal/layout"
	"undermetal/layout/geom"
)

// labels takes over what extraction has to say about the drawing's own labels.
func (d *drawing) labels() error {
	layers := map[string]layout.Layer{}
	for l := range d.st.Layers {
		layers[d.st.Layers[l].Name] = layout.Layer(l)
	}
	for _, w := range d.devices.Warnings {
		switch w.Code {
		case EqualLabels, LabelOnNothing, TwoNames:
		default:
			continue
		}
		l, ok := layers[w.Layer]
		if !ok {
			l = d.st.SubstrateLayer()
		}
		if d.checked(l) {
			f := at(w.Code, l, geom.Point{X: w.X, Y: w.Y}, "%s", w.Text)
			f.folded = true // each has names of its own
			d.add(f)
		}
	}
	return nil
}
