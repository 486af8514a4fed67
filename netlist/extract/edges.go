package extract

import "math/bits"

// channelEdge notes the border of a channel with sources and drains.
func (f *forest) channelEdge(g *group, a, b *side, ax, ay, bx, by float64) {
	for m := a.regions & g.channels; m != 0; m &= m - 1 {
		c := a.nodes[bits.TrailingZeros64(m)]
		for k := b.regions & g.junctions; k != 0; k &= k - 1 {
			f.spans = append(f.spans, span{c, b.nodes[bits.TrailingZeros64(k)], ax, ay, bx, by})
		}
	}
}

// bodyEdge is channelEdge for the body of a resistor and what it is cut out of.
func (f *forest) bodyEdge(g *group, a, b *side, ax, ay, bx, by float64) {
	for m := a.regions & g.bodies; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if end := g.regionOf[g.regions[r].layer]; b.regions>>end&1 != 0 {
			f.spans = append(f.spans, span{a.nodes[r], b.nodes[end], ax, ay, bx, by})
		}
	}
}
