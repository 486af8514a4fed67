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

// narrowNm is the width in nm under which the part of a diffusion that a tap rule marks is taken for a misdrawn edge.
const narrowNm = 10

// butted is the share of a contact's area that each of two layers must take for the contact to join both.
const butted = 0.25

// joiner makes nets of regions.
type joiner struct {
	*forest
	strips    []*swept // until their records are gathered
	covers    []cover  // by region
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
}

// naming is what the labels say of one net.
type naming struct {
	own    []string // the drawing's own labels, in natural order
	placed string   // the first label of a placed cell, with its path
}

// tie is a tap: the net it is on and the well below it.
type tie struct {
	tap, net, well node // well 0: the substrate
}

// run makes the circuit, step by step; between them it looks whether ctx has ended.
func (j *joiner) run(ctx context.Context, name string, flat *layout.Flat) (*Result, error) {
	j.substrate = j.add(0, math.MinInt32, math.MinInt32)
	for i, l := range j.labels {
		if l.layer == j.plan.st.SubstrateLayer() {
			j.found = append(j.found, found{int32(i), j.substrate})
		}
	}
	var res *Result
	for _, step := range []func(){j.sum, j.joinShared, j.findRoots, j.joinContacts, j.nameNets, j.joinTaps,
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
	for _, s := range j.strips {
		for _, p := range s.found {
			j.found = append(j.found, found{p.probe, p.node + s.base})
		}
	}
	j.strips = nil
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

// joinShared joins the two halves of a contact that was swept in two groups: they have the same edges.
func (j *joiner) joinShared() {
	type key struct {
		layer uint8
		part  uint16
		shape uint32
	}
	var whole [layout.MaxLayers][]node // by layer and number: those of shapes in one part
	parts := map[key]node{}
	join := func(t tagged) {
		if t.part != 0 {
			k := key{t.layer, t.part, t.shape}
			if n, ok := parts[k]; ok {
				j.union(n, t.node)
			} else {
				parts[k] = t.node
			}
			return
		}
		if n := int(t.shape) + 1 - len(whole[t.layer]); n > 0 {
			whole[t.layer] = append(whole[t.layer], make([]node, n)...)
		}
		if n := &whole[t.layer][t.shape]; *n != 0 {
			j.union(*n, t.node)
		} else {
			*n = t.node
		}
	}
	for _, s := range j.strips {
		for _, t := range s.tags {
			t.node += s.base
			join(t)
		}
		s.tags = nil
	}
}

// joinContacts decides, for each contact, which of the conductors below it it reaches.
func (j *joiner) joinContacts() {
	for lo := 0; lo < len(j.covers); {
		root := j.root[j.covers[lo].of]
		hi := lo
		for hi < len(j.covers) && j.root[j.covers[hi].of] == root {
			hi++
		}
		if j.regionKind(root) == plug {
			j.joinContact(root, j.covers[lo:hi])
		}
		lo = hi
	}
}

// share returns part / whole to a millionth. Sums of areas round differently in other strips and at other places; what is
// decided by a share must not.
func share(part, whole float64) float64 { return math.Round(part/whole*1e6) / 1e6 }

// reach is a layer below a contact.
type reach struct {
	layer layout.Layer
	area  float64 // nm²
	share float64 // of the contact's area
}

func (j *joiner) joinContact(contact node, covers []cover) {
	var reaches []reach
	area := j.pieces[contact].area
	for _, c := range covers {
		if c.area == 0 { // the layer on top
			continue
		}
		l := j.layer(c.on)
		i := slices.IndexFunc(reaches, func(r reach) bool { return r.layer == l })
		if i < 0 {
			reaches = append(reaches, reach{layer: l})
			i = len(reaches) - 1
		}
		reaches[i].area += c.area
	}
	for i := range reaches {
		reaches[i].share = share(reaches[i].area, area)
	}
	slices.SortFunc(reaches, func(a, b reach) int {
		return cmp.Or(cmp.Compare(b.share, a.share), cmp.Compare(a.layer, b.layer))
	})
	take := uint64(0)
	for i, r := range reaches {
		if i == 0 || r.share >= butted && reaches[0].share >= butted {
			take |= 1 << r.layer
		}
	}
	if len(reaches) > 1 {
		j.warnContact(contact, reaches, take)
	}
	for _, c := range covers {
		if c.area == 0 || take>>j.layer(c.on)&1 != 0 {
			j.union(c.of, c.on)
		}
	}
}

func (j *joiner) warnContact(contact node, reaches []reach, take uint64) {
	names := func(l layout.Layer) string { return j.plan.st.Layers[l].Name }
	a, b := reaches[0], reaches[1]
	if take>>b.layer&1 != 0 {
		j.warn("butted-contact", contact, "contact joins %s (%.0f %% of its area) and %s (%.0f %%)",
			names(a.layer), 100*a.share, names(b.layer), 100*b.share)
		return
	}
	j.warn("half-landed-contact", contact, "contact lies on %s with %.0f %% of its area and on %s with %.0f %%; taken to reach %s only",
		names(a.layer), 100*a.share, names(b.layer), 100*b.share, names(a.layer))
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

// joinTaps joins wells and substrate to the nets that tap them, unless that would short two labelled nets.
func (j *joiner) joinTaps() {
	byWell := map[node][]tie{}
	var wells []node
	j.ties = j.taps()
	for _, t := range j.ties {
		w := j.wellRoot(t.well)
		if byWell[w] == nil {
			wells = append(wells, w)
		}
		byWell[w] = append(byWell[w], t)
	}
	slices.SortFunc(wells, func(a, b node) int { return j.byPlace(a, b) })
	j.softTies = map[node][]tie{}
	for _, w := range wells {
		ties := byWell[w]
		var names []string
		if nm := j.names[j.find(w)]; nm != nil {
			names = append(names, nm.own...)
		}
		for _, t := range ties {
			if nm := j.names[j.find(t.net)]; nm != nil {
				for _, s := range nm.own[:min(1, len(nm.own))] {
					if !slices.Contains(names, s) {
						names = append(names, s)
					}
				}
			}
		}
		if len(names) > 1 {
			j.softTies[w] = ties
			what := "the substrate"
			if w != j.substrate {
				what = j.layerOf(w)
			}
			j.warn("soft-tie", ties[0].tap, "taps tie %s to %s; they stay separate nets, each device's bulk is that of the nearest tap",
				what, listNames(names))
			continue
		}
		for _, t := range ties {
			j.unionNamed(w, t.net)
		}
	}
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

func (j *joiner) wellRoot(w node) node {
	if w == 0 {
		return j.substrate
	}
	return j.root[w]
}

// taps returns the ties in the order of place, without those that are too narrow to be drawn on purpose.
func (j *joiner) taps() []tie {
	var ties []tie
	for lo := 0; lo < len(j.covers); {
		root := j.root[j.covers[lo].of]
		hi := lo
		for hi < len(j.covers) && j.root[j.covers[hi].of] == root {
			hi++
		}
		covers := j.covers[lo:hi]
		lo = hi
		if j.regionKind(root) != tap {
			continue
		}
		t := tie{tap: root}
		var ok bool
		t.net, t.well, ok = j.below(covers)
		if !ok {
			continue
		}
		if w := j.width(root); w < narrowNm-touchNm {
			j.warn("narrow-tap", root, "a tap's conditions hold on a strip of %s only %.0f nm wide; taken for a misdrawn edge", j.layerOf(root), w)
			continue
		}
		ties = append(ties, t)
	}
	slices.SortFunc(ties, func(a, b tie) int { return j.byPlace(a.tap, b.tap) })
	return ties
}

// below returns the diffusion of a tap or diode and the well that most of it lies in, the first by place of several; 0
// is the substrate. ok is false where nothing of it lies where it should.
func (j *joiner) below(covers []cover) (body, in node, ok bool) {
	area := map[node]float64{}
	total := 0.0
	for _, c := range covers {
		if c.area == 0 {
			body = j.root[c.on]
		} else {
			area[j.root[c.on]] += c.area
			total += c.area
		}
	}
	best := -1.0
	for n, a := range area {
		if s := share(a, total); s > best || s == best && j.byPlace(n, in) < 0 {
			best, in = s, n
		}
	}
	return body, in, body != 0 && total > 0
}

// width returns the width in nm of the rectangle that has the area and the perimeter of a region, the square's side
// where the region is rounder than that. For a strip this is its width, however it bends.
func (j *joiner) width(n node) float64 {
	p := &j.pieces[n]
	half := p.perimeter / 2
	d := half*half - 4*p.area // the sides w are the roots of w² - half·w + area
	if d < 0 {
		return math.Sqrt(p.area)
	}
	return (half - math.Sqrt(d)) / 2
}

// findLowest finds the place of each net.
func (j *joiner) findLowest() {
	j.lowest = make([]node, len(j.parent))
	for i := node(1); int(i) < len(j.parent); i++ {
		if i == j.substrate {
			continue
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
