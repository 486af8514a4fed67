package svg

import (
	"fmt"
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// What elements cover, with a unit of 1 µm; areas by hand. Round ones err by chords and rounding (1.71 nm all around).
func TestElements(t *testing.T) {
	for _, tc := range []struct {
		body string
		area float64 // square units
		box  [4]float64
	}{
		{`<rect x="1" y="2" width="3" height="4"/>`, 12, [4]float64{1, 2, 4, 6}},
		{`<rect width="10" height="10" rx="2"/>`, 100 - (4-math.Pi)*4, [4]float64{0, 0, 10, 10}},
		{`<rect width="10" height="6" rx="20" ry="1"/>`, 60 - (4-math.Pi)*5, [4]float64{0, 0, 10, 6}}, // rx at most 5
		{`<circle cx="5" cy="5" r="2"/>`, 4 * math.Pi, [4]float64{3, 3, 7, 7}},
		{`<ellipse cx="5" cy="5" rx="2" ry="1"/>`, 2 * math.Pi, [4]float64{3, 4, 7, 6}},
		{`<polygon points="0,0 10,0 10,10"/>`, 50, [4]float64{0, 0, 10, 10}},
		{`<polyline points="0 0 10 0 10 10"/>`, 50, [4]float64{0, 0, 10, 10}}, // filled as if closed
		{`<line x2="10" stroke="red" stroke-width="2"/>`, 20, [4]float64{0, -1, 10, 1}},
		{`<path d="M0 0H10" fill="none" stroke="red"/>`, 10, [4]float64{0, -0.5, 10, 0.5}},
		{`<path d="M0 0H10" stroke="red"/>`, 10, [4]float64{0, -0.5, 10, 0.5}}, // its fill covers nothing
		{`<path d="M0 0H10" fill="none" stroke="red" stroke-linecap="square"/>`, 11, [4]float64{-0.5, -0.5, 10.5, 0.5}},
		{`<path d="M0 0H10" fill="none" stroke="red" stroke-linecap="round"/>`, 10 + math.Pi/4, [4]float64{-0.5, -0.5, 10.5, 0.5}},
		{`<path d="M0 0H10V10" fill="none" stroke="red" stroke-width="2"/>`, 40, [4]float64{0, -1, 11, 10}},
		{`<path d="M0 0H10V10" fill="none" stroke="red" stroke-width="2" stroke-linejoin="bevel"/>`, 39.5, [4]float64{0, -1, 11, 10}},
		{`<path d="M0 0H10V10" fill="none" stroke="red" stroke-width="2" stroke-linejoin="round"/>`, 39 + math.Pi/4, [4]float64{0, -1, 11, 10}},
		{`<rect width="10" height="10" fill="none" stroke="red" stroke-width="2"/>`, 144 - 64, [4]float64{-1, -1, 11, 11}},
		{`<g stroke="#000" fill="none" style="stroke-width:2"><path d="M0 0H10"/></g>`, 20, [4]float64{0, -1, 10, 1}},
		{`<rect width="10" height="10" transform="translate(3 4)"/>`, 100, [4]float64{3, 4, 13, 14}},
		{`<rect width="10" height="10" transform="translate(3)"/>`, 100, [4]float64{3, 0, 13, 10}},
		{`<rect width="10" height="10" transform="scale(2)"/>`, 400, [4]float64{0, 0, 20, 20}},
		{`<rect width="10" height="10" transform="scale(2,-1)"/>`, 200, [4]float64{0, -10, 20, 0}},
		{`<rect width="10" height="5" transform="rotate(90)"/>`, 50, [4]float64{-5, 0, 0, 10}},
		{`<rect width="10" height="5" transform="rotate(-90 10 0)"/>`, 50, [4]float64{10, 0, 15, 10}},
		{`<rect width="10" height="10" transform="skewX(45)"/>`, 100, [4]float64{0, 0, 20, 10}},
		{`<rect width="10" height="10" transform="skewY(45)"/>`, 100, [4]float64{0, 0, 10, 20}},
		{`<rect width="1" height="1" transform="matrix(2 0 0 3 5 7)"/>`, 6, [4]float64{5, 7, 7, 10}},
		{`<rect width="1" height="1" transform="translate(10,0) scale(2) , translate(1 1)"/>`, 4, [4]float64{12, 2, 14, 4}}, // the last one first
		{`<g transform="translate(10 0)"><g transform="scale(2)"><rect x="1" y="1" width="1" height="1"/></g></g>`, 4, [4]float64{12, 2, 14, 4}},
		{`<svg x="10" y="20" width="10" height="10" viewBox="0 0 5 5"><rect width="1" height="1"/></svg>`, 4, [4]float64{10, 20, 12, 22}},
		{`<svg width="20" height="10" viewBox="0 0 5 5"><rect width="1" height="1"/></svg>`, 4, [4]float64{5, 0, 7, 2}}, // in the middle
		{`<svg width="20" height="10" viewBox="0 0 5 5" preserveAspectRatio="xMaxYMin"><rect width="1" height="1"/></svg>`, 4, [4]float64{10, 0, 12, 2}},
		{`<svg width="20" height="10" viewBox="0 0 5 5" preserveAspectRatio="none"><rect width="1" height="1"/></svg>`, 8, [4]float64{0, 0, 4, 2}},
		{`<svg width="20" height="10" viewBox="0 0 5 5" preserveAspectRatio="xMidYMid slice"><rect width="1" height="1"/></svg>`, 16, [4]float64{0, -5, 4, -1}},
		{`<defs><rect id="r" width="2" height="2"/></defs><use href="#r" x="3" y="4" transform="scale(2)"/>`, 16, [4]float64{6, 8, 10, 12}},
		{`<use xmlns:l="http://www.w3.org/1999/xlink" l:href="#r" x="3"/><defs><g id="r"><rect width="2" height="2"/></g></defs>`, 4, [4]float64{3, 0, 5, 2}},
		{`<symbol id="s" viewBox="0 0 5 5"><rect width="1" height="1"/></symbol><use href="#s" width="10" height="10" x="1"/>`, 4, [4]float64{1, 0, 3, 2}},
		{`<rect width="1in" height="2.54cm"/>`, 96 * 96, [4]float64{0, 0, 96, 96}},
		{`<rect width="72pt" height="25.4mm"/>`, 96 * 96, [4]float64{0, 0, 96, 96}},
		{`<path fill-rule="evenodd" d="M0 0H10V10H0ZM2 2H8V8H2Z"/>`, 100 - 36, [4]float64{0, 0, 10, 10}},
		{`<path d="M0 0H10V10H0ZM2 2V8H8V2Z"/>`, 100 - 36, [4]float64{0, 0, 10, 10}}, // a hole by its sense
		{`<path fill-rule="evenodd" d="M0 0H10V10H0ZM2 2V8H8V2ZM4 4H6V6H4Z"/>`, 100 - 36 + 4, [4]float64{0, 0, 10, 10}},
	} {
		c := drawn(t, 1, tc.body)
		if len(c.Shapes) != 1 {
			t.Errorf("%s: %d shapes", tc.body, len(c.Shapes))
			continue
		}
		pg := c.Shapes[0].Polygon
		perimeter := 0.0
		for _, r := range pg {
			perimeter += r.Perimeter() / 1e3
		}
		if got := covered(pg) / 1e6; math.Abs(got-tc.area) > 1.71e-3*perimeter {
			t.Errorf("%s: area %.6f, want %.6f", tc.body, got, tc.area)
		}
		b, tol := pg.Bounds(), 1.0
		for i, v := range [4]int{b.Min.X, -b.Max.Y, b.Max.X, -b.Min.Y} {
			if math.Abs(float64(v)-tc.box[i]*1e3) > tol {
				t.Errorf("%s: box %v, want %v", tc.body, b, tc.box)
				break
			}
		}
	}
}

// covered returns the area of what a polygon covers by non-zero winding: counted in rows of 5 nm by where its edges cross
// their middle lines.
func covered(pg geom.Polygon) (sum float64) {
	const step = 5
	b := pg.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += step {
		at := float64(y) + step/2.0 + 1e-7
		type crossing struct {
			x float64
			d int
		}
		var row []crossing
		for _, r := range pg {
			for i, p := range r {
				q := r[(i+1)%len(r)]
				d := 1
				if p.Y > q.Y {
					p, q, d = q, p, -1
				}
				if float64(p.Y) <= at && at < float64(q.Y) {
					row = append(row, crossing{float64(p.X) + float64(q.X-p.X)*(at-float64(p.Y))/float64(q.Y-p.Y), d})
				}
			}
		}
		for w := 0; len(row) > 0; {
			k := 0
			for i := range row {
				if row[i].x < row[k].x {
					k = i
				}
			}
			before := w
			if w += row[k].d; before == 0 {
				sum -= row[k].x * step
			} else if w == 0 {
				sum += row[k].x * step
			}
			row = append(row[:k], row[k+1:]...)
		}
	}
	return sum
}

// A pentagram: filled by even-odd its middle is open, by non-zero it is not. REFERENCES 1.1: even-odd area
// 25210368/3311, non-zero 36470872/3311 nm² of these corners. Snap rounding moves edges by at most 0.71 nm.
func TestEvenOddPentagram(t *testing.T) {
	const star = `M0 95L59-81L-95 31L95 31L-59-81Z`
	for _, tc := range []struct {
		rule string
		area float64
		mid  geom.Location
	}{{"evenodd", 25210368.0 / 3311, geom.Outside}, {"nonzero", 36470872.0 / 3311, geom.Inside}} {
		c := drawn(t, 0.001, fmt.Sprintf(`<path fill-rule="%s" d="%s"/>`, tc.rule, star))
		pg := c.Shapes[0].Polygon
		if got := covered1(pg); math.Abs(got-tc.area) > 0.71*942 {
			t.Errorf("%s: %g nm², want %g", tc.rule, got, tc.area)
		}
		if got := pg.Locate(geom.Point{}); got != tc.mid {
			t.Errorf("%s: the middle is %v, want %v", tc.rule, got, tc.mid)
		}
	}
}

// covered1 counts unit squares by their centres.
func covered1(pg geom.Polygon) (n float64) {
	double := make(geom.Polygon, len(pg))
	for i, r := range pg {
		for _, p := range r {
			double[i] = append(double[i], geom.Point{X: 2 * p.X, Y: 2 * p.Y})
		}
	}
	b := pg.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if double.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}) == geom.Inside {
				n++
			}
		}
	}
	return n
}

// Labels lie at the anchor of their text.
func TestText(t *testing.T) {
	for _, tc := range []struct {
		body string
		want []layout.Label
	}{
		{`<text x="1" y="2">VDD</text>`, []layout.Label{{At: geom.Point{X: 1000, Y: -2000}, Text: "VDD"}}},
		{"<text x=\"1 5\" y=\"2\">\n  a  <tspan font-weight=\"bold\">b</tspan>\n</text>", []layout.Label{{At: geom.Point{X: 1000, Y: -2000}, Text: "a b"}}},
		{`<text x="9" y="9"><tspan x="1" y="2">A</tspan><tspan x="3" y="4">B</tspan></text>`,
			[]layout.Label{{At: geom.Point{X: 1000, Y: -2000}, Text: "A"}, {At: geom.Point{X: 3000, Y: -4000}, Text: "B"}}},
		{`<text transform="translate(10 0) rotate(90)" x="1" y="2" dx="1">C</text>`, []layout.Label{{At: geom.Point{X: 8000, Y: -2000}, Text: "C"}}},
		{`<text x="1"> </text>`, nil},
		{`<text>D</text>`, []layout.Label{{Text: "D"}}},
		{`<text x="1" xml:space="preserve"> E  </text>`, []layout.Label{{At: geom.Point{X: 1000}, Text: "E"}}}, // as editors write it
		{"<text x=\"1\" xml:space=\"preserve\"><tspan x=\"1\">C</tspan>\n\t</text>", []layout.Label{{At: geom.Point{X: 1000}, Text: "C"}}},
		{`<text x="1">F&#228;&lt;</text>`, []layout.Label{{At: geom.Point{X: 1000}, Text: "Fä<"}}},
	} {
		c := drawn(t, 1, tc.body)
		if fmt.Sprint(c.Labels) != fmt.Sprint(tc.want) {
			t.Errorf("%s: %v, want %v", tc.body, c.Labels, tc.want)
		}
	}
}

// Pictures, and where their pixels lie. By hand: a picture of 200 × 100 px in a box of 100 × 100 units lies in the middle
// of it, with 2 px a unit; without keeping its shape it has 2 px a unit across and 1 down.
func TestImage(t *testing.T) {
	const body = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 300"><g transform="translate(10 20)">
<image href="die.png" width="100" height="100"%s/></g><defs><image href="other.png" width="1" height="1"/></defs></svg>`
	for _, tc := range []struct {
		more     string
		from, to geom.Vec
	}{
		{``, geom.Vec{X: 10, Y: 45}, geom.Vec{}},
		{``, geom.Vec{X: 60, Y: 70}, geom.Vec{X: 100, Y: 50}},
		{` preserveAspectRatio="none"`, geom.Vec{X: 60, Y: 30}, geom.Vec{X: 100, Y: 10}},
		{` transform="scale(2)" preserveAspectRatio="none"`, geom.Vec{X: 210, Y: 220}, geom.Vec{X: 200, Y: 100}},
	} {
		d := mustParse(t, fmt.Sprintf(body, tc.more))
		if len(d.Images) != 1 || d.Images[0].Href != "die.png" || d.Images[0].Line != 2 {
			t.Fatalf("%+v", d.Images)
		}
		px, err := d.Images[0].Pixels(200, 100)
		if err != nil {
			t.Fatal(err)
		}
		if got := px(tc.from); math.Hypot(got.X-tc.to.X, got.Y-tc.to.Y) > 1e-9 {
			t.Errorf("%s: %v is pixel %v, want %v", tc.more, tc.from, got, tc.to)
		}
		if d.View != (Box{0, 0, 400, 300}) {
			t.Errorf("view %v", d.View)
		}
	}
	d := mustParse(t, `<svg viewBox="0 0 9 9"><image width="50" href="data:image/png;base64,AAAA"/></svg>`)
	px, err := d.Images[0].Pixels(100, 40) // the height that is not said is 20
	if got := px(geom.Vec{X: 50, Y: 20}); err != nil || got != (geom.Vec{X: 100, Y: 40}) || d.Images[0].Href != "" {
		t.Errorf("%v, %v", got, err)
	}
}

// A curve is cut after it has been mapped: the same circle has more corners where a unit is larger.
func TestToleranceIsInNm(t *testing.T) {
	corners := func(um, tolerance float64) int {
		lib, _ := mustRead(t, `<svg><g id="m"><circle r="10"/></g></svg>`, Options{Place: pen.UmPerUnit(um, geom.Vec{}), Layers: []string{"m"}, ToleranceNm: tolerance})
		return len(lib.Cells[0].Shapes[0].Polygon[0])
	}
	// By hand: sagitta r(1 - cos(π/n)) at most 1 needs n ≥ 71 at r = 1000, halving quarters makes 128 of it. With
	// 20 nm it needs 16: 1000·(1 - cos 11.25°) = 19.2.
	if a, b, c := corners(0.1, 1), corners(10, 1), corners(0.1, 20); a != 128 || b != 1024 || c != 16 {
		t.Errorf("%d, %d and %d corners, want 128, 1024 and 16", a, b, c)
	}
}

// A cell that is placed upright and one that is stretched.
func TestCells(t *testing.T) {
	const body = `<svg data-um-per-unit="1"><g data-cell="TOP" id="t"><use href="#c" x="1"/>
<use href="#c" transform="scale(2 1)"/>
<g data-array="2 1 1000 0 0 0"><use href="#c"/><use href="#c" transform="translate(1)"/></g>
<g data-array="2 1 1000 0 0 0"><use href="#c"/><use href="#c" transform="translate(2)"/></g></g>
<defs><g data-cell="C" id="c" data-layer="m"><rect width="1" height="1"/></g></defs></svg>`
	lib, rep := mustRead(t, body, Options{})
	top := lib.Cells[0]
	if len(lib.Cells) != 2 || top.Name != "TOP" || len(top.Placements) != 4 || len(top.Shapes) != 1 {
		t.Fatalf("%+v", top)
	}
	if p := top.Placements[1]; p.Columns != 2 || p.Rows != 1 || p.ColumnExtent != (geom.Vec{X: 1000}) {
		t.Errorf("array %+v", p)
	}
	want := "[cells that are stretched unevenly, taken apart: 1 (first at line 2, use) arrays of which members were changed, taken one by one: 1 (first at line 4, g)]"
	if fmt.Sprint(rep.Notes) != want {
		t.Errorf("notes %v\nwant %s", rep.Notes, want)
	}
	if b := top.Shapes[0].Polygon.Bounds(); b != geom.Box(0, -1000, 2000, 0) {
		t.Errorf("stretched: %v", b)
	}
}
