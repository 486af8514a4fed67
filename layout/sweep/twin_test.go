package sweep

import (
	"cmp"
	"fmt"
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

// tagCall is a call of Tagged, with the trapezoid and where that begins.
type tagCall struct {
	cell
	y0    int
	layer uint8
	tag   uint32
}

// recorder writes down what the sweep tells, and what in it contradicts the contract of Sink.
type recorder struct {
	slots   map[int32]int // of the open intervals: index in traps
	traps   []trap
	besides []struct{ l, r, y0, y1 int }
	aboves  []struct {
		lo, hi, y int
		x0, x1    float64
	}
	tags  []tagCall
	found []struct {
		at int
		id int32
	}
	y, phase int
	wrong    []string
}

func newRecorder() *recorder { return &recorder{slots: map[int32]int{}, y: math.MinInt} }

func (r *recorder) fault(format string, args ...any) {
	r.wrong = append(r.wrong, fmt.Sprintf(format, args...))
}

// at checks that calls come from bottom to top, and at one height in the order of the methods.
func (r *recorder) at(y, phase int) {
	if y < r.y || y == r.y && phase < r.phase {
		r.fault("method %d at height %d comes after method %d at %d", phase, y, r.phase, r.y)
	}
	r.y, r.phase = y, phase
}

// index returns the trapezoid of an interval, which must be open and what it was when it was opened.
func (r *recorder) index(iv *Interval) int {
	i, ok := r.slots[iv.Slot]
	if !ok {
		r.fault("slot %d is not open", iv.Slot)
		return 0
	}
	if t := r.traps[i]; t.cell != (cell{canon(iv.L), canon(iv.R), iv.Mask}) || t.y0 != int(iv.Y0) {
		r.fault("slot %d was opened as %v, now it is %v", iv.Slot, t, *iv)
	}
	return i
}

func (r *recorder) Open(iv *Interval) {
	r.at(int(iv.Y0), 0)
	if i, ok := r.slots[iv.Slot]; ok {
		r.fault("slot %d is taken already by %v", iv.Slot, r.traps[i])
	}
	r.slots[iv.Slot] = len(r.traps)
	r.traps = append(r.traps, trap{cell{canon(iv.L), canon(iv.R), iv.Mask}, int(iv.Y0), open})
}

func (r *recorder) Beside(a, b *Interval, y0, y1 int) {
	r.at(y1, 1)
	r.besides = append(r.besides, struct{ l, r, y0, y1 int }{r.index(a), r.index(b), y0, y1})
}

func (r *recorder) Above(lo, hi *Interval, y int, x0, x1 float64) {
	r.at(y, 2)
	r.aboves = append(r.aboves, struct {
		lo, hi, y int
		x0, x1    float64
	}{r.index(lo), r.index(hi), y, x0, x1})
}

func (r *recorder) Close(iv *Interval, y int) {
	r.at(y, 3)
	r.traps[r.index(iv)].y1 = y
	delete(r.slots, iv.Slot)
}

func (r *recorder) Tagged(iv *Interval, e *Edge) {
	layer, tag := e.Layer, e.Tag
	r.tags = append(r.tags, tagCall{r.traps[r.index(iv)].cell, int(iv.Y0), layer, tag})
}

func (r *recorder) Found(iv *Interval, id int32) {
	r.found = append(r.found, struct {
		at int
		id int32
	}{r.index(iv), id})
}

// sameSet compares two lists without regard to order, repeats counted.
func sameSet[T comparable](what string, got, want []T) error {
	n := map[T]int{}
	for _, w := range want {
		n[w]++
	}
	for _, g := range got {
		n[g]--
	}
	for k, c := range n {
		if c < 0 {
			return fmt.Errorf("%s: the sweep tells %d too many of %v", what, -c, k)
		}
		if c > 0 {
			return fmt.Errorf("%s: the sweep misses %d of %v", what, c, k)
		}
	}
	return nil
}

// againstTwin sweeps one strip that holds all edges, and the same edges with the twin.
func againstTwin(edges []Edge, x0, x1 int, probes []Probe) error {
	slabs := slabsOf(edges, x0, x1)
	want := trapsOf(slabs)
	got := newRecorder()
	Sweep(Strip{X0: x0, X1: x1, Edges: slices.Clone(edges), Probes: slices.Clone(probes)}, got)
	if len(got.wrong) > 0 {
		return fmt.Errorf("contract: %s", got.wrong[0])
	}
	if err := sameSet("trapezoids", got.traps, want); err != nil {
		return err
	}
	var bs []beside
	for _, b := range got.besides {
		bs = append(bs, beside{got.traps[b.l], got.traps[b.r], b.y0, b.y1})
	}
	if err := sameSet("beside", bs, besides(want)); err != nil {
		return err
	}
	if err := sameAboves(got, aboves(want)); err != nil {
		return err
	}
	if err := sameTags(got, slabs, want, edges); err != nil {
		return err
	}
	if err := sameFound(got, want, probes); err != nil {
		return err
	}
	return leftToRight(got, slabs)
}

func sameAboves(got *recorder, want []above) error {
	type pair struct{ lo, hi trap }
	all := map[pair]above{}
	for _, a := range want {
		all[pair{a.lo, a.hi}] = a
	}
	for _, a := range got.aboves {
		p := pair{got.traps[a.lo], got.traps[a.hi]}
		w, ok := all[p]
		if !ok {
			return fmt.Errorf("above: the sweep tells of %v, which is none or was told before", p)
		}
		if w.y != a.y || math.Abs(w.x0.float()-a.x0) > 1e-6 || math.Abs(w.x1.float()-a.x1) > 1e-6 {
			return fmt.Errorf("above: %v at %d from %v to %v, the twin says %v", p, a.y, a.x0, a.x1, w)
		}
		delete(all, p)
	}
	for p, w := range all {
		if w.x1.float()-w.x0.float() > 2*touch {
			return fmt.Errorf("above: the sweep misses %v", p)
		}
	}
	return nil
}

// rightOf returns the trapezoid right of e just above its lower end.
func rightOf(e Edge, slabs []slab, traps []trap) trap {
	for _, s := range slabs {
		if s.y0 != int(e.Y0) {
			continue
		}
		x := crossAt(e.Line, int64(s.y0)+int64(s.y1))
		for _, c := range s.cells {
			if crossAt(c.r, int64(s.y0)+int64(s.y1)).cmp(x) > 0 {
				i := slices.IndexFunc(traps, func(t trap) bool { return t.cell == c && t.y0 <= s.y0 && t.y1 >= s.y1 })
				return traps[i]
			}
		}
	}
	panic("no slab begins where an edge does")
}

func sameTags(got *recorder, slabs []slab, traps []trap, edges []Edge) error {
	var want []tagCall
	for _, e := range edges {
		if e.Tag == 0 || e.Winding < 0 {
			continue
		}
		if t := rightOf(e, slabs, traps); t.mask>>e.Layer&1 != 0 {
			want = append(want, tagCall{t.cell, t.y0, e.Layer, e.Tag})
		}
	}
	return sameSet("tags", got.tags, want)
}

// sameFound: a probe is answered by trapezoids only that hold it, border included, and are on its layer; by all those
// that hold it within or on an upright border; and at least by one if there is any.
func sameFound(got *recorder, traps []trap, probes []Probe) error {
	for _, p := range probes {
		var answers []trap
		for _, f := range got.found {
			if f.id == p.ID {
				answers = append(answers, got.traps[f.at])
			}
		}
		any := false
		for _, t := range traps {
			x, y := frac{int64(p.X), 1}, int(p.Y)
			l, r := crossAtY(t.l, y).cmp(x), crossAtY(t.r, y).cmp(x)
			holds := t.mask>>p.Layer&1 != 0 && t.y0 <= y && y <= t.y1 && l <= 0 && r >= 0
			inside := holds && t.y0 < y && y < t.y1 && l < 0 && r > 0
			n := slices.Index(answers, t)
			if n >= 0 && !holds {
				return fmt.Errorf("probe %v is answered with %v", p, t)
			}
			if n < 0 && inside {
				return fmt.Errorf("probe %v is not answered with %v", p, t)
			}
			any = any || holds
		}
		if any && len(answers) == 0 {
			return fmt.Errorf("probe %v on a border is not answered", p)
		}
	}
	return nil
}

// leftToRight checks the order of the calls for one height.
func leftToRight(got *recorder, slabs []slab) error {
	place := func(at int, y int, over bool) int {
		for _, s := range slabs {
			if over && s.y0 == y || !over && s.y1 == y {
				return slices.Index(s.cells, got.traps[at].cell)
			}
		}
		return -1
	}
	for i, last := 1, 0; i < len(got.traps); i++ {
		n := place(i, got.traps[i].y0, true)
		if got.traps[i].y0 == got.traps[i-1].y0 && n <= last {
			return fmt.Errorf("%v is opened before %v", got.traps[i-1], got.traps[i])
		}
		last = n
	}
	for i := 1; i < len(got.besides); i++ {
		a, b := got.besides[i-1], got.besides[i]
		if a.y1 == b.y1 && place(a.l, a.y1, false) >= place(b.l, b.y1, false) {
			return fmt.Errorf("beside: %v comes before %v", got.traps[a.l], got.traps[b.l])
		}
	}
	for i := 1; i < len(got.aboves); i++ {
		if a, b := got.aboves[i-1], got.aboves[i]; a.y == b.y && a.x1 > b.x0+touch {
			return fmt.Errorf("above: at %d, %v to %v comes before %v to %v", a.y, a.x0, a.x1, b.x0, b.x1)
		}
	}
	return nil
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
	n := NewNoder(all)
	for _, s := range all {
		n.AddUpright(s)
	}
	n.Settle(1)
	var chains [][]geom.Point
	for _, s := range all {
		if s.Slanted() {
			chains = append(chains, n.Chain(nil, s))
		}
	}
	return chains
}
