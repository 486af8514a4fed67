package measure

import (
	"math"
	"slices"

	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// bordered is a device whose W and L by the rule are a part of its border, and its area over that: all its outlines as one.
type bordered struct {
	*normal
	of       []bordersOf // by ring
	length   float64     // the device's L
	width    float64     // what L is the area over: W of all, also of other devices of the same outlines
	straight float64     // the part of width that is of rectangles, which have no outline
	count    int         // how many of these there are
}

// bordersOf says what of the border of an outline counts.
type bordersOf struct {
	its, all   func(edge extract.Border) bool
	part, each float64 // of its border, what is W: the device's, and of the outline as a whole
	edges      []extract.Border
}

// borderedBy returns a device by its outlines; nil where it has none, or one of them is broken.
func (u *uncertainty) borderedBy(i int, outlines []int) *bordered {
	d := &u.res.Circuit.Devices[i]
	ends := d.Terminals[:2]
	if d.Kind.IsMOS() {
		ends = []netlist.Net{d.Terminals[netlist.Drain], d.Terminals[netlist.Source]}
	}
	its := func(b extract.Border) bool { return b.Net != netlist.NoNet && slices.Contains(ends, b.Net) }
	b := &bordered{normal: &normal{}, length: d.L, count: max(1, int(d.Fingers)) - len(outlines)}
	b.straight = d.W
	for _, k := range outlines {
		o := &u.res.Outlines[k]
		own, all := borderOf(o.Rings, o.Edges, its), borderOf(o.Rings, o.Edges, conducts)
		if o.Broken || own == 0 {
			return nil
		}
		part := 0.5
		if own == all {
			part = o.W / all
		}
		b.width, b.straight = b.width+o.W, b.straight-part*own
		for r, edges := range o.Edges {
			b.rings = append(b.rings, o.Rings[r])
			b.of = append(b.of, bordersOf{its, conducts, part, o.W / all, edges})
			layers := make([]normalEdge, len(edges))
			for e := range edges {
				layers[e].layer, layers[e].drawn = edges[e].Layer, edges[e].Drawn
			}
			b.edges = append(b.edges, layers)
		}
	}
	if len(outlines) == 0 {
		return nil
	}
	if b.count <= 0 {
		b.count, b.straight = 0, 0
	}
	b.width += b.straight
	return b
}

// perBorder is what the length of those edges of a ring that count does when an edge moves out, in nm per nm. In a corner that turns by θ to
// the left the edge that moves becomes longer by -cot θ, the one beside it, which stays on its line, by 1/sin θ; both together by tan θ/2.
// Where only one of them counts, and they are in line to within 15°, something else ends it there, and nothing changes.
func (n *normal) perBorder(r, i int, counts func(edge int) bool) (change float64) {
	const inLine = 0.2588 // sin 15°
	ring := n.rings[r]
	k := len(ring)
	for _, at := range [2]int{i, (i + 1) % k} {
		other := (i + 1) % k
		if at == i {
			other = (i + k - 1) % k
		}
		own, beside := counts(i), counts(other)
		p, c, q := ring[(at+k-1)%k], ring[at], ring[(at+1)%k]
		dx, dy, ex, ey := c.X-p.X, c.Y-p.Y, q.X-c.X, q.Y-c.Y
		sin, cos := dx*ey-dy*ex, dx*ex+dy*ey
		size := math.Hypot(sin, cos)
		sin, cos = sin/size, cos/size
		switch {
		case own && beside:
			change += math.Tan(math.Atan2(sin, cos) / 2)
		case own == beside || math.Abs(sin) < inLine:
		case own:
			change -= cos / sin
		default:
			change += 1 / sin
		}
	}
	return change
}

// lengths returns what moving edges does to w·W + l·L of a device, whose W lies between edges of one layer and L between those of
// another where it is straight.
func (u *uncertainty) lengths(i int, outlines []int, across, along int, w, l float64) []gain {
	d := &u.res.Circuit.Devices[i]
	b := u.borderedBy(i, outlines)
	if b == nil {
		fingers := float64(max(1, d.Fingers))
		return []gain{fingered(side(across, d.W), fingers).times(w), side(along, d.L).times(l)}
	}
	gains := b.gains(func(r, e int) float64 {
		of := &b.of[r]
		dw := of.part * b.perBorder(r, e, func(k int) bool { return of.its(of.edges[k]) })
		all := of.each * b.perBorder(r, e, func(k int) bool { return of.all(of.edges[k]) })
		return w*dw + l*(b.perArea(r, e)-b.length*all)/b.width
	})
	if b.count > 0 {
		gains = append(gains, fingered(side(across, b.straight), float64(b.count)).times(w), side(along, b.length).times(l*b.straight/b.width))
	}
	return gains
}

// fingered is W of several channels in parallel. They are taken to lie side by side on one diffusion, whose two edges then move all of them:
// the least certain that they can be.
func fingered(g gain, fingers float64) gain {
	g.noise, g.bias = g.noise*fingers, g.bias*fingers
	return g
}
