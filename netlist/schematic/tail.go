package schematic

import (
	"slices"

	"undermetal/netlist"
)

// tail is a part that a pair hangs on: two transistors of one row and kind whose sources share a net with one end of the part, and
// with nothing else. It is drawn in the middle between them.
type tail struct {
	u, v, t *part
	more    []*part // what alone goes on from t, away from the pair
}

// findTails finds the pairs of a band that have a tail.
func (p *plan) findTails(parts []*part) (out []tail) {
	type ends struct{ pair, others []*part }
	at := map[netlist.Net]*ends{}
	for _, k := range parts {
		if k.shape == BoxShape || k.sideways {
			continue
		}
		p.eachEnd(k, func(n netlist.Net) {
			if p.rail(n) || p.degree[n] > 3 {
				return
			}
			if at[n] == nil {
				at[n] = &ends{}
			}
			if k.shape.gated() && k.source() == n && k.gate != n {
				at[n].pair = append(at[n].pair, k)
			} else {
				at[n].others = append(at[n].others, k)
			}
		})
	}
	far := func(k *part, n netlist.Net) netlist.Net {
		if k.upper == n {
			return k.lower
		}
		return k.upper
	}
	for _, k := range parts {
		if k.shape == BoxShape || k.sideways || !p.inner(k.upper) && !p.inner(k.lower) {
			continue
		}
		for _, n := range [...]netlist.Net{k.upper, k.lower} {
			e := at[n]
			if n == netlist.NoNet || e == nil || len(e.pair) != 2 || len(e.others) != 1 || e.others[0] != k {
				continue
			}
			u, v := e.pair[0], e.pair[1]
			if u.kind != v.kind || u.row != v.row || u.gate == v.gate || (k.row > u.row) != (n == u.lower) || k.row == u.row {
				continue
			}
			f := tail{u: u, v: v, t: k}
			for last, n := k, far(k, n); n != netlist.NoNet && at[n] != nil && p.degree[n] == 2; n = far(last, n) {
				var next *part
				for _, o := range append(at[n].pair[:len(at[n].pair):len(at[n].pair)], at[n].others...) {
					if o != last && (o.row > last.row) == (k.row > u.row) && o.row != last.row {
						next = o
					}
				}
				if next == nil {
					break
				}
				f.more = append(f.more, next)
				last = next
			}
			out = append(out, f)
		}
	}
	return out
}

// centred reports whether a tail can be drawn in the middle: its column is there, or beside it with nothing in the other half.
// Taken tells of what lies in a row and a column.
func (f *tail) centred(taken func(row, col int) bool) bool {
	a, b := min(f.u.col, f.v.col), max(f.u.col, f.v.col)
	if a == b || b-a > sideSpacing {
		return false
	}
	c, d := (a+b)/2, (a+b+1)/2
	up, low := min(f.u.row, f.t.row), max(f.u.row, f.t.row)
	for _, k := range append([]*part{f.t}, f.more...) {
		if k.col != f.t.col || k.col != c && k.col != d || c != d && taken(k.row, c+d-k.col) {
			return false
		}
		up, low = min(up, k.row), max(low, k.row)
	}
	for r := up + 1; r < low; r++ {
		for x := c; x <= d; x++ {
			if x != f.t.col && taken(r, x) {
				return false
			}
		}
	}
	return true
}

// inward and outward report whether the gates of two parts, of which u is the left one, are turned to each other, or away.
func inward(u, v *part) bool  { return u.turn == GateRight && v.turn == GateLeft }
func outward(u, v *part) bool { return u.turn == GateLeft && v.turn == GateRight }

// crossed reports whether each of two parts has its gate on the other one's drain.
func crossed(u, v *part) bool {
	return u.gate != netlist.NoNet && u.gate != v.gate && u.gate == v.drain() && v.gate == u.drain()
}

// turned reports whether a pair is turned as it should be: its gates outward, or inward where they cross.
func (f *tail) turned() bool {
	u, v := f.u, f.v
	if u.col > v.col {
		u, v = v, u
	}
	if crossed(u, v) {
		return inward(u, v)
	}
	return outward(u, v)
}

// centreTails returns where along the x axis the tails of a band lie that are not where their columns are, xs, but in the middle of
// their pairs. It widens columns by a unit where the middle would lie off the grid. Rooms are those of the parts about their middles.
func (s *sheet) centreTails(b *band, xs []int, rooms []Box) map[*part]int {
	if s.opt.Plain {
		return nil
	}
	middles := map[*part]int{}
	seats := map[[2]int]bool{}
	for _, k := range b.parts {
		if k.shape != BoxShape {
			seats[[2]int{k.row, k.col}] = true
		}
	}
	tails := s.findTails(b.parts)
	for i := range tails {
		f := &tails[i]
		if !f.centred(func(row, col int) bool { return seats[[2]int{row, col}] }) {
			continue
		}
		left, right := min(f.u.col, f.v.col), max(f.u.col, f.v.col)
		if (xs[left]+xs[right])%2 != 0 {
			for c := right; c < len(xs); c++ {
				xs[c]++
			}
		}
		middle := (xs[left] + xs[right]) / 2
		parts := append([]*part{f.t}, f.more...)
		fits := true
		for j, k := range b.parts {
			if !slices.Contains(parts, k) {
				continue
			}
			for o, other := range b.parts {
				if slices.Contains(parts, other) || other.row != k.row || other.shape == BoxShape {
					continue
				}
				x, ok := middles[other]
				if !ok {
					x = xs[other.col]
				}
				fits = fits && (x+rooms[o].Min.X > middle+rooms[j].Max.X+s.gap || x+rooms[o].Max.X+s.gap < middle+rooms[j].Min.X)
			}
		}
		if fits {
			for _, k := range parts {
				middles[k] = middle
			}
		}
	}
	return middles
}
