package schematic

import (
	"math"
	"math/rand/v2"

	"undermetal/netlist"
)

// What a placement costs, in grid units of wire.
const (
	straight    = 6   // a part right below another that it is joined to
	only        = 5   // more, where nothing else is on the net
	facing      = 8   // two gates on one net that face each other, two sources on one net with the gates outward
	centre      = 15  // a pair's tail in the middle below it
	outside     = 25  // a switch on a pair that drives each other, away from the other one
	strangers   = 60  // a part between those of a group
	stacked     = 6   // two gates on one net above each other, on the same side
	backward    = 5   // a gate left of what drives it
	mirrored    = 1   // a gate on the right
	portWay     = 0.3 // a port's distance from its side, per unit
	cellWide    = 9   // how far columns are apart, about
	cellHigh    = 8
	movesPer    = 500
	mostWork    = 3e7 // moves times parts
	sideSpacing = 2
)

// annealer puts the parts of a band into columns.
type annealer struct {
	p     *plan
	seats []*part
	cells [][]int // by row and column: a part, or -1
	nets  []annealNet
	pairs []annealPair
	tails []tail
	packs [][]int // seats of one group
	pack  []int   // by seat: which of these, or -1
	score float64
}

type pinOf struct {
	part int
	pin  uint8 // 0 upper, 1 lower, 2 gate
}

type annealNet struct {
	pins   []pinOf
	pull   float64 // of a port: to the right where positive
	driven bool
}

type annealPair struct {
	a, b int
	kind uint8
	c    int
}

const (
	facePair  = iota // gates on one net, one row
	tailPair         // sources on one net, one row
	stackPair        // gates on one net, two rows
	joinPair         // a's lower pin is b's upper pin
	onlyPair         // the same, and nothing else is there, or both are in a crossPair
	outPair          // a lies sideways, and has an end on the drain of b that is in a crossPair with c
	crossPair        // the gate of each is on the drain's net of the other, one row
)

// anneal finds columns for the parts of b; boxes keep their order. Seeds differ in what they come to. The result can go on moving parts.
func (p *plan) anneal(b *band, seed uint64) *annealer {
	a := &annealer{p: p}
	wide := 0
	count := make([]int, b.rows)
	for _, k := range b.parts {
		if k.shape == BoxShape {
			k.col = wide
			wide++
			continue
		}
		if !k.sideways {
			k.turn = GateLeft
		}
		k.swapped = false
		a.seats = append(a.seats, k)
		count[k.row]++
	}
	if len(a.seats) == 0 {
		return nil
	}
	for _, n := range count {
		wide = max(wide, n)
	}
	wide += 2
	a.cells = make([][]int, b.rows)
	for r := range a.cells {
		a.cells[r] = make([]int, wide)
		for c := range a.cells[r] {
			a.cells[r][c] = -1
		}
	}
	for i, k := range a.seats {
		k.col = count[k.row] - 1
		for k.col = 0; a.cells[k.row][k.col] >= 0; {
			k.col++
		}
		a.cells[k.row][k.col] = i
	}
	if !p.opt.Plain {
		a.find()
		a.run(seed)
	}
	return a
}

func (a *annealer) place(q pinOf) (x, y float64) {
	k := a.seats[q.part]
	if k.swapped && q.pin < 2 {
		q.pin ^= 1
	}
	local := [...]Point{{0, -half}, {0, half}, {-half, 0}}[q.pin]
	t := k.turn.apply(local)
	return float64(k.col*cellWide + t.X), float64(k.row*cellHigh + t.Y)
}

func (a *annealer) cost() float64 {
	sum := 0.0
	for i := range a.nets {
		n := &a.nets[i]
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		drive, gates := math.Inf(1), 0
		for _, q := range n.pins {
			x, y := a.place(q)
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			if q.pin < 2 {
				drive = min(drive, x)
			}
		}
		sum += x1 - x0 + y1 - y0
		if n.driven {
			for _, q := range n.pins {
				if x, _ := a.place(q); q.pin == 2 && x < drive {
					gates++
				}
			}
			sum += backward * float64(gates)
		}
		if n.pull < 0 {
			sum -= n.pull * x0
		} else {
			sum -= n.pull * x1
		}
	}
	for _, k := range a.seats {
		if k.turn == GateRight {
			sum += mirrored
		}
	}
	sum += strangers * float64(a.strangers())
	for i := range a.tails {
		if f := &a.tails[i]; f.turned() && f.centred(a.taken) {
			sum -= centre
		}
	}
	for _, q := range a.pairs {
		u, v := a.seats[q.a], a.seats[q.b]
		switch q.kind {
		case joinPair, onlyPair:
			if u.col == v.col && a.clear(u.col, u.row+1, v.row) {
				sum -= straight
				if q.kind == onlyPair {
					sum -= only
				}
			}
		case outPair:
			if w := a.seats[q.c]; (u.col-v.col)*(w.col-v.col) < 0 {
				sum -= outside
			}
		case stackPair:
			if u.col == v.col && u.turn == v.turn {
				sum -= stacked
			}
		case facePair, tailPair, crossPair:
			if u.col > v.col {
				u, v = v, u
			}
			if v.col-u.col <= sideSpacing && (q.kind != tailPair && inward(u, v) || q.kind == tailPair && outward(u, v)) {
				sum -= facing
			}
		}
	}
	return sum
}

func (a *annealer) run(seed uint64) {
	rng := rand.New(rand.NewPCG(seed, uint64(len(a.seats))))
	moves := int(min(float64(movesPer*len(a.seats)), mostWork/float64(len(a.seats)))) + 200
	a.score = a.cost()
	best := a.score
	keep := a.save()
	hot, cold := 20.0, 0.3
	for m := range moves {
		t := hot * math.Pow(cold/hot, float64(m)/float64(moves))
		undo := a.move(rng)
		if undo == nil {
			continue
		}
		s := a.cost()
		if s <= a.score || rng.Float64() < math.Exp((a.score-s)/t) {
			a.score = s
			if s < best-1e-9 {
				best = s
				keep = a.save()
			}
			continue
		}
		undo()
	}
	a.restore(keep)
}

// clear reports whether a column has no parts in rows from lo up to below hi.
func (a *annealer) clear(col, lo, hi int) bool {
	for r := lo; r < hi; r++ {
		if a.cells[r][col] >= 0 {
			return false
		}
	}
	return true
}

func (a *annealer) taken(row, col int) bool { return a.cells[row][col] >= 0 }

// strangers counts the parts that lie between those of a group that they do not belong to.
func (a *annealer) strangers() int {
	n := 0
	for g, seats := range a.packs {
		first := a.seats[seats[0]]
		c0, c1, r0, r1 := first.col, first.col, first.row, first.row
		for _, i := range seats[1:] {
			k := a.seats[i]
			c0, c1, r0, r1 = min(c0, k.col), max(c1, k.col), min(r0, k.row), max(r1, k.row)
		}
		for r := r0; r <= r1; r++ {
			for c := c0; c <= c1; c++ {
				if i := a.cells[r][c]; i >= 0 && a.pack[i] != g {
					n++
				}
			}
		}
	}
	return n
}

type savedSeat struct {
	col     int
	turn    Turn
	swapped bool
}

func (a *annealer) save() []savedSeat {
	out := make([]savedSeat, len(a.seats))
	for i, k := range a.seats {
		out[i] = savedSeat{k.col, k.turn, k.swapped}
	}
	return out
}

func (a *annealer) restore(s []savedSeat) {
	for i, k := range a.seats {
		k.col, k.turn, k.swapped = s[i].col, s[i].turn, s[i].swapped
	}
	for r := range a.cells {
		for c := range a.cells[r] {
			a.cells[r][c] = -1
		}
	}
	for i, k := range a.seats {
		a.cells[k.row][k.col] = i
	}
}

// move changes something and returns how to take it back; nil if nothing was changed.
func (a *annealer) move(rng *rand.Rand) func() {
	i := rng.IntN(len(a.seats))
	k := a.seats[i]
	switch rng.IntN(4) {
	case 0: // turn
		if k.sideways {
			k.swapped = !k.swapped
			return func() { k.swapped = !k.swapped }
		}
		if k.gate == netlist.NoNet {
			return nil
		}
		k.turn ^= 1
		return func() { k.turn ^= 1 }
	case 1: // two whole columns change places
		c, d := rng.IntN(len(a.cells[0])), rng.IntN(len(a.cells[0]))
		if c == d {
			return nil
		}
		a.swapColumns(c, d)
		return func() { a.swapColumns(c, d) }
	case 2: // a column moves, those between close up
		c, d := rng.IntN(len(a.cells[0])), rng.IntN(len(a.cells[0]))
		if c == d {
			return nil
		}
		a.shift(c, d)
		return func() { a.shift(d, c) }
	}
	c := rng.IntN(len(a.cells[k.row]))
	if rng.IntN(2) == 0 {
		c = min(max(0, k.col+rng.IntN(3)-1), len(a.cells[k.row])-1)
	}
	if c == k.col {
		return nil
	}
	old := k.col
	a.swap(k.row, old, c)
	return func() { a.swap(k.row, old, c) }
}

func (a *annealer) swap(r, c, d int) {
	row := a.cells[r]
	row[c], row[d] = row[d], row[c]
	for _, x := range [...]int{c, d} {
		if row[x] >= 0 {
			a.seats[row[x]].col = x
		}
	}
}

func (a *annealer) swapColumns(c, d int) {
	for r := range a.cells {
		a.swap(r, c, d)
	}
}

func (a *annealer) shift(from, to int) {
	step := 1
	if to < from {
		step = -1
	}
	for c := from; c != to; c += step {
		a.swapColumns(c, c+step)
	}
}
