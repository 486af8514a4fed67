package schematic

import (
	"cmp"
	"slices"

	"undermetal/netlist"
)

// What a wire costs, in grid units of its length.
const (
	bendCost  = 3
	crossCost = 6
	closeCost = 4 // beside a pin of another net
	passes    = 2 // how often each wire is laid anew once all lie
	searchRim = 14
)

const (
	free    = netlist.NoNet
	blocked = netlist.NoNet - 1
)

// grid is what lies where on a sheet. Wires of different nets cross at right angles only, and nowhere share more than such a point.
type grid struct {
	w, h   int
	node   []netlist.Net // a pin, an end, a bend or a meeting of the net; or blocked
	across []netlist.Net // the net that runs along the x axis here
	up     []netlist.Net // along the y axis
	guard  []netlist.Net // the net that a pin beside needs the place for
	cost   []int32       // of the search, by place and direction
	from   []int32
	stamp  []int32
	now    int32
	open   []step
}

type step struct {
	cost, bound int32
	at          int32 // 2·place, plus 1 where the way came along the y axis
}

func (g *grid) index(p Point) int { return p.Y*g.w + p.X }

func (g *grid) point(i int) Point { return Point{i % g.w, i / g.w} }

func (g *grid) inside(p Point) bool { return p.X >= 0 && p.Y >= 0 && p.X < g.w && p.Y < g.h }

// newGrid notes symbols, texts and names. It is an error if two of them lie on each other.
func (s *sheet) newGrid() error {
	b := Box{}
	for i := range s.out.Symbols {
		b = b.union(extent(&s.out.Symbols[i], nil))
	}
	for _, f := range s.out.Flags {
		b = b.union(f.Room)
	}
	g := &grid{w: b.Max.X + rim + 1, h: b.Max.Y + rim + 1}
	n := g.w * g.h
	g.node, g.across, g.up, g.guard = filled(n), filled(n), filled(n), filled(n)
	g.cost, g.from, g.stamp = make([]int32, 2*n), make([]int32, 2*n), make([]int32, 2*n)
	for i := range s.out.Symbols {
		y := &s.out.Symbols[i]
		if !g.block(y.Body) {
			return errRoom
		}
		for _, t := range y.Text {
			if !g.block(t.Room) {
				return errRoom
			}
		}
	}
	for _, f := range s.out.Flags {
		if !g.block(f.Room) {
			return errRoom
		}
	}
	s.frameGroups(g)
	for i := range s.out.Symbols {
		for _, q := range s.out.Symbols[i].Pins {
			g.node[g.index(q.At)] = blocked
			if q.Net != netlist.NoNet && !q.named {
				g.node[g.index(q.At)] = q.Net
				for d := 1; d <= 2; d++ {
					if at := q.At.add(Point{steps[q.Side].X * d, steps[q.Side].Y * d}); g.inside(at) && g.guard[g.index(at)] == free {
						g.guard[g.index(at)] = q.Net
					}
				}
			}
		}
	}
	s.grid = g
	return nil
}

func filled(n int) []netlist.Net {
	out := make([]netlist.Net, n)
	for i := range out {
		out[i] = free
	}
	return out
}

// route lays a wire for each net that is not named at its pins, short ones first, and returns those that found no way.
func (s *sheet) route() (failed []netlist.Net) {
	pins := map[netlist.Net][]Point{}
	for i := range s.out.Symbols {
		for _, q := range s.out.Symbols[i].Pins {
			if q.Net != netlist.NoNet && !q.named {
				pins[q.Net] = append(pins[q.Net], q.At)
			}
		}
	}
	var nets []netlist.Net
	for n := range pins {
		nets = append(nets, n)
	}
	size := func(n netlist.Net) int {
		b := Box{pins[n][0], pins[n][0]}
		for _, q := range pins[n] {
			b = b.union(Box{q, q})
		}
		return b.Max.X - b.Min.X + b.Max.Y - b.Min.Y
	}
	slices.SortFunc(nets, func(a, b netlist.Net) int { return cmp.Or(cmp.Compare(size(a), size(b)), cmp.Compare(a, b)) })
	paths := map[netlist.Net][][]Point{}
	for _, n := range nets {
		way, ok := s.grid.lay(n, pins[n])
		if !ok {
			failed = append(failed, n)
			continue
		}
		paths[n] = way
	}
	for range passes {
		for _, n := range nets {
			if _, ok := paths[n]; !ok {
				continue
			}
			s.grid.take(n, paths[n], pins[n])
			if way, ok := s.grid.lay(n, pins[n]); ok {
				paths[n] = way
			} else {
				failed = append(failed, n)
				delete(paths, n)
			}
		}
	}
	for _, n := range nets {
		for _, way := range paths[n] {
			s.out.Wires = append(s.out.Wires, Wire{n, corners(way)})
		}
		for _, q := range meetings(paths[n], pins[n]) {
			s.out.Dots = append(s.out.Dots, Dot{n, q})
		}
	}
	return failed
}

// lay joins the pins of a net, always the next nearest to what is joined already; of three those two first from which it costs least.
func (g *grid) lay(n netlist.Net, pins []Point) (paths [][]Point, ok bool) {
	if len(pins) != 3 {
		paths, _, ok = g.layFrom(n, pins, nil)
		return paths, ok
	}
	var first []Point
	least := int32(0)
	for i := range pins {
		pair := []Point{pins[i], pins[(i+1)%3]}
		way, cost, ok := g.layFrom(n, pins, pair)
		if !ok {
			continue
		}
		g.take(n, way, pins)
		if first == nil || cost < least {
			first, least = pair, cost
		}
	}
	if first == nil {
		return nil, false
	}
	paths, _, ok = g.layFrom(n, pins, first)
	return paths, ok
}

// layFrom joins the first two pins that are given, if any are, and then all others.
func (g *grid) layFrom(n netlist.Net, pins, first []Point) (paths [][]Point, cost int32, ok bool) {
	tree := []Point{pins[0]}
	left := slices.Clone(pins[1:])
	if first != nil {
		tree[0] = first[0]
		left = slices.DeleteFunc(slices.Clone(pins), func(p Point) bool { return p == first[0] })
	}
	for len(left) > 0 {
		aims := left
		if len(paths) == 0 && first != nil {
			aims = first[1:]
		}
		way, c := g.search(n, tree, aims)
		if way == nil {
			g.take(n, paths, pins)
			return nil, 0, false
		}
		cost += c
		g.put(n, way)
		paths = append(paths, way)
		tree = append(tree, way...)
		left = slices.DeleteFunc(left, func(p Point) bool { return slices.Contains(way, p) })
	}
	return paths, cost, true
}

// put notes a way: ends and bends are nodes.
func (g *grid) put(n netlist.Net, way []Point) {
	for i, p := range way {
		k := g.index(p)
		if i == 0 || i == len(way)-1 || way[i-1].X != way[i+1].X && way[i-1].Y != way[i+1].Y {
			g.node[k] = n
		}
		for _, j := range [...]int{i - 1, i + 1} {
			if j < 0 || j >= len(way) {
				continue
			}
			if way[j].Y == p.Y {
				g.across[k] = n
			} else {
				g.up[k] = n
			}
		}
	}
}

// take removes the ways of a net.
func (g *grid) take(n netlist.Net, paths [][]Point, pins []Point) {
	for _, way := range paths {
		for _, p := range way {
			k := g.index(p)
			if g.across[k] == n {
				g.across[k] = free
			}
			if g.up[k] == n {
				g.up[k] = free
			}
			if g.node[k] == n {
				g.node[k] = free
			}
		}
	}
	for _, p := range pins {
		g.node[g.index(p)] = n
	}
}

// corners leaves out the places on the way at which it goes straight on.
func corners(way []Point) []Point {
	out := way[:1:1]
	for i := 1; i < len(way)-1; i++ {
		if way[i-1].X != way[i+1].X && way[i-1].Y != way[i+1].Y {
			out = append(out, way[i])
		}
	}
	return append(out, way[len(way)-1])
}

// meetings returns the places at which three or more wires of a net meet, pins that stand on a wire included.
func meetings(paths [][]Point, pins []Point) []Point {
	arms := map[Point]map[Point]bool{}
	for _, way := range paths {
		for i := 1; i < len(way); i++ {
			for _, e := range [2][2]Point{{way[i-1], way[i]}, {way[i], way[i-1]}} {
				if arms[e[0]] == nil {
					arms[e[0]] = map[Point]bool{}
				}
				arms[e[0]][e[1]] = true
			}
		}
	}
	var out []Point
	for p, a := range arms {
		k := len(a)
		if slices.Contains(pins, p) {
			k++
		}
		if k > 2 {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, comparePoints)
	return out
}

func comparePoints(a, b Point) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) }
