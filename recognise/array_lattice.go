package recognise

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/recognise/library"
)

// lattices makes arrays of fits by their places alone: of patterns of some size that lie in rows and columns at even steps, whatever
// their nets. So an array shows before its wires have been traced.
func (b *arrayBuilder) lattices(k likeKey, fits []*Fit) {
	if len(fits) < leastGrid || len(k.pattern.Circuit.Devices)-len(k.pattern.Context) < leastWhole {
		return
	}
	at := make([]geom.Vec, len(fits))
	for i, f := range fits {
		at[i] = middleOf(f.Box)
	}
	near := newCloud(at)
	apart := make([]float64, 0, len(fits))
	for _, p := range at {
		if two := near.nearest(p, 2, math.Inf(1)); len(two) == 2 {
			q := at[two[1]]
			apart = append(apart, math.Hypot(p.X-q.X, p.Y-q.Y))
		}
	}
	slack := median(apart) / 4
	if slack == 0 {
		return
	}
	rows, ys := clusters(at, func(v geom.Vec) float64 { return v.Y }, slack)
	columns, xs := clusters(at, func(v geom.Vec) float64 { return v.X }, slack)
	if len(xs) < 2 || len(ys) < 2 || !even(xs) || !even(ys) {
		return
	}
	seats := make([]seat, len(fits))
	for i, f := range fits {
		seats[i] = seat{f, rows[i], columns[i]}
	}
	b.arrange(k, seats, false)
}

// clusters numbers points by a coordinate, those that lie within slack of the next alike, and returns where each number lies.
func clusters(at []geom.Vec, of func(geom.Vec) float64, slack float64) (number []int, where []float64) {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(of(at[x]), of(at[y])) })
	number = make([]int, len(at))
	n := 0.0
	for i, k := range order {
		v := of(at[k])
		if i == 0 || v-of(at[order[i-1]]) > slack {
			where, n = append(where, 0), 0
		}
		last := len(where) - 1
		where[last] = (where[last]*n + v) / (n + 1)
		n++
		number[k] = last
	}
	return number, where
}

// even reports whether coordinates in order lie at even steps, every other one mirrored perhaps.
func even(xs []float64) bool {
	if len(xs) < 3 {
		return true
	}
	return len(evenRuns(xs)) == 1
}

// evenRuns returns the first and the end of each run of coordinates at even steps.
func evenRuns(xs []float64) [][2]int {
	if len(xs) < 3 {
		return [][2]int{{0, len(xs)}}
	}
	var twos []float64
	for i := 2; i < len(xs); i++ {
		twos = append(twos, xs[i]-xs[i-2])
	}
	step := median(twos)
	var runs [][2]int
	from := 0
	for i := 2; i < len(xs); i++ {
		if math.Abs(xs[i]-xs[i-2]-step) > step/10 && i-from >= 2 {
			cut := i
			if i-1 > from && xs[i-1]-xs[i-2] > xs[i]-xs[i-1] { // the gap was the step before
				cut = i - 1
			}
			runs = append(runs, [2]int{from, cut})
			from = cut
		}
	}
	return append(runs, [2]int{from, len(xs)})
}

func median(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	return s[len(s)/2]
}

// rowsOf makes arrays of a single row or column: fits that have a net in common, at even steps on a line; of a circuit without places
// those of patterns that belong to an array.
func (b *arrayBuilder) rowsOf(k likeKey, fits []*Fit) {
	if len(fits) < leastLine {
		return
	}
	classes := classesOf(k.pattern)
	for i := range classes {
		var keys []netKey
		members := map[netKey][]*Fit{}
		for _, f := range fits {
			if key := classes[i].key(f); !b.in[f] && !classes[i].loose(f) {
				if members[key] == nil {
					keys = append(keys, key)
				}
				members[key] = append(members[key], f)
			}
		}
		for _, key := range keys {
			switch line := members[key]; {
			case len(line) < leastLine:
			case b.placed:
				b.line(k, line)
			case b.ofArrays(k.pattern, classes, i, line):
				b.arrange(k, inLine(line, false), true)
			}
		}
	}
}

// ofArrays reports whether a pattern belongs to an array, and the fits, which have their i-th class of ports in common, differ in another
// one of rows or columns.
func (b *arrayBuilder) ofArrays(p *library.Pattern, classes []portClassOf, i int, fits []*Fit) bool {
	if !slices.Contains([]string{"pixel", "column", "row"}, p.Group) {
		return false
	}
	for k := range classes {
		if k == i || classes[k].role != library.Row && classes[k].role != library.Column {
			continue
		}
		seen := map[netKey]bool{}
		for _, f := range fits {
			seen[classes[k].key(f)] = true
		}
		if len(seen) == len(fits) {
			return true
		}
	}
	return false
}

// line makes arrays of what lies at even steps on a horizontal or vertical line.
func (b *arrayBuilder) line(k likeKey, fits []*Fit) {
	lo, hi := middleOf(fits[0].Box), middleOf(fits[0].Box)
	for _, f := range fits {
		m := middleOf(f.Box)
		lo.X, lo.Y, hi.X, hi.Y = min(lo.X, m.X), min(lo.Y, m.Y), max(hi.X, m.X), max(hi.Y, m.Y)
	}
	column := hi.Y-lo.Y > hi.X-lo.X
	along := func(f *Fit) float64 {
		if column {
			return middleOf(f.Box).Y
		}
		return middleOf(f.Box).X
	}
	length, width := hi.X-lo.X, hi.Y-lo.Y
	if column {
		length, width = width, length
	}
	if width > length/float64(len(fits)-1)/4 {
		return
	}
	slices.SortStableFunc(fits, func(x, y *Fit) int { return cmp.Compare(along(x), along(y)) })
	xs := make([]float64, len(fits))
	for i, f := range fits {
		xs[i] = along(f)
	}
	for _, run := range evenRuns(xs) {
		if run[1]-run[0] >= leastLine {
			b.arrange(k, inLine(fits[run[0]:run[1]], column), true)
		}
	}
}

// inLine seats fits in one row, or one column.
func inLine(fits []*Fit, column bool) []seat {
	seats := make([]seat, len(fits))
	for i, f := range fits {
		seats[i] = seat{fit: f, column: i}
		if column {
			seats[i].row, seats[i].column = i, 0
		}
	}
	return seats
}
