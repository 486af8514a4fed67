package picture

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// grid is a drawing of n × n rectangles on so many layers, 4 µm apart.
func grid(n, layers int) *Drawing {
	cell := &layout.Cell{Name: "die"}
	for i := range n * n {
		x, y := i%n*4000, i/n*4000
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(i % layers), Polygon: square(x, y, x+2000, y+3000)})
	}
	return NewDrawing(&layout.Library{Layers: make([]string, layers), Cells: []*layout.Cell{cell}})
}

// nested is a library of cells in arrays in arrays, turned and mirrored, with shapes of their own; size is that of the lowest
// cell.
func nested(rnd *rand.Rand, members int) *layout.Library {
	turn := func() geom.Transform {
		return geom.NewTransform(rnd.IntN(2) == 0, 1, float64(90*rnd.IntN(4)), geom.Point{X: rnd.IntN(40_000), Y: rnd.IntN(40_000)})
	}
	some := func(c *layout.Cell, n, side int) {
		for range n {
			x, y := rnd.IntN(side), rnd.IntN(side)
			c.Shapes = append(c.Shapes, layout.Shape{Layer: layout.Layer(rnd.IntN(5)), Polygon: square(x, y, x+1+rnd.IntN(side), y+1+rnd.IntN(side/2))})
		}
	}
	low, mid, die := &layout.Cell{Name: "LOW"}, &layout.Cell{Name: "MID"}, &layout.Cell{Name: "die"}
	some(low, 4, 1200)
	some(mid, 3, 4000)
	some(die, 40, 90_000)
	mid.Placements = append(mid.Placements, layout.Placement{Cell: low, Transform: turn(), Columns: members, Rows: 2, ColumnExtent: geom.Vec{X: 9000.5}, RowExtent: geom.Vec{Y: 2500}})
	for range 3 {
		die.Placements = append(die.Placements, layout.Placement{Cell: mid, Transform: turn(), Columns: members, Rows: members, ColumnExtent: geom.Vec{X: 50_000, Y: 3000}, RowExtent: geom.Vec{X: -2000, Y: 60_000}})
	}
	return &layout.Library{Layers: make([]string, 5), Cells: []*layout.Cell{die, low, mid}}
}

// TestFillIsWinding: a px is covered where the polygon winds about its centre, as geom says exactly; polygons of any kind, with
// crossings and holes, partly or wholly outside the picture. Corners are on even, centres of px on odd numbers of nm.
func TestFillIsWinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 24
		p := &plane{}
		p.reset(n, n)
		var pg geom.Polygon
		for range rapid.IntRange(1, 3).Draw(t, "rings") {
			var ring geom.Ring
			for range rapid.IntRange(3, 9).Draw(t, "corners") {
				ring = append(ring, geom.Point{X: 2 * rapid.IntRange(-10, n+10).Draw(t, "x"), Y: 2 * rapid.IntRange(-10, n+10).Draw(t, "y")})
			}
			pg = append(pg, ring)
		}
		var points []pair
		var rings []int
		for _, ring := range pg {
			for _, c := range ring {
				points = append(points, pair{float64(c.X) / 2, float64(c.Y) / 2})
			}
			rings = append(rings, len(points))
		}
		p.fill(points, rings, 4)
		for y := range n {
			for x := range n {
				got, where := p.covers[y*n+x] == 4, pg.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1})
				if where != geom.OnEdge && got != (where == geom.Inside) {
					t.Fatalf("%v: px (%d, %d) is covered: %v", pg, x, y, got)
				}
			}
		}
	})
}

// TestLikeFlattened: what is drawn of cells in arrays in arrays is what is drawn of all their shapes one by one, in views in which
// no shape is small; any part of it, turned or not.
func TestLikeFlattened(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	for range 12 {
		lib := nested(rnd, 1+rnd.IntN(3))
		d := NewDrawing(lib)
		flat, err := layout.Flatten(lib.Cells[0])
		if err != nil {
			t.Fatal(err)
		}
		if flat.Bounds() != d.Box() && flat.Upright() {
			t.Fatalf("box %v, want %v", d.Box(), flat.Bounds())
		}
		v := view.View{Middle: geom.Vec{X: rnd.Float64() * 90_000, Y: rnd.Float64() * 90_000}, NmPerPx: 20 + 80*rnd.Float64(), Width: 150, Height: 110}
		if rnd.IntN(2) == 0 {
			v.Turn = rnd.Float64() * 360
		}
		got, want := &plane{}, &plane{}
		got.reset(v.Width, v.Height)
		want.reset(v.Width, v.Height)
		w := walk{plane: got, layers: ^uint64(0)}
		w.draw(d, v.Screen())
		screen := v.Screen()
		one := walk{plane: want, layers: ^uint64(0)}
		flat.Shapes(func(s *layout.Shape, t geom.Transform) bool {
			pg := t.ApplyPolygon(s.Polygon)
			if b := pg.Bounds(); !one.small(&screen, b, 1<<s.Layer, blockPx) {
				one.polygon(pg, &screen, 1<<s.Layer)
			}
			return true
		})
		off := 0
		for i := range want.covers {
			if got.covers[i] != want.covers[i] || got.outlines[i] != want.outlines[i] {
				off++
			}
		}
		if off > len(want.covers)/500 { // centres that lie on an edge, to rounding of the transforms to whole nm
			t.Fatalf("%+v: %d px of %d are others", v, off, len(want.covers))
		}
	}
}

// TestNothingIsLost: however far out, every shape leaves a px where it lies, or next to it, on its layer and on no other; and the
// work goes with the picture, not with the shapes.
func TestNothingIsLost(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	lib := nested(rnd, 30)
	cell := lib.Cells[0]
	for range 20_000 {
		x, y := rnd.IntN(1_000_000), rnd.IntN(1_000_000)
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(rnd.IntN(5)), Polygon: square(x, y, x+200+rnd.IntN(300), y+300)})
	}
	d := NewDrawing(lib)
	flat, err := layout.Flatten(cell)
	if err != nil {
		t.Fatal(err)
	}
	v := over(d.Box(), 80, 60)
	p := &plane{}
	p.reset(80, 60)
	w := walk{plane: p, layers: ^uint64(0)}
	w.draw(d, v.Screen())
	screen := v.Screen()
	near := make([]uint64, 80*60)
	shapes := 0
	flat.Shapes(func(s *layout.Shape, tr geom.Transform) bool {
		shapes++
		x0, y0, x1, y1 := extent(&screen, tr.Bounds(s.Polygon.Bounds()))
		found := false
		for y := max(0, int(y0)-1); y <= min(59, int(y1)+1); y++ {
			for x := max(0, int(x0)-1); x <= min(79, int(x1)+1); x++ {
				near[y*80+x] |= 1 << s.Layer
				found = found || (p.covers[y*80+x]|p.outlines[y*80+x])>>s.Layer&1 == 1
			}
		}
		if !found {
			t.Fatalf("the shape at %v of layer %d is nowhere", s.Polygon.Bounds(), s.Layer)
		}
		return true
	})
	for i := range near {
		if extra := (p.covers[i] | p.outlines[i]) &^ near[i]; extra != 0 {
			t.Fatalf("px %d, %d shows layers %b where none is near", i%80, i/80, extra)
		}
	}
	// Halves of half a px and more are at most 8 boxes a px with those above them; three arrays and the shapes lie over each other.
	if shapes < 600_000 || w.steps > 8*4*80*60 {
		t.Errorf("%d steps for %d shapes on %d px", w.steps, shapes, 80*60)
	}
}

// TestLooks: of one square each, a hidden layer is not seen; a locked one is fainter than another, and its outline broken; what is
// selected has a chain of black and white about it; a net is bright with a white outline, and all else half as bright.
func TestLooks(t *testing.T) {
	byLayer := make([][]geom.Polygon, 4)
	for i := range byLayer {
		byLayer[i] = []geom.Polygon{square(20*i+4, 4, 20*i+16, 36)}
	}
	layers := Layers([]string{"a", "b", "c", "d"})
	layers[1] = Layer{Ink: shot.InkFor(0, "b"), Locked: true} // in the ink of a
	layers[2].Hidden = true
	c := compose(t, Options{})
	draw := func(s Scene) *image.RGBA {
		s.View = view.View{Middle: geom.Vec{X: 40, Y: 20}, NmPerPx: 1, Width: 80, Height: 40}
		s.Layers = layers
		img := image.NewRGBA(image.Rect(0, 0, 80, 40))
		if _, err := c.Draw(t.Context(), &s, img); err != nil {
			t.Fatal(err)
		}
		return img
	}
	light := func(img *image.RGBA, i int) (sum int) {
		for y := 6; y < 34; y++ {
			for x := 20*i + 6; x < 20*i+14; x++ {
				for _, v := range at(img, x, y) {
					sum += int(v)
				}
			}
		}
		return sum
	}
	rim := func(img *image.RGBA, i int) map[[3]uint8]int {
		n := map[[3]uint8]int{}
		for y := 6; y < 34; y++ {
			n[at(img, 20*i+4, y)]++
		}
		return n
	}
	plain := draw(Scene{Drawing: NewSet(byLayer)})
	if light(plain, 2) != 0 {
		t.Error("a hidden layer is seen")
	}
	if a, b := light(plain, 0), light(plain, 1); a == 0 || b == 0 || b > a*2/3 {
		t.Errorf("locked %d, free %d", b, a)
	}
	own := [3]uint8{0xe6, 0x9f, 0}
	if a, b := rim(plain, 0)[own], rim(plain, 1)[own]; a != 28 || b < 10 || b > 20 {
		t.Errorf("outlines of %d and of %d px, want 28 and two thirds of them", a, b)
	}
	chain := rim(draw(Scene{Drawing: NewSet(byLayer), Selected: NewSet(byLayer[:1])}), 0)
	if w, b := chain[[3]uint8{255, 255, 255}], chain[[3]uint8{}]; w < 10 || b < 10 || w+b != 28 {
		t.Errorf("a selected outline of %v", chain)
	}
	net := make([][]geom.Polygon, 4)
	net[3] = byLayer[3]
	lit := draw(Scene{Drawing: NewSet(byLayer), Net: NewSet(net)})
	if rim(lit, 3)[[3]uint8{255, 255, 255}] != 28 || light(lit, 3) <= light(plain, 3) {
		t.Errorf("a lit net has %d of light, else %d", light(lit, 3), light(plain, 3))
	}
	for y := range 40 {
		for x := range 60 {
			a, b := at(plain, x, y), at(lit, x, y)
			if b != [3]uint8{a[0] / 2, a[1] / 2, a[2] / 2} {
				t.Fatalf("(%d, %d): %v beside a lit net, %v without", x, y, b, a)
			}
		}
	}
	// Without colours, layers are told by their hatches.
	if one, other := plain, draw(Scene{Drawing: NewSet([][]geom.Polygon{nil, nil, nil, byLayer[0]})}); fmt.Sprint(pattern(one)) == fmt.Sprint(pattern(other)) {
		t.Error("two layers have one hatch")
	}
}

// pattern says where in the first square px are brighter than their mean.
func pattern(img *image.RGBA) (on []bool) {
	sum := 0
	for y := 8; y < 32; y++ {
		for x := 6; x < 14; x++ {
			on = append(on, false)
			sum += int(at(img, x, y)[0])
		}
	}
	for i := range on {
		on[i] = int(at(img, 6+i%8, 8+i/8)[0])*len(on) > sum
	}
	return on
}

// TestMarks: rulers, arrows and lines begin and end where they are said to; an outlier's arrow has a ring; the bar is as long as
// it says.
func TestMarks(t *testing.T) {
	v := view.View{Middle: geom.Vec{X: 100_000, Y: 50_000}, NmPerPx: 200, Width: 1000, Height: 500}
	c := compose(t, Options{})
	draw := func(s Scene) *image.RGBA {
		s.View = v
		img := image.NewRGBA(image.Rect(0, 0, 1000, 500))
		if _, err := c.Draw(t.Context(), &s, img); err != nil {
			t.Fatal(err)
		}
		return img
	}
	bright := func(img *image.RGBA) (box image.Rectangle, n int) {
		for y := range 500 {
			for x := range 1000 {
				if p := at(img, x, y); int(p[0])+int(p[1])+int(p[2]) > 200 {
					box, n = box.Union(image.Rect(x, y, x+1, y+1)), n+1
				}
			}
		}
		return box, n
	}
	near := func(what string, got, want image.Rectangle, by int) {
		t.Helper()
		for _, d := range []int{got.Min.X - want.Min.X, got.Max.X - want.Max.X, got.Min.Y - want.Min.Y, got.Max.Y - want.Max.Y} {
			if d < -by || d > by {
				t.Errorf("%s: %v, want %v", what, got, want)
				return
			}
		}
	}
	// 20 µm are 100 px: from (500, 250) to the right.
	box, _ := bright(draw(Scene{Ruler: &Ruler{A: geom.Vec{X: 100_000, Y: 50_000}, B: geom.Vec{X: 120_000, Y: 50_000}}}))
	near("ruler", box, image.Rect(500, 245, 600, 255), 3)
	_, short := bright(draw(Scene{Ruler: &Ruler{A: geom.Vec{X: 100_000, Y: 50_000}, B: geom.Vec{X: 120_000, Y: 50_000}, Text: "20 µm"}}))
	if _, long := bright(draw(Scene{Text: true, Ruler: &Ruler{A: geom.Vec{X: 100_000, Y: 50_000}, B: geom.Vec{X: 120_000, Y: 50_000}, Text: "20 µm"}})); long < short+40 {
		t.Errorf("a text takes %d px", long-short)
	}
	arrow := Arrow{At: geom.Vec{X: 100_000, Y: 50_000}, Residual: geom.Vec{X: 0, Y: 400}}
	box, _ = bright(draw(Scene{Arrows: []Arrow{arrow}, Enlarge: 50})) // 20 µm upward
	near("arrow", box, image.Rect(497, 150, 504, 252), 3)
	arrow.Outlier = true
	box, _ = bright(draw(Scene{Arrows: []Arrow{arrow}, Enlarge: 50}))
	near("outlier", box, image.Rect(490, 150, 510, 260), 3)
	if k := Enlarging(v, []Arrow{arrow}); k != 50 { // 400 nm are 2 px, and a tenth of the width is 100
		t.Errorf("enlarged %g times", k)
	}
	places := []geom.Vec{{X: 90_000, Y: 40_000}, {X: 110_000, Y: 40_000}, {X: 110_000, Y: 60_000}}
	_, open := bright(draw(Scene{Lines: []Line{{Places: places, Ink: shot.InkFor(0, "")}}}))
	box, closed := bright(draw(Scene{Lines: []Line{{Places: places, Closed: true, Ink: shot.InkFor(0, "")}}}))
	near("line", box, image.Rect(450, 200, 550, 300), 3)
	if closed < open*4/3 {
		t.Errorf("closed %d px, open %d", closed, open)
	}
	nm, px, text := BarFor(v) // a third of 200 µm at most
	if nm != 50_000 || px != 250 || text != "50 µm" {
		t.Errorf("a bar of %g nm, %g px, %q", nm, px, text)
	}
	if _, n := bright(draw(Scene{Bar: true})); n < 250*2 {
		t.Errorf("the bar takes %d px", n)
	}
	if !math.IsInf(1/Enlarging(v, nil), 0) && Enlarging(v, nil) != 1 {
		t.Error("nothing is enlarged")
	}
}

// TestSceneCheck: what cannot be shown is said.
func TestSceneCheck(t *testing.T) {
	c := compose(t, Options{})
	v := view.View{NmPerPx: 1, Width: 10, Height: 10}
	for _, s := range []Scene{{View: view.View{NmPerPx: 1, Width: 9, Height: 10}}, {View: view.View{Width: 10, Height: 10}}, {View: v, Part: 2}, {View: v, Drawing: &Drawing{Layers: make([]string, 65)}}} {
		if _, err := c.Draw(t.Context(), &s, image.NewRGBA(image.Rect(0, 0, 10, 10))); err == nil {
			t.Errorf("%+v is shown", s)
		}
	}
}
