package extract_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// sceneSide is the width in nm of what the strips divide: a power of two times the pitch, so that the borders of 2, 4,
// 8, 16 and 32 strips are grid lines.
const (
	scenePitch = 100
	sceneSide  = 32 * scenePitch
)

// scene is a random drawing: that of rasterScene, wires with 45° bends on even coordinates (whose crossings are grid
// points, so that no rounding depends on the direction) and, if asked for, slanted ones, with passiveScene where the stack
// has its layers. Two marks make the strips
// begin at x = 0 and end at sceneSide.
func scene(rnd *rand.Rand, st *stack.Stack, slanted bool) drawn {
	c := &layout.Cell{Name: "SCENE", Shapes: rasterScene(rnd, scenePitch)}
	if len(st.Layers) > layerCount {
		c.Shapes = append(c.Shapes, passiveScene(rnd, scenePitch)...)
	}
	for range rnd.IntN(8) {
		l := layout.Layer([]int{poly, metal1, diffusion, metal2, contact}[rnd.IntN(5)])
		c.Shapes = append(c.Shapes, layout.Shape{Layer: l, Polygon: geom.Polygon{bentWire(rnd)}})
	}
	for range rnd.IntN(6) {
		if !slanted {
			break
		}
		x, y, w, h := rnd.IntN(1500), rnd.IntN(1500), 300+rnd.IntN(1000), 100+rnd.IntN(1000)
		r := geom.Ring{{X: x, Y: y}, {X: x + w, Y: y + h}, {X: x + w - 90, Y: y + h + 110}, {X: x - 90, Y: y + 110}}
		c.Shapes = append(c.Shapes, layout.Shape{Layer: layout.Layer([]int{poly, metal1, diffusion, nwell}[rnd.IntN(4)]), Polygon: geom.Polygon{r}})
	}
	for i := range c.Shapes {
		for _, r := range c.Shapes[i].Polygon {
			for k := range r {
				r[k].X = min(max(r[k].X, 2), sceneSide-2)
			}
		}
	}
	for _, x := range []int{1, sceneSide - 21} {
		c.Shapes = append(c.Shapes, layout.Shape{Layer: metal2, Polygon: geom.Polygon{geom.Box(x, 9000, x+20, 9020).Ring()}})
	}
	return drawn{"scene", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
}

// bentWire goes right, up at 45° and right again, or the same upright.
func bentWire(rnd *rand.Rand) geom.Ring {
	a, k, b, t := 100*(1+rnd.IntN(6)), 100*(1+rnd.IntN(7)), 100*(1+rnd.IntN(6)), 100+20*rnd.IntN(8)
	x, y := 100*(1+rnd.IntN(12)), 100*rnd.IntN(12)
	r := geom.Ring{{X: 0, Y: 0}, {X: a, Y: 0}, {X: a + k, Y: k}, {X: a + k + b, Y: k}, {X: a + k + b, Y: k + t}, {X: a + k, Y: k + t}, {X: a, Y: t}, {X: 0, Y: t}}
	flip := rnd.IntN(2) == 0
	for i, p := range r {
		if flip {
			p = geom.Point{X: p.Y, Y: p.X}
		}
		r[i] = geom.Point{X: p.X + x, Y: p.Y + y}
	}
	return r
}

func sceneRounds(few, full int) int {
	if os.Getenv("UNDERMETAL_FULL") != "" {
		return full
	}
	return few
}

func kilnStack(t testing.TB) *stack.Stack {
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// sceneStacks returns the imager's stack, and it with passiveRules.
func sceneStacks(t testing.TB) [2]*stack.Stack { return [2]*stack.Stack{kilnStack(t), passiveStack(t)} }

// labelScene puts a few labels on corners and middles of shapes of the top cell.
func labelScene(rnd *rand.Rand, d drawn) {
	for i := range 1 + rnd.IntN(4) {
		s := d.top.Shapes[rnd.IntN(len(d.top.Shapes))]
		if l := s.Layer; l == poly || l == metal1 || l == metal2 || l == diffusion {
			b := s.Polygon.Bounds()
			at := geom.Point{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}
			d.top.Labels = append(d.top.Labels, layout.Label{Layer: l, At: at, Text: fmt.Sprintf("N%d", i)})
		}
	}
}

// movedScene applies t to every shape and label, drawn anew.
func movedScene(d drawn, t geom.Transform) drawn {
	c := &layout.Cell{Name: d.top.Name}
	for _, s := range d.top.Shapes {
		c.Shapes = append(c.Shapes, layout.Shape{Layer: s.Layer, Polygon: t.ApplyPolygon(s.Polygon)})
	}
	for _, l := range d.top.Labels {
		l.At = t.Apply(l.At)
		c.Labels = append(c.Labels, l)
	}
	return drawn{d.name, &layout.Library{Layers: d.lib.Layers, Cells: []*layout.Cell{c}}, c, d.st}
}

// tally is what of a result has no place and no direction: the devices with their measures and names of nets, and the
// warnings, each as text, in order.
func tally(r *extract.Result) []string {
	var out []string
	for _, d := range r.Circuit.Devices {
		name := func(t int) string {
			if d.Terminals[t] < 0 {
				return ""
			}
			return r.Circuit.Nets[d.Terminals[t]].Name
		}
		ends := []string{fmt.Sprintf("%s %.3f %.3f", name(netlist.Drain), d.AD, d.PD), fmt.Sprintf("%s %.3f %.3f", name(netlist.Source), d.AS, d.PS)}
		if !d.Kind.IsMOS() {
			ends = []string{name(0), name(1)}
		} else if d.Terminals[netlist.Drain] == d.Terminals[netlist.Source] { // which region is called which is free
			ends = []string{fmt.Sprintf("%.3f %.3f", d.AD+d.AS, d.PD+d.PS)}
		}
		slices.Sort(ends)
		gate := ""
		if d.Kind.IsMOS() {
			gate = name(netlist.Gate)
		}
		out = append(out, fmt.Sprintf("%v %s W %.4f L %.4f A %.3f P %.3f V %.6g %s %s %s", d.Kind, d.Model, d.W, d.L, d.Area, d.Perim, d.Value, gate, name(netlist.Bulk), ends))
	}
	for _, p := range r.Pads {
		out = append(out, fmt.Sprintf("pad of %.3f over %s", p.Area, p.Metal))
	}
	for _, w := range r.Warnings {
		out = append(out, w.Code+" "+w.Layer+" "+w.Text)
	}
	slices.Sort(out)
	return out
}

// TestSceneTurned: turned by quarters and mirrored. Without labels, since which of several wells a labelled net comes to
// first goes by place.
func TestSceneTurned(t *testing.T) {
	stacks := sceneStacks(t)
	for seed := range sceneRounds(40, 1000) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 103))
		d := scene(rnd, stacks[seed/2%2], false)
		want := run(t, d, extract.Options{})
		way := 1 + rnd.IntN(7)
		tr := geom.NewTransform(way&4 != 0, 1, float64(90*(way&3)), geom.Point{X: 1001, Y: -77})
		got := run(t, movedScene(d, tr), extract.Options{})
		if a, b := tally(want), tally(got); !slices.Equal(a, b) {
			t.Errorf("seed %d, %v: %s", seed, tr, firstDifference(a, b))
			continue
		}
		checkSame(t, fmt.Sprintf("seed %d, %v", seed, tr), want, got, 1e-6)
	}
}

// showDifference says what of two results is not equal.
func showDifference(t *testing.T, a, b *extract.Result) {
	t.Helper()
	for i := range a.Circuit.Nets {
		if i < len(b.Circuit.Nets) && !reflect.DeepEqual(a.Circuit.Nets[i], b.Circuit.Nets[i]) {
			t.Logf("net %d: %+v, not %+v", i, b.Circuit.Nets[i], a.Circuit.Nets[i])
		}
	}
	for i := range a.Circuit.Devices {
		if i < len(b.Circuit.Devices) && !reflect.DeepEqual(a.Circuit.Devices[i], b.Circuit.Devices[i]) {
			t.Logf("device %d: %+v, not %+v", i, b.Circuit.Devices[i], a.Circuit.Devices[i])
		}
	}
	for i := range a.Warnings {
		if i < len(b.Warnings) && a.Warnings[i] != b.Warnings[i] {
			t.Logf("warning %d: %+v, not %+v", i, b.Warnings[i], a.Warnings[i])
		}
	}
}

func firstDifference(a, b []string) string {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("%q, not %q", b[i], a[i])
		}
	}
	return fmt.Sprintf("%d lines, not %d", len(b), len(a))
}

// TestSceneSplit: every shape cut at grid heights or widths, pieces mixed: the same to the last digit.
func TestSceneSplit(t *testing.T) {
	stacks := sceneStacks(t)
	for seed := range sceneRounds(60, 1500) {
		rnd := rand.New(rand.NewPCG(uint64(seed), 104))
		d := scene(rnd, stacks[seed/2%2], false)
		want := run(t, d, extract.Options{Facts: true})
		cut := movedScene(d, geom.Identity)
		cut.top.Shapes = nil
		for _, s := range d.top.Shapes {
			for _, pg := range cutPolygon(s.Polygon, rnd) {
				cut.top.Shapes = append(cut.top.Shapes, layout.Shape{Layer: s.Layer, Polygon: pg})
			}
		}
		rnd.Shuffle(len(cut.top.Shapes), func(i, j int) {
			cut.top.Shapes[i], cut.top.Shapes[j] = cut.top.Shapes[j], cut.top.Shapes[i]
		})
		got := run(t, cut, extract.Options{Facts: true})
		for _, f := range []*extract.Facts{want.Facts, got.Facts} { // pieces of contacts count one by one
			for i := range f.Regions {
				f.Regions[i].Contacts = 0
			}
		}
		if diff := difference(want, got); diff != "" {
			t.Fatalf("seed %d: %s", seed, diff)
		}
	}
}

// cutPolygon cuts a polygon of edges at 0, 45 and 90° along up to three lines of whole coordinates. Each piece keeps
// the winding of all points on its side; bridges along the cut cover nothing.
func cutPolygon(pg geom.Polygon, rnd *rand.Rand) []geom.Polygon {
	out := []geom.Polygon{pg}
	for range rnd.IntN(4) {
		upright, at := rnd.IntN(2) == 0, 20*rnd.IntN(150)
		if rnd.IntN(2) == 0 {
			at = 100 * rnd.IntN(30)
		}
		var next []geom.Polygon
		for _, p := range out {
			for _, side := range []int{1, -1} {
				if q := halfOf(p, upright, at, side); len(q) > 0 {
					next = append(next, q)
				}
			}
		}
		out = next
	}
	return out
}

// halfOf clips every ring to one side of a line (Sutherland and Hodgman's way, from memory).
func halfOf(pg geom.Polygon, upright bool, at, side int) geom.Polygon {
	var out geom.Polygon
	for _, r := range pg {
		var q geom.Ring
		for i, a := range r {
			b := r[(i+1)%len(r)]
			u, v := side*(a.Y-at), side*(b.Y-at)
			if upright {
				u, v = side*(a.X-at), side*(b.X-at)
			}
			if u >= 0 {
				q = append(q, a)
			}
			if u > 0 && v < 0 || u < 0 && v > 0 { // exact: edges are at 0, 45 or 90°
				q = append(q, geom.Point{X: a.X + (b.X-a.X)*u/(u-v), Y: a.Y + (b.Y-a.Y)*u/(u-v)})
			}
		}
		if len(q) > 2 {
			out = append(out, q)
		}
	}
	return out
}
