package sweep

import (
	"fmt"
	"math"
	"slices"
)

// tagCall is a call of Tagged, with the trapezoid and where that begins.
type tagCall struct {
	cell
	y0    int
	layer uint8
	tag   uint32
}

// told is one call of the sink: its place in the order of the methods, and the trapezoids that it is about.
type told struct {
	method int
	a, b   int
}

// Methods, in the order in which they are called for one stretch.
const (
	opens = iota
	tellsBeside
	tellsAbove
	closes
	tags
	finds
)

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
	y     int
	calls []told // at height y
	wrong []string
}

func newRecorder() *recorder { return &recorder{slots: map[int32]int{}, y: math.MinInt} }

func (r *recorder) fault(format string, args ...any) {
	r.wrong = append(r.wrong, fmt.Sprintf(format, args...))
}

// at keeps a call until all for its height have come.
func (r *recorder) at(y, method, a, b int) {
	if y < r.y {
		r.fault("method %d is called for height %d after calls for %d", method, y, r.y)
	}
	if y != r.y {
		r.inOrder()
	}
	r.y, r.calls = y, append(r.calls, told{method, a, b})
}

// check ends the record and returns the first contradiction.
func (r *recorder) check() error {
	r.inOrder()
	if len(r.wrong) > 0 {
		return fmt.Errorf("contract: %s", r.wrong[0])
	}
	return nil
}

// inOrder checks the calls for one height. Within a stretch they come in the order of the methods, so a method that comes
// before the last one begins a new stretch, and all from there on must be right of all before. What opens or closes does
// so from left to right.
func (r *recorder) inOrder() {
	start, reached, before := math.Inf(-1), math.Inf(-1), math.Inf(-1)
	method := opens
	for _, c := range r.calls {
		if c.method < method {
			start = reached
		}
		lo, hi := r.extent(c)
		if c.method == finds { // on the whole line
			lo, hi = start, math.Inf(1)
		}
		if lo < start || c.method == method && (method == opens || method == closes) && lo < before {
			r.fault("at height %d, method %d is called for %v to %v after method %d for what reaches to %v", r.y, c.method, lo, hi, method, reached)
		}
		method, before, reached = c.method, hi, max(reached, hi)
	}
	r.calls = r.calls[:0]
}

// extent returns from where to where at height y that lies which a call is about: of two intervals side by side, their
// border.
func (r *recorder) extent(c told) (lo, hi float64) {
	left := func(t trap) float64 {
		if t.l == r.traps[0].l { // the first of the line, though borders that lie outside of the strip may be left of it
			return math.Inf(-1)
		}
		return t.l.At(r.y)
	}
	right := func(t trap) float64 {
		if t.r == r.traps[0].r {
			return math.Inf(1)
		}
		return t.r.At(r.y)
	}
	a, b := r.traps[c.a], r.traps[c.b]
	if c.method == tellsBeside {
		return right(a), right(a)
	}
	return min(left(a), left(b)), max(right(a), right(b))
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
	if i, ok := r.slots[iv.Slot]; ok {
		r.fault("slot %d is taken already by %v", iv.Slot, r.traps[i])
	}
	r.slots[iv.Slot] = len(r.traps)
	r.traps = append(r.traps, trap{cell{canon(iv.L), canon(iv.R), iv.Mask}, int(iv.Y0), open})
	r.at(int(iv.Y0), opens, len(r.traps)-1, len(r.traps)-1)
}

func (r *recorder) Beside(a, b *Interval, y0, y1 int) {
	left, right := r.index(a), r.index(b)
	r.at(y1, tellsBeside, left, right)
	r.besides = append(r.besides, struct{ l, r, y0, y1 int }{left, right, y0, y1})
}

func (r *recorder) Above(lo, hi *Interval, y int, x0, x1 float64) {
	below, over := r.index(lo), r.index(hi)
	r.at(y, tellsAbove, below, over)
	r.aboves = append(r.aboves, struct {
		lo, hi, y int
		x0, x1    float64
	}{below, over, y, x0, x1})
}

func (r *recorder) Close(iv *Interval, y int) {
	i := r.index(iv)
	r.at(y, closes, i, i)
	r.traps[i].y1 = y
	delete(r.slots, iv.Slot)
}

func (r *recorder) Tagged(iv *Interval, e *Edge) {
	i := r.index(iv)
	r.at(int(e.Y0), tags, i, i)
	r.tags = append(r.tags, tagCall{r.traps[i].cell, int(iv.Y0), e.Layer, e.Tag})
}

func (r *recorder) Found(iv *Interval, id int32) {
	i := r.index(iv)
	r.at(r.y, finds, i, i)
	r.found = append(r.found, struct {
		at int
		id int32
	}{i, id})
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
	if err := got.check(); err != nil {
		return err
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
