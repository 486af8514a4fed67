package extract_test

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/layout/sweep"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
	"undermetal/testdata/kiln"
)

// drawn is a cell with its stack.
type drawn struct {
	name string
	lib  *layout.Library
	top  *layout.Cell
	st   *stack.Stack
}

// samples returns a part of the imager, a drawing of random polygons with 45° edges, and cells of the corpus.
func samples(t testing.TB) []drawn {
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	lib := kiln.Library()
	top := lib.Cell("IMAGER")
	for i := range top.Placements { // 3 × 2 pixels do
		p := &top.Placements[i]
		p.Columns, p.ColumnExtent = 3, geom.Vec{X: 2 * kiln.Pitch}
		if p.Rows > 1 {
			p.Rows, p.RowExtent = 2, geom.Vec{Y: kiln.Pitch}
		}
	}
	all := []drawn{{"imager", lib, top, st}, randomDrawing(st)}
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Log("UNDERMETAL_CORPUS is not set: no published layouts among the samples")
		return all
	}
	st, err = stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	clib := readGDS(t, filepath.Join(root, "ihp-sg13g2/sg13g2_stdcell.gds"), st)
	for _, name := range []string{"sg13g2_dfrbp_1", "sg13g2_sighold", "sg13g2_antennanp", "sg13g2_mux4_1"} {
		all = append(all, drawn{name, clib, clib.Cell(name), st})
	}
	return all
}

func readGDS(t testing.TB, name string, st *stack.Stack) *layout.Library {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(name, f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	return lib
}

// randomDrawing scatters octagons and rectangles over all layers: no sensible circuit, but every kind of meeting.
func randomDrawing(st *stack.Stack) drawn {
	rnd := rand.New(rand.NewPCG(7, 7))
	c := &layout.Cell{Name: "SOUP"}
	for range 400 {
		x, y := rnd.IntN(300)*100, rnd.IntN(300)*100
		w, h := 600+rnd.IntN(30)*100, 600+rnd.IntN(30)*100
		r := geom.Box(x, y, x+w, y+h).Ring()
		if rnd.IntN(2) == 0 {
			k := 200
			r = geom.Ring{{X: x + k, Y: y}, {X: x + w - k, Y: y}, {X: x + w, Y: y + k}, {X: x + w, Y: y + h - k}, {X: x + w - k, Y: y + h},
				{X: x + k, Y: y + h}, {X: x, Y: y + h - k}, {X: x, Y: y + k}}
		}
		l := layout.Layer(rnd.IntN(len(st.Layers)))
		c.Shapes = append(c.Shapes, layout.Shape{Layer: l, Polygon: geom.Polygon{r}})
	}
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}
	return drawn{"soup", lib, c, st}
}

func run(t testing.TB, d drawn, opt extract.Options) *extract.Result {
	t.Helper()
	res, err := extract.Run(context.Background(), d.lib, d.top, d.st, opt)
	if err != nil {
		t.Fatalf("%s: %v", d.name, err)
	}
	return res
}

// flatten returns the drawing as one cell without placements, each shape changed by f.
func flatten(t testing.TB, d drawn, f func(layout.Shape) []layout.Shape) drawn {
	flat, err := layout.Flatten(d.top)
	if err != nil {
		t.Fatal(err)
	}
	c := &layout.Cell{Name: d.top.Name}
	flat.Shapes(func(s *layout.Shape, tr geom.Transform) bool {
		n := layout.Shape{Layer: s.Layer, Polygon: tr.ApplyPolygon(s.Polygon)}
		c.Shapes = append(c.Shapes, f(n)...)
		return true
	})
	flat.Labels(func(l *layout.Label, at geom.Point, path string) {
		if path == "" {
			c.Labels = append(c.Labels, layout.Label{Layer: l.Layer, At: at, Text: l.Text})
		}
	})
	return drawn{d.name, &layout.Library{Layers: d.lib.Layers, Cells: []*layout.Cell{c}}, c, d.st}
}

func keep(s layout.Shape) []layout.Shape { return []layout.Shape{s} }

// TestSameForOrderWorkersStrips: the result is the same, to the last digit, whatever the order of the shapes, the number
// of workers and the width of the strips.
func TestSameForOrderWorkersStrips(t *testing.T) {
	for _, d := range samples(t) {
		d = flatten(t, d, keep)
		want := run(t, d, extract.Options{Workers: 1, Strips: 1, Facts: true})
		if len(want.Circuit.Devices) == 0 {
			t.Errorf("%s: no devices to compare", d.name)
		}
		rnd := rand.New(rand.NewPCG(3, 4))
		for _, strips := range []int{1, 2, 5, 16, 61} {
			for _, workers := range []int{1, 2, 8} {
				rnd.Shuffle(len(d.top.Shapes), func(i, j int) {
					d.top.Shapes[i], d.top.Shapes[j] = d.top.Shapes[j], d.top.Shapes[i]
				})
				got := run(t, d, extract.Options{Workers: workers, Strips: strips, Facts: true})
				if diff := difference(want, got); diff != "" {
					t.Errorf("%s, %d strips, %d workers, shuffled: %s", d.name, strips, workers, diff)
				}
			}
		}
	}
}

// difference compares two results: integers and names exactly, measures to 1e-6 nm, since sums of parts round.
func difference(a, b *extract.Result) string {
	x, y := a.Circuit, b.Circuit
	if !reflect.DeepEqual(x.Nets, y.Nets) || !slices.Equal(x.Ports, y.Ports) {
		return "other nets"
	}
	if len(x.Devices) != len(y.Devices) {
		return "another number of devices"
	}
	near := func(u, v float64) bool { return math.Abs(u-v) <= 1e-6*max(1, math.Abs(u)) }
	for i := range x.Devices {
		d, e := x.Devices[i], y.Devices[i]
		if d.At != e.At || d.Kind != e.Kind || d.Model != e.Model || d.Terminals != e.Terminals {
			return "another device"
		}
		for _, v := range [][2]float64{{d.W, e.W}, {d.L, e.L}, {d.AS, e.AS}, {d.AD, e.AD}, {d.PS, e.PS}, {d.PD, e.PD}, {d.Area, e.Area}, {d.Perim, e.Perim}} {
			if !near(v[0], v[1]) {
				return "other measures"
			}
		}
		if math.IsNaN(d.Value) != math.IsNaN(e.Value) || math.Abs(d.Value-e.Value) > 1e-9*math.Abs(d.Value) {
			return "another value"
		}
	}
	if !slices.EqualFunc(a.Pads, b.Pads, func(p, q extract.Pad) bool {
		ok := near(p.Area, q.Area)
		q.Area = p.Area
		return ok && p == q
	}) {
		return "other pads"
	}
	if !reflect.DeepEqual(a.Warnings, b.Warnings) {
		return "other warnings"
	}
	if a.Facts != nil && b.Facts != nil {
		return factsDifference(a.Facts, b.Facts)
	}
	return ""
}

// TestSameWhenMoved: moved, turned by quarters and mirrored, it is the same circuit with the same sizes.
func TestSameWhenMoved(t *testing.T) {
	for _, d := range samples(t) {
		want := run(t, d, extract.Options{})
		for _, tr := range []geom.Transform{
			geom.Move(geom.Point{X: 123457, Y: -98765}),
			geom.NewTransform(false, 1, 90, geom.Point{X: 17}), geom.NewTransform(false, 1, 180, geom.Point{}),
			geom.NewTransform(false, 1, 270, geom.Point{Y: -3}), geom.NewTransform(true, 1, 0, geom.Point{}),
			geom.NewTransform(true, 1, 90, geom.Point{X: 5, Y: 5}),
		} {
			c := &layout.Cell{Name: "MOVED", Placements: []layout.Placement{{Cell: d.top, Transform: tr}}}
			lib := &layout.Library{Layers: d.lib.Layers, Cells: append(slices.Clone(d.lib.Cells), c)}
			checkSame(t, d.name+" "+tr.String(), want, run(t, drawn{d.name, lib, c, d.st}, extract.Options{}), 1e-6)
		}
	}
}

func checkSame(t *testing.T, name string, want, got *extract.Result, tolNm float64) {
	t.Helper()
	opt := compare.DefaultOptions()
	opt.ToleranceNm = tolNm
	if devices := want.Circuit.Devices; len(devices) > 0 && !slices.ContainsFunc(devices, func(d netlist.Device) bool { return d.Kind.IsMOS() }) {
		// Diodes only: an edge that is off by tolNm changes the area by that times the perimeter.
		for i := range devices {
			opt.ToleranceRel = max(opt.ToleranceRel, tolNm*devices[i].Perim/devices[i].Area)
		}
	}
	res, err := compare.Compare(context.Background(), want.Circuit, got.Circuit, opt)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if !res.Same {
		t.Errorf("%s: another circuit", name)
		for i, x := range res.Differences {
			if i < 3 {
				t.Log(x.Text)
			}
		}
	}
}

// TestSameWhenSplit: cut along grid lines, upright or at 45°, the pieces make the same circuit.
func TestSameWhenSplit(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for _, d := range samples(t) {
		want := run(t, d, extract.Options{})
		cut := flatten(t, d, func(s layout.Shape) []layout.Shape {
			r := s.Polygon[0]
			b := r.Bounds()
			if len(r) != 4 || b.Width() < 4 || b.Height() < 4 {
				return []layout.Shape{s}
			}
			switch rnd.IntN(3) {
			case 0: // upright
				x := b.Min.X + 1 + rnd.IntN(b.Width()-1)
				return pieces(s, geom.Box(b.Min.X, b.Min.Y, x, b.Max.Y).Ring(), geom.Box(x, b.Min.Y, b.Max.X, b.Max.Y).Ring())
			case 1:
				y := b.Min.Y + 1 + rnd.IntN(b.Height()-1)
				return pieces(s, geom.Box(b.Min.X, b.Min.Y, b.Max.X, y).Ring(), geom.Box(b.Min.X, y, b.Max.X, b.Max.Y).Ring())
			}
			k := min(b.Width(), b.Height()) // 45° from the lower left corner
			p := geom.Point{X: b.Min.X + k, Y: b.Min.Y + k}
			if b.Width() >= b.Height() {
				return pieces(s, geom.Ring{b.Min, p, {X: b.Min.X, Y: b.Max.Y}}, geom.Ring{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, p})
			}
			return pieces(s, geom.Ring{b.Min, {X: b.Max.X, Y: b.Min.Y}, p}, geom.Ring{b.Min, p, b.Max, {X: b.Min.X, Y: b.Max.Y}})
		})
		if len(cut.top.Shapes) < 10 {
			t.Fatalf("%s: nothing was cut", d.name)
		}
		checkSame(t, d.name+" split", want, run(t, cut, extract.Options{}), 1e-6)
	}
}

func pieces(s layout.Shape, rings ...geom.Ring) []layout.Shape {
	var out []layout.Shape
	for _, r := range rings {
		if r.Sense() != 0 {
			out = append(out, layout.Shape{Layer: s.Layer, Polygon: geom.Polygon{r}})
		}
	}
	return out
}

// TestSameWhenSlanted: the merged outlines of each layer, turned by 30° and 45° and rounded to the grid, make the same
// circuit, with W and L to 2 nm.
func TestSameWhenSlanted(t *testing.T) {
	for _, d := range samples(t) {
		want := run(t, d, extract.Options{})
		merged := mergeLayers(t, d)
		for _, deg := range []float64{30, 45} {
			tr := geom.NewTransform(false, 1, deg, geom.Point{})
			turned := flatten(t, merged, func(s layout.Shape) []layout.Shape {
				for _, r := range s.Polygon {
					for i := range r {
						r[i] = tr.Apply(r[i])
					}
				}
				return []layout.Shape{s}
			})
			for i := range turned.top.Labels {
				turned.top.Labels[i].At = tr.Apply(turned.top.Labels[i].At)
			}
			got := run(t, turned, extract.Options{})
			if d.name == "soup" { // whose meetings at corners are decided by rounding
				if n := len(got.Circuit.Devices); n == 0 {
					t.Errorf("soup at %g°: no devices", deg)
				}
				continue
			}
			checkSame(t, d.name, want, got, 2)
		}
	}
}

// mergeLayers returns one shape a layer: the outline of what the layer covers.
func mergeLayers(t *testing.T, d drawn) drawn {
	all := make([]geom.Polygon, len(d.lib.Layers))
	flat := flatten(t, d, func(s layout.Shape) []layout.Shape {
		for _, r := range s.Polygon {
			if r.Sense() < 0 {
				slices.Reverse(r)
			}
		}
		all[s.Layer] = append(all[s.Layer], s.Polygon...)
		return nil
	})
	for l, pg := range all {
		for _, r := range rings(sweep.Outline(pg)) {
			flat.top.Shapes = append(flat.top.Shapes, layout.Shape{Layer: layout.Layer(l), Polygon: r})
		}
	}
	return flat
}

// rings chains segments to closed rings, all in one polygon.
func rings(segs []sweep.Seg) []geom.Polygon {
	if len(segs) == 0 {
		return nil
	}
	from := map[geom.Point][]sweep.Seg{}
	for _, s := range segs {
		from[s.A] = append(from[s.A], s)
	}
	var pg geom.Polygon
	for _, s := range segs {
		var r geom.Ring
		for at := s.A; len(from[at]) > 0; {
			next := from[at][len(from[at])-1]
			from[at] = from[at][:len(from[at])-1]
			r = append(r, at)
			at = next.B
		}
		if len(r) > 0 {
			pg = append(pg, straighten(r))
		}
	}
	return []geom.Polygon{pg}
}

// straighten drops points on straight runs, which would be rounded off the line when it turns.
func straighten(r geom.Ring) geom.Ring {
	var out geom.Ring
	for i, p := range r {
		if geom.Side(r[(i+len(r)-1)%len(r)], p, r[(i+1)%len(r)]) != 0 {
			out = append(out, p)
		}
	}
	return out
}

// TestStripBorders: drawings in which a strip's border runs through a notch, along an edge, or past nothing.
func TestStripBorders(t *testing.T) {
	st, err := stack.Parse("kiln.stack.toml", kiln.Stack)
	if err != nil {
		t.Fatal(err)
	}
	layer := func(name string) layout.Layer {
		l, ok := st.LayerNamed(name)
		if !ok {
			t.Fatal(name)
		}
		return l
	}
	box := func(name string, x0, y0, x1, y1 int) layout.Shape {
		return layout.Shape{Layer: layer(name), Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
	}
	hook := layout.Shape{Layer: layer("contact"), Polygon: geom.Polygon{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 150}, {X: 1100, Y: 150}, {X: 1100, Y: 200}, {X: 0, Y: 200}}}}
	label := func(x, y int, text string) layout.Label {
		return layout.Label{Layer: layer("metal1"), At: geom.Point{X: x, Y: y}, Text: text}
	}
	for name, c := range map[string]*layout.Cell{
		"contact in the notch of a hooked one": {Shapes: []layout.Shape{hook, box("metal1", 0, 140, 1100, 200), box("metal1", 600, -20, 1990, 100), box("contact", 900, -10, 1200, 90)},
			Labels: []layout.Label{label(50, 160, "A"), label(1500, 0, "B")}},
		"diode that ends on the border": {Shapes: []layout.Shape{box("diffusion", 0, 500, 999, 1000), box("photo", 0, 500, 999, 1000), box("diffusion", 1200, 0, 1998, 100)}},
		"diode beside empty strips":     {Shapes: []layout.Shape{box("diffusion", 0, 0, 1000, 1000), box("photo", 0, 0, 1000, 1000), box("diffusion", 9000, 0, 10000, 1000)}},
	} {
		d := drawn{name, &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st}
		want := run(t, d, extract.Options{Strips: 1})
		for strips := 2; strips <= 40; strips++ {
			if diff := difference(want, run(t, d, extract.Options{Strips: strips})); diff != "" {
				t.Errorf("%s, %d strips: %s", name, strips, diff)
			}
		}
	}
}
