package sweep

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// sorter brings edges into the order in which the sweep meets them. Its memory is used again by the next strip.
type sorter struct {
	keys, spare []uint64
	edges       []Edge
	spots       []spot
}

const (
	radixBits = 11 // a table of 2048 counts stays in the first cache
	fewEdges  = 200
)

// sort returns the edges in order, in place or in memory of the sorter that is valid until its next use. Heights and
// places are sorted by their digits, which takes a tenth of the time that comparisons do for a strip's thousands.
func (o *sorter) sort(edges []Edge) []Edge {
	if len(edges) < fewEdges {
		sortStart(edges)
		return edges
	}
	// A key is a place, as much of it as there is room for, and after it the edge's index.
	g := gridOf(edges, func(e *Edge) spot { return spot{e.Y0, e.X0} })
	index := bits.Len(uint(len(edges)))
	cut := max(g.bits()+index-64, 0)
	o.keys = slices.Grow(o.keys[:0], len(edges))
	for i := range edges {
		o.keys = append(o.keys, g.place(spot{edges[i].Y0, edges[i].X0})>>cut<<index|uint64(i))
	}
	o.order(index, g.bits()-cut+index)
	o.edges = slices.Grow(o.edges[:0], len(edges))
	for _, k := range o.keys {
		o.edges = append(o.edges, edges[k&(1<<index-1)])
	}
	for lo := 0; lo < len(o.keys); { // what begins in one place
		hi := lo + 1
		for hi < len(o.keys) && o.keys[hi]>>index == o.keys[lo]>>index {
			hi++
		}
		sortStart(o.edges[lo:hi])
		lo = hi
	}
	return o.edges
}

// ends returns the places at which edges that sort has brought into order end, each once and in order, in memory of the sorter
// that is valid until its next use.
func (o *sorter) ends(edges []Edge) []spot {
	g := gridOf(edges, func(e *Edge) spot { return spot{e.Y1, e.X1} })
	o.keys = slices.Grow(o.keys[:0], len(edges))
	for i := range edges {
		if i == 0 || edges[i].Line != edges[i-1].Line { // shapes that overlap share many edges
			o.keys = append(o.keys, g.place(spot{edges[i].Y1, edges[i].X1}))
		}
	}
	if len(edges) < fewEdges {
		slices.Sort(o.keys)
	} else {
		o.order(0, g.bits())
	}
	o.keys = slices.Compact(o.keys)
	o.spots = slices.Grow(o.spots[:0], len(o.keys))
	for _, k := range o.keys {
		o.spots = append(o.spots, g.spot(k))
	}
	return o.spots
}

// order sorts keys by their digits from bit to bit.
func (o *sorter) order(from, to int) {
	o.spare = slices.Grow(o.spare[:0], len(o.keys))[:len(o.keys)]
	for ; from < to; from += radixBits {
		o.pass(from)
	}
}

// pass sorts keys by the digit at shift and keeps the order of equals.
func (o *sorter) pass(shift int) {
	var next [1 << radixBits]uint32
	keys, spare := o.keys, o.spare
	for _, k := range keys {
		next[k>>shift&(1<<radixBits-1)]++
	}
	sum := uint32(0)
	for d, n := range next {
		next[d] = sum
		sum += n
	}
	for _, k := range keys {
		at := &next[k>>shift&(1<<radixBits-1)]
		spare[*at] = k
		*at++
	}
	o.keys, o.spare = spare, keys
}

// grid numbers places from the lowest to the highest, then from left to right. Those far left of a strip come before all
// others of their height.
type grid struct {
	x0, y0  int32
	columns int // how many bits of a number say where in a row
	rows    int // how many say in which row
}

// gridOf returns that of places of some edges. In the frame, its numbers have room in 64 bits.
func gridOf(edges []Edge, of func(*Edge) spot) grid {
	x0, y0, x1, y1 := int32(math.MaxInt32), int32(math.MaxInt32), int32(farLeft), int32(math.MinInt32)
	for i := range edges {
		s := of(&edges[i])
		y0, y1 = min(y0, s.y), max(y1, s.y)
		if s.x != farLeft {
			x0, x1 = min(x0, s.x), max(x1, s.x)
		}
	}
	return grid{x0, y0, bits.Len64(uint64(max(int64(x1)-int64(x0), 0)) + 1), bits.Len64(uint64(int64(y1) - int64(y0)))}
}

func (g *grid) bits() int { return g.rows + g.columns }

func (g *grid) place(s spot) uint64 {
	place := uint64(int64(s.y)-int64(g.y0)) << g.columns
	if s.x != farLeft {
		place |= uint64(int64(s.x)-int64(g.x0)) + 1
	}
	return place
}

// spot is the inverse of place.
func (g *grid) spot(place uint64) spot {
	s := spot{y: g.y0 + int32(place>>g.columns), x: farLeft}
	if column := place & (1<<g.columns - 1); column != 0 {
		s.x = int32(int64(g.x0) + int64(column) - 1)
	}
	return s
}

// sortStart sorts edges by compareStart. A few it sorts without copying each that it compares.
func sortStart(edges []Edge) {
	if len(edges) > 8 {
		slices.SortFunc(edges, func(a, b Edge) int { return compareStart(&a, &b) })
		return
	}
	for i := range edges {
		for j := i; j > 0 && compareStart(&edges[j], &edges[j-1]) < 0; j-- {
			edges[j], edges[j-1] = edges[j-1], edges[j]
		}
	}
}

// compareStart orders edges by their lower ends, then by where they are just above these; then, so that the order is
// always the same, by what else they are.
func compareStart(a, b *Edge) int {
	if a.Y0 != b.Y0 {
		return cmp.Compare(a.Y0, b.Y0)
	}
	if c := compareAbove(a.Line, b.Line); c != 0 {
		return c
	}
	return cmp.Or(cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.Winding, b.Winding), cmp.Compare(a.Tag, b.Tag), cmp.Compare(a.Part, b.Part),
		cmp.Compare(a.Y1, b.Y1))
}
