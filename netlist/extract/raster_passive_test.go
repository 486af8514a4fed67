package extract_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// passiveRules makes capacitors and resistors of the imager's layers where a mark lies.
const passiveRules = `
[[layer]]
name = "resmark"
role = "mark"
[[layer]]
name = "capmark"
role = "mark"
[[layer]]
name = "pad"
role = "pad"
[[capacitor]]
model = "cmm"
plates = ["metal2", "metal1"]
where = ["capmark"]
area_af_um2 = 1000
edge_af_um = 50
[[capacitor]]
model = "cpd"
plates = ["poly", "diffusion"]
where = ["capmark", "!nwell"]
area_af_um2 = 2000
[[capacitor]]
model = "cpw"
plates = ["poly", "nwell"]
where = ["capmark"]
area_af_um2 = 3000
edge_af_um = 7
[[resistor]]
model = "rpoly"
body = "poly"
where = ["resmark", "!pplus"]
sheet_ohm = 10
[[resistor]]
model = "rpolyp"
body = "poly"
where = ["resmark"]
sheet_ohm = 300
[[resistor]]
model = "rdiff"
body = "diffusion"
where = ["resmark"]
sheet_ohm = 50
[[resistor]]
model = "rmetal"
body = "metal1"
where = ["resmark"]
sheet_ohm = 0.1
[[resistor]]
model = "rwell"
body = "nwell"
where = ["resmark"]
sheet_ohm = 1000
`

func passiveStack(t testing.TB) *stack.Stack {
	st, err := stack.Parse("passive.stack.toml", append(slices.Clone(kiln.Stack), passiveRules...))
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// passiveScene draws marks and pads, in the way of rasterScene.
func passiveScene(rnd *rand.Rand, pitch int) []layout.Shape {
	var out []layout.Shape
	for range 3 + rnd.IntN(10) {
		l := []int{resmark, resmark, capmark, capmark, pad}[rnd.IntN(5)]
		x, y := rnd.IntN(rasterSide-9), rnd.IntN(rasterSide-9)
		box := geom.Box(x*pitch, y*pitch, (x+1+rnd.IntN(8))*pitch, (y+1+rnd.IntN(8))*pitch)
		out = append(out, layout.Shape{Layer: layout.Layer(l), Polygon: geom.Polygon{box.Ring()}})
	}
	return out
}

// body reports whether a layer is a resistor at a square.
func (r *raster) body(s spot, layer int) bool {
	if !r.on(s, layer) || !r.on(s, resmark) {
		return false
	}
	switch layer {
	case poly, diffusion:
		return !r.crossing(s)
	case metal1, nwell:
		return true
	}
	return false
}

// rasterPassive is a capacitor or a resistor as the raster sees it.
type rasterPassive struct {
	at      geom.Point
	kind    netlist.Kind
	model   string
	ends    []netKey // in the order of place
	anyEnds bool     // nearest taps decide
	area    float64
	perim   float64
	w, l    float64 // 0 where not known
	value   float64 // not known where w is 0
	devices int
}

// plates lists the capacitors. aF is by µm² and µm.
func (o *oracle) plates(model string, upper, lower int, areaAF, edgeAF float64, in func(spot) bool) []rasterPassive {
	var out []rasterPassive
	p := float64(o.pitch)
	there := func(s spot) bool {
		_, up := o.at(upper, s)
		_, low := o.at(lower, s)
		return up && low && in(s)
	}
	for _, squares := range o.fill(there).squares {
		d := rasterPassive{at: o.corner(squares), kind: netlist.Capacitor, model: model, area: p * p * float64(len(squares)), devices: 1}
		for _, s := range squares {
			for _, q := range directions {
				if !there(spot{s.x + q.x, s.y + q.y}) {
					d.perim += p
				}
			}
		}
		a, _ := o.at(upper, squares[0])
		b, _ := o.at(lower, squares[0])
		d.anyEnds = len(o.soft[b]) > 0
		d.ends = []netKey{a, b}
		d.value = 1e-18 * (areaAF*d.area/1e6 + edgeAF*d.perim/1e3)
		out = append(out, d)
	}
	return out
}

// low returns the lower, then left end of an edge.
func (e unitEdge) low() spot {
	if e.b.y < e.a.y || e.b.y == e.a.y && e.b.x < e.a.x {
		return e.b
	}
	return e.a
}

// resistors lists the resistors of a layer.
func (o *oracle) resistors(layer int, model func([]spot) (string, float64)) []rasterPassive {
	var out []rasterPassive
	p := float64(o.pitch)
	for _, squares := range o.fill(func(s spot) bool { return o.body(s, layer) }).squares {
		d := rasterPassive{at: o.corner(squares), kind: netlist.Resistor, area: p * p * float64(len(squares)), devices: 1}
		var ohm float64
		d.model, ohm = model(squares)
		edges := o.edgesWith(layer, squares)
		slices.SortFunc(edges, func(e, f unitEdge) int { // by the lowest, then leftmost end, then by the parts
			g, h := e.low(), f.low()
			i, k := o.corner(o.conductors[layer].squares[e.junction]), o.corner(o.conductors[layer].squares[f.junction])
			return cmp.Or(cmp.Compare(g.y, h.y), cmp.Compare(g.x, h.x), cmp.Compare(i.Y, k.Y), cmp.Compare(i.X, k.X))
		})
		for _, e := range edges {
			k := netKey{layer, e.junction}
			d.anyEnds = d.anyEnds || len(o.soft[k]) > 0
			if !slices.ContainsFunc(d.ends, func(x netKey) bool { return o.find(x) == o.find(k) }) {
				d.ends = append(d.ends, k)
			}
		}
		switch n := len(d.ends); {
		case n > 2:
			d.devices = n * (n - 1) / 2
		case stretches(edges) < 2:
			continue
		default:
			d.w = p * float64(len(edges)) / 2
			d.l = d.area / d.w
			d.value = ohm * d.l / d.w
			d.ends = []netKey{d.ends[0], d.ends[n-1]}
		}
		out = append(out, d)
	}
	return out
}

func (o *oracle) passives() []rasterPassive {
	always := func(name string, ohm float64) func([]spot) (string, float64) {
		return func([]spot) (string, float64) { return name, ohm }
	}
	out := o.plates("cmm", metal2, metal1, 1000, 50, func(s spot) bool { return o.on(s, capmark) })
	out = append(out, o.plates("cpd", poly, diffusion, 2000, 0, func(s spot) bool { return o.on(s, capmark) && !o.on(s, nwell) })...)
	out = append(out, o.plates("cpw", poly, nwell, 3000, 7, func(s spot) bool { return o.on(s, capmark) && !o.crossing(s) })...)
	out = append(out, o.resistors(poly, func(squares []spot) (string, float64) {
		p := 0
		for _, s := range squares {
			if o.on(s, pplus) {
				p++
			}
		}
		if 2*p > len(squares) {
			return "rpolyp", 300
		}
		return "rpoly", 10
	})...)
	out = append(out, o.resistors(diffusion, always("rdiff", 50))...)
	out = append(out, o.resistors(metal1, always("rmetal", 0.1))...)
	return append(out, o.resistors(nwell, always("rwell", 1000))...)
}

// againstPassives compares the raster's capacitors and resistors with those of an extracted circuit.
func (o *oracle) againstPassives(c *netlist.Circuit, same func(netKey, netlist.Net) error) error {
	type key struct {
		at    geom.Point
		model string
	}
	got := map[key][]netlist.Device{}
	for _, d := range c.Devices {
		if d.Kind == netlist.Capacitor || d.Kind == netlist.Resistor {
			k := key{d.At, d.Model}
			got[k] = append(got[k], d)
		}
	}
	for _, d := range o.passives() {
		k := key{d.at, d.model}
		if err := o.samePassive(d, got[k], same); err != nil {
			return fmt.Errorf("%s at %v: %w", d.model, d.at, err)
		}
		delete(got, k)
	}
	for _, d := range got {
		return fmt.Errorf("the engine finds %v, the raster none", d[0])
	}
	return nil
}

func (o *oracle) samePassive(d rasterPassive, got []netlist.Device, same func(netKey, netlist.Net) error) error {
	if d.anyEnds && d.kind == netlist.Resistor { // ends may be on the net of one tap
		return nil
	}
	if len(got) != d.devices {
		return fmt.Errorf("%d devices, the raster says %d", len(got), d.devices)
	}
	for i, g := range got {
		if !near(g.Area, d.area) || !near(g.Perim, d.perim) || !near(g.W, d.w) || !near(g.L, d.l) {
			return fmt.Errorf("%+v, the raster says %+v", g, d)
		}
		if known := d.value != 0; known && !near(g.Value*1e18, d.value*1e18) || known == math.IsNaN(g.Value) {
			return fmt.Errorf("value %v, the raster says %v", g.Value, d.value)
		}
		if d.anyEnds {
			continue
		}
		ends := d.ends
		if len(ends) > 2 {
			ends = pair(ends, i)
		}
		for t, k := range ends {
			if err := same(k, g.Terminals[t]); err != nil {
				return fmt.Errorf("terminal %d: %w", t, err)
			}
		}
	}
	return nil
}

// pair returns the i-th pair of ends.
func pair(ends []netKey, i int) []netKey {
	for a := range ends {
		for b := a + 1; b < len(ends); b++ {
			if i == 0 {
				return []netKey{ends[a], ends[b]}
			}
			i--
		}
	}
	panic("more pairs than there are")
}

// againstPads compares the pads, and what lies under them.
func (o *oracle) againstPads(res *extract.Result) error {
	all := o.fill(func(s spot) bool { return o.on(s, pad) })
	if len(all.squares) != len(res.Pads) {
		return fmt.Errorf("%d pads, the raster says %d", len(res.Pads), len(all.squares))
	}
	same := o.sameNet(res.Circuit)
	for i, squares := range all.squares { // both are in the order of place
		got := res.Pads[i]
		box := geom.Box(squares[0].x, squares[0].y, squares[0].x+1, squares[0].y+1)
		under := map[int]map[netKey]int{metal1: {}, metal2: {}}
		count := map[int]int{}
		for _, s := range squares {
			box = geom.Box(min(box.Min.X, s.x), min(box.Min.Y, s.y), max(box.Max.X, s.x+1), max(box.Max.Y, s.y+1))
			for l, nets := range under {
				if k, ok := o.at(l, s); ok {
					nets[k]++
					count[l]++
				}
			}
		}
		if got.At != o.corner(squares) || got.Box != geom.Box(box.Min.X*o.pitch, box.Min.Y*o.pitch, box.Max.X*o.pitch, box.Max.Y*o.pitch) || !near(got.Area, float64(len(squares)*o.pitch*o.pitch)) {
			return fmt.Errorf("pad %+v, the raster says %v in squares of %d", got, box, o.pitch)
		}
		l, name := metal2, "metal2"
		if 4*count[metal2] < len(squares) && count[metal1] > count[metal2] {
			l, name = metal1, "metal1"
		}
		if count[l] == 0 {
			name = ""
		}
		if got.Metal != name {
			return fmt.Errorf("pad at %v lies over %q, the raster says %q", got.At, got.Metal, name)
		}
		if got.Net == netlist.NoNet {
			continue
		}
		most := 0
		for _, n := range under[l] {
			most = max(most, n)
		}
		ok := false
		for k, n := range under[l] {
			ok = ok || n == most && same(k, got.Net) == nil
		}
		if !ok {
			return fmt.Errorf("pad at %v is on net %d, which is none of %v", got.At, got.Net, under[l])
		}
	}
	return nil
}
