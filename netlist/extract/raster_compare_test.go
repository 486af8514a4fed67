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
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

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

// sameNet returns what compares a net of the raster with one of the circuit, by place.
func (o *oracle) sameNet(c *netlist.Circuit) func(netKey, netlist.Net) error {
	lowest := o.lowest()
	return func(k netKey, n netlist.Net) error {
		info, want := c.Nets[n], lowest[o.find(k)]
		if info.Layer != want.layer || info.At != want.at {
			return fmt.Errorf("net of %v begins on %s at %v, the engine's on %s at %v", k, want.layer, want.at, info.Layer, info.At)
		}
		return nil
	}
}

// against compares the raster's devices and nets with an extracted circuit.
func (o *oracle) against(c *netlist.Circuit) error {
	byPlace := map[string][]netlist.Device{}
	key := func(at geom.Point, diode bool) string { return fmt.Sprint(at, diode) }
	for _, d := range c.Devices {
		if d.Kind == netlist.Capacitor || d.Kind == netlist.Resistor {
			continue // see againstPassives
		}
		k := key(d.At, d.Kind == netlist.Diode)
		byPlace[k] = append(byPlace[k], d)
	}
	same := o.sameNet(c)
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
	return o.againstPassives(c, same)
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
// PS, PD, capacitors, resistors, pads. Each is extracted with a label on every part of every conductor, with a few, and with none.
func TestAgainstRaster(t *testing.T) {
	st, passive := kilnStack(t), passiveStack(t)
	rounds := 250
	if os.Getenv("UNDERMETAL_FULL") != "" {
		rounds = 6000
	}
	devices, unclear, compared, pads := 0, 0, 0, 0
	kinds := map[netlist.Kind]int{}
	for seed := range rounds {
		rnd := rand.New(rand.NewPCG(uint64(seed), 91))
		pitch := []int{20, 100, 350}[rnd.IntN(3)]
		shapes := rasterScene(rnd, pitch)
		st := st
		if seed%2 == 1 {
			st = passive
			shapes = append(shapes, passiveScene(rnd, pitch)...)
		}
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
			if err := o.againstPads(res); err != nil {
				t.Fatalf("seed %d, labels %d: %v", seed, i, err)
			}
			for _, d := range res.Circuit.Devices {
				kinds[d.Kind]++
			}
			pads += len(res.Pads)
			compared++
			devices += len(res.Circuit.Devices)
		}
	}
	t.Logf("%d circuits compared, %d devices (%v), %d pads; %d left open by the rules", compared, devices, kinds, pads, unclear)
	if devices < rounds || unclear > rounds || kinds[netlist.Capacitor] < rounds || kinds[netlist.Resistor] < rounds || pads < rounds {
		t.Errorf("too little was compared: %d devices (%v), %d pads, %d circuits left out", devices, kinds, pads, unclear)
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
