package extract_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// The raster is a second extractor for drawings along grid lines, plain and slow: a mask for each grid square, flood
// filling, and the rules of DEVELOPERS.md, "What makes a device", square by square. It knows the imager's stack only.

// Layers of the imager's stack, in its order.
const (
	diffusion = iota
	poly
	nwell
	pplus
	photo
	contact
	metal1
	via1
	metal2
	layerCount
)

const rasterSide = 26 // squares

type spot struct{ x, y int } // a square, by its lower left corner

// raster is a drawing as squares.
type raster struct {
	pitch int // nm
	mask  map[spot]uint
}

// rasterOf fills each shape by the winding number of the square's centre.
func rasterOf(shapes []layout.Shape, pitch int) *raster {
	r := &raster{pitch, map[spot]uint{}}
	for _, s := range shapes {
		for x := range rasterSide {
			for y := range rasterSide {
				wind := 0
				for _, ring := range s.Polygon {
					for i, a := range ring { // upright edges right of the centre
						b := ring[(i+1)%len(ring)]
						lo, hi := min(a.Y, b.Y), max(a.Y, b.Y)
						if a.X == b.X && a.X > x*pitch && lo <= y*pitch && hi > y*pitch {
							wind += cmp.Compare(b.Y, a.Y)
						}
					}
				}
				if wind != 0 {
					r.mask[spot{x, y}] |= 1 << s.Layer
				}
			}
		}
	}
	return r
}

func (r *raster) on(s spot, layer int) bool { return r.mask[s]>>layer&1 != 0 }

func (r *raster) crossing(s spot) bool { return r.on(s, poly) && r.on(s, diffusion) }
func (r *raster) junction(s spot) bool { return r.on(s, diffusion) && !r.on(s, poly) }
func (r *raster) wellTap(s spot) bool {
	return r.junction(s) && !r.on(s, pplus) && r.on(s, nwell)
}
func (r *raster) substrateTap(s spot) bool {
	return r.junction(s) && r.on(s, pplus) && !r.on(s, nwell)
}
func (r *raster) diode(s spot) bool {
	return r.junction(s) && r.on(s, photo) && !r.on(s, pplus) && !r.on(s, nwell)
}

var directions = []spot{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}

// parts is the connected parts of a region: their squares, from the lowest, then leftmost, and the part of each square.
type parts struct {
	squares [][]spot
	of      map[spot]int
}

func (r *raster) fill(in func(spot) bool) *parts {
	p := &parts{of: map[spot]int{}}
	for y := range rasterSide {
		for x := range rasterSide {
			s := spot{x, y}
			if _, seen := p.of[s]; seen || !in(s) {
				continue
			}
			n := len(p.squares)
			todo := []spot{s}
			p.of[s] = n
			for i := 0; i < len(todo); i++ {
				for _, d := range directions {
					q := spot{todo[i].x + d.x, todo[i].y + d.y}
					if _, seen := p.of[q]; !seen && in(q) {
						p.of[q] = n
						todo = append(todo, q)
					}
				}
			}
			p.squares = append(p.squares, todo)
		}
	}
	return p
}

// netKey is a connected part of a conductor; the substrate is of layer -1.
type netKey struct{ layer, part int }

var substrate = netKey{-1, 0}

// oracle holds all parts and which of them are one net.
type oracle struct {
	*raster
	conductors map[int]*parts // by layer; for diffusion the junctions, for nwell the wells
	parent     map[netKey]netKey
	labels     map[netKey][]string // by root
	soft       map[netKey][]netKey // by well: the nets that tap it and stay apart
	unclear    bool                // the rules leave the result open
}

func (o *oracle) find(k netKey) netKey {
	for {
		p, ok := o.parent[k]
		if !ok {
			return k
		}
		k = p
	}
}

func (o *oracle) join(a, b netKey) {
	a, b = o.find(a), o.find(b)
	if a != b {
		o.parent[a] = b
		o.labels[b] = append(o.labels[b], o.labels[a]...)
		delete(o.labels, a)
	}
}

func (o *oracle) at(layer int, s spot) (netKey, bool) {
	n, ok := o.conductors[layer].of[s]
	return netKey{layer, n}, ok
}

func newOracle(r *raster, labels []layout.Label) *oracle {
	o := &oracle{raster: r, conductors: map[int]*parts{}, parent: map[netKey]netKey{}, labels: map[netKey][]string{}, soft: map[netKey][]netKey{}}
	o.conductors[diffusion] = r.fill(r.junction)
	for _, l := range []int{poly, nwell, metal1, metal2} {
		o.conductors[l] = r.fill(func(s spot) bool { return r.on(s, l) })
	}
	for _, l := range []int{contact, via1} {
		o.conductors[l] = r.fill(func(s spot) bool { return r.on(s, l) })
	}
	for i, squares := range o.conductors[contact].squares {
		o.land(netKey{contact, i}, squares, metal1, poly, diffusion)
	}
	for i, squares := range o.conductors[via1].squares {
		o.land(netKey{via1, i}, squares, metal2, metal1)
	}
	for _, l := range labels {
		if k, ok := o.at(int(l.Layer), spot{l.At.X / r.pitch, l.At.Y / r.pitch}); ok {
			o.labels[o.find(k)] = append(o.labels[o.find(k)], l.Text)
		}
	}
	o.tie()
	return o
}

// land joins what one contact joins: all on top, and below the layer that takes most of it, or each that takes a
// quarter or more where two do.
func (o *oracle) land(plug netKey, squares []spot, top int, below ...int) {
	count := map[int]int{}
	for _, s := range squares {
		for _, l := range below {
			if _, ok := o.at(l, s); ok {
				count[l]++
				break
			}
		}
	}
	best, butted := 0, 0
	for _, l := range below {
		best = max(best, count[l])
		if 4*count[l] >= len(squares) {
			butted++
		}
	}
	if len(below) == 2 && butted < 2 && count[below[0]] == count[below[1]] && best > 0 {
		o.unclear = true // neither takes more
	}
	var joined []netKey
	for _, s := range squares {
		if k, ok := o.at(top, s); ok {
			joined = append(joined, k)
		}
		for _, l := range below {
			if k, ok := o.at(l, s); ok {
				if count[l] == best || butted > 1 && 4*count[l] >= len(squares) {
					joined = append(joined, k)
				}
				break
			}
		}
	}
	for _, k := range joined {
		o.join(plug, k)
	}
}

// tie joins wells and substrate to the nets that tap them, unless two labelled nets would become one. Where the order
// of the wells would matter the rules leave the result open.
func (o *oracle) tie() {
	nets := map[netKey][]netKey{} // by well
	for s := range o.mask {
		j, ok := o.at(diffusion, s)
		switch {
		case ok && o.wellTap(s):
			w, _ := o.at(nwell, s)
			if !slices.Contains(nets[w], j) {
				nets[w] = append(nets[w], j)
			}
		case ok && o.substrateTap(s):
			if !slices.Contains(nets[substrate], j) {
				nets[substrate] = append(nets[substrate], j)
			}
		}
	}
	for _, pieces := range o.fill(o.wellTap).squares { // a tap over two wells that touch by no edge cannot be
		w, _ := o.at(nwell, pieces[0])
		for _, s := range pieces {
			if k, _ := o.at(nwell, s); k != w {
				panic("a tap on two wells")
			}
		}
	}
	conflict := func(w netKey, ns []netKey) bool {
		roots := map[netKey]bool{}
		for _, n := range append([]netKey{w}, ns...) {
			if r := o.find(n); len(o.labels[r]) > 0 {
				roots[r] = true
			}
		}
		return len(roots) > 1
	}
	before := map[netKey]bool{}
	for w, ns := range nets {
		before[w] = conflict(w, ns)
		if before[w] {
			o.soft[w] = ns
		}
	}
	for w, ns := range nets {
		if !before[w] {
			for _, n := range ns {
				o.join(w, n)
			}
		}
	}
	for r := range o.labels { // joined in a chain by several wells: it depends on which comes first
		seen := map[netKey]bool{}
		for w := range nets {
			if !before[w] && o.find(w) == r {
				seen[w] = true
			}
		}
		if len(seen) > 1 {
			o.unclear = true
		}
	}
}

// rasterDevice is a device as the raster sees it.
type rasterDevice struct {
	at           geom.Point
	kind         netlist.Kind
	gate         netKey
	ends         []rasterEnd // of a transistor: each source or drain net; of a diode the cathode
	w, l         float64
	area, perim  float64 // of a diode
	bulk         []netKey
	bulkUnstated bool
}

// rasterEnd is one net at a channel, with its share of junction area and perimeter and its border with the channel.
type rasterEnd struct {
	net               netKey
	area, perim, edge float64
}

// unitEdge is the border between two squares, by its two ends.
type unitEdge struct {
	a, b     spot
	junction int
}

// channelEdges lists the borders of a channel's squares with junctions.
func (o *oracle) channelEdges(squares []spot) []unitEdge {
	var out []unitEdge
	for _, s := range squares {
		for _, d := range directions {
			n, ok := o.conductors[diffusion].of[spot{s.x + d.x, s.y + d.y}]
			if !ok {
				continue
			}
			a, b := s, spot{s.x + 1, s.y + 1}
			switch d {
			case spot{1, 0}:
				a.x++
			case spot{-1, 0}:
				b.x--
			case spot{0, 1}:
				a.y++
			case spot{0, -1}:
				b.y--
			}
			out = append(out, unitEdge{a, b, n})
		}
	}
	return out
}

// stretches counts unbroken runs of edges along one junction.
func stretches(edges []unitEdge) int {
	mark := make([]bool, len(edges))
	n := 0
	for i := range edges {
		if mark[i] {
			continue
		}
		n++
		mark[i] = true
		for todo := []int{i}; len(todo) > 0; {
			e := edges[todo[0]]
			todo = todo[1:]
			for k, f := range edges {
				if !mark[k] && f.junction == e.junction && (f.a == e.a || f.a == e.b || f.b == e.a || f.b == e.b) {
					mark[k] = true
					todo = append(todo, k)
				}
			}
		}
	}
	return n
}

// devices lists what the drawing holds. A channel with more than two nets counts once, with all of them.
func (o *oracle) devices() []rasterDevice {
	var out []rasterDevice
	p := float64(o.pitch)
	channels := o.fill(o.crossing)
	border := map[int]float64{} // by junction, with all channels
	for _, squares := range channels.squares {
		for _, e := range o.channelEdges(squares) {
			border[e.junction] += p
		}
	}
	for _, squares := range channels.squares {
		edges := o.channelEdges(squares)
		if len(edges) == 0 {
			continue
		}
		d := rasterDevice{at: o.corner(squares), w: p * float64(len(edges))}
		if stretches(edges) > 1 {
			d.w /= 2
		}
		d.l = p * p * float64(len(squares)) / d.w
		d.gate, _ = o.at(poly, squares[0])
		o.polarity(&d, squares)
		for _, e := range edges {
			net := o.find(netKey{diffusion, e.junction})
			i := slices.IndexFunc(d.ends, func(x rasterEnd) bool { return x.net == net })
			if i < 0 {
				i = len(d.ends)
				d.ends = append(d.ends, rasterEnd{net: net})
			}
			area, perim := o.measure(e.junction)
			d.ends[i].edge += p
			d.ends[i].area += area * p / border[e.junction]
			d.ends[i].perim += perim * p / border[e.junction]
		}
		out = append(out, d)
	}
	for _, squares := range o.fill(o.diode).squares {
		d := rasterDevice{at: o.corner(squares), kind: netlist.Diode, area: p * p * float64(len(squares)), bulk: []netKey{substrate}}
		for _, s := range squares {
			for _, q := range directions {
				if !o.diode(spot{s.x + q.x, s.y + q.y}) {
					d.perim += p
				}
			}
		}
		k, _ := o.at(diffusion, squares[0])
		d.ends = []rasterEnd{{net: o.find(k)}}
		out = append(out, d)
	}
	return out
}

// polarity applies the stack's two [[mos]] rules, and says which nets may be the bulk.
func (o *oracle) polarity(d *rasterDevice, squares []spot) {
	p, w := 0, 0
	for _, s := range squares {
		if o.on(s, pplus) {
			p++
		}
		if k, ok := o.at(nwell, s); ok {
			w++
			if !slices.Contains(d.bulk, k) {
				d.bulk = append(d.bulk, k)
			}
		}
	}
	switch n := len(squares); {
	case 2*p < n && 2*w < n:
		d.kind, d.bulk = netlist.NMOS, []netKey{substrate}
	case 2*p > n && 2*w > n:
		d.kind = netlist.PMOS
	default:
		d.kind, d.bulk, d.bulkUnstated = netlist.MOS, nil, true
	}
}

// measure returns a junction's area and perimeter: taps and diodes are no part of it, and beside other diffusion
// (channel, tap, diode) there is no side wall.
func (o *oracle) measure(junction int) (area, perim float64) {
	p := float64(o.pitch)
	for _, s := range o.conductors[diffusion].squares[junction] {
		if o.wellTap(s) || o.substrateTap(s) || o.diode(s) {
			continue
		}
		area += p * p
		for _, d := range directions {
			if !o.on(spot{s.x + d.x, s.y + d.y}, diffusion) {
				perim += p
			}
		}
	}
	return area, perim
}

func (o *oracle) corner(squares []spot) geom.Point {
	s := slices.MinFunc(squares, func(a, b spot) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x)) })
	return geom.Point{X: s.x * o.pitch, Y: s.y * o.pitch}
}

// place is where a net has its lowest, then leftmost corner on a conductor; that of no two nets is equal.
type place struct {
	layer string
	at    geom.Point
}

// lowest returns the place of each net.
func (o *oracle) lowest() map[netKey]place {
	names := []string{"diffusion", "poly", "nwell", "pplus", "photo", "contact", "metal1", "via1", "metal2"}
	out := map[netKey]place{}
	for l := range layerCount { // of equal corners that of the first layer counts
		if o.conductors[l] == nil || l == contact || l == via1 { // a contact is no place of a net
			continue
		}
		for i, squares := range o.conductors[l].squares {
			r, p := o.find(netKey{l, i}), o.corner(squares)
			if q, ok := out[r]; !ok || cmp.Or(cmp.Compare(p.Y, q.at.Y), cmp.Compare(p.X, q.at.X)) < 0 {
				out[r] = place{names[l], p}
			}
		}
	}
	if r := o.find(substrate); out[r].layer == "" {
		out[r] = place{layer: "substrate"}
	}
	return out
}

// against compares the raster's devices and nets with an extracted circuit.
func (o *oracle) against(c *netlist.Circuit) error {
	byPlace := map[string][]netlist.Device{}
	key := func(at geom.Point, diode bool) string { return fmt.Sprint(at, diode) }
	for _, d := range c.Devices {
		k := key(d.At, d.Kind == netlist.Diode)
		byPlace[k] = append(byPlace[k], d)
	}
	lowest := o.lowest()
	same := func(k netKey, n netlist.Net) error {
		info, want := c.Nets[n], lowest[o.find(k)]
		if info.Layer != want.layer || info.At != want.at {
			return fmt.Errorf("net of %v begins on %s at %v, the engine's on %s at %v", k, want.layer, want.at, info.Layer, info.At)
		}
		return nil
	}
	for r, texts := range o.labels {
		for _, text := range texts {
			n := slices.IndexFunc(c.Nets, func(i netlist.NetInfo) bool { return i.Name == text || slices.Contains(i.Labels, text) })
			if n < 0 {
				return fmt.Errorf("label %s is lost", text)
			}
			if err := same(r, netlist.Net(n)); err != nil {
				return fmt.Errorf("label %s: %w", text, err)
			}
		}
	}
	for _, d := range o.devices() {
		k := key(d.at, d.kind == netlist.Diode)
		if err := o.sameDevice(d, byPlace[k], same); err != nil {
			return fmt.Errorf("at %v: %w", d.at, err)
		}
		delete(byPlace, k)
	}
	for _, d := range byPlace {
		return fmt.Errorf("the engine finds %v, the raster none", d[0])
	}
	return nil
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-6*max(1, math.Abs(a)) }

func (o *oracle) sameDevice(d rasterDevice, got []netlist.Device, same func(netKey, netlist.Net) error) error {
	want := max(1, len(d.ends)*(len(d.ends)-1)/2)
	if len(got) != want {
		return fmt.Errorf("%d devices, the raster says %d of %v", len(got), want, d)
	}
	for _, g := range got {
		if g.Kind != d.kind {
			return fmt.Errorf("kind %v, the raster says %v", g.Kind, d.kind)
		}
		if d.kind == netlist.Diode {
			if !near(g.Area, d.area) || !near(g.Perim, d.perim) {
				return fmt.Errorf("diode %v, the raster says %v", g, d)
			}
			if err := same(d.ends[0].net, g.Terminals[netlist.Cathode]); err != nil {
				return err
			}
			if err := same(substrate, g.Terminals[netlist.Anode]); err != nil && len(o.soft[substrate]) == 0 {
				return err
			}
			continue
		}
		if err := same(d.gate, g.Terminals[netlist.Gate]); err != nil {
			return fmt.Errorf("gate: %w", err)
		}
		if !d.bulkUnstated && len(d.bulk) == 1 && len(o.soft[d.bulk[0]]) == 0 {
			if err := same(d.bulk[0], g.Terminals[netlist.Bulk]); err != nil {
				return fmt.Errorf("bulk: %w", err)
			}
		}
	}
	if d.kind == netlist.Diode {
		return nil
	}
	pairs := [][2]int{{0, 0}}
	if len(d.ends) > 1 {
		pairs = nil
		for i := range d.ends {
			for k := range i {
				pairs = append(pairs, [2]int{k, i})
			}
		}
	}
	area := d.w * d.l
	for _, p := range pairs {
		a, b := d.ends[p[0]], d.ends[p[1]]
		w, l := d.w, d.l
		if n := float64(len(d.ends) - 1); n > 1 { // each end is in so many devices, which share its junction
			w = (a.edge + b.edge) / 2
			a.area, a.perim, b.area, b.perim = a.area/n, a.perim/n, b.area/n, b.perim/n
		}
		// Any of the devices that is left and has these measures, with the nets one way or the other.
		i := slices.IndexFunc(got, func(g netlist.Device) bool {
			if !near(g.W, w) || !near(g.L, l) {
				return false
			}
			if p[0] == p[1] {
				return g.Terminals[netlist.Drain] == g.Terminals[netlist.Source] && near(g.AS+g.AD, a.area) && near(g.PS+g.PD, a.perim)
			}
			way := func(d, s rasterEnd) bool {
				return near(g.AD, d.area) && near(g.PD, d.perim) && near(g.AS, s.area) && near(g.PS, s.perim) &&
					same(d.net, g.Terminals[netlist.Drain]) == nil && same(s.net, g.Terminals[netlist.Source]) == nil
			}
			return way(a, b) || way(b, a)
		})
		if i < 0 {
			return fmt.Errorf("no device with W %v L %v (area %v) between %v and %v among %+v", w, l, area, a, b, got)
		}
		if err := same(a.net, got[i].Terminals[netlist.Source]); p[0] == p[1] && err != nil {
			return err
		}
		got = slices.Delete(slices.Clone(got), i, i+1)
	}
	return nil
}

// TestAgainstRaster holds random drawings along grid lines against the raster: nets at labels, devices, W, L, AS, AD,
// PS, PD. Each is extracted with a label on every part of every conductor, with a few, and with none.
func TestAgainstRaster(t *testing.T) {
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	rounds := 250
	if os.Getenv("UNDERMETAL_FULL") != "" {
		rounds = 6000
	}
	devices, unclear, compared := 0, 0, 0
	for seed := range rounds {
		rnd := rand.New(rand.NewPCG(uint64(seed), 91))
		pitch := []int{20, 100, 350}[rnd.IntN(3)]
		shapes := rasterScene(rnd, pitch)
		r := rasterOf(shapes, pitch)
		all := labelAll(r)
		some := all[:0:0]
		for _, l := range all {
			if rnd.IntN(8) == 0 {
				some = append(some, l)
			}
		}
		for i, labels := range [][]layout.Label{all, some, nil} {
			o := newOracle(r, labels)
			if o.unclear {
				unclear++
				continue
			}
			c := &layout.Cell{Name: "RASTER", Shapes: shapes, Labels: labels}
			d := drawn{"raster", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
			res := run(t, d, extract.Options{Strips: 1 + rnd.IntN(9)})
			if err := o.against(res.Circuit); err != nil {
				t.Fatalf("seed %d, labels %d: %v", seed, i, err)
			}
			compared++
			devices += len(res.Circuit.Devices)
		}
	}
	t.Logf("%d circuits compared, %d devices; %d left open by the rules", compared, devices, unclear)
	if devices < rounds || unclear > rounds {
		t.Errorf("too little was compared: %d devices, %d circuits left out", devices, unclear)
	}
}

// labelAll puts a label on the first square of every connected part of every conductor, an edge of the part among them.
func labelAll(r *raster) []layout.Label {
	var out []layout.Label
	o := newOracle(r, nil)
	for _, l := range []int{diffusion, poly, metal1, metal2} {
		for i, squares := range o.conductors[l].squares {
			s := squares[len(squares)/2]
			out = append(out, layout.Label{Layer: layout.Layer(l), Text: fmt.Sprintf("L%dP%d", l, i),
				At: geom.Point{X: s.x*r.pitch + r.pitch/2, Y: s.y*r.pitch + r.pitch/2}})
		}
	}
	return out
}
