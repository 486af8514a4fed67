package check

import (
	"fmt"

	"undermetal/layout/geom"
)

// outlines finds shapes that are no valid polygons, each once where it is drawn, and tells of the first place that it has.
func (d *drawing) outlines() error {
	faults := map[int32]geom.Fault{}
	for i, s := range d.flat.Drawn() {
		if i%4096 == 0 && d.ctx.Err() != nil {
			return d.ctx.Err()
		}
		if !d.checked(s.Layer) {
			continue
		}
		if f, bad := s.Polygon.Fault(); bad {
			faults[int32(i)] = f
		}
	}
	if len(faults) == 0 {
		return nil
	}
	seen := map[int32]int{} // the finding of each
	for i := range d.shapes {
		p := &d.shapes[i]
		fault, bad := faults[p.index]
		if !bad {
			continue
		}
		if k, ok := seen[p.index]; ok {
			d.findings[k].Count++
			continue
		}
		seen[p.index] = len(d.findings)
		fault.At = p.transform.Apply(fault.At)
		f := at(CrossesItself, p.layer, fault.At, "%s: trace heal --only crosses-itself draws what it covers", what(fault))
		switch fault.Kind {
		case geom.Crosses, geom.Touches, geom.Overlaps:
		default:
			f.Code = OddOutline
		}
		f.folded = true
		d.add(f)
	}
	return nil
}

// what is a fault without its place, which stands beside it.
func what(f geom.Fault) string {
	text := f.String()
	if f.Kind == geom.NoRing {
		return text
	}
	return text[:len(text)-len(fmt.Sprintf(" at (%g, %g) µm", float64(f.At.X)/1000, float64(f.At.Y)/1000))]
}
