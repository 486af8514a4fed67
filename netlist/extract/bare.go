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

// plateOf is the model of a capacitor between conductors whose value is not known.
const plateOf = "platecap"

// coverPart is how much of a plate another conductor must cover to be the other one.
const coverPart = 0.25

// barePlate is what becomes of a verdict on a plate without diffusion beneath.
type barePlate struct {
	over []geom.Polygon // where the two plates lie over each other
	rule int            // in the stack with the rules of bare plates
	why  string         // there is no capacitor: why
}

// barePlates are by verdict, in its place.
type barePlates map[wireVerdict]*barePlate

// of returns what is known of a verdict; nil where it is not about a bare plate.
func (b barePlates) of(v *UsedVerdict) *barePlate { return b[wireVerdict{v.Verdict, v.Path, v.At}] }

// bareCutter finds the other plates of bare ones.
type bareCutter struct {
	flat    *layout.Flat
	st      *stack.Stack
	up      []layout.Layer // gates and metals, from below
	finders map[layout.Layer]*wireFinder
	rules   map[[2]layout.Layer]int // by upper and lower plate
}

// cutPlates finds what verdicts of "transistor or capacitor" say of plates that no diffusion lies beneath: a gate layer over field, or a
// metal. The other plate of such a capacitor is the next conductor above that covers a quarter of it, else the next below; a piece that a
// contact joins to the plate is none. Where they lie over each other the drawing gets a mark, and the stack a rule, so that all else follows
// from rule 9. w is what has become of wires.
func cutPlates(flat *layout.Flat, w *wires, st *stack.Stack) barePlates {
	all := bareVerdicts(flat, st)
	if len(all) == 0 {
		return nil
	}
	p := &plan{st: st}
	c := &bareCutter{flat: flat, st: st, up: append(p.upwards(stack.Gate), p.upwards(stack.Metal)...), finders: map[layout.Layer]*wireFinder{}, rules: map[[2]layout.Layer]int{}}
	marked := *w.st
	marked.Layers, marked.Capacitors = slices.Clone(w.st.Layers), slices.Clone(w.st.Capacitors)
	mark := layout.Layer(len(marked.Layers))
	if int(mark) >= layout.MaxLayers {
		return nil
	}
	type key struct {
		wireKey
		layer layout.Layer
	}
	out := barePlates{}
	first := map[key]wireVerdict{}
	marks := &layout.Cell{Name: w.top.Name + " (plates)"}
	for _, v := range all {
		f := c.finder(v.Layer)
		plate, k := f.wireAt(v.at)
		if plate == nil || f.st.Layers[v.Layer].Role == stack.Gate && !f.bare(plate) {
			continue // nothing is there, or a channel
		}
		b := &barePlate{rule: -1}
		switch was, taken := first[key{k, v.Layer}]; {
		case taken && was.Reading != v.Reading:
			b.why = notFollowed(v.Reading, was.Reading)
		case taken:
			b = out[was]
		default:
			first[key{k, v.Layer}] = v
			if v.Reading == "transistor" {
				b.why = "no diffusion lies beneath the plate: nothing there makes a transistor"
			} else if v.Reading == "capacitor" {
				c.other(b, plate, v.Layer, mark, &marked)
			}
			for _, pg := range b.over {
				marks.Shapes = append(marks.Shapes, layout.Shape{Layer: mark, Polygon: pg})
			}
		}
		out[v] = b
	}
	if len(marks.Shapes) > 0 {
		marked.Layers = append(marked.Layers, stack.Layer{Name: "plates taken for capacitors", Role: stack.Mark})
		with := *w.top
		with.Placements = append(slices.Clone(w.top.Placements), layout.Placement{Cell: marks, Transform: geom.Identity})
		w.top, w.st = &with, &marked
	}
	return out
}

// bareVerdicts returns the verdicts on gates and metals where no diffusion lies at the place, in the order in which they count.
func bareVerdicts(flat *layout.Flat, st *stack.Stack) []wireVerdict {
	var all []wireVerdict
	flat.Verdicts(func(v *layout.Verdict, at geom.Point, in layout.Instance) {
		if v.Kind != transistorOrCapacitor || !slices.Contains([]string{"capacitor", "transistor", "dummy"}, v.Reading) || int(v.Layer) >= len(st.Layers) {
			return
		}
		if r := st.Layers[v.Layer].Role; r == stack.Gate || r == stack.Metal {
			all = append(all, wireVerdict{*v, in.Path, at})
		}
	})
	var places []layout.Place
	var of []int
	for i := range all {
		for l := range st.Layers {
			if st.Layers[l].Role == stack.Diffusion && st.Layers[all[i].Layer].Role == stack.Gate {
				places, of = append(places, layout.Place{Layer: layout.Layer(l), At: all[i].at}), append(of, i)
			}
		}
	}
	covered := make([]bool, len(all))
	flat.ShapesAt(places, func(k int, _ *layout.Shape, _ geom.Transform) { covered[of[k]] = true })
	var out []wireVerdict
	for i, v := range all {
		if !covered[i] {
			out = append(out, v)
		}
	}
	slices.SortStableFunc(out, func(a, b wireVerdict) int { // as byDepth has them
		return cmp.Or(cmp.Compare(depth(a.path), depth(b.path)), cmp.Compare(a.at.Y, b.at.Y), cmp.Compare(a.at.X, b.at.X), cmp.Compare(a.path, b.path), cmp.Compare(a.Reading, b.Reading))
	})
	return out
}

func (c *bareCutter) finder(l layout.Layer) *wireFinder {
	if c.finders[l] == nil {
		c.finders[l] = newWireFinder(c.flat, c.st, l)
	}
	return c.finders[l]
}

// bare reports whether no diffusion lies beneath a piece of a gate layer.
func (f *wireFinder) bare(plate geom.Polygon) bool {
	bare, box := true, plate.Bounds()
	f.acrossIn.near(box, func(i int) {
		if bare && touch(f.across[i].Bounds(), box) && meet(f.across[i], plate) {
			bare = false
		}
	})
	return bare
}

// other finds the other plate, where the two lie over each other, and the rule that makes a capacitor of them.
func (c *bareCutter) other(b *barePlate, plate geom.Polygon, l, mark layout.Layer, st *stack.Stack) {
	at := slices.Index(c.up, l)
	turn := slices.Clone(c.up[at+1:])
	below := slices.Clone(c.up[:at])
	slices.Reverse(below)
	area, _ := measures(plate)
	joined := false
	for i, x := range append(turn, below...) {
		over, strapped := c.over(plate, l, x)
		joined = joined || strapped
		sum := 0.0
		for _, pg := range over {
			a, _ := measures(pg)
			sum += a
		}
		if share(sum, area) < coverPart {
			continue
		}
		pair := [2]layout.Layer{x, l}
		if i >= len(turn) {
			pair = [2]layout.Layer{l, x}
		}
		b.over, b.rule = over, c.ruleFor(pair, mark, st)
		return
	}
	b.why = "no diffusion lies beneath the plate, and no other conductor over or under it covers a quarter of it: trace its other plate"
	if joined {
		b.why = "no diffusion lies beneath the plate, and what covers it is joined to it by contacts: trace its other plate"
	}
}

// over returns where pieces of a layer lie over or under a plate that no contact joins to it, and whether there are others.
func (c *bareCutter) over(plate geom.Polygon, l, x layout.Layer) (over []geom.Polygon, strapped bool) {
	box := plate.Bounds()
	f := c.finder(x)
	var near []geom.Polygon
	taken := map[int]bool{}
	f.shapesIn.near(box, func(i int) {
		if !taken[i] && touch(f.shapes[i].Bounds(), box) {
			taken[i] = true
			near = append(near, f.shapes[i])
		}
	})
	if len(near) == 0 {
		return nil, false
	}
	contacts := c.finder(l).contactsOn(plate) // those that land on x, too, join the two
	for _, piece := range polygons.Union(near...) {
		_, inside := polygons.Cut(piece.Polygon, plate)
		if len(inside) == 0 {
			continue
		}
		if c.joins(l, x) && slices.ContainsFunc(contacts, func(pg geom.Polygon) bool { return meet(pg, piece.Polygon) }) {
			strapped = true
			continue
		}
		over = append(over, inside...)
	}
	return over, strapped
}

// joins reports whether contacts join two layers.
func (c *bareCutter) joins(a, b layout.Layer) bool {
	return slices.ContainsFunc(c.st.Layers, func(k stack.Layer) bool { return slices.Contains(k.Joins, a) && slices.Contains(k.Joins, b) })
}

// ruleFor returns the rule for upper and lower plate, which has the figures of the stack's first rule for these, else none.
func (c *bareCutter) ruleFor(pair [2]layout.Layer, mark layout.Layer, st *stack.Stack) int {
	if k, ok := c.rules[pair]; ok {
		return k
	}
	rule := stack.CapacitorRule{Upper: pair[0], Lower: pair[1], Where: []stack.Condition{{Layer: mark}}}
	if k := slices.IndexFunc(c.st.Capacitors, func(r stack.CapacitorRule) bool { return r.Upper == pair[0] && r.Lower == pair[1] && r.AreaAFUm2 > 0 }); k >= 0 {
		rule.AreaAFUm2, rule.EdgeAFUm = c.st.Capacitors[k].AreaAFUm2, c.st.Capacitors[k].EdgeAFUm
	}
	if rule.AreaAFUm2 == 0 && c.st.Layers[pair[0]].AreaAFUm2 == 0 {
		rule.Model = plateOf
	}
	c.rules[pair] = len(st.Capacitors)
	st.Capacitors = append(st.Capacitors, rule)
	return c.rules[pair]
}

// barePlates finds the capacitors that became of bare plates, and says why others are none.
func (d *decision) barePlates() {
	if len(d.bare) == 0 {
		return
	}
	all := d.byPlaceOf(plates)
	for i := range d.verdicts {
		v := &d.verdicts[i]
		b := d.bare.of(&v.UsedVerdict)
		switch {
		case v.leading || v.Kind != transistorOrCapacitor || b == nil:
			continue
		case b.why != "":
			d.unused(v, b.why)
			continue
		case b.rule < 0:
			v.Lost = false // a dummy
			continue
		}
		for _, k := range all.within(b.over) {
			p := &d.parts[k]
			if slices.ContainsFunc(b.over, func(pg geom.Polygon) bool { return pg.Locate(p.dev.At) != geom.Outside }) && d.joinsPlates(p.of, b.rule) {
				v.parts = append(v.parts, k)
			}
		}
		if v.Lost = false; len(v.parts) == 0 {
			d.unused(v, fmt.Sprintf("%s and %s make no capacitor there: another conductor lies between them", d.layerName(d.plan.st.Capacitors[b.rule].Upper), d.layerName(d.plan.st.Capacitors[b.rule].Lower)))
		}
	}
}

// joinsPlates reports whether a capacitor has the plates of a rule.
func (d *decision) joinsPlates(root node, rule int) bool {
	p := &d.pieces[root]
	mine, r := &d.plan.st.Capacitors[d.plan.groups[p.group].regions[p.region].rule], &d.plan.st.Capacitors[rule]
	return mine.Upper == r.Upper && mine.Lower == r.Lower
}
