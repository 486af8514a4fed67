package schematic

import (
	"slices"

	"undermetal/netlist"
)

// Where the name of a net that is drawn as a wire may go.
const (
	longestStub = 5
	stubCost    = 2
	awayCost    = 3 // on another side than the net's own
)

// nameNetsDrawn puts a name on each wired net that must have one or was given one. It
// returns those that must have one and find no room.
func (s *sheet) nameNetsDrawn() (failed []netlist.Net) {
	wires := map[netlist.Net][]int{}
	for i, w := range s.out.Wires {
		wires[w.Net] = append(wires[w.Net], i)
	}
	var nets []netlist.Net
	for n := range wires {
		if s.mustName(n) || s.opt.InnerNames && s.c.Nets[n].Name != "" {
			nets = append(nets, n)
		}
	}
	slices.Sort(nets)
	for _, n := range nets {
		if !s.nameOne(n, wires[n]) && s.mustName(n) {
			failed = append(failed, n)
		}
	}
	return failed
}

// mustName reports whether somebody needs the name of a net: it is a port, goes on on another sheet, or has bulks that are not drawn.
func (s *sheet) mustName(n netlist.Net) bool {
	return s.ports[n] || s.clock[n] || s.sheets[n] > 1 || n == s.bulk[netlist.NMOS] || n == s.bulk[netlist.PMOS]
}

// nameOne finds the best place for the name of a net: at the end of a short stub from its wires, outward.
func (s *sheet) nameOne(n netlist.Net, wires []int) bool {
	side := Left
	if s.leaves(n) {
		side = Right
	}
	around := Box{s.out.Wires[wires[0]].Points[0], s.out.Wires[wires[0]].Points[0]}
	for _, i := range wires {
		for _, q := range s.out.Wires[i].Points {
			around = around.union(Box{q, q})
		}
	}
	best, found := 1<<30, false
	var flag Flag
	var stub []Point
	for _, i := range wires {
		pts := s.out.Wires[i].Points
		for j := 1; j < len(pts); j++ {
			for _, p := range between(pts[j-1], pts[j]) {
				if k := s.grid.index(p); !s.grid.mayBend(n, k) {
					continue
				}
				for _, d := range [...]Side{Left, Right, Up, Down} {
					for long := 0; long <= longestStub; long++ {
						end := Point{p.X + long*steps[d].X, p.Y + long*steps[d].Y}
						if long > 0 && !s.emptyAt(end) {
							break
						}
						f := s.flag(n, end, d)
						if !s.fits(f.Room) || s.straddles(f.Room) {
							continue
						}
						c := stubCost * long
						if !d.upright() && around.Max.Y-around.Min.Y > half {
							c += abs(2*end.Y-around.Min.Y-around.Max.Y) / 2
						}
						if d != side {
							c += awayCost
						}
						if d.upright() {
							c += awayCost
						}
						if side == Left {
							c += end.X / 4
						} else {
							c -= end.X / 4
						}
						if c < best {
							best, found, flag, stub = c, true, f, []Point{p, end}
						}
						break
					}
				}
			}
		}
	}
	if !found {
		return false
	}
	s.out.Flags = append(s.out.Flags, flag)
	if stub[0] != stub[1] {
		s.out.Wires = append(s.out.Wires, Wire{n, stub})
		s.grid.put(n, between(stub[0], stub[1]))
	} else {
		s.grid.node[s.grid.index(stub[0])] = n
	}
	if s.armsAt(n, stub[0]) > 2 {
		if d := (Dot{n, stub[0]}); !slices.Contains(s.out.Dots, d) {
			s.out.Dots = append(s.out.Dots, d)
		}
	}
	for y := flag.Room.Min.Y; y <= flag.Room.Max.Y; y++ {
		for x := flag.Room.Min.X; x <= flag.Room.Max.X; x++ {
			s.grid.node[s.grid.index(Point{x, y})] = blocked
		}
	}
	return true
}

// armsAt counts the directions in which wires of a net leave a place, and pins on it.
func (s *sheet) armsAt(n netlist.Net, p Point) int {
	arms := map[Point]bool{}
	for _, w := range s.out.Wires {
		if w.Net != n {
			continue
		}
		for j := 1; j < len(w.Points); j++ {
			way := between(w.Points[j-1], w.Points[j])
			for i, q := range way {
				if q != p {
					continue
				}
				if i > 0 {
					arms[way[i-1]] = true
				}
				if i < len(way)-1 {
					arms[way[i+1]] = true
				}
			}
		}
	}
	k := len(arms)
	for i := range s.out.Symbols {
		for _, q := range s.out.Symbols[i].Pins {
			if q.At == p {
				k++
			}
		}
	}
	return k
}

func (s *sheet) emptyAt(p Point) bool {
	if !s.grid.inside(p) {
		return false
	}
	k := s.grid.index(p)
	return s.grid.node[k] == free && s.grid.across[k] == free && s.grid.up[k] == free
}

// fits reports whether nothing lies in a box.
func (s *sheet) fits(b Box) bool {
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		for x := b.Min.X; x <= b.Max.X; x++ {
			if !s.emptyAt(Point{x, y}) {
				return false
			}
		}
	}
	return true
}

// between returns the places from a to b, which lie on one line along an axis.
func between(a, b Point) []Point {
	d := Point{cmpInt(b.X, a.X), cmpInt(b.Y, a.Y)}
	out := []Point{a}
	for p := a; p != b; {
		p = p.add(d)
		out = append(out, p)
	}
	return out
}

func abs(x int) int { return max(x, -x) }

func cmpInt(a, b int) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
