package recognise

import (
	"cmp"
	"slices"

	"undermetal/netlist"
	"undermetal/recognise/library"
)

// netKey is the nets of a class of ports.
type netKey = [4]netlist.Net

// seat is a fit with its row and column, numbered as they come.
type seat struct {
	fit         *Fit
	row, column int
}

// asRow and asColumn say how likely it is by its role that a net runs along rows, and along columns (common practice: word, select and
// reset lines belong to rows, what is read to columns).
func asRow(role string) int {
	switch role {
	case library.Row:
		return 4
	case library.Reset, library.Transfer:
		return 3
	case library.Clock, library.Input:
		return 2
	case library.Column:
		return 0
	}
	return 1
}

func asColumn(role string) int {
	switch role {
	case library.Column:
		return 4
	case library.Output:
		return 2
	case library.Row:
		return 0
	}
	return 1
}

// grids makes arrays of fits of one pattern by their nets: of two classes of ports each pair of nets comes once, and each net often.
func (b *arrayBuilder) grids(k likeKey, fits []*Fit) {
	if len(fits) < leastGrid {
		return
	}
	classes := classesOf(k.pattern)
	lines := make([]int, len(classes)) // how many different nets
	for i := range classes {
		seen := map[netKey]bool{}
		for _, f := range fits {
			seen[classes[i].key(f)] = true
		}
		lines[i] = len(seen)
	}
	type pair struct{ row, column, score int }
	var pairs []pair
	for r := range classes {
		for c := range classes {
			if r == c || lines[r] < 2 || lines[c] < 2 || lines[r]*3 > len(fits)*2 || lines[c]*3 > len(fits)*2 {
				continue
			}
			if score := asRow(classes[r].role)*asColumn(classes[c].role) + asRow(classes[r].role); score > 0 {
				pairs = append(pairs, pair{r, c, score})
			}
		}
	}
	slices.SortStableFunc(pairs, func(x, y pair) int { return cmp.Compare(y.score, x.score) })
	for _, p := range pairs {
		row, column := &classes[p.row], &classes[p.column]
		both := map[[2]netKey]bool{}
		for _, f := range fits {
			both[[2]netKey{row.key(f), column.key(f)}] = true
		}
		if len(both)*10 < len(fits)*9 {
			continue
		}
		made := len(b.all)
		for _, seats := range components(row, column, fits) {
			b.arrange(k, seats, false)
		}
		if len(b.all) > made {
			return
		}
	}
}

// components sorts fits into those whose rows and columns hang together. Rows and columns with few members for their length are left
// out: a fit on a net of its own is no row.
func components(row, column *portClassOf, fits []*Fit) [][]seat {
	var rest []*Fit
	for _, f := range fits {
		if !row.loose(f) && !column.loose(f) {
			rest = append(rest, f)
		}
	}
	var done [][]seat
	for _, part := range joined(row, column, rest) {
		for {
			rows, columns := tally(part, func(s *seat) *int { return &s.row }), tally(part, func(s *seat) *int { return &s.column })
			before := len(part)
			part = slices.DeleteFunc(part, func(s seat) bool {
				return rows[s.row]*4 < len(columns) || columns[s.column]*4 < len(rows)
			})
			if len(part) == before {
				break
			}
		}
		renumber(part, func(s *seat) *int { return &s.row })
		renumber(part, func(s *seat) *int { return &s.column })
		done = append(done, part)
	}
	return done
}

// joined gives fits the numbers of their nets, and parts them where no net leads from one to the other.
func joined(row, column *portClassOf, fits []*Fit) [][]seat {
	type line struct {
		column bool
		key    netKey
	}
	number := map[line]int{}
	var parent []int
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	of := func(l line) int {
		n, ok := number[l]
		if !ok {
			n = len(parent)
			number[l] = n
			parent = append(parent, n)
		}
		return n
	}
	seats := make([]seat, len(fits))
	for i, f := range fits {
		seats[i] = seat{f, of(line{false, row.key(f)}), of(line{true, column.key(f)})}
		parent[find(seats[i].row)] = find(seats[i].column)
	}
	at := map[int]int{}
	var parts [][]seat
	for _, s := range seats {
		r := find(s.row)
		if _, ok := at[r]; !ok {
			at[r] = len(parts)
			parts = append(parts, nil)
		}
		parts[at[r]] = append(parts[at[r]], s)
	}
	return parts
}

// tally counts the seats of each line.
func tally(seats []seat, line func(*seat) *int) map[int]int {
	count := map[int]int{}
	for i := range seats {
		count[*line(&seats[i])]++
	}
	return count
}

// renumber numbers lines from 0.
func renumber(seats []seat, line func(*seat) *int) int {
	number := map[int]int{}
	for i := range seats {
		l := line(&seats[i])
		n, ok := number[*l]
		if !ok {
			n = len(number)
			number[*l] = n
		}
		*l = n
	}
	return len(number)
}
