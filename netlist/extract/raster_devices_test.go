package extract_test

import (
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// rasterDevice is a device as the raster sees it.
type rasterDevice struct {
	at           geom.Point
	kind         netlist.Kind
	gate         netKey
	ends         []rasterEnd // of a transistor: each source or drain net; of a diode the cathode
	w, l         float64
	area, perim  float64 // of a diode
	bulk         []netKey
	bulkUnstated bool
}

// rasterEnd is one net at a channel, with its share of junction area and perimeter and its border with the channel.
type rasterEnd struct {
	net               netKey
	area, perim, edge float64
}

// unitEdge is the border between two squares, by its two ends.
type unitEdge struct {
	a, b     spot
	junction int
}

// channelEdges lists the borders of a channel's squares with junctions.
func (o *oracle) channelEdges(squares []spot) []unitEdge { return o.edgesWith(diffusion, squares) }

// edgesWith lists the borders of squares with the parts of a conductor; junction is the part.
func (o *oracle) edgesWith(layer int, squares []spot) []unitEdge {
	var out []unitEdge
	for _, s := range squares {
		for _, d := range directions {
			n, ok := o.conductors[layer].of[spot{s.x + d.x, s.y + d.y}]
			if !ok {
				continue
			}
			a, b := s, spot{s.x + 1, s.y + 1}
			switch d {
			case spot{1, 0}:
				a.x++
			case spot{-1, 0}:
				b.x--
			case spot{0, 1}:
				a.y++
			case spot{0, -1}:
				b.y--
			}
			out = append(out, unitEdge{a, b, n})
		}
	}
	return out
}

// stretches counts unbroken runs of edges along one junction.
func stretches(edges []unitEdge) int {
	mark := make([]bool, len(edges))
	n := 0
	for i := range edges {
		if mark[i] {
			continue
		}
		n++
		mark[i] = true
		for todo := []int{i}; len(todo) > 0; {
			e := edges[todo[0]]
			todo = todo[1:]
			for k, f := range edges {
				if !mark[k] && f.junction == e.junction && (f.a == e.a || f.a == e.b || f.b == e.a || f.b == e.b) {
					mark[k] = true
					todo = append(todo, k)
				}
			}
		}
	}
	return n
}

// devices lists what the drawing holds. A channel with more than two nets counts once, with all of them.
func (o *oracle) devices() []rasterDevice {
	var out []rasterDevice
	p := float64(o.pitch)
	channels := o.fill(o.crossing)
	border := map[int]float64{} // by junction, with all channels
	for _, squares := range channels.squares {
		for _, e := range o.channelEdges(squares) {
			border[e.junction] += p
		}
	}
	for _, squares := range channels.squares {
		edges := o.channelEdges(squares)
		if len(edges) == 0 {
			continue
		}
		d := rasterDevice{at: o.corner(squares), w: p * float64(len(edges))}
		if stretches(edges) > 1 {
			d.w /= 2
		}
		d.l = p * p * float64(len(squares)) / d.w
		d.gate, _ = o.at(poly, squares[0])
		o.polarity(&d, squares)
		for _, e := range edges {
			net := o.find(netKey{diffusion, e.junction})
			i := slices.IndexFunc(d.ends, func(x rasterEnd) bool { return x.net == net })
			if i < 0 {
				i = len(d.ends)
				d.ends = append(d.ends, rasterEnd{net: net})
			}
			area, perim := o.measure(e.junction)
			d.ends[i].edge += p
			d.ends[i].area += area * p / border[e.junction]
			d.ends[i].perim += perim * p / border[e.junction]
		}
		out = append(out, d)
	}
	for _, squares := range o.fill(o.diode).squares {
		d := rasterDevice{at: o.corner(squares), kind: netlist.Diode, area: p * p * float64(len(squares)), bulk: []netKey{substrate}}
		for _, s := range squares {
			for _, q := range directions {
				if !o.diode(spot{s.x + q.x, s.y + q.y}) {
					d.perim += p
				}
			}
		}
		k, _ := o.at(diffusion, squares[0])
		d.ends = []rasterEnd{{net: o.find(k)}}
		out = append(out, d)
	}
	return out
}

// polarity applies the stack's two [[mos]] rules, and says which nets may be the bulk.
func (o *oracle) polarity(d *rasterDevice, squares []spot) {
	p, w := 0, 0
	for _, s := range squares {
		if o.on(s, pplus) {
			p++
		}
		if o.on(s, nwell) {
			w++
		}
		if k, ok := o.at(nwell, s); ok && !slices.Contains(d.bulk, k) {
			d.bulk = append(d.bulk, k)
		}
	}
	switch n := len(squares); {
	case 2*p < n && 2*w < n:
		d.kind, d.bulk = netlist.NMOS, []netKey{substrate}
	case 2*p > n && 2*w > n:
		d.kind = netlist.PMOS
	default:
		d.kind, d.bulk, d.bulkUnstated = netlist.MOS, nil, true
	}
}

// measure returns a junction's area and perimeter: taps and diodes are no part of it, and beside other diffusion
// (channel, tap, diode) there is no side wall.
func (o *oracle) measure(junction int) (area, perim float64) {
	p := float64(o.pitch)
	for _, s := range o.conductors[diffusion].squares[junction] {
		if o.wellTap(s) || o.substrateTap(s) || o.diode(s) {
			continue
		}
		area += p * p
		for _, d := range directions {
			if !o.on(spot{s.x + d.x, s.y + d.y}, diffusion) {
				perim += p
			}
		}
	}
	return area, perim
}
