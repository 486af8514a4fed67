package question

import (
	"cmp"
	"context"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// plate is a structure that a gate layer makes with what lies beneath: the channels of one gate net that border on common
// diffusions and lie between the same nets; or a piece of a gate layer that crosses no diffusion and is as large as a plate.
type plate struct {
	channels []int              // in Facts.Channels, in their order
	gates    []extract.RegionID // each once
	rims     []extract.RegionID // sources and drains, each once
	devices  []int              // in Circuit.Devices
	gateNet  int                // by NetID
	nets     []int              // NetIDs of the rims, in order of number
	layer    layout.Layer       // of the gate
	area     float64            // nm² of gate over diffusion, or of the gate where it crosses none
	skim     bool               // diffusion only skims the gate: nobody looked beneath
	w, l     float64            // nm: all widths, and the length of one channel; 0 where there is no source or drain
	across   float64            // nm: how far it is across the gate, the shorter way
	box      geom.Rect
	at       geom.Point
	path     string
	drawn    extract.Drawn // what covers the place
	tallied  struct {      // what view.tally has returned
		done         bool
		nets, counts []int
		loose        int
	}
}

// findPlates makes plates of the structures that extraction puts together, and of what a gate that is only skimmed may be.
func (v *view) findPlates() {
	set := sets(v.f.Together(v.c))
	v.skim = make([]bool, len(v.f.Channels))
	skims := map[extract.RegionID]int32{}
	for i := range v.f.Channels {
		if v.skim[i] = v.skims(&v.f.Channels[i]); !v.skim[i] {
			continue
		}
		gate := v.f.Channels[i].Gate
		if k, ok := skims[gate]; ok {
			set.union(k, int32(i))
		} else {
			skims[gate] = int32(i)
		}
	}
	v.plateOf = make([]int, len(v.f.Channels))
	size, edges := make([]int, len(v.f.Channels)), make([]int, len(v.f.Channels)) // by first channel
	plates, most := 0, 0
	for i := range v.f.Channels {
		root := set.find(int32(i))
		if int(root) == i { // the root of a set is its first
			plates++
		}
		size[root]++
		edges[root] += len(v.f.Channels[i].Edges)
		most += len(v.f.Channels[i].Edges)
	}
	v.plates = make([]plate, 0, plates)
	channels, devices, gates := make([]int, len(size)), make([]int, len(size)), make([]extract.RegionID, len(size)) // one piece of memory for all
	rims, nets := make([]extract.RegionID, most), make([]int, 0, most)
	for i := range v.f.Channels {
		root := int(set.find(int32(i)))
		if root == i {
			n, m := size[i], edges[i]
			v.plateOf[i] = len(v.plates)
			first := len(nets)
			nets = v.netsOf(v.f.Channels[i].Edges, nets)
			v.plates = append(v.plates, plate{nets: nets[first:len(nets):len(nets)], channels: channels[:0:n], devices: devices[:0:n], gates: gates[:0:n], rims: rims[:0:m]})
			channels, devices, gates, rims = channels[n:], devices[n:], gates[n:], rims[m:]
		}
		v.plateOf[i] = v.plateOf[root]
		p := &v.plates[v.plateOf[i]]
		p.channels = append(p.channels, i)
	}
	for k := range v.plates {
		v.plates[k].measure(v)
	}
	for i := range v.f.Regions {
		if p, ok := v.barePlate(extract.RegionID(i)); ok {
			v.plates = append(v.plates, p)
		}
	}
	var bare []layout.Place
	for k := range v.plates {
		if p := &v.plates[k]; len(p.channels) == 0 {
			bare = append(bare, layout.Place{Layer: p.layer, At: p.at})
		}
	}
	drawn := v.res.Drawn(bare)
	for k := range v.plates {
		if p := &v.plates[k]; len(p.channels) > 0 {
			p.drawn = v.spots.same(v.f.DrawnAs(p.channels[0]))
		} else {
			p.drawn, drawn = v.spots.same(drawn[0]), drawn[1:]
		}
	}
	v.likes = newLikes()
	for k := range v.plates {
		p := &v.plates[k]
		v.likes.add(int32(k), p.area/float64(max(len(p.channels), 1)), p.across, p.box, 2*max(p.box.Width(), p.box.Height()))
	}
}

// netsOf appends to nets those of some edges, each once, ascending.
func (v *view) netsOf(edges []extract.Edge, nets []int) []int {
	first := len(nets)
	for _, e := range edges {
		nets = append(nets, v.f.Regions[e.Region].NetID)
	}
	slices.Sort(nets[first:])
	return nets[:first+len(slices.Compact(nets[first:]))]
}

// skimPart is how deep a crossing must reach into the gate, as a part of what it would be if source and drain faced each other
// across it: less is an edge of a diffusion that was traced up to the gate.
const skimPart = 0.6

// skims reports whether diffusion only skims the gate along one side. Who traces a photograph that was taken before the gates
// were stripped sees no diffusion beneath them, and draws it up to their edges. Across a strip of width t from source to
// drain, area over border is t/2, as is area over half the perimeter, if ends are left out.
func (v *view) skims(c *extract.Channel) bool {
	if len(c.Edges) != 1 || c.Edges[0].Stretches != 1 {
		return false
	}
	g := &v.f.Regions[c.Gate]
	return c.Area/c.Edges[0].Length < skimPart*g.Area/g.Perimeter
}

// measure sums up the channels.
func (p *plate) measure(v *view) {
	p.box = geom.EmptyRect()
	lengths, weights := 0.0, 0.0
	for i, k := range p.channels {
		c := &v.f.Channels[k]
		if i == 0 {
			p.layer, p.at, p.path, p.gateNet = c.Layer, c.At, c.Path, v.f.Regions[c.Gate].NetID
			p.across = across(c)
			p.skim = v.skim[k]
		}
		p.box = p.box.Union(c.Box)
		p.area += c.Area
		if !slices.Contains(p.gates, c.Gate) {
			p.gates = append(p.gates, c.Gate)
		}
		for _, e := range c.Edges {
			if !slices.Contains(p.rims, e.Region) {
				p.rims = append(p.rims, e.Region)
			}
		}
		if c.Device >= 0 {
			d := &v.c.Devices[c.Device]
			p.devices = append(p.devices, c.Device)
			p.w += d.W
			lengths, weights = lengths+d.L*d.W, weights+d.W
		}
	}
	if weights > 0 {
		p.l = lengths / weights
	}
	slices.Sort(p.devices)
	p.devices = slices.Compact(p.devices)
	if p.skim {
		p.measureSkim(v)
	}
}

// measureSkim takes the gate for the channel that it would be if diffusion ran on beneath it.
func (p *plate) measureSkim(v *view) {
	border := 0.0
	for _, k := range p.channels {
		border += v.f.Channels[k].Edges[0].Length
	}
	g := &v.f.Regions[p.gates[0]]
	_, p.across = strip(g.Area, g.Perimeter)
	p.w, p.l = border/2, p.across
	p.area = p.w * p.l
	p.nets = nil
	for _, id := range p.rims {
		p.nets = append(p.nets, v.f.Regions[id].NetID)
	}
	slices.Sort(p.nets)
	p.nets = slices.Compact(p.nets)
}

// across returns how far it is across a channel: from source to drain where these face each other, else the shorter way, of
// a rectangle its shorter side.
func across(c *extract.Channel) float64 {
	border, stretches := 0.0, 0
	for _, e := range c.Edges {
		border += e.Length
		stretches += e.Stretches
	}
	if stretches > 1 {
		return 2 * c.Area / border
	}
	if box := float64(c.Box.Width()) * float64(c.Box.Height()); c.Area > 0.9*box {
		return float64(min(c.Box.Width(), c.Box.Height()))
	}
	return 4 * c.Area / c.Perimeter // of a square its side, of a strip twice its width
}

// plateFeatures is how wide a piece of a gate layer that crosses no diffusion must be to be a plate, in features: pads for
// contacts are about three wide (common practice).
const plateFeatures = 5

// barePlate returns the plate that a piece of a gate layer makes that crosses nothing and is wide enough.
func (v *view) barePlate(id extract.RegionID) (p plate, ok bool) {
	r := &v.f.Regions[id]
	if r.Kind != extract.GateRegion || r.Channels > 0 || v.feature == 0 {
		return p, false
	}
	_, width := strip(r.Area, r.Perimeter)
	if width < plateFeatures*v.feature {
		return p, false
	}
	p = plate{gates: []extract.RegionID{id}, gateNet: r.NetID, layer: r.Layer, area: r.Area, across: width, box: r.Box, at: r.Within, path: v.f.Path(id)}
	return p, true
}

// strip returns length and width in nm of the rectangle that has an area and a perimeter; of what is rounder, the side of
// the square that has the area. They are the roots of x² − (perimeter/2)·x + area.
func strip(area, perimeter float64) (length, width float64) {
	half := perimeter / 2
	d := half*half - 4*area
	if d <= 0 {
		return math.Sqrt(area), math.Sqrt(area)
	}
	width = (half - math.Sqrt(d)) / 2
	return half - width, width
}

// TransistorOrCapacitorAt returns the question of the structure that a device is part of, however it stands; ok is false where
// Facts were not asked for, or the device is none of a channel.
func TransistorOrCapacitorAt(ctx context.Context, res *extract.Result, st *stack.Stack, device int, opt Options) (q Question, ok bool, err error) {
	v := newView(res, st, nil, opt).until(ctx)
	cs := v.channelsOf[device]
	if len(cs) == 0 {
		return q, false, nil
	}
	d := v.plateDraft(&v.plates[v.plateOf[cs[0]]])
	d.verdict, d.by = v.answer(&d)
	q = v.question(&d)
	return q, true, v.stopped()
}

func (v *view) plateDraft(p *plate) draft {
	d := draft{kind: TransistorOrCapacitor, at: p.at, layer: p.layer, path: p.path, devices: p.devices, saw: v.lookAtPlate(p), note: v.plateNote(p), box: p.box, about: p.gates}
	ids := append([]int{p.gateNet}, p.nets...)
	for _, id := range ids {
		if n := v.netOf(id); n != netlist.NoNet && !slices.Contains(d.nets, n) {
			d.nets = append(d.nets, n)
		}
	}
	// With source on drain, or without any, there is a question whatever the odds.
	d.always = len(p.nets) < 2
	return d
}

// leads reports whether the net of a source or drain is known to lead somewhere: it has a label, or another region is on it, or,
// of two, it goes on beyond what was traced.
func (v *view) leads(p *plate, id extract.RegionID) bool {
	r := &v.f.Regions[id]
	if r.Net != netlist.NoNet && (v.c.Nets[r.Net].Name != "" || v.c.Nets[r.Net].Open && len(p.rims) < 3) {
		return true
	}
	if len(v.byNet[r.NetID]) > 1 {
		return true
	}
	own := 0
	for _, k := range p.channels {
		for _, e := range v.f.Channels[k].Edges {
			if e.Region == id {
				own++
			}
		}
	}
	return r.Channels > own
}

// rim is a source or drain of a plate, share is how many of them are on a net.
type (
	rim   struct{ net, at int }
	share struct{ net, count int }
)

// tally counts the sources and drains of a plate by net, those of nets that lead somewhere, the most frequent net first;
// loose is how many others there are. It is remembered: nobody may change what is returned.
func (v *view) tally(p *plate) (nets []int, counts []int, loose int) {
	if t := &p.tallied; t.done {
		return t.nets, t.counts, t.loose
	}
	rims, led := v.room.rims[:0], v.room.led[:0]
	for i, id := range p.rims {
		rims = append(rims, rim{v.f.Regions[id].NetID, i})
	}
	slices.SortFunc(rims, func(a, b rim) int { return cmp.Or(cmp.Compare(a.net, b.net), cmp.Compare(a.at, b.at)) })
	for lo, hi := 0, 0; lo < len(rims); lo = hi {
		for hi < len(rims) && rims[hi].net == rims[lo].net {
			hi++
		}
		if v.leads(p, p.rims[rims[lo].at]) {
			led = append(led, share{rims[lo].net, hi - lo})
		} else {
			loose += hi - lo
		}
	}
	slices.SortFunc(led, func(a, b share) int { return cmp.Or(cmp.Compare(b.count, a.count), cmp.Compare(a.net, b.net)) })
	n := len(led)
	if len(v.room.tallies) < 2*n { // one piece of memory for many
		v.room.tallies = make([]int, max(1024, 2*n))
	}
	nets, counts, v.room.tallies = v.room.tallies[:n:n], v.room.tallies[n:2*n:2*n], v.room.tallies[2*n:]
	for i, n := range led {
		nets[i], counts[i] = n.net, n.count
	}
	v.room.rims, v.room.led = rims, led
	p.tallied.done, p.tallied.nets, p.tallied.counts, p.tallied.loose = true, nets, counts, loose
	return nets, counts, loose
}

// joinedNets returns the nets of the sources and drains that lead somewhere, and how many of these do not.
func (v *view) joinedNets(p *plate) (nets []int, loose int) {
	nets, _, loose = v.tally(p)
	nets = slices.Sorted(slices.Values(nets))
	return nets, loose
}

// sets is a union-find.
type sets []int32

func (s sets) find(n int32) int32 {
	for s[n] != n {
		s[n] = s[s[n]]
		n = s[n]
	}
	return n
}

func (s sets) union(a, b int32) {
	a, b = s.find(a), s.find(b)
	s[max(a, b)] = min(a, b)
}
