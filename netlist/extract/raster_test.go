package extract_test

import (
	"cmp"
	"slices"

	"undermetal/layout"
)

// The raster is a second extractor for drawings along grid lines, plain and slow: a mask for each grid square, flood
// filling, and the rules of DEVELOPERS.md, "What makes a device", square by square. It knows the imager's stack only, with
// the rules of passiveRules behind it.

// Layers of the imager's stack, in its order.
const (
	diffusion = iota
	poly
	nwell
	pplus
	photo
	contact
	metal1
	via1
	metal2
	layerCount
)

// Layers of passiveRules. Nothing is named after them.
const (
	resmark = layerCount + iota
	capmark
	pad
)

const rasterSide = 26 // squares

type spot struct{ x, y int } // a square, by its lower left corner

// raster is a drawing as squares.
type raster struct {
	pitch int // nm
	mask  map[spot]uint
}

// rasterOf fills each shape by the winding number of the square's centre.
func rasterOf(shapes []layout.Shape, pitch int) *raster {
	r := &raster{pitch, map[spot]uint{}}
	for _, s := range shapes {
		for x := range rasterSide {
			for y := range rasterSide {
				wind := 0
				for _, ring := range s.Polygon {
					for i, a := range ring { // upright edges right of the centre
						b := ring[(i+1)%len(ring)]
						lo, hi := min(a.Y, b.Y), max(a.Y, b.Y)
						if a.X == b.X && a.X > x*pitch && lo <= y*pitch && hi > y*pitch {
							wind += cmp.Compare(b.Y, a.Y)
						}
					}
				}
				if wind != 0 {
					r.mask[spot{x, y}] |= 1 << s.Layer
				}
			}
		}
	}
	return r
}

func (r *raster) on(s spot, layer int) bool { return r.mask[s]>>layer&1 != 0 }

func (r *raster) crossing(s spot) bool {
	return r.on(s, poly) && r.on(s, diffusion) && !(r.on(s, capmark) && !r.on(s, nwell))
}
func (r *raster) junction(s spot) bool {
	return r.on(s, diffusion) && !r.crossing(s) && !r.body(s, diffusion)
}
func (r *raster) wellTap(s spot) bool {
	return r.junction(s) && !r.on(s, pplus) && r.on(s, nwell)
}
func (r *raster) substrateTap(s spot) bool {
	return r.junction(s) && r.on(s, pplus) && !r.on(s, nwell)
}
func (r *raster) diode(s spot) bool {
	return r.junction(s) && r.on(s, photo) && !r.on(s, pplus) && !r.on(s, nwell)
}

var directions = []spot{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}

// parts is the connected parts of a region: their squares, from the lowest, then leftmost, and the part of each square.
type parts struct {
	squares [][]spot
	of      map[spot]int
}

func (r *raster) fill(in func(spot) bool) *parts {
	p := &parts{of: map[spot]int{}}
	for y := range rasterSide {
		for x := range rasterSide {
			s := spot{x, y}
			if _, seen := p.of[s]; seen || !in(s) {
				continue
			}
			n := len(p.squares)
			todo := []spot{s}
			p.of[s] = n
			for i := 0; i < len(todo); i++ {
				for _, d := range directions {
					q := spot{todo[i].x + d.x, todo[i].y + d.y}
					if _, seen := p.of[q]; !seen && in(q) {
						p.of[q] = n
						todo = append(todo, q)
					}
				}
			}
			p.squares = append(p.squares, todo)
		}
	}
	return p
}

// netKey is a connected part of a conductor; the substrate is of layer -1.
type netKey struct{ layer, part int }

var substrate = netKey{-1, 0}

// oracle holds all parts and which of them are one net.
type oracle struct {
	*raster
	conductors map[int]*parts // by layer; for diffusion the junctions, for nwell the wells
	parent     map[netKey]netKey
	labels     map[netKey][]string // by root
	soft       map[netKey][]netKey // by well: the nets that tap it and stay apart
	unclear    bool                // the rules leave the result open
}

func (o *oracle) find(k netKey) netKey {
	for {
		p, ok := o.parent[k]
		if !ok {
			return k
		}
		k = p
	}
}

func (o *oracle) join(a, b netKey) {
	a, b = o.find(a), o.find(b)
	if a != b {
		o.parent[a] = b
		o.labels[b] = append(o.labels[b], o.labels[a]...)
		delete(o.labels, a)
	}
}

func (o *oracle) at(layer int, s spot) (netKey, bool) {
	n, ok := o.conductors[layer].of[s]
	return netKey{layer, n}, ok
}

func newOracle(r *raster, labels []layout.Label) *oracle {
	o := &oracle{raster: r, conductors: map[int]*parts{}, parent: map[netKey]netKey{}, labels: map[netKey][]string{}, soft: map[netKey][]netKey{}}
	o.conductors[diffusion] = r.fill(r.junction)
	for _, l := range []int{poly, nwell, metal1, metal2} {
		o.conductors[l] = r.fill(func(s spot) bool { return r.on(s, l) && !r.body(s, l) })
	}
	for _, l := range []int{contact, via1} {
		o.conductors[l] = r.fill(func(s spot) bool { return r.on(s, l) })
	}
	for i, squares := range o.conductors[contact].squares {
		o.land(netKey{contact, i}, squares, metal1, poly, diffusion)
	}
	for i, squares := range o.conductors[via1].squares {
		o.land(netKey{via1, i}, squares, metal2, metal1)
	}
	for _, l := range labels {
		if k, ok := o.at(int(l.Layer), spot{l.At.X / r.pitch, l.At.Y / r.pitch}); ok {
			o.labels[o.find(k)] = append(o.labels[o.find(k)], l.Text)
		}
	}
	o.tie()
	return o
}

// land joins what one contact joins: all on top, and below the layer that takes most of it, or each that takes a
// quarter or more where two do.
func (o *oracle) land(plug netKey, squares []spot, top int, below ...int) {
	count := map[int]int{}
	for _, s := range squares {
		for _, l := range below {
			if o.body(s, l) {
				break
			}
			if _, ok := o.at(l, s); ok {
				count[l]++
				break
			}
		}
	}
	best, butted := 0, 0
	for _, l := range below {
		best = max(best, count[l])
		if 4*count[l] >= len(squares) {
			butted++
		}
	}
	if len(below) == 2 && butted < 2 && count[below[0]] == count[below[1]] && best > 0 {
		o.unclear = true // neither takes more
	}
	var joined []netKey
	for _, s := range squares {
		if k, ok := o.at(top, s); ok {
			joined = append(joined, k)
		}
		for _, l := range below {
			if o.body(s, l) {
				break
			}
			if k, ok := o.at(l, s); ok {
				if count[l] == best || butted > 1 && 4*count[l] >= len(squares) {
					joined = append(joined, k)
				}
				break
			}
		}
	}
	for _, k := range joined {
		o.join(plug, k)
	}
}

// tie joins wells and substrate to the nets that tap them, unless two labelled nets would become one. Where the order
// of the wells would matter the rules leave the result open.
func (o *oracle) tie() {
	nets := map[netKey][]netKey{} // by well
	tied := func(w, net netKey) {
		if !slices.Contains(nets[w], net) {
			nets[w] = append(nets[w], net)
		}
	}
	for s := range o.mask {
		if j, ok := o.at(diffusion, s); ok && o.substrateTap(s) {
			tied(substrate, j)
		}
	}
	for _, squares := range o.fill(o.wellTap).squares {
		in := map[netKey]int{}
		for _, s := range squares {
			if w, ok := o.at(nwell, s); ok { // else it lies on a resistor's body
				in[w]++
			}
		}
		most, well := 0, substrate
		for w, n := range in {
			if n > most {
				most, well = n, w
			} else if n == most {
				o.unclear = true // between two wells, on either side of a resistor
			}
		}
		if most > 0 {
			j, _ := o.at(diffusion, squares[0])
			tied(well, j)
		}
	}
	conflict := func(w netKey, ns []netKey) bool {
		roots := map[netKey]bool{}
		for _, n := range append([]netKey{w}, ns...) {
			if r := o.find(n); len(o.labels[r]) > 0 {
				roots[r] = true
			}
		}
		return len(roots) > 1
	}
	before := map[netKey]bool{}
	for w, ns := range nets {
		before[w] = conflict(w, ns)
		if before[w] {
			o.soft[w] = ns
		}
	}
	for w, ns := range nets {
		if !before[w] {
			for _, n := range ns {
				o.join(w, n)
			}
		}
	}
	for r := range o.labels { // joined in a chain by several wells: it depends on which comes first
		seen := map[netKey]bool{}
		for w := range nets {
			if !before[w] && o.find(w) == r {
				seen[w] = true
			}
		}
		if len(seen) > 1 {
			o.unclear = true
		}
	}
}
