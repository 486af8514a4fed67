package check

import (
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// outlines finds shapes that are no valid polygons, each once where it is drawn, and tells of the first place that it has.
func (d *drawing) outlines() error {
	type faulty struct {
		code  string
		fault geom.Fault
	}
	faults := map[int32]faulty{}
	for i, s := range d.flat.Drawn() {
		if i%4096 == 0 && d.ctx.Err() != nil {
			return d.ctx.Err()
		}
		if !d.checked(s.Layer) {
			continue
		}
		if code, f, bad := Outline(s.Polygon); bad {
			faults[int32(i)] = faulty{code, f}
		}
	}
	if len(faults) == 0 {
		return nil
	}
	seen := map[int32]int{} // the finding of each
	for i := range d.shapes {
		p := &d.shapes[i]
		is, bad := faults[p.index]
		if !bad {
			continue
		}
		if k, ok := seen[p.index]; ok {
			d.findings[k].Count++
			continue
		}
		seen[p.index] = len(d.findings)
		f := at(is.code, p.layer, p.transform.Apply(is.fault.At), "%s: trace heal --only %s draws what it covers", what(is.fault), is.code)
		f.folded = true
		d.add(f)
	}
	return nil
}

// Outline says whether something is wrong with a polygon: CrossesItself where the outline crosses itself, so that not all of
// what it goes around lies on the same side of it, and OddOutline for anything else, such as a hole drawn along a slit or a
// corner that touches an edge: common in files, and without doubt about what is covered.
//
// An outline that comes back to a corner is known to cross there by its area: what it covers is not what it goes around,
// parts that it goes around the other way taken off.
func Outline(pg geom.Polygon) (code string, fault geom.Fault, bad bool) {
	fault, bad = pg.Fault()
	if !bad {
		return "", fault, false
	}
	if fault.Kind == geom.Crosses {
		return CrossesItself, fault, true
	}
	if fault.Kind != geom.Touches && fault.Kind != geom.Overlaps {
		return OddOutline, fault, true
	}
	around, covered, slack := 0.0, 0.0, 0.5
	for _, r := range pg {
		around += r.Area()
		if !r.Manhattan() {
			slack += r.Perimeter() // places where slanted edges cross are rounded by 1 nm at most
		}
	}
	for _, c := range region.Clean(pg) {
		for _, r := range c {
			covered += r.Area()
		}
	}
	if math.Abs(covered-math.Abs(around)) > slack {
		return CrossesItself, fault, true
	}
	return OddOutline, fault, true
}

// what is a fault without its place, which stands beside it.
func what(f geom.Fault) string {
	text := f.String()
	if f.Kind == geom.NoRing {
		return text
	}
	return text[:len(text)-len(fmt.Sprintf(" at (%g, %g) µm", float64(f.At.X)/1000, float64(f.At.Y)/1000))]
}
