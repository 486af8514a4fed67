package extract

import (
	"cmp"
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
	"undermetal/layout/stack"
)

// The models of what verdicts make of wires. That of a resistor is there where its layer has no sheet_ohm only.
const (
	resistorOf = "wireres"
	fuseOf     = "fuse"
)

// wireVerdict is a verdict that a wire is a resistor, in one of its places.
type wireVerdict struct {
	layout.Verdict
	path string
	at   geom.Point // in the frame
}

// wireCut is what becomes of it.
type wireCut struct {
	body []geom.Polygon // the wire between its ends
	why  string         // it cannot be cut, or is not: why
}

// wireKey tells the wires of a layer apart: two that do not touch have not both the same box and the same lowest, then leftmost
// corner.
type wireKey struct {
	box geom.Rect
	low geom.Point
}

// wires holds what verdicts say of wires, and the drawing in which these are resistors.
type wires struct {
	cuts map[wireVerdict]*wireCut
	top  *layout.Cell
	st   *stack.Stack
}

// cutWires finds the wires that verdicts take for resistors or fuses. A wire reaches from one contact, or group of contacts, to the other:
// what lies less than its width from a contact is its end, the rest the resistor's body. The drawing gets a mark on each body, on
// layers that the stack does not have, and the stack a resistor's rule for each of these, so that all else follows from there.
// Cells and shapes stay the same ones; only the top cell is another, with one placement more.
func cutWires(flat *layout.Flat, top *layout.Cell, st *stack.Stack) *wires {
	w := &wires{cuts: map[wireVerdict]*wireCut{}, top: top, st: st}
	var layers []layout.Layer
	var all []wireVerdict
	flat.Verdicts(func(v *layout.Verdict, at geom.Point, in layout.Instance) {
		if v.Kind != wireOrResistor || !slices.Contains([]string{"resistor", "fuse", "wire"}, v.Reading) || int(v.Layer) >= len(st.Layers) {
			return
		}
		all = append(all, wireVerdict{*v, in.Path, at})
		if v.Reading != "wire" && !slices.Contains(layers, v.Layer) {
			layers = append(layers, v.Layer)
		}
	})
	if len(layers) == 0 {
		return w
	}
	slices.Sort(layers)
	slices.SortStableFunc(all, func(a, b wireVerdict) int { // as byDepth has them
		return cmp.Or(cmp.Compare(depth(a.path), depth(b.path)), cmp.Compare(a.at.Y, b.at.Y), cmp.Compare(a.at.X, b.at.X), cmp.Compare(a.path, b.path), cmp.Compare(a.Reading, b.Reading))
	})
	marks := &layout.Cell{Name: top.Name + " (wires)"}
	marked := *st
	marked.Layers, marked.Resistors = slices.Clone(st.Layers), slices.Clone(st.Resistors)
	for _, l := range layers {
		bodies := w.decide(newWireFinder(flat, st, l), l, all)
		for _, reading := range []string{"resistor", "fuse"} {
			if len(bodies[reading]) == 0 {
				continue
			}
			mark := layout.Layer(len(marked.Layers))
			if int(mark) >= layout.MaxLayers {
				w.giveUp(l, reading)
				continue
			}
			marked.Layers = append(marked.Layers, stack.Layer{Name: st.Layers[l].Name + " taken for a " + reading, Role: stack.Mark})
			rule := stack.ResistorRule{Body: l, Where: []stack.Condition{{Layer: mark}}}
			switch {
			case reading == "fuse":
				rule.Model = fuseOf
			case st.Layers[l].SheetOhm == 0:
				rule.Model = resistorOf
			}
			marked.Resistors = append(marked.Resistors, rule)
			for _, pg := range bodies[reading] {
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

// giveUp takes back what verdicts make of wires of a layer: the stack has no room for their mark.
func (w *wires) giveUp(l layout.Layer, reading string) {
	for v := range w.cuts {
		if v.Layer == l && v.Reading == reading {
			w.cuts[v] = &wireCut{why: tooManyLayers}
		}
	}
}

const tooManyLayers = "the stack has as many layers as there can be"

// decide follows the verdicts on wires of a layer, of several on one wire the first, and returns the bodies of resistors and of fuses.
func (w *wires) decide(f *wireFinder, l layout.Layer, all []wireVerdict) map[string][]geom.Polygon {
	bodies := map[string][]geom.Polygon{}
	claims := map[wireKey]wireVerdict{}
	for _, v := range all {
		if v.Layer != l {
			continue
		}
		wire, key := f.wireAt(v.at)
		switch first, taken := claims[key]; {
		case wire == nil:
			w.cuts[v] = &wireCut{}
		case taken && first.Reading != v.Reading:
			w.cuts[v] = &wireCut{why: notFollowed(v.Reading, first.Reading)}
		case taken:
			w.cuts[v] = w.cuts[first]
		default:
			claims[key] = v
			c := &wireCut{}
			switch v.Reading {
			case "resistor":
				c = f.cut(wire)
			case "fuse":
				c = f.cutFuse(wire)
			}
			if len(c.body) > 0 {
				c = f.uncrossed(c)
			}
			w.cuts[v] = c
			bodies[v.Reading] = append(bodies[v.Reading], c.body...)
		}
	}
	return bodies
}

// of returns what became of a verdict on a wire.
func (w *wires) of(v *UsedVerdict) *wireCut {
	if c := w.cuts[wireVerdict{v.Verdict, v.Path, v.At}]; c != nil {
		return c
	}
	return &wireCut{why: tooManyLayers}
}

// wireFinder finds wires of one layer.
type wireFinder struct {
	shapes   []geom.Polygon // of the layer, in the frame
	contacts []geom.Polygon // that land on it
	across   []geom.Polygon // what makes channels with it: gates of a diffusion, diffusions of a gate layer
	acrossOn []layout.Layer // their layers

	shapesIn, contactsIn, acrossIn *boxGrid

	st *stack.Stack
}

func newWireFinder(flat *layout.Flat, st *stack.Stack, l layout.Layer) *wireFinder {
	f := &wireFinder{st: st}
	lands, across := uint64(0), crossing(st, l)
	for k := range st.Layers {
		if c := &st.Layers[k]; c.Role == stack.Contact && slices.Contains(c.Joins, l) {
			lands |= 1 << k
		}
	}
	walk := layout.Walk{Layers: lands | across | 1<<l, Yield: func(p *layout.Placed) bool {
		switch pg := p.Transform.ApplyPolygon(p.Polygon); {
		case p.Layer == l:
			f.shapes = append(f.shapes, pg)
		case across>>p.Layer&1 != 0:
			f.across, f.acrossOn = append(f.across, pg), append(f.acrossOn, p.Layer)
		default:
			f.contacts = append(f.contacts, pg)
		}
		return true
	}}
	walk.Run(flat)
	f.shapesIn, f.contactsIn, f.acrossIn = gridOf(f.shapes), gridOf(f.contacts), gridOf(f.across)
	return f
}

// crossing returns the layers that make channels with a layer, as a mask. A pair that a rule takes for the plates of a capacitor is left out:
// there diffusion may pass beneath.
func crossing(st *stack.Stack, l layout.Layer) (mask uint64) {
	other := map[stack.Role]stack.Role{stack.Diffusion: stack.Gate, stack.Gate: stack.Diffusion}[st.Layers[l].Role]
	for k := range st.Layers {
		if o := layout.Layer(k); other != 0 && st.Layers[k].Role == other && !slices.ContainsFunc(st.Capacitors, func(r stack.CapacitorRule) bool {
			return r.Upper == o && r.Lower == l || r.Upper == l && r.Lower == o
		}) {
			mask |= 1 << k
		}
	}
	return mask
}

func gridOf(all []geom.Polygon) *boxGrid {
	boxes := make([]geom.Rect, len(all))
	for i, pg := range all {
		boxes[i] = pg.Bounds()
	}
	return newBoxGrid(boxes)
}

// wireAt returns the connected part of the layer at a place, and its key; nil where there is none.
func (f *wireFinder) wireAt(at geom.Point) (geom.Polygon, wireKey) {
	taken := map[int]bool{}
	var parts []geom.Polygon
	take := func(i int) {
		taken[i] = true
		parts = append(parts, f.shapes[i])
	}
	f.shapesIn.near(geom.Rect{Min: at, Max: at}, func(i int) {
		if !taken[i] && f.shapes[i].Locate(at) != geom.Outside {
			take(i)
		}
	})
	for k := 0; k < len(parts); k++ { // what may touch it, as far as boxes tell
		box := parts[k].Bounds()
		f.shapesIn.near(box, func(i int) {
			if !taken[i] && touch(box, f.shapes[i].Bounds()) {
				take(i)
			}
		})
	}
	if len(parts) == 0 {
		return nil, wireKey{}
	}
	for _, p := range polygons.Union(parts...) {
		if p.Polygon.Locate(at) != geom.Outside {
			return p.Polygon, wireKey{p.Polygon.Bounds(), lowestCorner(p.Polygon)}
		}
	}
	return nil, wireKey{}
}

func lowestCorner(pg geom.Polygon) geom.Point {
	low := pg[0][0]
	for _, r := range pg {
		for _, p := range r {
			if p.Y < low.Y || p.Y == low.Y && p.X < low.X {
				low = p
			}
		}
	}
	return low
}

// wires finds the devices that became of wires, and says why others are none.
func (d *decision) wires() {
	bodies := d.byPlaceOf(body)
	for i := range d.verdicts {
		v := &d.verdicts[i]
		switch {
		case v.Kind != wireOrResistor:
			continue
		case v.Reading == "wire":
			v.Lost = false
			if c := d.cut.cuts[wireVerdict{v.Verdict, v.Path, v.At}]; c != nil && c.why != "" {
				d.unused(v, c.why)
			}
			continue
		case v.Reading != "resistor" && v.Reading != "fuse":
			d.unused(v, fmt.Sprintf("the reading %q is none of wire, resistor and fuse", v.Reading))
			continue
		}
		c := d.cut.of(&v.UsedVerdict)
		if c.why != "" {
			d.unused(v, c.why)
			continue
		}
		for _, k := range bodies.within(c.body) {
			p := &d.parts[k]
			if d.layer(p.of) != v.Layer {
				continue
			}
			if at := p.dev.At; slices.ContainsFunc(c.body, func(pg geom.Polygon) bool { return pg.Locate(at) != geom.Outside }) {
				v.parts = append(v.parts, k)
			}
		}
		bodies := map[node]bool{}
		for _, k := range v.parts {
			bodies[d.parts[k].of] = true
		}
		if len(bodies) > 1 {
			d.warnVerdict("wire-in-pieces", v, fmt.Sprintf("other rules of the stack part the wire: it becomes %d resistors", len(bodies)))
		}
		if v.Lost = len(c.body) == 0; !v.Lost && len(v.parts) == 0 {
			d.unused(v, "what lies between the wire's ends makes no "+v.Reading+": warnings at its place say why")
		}
	}
}

// byPlaceOf returns the parts that come of regions of a kind, the lowest first.
func (d *decision) byPlaceOf(of kind) byHeight {
	b := byHeight{parts: d.parts}
	for k := range d.parts {
		if d.regionKind(d.parts[k].of) == of {
			b.order = append(b.order, k)
		}
	}
	slices.SortStableFunc(b.order, func(x, y int) int { return cmp.Compare(d.parts[x].dev.At.Y, d.parts[y].dev.At.Y) })
	return b
}

type byHeight struct {
	parts []part
	order []int
}

// within returns the parts whose place is as high as polygons are.
func (b byHeight) within(all []geom.Polygon) []int {
	box := geom.EmptyRect()
	for _, pg := range all {
		box = box.Union(pg.Bounds())
	}
	find := func(y int) int {
		at, _ := slices.BinarySearchFunc(b.order, y, func(k, y int) int { return cmp.Compare(b.parts[k].dev.At.Y, y) })
		return at
	}
	if box.Empty() {
		return nil
	}
	return b.order[find(box.Min.Y):find(box.Max.Y+1)]
}
