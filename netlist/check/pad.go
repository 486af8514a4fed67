package check

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// pads finds bond pads without a name: no label of the drawing's own lies in the opening, on any layer, and the nets of the
// metals beneath have none.
func (d *drawing) pads() error {
	var open []int
	var ask []layout.Place
	var metals []layout.Layer
	for l := range d.st.Layers {
		if d.st.Layers[l].Role == stack.Metal {
			metals = append(metals, layout.Layer(l))
		}
	}
	for i := range d.pieces {
		p := &d.pieces[i]
		if d.st.Layers[p.layer].Role != stack.Pad || !d.checked(p.layer) {
			continue
		}
		open = append(open, i)
		for _, m := range metals {
			ask = append(ask, layout.Place{Layer: m, At: p.within})
		}
	}
	if len(open) == 0 {
		return nil
	}
	res, err := extract.Run(d.ctx, d.lib, d.top, d.st, extract.Options{Ask: ask, Workers: d.opt.Workers})
	if err != nil {
		return err
	}
	for n, i := range open {
		p := &d.pieces[i]
		named := d.labelOn(p)
		for k := range metals {
			named = named || len(res.Asked[n*len(metals)+k].Labels) > 0
		}
		if !named {
			d.add(at(PadWithoutLabel, p.layer, p.place(), "a bond pad without a name: put a label on it, so that its net becomes a port"))
		}
	}
	return nil
}

// labelOn reports whether a label of the drawing's own lies on a piece of a pad.
func (d *drawing) labelOn(p *piece) bool {
	for _, l := range d.top.Labels {
		if l.Text == "" || !p.box.Contains(l.At) {
			continue
		}
		on := false
		d.shapesNear(geom.Rect{Min: l.At, Max: l.At}, func(s *placed) bool {
			on = on || s.layer == p.layer && d.polygon(s).Locate(l.At) != geom.Outside
			return !on
		})
		if on {
			return true
		}
	}
	return false
}
