package sweep

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"undermetal/layout/geom"
)

// The twin is a second sweep, plain and slow. It sorts all edges anew in every slab between two heights at which
// anything begins or ends, in exact fractions, and merges slabs upwards afterwards. Its coordinates must be within
// ±2^29, so that numerators fit 64 bits.

// frac is the exact number n/d, d > 0.
type frac struct{ n, d int64 }

func (a frac) cmp(b frac) int {
	sa, sb := cmp.Compare(a.n, 0), cmp.Compare(b.n, 0)
	if sa != sb {
		return cmp.Compare(sa, sb)
	}
	h1, l1 := bits.Mul64(uint64(max(a.n, -a.n)), uint64(b.d))
	h2, l2 := bits.Mul64(uint64(max(b.n, -b.n)), uint64(a.d))
	return sa * cmp.Or(cmp.Compare(h1, h2), cmp.Compare(l1, l2))
}

func (a frac) float() float64 { return float64(a.n) / float64(a.d) }

// crossAt returns the line's x at height y2/2, exactly.
func crossAt(l Line, y2 int64) frac {
	dx, dy := int64(l.X1)-int64(l.X0), int64(l.Y1)-int64(l.Y0)
	if dx == 0 {
		return frac{int64(l.X0), 1}
	}
	return frac{2*dy*int64(l.X0) + dx*(y2-2*int64(l.Y0)), 2 * dy}
}

func crossAtY(l Line, y int) frac { return crossAt(l, 2*int64(y)) }

// canon makes all pieces of one upright line equal.
func canon(l Line) Line {
	if l.Vertical() {
		l.Y0, l.Y1 = 0, 0
	}
	return l
}

type cell struct {
	l, r Line // canon
	mask uint64
}

// slab is what lies between two neighbouring heights, from left to right.
type slab struct {
	y0, y1 int
	cells  []cell
}

// trap is a trapezoid; y1 is open for the one that is never closed.
type trap struct {
	cell
	y0, y1 int
}

const open = math.MaxInt

// slabsOf cuts the plane between x0 and x1 into slabs, with an empty one below the lowest and above the highest edge.
func slabsOf(edges []Edge, x0, x1 int) []slab {
	var ys []int
	for _, e := range edges {
		ys = append(ys, int(e.Y0), int(e.Y1))
	}
	if len(ys) == 0 {
		return nil
	}
	slices.Sort(ys)
	ys = slices.Compact(ys)
	ys = append([]int{ys[0] - 1}, append(ys, ys[len(ys)-1]+1)...)
	var slabs []slab
	for i := 0; i+1 < len(ys); i++ {
		slabs = append(slabs, oneSlab(edges, x0, x1, ys[i], ys[i+1]))
	}
	return slabs
}

func oneSlab(edges []Edge, x0, x1, y0, y1 int) slab {
	type crossing struct {
		x frac
		e Edge
	}
	var cs []crossing
	for _, e := range edges {
		if int(e.Y0) <= y0 && int(e.Y1) >= y1 {
			cs = append(cs, crossing{crossAt(e.Line, int64(y0)+int64(y1)), e})
		}
	}
	slices.SortFunc(cs, func(a, b crossing) int { return a.x.cmp(b.x) })
	s := slab{y0: y0, y1: y1}
	var winding [64]int
	c := cell{l: canon(Line{int32(x0), 0, int32(x0), 0})}
	for i := 0; i < len(cs); {
		at := cs[i]
		for ; i < len(cs) && cs[i].x.cmp(at.x) == 0; i++ {
			winding[cs[i].e.Layer] += int(cs[i].e.Winding)
		}
		mask := uint64(0)
		for l, w := range winding {
			if w != 0 {
				mask |= 1 << l
			}
		}
		if mask != c.mask {
			c.r = canon(at.e.Line)
			s.cells = append(s.cells, c)
			c = cell{l: c.r, mask: mask}
		}
	}
	c.r = canon(Line{int32(x1), 0, int32(x1), 0})
	s.cells = append(s.cells, c)
	return s
}

// trapsOf merges slabs upwards as long as borders and mask stay the same.
func trapsOf(slabs []slab) []trap {
	var traps []trap
	for i, s := range slabs {
		for _, c := range s.cells {
			if i > 0 && slices.Contains(slabs[i-1].cells, c) {
				continue
			}
			t := trap{c, s.y0, s.y1}
			k := i + 1
			for ; k < len(slabs) && slices.Contains(slabs[k].cells, c); k++ {
				t.y1 = slabs[k].y1
			}
			if k == len(slabs) {
				t.y1 = open
			}
			traps = append(traps, t)
		}
	}
	return traps
}

type beside struct {
	l, r   trap
	y0, y1 int
}

type above struct {
	lo, hi trap
	y      int
	x0, x1 frac
}

// besides finds all pairs that share a border, by looking at all pairs.
func besides(traps []trap) []beside {
	var out []beside
	for _, a := range traps {
		for _, b := range traps {
			if y0, y1 := max(a.y0, b.y0), min(a.y1, b.y1); a.r == b.l && y0 < y1 {
				out = append(out, beside{a, b, y0, y1})
			}
		}
	}
	return out
}

func aboves(traps []trap) []above {
	var out []above
	for _, a := range traps {
		for _, b := range traps {
			if a.y1 != b.y0 {
				continue
			}
			x0, x1 := crossAtY(a.l, a.y1), crossAtY(a.r, a.y1)
			if u := crossAtY(b.l, a.y1); u.cmp(x0) > 0 {
				x0 = u
			}
			if v := crossAtY(b.r, a.y1); v.cmp(x1) < 0 {
				x1 = v
			}
			if x0.cmp(x1) < 0 {
				out = append(out, above{a, b, a.y1, x0, x1})
			}
		}
	}
	return out
}

// nodedShape is the edges of one polygon, slanted ones as the noder leads them.
type nodedShape struct {
	segs  []Seg
	layer uint8
}

// noded takes polygons through outline.go and node.go, and checks the noder on the way.
func noded(pgs []geom.Polygon, layers []uint8) ([]nodedShape, error) {
	shapes := make([]nodedShape, len(pgs))
	var all []Seg
	for i, pg := range pgs {
		segs := slices.Clone(Outline(pg))
		for k := range segs {
			segs[k].Tag = uint32(len(all) + k + 1)
		}
		shapes[i] = nodedShape{segs, layers[i]}
		all = append(all, segs...)
	}
	chains := nodeAll(all)
	if err := checkNoding(all, chains); err != nil {
		return nil, err
	}
	for i := range shapes {
		var out []Seg
		for _, s := range shapes[i].segs {
			if !s.Slanted() {
				out = append(out, s)
				continue
			}
			for k := 0; k+1 < len(chains[0]); k++ {
				out = append(out, Seg{A: chains[0][k], B: chains[0][k+1], Tag: s.Tag})
			}
			chains = chains[1:]
		}
		shapes[i].segs = out
	}
	return shapes, nil
}

func nodeAll(all []Seg) [][]geom.Point {
	n := NewNoder(AppendLines(nil, nil, all))
	n.Settle(1)
	var chains [][]geom.Point
	for _, s := range all {
		if s.Slanted() {
			chains = append(chains, n.Chain(nil, &s))
		}
	}
	return chains
}
