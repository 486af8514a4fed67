package extract

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// Outline is the border of a channel, of a resistor's body, of a capacitor's plates or of a diode, as the sweep saw it. It is told
// where Options.Outlines asks for it, of channels and bodies only where W and L do not say all: those that are no rectangles
// with source and drain, or the ends, along two opposite sides.
type Outline struct {
	Devices []int        // of the circuit, ascending: those that it makes or is part of
	Layer   layout.Layer // of the gate, of the body, of the upper plate
	Rings   [][]geom.Vec // in nm, what they are of on their left
	Edges   [][]Border   // Edges[r][i] goes from Rings[r][i] to the next corner
	W, L    float64      // nm, by rule; 0 where there are none
	Sheet   float64      // ohm, of a resistor; 0 where unknown
	AreaAF  float64      // aF/µm², of a capacitor; 0 where unknown
	EdgeAF  float64      // aF/µm, of a capacitor
	At      geom.Point   // its lowest, then leftmost corner
	Broken  bool         // the rings do not close, or two regions share an edge: nothing can be made of it
}

// Border is what lies along an edge of an outline.
type Border struct {
	Net   netlist.Net  // of the source or drain, or of the end, that it leads to; NoNet: none, and of a Junction always
	Layer layout.Layer // the layer whose edge it is
	Drawn int32        // a number, from 1, that all edges of all outlines share that are parts of one drawn edge; 0: of none alone

	SideWall bool  // of a Junction: it counts for the perimeter
	Channel  int32 // of a Junction: the number, from 1, within it of the channel that it leads to; 0: none
}

// wall is a part of the border of a region that leads to no source, drain or end, or of a junction: from a to b, the region on its left.
type wall struct {
	of             node
	channel        node  // that a junction ends at; 0: none
	layer          uint8 // whose edge it is
	sideWall       bool  // of a junction: it counts for the perimeter
	ax, ay, bx, by float64
}

// keepWalls makes the plan keep what outlines are made of, and, where they are asked for, those of junctions.
func (p *plan) keepWalls(junctions bool) {
	for _, g := range p.groups {
		if junctions {
			g.sided = g.junctions
		}
		for i, r := range g.regions {
			switch r.kind {
			case channel, body, plates, diode:
				g.walled |= 1 << i
			}
		}
	}
}

// wallEdge notes the border of a with b where it leads to nothing that conducts.
func (f *forest) wallEdge(g *group, a, b *side, ax, ay, bx, by float64) {
	for m := a.regions & g.walled &^ b.regions; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		switch reg := &g.regions[r]; {
		case reg.kind == channel && b.regions&g.junctions != 0:
		case reg.kind == body && b.regions>>g.regionOf[reg.layer]&1 != 0:
		default:
			f.walls = append(f.walls, wall{of: a.nodes[r], layer: g.endsAt(reg, a.mask, b.mask), ax: ax, ay: ay, bx: bx, by: by})
		}
	}
}

// endsAt returns the layer whose edge ends a region, seen from in: of those that change there the region's own comes first.
func (g *group) endsAt(r *region, in, out uint64) uint8 {
	change := (in ^ out) & (1<<len(g.plan.st.Layers) - 1)
	own := uint64(1) << r.layer
	switch r.kind {
	case channel:
		own = g.diffusions
	case plates:
		if change&own == 0 {
			own = 1 << g.plan.st.Capacitors[r.rule].Lower
		}
	}
	if change&own != 0 {
		change &= own
	}
	return uint8(bits.TrailingZeros64(change))
}

func (j *joiner) spansOf(root node) []span {
	lo, _ := slices.BinarySearchFunc(j.spans, root, func(s span, n node) int { return cmp.Compare(j.root[s.channel], n) })
	hi := lo
	for hi < len(j.spans) && j.root[j.spans[hi].channel] == root {
		hi++
	}
	return j.spans[lo:hi]
}

func (j *joiner) wallsOf(root node) []wall {
	lo, _ := slices.BinarySearchFunc(j.walls, root, func(w wall, n node) int { return cmp.Compare(j.root[w.of], n) })
	hi := lo
	for hi < len(j.walls) && j.root[j.walls[hi].of] == root {
		hi++
	}
	return j.walls[lo:hi]
}

// outlines returns those of all parts, in the order of devices. Nets have their numbers.
func (j *joiner) outlines(parts []part) []Outline {
	var out []Outline
	seen := map[node]int{} // by root: 1 more than its index, or -1 for one that W and L say all of
	for i := range parts {
		p := &parts[i]
		for _, root := range append([]node{p.of}, p.more...) {
			switch k := seen[root]; {
			case k > 0:
				out[k-1].Devices = append(out[k-1].Devices, i)
			case k == 0:
				o, ok := j.outline(root, p)
				seen[root] = -1
				if ok {
					o.Devices = []int{i}
					out = append(out, o)
					seen[root] = len(out)
				}
			}
		}
	}
	return out
}

// outline returns that of a region that makes a part; not ok where W and L say all.
func (j *joiner) outline(root node, p *part) (o Outline, ok bool) {
	spans, walls := j.spansOf(root), j.wallsOf(root)
	o = Outline{Layer: j.layer(root), At: j.at(root)}
	area := j.pieces[root].area
	end := o.Layer
	switch j.regionKind(root) {
	case channel, body:
		perimeter, edge := 0.0, 0.0
		for _, s := range spans {
			edge += math.Hypot(s.bx-s.ax, s.by-s.ay)
		}
		for _, w := range walls {
			perimeter += math.Hypot(w.bx-w.ax, w.by-w.ay)
		}
		if p.dev.Kind != netlist.Capacitor && straight(spans, area, edge+perimeter) {
			return o, false
		}
		if o.W = edge / 2; j.regionKind(root) == channel && stretches(j.edges(spans)) < 2 {
			o.W = edge
		}
		if o.W > 0 {
			o.L = area / o.W
		}
	case plates, diode:
		spans = nil
	default:
		return o, false
	}
	if p.dev.Kind == netlist.Capacitor && !math.IsNaN(p.dev.Value) {
		if o.AreaAF = p.dev.Value / p.dev.Area * 1e24; j.regionKind(root) == plates {
			o.AreaAF, o.EdgeAF = j.figures(j.plan.groups[j.pieces[root].group].regions[j.pieces[root].region].rule)
		}
	}
	if j.regionKind(root) == body {
		rule, _ := j.bestRule(root, j.coversOf(root))
		o.Sheet, end = j.sheetOhm(rule), conditionLayer(&j.plan.st.Resistors[rule])
	}
	var c chain
	for _, w := range walls {
		c.add(w.ax, w.ay, w.bx, w.by, Border{Net: netlist.NoNet, Layer: layout.Layer(w.layer)})
	}
	for _, s := range spans {
		c.add(s.ax, s.ay, s.bx, s.by, Border{Net: j.netOf(j.endNet(j.root[s.diffusion], &part{of: root})), Layer: end})
	}
	o.Rings, o.Edges, ok = c.rings()
	o.Broken = !ok
	return o, true
}

// conditionLayer returns the layer that ends a resistor's body where the rest of its layer goes on.
func conditionLayer(r *stack.ResistorRule) layout.Layer {
	for _, c := range r.Where {
		if !c.Not {
			return c.Layer
		}
	}
	for _, c := range r.Where {
		return c.Layer
	}
	return r.Body
}

// chain joins parts of a border to rings.
type chain struct {
	segs []segment
	from map[geom.Vec][]int // by its first end
}

// segment goes from a to b, what it is of on its left.
type segment struct {
	a, b geom.Vec
	what Border
}

func (c *chain) add(ax, ay, bx, by float64, what Border) {
	s := segment{geom.Vec{X: ax, Y: ay}, geom.Vec{X: bx, Y: by}, what}
	if s.a == s.b {
		return
	}
	if c.from == nil {
		c.from = map[geom.Vec][]int{}
	}
	c.from[s.a] = append(c.from[s.a], len(c.segs))
	c.segs = append(c.segs, s)
}

// rings returns the rings, without corners where nothing changes; not ok where they do not close.
func (c *chain) rings() (rings [][]geom.Vec, edges [][]Border, ok bool) {
	used := make([]bool, len(c.segs))
	for first := range c.segs {
		if used[first] {
			continue
		}
		var ring []geom.Vec
		var border []Border
		for k := first; ; {
			s := &c.segs[k]
			used[k] = true
			ring, border = append(ring, s.a), append(border, s.what)
			next := c.next(s)
			if next == first {
				break
			}
			if next < 0 || used[next] {
				return nil, nil, false
			}
			k = next
		}
		ring, border = merged(ring, border)
		if len(ring) < 3 {
			return nil, nil, false
		}
		rings, edges = append(rings, ring), append(edges, border)
	}
	return rings, edges, len(rings) > 0
}

// next returns the segment that goes on where one ends; of several, in a corner in which what they are of touches itself, the one
// that turns most to the left, which borders the same part; -1 for none.
func (c *chain) next(s *segment) int {
	best, most := -1, math.Inf(-1)
	dx, dy := s.b.X-s.a.X, s.b.Y-s.a.Y
	for _, k := range c.from[s.b] {
		t := &c.segs[k]
		ex, ey := t.b.X-t.a.X, t.b.Y-t.a.Y
		if turn := math.Atan2(dx*ey-dy*ex, dx*ex+dy*ey); turn > most {
			best, most = k, turn
		}
	}
	return best
}

// merged drops the corners of a ring at which it goes straight on beside the same: where the sweep, or a strip, cut an edge.
func merged(ring []geom.Vec, border []Border) ([]geom.Vec, []Border) {
	const onLine = 1e-5 // nm: rounding of places in the frame
	n := len(ring)
	keep := func(i int) bool {
		p, at, q := ring[(i+n-1)%n], ring[i], ring[(i+1)%n]
		d, e := geom.Vec{X: at.X - p.X, Y: at.Y - p.Y}, geom.Vec{X: q.X - at.X, Y: q.Y - at.Y}
		length := math.Hypot(d.X+e.X, d.Y+e.Y)
		return border[i] != border[(i+n-1)%n] || d.X*e.X+d.Y*e.Y < 0 || math.Abs(d.X*e.Y-d.Y*e.X) > onLine*length
	}
	var corners []geom.Vec
	var borders []Border
	for i := range ring {
		if keep(i) {
			corners, borders = append(corners, ring[i]), append(borders, border[i])
		}
	}
	return corners, borders
}
