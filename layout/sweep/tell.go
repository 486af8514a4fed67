package sweep

import "slices"

// tell lets the sink know of a stretch, in which starts begin.
func (sw *sweeper) tell(y int, starts []Edge) {
	old := sw.open[sw.first:sw.last]
	sw.match(y, old)
	for i := range sw.now {
		if !sw.carried[i] {
			sw.now[i].Y0 = int32(y)
			sw.now[i].Slot = sw.takeSlot()
			sw.sink.Open(&sw.now[i])
		}
	}
	sw.tellBeside(y)
	sw.tellAbove(y, old)
	for i := range old {
		if sw.closing[i] {
			sw.sink.Close(&old[i], y)
			sw.slots = append(sw.slots, old[i].Slot)
		}
	}
	sw.tellTags(starts)
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

// match finds the intervals that go on through y: same borders, same mask.
func (sw *sweeper) match(y int, old []Interval) {
	sw.carried = resize(sw.carried, len(sw.now), false)
	sw.closing = resize(sw.closing, len(old), true)
	i, j := 0, 0
	for i < len(old) && j < len(sw.now) {
		a, b := &old[i], &sw.now[j]
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

// tellBeside tells of the borders in the stretch and of those at its ends. What was opened at y already, in the stretch
// before, shares none.
func (sw *sweeper) tellBeside(y int) {
	closes := func(i int) bool { return i >= sw.first && i < sw.last && sw.closing[i-sw.first] }
	for i := max(sw.first-1, 0); i < min(sw.last, len(sw.open)-1); i++ {
		if closes(i) || closes(i+1) {
			l, r := &sw.open[i], &sw.open[i+1]
			if y0 := int(max(l.Y0, r.Y0)); y0 < y {
				sw.sink.Beside(l, r, y0, y)
			}
		}
	}
}

func (sw *sweeper) tellAbove(y int, old []Interval) {
	i := slices.Index(sw.closing, true) // left of the first that closes, old and now are the same
	if i < 0 {
		return
	}
	at := func(l Line) float64 { return sw.clip.x(l.At(y)) }
	k := i
	x1, left, right := at(old[i].L), at(sw.now[k].L), at(sw.now[k].R) // of sw.now[k]
	for ; i < len(old); i++ {
		x0 := x1
		x1 = at(old[i].R)
		if !sw.closing[i] || x1-x0 <= touch {
			continue
		}
		for {
			if u, v := max(x0, left), min(x1, right); v-u > touch && !sw.carried[k] {
				sw.sink.Above(&old[i], &sw.now[k], y, u, v)
			}
			if right >= x1 || k+1 == len(sw.now) {
				break
			}
			k++
			left, right = right, at(sw.now[k].R)
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
	top := int(sw.next)
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
		for i := range sw.open {
			iv := &sw.open[i]
			if iv.L.At(int(p.Y)) > x {
				break
			}
			if iv.R.At(int(p.Y)) >= x && iv.Mask>>p.Layer&1 != 0 {
				sw.sink.Found(iv, p.ID)
			}
		}
	}
}
