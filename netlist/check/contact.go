package check

import (
	"math/bits"
	"strings"

	"undermetal/layout"
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
	for i := range d.pieces {
		p := &d.pieces[i]
		if !d.landing[p.layer] || !d.checked(p.layer) || p.seen&unseen != 0 {
			continue
		}
		joins := d.st.Layers[p.layer].Joins
		names := make([]string, len(joins))
		for k, j := range joins {
			names[k] = d.name(j)
		}
		switch bits.OnesCount64(p.seen) {
		case 0:
			d.add(at(ContactOnNone, p.layer, p.place(), "lies on none of %s: draw what it joins, or remove it", list(names, "and")))
		case 1:
			k := bits.TrailingZeros64(p.seen)
			others := names[:1]
			if k == 0 {
				others = names[1:]
			}
			d.add(at(ContactOnOne, p.layer, p.place(), "lies on %s only, not on %s: draw what it joins, or remove it", names[k], list(others, "or")))
		}
	}
	return nil
}

// list joins names with commas, and a word before the last.
func list(names []string, word string) string {
	n := len(names)
	if n < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:n-1], ", ") + " " + word + " " + names[n-1]
}
