package sweep

import (
	"cmp"
	"math"
	"slices"
)

// Sink hears what one sweep finds, from bottom to top and, at one height, from left to right. Intervals are only valid
// during the call. The calls for one height come in the order of the methods below.
type Sink interface {
	// Open begins an interval.
	Open(iv *Interval)
	// Beside says that l and r share the line l.R from y0 to y1; one of them is about to close.
	Beside(l, r *Interval, y0, y1 int)
	// Above says that hi, just opened, lies on lo, about to close, from x0 to x1 at height y.
	Above(lo, hi *Interval, y int, x0, x1 float64)
	// Close ends an interval at height y. The empty one above the last edge of a strip is never closed.
	Close(iv *Interval, y int)
	// Tagged says that a tagged edge begins on the left border of iv or, covered already, within it.
	Tagged(iv *Interval, e *Edge)
	// Found answers a probe with an interval that its layer covers. A probe on a border may be answered twice.
	Found(iv *Interval, id int32)
}

// Nop is a Sink that ignores everything, for embedding.
type Nop struct{}

func (Nop) Open(*Interval)                                {}
func (Nop) Beside(l, r *Interval, y0, y1 int)             {}
func (Nop) Above(lo, hi *Interval, y int, x0, x1 float64) {}
func (Nop) Close(*Interval, int)                          {}
func (Nop) Tagged(*Interval, *Edge)                       {}
func (Nop) Found(*Interval, int32)                        {}

// touch is the overlap in nm above which two intervals lie on each other. Borders that are not equal differ by far
// more unless they are slanted and nearly meet; At errs by less than 1e-6 in the whole frame.
const touch = 1e-6

// Sweep runs over one strip. Edges must meet at common ends only, except upright with upright and anything with
// horizontal; see Noder. The order of the edges does not matter; Sweep may sort them in place.
func Sweep(s Strip, sink Sink) { new(Sweeper).Sweep(s, sink) }

// Sweeper sweeps strips one after the other and uses its memory again. The zero value is ready.
type Sweeper struct {
	order sorter
	state sweeper
}

// Sweep is like the function of that name.
func (w *Sweeper) Sweep(s Strip, sink Sink) {
	if len(s.Edges) == 0 {
		return
	}
	slices.SortFunc(s.Probes, func(p, q Probe) int { return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.ID, q.ID)) })
	was := &w.state
	w.state = sweeper{sink: sink, clip: Clip{float64(s.X0), float64(s.X1)}, probes: s.Probes, nextEvent: math.MaxInt32, active: was.active[:0],
		old: was.old[:0], now: was.now[:0], slots: was.slots[:0], carried: was.carried, closing: was.closing}
	w.state.run(s, w.order.sort(s.Edges))
}

func (sw *sweeper) run(s Strip, rest []Edge) {
	sw.left = Line{int32(s.X0), 0, int32(s.X0), 0}
	sw.right = Line{int32(s.X1), 0, int32(s.X1), 0}
	ground := Interval{L: sw.left, R: sw.right, Y0: rest[0].Y0 - 1, Slot: sw.takeSlot()}
	sw.sink.Open(&ground)
	sw.old = append(sw.old, ground)
	for len(rest) > 0 || len(sw.active) > 0 {
		y := sw.nextEvent
		if len(sw.active) == 0 || len(rest) > 0 && rest[0].Y0 < y {
			y = rest[0].Y0
		}
		n := 0
		for n < len(rest) && rest[n].Y0 == y {
			n++
		}
		starts := rest[:n]
		rest = rest[n:]
		sw.nextStart = math.MaxInt32
		if len(rest) > 0 {
			sw.nextStart = rest[0].Y0
		}
		sw.step(int(y), starts)
	}
}

// sweeper is the state between two events.
type sweeper struct {
	sink        Sink
	clip        Clip
	left, right Line

	active    []Edge // the edges that cross the sweep line, from left to right
	old, now  []Interval
	nextEvent int32 // the lowest upper end among active
	nextStart int32 // the lowest lower end of those to come
	winding   [64]int32
	slots     []int32 // free ones
	nslots    int32
	probes    []Probe
	carried   []bool // for each of now: goes on from old
	closing   []bool // for each of old
}

// compareAbove orders two lines that begin at the same height by where they are just above it.
func compareAbove(a, b Line) int {
	if a.X0 != b.X0 {
		return cmp.Compare(a.X0, b.X0)
	}
	return slopeOrder(a, b)
}

// slopeOrder compares dx/dy, exactly: both factors are below 2^31.
func slopeOrder(a, b Line) int {
	dxa, dya := int64(a.X1)-int64(a.X0), int64(a.Y1)-int64(a.Y0)
	dxb, dyb := int64(b.X1)-int64(b.X0), int64(b.Y1)-int64(b.Y0)
	return cmp.Compare(dxa*dyb, dxb*dya)
}

// before reports whether line a, which goes on through height y, is left of line b, which begins there, just above y.
func before(a, b Line, y int32) bool {
	if a.Vertical() {
		if a.X0 != b.X0 {
			return a.X0 < b.X0
		}
		return b.X1 >= b.X0
	}
	if max(a.X0, a.X1) < b.X0 {
		return true
	}
	if min(a.X0, a.X1) > b.X0 {
		return false
	}
	// Where is b's lower end: left or right of a? a runs upwards.
	ax, ay := int64(a.X1)-int64(a.X0), int64(a.Y1)-int64(a.Y0)
	bx, by := int64(b.X0)-int64(a.X0), int64(b.Y0)-int64(a.Y0)
	if d := ax*by - ay*bx; d != 0 {
		return d < 0 // right of a
	}
	return slopeOrder(a, b) <= 0
}

// step handles the event at height y, at which starts begin.
func (sw *sweeper) step(y int, starts []Edge) {
	sw.merge(int32(y), starts)
	sw.regroup(y)
	sw.match(y)
	for i := range sw.now {
		if !sw.carried[i] {
			sw.now[i].Y0 = int32(y)
			sw.now[i].Slot = sw.takeSlot()
			sw.sink.Open(&sw.now[i])
		}
	}
	sw.tellBeside(y)
	sw.tellAbove(y)
	for i := range sw.old {
		if sw.closing[i] {
			sw.sink.Close(&sw.old[i], y)
			sw.slots = append(sw.slots, sw.old[i].Slot)
		}
	}
	sw.tellTags(starts)
	sw.probe(y)
	sw.old, sw.now = sw.now, sw.old
}

func (sw *sweeper) takeSlot() int32 {
	if n := len(sw.slots); n > 0 {
		s := sw.slots[n-1]
		sw.slots = sw.slots[:n-1]
		return s
	}
	sw.nslots++
	return sw.nslots - 1
}

// merge drops the edges that end at y and puts in those that begin. What lies left of all of them stays where it is.
func (sw *sweeper) merge(y int32, starts []Edge) {
	if sw.nextEvent == y {
		kept, low := 0, int32(math.MaxInt32)
		for i := range sw.active {
			e := &sw.active[i]
			if e.Y1 == y {
				continue
			}
			low = min(low, e.Y1)
			if kept < i {
				sw.active[kept] = *e
			}
			kept++
		}
		sw.active, sw.nextEvent = sw.active[:kept], low
	}
	at := 0
	for len(starts) > 0 {
		for at < len(sw.active) && before(sw.active[at].Line, starts[0].Line, y) {
			at++
		}
		n := 1 // as many as go between the same two
		for n < len(starts) && (at == len(sw.active) || !before(sw.active[at].Line, starts[n].Line, y)) {
			n++
		}
		sw.active = slices.Insert(sw.active, at, starts[:n]...)
		for _, e := range starts[:n] {
			sw.nextEvent = min(sw.nextEvent, e.Y1)
		}
		at += n
		starts = starts[n:]
	}
}

// regroup makes the intervals above y out of the active edges. A border at which the mask does not change is none.
func (sw *sweeper) regroup(y int) {
	sw.now = sw.now[:0]
	sw.winding = [64]int32{}
	mask := uint64(0)
	iv := Interval{L: sw.left}
	for i := 0; i < len(sw.active); {
		line := sw.active[i].Line
		for ; i < len(sw.active) && sw.active[i].Line.same(line); i++ {
			e := &sw.active[i]
			w := sw.winding[e.Layer] + int32(e.Winding)
			sw.winding[e.Layer] = w
			if w != 0 {
				mask |= 1 << e.Layer
			} else {
				mask &^= 1 << e.Layer
			}
		}
		switch {
		case line.Vertical() && line.X0 <= sw.left.X0:
			iv.Mask = mask
		case line.Vertical() && line.X0 >= sw.right.X0:
			// nothing of this strip lies to the right
		case mask != iv.Mask:
			iv.R = line
			sw.now = append(sw.now, iv)
			iv = Interval{L: line, Mask: mask}
		}
	}
	iv.R = sw.right
	sw.now = append(sw.now, iv)
}

// match finds the intervals that go on through y: same borders, same mask.
func (sw *sweeper) match(y int) {
	sw.carried = resize(sw.carried, len(sw.now), false)
	sw.closing = resize(sw.closing, len(sw.old), true)
	i, j := 0, 0
	for i < len(sw.old) && j < len(sw.now) {
		a, b := &sw.old[i], &sw.now[j]
		if a.L.same(b.L) {
			if a.R.same(b.R) && a.Mask == b.Mask {
				b.Y0, b.Slot = a.Y0, a.Slot
				sw.carried[j], sw.closing[i] = true, false
			}
			i++
			j++
			continue
		}
		xa, xb := a.L.At(y), b.L.At(y)
		// Only an upright line goes on through a point at which others end or begin.
		if xa < xb || xa == xb && !a.L.Vertical() {
			i++
		} else {
			j++
		}
	}
}

func resize(s []bool, n int, v bool) []bool {
	s = slices.Grow(s[:0], n)[:n]
	for i := range s {
		s[i] = v
	}
	return s
}

func (sw *sweeper) tellBeside(y int) {
	for i := 0; i+1 < len(sw.old); i++ {
		if sw.closing[i] || sw.closing[i+1] {
			l, r := &sw.old[i], &sw.old[i+1]
			sw.sink.Beside(l, r, int(max(l.Y0, r.Y0)), y)
		}
	}
}

func (sw *sweeper) tellAbove(y int) {
	j := max(slices.Index(sw.closing, true), 0) // left of the first that closes, old and now are the same
	for i := j; i < len(sw.old); i++ {
		if !sw.closing[i] {
			continue
		}
		lo := &sw.old[i]
		x0, x1 := sw.clip.x(lo.L.At(y)), sw.clip.x(lo.R.At(y))
		if x1-x0 <= touch {
			continue
		}
		for j < len(sw.now) && sw.clip.x(sw.now[j].R.At(y)) <= x0+touch {
			j++
		}
		for k := j; k < len(sw.now); k++ {
			hi := &sw.now[k]
			u, v := max(x0, sw.clip.x(hi.L.At(y))), min(x1, sw.clip.x(hi.R.At(y)))
			if u >= x1 {
				break
			}
			if !sw.carried[k] && v-u > touch {
				sw.sink.Above(lo, hi, y, u, v)
			}
		}
	}
}

// tellTags reports each tagged edge that begins to the interval on its right, where the tag's layer is covered.
func (sw *sweeper) tellTags(starts []Edge) {
	j := 0
	for i := range starts {
		e := &starts[i]
		if e.Tag == 0 || e.Winding < 0 || !sw.begins(e.Line) {
			continue
		}
		for j+1 < len(sw.now) && !sw.startsAfter(e.Line, sw.now[j+1].L) {
			j++
		}
		if iv := &sw.now[j]; iv.Mask>>e.Layer&1 != 0 && sw.shows(iv) {
			sw.sink.Tagged(iv, e)
		}
	}
}

// begins reports whether a line lies in the strip just above its lower end; beyond it, edges are missing.
func (sw *sweeper) begins(l Line) bool {
	switch l.X0 {
	case sw.left.X0:
		return l.X1 >= l.X0
	case sw.right.X0:
		return l.X1 < l.X0
	}
	return l.X0 > sw.left.X0 && l.X0 < sw.right.X0
}

// startsAfter reports whether line m lies right of e just above e's lower end.
func (sw *sweeper) startsAfter(e, m Line) bool {
	if e.same(m) {
		return false
	}
	if m.Y0 == e.Y0 && !m.Vertical() {
		return compareAbove(e, m) < 0
	}
	return !before(m, e, e.Y0)
}

// shows reports whether anything of iv lies in the strip.
func (sw *sweeper) shows(iv *Interval) bool {
	return (!iv.L.Vertical() || float64(iv.L.X0) < sw.clip.X1) && (!iv.R.Vertical() || float64(iv.R.X0) > sw.clip.X0)
}

// probe answers the probes up to the next event. One that lies on the border between two events asks both sides.
func (sw *sweeper) probe(y int) {
	top := int(min(sw.nextEvent, sw.nextStart))
	if len(sw.active) == 0 {
		return
	}
	for len(sw.probes) > 0 && int(sw.probes[0].Y) < y {
		sw.probes = sw.probes[1:]
	}
	for _, p := range sw.probes {
		if int(p.Y) > top {
			break
		}
		x := float64(p.X)
		for i := range sw.now {
			iv := &sw.now[i]
			if iv.L.At(int(p.Y)) > x {
				break
			}
			if iv.R.At(int(p.Y)) >= x && iv.Mask>>p.Layer&1 != 0 {
				sw.sink.Found(iv, p.ID)
			}
		}
	}
}
