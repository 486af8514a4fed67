package extract

import (
	"fmt"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
	"undermetal/layout/stack"
)

// resistorOf is the model of a resistor that a verdict makes of a wire whose layer has no sheet_ohm.
const resistorOf = "wireres"

// wireVerdict is a verdict that a wire is a resistor, in one of its places.
type wireVerdict struct {
	layout.Verdict
	path string
	at   geom.Point // in the frame
}

// wireCut is what becomes of it.
type wireCut struct {
	body []geom.Polygon // the wire between its ends
	why  string         // it cannot be cut: why
}

// wires holds what verdicts say of wires, and the drawing in which these are resistors.
type wires struct {
	cuts map[wireVerdict]*wireCut
	top  *layout.Cell
	st   *stack.Stack
}

// cutWires finds the wires that verdicts take for resistors. A wire reaches from one contact, or group of contacts, to the other:
// what lies less than its width from a contact is its end, the rest the resistor's body. The drawing gets a mark on each body, on
// layers that the stack does not have, and the stack a resistor's rule for each of these, so that all else follows from there.
// Cells and shapes stay the same ones; only the top cell is another, with one placement more.
func cutWires(flat *layout.Flat, top *layout.Cell, st *stack.Stack) *wires {
	w := &wires{cuts: map[wireVerdict]*wireCut{}, top: top, st: st}
	var layers []layout.Layer
	var all []wireVerdict
	flat.Verdicts(func(v *layout.Verdict, at geom.Point, in layout.Instance) {
		if v.Kind == wireOrResistor && v.Reading == "resistor" && int(v.Layer) < len(st.Layers) {
			all = append(all, wireVerdict{*v, in.Path, at})
			if !slices.Contains(layers, v.Layer) {
				layers = append(layers, v.Layer)
			}
		}
	})
	if len(layers) == 0 {
		return w
	}
	slices.Sort(layers)
	marks := &layout.Cell{Name: top.Name + " (wires)"}
	marked := *st
	marked.Layers, marked.Resistors = slices.Clone(st.Layers), slices.Clone(st.Resistors)
	for _, l := range layers {
		mark := layout.Layer(len(marked.Layers))
		if int(mark) >= layout.MaxLayers {
			break
		}
		marked.Layers = append(marked.Layers, stack.Layer{Name: st.Layers[l].Name + " taken for a resistor", Role: stack.Mark})
		rule := stack.ResistorRule{Body: l, Where: []stack.Condition{{Layer: mark}}}
		if st.Layers[l].SheetOhm == 0 {
			rule.Model = resistorOf
		}
		marked.Resistors = append(marked.Resistors, rule)
		f := newWireFinder(flat, st, l)
		for _, v := range all {
			if v.Layer != l {
				continue
			}
			c := f.cut(v.at)
			w.cuts[v] = c
			for _, pg := range c.body {
				marks.Shapes = append(marks.Shapes, layout.Shape{Layer: mark, Polygon: pg})
			}
		}
	}
	if len(marks.Shapes) == 0 {
		return w
	}
	with := *top
	with.Placements = append(slices.Clone(top.Placements), layout.Placement{Cell: marks, Transform: geom.Identity})
	w.top, w.st = &with, &marked
	return w
}

// of returns what became of a verdict on a wire.
func (w *wires) of(v *UsedVerdict) *wireCut {
	if c := w.cuts[wireVerdict{v.Verdict, v.Path, v.At}]; c != nil {
		return c
	}
	return &wireCut{why: "the stack has as many layers as there can be"}
}

// wireFinder finds wires of one layer.
type wireFinder struct {
	shapes   []geom.Polygon // of the layer, in the frame
	contacts []geom.Polygon // that land on it
}

func newWireFinder(flat *layout.Flat, st *stack.Stack, l layout.Layer) *wireFinder {
	f := &wireFinder{}
	lands := uint64(0)
	for k := range st.Layers {
		if c := &st.Layers[k]; c.Role == stack.Contact && slices.Contains(c.Joins, l) {
			lands |= 1 << k
		}
	}
	walk := layout.Walk{Layers: lands | 1<<l, Yield: func(p *layout.Placed) bool {
		pg := p.Transform.ApplyPolygon(p.Polygon)
		if p.Layer == l {
			f.shapes = append(f.shapes, pg)
		} else {
			f.contacts = append(f.contacts, pg)
		}
		return true
	}}
	walk.Run(flat)
	return f
}

// wireAt returns the connected part of the layer at a place; nil where there is none.
func (f *wireFinder) wireAt(at geom.Point) geom.Polygon {
	taken := make([]bool, len(f.shapes))
	var parts []geom.Polygon
	for i, pg := range f.shapes {
		if pg.Locate(at) != geom.Outside {
			taken[i] = true
			parts = append(parts, pg)
		}
	}
	for k := 0; k < len(parts); k++ { // what may touch it, as far as boxes tell
		near := parts[k].Bounds()
		for i, pg := range f.shapes {
			if !taken[i] && touch(near, pg.Bounds()) {
				taken[i] = true
				parts = append(parts, pg)
			}
		}
	}
	if len(parts) == 0 {
		return nil
	}
	for _, p := range polygons.Union(parts...) {
		if p.Polygon.Locate(at) != geom.Outside {
			return p.Polygon
		}
	}
	return nil
}

func touch(a, b geom.Rect) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}

// cut cuts the wire at a place at its two ends.
func (f *wireFinder) cut(at geom.Point) *wireCut {
	wire := f.wireAt(at)
	if wire == nil {
		return &wireCut{}
	}
	width := int(math.Ceil(wireWidth(wire) - 1e-6)) // but for rounding errors
	var on, around []geom.Polygon
	for _, c := range f.contacts {
		if _, inside := polygons.Cut(c, wire); len(inside) > 0 {
			b := c.Bounds()
			on = append(on, c)
			around = append(around, geom.Polygon{geom.Box(b.Min.X-width, b.Min.Y-width, b.Max.X+width, b.Max.Y+width).Ring()})
		}
	}
	if len(on) < 2 {
		return &wireCut{why: fmt.Sprintf("the wire has %d contacts; a resistor has one at either end", len(on))}
	}
	body, near := polygons.Cut(wire, around...)
	ends := 0
	for _, pg := range near {
		if slices.ContainsFunc(on, func(c geom.Polygon) bool { _, inside := polygons.Cut(c, pg); return len(inside) > 0 }) {
			ends++
		} else {
			body = append(body, pg) // another stretch of the wire that passes by
		}
	}
	if ends != 2 {
		return &wireCut{why: fmt.Sprintf("the wire has contacts in %d places; a resistor has two ends", ends)}
	}
	whole := polygons.Union(body...)
	if len(whole) != 1 {
		return &wireCut{why: fmt.Sprintf("between its contacts the wire falls into %d pieces; a resistor is one", len(whole))}
	}
	return &wireCut{body: polygons.Polygons(whole)}
}

// wireWidth returns the width in nm of the strip that has a polygon's area and perimeter: the smaller root of
// x² − (perimeter/2)·x + area, or the side of the square of that area for what is rounder.
func wireWidth(pg geom.Polygon) float64 {
	area, perimeter := 0.0, 0.0
	for _, r := range pg {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			area += (float64(a.X)*float64(b.Y) - float64(b.X)*float64(a.Y)) / 2
			perimeter += math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))
		}
	}
	area = math.Abs(area)
	d := perimeter*perimeter/4 - 4*area
	if d <= 0 {
		return math.Sqrt(area)
	}
	return (perimeter/2 - math.Sqrt(d)) / 2
}

// wires finds the devices that became of wires, and says why others are none.
func (d *decision) wires() {
	for i := range d.verdicts {
		v := &d.verdicts[i]
		switch {
		case v.Kind != wireOrResistor:
			continue
		case v.Reading == "wire":
			v.Lost = false
			continue
		case v.Reading != "resistor":
			d.unused(v, fmt.Sprintf("the reading %q is neither wire nor resistor", v.Reading))
			continue
		}
		c := d.cut.of(&v.UsedVerdict)
		if c.why != "" {
			d.unused(v, c.why)
			continue
		}
		for k := range d.parts {
			p := &d.parts[k]
			if d.regionKind(p.of) != body || d.layer(p.of) != v.Layer {
				continue
			}
			if at := p.dev.At; slices.ContainsFunc(c.body, func(pg geom.Polygon) bool { return pg.Locate(at) != geom.Outside }) {
				v.parts = append(v.parts, k)
			}
		}
		if v.Lost = len(c.body) == 0; !v.Lost && len(v.parts) == 0 {
			d.unused(v, "what lies between the wire's contacts makes no resistor: warnings at its place say why")
		}
	}
}
