package check

import (
	"math/bits"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// unseen is the bit of piece.seen that says that some of a contact lies where a conductor that it could join was not
// looked at, so that nothing is known of what it lands on.
const unseen = 1 << 63

// sweepContact takes a contact layer with all that it can join, and notes for each contact what it lands on: the k-th of
// the layers that it joins is bit k of piece.seen. Of several conductors below, only the topmost one is there.
func (d *drawing) sweepContact(l layout.Layer) *job {
	joins := d.st.Layers[l].Joins
	layers := uint64(1) << l
	bit := map[layout.Layer]uint8{l: 0}
	for k, j := range joins {
		layers |= 1 << j
		bit[j] = uint8(k + 1)
	}
	var traced []layout.Shape
	tracedBit := map[layout.Layer]uint8{}
	for _, t := range d.lib.Traced {
		if b := bit[t.Layer]; b > 0 && len(joins)+int(b) < layout.MaxLayers {
			tracedBit[t.Layer] = uint8(len(joins)) + b
			traced = append(traced, t)
		}
	}
	t := &tracer{derive: func(m uint64) uint64 { return m & 1 }, kept: 1, partOf: own, note: func(m uint64) uint64 {
		var lands uint64
		for k, j := range joins {
			if m>>(k+1)&1 != 0 && (k == 0 || lands>>1 == 0) {
				lands |= 1 << k
			}
			if b := tracedBit[j]; b > 0 && m>>b&1 == 0 {
				lands |= unseen
			}
		}
		return lands
	}}
	return &job{tracer: t, layers: layers, bitOf: func(l layout.Layer) uint8 { return bit[l] }, more: traced, moreBit: func(l layout.Layer) uint8 { return tracedBit[l] },
		layerOf: func(int) layout.Layer { return l }, put: func(bs []border) { d.conduct[l].borders, d.landing[l] = bs, true }}
}

// contacts finds those that join nothing.
func (d *drawing) contacts() error {
	bare := map[landed][]geom.Point{}
	for i := range d.pieces {
		p := &d.pieces[i]
		if !d.landing[p.layer] || !d.checked(p.layer) || p.seen&unseen != 0 {
			continue
		}
		on := landed{p.layer, -1}
		switch bits.OnesCount64(p.seen) {
		case 0:
		case 1:
			on.on = bits.TrailingZeros64(p.seen)
		default:
			continue
		}
		if d.bare(d.missing(on)) {
			bare[on] = append(bare[on], p.place())
		} else {
			d.addContact(on, p.place())
		}
	}
	for on, places := range bare {
		if len(places) == 1 {
			d.addContact(on, places[0])
		} else {
			d.addBare(on, places)
		}
	}
	return nil
}

// landed is a layer of contacts, and the one that they reach of those that they join, by its number; -1: none.
type landed struct {
	layer layout.Layer
	on    int
}

// missing returns the layers that such contacts should reach, and do not.
func (d *drawing) missing(c landed) []layout.Layer {
	joins := d.st.Layers[c.layer].Joins
	switch c.on {
	case -1:
		return joins
	case 0:
		return joins[1:]
	}
	return joins[:1]
}

// bare reports whether nothing at all is drawn on some layers.
func (d *drawing) bare(layers []layout.Layer) bool {
	return !slices.ContainsFunc(layers, func(l layout.Layer) bool { return d.flat.Count(l) > 0 })
}

func (d *drawing) names(layers []layout.Layer) (names []string) {
	for _, l := range layers {
		names = append(names, d.name(l))
	}
	return names
}

// addContact adds a contact that joins nothing.
func (d *drawing) addContact(c landed, place geom.Point) {
	missing := d.names(d.missing(c))
	if c.on < 0 {
		d.add(at(ContactOnNone, c.layer, place, "lies on none of %s: draw what it joins, or remove it", list(missing, "and")))
		return
	}
	d.add(at(ContactOnOne, c.layer, place, "lies on %s only, not on %s: draw what it joins, or remove it", d.name(d.st.Layers[c.layer].Joins[c.on]), list(missing, "or")))
}

// addBare makes one finding of all contacts that end where a layer was not drawn.
func (d *drawing) addBare(c landed, places []geom.Point) {
	missing := d.names(d.missing(c))
	code, on, have := ContactOnNone, "nothing", "has"
	if c.on >= 0 {
		code, on = ContactOnOne, d.name(d.st.Layers[c.layer].Joins[c.on])+" only"
	}
	if len(missing) > 1 {
		have = "have"
	}
	f := at(code, c.layer, slices.MinFunc(places, comparePoints), "%s %s no shapes: %d contacts reach %s; draw what they join, or remove them", list(missing, "and"), have, len(places), on)
	f.Count, f.folded, f.All = len(places), true, true
	d.add(f)
}

// list joins names with commas, and a word before the last.
func list(names []string, word string) string {
	n := len(names)
	if n < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:n-1], ", ") + " " + word + " " + names[n-1]
}
