package extract

import (
	"math"
	"math/bits"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// Junction is the outline of a region of sources and drains, without what lies under gates, taps and diodes: what AS, AD, PS and PD of
// the transistors beside it are shares of, or, where a verdict says that it is a diode, all of that. Its Devices are these, ascending; it has
// no W and L. It is told where Options.Junctions asks for it.
type Junction struct {
	Outline
	Shares []Share // in the order of devices
}

// Share is what of a junction's area and perimeter belongs to one side of a device by one of its channels: the channel's part of the
// region's border with channels; of a channel between several nets each pair has one of as many equal parts. A diode has all of it.
type Share struct {
	Device  int
	Drain   bool    // it is a part of AD and PD, else of AS and PS
	Channel int32   // as Border.Channel tells it; 0 for a diode
	Part    float64 // of the whole, above 0 up to 1
}

// sideEdge notes the border of the junctions of a with b, as far as they count for areas of sources and drains.
func (f *forest) sideEdge(g *group, a, b *side, ax, ay, bx, by float64) {
	if a.regions&g.noJunction != 0 {
		return
	}
	for m := a.regions & g.sided; m != 0; m &= m - 1 {
		r := bits.TrailingZeros64(m)
		if b.regions>>r&1 != 0 && b.regions&g.noJunction == 0 {
			continue
		}
		w := wall{of: a.nodes[r], layer: g.sideEndsAt(r, a, b), sideWall: b.mask&g.diffusions == 0, ax: ax, ay: ay, bx: bx, by: by}
		if c := b.regions & g.channels; c != 0 {
			w.channel = b.nodes[bits.TrailingZeros64(c)]
		}
		f.walls = append(f.walls, w)
	}
}

// sideEndsAt returns the layer whose edge ends a junction, seen from in: its own, or else that of what lies beside it.
func (g *group) sideEndsAt(r int, in, out *side) uint8 {
	change := (in.mask ^ out.mask) & (1<<len(g.plan.st.Layers) - 1)
	if own := g.regions[r].layer; change>>own&1 != 0 {
		return uint8(own)
	}
	for m := out.regions &^ in.regions & (g.noJunction | g.bodies); m != 0; m &= m - 1 {
		var by uint64
		switch next := &g.regions[bits.TrailingZeros64(m)]; next.kind {
		case channel:
			by = 1 << next.layer
		case tap:
			by = layersOf(g.plan.st.Taps[next.rule].Where)
		case diode:
			by = layersOf(g.plan.st.Diodes[next.rule].Where)
		case body:
			for i := range g.plan.st.Resistors {
				if rule := &g.plan.st.Resistors[i]; rule.Body == next.layer && holds(rule.Where, out.mask) {
					by |= layersOf(rule.Where)
				}
			}
		}
		if change&by != 0 {
			return uint8(bits.TrailingZeros64(change & by))
		}
	}
	return uint8(bits.TrailingZeros64(change))
}

func layersOf(where []stack.Condition) (layers uint64) {
	for _, c := range where {
		layers |= 1 << c.Layer
	}
	return layers
}

// junctions returns those that the parts have shares of, in the order of these. It shares them as between does.
func (j *joiner) junctions(parts []part) []Junction {
	var out []Junction
	at := map[node]int{} // by root: 1 more than its index
	all := j.edgeOfDiffusions()
	for i := range parts {
		p := &parts[i]
		switch {
		case p.dev.Kind == netlist.Diode && j.regionKind(p.of) == junction: // by a verdict
			n := Junction{j.sideOutline(p.of), []Share{{Device: i, Part: 1}}}
			n.Devices = []int{i}
			out = append(out, n)
			continue
		case !p.dev.Kind.IsMOS():
			continue
		}
		d, s := j.find(p.nets[netlist.Drain]), j.find(p.nets[netlist.Source])
		for _, ch := range append([]node{p.of}, p.more...) {
			edges := j.edges(j.spansOf(ch))
			var nets []node
			for _, e := range edges {
				if !slices.Contains(nets, e.net) {
					nets = append(nets, e.net)
				}
			}
			for k, e := range edges {
				if e.net != d && e.net != s || j.pieces[e.diffusion].area == 0 { // of another pair, or taken by a diode
					continue
				}
				if at[e.diffusion] == 0 {
					out = append(out, Junction{Outline: j.sideOutline(e.diffusion)})
					at[e.diffusion] = len(out)
				}
				of := &out[at[e.diffusion]-1]
				if !slices.Contains(of.Devices, i) {
					of.Devices = append(of.Devices, i)
				}
				of.Shares = append(of.Shares, Share{Device: i, Drain: e.net == d && (d != s || k == 0), Channel: ch,
					Part: e.length / all[e.diffusion] / float64(max(1, len(nets)-1))})
			}
		}
	}
	for k := range out {
		out[k].numberChannels()
	}
	return out
}

// sideOutline returns the outline of a source or drain region. Channels are told by their roots.
func (j *joiner) sideOutline(root node) Outline {
	o := Outline{Layer: j.layer(root), At: j.at(root)}
	var c chain
	for _, w := range j.wallsOf(root) {
		what := Border{Net: netlist.NoNet, Layer: layout.Layer(w.layer), SideWall: w.sideWall}
		if w.channel != 0 {
			what.Channel = j.root[w.channel]
		}
		c.add(w.ax, w.ay, w.bx, w.by, what)
	}
	var ok bool
	o.Rings, o.Edges, ok = c.rings()
	o.Broken = !ok
	return o
}

// numberChannels numbers channels from 1, in the order of shares, then of edges: roots go with strips.
func (n *Junction) numberChannels() {
	number := map[node]int32{0: 0}
	of := func(root node) int32 {
		if _, known := number[root]; !known {
			number[root] = int32(len(number))
		}
		return number[root]
	}
	for i := range n.Shares {
		n.Shares[i].Channel = of(n.Shares[i].Channel)
	}
	for _, edges := range n.Edges {
		for i := range edges {
			edges[i].Channel = of(edges[i].Channel)
		}
	}
}

// besideEdgeNm is how far from an edge of a junction it is looked for the shapes that make it: more than places are rounded by.
const besideEdgeNm = 2

// JunctionShapes calls found for each shape that covers a place beside the middle of an edge of a junction and has that edge's layer:
// one of the junction's own layer inside, one of another layer on either side. junction is its index in Result.Junctions. Of one whose outline
// is broken it tells nothing, and of others some shapes several times.
func (r *Result) JunctionShapes(found func(junction int, s *layout.Shape, t geom.Transform)) {
	var places []layout.Place
	var of []int
	for k := range r.Junctions {
		n := &r.Junctions[k]
		for at, ring := range n.Rings {
			for i, p := range ring {
				q, l := ring[(i+1)%len(ring)], n.Edges[at][i].Layer
				length := math.Hypot(q.X-p.X, q.Y-p.Y)
				for _, out := range [2]float64{-besideEdgeNm, besideEdgeNm} {
					if out > 0 && l == n.Layer {
						continue
					}
					x, y := (p.X+q.X)/2+out*(q.Y-p.Y)/length, (p.Y+q.Y)/2-out*(q.X-p.X)/length
					places, of = append(places, layout.Place{Layer: l, At: geom.Point{X: int(math.Round(x)), Y: int(math.Round(y))}}), append(of, k)
				}
			}
		}
	}
	r.flat.ShapesAt(places, func(k int, s *layout.Shape, t geom.Transform) { found(of[k], s, t) })
}
