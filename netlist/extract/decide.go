package extract

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
)

// decision applies verdicts to parts.
type decision struct {
	*joiner
	parts      []part // by part.id
	into       []int  // by part.id: the part that stands for it now
	facts      *Facts
	structures []Structure
	of         []int        // by channel of facts: its structure
	channel    map[node]int // by root
	claims     map[claim]int
	bordering  map[RegionID][]int // by junction or well: the channels of facts that border on it or lie in it
	named      map[string]node    // netNamed, by name
}

// claim is what a verdict decides.
type claim struct {
	kind  string
	about int // a structure, a part, or a node where the verdict is about a region; of a near miss both
}

// madeDiode is a junction that a verdict takes for a diode.
type madeDiode struct {
	verdict         int
	area, perimeter float64
}

// byDepth returns the verdicts of one kind that are about something, those of the top cell first, which then come before
// those of the cells that it places. Leading readings come last: what somebody has said goes before them.
func (j *joiner) byDepth(kind string) []int {
	var out []int
	for i := range j.verdicts {
		if v := &j.verdicts[i]; v.Kind == kind && len(v.nodes) > 0 {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int {
		v, w := &j.verdicts[a], &j.verdicts[b]
		if v.leading != w.leading {
			if v.leading {
				return 1
			}
			return -1
		}
		return cmp.Compare(depth(v.Path), depth(w.Path))
	})
	return out
}

// depth says how deep an instance lies: 0 for the top cell.
func depth(path string) int {
	if path == "" {
		return 0
	}
	return 1 + strings.Count(path, "/")
}

func notFollowed(reading, first string) string {
	return fmt.Sprintf("the answer %q is not followed, since another one for the same says %q", reading, first)
}

// takes reports whether verdict i is the first to speak of something; one that says otherwise later is not followed.
func (j *joiner) takes(claims map[claim]int, i, about int) bool {
	v := &j.verdicts[i]
	v.Lost = false
	k := claim{v.Kind, about}
	first, taken := claims[k]
	if !taken {
		claims[k] = i
		return true
	}
	if w := &j.verdicts[first]; w.Reading != v.Reading {
		j.unused(v, notFollowed(v.Reading, w.Reading))
	}
	return false
}

func (d *decision) claimed(kind string, about int) bool {
	_, ok := d.claims[claim{kind, about}]
	return ok
}

// takeDiodes takes the area of junctions that a verdict says are diodes, so that no transistor counts it as its own.
func (j *joiner) takeDiodes() []madeDiode {
	var out []madeDiode
	claims := map[claim]int{}
	for _, i := range j.byDepth(photodiode) {
		v := &j.verdicts[i]
		if !slices.Contains([]string{"photodiode", "diode", "junction"}, v.Reading) {
			j.unused(v, fmt.Sprintf("the reading %q is none of photodiode, diode and junction", v.Reading))
			continue
		}
		if !j.takes(claims, i, int(v.nodes[0])) || v.Reading == "junction" {
			continue
		}
		p := &j.pieces[v.nodes[0]]
		out = append(out, madeDiode{i, p.area, p.perimeter})
		p.area, p.perimeter = 0, 0
		if j.observed.taken == nil {
			j.observed.taken = map[node]float64{}
		}
		j.observed.taken[v.nodes[0]] = out[len(out)-1].area
	}
	return out
}

// applyVerdicts changes parts as verdicts say, and facts with them. Facts have the numbers of the parts as they come.
func (j *joiner) applyVerdicts(parts []part, diodes []madeDiode, f *Facts) []part {
	if len(j.verdicts) == 0 {
		return parts
	}
	d := &decision{joiner: j, parts: parts, facts: f, claims: map[claim]int{}, channel: map[node]int{}, named: map[string]node{}, of: make([]int, len(f.Channels))}
	c := &netlist.Circuit{}
	for i := range parts {
		d.into = append(d.into, i)
		c.Devices = append(c.Devices, parts[i].dev)
	}
	d.structures = f.Structures(c)
	for k, s := range d.structures {
		for _, ch := range s.Channels {
			d.of[ch] = k
		}
	}
	for i, n := range j.observed.channels {
		d.channel[n] = i
	}
	d.findBordering()
	d.polarities()
	d.bulks()
	d.diodes(diodes)
	d.capacitors()
	d.wires()
	d.barePlates()
	for i := range j.verdicts {
		switch v := &j.verdicts[i]; v.Kind {
		case transistorOrCapacitor, polarity, bulkVerdict, photodiode, nearMiss, contactVerdict, wireOrResistor:
		case floatingGate, suppliesShorted, softTie, outOfFamily, asymmetry:
			v.Lost = false // it ends the question, and changes nothing
		default:
			j.unused(v, "extraction does not know what to do with such an answer yet")
		}
	}
	j.warnLostVerdicts()
	return d.finish()
}

// finish puts the parts that are left in order and renumbers what speaks of them.
func (d *decision) finish() []part {
	var order []int
	for i, k := range d.into {
		if i == k {
			order = append(order, i)
		}
	}
	out := make([]part, 0, len(order))
	slices.SortStableFunc(order, func(a, b int) int { return d.partsByPlace(&d.parts[a], &d.parts[b]) })
	number := make([]int, len(d.parts))
	for n, i := range order {
		number[i] = n
		out = append(out, d.parts[i])
	}
	now := func(i int) int {
		for d.into[i] != i {
			i = d.into[i]
		}
		return number[i]
	}
	for i := range d.verdicts {
		v := &d.verdicts[i]
		for _, p := range v.parts {
			v.Devices = append(v.Devices, now(p))
		}
		slices.Sort(v.Devices)
		v.Devices = slices.Compact(v.Devices)
	}
	for i := range d.facts.Channels {
		if ch := &d.facts.Channels[i]; ch.Device >= 0 {
			first, last := now(ch.Device), now(ch.Device+ch.DeviceCount-1)
			ch.Device, ch.DeviceCount = first, last-first+1
		}
	}
	return out
}

// structureAt returns the structure that a verdict on a channel is about.
func (d *decision) structureAt(v *placedVerdict) int { return d.of[d.channel[v.nodes[0]]] }

// coversOf returns what is known of the cover of a region.
func (j *joiner) coversOf(root node) []cover {
	lo, _ := slices.BinarySearchFunc(j.covers, root, func(c cover, n node) int { return cmp.Compare(j.root[c.of], n) })
	hi := lo
	for hi < len(j.covers) && j.root[j.covers[hi].of] == root {
		hi++
	}
	return j.covers[lo:hi]
}

func (d *decision) bulks() {
	inBody := d.untiedBodies()
	for _, i := range d.byDepth(bulkVerdict) {
		v := &d.verdicts[i]
		net := d.netNamed(v.Reading)
		if net == 0 {
			d.unused(v, fmt.Sprintf("no net is called %q", v.Reading))
			continue
		}
		for _, k := range d.sameBody(d.partsIn(v.nodes[0]), inBody) {
			p := &d.parts[k]
			if p.nets[netlist.Bulk] == 0 || inBody[k] != nil || d.claimed(bulkVerdict, k) {
				if d.takes(d.claims, i, k) {
					p.nets[netlist.Bulk] = net
				}
				v.parts = append(v.parts, k)
			}
		}
	}
}

// untiedBodies returns, by part, all parts in the same well or substrate, where nothing ties that.
func (d *decision) untiedBodies() map[int][]int {
	tied := d.tiedBodies()
	of := map[node][]int{}
	for k := range d.parts {
		if b := d.parts[k].nets[netlist.Bulk]; d.parts[k].dev.Kind.IsMOS() && b != 0 && d.untied(b, tied) {
			of[b] = append(of[b], k)
		}
	}
	in := map[int][]int{}
	for _, all := range of {
		for _, k := range all {
			in[k] = all
		}
	}
	return in
}

// sameBody returns the transistors among parts, and all that lie in the same untied bodies where no verdict has taken these
// yet: a body is taken as a whole.
func (d *decision) sameBody(parts []int, inBody map[int][]int) []int {
	var out []int
	seen := map[int]bool{}
	for _, k := range parts {
		if seen[k] {
			continue // with its body
		}
		body := inBody[k]
		if d.claimed(bulkVerdict, k) {
			body = nil
		}
		for _, p := range append([]int{k}, body...) {
			if d.parts[p].dev.Kind.IsMOS() && !seen[p] {
				seen[p] = true
				out = append(out, p)
			}
		}
	}
	return out
}

// partsIn returns the transistors of the structure that a channel is of, of those that border on a junction, or that lie in
// a well.
func (d *decision) partsIn(root node) []int {
	var channels, out []int
	switch d.regionKind(root) {
	case channel:
		channels = d.structures[d.of[d.channel[root]]].Channels
	case junction, well:
		channels = d.bordering[d.observed.seen[root]]
	}
	for _, i := range channels {
		out = append(out, d.facts.Channels[i].Devices()...)
	}
	return out
}

func (d *decision) findBordering() {
	d.bordering = map[RegionID][]int{}
	for i := range d.facts.Channels {
		ch := &d.facts.Channels[i]
		if ch.Well != NoRegion {
			d.bordering[ch.Well] = append(d.bordering[ch.Well], i)
		}
		for _, e := range ch.Edges {
			d.bordering[e.Region] = append(d.bordering[e.Region], i)
		}
	}
}

// netNamed returns the net with a label, the first by place of several; that of a placed cell where the drawing has none of
// its own. 0: there is none.
func (d *decision) netNamed(name string) node {
	best, known := d.named[name]
	if known {
		return best
	}
	better := func(n node) bool { return best == 0 || d.byPlace(d.lowest[n], d.lowest[best]) < 0 }
	for r, nm := range d.names {
		if nm != nil && slices.Contains(nm.own, name) && better(node(r)) {
			best = node(r)
		}
	}
	for r, nm := range d.names {
		if nm != nil && best == 0 && len(nm.own) == 0 && nm.placed == name {
			best = node(r)
		}
	}
	d.named[name] = best
	return best
}

// diodes makes the diodes that verdicts say are there.
func (d *decision) diodes(made []madeDiode) {
	for _, m := range made {
		v := &d.verdicts[m.verdict]
		root := v.nodes[0]
		id := d.observed.seen[root]
		p := part{of: root, layer: d.layer(root)}
		p.dev = netlist.Device{Kind: netlist.Diode, Model: v.Reading, Area: m.area, Perim: m.perimeter, At: d.at(root)}
		body, typ := d.substrate, cmp.Or(d.plan.st.Substrate.Type, "p")
		if w := d.facts.Regions[id].Well; w != NoRegion {
			body, typ = d.observed.regions[w], otherType(typ)
		}
		typ = otherType(typ) // that of the diffusion
		for _, k := range d.partsIn(root) {
			switch d.parts[k].dev.Kind {
			case netlist.NMOS:
				typ = "n"
			case netlist.PMOS:
				typ = "p"
			}
		}
		p.nets[netlist.Anode], p.nets[netlist.Cathode] = d.bodyNet(body, &p), d.find(root)
		if typ == "p" {
			p.nets[netlist.Anode], p.nets[netlist.Cathode] = p.nets[netlist.Cathode], p.nets[netlist.Anode]
		}
		v.parts = append(v.parts, d.add(p))
	}
}

func otherType(t string) string {
	if t == "p" {
		return "n"
	}
	return "p"
}

// add adds a part and returns its id.
func (d *decision) add(p part) int {
	d.parts, d.into = append(d.parts, p), append(d.into, len(d.parts))
	return len(d.parts) - 1
}
