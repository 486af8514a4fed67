package extract

import (
	"cmp"
	"slices"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// observe makes the plan tell what Facts need beyond the circuit: measures of gates and wells, where junctions lie, and
// contacts that squeeze would drop.
func (p *plan) observe() {
	g := p.groups[0] // the only one with devices
	var wells []int
	for i, r := range g.regions {
		if r.kind == well {
			wells = append(wells, i)
		}
	}
	for i := range g.regions {
		r := &g.regions[i]
		if r.kind == plug {
			r.direct = r.direct && !slices.ContainsFunc(r.on, func(t int) bool { return p.told(&g.regions[t]) })
			continue
		}
		if r.kind == channel {
			g.outlined |= 1 << i
		}
		if r.kind == well {
			g.walled |= 1 << i
		}
		if p.told(r) {
			g.boxed |= 1 << i
			g.outlined |= 1 << i
			g.measured |= 1 << i
		}
		if r.kind == junction && len(wells) > 0 {
			r.in = wells
			g.covering |= 1 << i
		}
	}
	for _, g := range p.groups {
		for i := range g.regions {
			if g.regions[i].kind == opening {
				g.outlined |= 1 << i
			}
		}
	}
}

// told reports whether Facts tell of regions of a kind.
func (p *plan) told(r *region) bool { return p.toldKind(r) != 0 }

func (p *plan) toldKind(r *region) RegionKind {
	switch {
	case r.kind == junction:
		return JunctionRegion
	case r.kind == well:
		return WellRegion
	case r.kind == conductor && p.role(r.layer) == stack.Gate:
		return GateRegion
	case r.kind == opening:
		return PadRegion
	}
	return 0
}

// observed is what is noted for Facts while nets are made.
type observed struct {
	shapes   []int32    // by root of a contact: how many shapes it is made of, without those of several parts
	parted   []partOf   // shapes of several parts, which may lie on several contacts; by root, each shape once
	landings []landing  // in the order of contacts
	seen     []RegionID // by node: of a region's root its number, else NoRegion

	borders           [][]edge         // of each channel, in the order of nodes
	edges             []Edge           // room for more of them
	regions, channels []node           // the roots of those of Facts
	taken             map[node]float64 // by root of a junction: the area that a verdict makes a diode of
}

type partOf struct {
	contact node
	layer   uint32
	shape   uint32
}

// landing says that a contact lands on a conductor below it.
type landing struct {
	contact, on node // roots
	area        float64
}

// countContacts counts the shapes of each contact, while it is known which they are.
func (j *joiner) countContacts() {
	o := j.observed
	if o == nil {
		return
	}
	o.shapes = make([]int32, len(j.parent))
	several := map[partOf]bool{} // contact 0
	for k := range j.shared.parts {
		several[partOf{0, k[0], k[1]}] = true
	}
	for l, whole := range j.shared.whole {
		for shape, n := range whole {
			if n == 0 {
				continue
			}
			if k := (partOf{0, uint32(l), uint32(shape)}); len(several) > 0 && several[k] {
				k.contact = j.root[n]
				o.parted = append(o.parted, k)
				continue
			}
			o.shapes[j.root[n]]++
		}
	}
	for k, n := range j.shared.parts {
		o.parted = append(o.parted, partOf{j.root[n], k[0], k[1]})
	}
	slices.SortFunc(o.parted, func(a, b partOf) int {
		return cmp.Or(cmp.Compare(a.contact, b.contact), cmp.Compare(a.layer, b.layer), cmp.Compare(a.shape, b.shape))
	})
	o.parted = slices.Compact(o.parted)
}

// noteLanding notes that a contact reaches what c says lies under it.
func (j *joiner) noteLanding(contact node, c cover) {
	if j.observed == nil || c.area == 0 { // what lies on top of the contact is not landed on
		return
	}
	g := j.plan.groups[j.pieces[c.on].group]
	if !j.plan.told(&g.regions[j.pieces[c.on].region]) {
		return
	}
	on := j.root[c.on]
	if k := len(j.observed.landings) - 1; k >= 0 {
		if last := &j.observed.landings[k]; last.contact == contact && last.on == on {
			last.area += c.area
			return
		}
	}
	j.observed.landings = append(j.observed.landings, landing{contact, on, c.area})
}

// contactsOf counts the contacts of each region.
func (j *joiner) contactsOf(f *Facts) {
	o := j.observed
	slices.SortFunc(o.landings, func(a, b landing) int {
		return cmp.Or(cmp.Compare(a.contact, b.contact), cmp.Compare(a.on, b.on), cmp.Compare(a.area, b.area))
	})
	counted := map[[3]uint32]bool{} // region, layer, shape
	parted := o.parted
	for lo := 0; lo < len(o.landings); {
		contact := o.landings[lo].contact
		for len(parted) > 0 && parted[0].contact < contact {
			parted = parted[1:]
		}
		own := 0
		for own < len(parted) && parted[own].contact == contact {
			own++
		}
		hi := lo
		for ; hi < len(o.landings) && o.landings[hi].contact == contact; hi++ {
			l := &o.landings[hi]
			id := o.seen[l.on]
			r := &f.Regions[id]
			r.ContactArea += l.area
			if hi > lo && o.landings[hi-1].on == l.on {
				continue
			}
			r.Contacts += int(o.shapes[contact])
			for _, s := range parted[:own] {
				if k := [3]uint32{uint32(id), s.layer, s.shape}; !counted[k] {
					counted[k] = true
					r.Contacts++
				}
			}
		}
		lo = hi
	}
}

// regionsInOrder numbers the regions that Facts tell of, in the order of place.
func (j *joiner) regionsInOrder(f *Facts) []node {
	var roots []node
	for n := node(1); int(n) < len(j.parent); n++ {
		if p := &j.pieces[n]; n != j.substrate && j.root[n] == n && j.plan.told(&j.plan.groups[p.group].regions[p.region]) {
			roots = append(roots, n)
		}
	}
	roots = j.inOrder(roots, nil)
	seen := make([]RegionID, len(j.parent))
	for i := range seen {
		seen[i] = NoRegion
	}
	f.Regions = make([]Region, len(roots))
	for i, n := range roots {
		seen[n] = RegionID(i)
	}
	j.observed.seen = seen
	return roots
}

// facts tells what was seen, before nets have numbers.
func (j *joiner) facts(parts []part, flat *layout.Flat) *Facts {
	f := &Facts{}
	roots := j.regionsInOrder(f)
	seen := j.observed.seen
	under := map[node]node{} // by pad: the metal under it
	var channels []node
	for root, covers := range j.covered {
		switch j.regionKind(root) {
		case opening:
			under[root] = j.metalUnder(root, covers)
		case channel:
			channels = append(channels, root)
		}
	}
	ids := make([]int, len(j.parent)) // by root of a net, from 1
	for i, n := range roots {
		p, net := &j.pieces[n], j.find(n)
		if metal := under[n]; metal != 0 {
			net, roots[i] = j.find(metal), metal
		}
		reg := &j.plan.groups[p.group].regions[p.region]
		if ids[net] == 0 {
			f.Nets++
			ids[net] = f.Nets
		}
		f.Regions[i] = Region{Kind: j.plan.toldKind(reg), Layer: reg.layer, Net: netlist.NoNet, NetID: ids[net] - 1, Area: p.area, Perimeter: p.perimeter,
			Well: NoRegion, Open: p.open, At: j.at(n)}
	}
	for root, boxes := range j.boxed {
		if id := seen[root]; id != NoRegion {
			r := &f.Regions[id]
			r.Box = around(boxes)
			if r.Kind == WellRegion {
				r.Within = insideWell(boxes, j.wallsOf(root), r.Area, r.Box, j.at(root))
			} else {
				r.Within = inside(boxes, r.Box, j.at(root))
			}
		}
	}
	j.contactsOf(f)
	devices := make([][2]int32, len(j.parent)) // first and count; those of one channel follow each other
	for i := len(parts) - 1; i >= 0; i-- {
		n := &devices[parts[i].of]
		*n = [2]int32{int32(i), n[1] + 1}
	}
	ties := make(map[node]bool, len(j.ties))
	for _, t := range j.ties {
		ties[t.tap] = true
	}
	place := make([]int32, len(channels)) // in f.Channels
	j.observed.channels = j.inOrder(channels, func(from, to int) { place[from] = int32(to) })
	f.Channels = make([]Channel, len(channels))
	spansOf, boxes := j.spansInTurn(), j.boxes
	for root, covers := range j.covered {
		switch j.regionKind(root) {
		case channel:
			for j.root[boxes[0].of] != root { // they are in the same order, and every channel has some
				boxes = boxes[1:]
			}
			n := 0
			for n < len(boxes) && j.root[boxes[n].of] == root {
				n++
			}
			c := &f.Channels[place[0]]
			place = place[1:]
			j.channelFacts(f, c, root, covers, spansOf(root), boxes[:n])
			c.Device = -1
			if d := devices[root]; d[1] > 0 {
				c.Device, c.DeviceCount = int(d[0]), int(d[1])
			}
		case tap:
			if body, _, _ := j.below(covers); ties[root] {
				f.Regions[seen[body]].TapArea += j.pieces[root].area
			}
		case diode:
			if body, _, _ := j.below(covers); j.regionKind(body) == junction {
				f.Regions[seen[body]].DiodeArea += j.pieces[root].area
			}
		}
	}
	for root, area := range j.observed.taken {
		f.Regions[seen[root]].DiodeArea += area
	}
	for root, covers := range j.covered {
		if j.regionKind(root) == junction {
			r := &f.Regions[seen[root]]
			r.Well = j.wellOf(covers, r.Area+r.TapArea+r.DiodeArea)
		}
	}
	j.observed.regions = roots
	f.findDrawn(flat)
	return f
}

func (j *joiner) channelFacts(f *Facts, c *Channel, root node, covers []cover, spans []span, boxes []box) {
	p := &j.pieces[root]
	*c = Channel{Layer: j.layer(root), Gate: j.observed.seen[j.root[j.gateOf(root, covers)]], Area: p.area, Perimeter: p.perimeter,
		Box: around(boxes), Straight: straight(spans, p.area, p.perimeter)}
	c.At = inside(boxes, c.Box, j.at(root))
	c.Well = j.wellOf(covers, p.area)
	best := 0.0
	for l := range j.plan.st.Layers {
		if j.plan.groups[0].diffusions>>l&1 == 0 {
			continue
		}
		on := 0.0
		for _, v := range covers {
			if v.on == 0 && v.mask>>l&1 != 0 {
				on += v.area
			}
		}
		if s := share(on, p.area); s > best {
			best, c.Diffusion = s, layout.Layer(l)
		}
	}
	edges := j.observed.borders[0]
	j.observed.borders = j.observed.borders[1:]
	if o := j.observed; len(o.edges) < len(edges) { // one piece of memory for many
		o.edges = make([]Edge, max(1024, len(edges)))
	}
	c.Edges, j.observed.edges = j.observed.edges[:len(edges):len(edges)], j.observed.edges[len(edges):]
	for i, e := range edges {
		c.Edges[i] = Edge{Region: j.observed.seen[e.diffusion], Length: e.length, Stretches: e.stretches}
		f.Regions[c.Edges[i].Region].Channels++
	}
	f.Regions[c.Gate].Channels++
}

// wellOf returns the well that more than half of an area lies in, by covers.
func (j *joiner) wellOf(covers []cover, area float64) RegionID {
	for i, v := range covers {
		if v.on == 0 || j.regionKind(v.on) != well || v.area == 0 {
			continue
		}
		w, in := j.root[v.on], 0.0
		for _, u := range covers[i:] { // of a well that was looked at already less is left
			if u.on != 0 && u.area > 0 && j.root[u.on] == w {
				in += u.area
			}
		}
		if share(in, area) > 0.5 {
			return j.observed.seen[w]
		}
	}
	return NoRegion
}

// numberFacts fills in the circuit's numbers of nets.
func (j *joiner) numberFacts(f *Facts) {
	for i, n := range j.observed.regions {
		f.Regions[i].Net = j.netOf(j.find(n))
	}
}

// netOf returns the circuit's number of a net, by its root.
func (j *joiner) netOf(root node) netlist.Net {
	if n, ok := j.number[root]; ok {
		return n
	}
	return netlist.NoNet
}

// inOrder puts regions in the order of place; move, if there is one, hears which went where.
func (j *joiner) inOrder(roots []node, move func(from, to int)) []node {
	type key struct {
		place uint64
		i     int32
	}
	keys := make([]key, len(roots))
	for i, n := range roots {
		p := &j.pieces[n]
		keys[i] = key{uint64(uint32(p.y)^1<<31)<<32 | uint64(uint32(p.x)^1<<31), int32(i)}
	}
	slices.SortFunc(keys, func(a, b key) int {
		if a.place != b.place { // nearly always
			return cmp.Compare(a.place, b.place)
		}
		m, n := roots[a.i], roots[b.i]
		return cmp.Or(cmp.Compare(j.layer(m), j.layer(n)), cmp.Compare(j.pieces[m].area, j.pieces[n].area))
	})
	sorted := make([]node, len(roots))
	for i, k := range keys {
		sorted[i] = roots[k.i]
		if move != nil {
			move(int(k.i), i)
		}
	}
	return sorted
}
