package schematic

import (
	"slices"

	"undermetal/netlist"
)

// search finds the cheapest way for net n from what is joined already to one of the places that are left, and what it costs; nil if there is none. The last
// place of the way is the one that was reached. It looks no further than searchRim beyond the box around both.
func (g *grid) search(n netlist.Net, tree, left []Point) ([]Point, int32) {
	box := Box{tree[0], tree[0]}
	aim := Box{left[0], left[0]}
	for _, p := range tree {
		box = box.union(Box{p, p})
	}
	for _, p := range left {
		aim = aim.union(Box{p, p})
	}
	box = box.union(aim)
	box.Min, box.Max = box.Min.add(Point{-searchRim, -searchRim}), box.Max.add(Point{searchRim, searchRim})
	g.now++
	g.open = g.open[:0]
	for _, p := range tree {
		k := g.index(p)
		// A place where another net crosses is no place to join at.
		if g.node[k] != n && (g.across[k] != n && g.across[k] != free || g.up[k] != n && g.up[k] != free) {
			continue
		}
		for dir := range int32(2) {
			g.reach(int32(2*k)+dir, -1, 0, g.bound(p, aim))
		}
	}
	for len(g.open) > 0 {
		s := g.popOpen()
		if s.cost > g.cost[s.at] {
			continue
		}
		k := int(s.at / 2)
		p := g.point(k)
		if slices.Contains(left, p) {
			return g.trace(s.at), s.cost
		}
		start := g.from[s.at] < 0
		for side := range steps {
			q := p.add(steps[side])
			if !g.inside(q) || !box.contains(q) {
				continue
			}
			upright := Side(side).upright()
			dir := int32(0)
			if upright {
				dir = 1
			}
			c := s.cost + 1
			if !start && dir != s.at&1 { // a bend at p: nobody else may pass there
				if !g.mayBend(n, k) {
					continue
				}
				c += bendCost
			}
			j := g.index(q)
			c2, ok := g.enter(n, j, upright)
			if !ok {
				continue
			}
			if back := g.from[s.at]; back >= 0 && int(back/2) == j {
				continue
			}
			g.reach(int32(2*j)+dir, s.at, c+c2, g.bound(q, aim))
		}
	}
	return nil, 0
}

// mayBend reports whether net n may have a corner at place k.
func (g *grid) mayBend(n netlist.Net, k int) bool {
	return (g.node[k] == free || g.node[k] == n) && (g.across[k] == free || g.across[k] == n) && (g.up[k] == free || g.up[k] == n)
}

// enter returns what it costs net n to come to place k, and whether it may.
func (g *grid) enter(n netlist.Net, k int, upright bool) (int32, bool) {
	if g.node[k] != free && g.node[k] != n {
		return 0, false
	}
	along, other := g.across[k], g.up[k]
	if upright {
		along, other = other, along
	}
	if along != free && along != n {
		return 0, false
	}
	c := int32(0)
	if other != free && other != n {
		c = crossCost
	}
	if g.guard[k] != free && g.guard[k] != n {
		c += closeCost
	}
	return c, true
}

// bound is the least that it costs from p into a box.
func (g *grid) bound(p Point, b Box) int32 {
	d := 0
	d += max(0, b.Min.X-p.X, p.X-b.Max.X)
	d += max(0, b.Min.Y-p.Y, p.Y-b.Max.Y)
	return int32(d)
}

func (g *grid) reach(at, from, cost, bound int32) {
	if g.stamp[at] == g.now && g.cost[at] <= cost {
		return
	}
	g.stamp[at], g.cost[at], g.from[at] = g.now, cost, from
	g.open = append(g.open, step{cost, cost + bound, at})
	i := len(g.open) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !g.open[i].before(g.open[up]) {
			break
		}
		g.open[i], g.open[up] = g.open[up], g.open[i]
		i = up
	}
}

func (s step) before(t step) bool {
	if s.bound != t.bound {
		return s.bound < t.bound
	}
	return s.at < t.at
}

func (g *grid) popOpen() step {
	top := g.open[0]
	last := len(g.open) - 1
	g.open[0] = g.open[last]
	g.open = g.open[:last]
	for i := 0; ; {
		k := 2*i + 1
		if k >= last {
			break
		}
		if k+1 < last && g.open[k+1].before(g.open[k]) {
			k++
		}
		if !g.open[k].before(g.open[i]) {
			break
		}
		g.open[i], g.open[k] = g.open[k], g.open[i]
		i = k
	}
	return top
}

func (g *grid) trace(at int32) []Point {
	var out []Point
	for at >= 0 {
		out = append(out, g.point(int(at/2)))
		at = g.from[at]
	}
	slices.Reverse(out)
	return out
}
