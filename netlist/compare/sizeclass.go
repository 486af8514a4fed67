package compare

import (
	"maps"
	"math"
	"slices"

	"undermetal/netlist"
)

// sizeKeys returns a key of its sizes for every element of either circuit. Elements whose sizes agree have equal keys;
// not the other way round, since agreement within a tolerance is not transitive: keys stand for chains of sizes, each
// within the tolerance of the next.
func (p *pair) sizeKeys() [2][]uint64 {
	var keys [2][]uint64
	for i, s := range p.side {
		keys[i] = make([]uint64, s.elements())
	}
	for dim := range 2 {
		chains := p.chains(dim)
		for i, s := range p.side {
			for e := range keys[i] {
				x, _ := p.sizeOf(s, int32(e), dim, simple)
				keys[i][e] = mix(keys[i][e] ^ uint64(chains[s.elemClass[e]][bitsOf(x)]))
			}
		}
	}
	return keys
}

// bitsOf makes all numbers that are none equal.
func bitsOf(x float64) uint64 {
	if math.IsNaN(x) {
		x = math.NaN()
	}
	return math.Float64bits(x)
}

// chains numbers, for every class, the sizes of that dimension by chain. A gap in the sorted sizes parts two chains if
// it is wider than two elements that agree can lie apart: times the largest number of lots (see agreeFingers), as each
// lot may be off by the tolerance.
func (p *pair) chains(dim int) []map[uint64]int {
	chains := make([]map[uint64]int, len(p.classes))
	also := make([][][2]uint64, len(p.classes)) // sizes of one element
	lots := make([]int, len(p.classes))
	for _, s := range p.side {
		for e, c := range s.elemClass {
			x, n := p.sizeOf(s, int32(e), dim, simple)
			y, _ := p.sizeOf(s, int32(e), dim, effective)
			if chains[c] == nil {
				chains[c] = map[uint64]int{}
			}
			chains[c][bitsOf(x)] = 0
			if bitsOf(x) != bitsOf(y) {
				chains[c][bitsOf(y)] = 0
				also[c] = append(also[c], [2]uint64{bitsOf(x), bitsOf(y)})
			}
			lots[c] = max(lots[c], n)
		}
	}
	for c, chain := range chains {
		sizes := make([]float64, 0, len(chain))
		for b := range maps.Keys(chain) {
			sizes = append(sizes, math.Float64frombits(b))
		}
		slices.Sort(sizes)
		mos := p.bases[p.classes[c].base].kind.IsMOS()
		number := 1
		for i, x := range sizes {
			if i > 0 && p.apart(sizes[i-1], x, lots[c], mos) {
				number++
			}
			chain[bitsOf(x)] = number
		}
		link(chain, number, also[c])
	}
	return chains
}

// link makes chains one that hold both readings of an element: it may agree with what is on either.
func link(chain map[uint64]int, last int, also [][2]uint64) {
	if len(also) == 0 {
		return
	}
	up := make([]int, last+1)
	for i := range up {
		up[i] = i
	}
	find := func(n int) int {
		for up[n] != n {
			n = up[n]
		}
		return n
	}
	for _, xy := range also {
		a, b := find(chain[xy[0]]), find(chain[xy[1]])
		up[max(a, b)] = min(a, b)
	}
	for x, n := range chain {
		chain[x] = find(n)
	}
}

// apart reports whether no two agreeing elements can have sizes of up to x and of y or more, x < y.
func (p *pair) apart(x, y float64, lots int, mos bool) bool {
	if !mos {
		return !p.opt.nearValue(x, y)
	}
	return given(x) != given(y) || y-x > float64(lots)*(p.opt.ToleranceNm+slackNm)+p.opt.ToleranceRel*y*(1+slackRel)
}

// sizeOf returns one of two sizes of element e, and how many lots add up to it: least L and total W of a transistor or
// stack, area and perimeter of a diode, value and nothing of others.
func (p *pair) sizeOf(s *side, e int32, dim int, r reading) (size float64, lots int) {
	kind := p.base(s, e).kind
	if kind.IsMOS() {
		return p.sizeOfMOS(s, e, dim, r)
	}
	of := r.value
	switch {
	case kind == netlist.Diode && dim == 0:
		of = area
	case kind == netlist.Diode:
		of = perim
	case dim == 1:
		return 0, 1
	}
	return s.sum(s.devices(s.bundles(e)[0]), of), 1
}

func (p *pair) sizeOfMOS(s *side, e int32, dim int, r reading) (size float64, lots int) {
	least := math.Inf(1)
	for _, b := range s.bundles(e) {
		low, high := math.Inf(1), math.Inf(-1)
		devs := s.devices(b)
		for _, d := range devs {
			l := s.c.Devices[d].L
			low, high, size = min(low, l), max(high, l), size+r.width(&s.c.Devices[d])
		}
		least = min(least, low)
		if p.opt.nearLength(low, high) {
			lots++
		} else {
			lots += len(devs)
		}
	}
	if dim == 0 {
		return least, 1
	}
	return size, lots
}
