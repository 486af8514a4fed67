package extract

import (
	"math"
	"math/bits"

	"undermetal/layout/sweep"
)

// node is the index of a piece of a region in a forest; 0 is none.
type node = int32

// piece is what is known of a node: the sums belong to its tree.
type piece struct {
	area, perimeter float64 // nm², nm; perimeter as the region kind counts it
	x, y            int32   // its lowest, then leftmost corner
	group, region   uint8
	open            bool // reaches the rim of the traced area
	there           bool // some of it lies in the strip
}

// span is a part of the border between a channel and a source or drain, or between a resistor's body and the conductor
// that it is cut out of: from a to b, the channel or body on its left.
type span struct {
	channel, diffusion node
	ax, ay, bx, by     float64
}

// cover is a part of a channel, a tap, a diode, a contact, a resistor, a capacitor or a pad, with what else lies there.
type cover struct {
	of   node
	on   node // the conductor, well or body below it; 0 for none, which for a well is the substrate
	area float64
	mask uint64 // of the layers there; 0 where it says what of a junction lies in a well, whatever else is there
}

// same reports whether two covers speak of the same.
func (c cover) same(d cover) bool {
	return c.of == d.of && c.on == d.on && c.mask == d.mask && (c.area == 0) == (d.area == 0)
}

// tagged says that an edge of a contact, of a part of its shape, begins on a region.
type tagged struct {
	layer  uint8
	landed bool // node is the conductor that the contact is on, and stands for it
	part   uint32
	shape  uint32 // its number on the layer, from 1
	node   node
}

// found says which node lies at a probe.
type found struct {
	probe int32
	node  node
}

// side is one side of a common border: its layers, regions and their nodes.
type side struct {
	mask    uint64
	regions uint64
	nodes   []node // by region
	settled bool   // all regions have nodes, which know of the interval's lower left corner
}

// collector is the sink for the strips of a worker, one at a time; its memory is used again.
type collector struct {
	forest
	records
	group       *group
	labels      []label
	clip        sweep.Clip
	state       []side // by slot
	joined      boxJoiner
	inWells     [256]int32 // of covers, by the end of a junction's node
	tagsOf      [256]int32 // of tags, the last one by the end of a shape's number
	left, right rims
}

// reset makes c ready for a strip.
func (c *collector) reset(d *dealing, s sweep.Strip) {
	c.forest = forest{append(c.parent[:0], 0), append(c.pieces[:0], piece{}), c.spans[:0], c.walls[:0]}
	c.records = records{c.covers[:0], nil, c.tags[:0], c.found[:0]}
	c.joined.reset()
	clear(c.inWells[:])
	clear(c.tagsOf[:])
	if c.group == nil || c.group.index != d.index {
		c.group, c.state = d.forStrip(), nil
	}
	c.labels, c.clip = d.scene.labels, sweep.Clip{X0: float64(s.X0), X1: float64(s.X1)}
	c.left.reset()
	c.right.reset()
}

// forest is a union-find over nodes, with what is known of each.
type forest struct {
	parent sets
	pieces []piece
	spans  []span
	walls  []wall
}

func newForest() *forest { return &forest{parent: []node{0}, pieces: make([]piece, 1)} }

// records are what a strip tells of its nodes.
type records struct {
	covers []cover
	boxes  []box
	tags   []tagged
	found  []found
}

func (f *forest) find(n node) node { return f.parent.find(n) }

// union joins two trees; the older node stays the root.
func (f *forest) union(a, b node) node { return f.parent.union(a, b) }

// sets is a union-find: the parent of each node, itself for a root.
type sets []node

func (s sets) find(n node) node {
	for s[n] != n {
		s[n] = s[s[n]]
		n = s[n]
	}
	return n
}

func (s sets) union(a, b node) node {
	a, b = s.find(a), s.find(b)
	if a > b {
		a, b = b, a
	}
	s[b] = a
	return a
}

func (f *forest) add(region uint8, x, y int32) node {
	n := node(len(f.parent))
	f.parent = append(f.parent, n)
	f.pieces = append(f.pieces, piece{x: x, y: y, region: region})
	return n
}

// place lets node n know of a corner at (x, y).
func (f *forest) place(n node, x, y int32) {
	p := &f.pieces[n]
	if y < p.y || y == p.y && x < p.x {
		p.x, p.y = x, y
	}
}

// meet makes a and b, which share a border of non-zero length, one where they are of one region. a has its nodes; b
// takes them over where it has none yet.
func (f *forest) meet(a, b *side) {
	for m := a.regions & b.regions; m != 0; m &= m - 1 {
		if r := bits.TrailingZeros64(m); b.nodes[r] == 0 {
			b.nodes[r] = a.nodes[r]
		} else {
			f.union(a.nodes[r], b.nodes[r])
		}
	}
}

// bordered reports whether the border between two sides may mean something.
func (g *group) bordered(a, b *side) bool {
	return a.mask != b.mask && (a.regions|b.regions)&(g.outlined|g.traced|g.channels|g.bodies) != 0
}

// border takes note of what the border between two sides means: the edge of a channel, a perimeter, the rim of the
// traced area. The ends are (ax, ay) and (bx, by), in nm.
func (f *forest) border(g *group, a, b *side, ax, ay, bx, by float64) {
	if (a.regions|b.regions)&(g.outlined|g.traced) != 0 {
		length := math.Abs(by-ay) + math.Abs(bx-ax)
		if ax != bx && ay != by {
			length = math.Hypot(bx-ax, by-ay)
		}
		f.oneSide(g, a, b, length)
		f.oneSide(g, b, a, length)
	}
	if ay == by { // a lies below; edges go such that what they are of lies on their left
		a, b = b, a
	}
	f.channelEdge(g, a, b, ax, ay, bx, by)
	f.channelEdge(g, b, a, bx, by, ax, ay)
	if g.bodies != 0 {
		f.bodyEdge(g, a, b, ax, ay, bx, by)
		f.bodyEdge(g, b, a, bx, by, ax, ay)
	}
	if (a.regions^b.regions)&g.walled != 0 {
		f.wallEdge(g, a, b, ax, ay, bx, by)
		f.wallEdge(g, b, a, bx, by, ax, ay)
	}
	if g.sided != 0 {
		f.sideEdge(g, a, b, ax, ay, bx, by)
		f.sideEdge(g, b, a, bx, by, ax, ay)
	}
}

func (f *forest) oneSide(g *group, in, out *side, length float64) {
	for m := in.regions & g.outlined &^ out.regions; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if g.regions[r].kind == junction && (in.regions&g.noJunction != 0 || out.mask&g.diffusions != 0) {
			continue // beside a channel, or inside a tap or diode: no side wall of this junction
		}
		f.pieces[in.nodes[r]].perimeter += length
	}
	for m := in.regions & g.traced; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if bit := g.regions[r].tracedBit; in.mask&bit == 0 || out.mask&bit == 0 {
			f.pieces[in.nodes[r]].open = true
		}
	}
}

// The methods of sweep.Sink.

func (c *collector) Open(iv *sweep.Interval) {
	for int(iv.Slot) >= len(c.state) {
		c.state = append(c.state, side{nodes: make([]node, len(c.group.regions))})
	}
	s := &c.state[iv.Slot]
	s.mask = iv.Mask
	s.regions = c.group.regionsOf(iv.Mask)
	s.settled = false
	clear(s.nodes)
}

// settle gives every region of an interval a node, and the node the interval's lower left corner.
func (c *collector) settle(iv *sweep.Interval) *side {
	s := &c.state[iv.Slot]
	if s.settled {
		return s
	}
	s.settled = true
	if s.regions == 0 {
		return s
	}
	x := int32(math.Ceil(max(iv.L.At(int(iv.Y0)), c.clip.X0)))
	for m := s.regions; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if s.nodes[r] == 0 {
			s.nodes[r] = c.add(uint8(r), x, iv.Y0)
		} else {
			c.place(s.nodes[r], x, iv.Y0)
		}
	}
	return s
}

func (c *collector) Beside(l, r *sweep.Interval, y0, y1 int) {
	a, b := &c.state[l.Slot], &c.state[r.Slot]
	if a.regions|b.regions == 0 {
		return
	}
	var ax, ay, bx, by float64
	counts := c.group.bordered(a, b)
	if counts || !c.clip.Holds(l.R) {
		var ok bool
		if ax, ay, bx, by, ok = c.clip.Span(l.R, y0, y1); !ok {
			return
		}
	}
	c.settle(l)
	c.meet(a, b)
	c.settle(r)
	if counts {
		c.border(c.group, a, b, ax, ay, bx, by)
	}
}

func (c *collector) Above(lo, hi *sweep.Interval, y int, x0, x1 float64) {
	a, b := &c.state[lo.Slot], &c.state[hi.Slot]
	if a.regions|b.regions == 0 {
		return
	}
	c.settle(lo)
	c.meet(a, b)
	c.settle(hi)
	if c.group.bordered(a, b) {
		c.border(c.group, a, b, x0, float64(y), x1, float64(y))
	}
}

func (c *collector) Close(iv *sweep.Interval, y int) {
	if c.state[iv.Slot].regions == 0 {
		c.touching(iv, y)
		return
	}
	area := 0.0
	if m := c.state[iv.Slot].regions; m&(c.group.measured|c.group.covering) != 0 || !c.clip.Holds(iv.L) || !c.clip.Holds(iv.R) {
		if area = c.clip.Area(iv.L, iv.R, int(iv.Y0), y); area <= 0 { // wholly in another strip
			return
		}
	}
	s := c.settle(iv)
	for m := s.regions; m != 0; m &= m - 1 {
		c.pieces[s.nodes[bits.TrailingZeros64(m)]].there = true
	}
	for m := s.regions & c.group.measured; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if c.group.regions[r].kind == junction && s.regions&c.group.noJunction != 0 {
			continue
		}
		c.pieces[s.nodes[r]].area += area
	}
	c.cover(s, area)
	c.box(iv, s, y)
	c.touching(iv, y)
}

// cover records what lies under a contact, a channel, a tap, a device or a pad.
func (c *collector) cover(s *side, area float64) {
	g := c.group
	for m := s.regions & g.covering; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		reg := &g.regions[r]
		on := node(0)
		for _, t := range reg.on {
			if s.regions>>t&1 != 0 {
				on = s.nodes[t]
				break
			}
		}
		if on != 0 || len(reg.on) == 0 && reg.kind != plug && reg.kind != junction {
			c.addCover(cover{s.nodes[r], on, area, s.mask})
		}
		for _, t := range reg.in {
			if s.regions>>t&1 == 0 {
				continue
			}
			if reg.kind == junction {
				c.addWell(cover{of: s.nodes[r], on: s.nodes[t], area: area})
			} else {
				c.addCover(cover{s.nodes[r], s.nodes[t], area, s.mask})
			}
		}
		for _, t := range reg.with {
			if s.regions>>t&1 != 0 {
				c.addCover(cover{s.nodes[r], s.nodes[t], 0, s.mask})
			}
		}
	}
}

// addCover adds to the record before it where that speaks of the same.
func (r *records) addCover(n cover) {
	if k := len(r.covers) - 1; k >= 0 {
		if last := &r.covers[k]; last.same(n) {
			last.area += n.area
			return
		}
	}
	r.covers = append(r.covers, n)
}

// addWell adds what of a junction lies in a well, whatever else is there, to the last such record of its node, or of one whose number
// ends alike.
func (c *collector) addWell(n cover) {
	last := &c.inWells[uint32(n.of)%uint32(len(c.inWells))]
	if k := int(*last); k < len(c.covers) && c.covers[k].same(n) {
		c.covers[k].area += n.area
		return
	}
	*last = int32(len(c.covers))
	c.covers = append(c.covers, n)
}

// Tagged keeps a tag unless the last one of its shape, or of one whose number ends alike, says the same, as most do where a shape has
// several edges on its left.
func (c *collector) Tagged(iv *sweep.Interval, e *sweep.Edge) {
	s := c.settle(iv)
	t := tagged{layer: e.Layer, part: e.Part, shape: e.Tag, node: s.nodes[c.group.plugOf[e.Layer]]}
	last := &c.tagsOf[e.Tag%uint32(len(c.tagsOf))]
	if k := int(*last); k < len(c.tags) && c.tags[k] == t {
		return
	}
	*last = int32(len(c.tags))
	c.tags = append(c.tags, t)
}

func (c *collector) Found(iv *sweep.Interval, id int32) {
	s := c.settle(iv)
	if c.labels[id].verdict {
		for m := s.regions; m != 0; m &= m - 1 {
			c.found = append(c.found, found{id, s.nodes[bits.TrailingZeros64(m)]})
		}
		return
	}
	r := c.group.regionOf[c.labels[id].layer]
	if s.regions>>r&1 != 0 {
		c.found = append(c.found, found{id, s.nodes[r]})
	}
}
