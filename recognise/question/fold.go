package question

import (
	"cmp"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// likeness is what questions have in common that are one: kind, all that was seen, and, in placements of one cell, drawn shape and place on
// it, or else what is drawn there.
type likeness struct {
	kind  string
	shape *layout.Shape
	at    geom.Point
	saw   string
	said  string // by a verdict

	form string // instead of shape and place, of what is congruent
}

// spot is a place on a drawn shape.
type spot struct {
	shape *layout.Shape
	at    geom.Point
}

// spots are places on drawn shapes that were met.
type spots map[spot]geom.Point

// same returns a place on a shape as it was met first. What lies in the middle of an odd number of nm is rounded to either side, by how
// its cell is turned or mirrored: a nanometre apart is the same place.
func (s spots) same(d extract.Drawn) extract.Drawn {
	if d.Shape == nil {
		return d
	}
	if at, ok := s[spot{d.Shape, d.At}]; ok {
		d.At = at
		return d
	}
	here := spot{d.Shape, d.At}
	for i := range 9 {
		if at, ok := s[spot{d.Shape, here.at.Add(geom.Point{X: i%3 - 1, Y: i/3 - 1})}]; ok {
			d.At = at
			break
		}
	}
	s[here] = d.At
	return d
}

// fold makes one draft of those that lie in the same place of the same cell, or are congruent, and saw the same: a member of an array that
// differs is a question of its own. The first by place stands for all.
func (v *view) fold(drafts []draft) []draft {
	slices.SortStableFunc(drafts, func(a, b draft) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.layer, b.layer), cmp.Compare(a.at.Y, b.at.Y), cmp.Compare(a.at.X, b.at.X))
	})
	var places []layout.Place
	for i := range drafts {
		if drafts[i].plate == nil {
			places = append(places, layout.Place{Layer: drafts[i].layer, At: drafts[i].at})
		}
	}
	others := v.res.Drawn(places)
	first, congruent := map[likeness]int{}, map[likeness]int{}
	var out []draft
	for i := range drafts {
		d := &drafts[i]
		var drawn extract.Drawn
		if d.plate != nil {
			drawn = d.plate.drawn
		} else {
			drawn, others = v.spots.same(others[0]), others[1:]
		}
		if d.path == "" {
			d.path = drawn.Path
		}
		if d.places == nil {
			d.places = []Place{{At: d.at, Path: d.path, Devices: d.devices, box: d.box, about: d.about}}
		}
		key := likeness{kind: d.kind, shape: drawn.Shape, at: drawn.At, saw: outcomes(d.kind, d.saw), said: d.verdict}
		k, ok := first[key]
		ok = ok && key.shape != nil
		if !ok {
			if form := v.formOf(d); form != "" {
				form := likeness{kind: key.kind, saw: key.saw, said: key.said, form: form}
				if k, ok = congruent[form]; ok {
					first[key] = k
				} else {
					congruent[form] = len(out)
				}
			}
		}
		if ok {
			out[k].count += max(d.count, 1)
			out[k].devices = append(out[k].devices, d.devices...)
			out[k].places = append(out[k].places, d.places...)
			continue
		}
		first[key] = len(out)
		d.count = max(d.count, 1)
		d.devices = slices.Clone(d.devices)
		out = append(out, *d)
	}
	for i := range out {
		slices.Sort(out[i].devices)
		out[i].devices = slices.Compact(out[i].devices)
		sortPlaces(out[i].places)
	}
	return out
}

// sortPlaces puts places in order. They mostly are, and they are large: so that is looked at first.
func sortPlaces(places []Place) {
	order := func(a, b *Place) int {
		return cmp.Or(cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X), cmp.Compare(a.Path, b.Path))
	}
	for i := 1; i < len(places); i++ {
		if order(&places[i-1], &places[i]) > 0 {
			slices.SortStableFunc(places, func(a, b Place) int { return order(&a, &b) })
			return
		}
	}
}

// outcomes writes what was seen, without the facts, in the order of the table.
func outcomes(kind string, saw map[string]seen) string {
	k := theTable()[kind]
	var all [32]byte
	text := all[:0]
	for i := range k.observations {
		o := &k.observations[i]
		s, made := saw[o.name]
		n := byte(0)
		if made {
			n = byte(2 + slices.IndexFunc(o.outcomes, func(c outcome) bool { return c.name == s.outcome })) // 1: it means nothing here
		}
		text = append(text, n)
	}
	return string(text)
}
