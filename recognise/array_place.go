package recognise

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
)

// arrange makes an array of fits whose rows and columns are numbered, if they fill it well enough.
func (b *arrayBuilder) arrange(k likeKey, seats []seat, line bool) bool {
	least := leastGrid
	if line {
		least = leastLine
	}
	if len(seats) < least {
		return false
	}
	a := Array{Pattern: k.pattern, Mirror: k.mirror}
	rowOf, columnOf := func(s *seat) *int { return &s.row }, func(s *seat) *int { return &s.column }
	if b.placed {
		a.upright = upright(seats)
		across := func(f *Fit) float64 { return a.along(f, true) }
		beside := func(f *Fit) float64 { return a.along(f, false) }
		a.rowAt = straighten(seats, rowOf, columnOf, across)
		a.columnAt = straighten(seats, columnOf, rowOf, beside)
	} else {
		b.byName(seats, rowOf)
		b.byName(seats, columnOf)
	}
	for _, s := range seats {
		a.Rows, a.Columns = max(a.Rows, s.row+1), max(a.Columns, s.column+1)
	}
	a.Members = make([]*Fit, a.Rows*a.Columns)
	n := 0
	for _, s := range seats {
		if at := &a.Members[s.row*a.Columns+s.column]; *at == nil {
			*at = s.fit
			n++
		}
	}
	if n < least || float64(n) < leastFill*float64(a.Rows*a.Columns) || !line && (a.Rows < 2 || a.Columns < 2) {
		return false
	}
	for _, f := range a.Members {
		if f != nil {
			b.in[f] = true
		}
	}
	b.all = append(b.all, a)
	return true
}

// along is where a fit lies: across the rows, or along them.
func (a *Array) along(f *Fit, acrossRows bool) float64 {
	m := middleOf(f.Box)
	if acrossRows != a.upright {
		return m.Y
	}
	return m.X
}

// upright reports whether rows run along y: whether the members of a row differ more in y than in x, and those of a column less.
func upright(seats []seat) bool {
	x, y := func(v geom.Vec) float64 { return v.X }, func(v geom.Vec) float64 { return v.Y }
	row, column := func(s *seat) int { return s.row }, func(s *seat) int { return s.column }
	level := spread(seats, row, y) + spread(seats, column, x)
	turned := spread(seats, row, x) + spread(seats, column, y)
	return turned < level
}

// spread is the sum of the squares by which members of lines lie off their line's mean.
func spread(seats []seat, line func(*seat) int, of func(geom.Vec) float64) float64 {
	type sums struct{ n, s, q float64 }
	lines := map[int]sums{}
	for i := range seats {
		v := of(middleOf(seats[i].fit.Box))
		l := lines[line(&seats[i])]
		lines[line(&seats[i])] = sums{l.n + 1, l.s + v, l.q + v*v}
	}
	all := 0.0
	for _, l := range lines {
		all += l.q - l.s*l.s/l.n
	}
	return all
}

// straighten numbers lines by where they lie, and returns that. Lines in one place with no member beside each other are one: a net
// that is broken. A line with two members at many crossings is two: nets that are shorted.
func straighten(seats []seat, line, other func(*seat) *int, at func(*Fit) float64) []float64 {
	pitch := pitchOf(seats, other, at)
	n := renumber(seats, line)
	members := make([][]int, n)
	for i := range seats {
		members[*line(&seats[i])] = append(members[*line(&seats[i])], i)
	}
	for k := range members {
		if twice(seats, members[k], other) == 0 {
			continue
		}
		slices.SortFunc(members[k], func(x, y int) int { return cmp.Compare(at(seats[x].fit), at(seats[y].fit)) })
		cut, widest := 0, pitch/2
		for i := 1; i < len(members[k]); i++ {
			if gap := at(seats[members[k][i]].fit) - at(seats[members[k][i-1]].fit); gap > widest {
				cut, widest = i, gap
			}
		}
		if cut > 0 {
			members = append(members, members[k][cut:])
			members[k] = members[k][:cut]
		}
	}
	mean := func(is []int) float64 {
		s := 0.0
		for _, i := range is {
			s += at(seats[i].fit)
		}
		return s / float64(len(is))
	}
	slices.SortStableFunc(members, func(x, y []int) int { return cmp.Compare(mean(x), mean(y)) })
	var kept [][]int
	for _, m := range members {
		if last := len(kept) - 1; last >= 0 && mean(m)-mean(kept[last]) < pitch/4 && twice(seats, slices.Concat(kept[last], m), other) == 0 {
			kept[last] = slices.Concat(kept[last], m)
		} else {
			kept = append(kept, m)
		}
	}
	where := make([]float64, len(kept))
	for k, m := range kept {
		where[k] = mean(m)
		for _, i := range m {
			*line(&seats[i]) = k
		}
	}
	return where
}

// pitchOf is how far lines lie apart: what they span by how many there are along the fullest of the other lines.
func pitchOf(seats []seat, other func(*seat) *int, at func(*Fit) float64) float64 {
	lo, hi, most := math.Inf(1), math.Inf(-1), 0
	for _, n := range tally(seats, other) {
		most = max(most, n)
	}
	for i := range seats {
		lo, hi = min(lo, at(seats[i].fit)), max(hi, at(seats[i].fit))
	}
	return (hi - lo) / float64(max(most-1, 1))
}

// twice counts the members that have another one at the same crossing.
func twice(seats []seat, members []int, other func(*seat) *int) int {
	seen, n := map[int]bool{}, 0
	for _, i := range members {
		if o := *other(&seats[i]); seen[o] {
			n++
		} else {
			seen[o] = true
		}
	}
	return n
}

// byName numbers lines in the natural order of the names of nets, those of equal names as they come.
func (b *arrayBuilder) byName(seats []seat, line func(*seat) *int) {
	n := renumber(seats, line)
	nets := make([]map[netlist.Net]int, n) // how many members of the line a net has
	total := map[netlist.Net]int{}
	for i := range seats {
		l := *line(&seats[i])
		if nets[l] == nil {
			nets[l] = map[netlist.Net]int{}
		}
		for _, p := range seats[i].fit.Ports {
			if p != netlist.NoNet {
				nets[l][p]++
				total[p]++
			}
		}
	}
	names := make([]string, n)
	for l := range nets {
		for p, k := range nets[l] {
			if k == total[p] && k > 1 && (names[l] == "" || netlist.NaturalLess(b.c.Nets[p].Name, names[l])) {
				names[l] = b.c.Nets[p].Name
			}
		}
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int {
		switch {
		case netlist.NaturalLess(names[x], names[y]):
			return -1
		case netlist.NaturalLess(names[y], names[x]):
			return 1
		}
		return 0
	})
	rank := make([]int, n)
	for i, l := range order {
		rank[l] = i
	}
	for i := range seats {
		*line(&seats[i]) = rank[*line(&seats[i])]
	}
}
