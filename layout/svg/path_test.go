package svg

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// drawn reads a drawing whose unit is um µm, with (0, 0) at (0, 0), all of it on one layer.
func drawn(t testing.TB, um float64, body string) *layout.Cell {
	t.Helper()
	lib, _ := mustRead(t, `<svg xmlns="http://www.w3.org/2000/svg"><g id="m">`+body+`</g></svg>`,
		Options{Place: pen.UmPerUnit(um, geom.Vec{}), Layers: []string{"m"}})
	return lib.Cells[0]
}

func mustRead(t testing.TB, text string, o Options) (*layout.Library, *Report) {
	t.Helper()
	d, err := Parse("test.svg", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	lib, rep, err := d.Library(o)
	if err != nil {
		t.Fatal(err)
	}
	return lib, rep
}

func area(pg geom.Polygon) (a float64) {
	for _, r := range pg {
		a += r.Area()
	}
	return math.Abs(a)
}

// Path data: source W3C SVG 1.1 §8.3 and SVG 2 §9.3 (from memory); areas by hand (half disc, triangle, square) or by
// integration of the Bézier polynomials. The unit is 1 µm, so 1 nm is a thousandth.
func TestPathAreas(t *testing.T) {
	for _, tc := range []struct {
		d     string
		areas []float64 // of the shapes, square units
		box   [4]float64
	}{
		{"M0 0 10 0 10 10z m20 0h5v5h-5z", []float64{50, 25}, [4]float64{0, 0, 25, 10}},
		{"m0 0 10 0 0 10z", []float64{50}, [4]float64{0, 0, 10, 10}}, // m: the first is absolute, the next are relative
		{"M0,0C0,10 10,10 10,0Z", []float64{60}, [4]float64{0, 0, 10, 7.5}},
		{"M0,0Q5,10 10,0Z", []float64{100.0 / 3}, [4]float64{0, 0, 10, 5}},
		{"M10 0A10 10 0 0 1-10 0Z", []float64{50 * math.Pi}, [4]float64{-10, 0, 10, 10}},
		{"M10 0A10 10 0 0 0-10 0Z", []float64{50 * math.Pi}, [4]float64{-10, -10, 10, 0}},
		{"M0 10A10 10 0 1 0 10 0L0 0Z", []float64{75*math.Pi + 100}, [4]float64{0, 0, 20, 20}}, // three quarters about (10, 10), and a square
		{"M10 0a10 10 0 0110 10z", []float64{25*math.Pi - 50}, [4]float64{10, 0, 20, 10}},
		{"M0 0A1 1 0 0 1 10 0Z", []float64{12.5 * math.Pi}, [4]float64{0, -5, 10, 0}},            // too small radii grow to half the chord
		{"M0 0A0 5 0 0 1 10 0L5 5Z", []float64{25}, [4]float64{0, 0, 10, 5}},                     // a radius of 0 is a line
		{"M0 0A20 10 90 0 1 0 40Z", []float64{100 * math.Pi}, [4]float64{0, 0, 10, 40}},          // turned by 90°: half axes 10 and 20
		{"M0 0h10v10h-10zl0-5h5v5z", []float64{125}, [4]float64{0, -5, 10, 10}},                  // on from the start of the closed one
		{"M0 0V10H10V0", []float64{100}, [4]float64{0, 0, 10, 10}},                               // filled as if closed
		{"M0 0 C0 10 10 10 10 0 S20-10 20 0V20H0Z", []float64{400}, [4]float64{0, -7.5, 20, 20}}, // -60 + 60
		{"M0 0Q5 10 10 0T20 0V20H0Z", []float64{400}, [4]float64{0, -5, 20, 20}},
		{"M0 0 10,0 10,10\n\t0 , 10", []float64{100}, [4]float64{0, 0, 10, 10}},
		{"M1e1.5.5-1e0+2 2", nil, [4]float64{}}, // (10, 0.5), (0.5, -1), (2, 2)
	} {
		c := drawn(t, 1, fmt.Sprintf(`<path d="%s"/>`, tc.d))
		if tc.areas == nil {
			want := geom.Ring{{X: 10000, Y: -500}, {X: 500, Y: 1000}, {X: 2000, Y: -2000}}
			if got := fmt.Sprint(c.Shapes[0].Polygon[0]); got != fmt.Sprint(want) {
				t.Errorf("%s: %s, want %v", tc.d, got, want)
			}
			continue
		}
		box := geom.EmptyRect()
		for i, s := range c.Shapes {
			box = box.Union(s.Polygon.Bounds())
			if len(tc.areas) == 0 {
				continue
			}
			if len(c.Shapes) != len(tc.areas) {
				t.Fatalf("%s: %d shapes, want %d", tc.d, len(c.Shapes), len(tc.areas))
			}
			// Chords within 1 nm and rounding within 0.71 nm: the area errs by less than 1.71 nm times the length.
			if got := area(s.Polygon) / 1e6; math.Abs(got-tc.areas[i]) > 1.71e-3*s.Polygon[0].Perimeter()/1e3 {
				t.Errorf("%s: area %.6f, want %.6f", tc.d, got, tc.areas[i])
			}
		}
		want := geom.Box(int(tc.box[0]*1e3), int(-tc.box[1]*1e3), int(tc.box[2]*1e3), int(-tc.box[3]*1e3))
		for _, d := range []int{box.Min.X - want.Min.X, box.Min.Y - want.Min.Y, box.Max.X - want.Max.X, box.Max.Y - want.Max.Y} {
			if d < -2 || d > 2 {
				t.Errorf("%s: box %v, want %v ± 2", tc.d, box, want)
				break
			}
		}
	}
}

// Steps of path data, exactly; from the grammar (from memory).
func TestPathSteps(t *testing.T) {
	for _, tc := range []struct{ d, want string }{
		{"", ""},
		{"M1 2", "M1,2"},
		{"M1 2 3 4", "M1,2 L3,4"},
		{"m1 2 3 4", "M1,2 L4,6"},
		{"M1 1h2v3H0V0", "M1,1 L3,1 L3,4 L0,4 L0,0"},
		{"M0 0m5 5l1 1", "M0,0 M5,5 L6,6"},
		{"M5 5L6 6zm1 1", "M5,5 L6,6 Z M6,6"},
		{"M5 5L6 6zl1 1", "M5,5 L6,6 Z M5,5 L6,6"},
		{"M5 5zz", "M5,5 Z Z"},
		{"M0 0s1 1 2 2", "M0,0 C0,0,1,1,2,2"}, // no curve before: the current point
		{"M0 0t1 1", "M0,0 Q0,0,1,1"},
		{"M0 0c1 2 3 4 5 6s7 8 9 10", "M0,0 C1,2,3,4,5,6 C7,8,12,14,14,16"},
		{"M0 0q1 2 3 4t5 6", "M0,0 Q1,2,3,4 Q5,6,8,10"},
		{"M0 0q1 2 3 4l1 1t5 6", "M0,0 Q1,2,3,4 L4,5 Q4,5,9,11"},
		{"M10-20", "M10,-20"},
		{"M.5.5", "M0.5,0.5"},
		{"M1.,2.", "M1,2"},
		{"M1e2 1E-1", "M100,0.1"},
		{"M0 0a1 1 0 0 0 0 0l1 1", "M0,0 L1,1"}, // an arc to where it begins is nothing
		{"M0 0a0 1 0 0110 10", "M0,0 L10,10"},
	} {
		p, err := parsePath(tc.d)
		if err != nil {
			t.Errorf("%q: %v", tc.d, err)
			continue
		}
		var words []string
		at := p.at
		for _, s := range p.steps {
			var numbers []string
			for _, v := range at[:stepPoints(s)] {
				numbers = append(numbers, fmt.Sprintf("%g,%g", v.X, v.Y))
			}
			at = at[stepPoints(s):]
			words = append(words, string(s)+strings.Join(numbers, ","))
		}
		if got := strings.Join(words, " "); got != tc.want {
			t.Errorf("%q: %s, want %s", tc.d, got, tc.want)
		}
	}
}

// Where an arc goes: its middle, by hand, for each of the four arcs through (0, 0) and (10, 10) with radius 10, whose
// centres are (10, 0) and (0, 10).
func TestArcFlags(t *testing.T) {
	r := 10 / math.Sqrt2
	for _, tc := range []struct {
		flags string
		mid   geom.Vec
	}{
		{"0 1", geom.Vec{X: r, Y: 10 - r}}, {"0 0", geom.Vec{X: 10 - r, Y: r}},
		{"1 1", geom.Vec{X: 10 + r, Y: -r}}, {"1 0", geom.Vec{X: -r, Y: 10 + r}},
	} {
		p, err := parsePath("M0 0A10 10 0 " + tc.flags + " 10 10")
		if err != nil || len(p.at) != 6 {
			t.Fatal(err, p)
		}
		a := p.at[1:]
		sin, cos := math.Sincos(a[3].X + a[3].Y/2)
		got := geom.Vec{X: a[0].X + a[1].X*cos + a[2].X*sin, Y: a[0].Y + a[1].Y*cos + a[2].Y*sin}
		if math.Hypot(got.X-tc.mid.X, got.Y-tc.mid.Y) > 1e-9 {
			t.Errorf("flags %s: through %v, want %v", tc.flags, got, tc.mid)
		}
	}
}

func TestPathErrors(t *testing.T) {
	for _, tc := range []struct{ d, want string }{
		{"M10-20.5.5", "character 11: a number is missing, it ends"},
		{"L1 1", `character 1: a path begins with M or m, found "L1 1"`},
		{"M0 0 X", `character 6: a command is missing (one of M L H V C S Q T A Z, capital or small), found "X"`},
		{"M0 0 5", "character 7: a number is missing, it ends"},
		{"M0 0,L1 1", `character 6: a number is missing behind the comma, found "L1 1"`},
		{"M0 0A1 1 0 2 0 5 5", `character 12: a flag of an arc is missing, 0 or 1; found "2 0 5 5"`},
		{"M0 0z5 5", `character 6: a command is missing (one of M L H V C S Q T A Z, capital or small), found "5 5"`},
		{"M1e999 0", `character 2: "1e999" is beyond what a number can be`},
		{"M0 0C1 1 2 2", "character 13: a number is missing, it ends"},
	} {
		if _, err := parsePath(tc.d); err == nil || err.Error() != tc.want {
			t.Errorf("%q: %v\nwant %s", tc.d, err, tc.want)
		}
	}
}
