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
	y, phase       int
	begun, reached float64 // where the stretch of the line begins, and how far calls for this height have come
	wrong          []string
}

func newRecorder() *recorder { return &recorder{slots: map[int32]int{}, y: math.MinInt} }

func (r *recorder) fault(format string, args ...any) {
	r.wrong = append(r.wrong, fmt.Sprintf(format, args...))
}

// at checks that calls come from bottom to top, and at one height in the order of the methods, unless a new stretch begins
// that is not left of what was told before. The call is about what lies right of the left borders of from and to.
func (r *recorder) at(y, phase int, from, to *Interval) {
	place := func(iv *Interval) float64 {
		if len(r.traps) == 0 || canon(iv.L) == r.traps[0].l {
			return math.Inf(-1) // the first of the line, though borders that lie outside of the strip may be left of it
		}
		return iv.L.At(y)
	}
	x := place(from)
	switch {
	case y > r.y:
		r.begun, r.reached = x, x
	case y == r.y && phase < r.phase && x >= r.reached:
		r.begun = x
	case y < r.y || phase < r.phase || x < r.begun:
		r.fault("method %d at (%v, %d) comes after method %d at (%v, %d)", phase, x, y, r.phase, r.reached, r.y)
	}
	r.y, r.phase, r.reached = y, phase, max(r.reached, place(to))
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
	r.at(int(iv.Y0), 0, iv, iv)
	if i, ok := r.slots[iv.Slot]; ok {
		r.fault("slot %d is taken already by %v", iv.Slot, r.traps[i])
	}
	r.slots[iv.Slot] = len(r.traps)
	r.traps = append(r.traps, trap{cell{canon(iv.L), canon(iv.R), iv.Mask}, int(iv.Y0), open})
}

func (r *recorder) Beside(a, b *Interval, y0, y1 int) {
	r.at(y1, 1, b, a)
	r.besides = append(r.besides, struct{ l, r, y0, y1 int }{r.index(a), r.index(b), y0, y1})
}

func (r *recorder) Above(lo, hi *Interval, y int, x0, x1 float64) {
	r.at(y, 2, hi, hi)
	r.aboves = append(r.aboves, struct {
		lo, hi, y int
		x0, x1    float64
	}{r.index(lo), r.index(hi), y, x0, x1})
}

func (r *recorder) Close(iv *Interval, y int) {
	r.at(y, 3, iv, iv)
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
