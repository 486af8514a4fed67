package extract

import (
	"cmp"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// Pad is an opening in the passivation. It is joined to nothing; what lies under it is noted.
type Pad struct {
	Layer string
	Box   geom.Rect
	Area  float64     // nm²
	At    geom.Point  // its lowest, then leftmost corner
	Metal string      // the layer of the metal under it, empty if there is none
	Net   netlist.Net // of that metal; NoNet if there is none, or if the circuit does without
}

// pads returns the pads, in the order of place.
func (j *joiner) pads() []Pad {
	var pads []Pad
	for root, covers := range j.covered {
		if j.regionKind(root) != opening {
			continue
		}
		p := Pad{Layer: j.layerOf(root), Box: j.boxOf(root), Area: j.pieces[root].area, At: j.at(root), Net: netlist.NoNet}
		if metal := j.metalUnder(root, covers); metal != 0 {
			p.Metal = j.layerOf(metal)
			if net, ok := j.number[j.find(metal)]; ok {
				p.Net = net
			}
		}
		pads = append(pads, p)
	}
	slices.SortFunc(pads, func(a, b Pad) int {
		return cmp.Or(cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X), cmp.Compare(a.Layer, b.Layer))
	})
	return pads
}

// metalUnder returns the region of metal under a pad: of the topmost layer that takes a quarter of it, else of the one that
// takes most, the largest; 0 if there is none.
func (j *joiner) metalUnder(pad node, covers []cover) node {
	var on [layout.MaxLayers]float64
	area := map[node]float64{}
	for _, c := range covers {
		if c.on != 0 {
			on[j.layer(c.on)] += c.area
			area[j.root[c.on]] += c.area
		}
	}
	best, most := -1, 0.0
	for _, l := range slices.Backward(j.plan.metals) {
		s := share(on[l], j.pieces[pad].area)
		if best < 0 || most < butted && s > most {
			best, most = int(l), s
		}
	}
	for n := range area {
		if int(j.layer(n)) != best {
			delete(area, n)
		}
	}
	return j.largest(area)
}

// boxOf returns the box around a region.
func (j *joiner) boxOf(root node) geom.Rect {
	var r geom.Rect
	for i, b := range j.boxesOf(root) {
		q := geom.Box(int(b.x0), int(b.y0), int(b.x1), int(b.y1))
		if i == 0 {
			r = q
			continue
		}
		r = geom.Box(min(r.Min.X, q.Min.X), min(r.Min.Y, q.Min.Y), max(r.Max.X, q.Max.X), max(r.Max.Y, q.Max.Y))
	}
	return r
}
