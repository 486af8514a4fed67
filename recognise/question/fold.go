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
func (v *view) fold(lists ...[]draft) []*draft {
	var drafts []*draft // they are large
	for _, all := range lists {
		for i := range all {
			drafts = append(drafts, &all[i])
		}
	}
	slices.SortStableFunc(drafts, func(a, b *draft) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.layer, b.layer), cmp.Compare(a.at.Y, b.at.Y), cmp.Compare(a.at.X, b.at.X))
	})
	var places []layout.Place
	for _, d := range drafts {
		if d.plate == nil {
			places = append(places, layout.Place{Layer: d.layer, At: d.at})
		}
	}
	others := v.res.Drawn(places)
	first, congruent := map[likeness]*draft{}, map[likeness]*draft{}
	var out []*draft
	as := map[*draft][]*draft{} // the others, by the first
	for _, d := range drafts {
		var drawn extract.Drawn
		if d.plate != nil {
			drawn = d.plate.drawn
		} else {
			drawn, others = v.spots.same(others[0]), others[1:]
		}
		if d.path == "" {
			d.path = drawn.Path
		}
		key := likeness{kind: d.kind, shape: drawn.Shape, at: drawn.At, saw: outcomes(d.kind, d.saw), said: d.verdict}
		one := first[key]
		if key.shape == nil {
			one = nil
		}
		if one == nil {
			if form := v.formOf(d); form != "" {
				form := likeness{kind: key.kind, saw: key.saw, said: key.said, form: form}
				if one = congruent[form]; one != nil {
					first[key] = one
				} else {
					congruent[form] = d
				}
			}
		}
		if one == nil {
			first[key] = d
			out = append(out, d)
		} else {
			as[one] = append(as[one], d)
		}
	}
	for _, d := range out {
		v.join(d, as[d])
		slices.Sort(d.devices)
		d.devices = slices.Compact(d.devices)
		sortPlaces(d.places)
	}
	return out
}

// join makes one draft of several.
func (v *view) join(d *draft, others []*draft) {
	devices, plates := len(d.devices), len(d.plates)
	for _, o := range others {
		devices, plates = devices+len(o.devices), plates+len(o.plates)
	}
	if d.plates == nil {
		v.placesOf(d)
	}
	d.count, d.plates = max(d.count, 1), slices.Grow(d.plates, plates-len(d.plates))
	d.devices = append(slices.Grow([]int(nil), devices), d.devices...) // a place may have those it had
	for _, o := range others {
		d.count += max(o.count, 1)
		d.devices = append(d.devices, o.devices...)
		if d.places == nil && o.plates != nil {
			d.plates = append(d.plates, o.plates...)
		} else {
			d.places = append(v.placesOf(d), v.placesOf(o)...)
		}
	}
}

// placesOf returns where a draft lies, in order. Plates are many and most are decided: their places are told to whom asks.
func (v *view) placesOf(d *draft) []Place {
	switch {
	case d.places != nil:
	case d.plates == nil:
		d.places = []Place{d.place()}
	default:
		d.places = make([]Place, len(d.plates))
		for i, k := range d.plates {
			p := &v.plates[k]
			d.places[i] = Place{At: p.at, Path: p.path, Devices: p.devices, box: p.box, about: p.gates}
		}
		sortPlaces(d.places)
	}
	return d.places
}

// place is where a draft lies that is at one place only.
func (d *draft) place() Place {
	return Place{At: d.at, Path: d.path, Devices: d.devices, box: d.box, about: d.about}
}

// sortPlaces puts places in order. They mostly are, and they are large: so that is looked at first.
func sortPlaces(places []Place) {
	order := func(a, b *Place) int {
		return cmp.Or(cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X), cmp.Compare(a.Path, b.Path))
	}
	for i := 1; i < len(places); i++ {
		if order(&places[i-1], &places[i]) > 0 {
			as, sorted := slices.Clone(places), make([]*Place, len(places))
			for k := range as {
				sorted[k] = &as[k]
			}
			slices.SortStableFunc(sorted, order)
			for k, p := range sorted {
				places[k] = *p
			}
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
