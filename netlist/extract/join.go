package extract

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// joiner makes nets of regions.
type joiner struct {
	*forest
	strips    []*swept // until their records are gathered
	shared    *shared
	covers    []cover // by region
	boxes     []box   // by region
	found     []found
	plan      *plan
	labels    []label
	root      []node // the region that each node is part of; contacts as a whole, in all their groups
	substrate node
	names     []*naming      // by root, once nets are settled; nil without a label
	ties      []tie          // in the order of place
	lowest    []node         // by root of a net: its region with the lowest, then leftmost corner
	softTies  map[node][]tie // by well root (or the substrate): taps of differently labelled nets
	warnings  []Warning
	number    map[node]netlist.Net // by root: the net of the circuit
	observed  *observed            // for Facts; nil where neither somebody asks for them nor a verdict needs them

	cut          *wires          // wires that verdicts take for resistors
	bare         barePlates      // plates without diffusion beneath that verdicts speak of
	verdicts     []placedVerdict // in the order of sortVerdicts
	firstVerdict int             // the index of the first one's label
	onContact    map[node][]int  // by root of a contact: the verdicts on it, those of the top cell first
	tellFacts    bool
	tellOutlines bool

	tellJunctions bool
}

// naming is what the labels say of one net.
type naming struct {
	own    []string // the drawing's own labels, in natural order
	placed string   // the first label of a placed cell, with its path
}

// run makes the circuit, step by step; between them it looks whether ctx has ended.
func (j *joiner) run(ctx context.Context, name string, flat *layout.Flat) (*Result, error) {
	j.substrate = j.add(0, math.MinInt32, math.MinInt32)
	for i, l := range j.labels {
		if l.layer == j.plan.substrate {
			j.found = append(j.found, found{int32(i), j.substrate})
		}
	}
	var res *Result
	for _, step := range []func(){j.sum, j.joinShared, j.findRoots, j.countContacts, j.locateVerdicts, j.joinLanded, j.joinContacts, j.joinNear, j.nameNets, j.joinTaps,
		j.nameNets, // again: taps have made some nets one
		j.findLowest, func() { res = j.circuit(name, flat) }} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		step()
	}
	return res, nil
}

// findRoots notes the region that each node is part of, and brings what the strips tell of each region together.
func (j *joiner) findRoots() {
	j.root = make([]node, len(j.parent))
	for n := range j.parent {
		j.root[n] = j.find(node(n))
	}
	j.covers = byRoot(j.root, func(tell func(node, cover)) {
		for _, s := range j.strips {
			for _, c := range s.covers {
				c.of += s.base
				if c.on != 0 {
					c.on += s.base
				}
				tell(c.of, c)
			}
		}
	})
	for _, s := range j.strips {
		s.covers = nil
	}
	j.spans = byRoot(j.root, func(tell func(node, span)) {
		for _, s := range j.spans {
			tell(s.channel, s)
		}
		for _, s := range j.strips {
			for _, p := range s.spans {
				p.channel += s.base
				p.diffusion += s.base
				tell(p.channel, p)
			}
		}
	})
	j.walls = byRoot(j.root, func(tell func(node, wall)) {
		for _, w := range j.walls {
			tell(w.of, w)
		}
		for _, s := range j.strips {
			for _, w := range s.walls {
				w.of += s.base
				if w.channel != 0 {
					w.channel += s.base
				}
				tell(w.of, w)
			}
		}
	})
	j.boxes = byRoot(j.root, func(tell func(node, box)) {
		for _, s := range j.strips {
			for _, b := range s.boxes {
				b.of += s.base
				tell(b.of, b)
			}
		}
	})
	for _, s := range j.strips {
		for _, p := range s.found {
			j.found = append(j.found, found{p.probe, p.node + s.base})
		}
		s.spans, s.walls, s.boxes, s.found = nil, nil, nil, nil
	}
}

// covered yields each region that something is known to be covered by, with what.
func (j *joiner) covered(yield func(root node, covers []cover) bool) {
	for lo := 0; lo < len(j.covers); {
		root := j.root[j.covers[lo].of]
		hi := lo
		for hi < len(j.covers) && j.root[j.covers[hi].of] == root {
			hi++
		}
		if !yield(root, j.covers[lo:hi]) {
			return
		}
		lo = hi
	}
}

// byRoot brings the records of each region together, in the order of regions, and keeps their order otherwise. visit is
// called twice, and tells of every record with its node.
func byRoot[T any](root []node, visit func(tell func(node, T))) []T {
	next := make([]int32, len(root)+1)
	visit(func(n node, _ T) { next[root[n]+1]++ })
	for i := range root {
		next[i+1] += next[i]
	}
	sorted := make([]T, next[len(root)])
	visit(func(n node, record T) {
		at := &next[root[n]]
		sorted[*at] = record
		*at++
	})
	return sorted
}

func (j *joiner) warn(code string, n node, format string, args ...any) {
	p := &j.pieces[n]
	j.warnings = append(j.warnings, Warning{code, fmt.Sprintf(format, args...), j.layerOf(n), int(p.x), int(p.y)})
}

func (j *joiner) layerOf(n node) string { return j.plan.st.Layers[j.layer(n)].Name }

// layer returns the layer of a node; nodes are renumbered by group, so that the group is kept in the piece.
func (j *joiner) layer(n node) layout.Layer {
	p := &j.pieces[n]
	return j.plan.groups[p.group].regions[p.region].layer
}

func (j *joiner) regionKind(n node) kind {
	p := &j.pieces[n]
	return j.plan.groups[p.group].regions[p.region].kind
}

// sum adds up the pieces of each region at its root, in the order of nodes, so that the result is always the same.
// From here on a piece that is no root of its region has no measures; later unions join nets, not measures.
func (j *joiner) sum() {
	for n := node(1); int(n) < len(j.parent); n++ {
		r := j.find(n)
		if r == n {
			continue
		}
		j.gather(r, n)
	}
}

// nameNets gives the labels to the nets that they lie on.
func (j *joiner) nameNets() {
	j.names = make([]*naming, len(j.parent))
	name := func(n node) *naming {
		r := j.find(n)
		if j.names[r] == nil {
			j.names[r] = &naming{}
		}
		return j.names[r]
	}
	for _, f := range j.found {
		l := &j.labels[f.probe]
		if l.asked {
			continue
		}
		nm := name(f.node)
		if l.path != "" {
			if path := layout.JoinPath(l.path, l.text); nm.placed == "" || netlist.NaturalLess(path, nm.placed) {
				nm.placed = path
			}
		} else if !slices.Contains(nm.own, l.text) {
			nm.own = append(nm.own, l.text)
		}
	}
	if s := j.plan.st.Substrate.Net; s != "" {
		if nm := name(j.substrate); !slices.Contains(nm.own, s) {
			nm.own = append(nm.own, s)
		}
	}
	for _, nm := range j.names {
		if nm != nil && len(nm.own) > 1 {
			slices.SortFunc(nm.own, naturalOrder)
		}
	}
}

func naturalOrder(a, b string) int {
	switch {
	case netlist.NaturalLess(a, b):
		return -1
	case netlist.NaturalLess(b, a):
		return 1
	}
	return 0
}

// unionNamed joins two nets and what the labels say of them, so that the next well sees it.
func (j *joiner) unionNamed(a, b node) {
	a, b = j.find(a), j.find(b)
	if a == b {
		return
	}
	x, y := j.names[a], j.names[b]
	j.names[a], j.names[b] = nil, nil
	root := j.union(a, b)
	switch {
	case x == nil:
		x = y
	case y != nil:
		for _, s := range y.own {
			if !slices.Contains(x.own, s) {
				x.own = append(x.own, s)
			}
		}
		slices.SortFunc(x.own, naturalOrder)
	}
	if x != nil {
		j.names[root] = x
	}
}

func listNames(names []string) string {
	s := slices.Clone(names)
	slices.SortFunc(s, naturalOrder)
	out := s[0]
	for i, n := range s[1:] {
		if i == len(s)-2 {
			out += " and " + n
		} else {
			out += ", " + n
		}
	}
	return out
}

// findLowest finds the place of each net: on a conductor, since contacts have nothing to point at but these.
func (j *joiner) findLowest() {
	j.lowest = make([]node, len(j.parent))
	for i := node(1); int(i) < len(j.parent); i++ {
		if i == j.substrate || j.regionKind(i) == plug {
			continue // what stands for a contact may be its conductor already
		}
		r := j.find(i)
		if n := j.lowest[r]; n == 0 || j.byPlace(i, n) < 0 {
			j.lowest[r] = i
		}
	}
}

// byPlace orders nodes from bottom to top, then from left to right.
func (j *joiner) byPlace(a, b node) int {
	p, q := &j.pieces[a], &j.pieces[b]
	return cmp.Or(cmp.Compare(p.y, q.y), cmp.Compare(p.x, q.x), cmp.Compare(j.layer(a), j.layer(b)))
}

func (j *joiner) at(n node) geom.Point {
	return geom.Point{X: int(j.pieces[n].x), Y: int(j.pieces[n].y)}
}
