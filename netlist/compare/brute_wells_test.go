package compare

import (
	"undermetal/netlist"
)

// node is a net of A (side 0) or B.
type node struct {
	side int
	net  netlist.Net
}

// bruteWells judges the bulks that were left aside: every well of an element must be related to some well of its
// partner, and the whole relation must be consistent. All such relations are tried.
func bruteWells(a, b *netlist.Circuit, ea, eb []bruteElem, of []int, ab map[netlist.Net]netlist.Net) bool {
	type need struct {
		n    node
		with []netlist.Net
	}
	var needs []need
	for i, e := range ea {
		for _, x := range e.wells {
			needs = append(needs, need{node{0, x}, eb[of[i]].wells})
		}
		for _, y := range eb[of[i]].wells {
			needs = append(needs, need{node{1, y}, e.wells})
		}
	}
	partners := map[node]map[node]int{}
	change := func(x, y node, by int) {
		for _, l := range [][2]node{{x, y}, {y, x}} {
			if partners[l[0]] == nil {
				partners[l[0]] = map[node]int{}
			}
			if partners[l[0]][l[1]] += by; partners[l[0]][l[1]] == 0 {
				delete(partners[l[0]], l[1])
			}
		}
	}
	var try func(i int) bool
	try = func(i int) bool {
		if i == len(needs) {
			return bruteConsistent(a, b, partners, ab) && bruteSizesByWell(a, b, ea, eb, of, partners)
		}
		for _, w := range needs[i].with {
			y := node{1 - needs[i].n.side, w}
			change(needs[i].n, y, 1)
			if try(i + 1) {
				return true
			}
			change(needs[i].n, y, -1)
		}
		return false
	}
	return try(0)
}

// bruteSizesByWell compares parallel transistors with several wells in both circuits well by well, where a named well
// has one partner among those of the other, a named one, and that has no other partner either.
func bruteSizesByWell(a, b *netlist.Circuit, ea, eb []bruteElem, of []int, partners map[node]map[node]int) bool {
	on := func(e bruteElem, n netlist.Net) bruteElem {
		p := bruteElem{kind: e.kind}
		for _, d := range e.parts {
			if d.Terminals[3] == n {
				p.parts = append(p.parts, d)
			}
		}
		return p
	}
	only := [2]map[netlist.Net]bool{bruteBulkOnly(a), bruteBulkOnly(b)}
	soft := func(side int, n netlist.Net) bool {
		return only[side][n] && [2]*netlist.Circuit{a, b}[side].Nets[n].Name == ""
	}
	for i, e := range ea {
		f := eb[of[i]]
		if len(e.wells) < 2 || len(f.wells) < 2 {
			continue
		}
		for _, x := range e.wells {
			for _, y := range f.wells {
				alone := !soft(0, x) && !soft(1, y) && partners[node{0, x}][node{1, y}] > 0
				for _, x2 := range e.wells {
					alone = alone && (x2 == x || partners[node{0, x2}][node{1, y}] == 0)
				}
				for _, y2 := range f.wells {
					alone = alone && (y2 == y || partners[node{0, x}][node{1, y2}] == 0)
				}
				if alone && !bruteSizes(on(e, x), on(f, y)) {
					return false
				}
			}
		}
	}
	return true
}

func bruteConsistent(a, b *netlist.Circuit, partners map[node]map[node]int, ab map[netlist.Net]netlist.Net) bool {
	only := [2]map[netlist.Net]bool{bruteBulkOnly(a), bruteBulkOnly(b)}
	soft := func(n node) bool {
		return only[n.side][n.net] && [2]*netlist.Circuit{a, b}[n.side].Nets[n.net].Name == ""
	}
	inGraph := map[node]bool{}
	for x, y := range ab {
		inGraph[node{0, x}], inGraph[node{1, y}] = true, true
	}
	for x, ys := range partners {
		for y := range ys {
			if soft(x) || soft(y) {
				continue
			}
			if (inGraph[x] || inGraph[y]) && (x.side == 0 && ab[x.net] != y.net || !inGraph[x] || !inGraph[y]) {
				return false
			}
			for z := range partners[x] { // two named wells are not one
				if z != y && !soft(z) {
					return false
				}
			}
		}
		if soft(x) && len(ys) > 1 {
			for y := range ys {
				if !only[y.side][y.net] || inGraph[y] || len(partners[y]) > 1 {
					return false
				}
			}
		}
	}
	return true
}
