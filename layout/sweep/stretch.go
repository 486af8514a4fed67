package sweep

// stretch is a part of the sweep line within which an event changes something: from an unchanged border to the next one
// beyond which, up to the next place of the event, everything stays as it was. The rest of the line is not looked at.
type stretch struct {
	from, to    int        // what it has of active
	first, last int        // what it has of open
	fresh       []active   // what takes the place of active[from:to]
	now         []Interval // and of open[first:last]
	end         Line       // its right border
	carried     []bool     // for each of now: goes on from open
	closing     []bool     // for each of open[first:last]

	change  [64]int32 // how much fresh adds to the winding numbers more than what it replaces
	uneven  uint64    // for which layers change is not 0
	winding [64]int32
}

// merge finds the next stretch, right of the one before: it drops the edges that end in it and puts in those that begin.
// What lies beyond it is returned.
func (sw *sweeper) merge(y int32, starts []Edge, ends []spot) ([]Edge, []spot) {
	sw.reach(y, starts, ends)
	sw.fresh = sw.fresh[:0]
	for sw.to = sw.from; sw.to < len(sw.active); sw.to++ {
		e := &sw.active[sw.to]
		if e.Y1 == y {
			sw.count(e.layer, -e.adds)
			continue
		}
		for len(starts) > 0 && !before(e.Line, starts[0].Line, y) {
			sw.begin(&starts[0])
			starts = starts[1:]
		}
		if e.border && sw.uneven == 0 {
			for len(ends) > 0 && e.side(ends[0].x, y) < 0 {
				ends = ends[1:]
			}
			if (len(ends) == 0 || e.side(ends[0].x, y) > 0) && (len(starts) == 0 || e.side(starts[0].X0, y) > 0) {
				sw.end = e.Line
				for sw.last = sw.first; !sw.open[sw.last].R.same(e.Line); sw.last++ {
				}
				sw.last++
				return starts, ends
			}
		}
		sw.fresh = append(sw.fresh, *e)
	}
	for i := range starts {
		sw.begin(&starts[i])
	}
	sw.change, sw.uneven = [64]int32{}, 0 // edges far right are not counted, and a shape cut by the strip need not be closed
	sw.end, sw.last = sw.right, len(sw.open)
	return nil, nil
}

// reach moves from and first on to the first place at which something begins or ends.
func (sw *sweeper) reach(y int32, starts []Edge, ends []spot) {
	var x int32
	if len(starts) == 0 || len(ends) > 0 && ends[0].x < starts[0].X0 {
		x = ends[0].x
	} else {
		x = starts[0].X0
	}
	// Bisection without a branch on what is compared, which no processor foretells.
	from, first := sw.from, sw.first
	for n := len(sw.active) - from; n > 0; {
		half := (n + 1) / 2
		from += half & sw.active[from+half-1].passed(x, y)
		n -= half
	}
	for n := len(sw.open) - 1 - first; n > 0; { // the last one's right border is the strip's
		half := (n + 1) / 2
		first += half & sw.open[first+half-1].R.passed(x, y)
		n -= half
	}
	sw.from, sw.first = from, first
}

// begin puts in an edge. Nothing of the strip lies right of an upright one at its right border. Shapes of one layer that overlap
// share many edges, which go on as one.
func (sw *sweeper) begin(e *Edge) {
	if e.Vertical() && e.X0 >= sw.right.X0 {
		return
	}
	adds := int16(e.Winding)
	sw.count(e.Layer, adds)
	if k := len(sw.fresh) - 1; k >= 0 && sw.fresh[k].layer == e.Layer && sw.fresh[k].Line == e.Line && abs(int(sw.fresh[k].adds)) < mostAlike {
		sw.fresh[k].adds += adds
	} else {
		sw.fresh = append(sw.fresh, active{})
		a := &sw.fresh[len(sw.fresh)-1] // see appendEdge
		a.Line, a.layer, a.adds = e.Line, e.Layer, adds
	}
}

// mostAlike is how many edges are counted in one: fewer than active.adds has room for.
const mostAlike = 1 << 14

func (sw *sweeper) count(layer uint8, adds int16) {
	sw.change[layer] += int32(adds)
	if sw.change[layer] != 0 {
		sw.uneven |= 1 << layer
	} else {
		sw.uneven &^= 1 << layer
	}
}

// regroup makes the intervals above the event out of the fresh edges. A border at which the mask does not change is none.
func (sw *sweeper) regroup() {
	sw.now = sw.now[:0]
	mask, known := uint64(0), uint64(0)
	if sw.from > 0 {
		mask = sw.active[sw.from-1].mask
	}
	iv := sw.nextNow(sw.open[sw.first].L, mask)
	for i := 0; i < len(sw.fresh); {
		head := &sw.fresh[i]
		for ; i < len(sw.fresh) && sw.fresh[i].same(head.Line); i++ {
			e := &sw.fresh[i]
			bit := uint64(1) << e.layer
			if known&bit == 0 {
				known |= bit
				sw.winding[e.layer] = sw.windingBefore(e.layer, mask)
			}
			e.winding = sw.winding[e.layer] + int32(e.adds)
			sw.winding[e.layer] = e.winding
			if e.winding != 0 {
				mask |= bit
			} else {
				mask &^= bit
			}
			e.mask, e.border = mask, false
		}
		switch {
		case head.Vertical() && head.X0 <= sw.left.X0:
			iv.Mask = mask
		case mask != iv.Mask:
			head.border = true
			iv.R = head.Line
			iv = sw.nextNow(head.Line, mask)
		}
	}
	iv.R = sw.end
}

// nextNow appends an interval to now.
func (sw *sweeper) nextNow(left Line, mask uint64) *Interval {
	sw.now = append(sw.now, Interval{})
	iv := &sw.now[len(sw.now)-1] // see appendEdge
	iv.L, iv.Mask = left, mask
	return iv
}

// windingBefore returns the winding number of a layer left of the stretch, where mask is what covers it.
func (sw *sweeper) windingBefore(layer uint8, mask uint64) int32 {
	if mask>>layer&1 == 0 {
		return 0
	}
	k := sw.from - 1
	for sw.active[k].layer != layer {
		k--
	}
	return sw.active[k].winding
}
