package schematic

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"undermetal/netlist"
)

// What a placement costs, in grid units of wire.
const (
	straight    = 6   // a part right below another that it is joined to
	facing      = 8   // two gates on one net that face each other, two sources on one net with the gates outward
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
}

const (
	facePair  = iota // gates on one net, one row
	tailPair         // sources on one net, one row
	stackPair        // gates on one net, two rows
	joinPair         // a's lower pin is b's upper pin
)

// anneal finds columns for the parts of b; boxes keep their order.
func (p *plan) anneal(b *band) {
	a := &annealer{p: p}
	wide := 0
	count := make([]int, b.rows)
	for _, k := range b.parts {
		if k.shape == BoxShape {
			k.col = wide
			wide++
			continue
		}
		a.seats = append(a.seats, k)
		count[k.row]++
	}
	if len(a.seats) == 0 {
		return
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
		a.run()
	}
}

func (a *annealer) find() {
	byNet := map[netlist.Net]int{}
	add := func(n netlist.Net, i int, pin uint8) {
		if n == netlist.NoNet || !a.p.wired(n) {
			return
		}
		k, ok := byNet[n]
		if !ok {
			k = len(a.nets)
			byNet[n] = k
			var an annealNet
			if a.p.ports[n] {
				an.pull = -portWay
				if a.p.degree[n] > 0 && a.p.role[n] != Input {
					an.pull = portWay
				}
			}
			a.nets = append(a.nets, an)
		}
		a.nets[k].pins = append(a.nets[k].pins, pinOf{i, pin})
		if pin < 2 {
			a.nets[k].driven = true
		}
	}
	gates, sources := map[netlist.Net][]int{}, map[netlist.Net][]int{}
	for i, k := range a.seats {
		add(k.upper, i, 0)
		add(k.lower, i, 1)
		add(k.gate, i, 2)
		if k.gate != netlist.NoNet && !k.sideways {
			gates[k.gate] = append(gates[k.gate], i)
			if s := k.source(); s != netlist.NoNet && !a.p.rail(s) {
				sources[s] = append(sources[s], i)
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(gates)) {
		i := gates[n]
		if len(i) > mostEnds {
			continue
		}
		for x, u := range i {
			for _, v := range i[x+1:] {
				kind := uint8(stackPair)
				if a.seats[u].row == a.seats[v].row {
					kind = facePair
					if a.seats[u].kind != a.seats[v].kind {
						continue
					}
				}
				a.pairs = append(a.pairs, annealPair{u, v, kind})
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(sources)) {
		i := sources[n]
		if len(i) > mostEnds {
			continue
		}
		for x, u := range i {
			for _, v := range i[x+1:] {
				if a.seats[u].row == a.seats[v].row && a.seats[u].gate != a.seats[v].gate && a.seats[u].source() == a.seats[v].source() {
					a.pairs = append(a.pairs, annealPair{u, v, tailPair})
				}
			}
		}
	}
	for _, n := range a.nets {
		for _, u := range n.pins {
			for _, v := range n.pins {
				if u.pin == 1 && v.pin == 0 && !a.seats[u.part].sideways && !a.seats[v.part].sideways && a.seats[u.part].row < a.seats[v.part].row {
					a.pairs = append(a.pairs, annealPair{u.part, v.part, joinPair})
				}
			}
		}
	}
}

// source returns the net of the source pin as drawn: of a p transistor the upper, of all others the lower one.
func (k *part) source() netlist.Net {
	if k.kind == netlist.PMOS {
		return k.upper
	}
	return k.lower
}

func (a *annealer) place(q pinOf) (x, y float64) {
	k := a.seats[q.part]
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
	for _, q := range a.pairs {
		u, v := a.seats[q.a], a.seats[q.b]
		switch q.kind {
		case joinPair:
			if u.col == v.col && a.clear(u.col, u.row+1, v.row) {
				sum -= straight
			}
		case stackPair:
			if u.col == v.col && u.turn == v.turn {
				sum -= stacked
			}
		case facePair, tailPair:
			if u.col > v.col {
				u, v = v, u
			}
			in := u.turn == GateRight && v.turn == GateLeft
			out := u.turn == GateLeft && v.turn == GateRight
			if v.col-u.col <= sideSpacing && (q.kind == facePair && in || q.kind == tailPair && out) {
				sum -= facing
			}
		}
	}
	return sum
}

func (a *annealer) run() {
	rng := rand.New(rand.NewPCG(1, uint64(len(a.seats))))
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

type savedSeat struct {
	col  int
	turn Turn
}

func (a *annealer) save() []savedSeat {
	out := make([]savedSeat, len(a.seats))
	for i, k := range a.seats {
		out[i] = savedSeat{k.col, k.turn}
	}
	return out
}

func (a *annealer) restore(s []savedSeat) {
	for i, k := range a.seats {
		k.col, k.turn = s[i].col, s[i].turn
	}
}

// move changes something and returns how to take it back; nil if nothing was changed.
func (a *annealer) move(rng *rand.Rand) func() {
	i := rng.IntN(len(a.seats))
	k := a.seats[i]
	switch rng.IntN(4) {
	case 0: // turn
		if k.gate == netlist.NoNet || k.sideways {
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
