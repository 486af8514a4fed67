package sweep

import (
	"cmp"
	"math"
	"slices"
)

// Sink hears what one sweep finds, from bottom to top and, at one height, from left to right. Intervals are only valid
// during the call. At one height the stretches in which something changes come one after the other; the calls for one
// stretch come in the order of the methods below, Found excepted, which comes last of all.
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
	w.state = sweeper{sink: sink, clip: Clip{float64(s.X0), float64(s.X1)}, probes: s.Probes, active: was.active[:0],
		open: was.open[:0], slots: was.slots[:0], stretch: stretch{fresh: was.fresh, now: was.now, carried: was.carried, closing: was.closing}}
	starts := w.order.sort(s.Edges)
	w.state.run(s, starts, w.order.ends(starts))
}

// sweeper is the state between two events.
type sweeper struct {
	sink        Sink
	clip        Clip
	left, right Line

	active []active   // the edges that cross the sweep line, from left to right
	open   []Interval // between them
	next   int32      // the height of the next event
	slots  []int32    // free ones
	nslots int32
	probes []Probe
	stretch
}

// active is an edge that crosses the sweep line, or several on one layer that are alike, with what it makes of the line on
// its right.
type active struct {
	Line
	mask    uint64 // what covers the line right of it and of those before it
	winding int32  // of its layer, right of it
	adds    int16  // to winding
	layer   uint8
	border  bool // the first edge of a border of two intervals
}

// spot is a place at which edges end.
type spot struct{ y, x int32 }

func (sw *sweeper) run(s Strip, starts []Edge, ends []spot) {
	sw.left = Line{int32(s.X0), 0, int32(s.X0), 0}
	sw.right = Line{int32(s.X1), 0, int32(s.X1), 0}
	ground := Interval{L: sw.left, R: sw.right, Y0: starts[0].Y0 - 1, Slot: sw.takeSlot()}
	sw.sink.Open(&ground)
	sw.open = append(sw.open, ground)
	for y := starts[0].Y0; len(ends) > 0; y = sw.next {
		n, m := 0, 0
		for n < len(starts) && starts[n].Y0 == y {
			n++
		}
		for m < len(ends) && ends[m].y == y {
			m++
		}
		sw.next = math.MaxInt32
		if m < len(ends) {
			sw.next = ends[m].y
		}
		if n < len(starts) {
			sw.next = min(sw.next, starts[n].Y0)
		}
		sw.step(y, starts[:n], ends[:m])
		starts, ends = starts[n:], ends[m:]
	}
}

// step handles the event at height y, stretch by stretch.
func (sw *sweeper) step(y int32, starts []Edge, ends []spot) {
	sw.from, sw.first = 0, 0
	for len(starts) > 0 || len(ends) > 0 {
		all := starts
		starts, ends = sw.merge(y, starts, ends)
		sw.regroup()
		sw.tell(int(y), all[:len(all)-len(starts)])
		sw.active = replace(sw.active, sw.from, sw.to, sw.fresh)
		sw.open = replace(sw.open, sw.first, sw.last, sw.now)
		sw.from += len(sw.fresh)
		sw.first += len(sw.now)
	}
	sw.probe(int(y))
}

// replace is slices.Replace, but moves nothing where as much comes as goes, as it mostly does.
func replace[T any](s []T, i, j int, v []T) []T {
	if len(v) == j-i {
		copy(s[i:j], v)
		return s
	}
	return slices.Replace(s, i, j, v...)
}
