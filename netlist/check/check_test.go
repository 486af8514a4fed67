package check_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

const stackText = `name = "test"

[[layer]]
name = "diffusion"
role = "diffusion"

[[layer]]
name = "poly"
role = "gate"

[[layer]]
name  = "contact"
role  = "contact"
joins = ["metal1", "poly", "diffusion"]

[[layer]]
name = "metal1"
role = "metal"

[[layer]]
name  = "via"
role  = "contact"
joins = ["metal2", "metal1"]

[[layer]]
name = "metal2"
role = "metal"

[[layer]]
name = "pad"
role = "pad"
`

func testStack(t testing.TB) *stack.Stack {
	st, err := stack.Parse("test.stack.toml", []byte(stackText))
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// drawn is a shape by the name of its layer.
type drawn struct {
	layer   string
	polygon geom.Polygon
}

func box(layer string, x0, y0, x1, y1 int) drawn {
	return drawn{layer, geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}}
}

func ring(layer string, xy ...int) drawn {
	var r geom.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geom.Point{X: xy[i], Y: xy[i+1]})
	}
	return drawn{layer, geom.Polygon{r}}
}

func library(t testing.TB, st *stack.Stack, shapes ...drawn) *layout.Library {
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{{Name: "TOP"}}}
	for _, s := range shapes {
		lib.Cells[0].Shapes = append(lib.Cells[0].Shapes, layout.Shape{Layer: layerOf(t, lib, s.layer), Polygon: s.polygon})
	}
	return lib
}

func layerOf(t testing.TB, lib *layout.Library, name string) layout.Layer {
	l, ok := lib.LayerNamed(name)
	if !ok {
		t.Fatalf("no layer %s", name)
	}
	return l
}

func label(t testing.TB, lib *layout.Library, layer string, x, y int, text string) {
	lib.Cells[0].Labels = append(lib.Cells[0].Labels, layout.Label{Layer: layerOf(t, lib, layer), At: geom.Point{X: x, Y: y}, Text: text})
}

// short writes findings as code, layer, place and gap in nm.
func short(st *stack.Stack, fs []check.Finding) []string {
	var out []string
	for _, f := range fs {
		s := fmt.Sprintf("%s %s %d,%d", f.Code, st.Layers[f.Layer].Name, f.At.X, f.At.Y)
		if f.HasGap {
			s += fmt.Sprintf(" %d", f.Gap)
		}
		if f.Count > 1 {
			s += fmt.Sprintf(" ×%d", f.Count)
		}
		out = append(out, s)
	}
	return out
}

// TestFindings: layouts drawn by hand, with what there is to find by the definitions of the codes. The tolerance is 100 nm.
func TestFindings(t *testing.T) {
	for _, tc := range []struct {
		name   string
		shapes []drawn
		want   []string
	}{
		{"gap within the tolerance", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500)}, []string{"near-miss metal1 1000,250 80"}},
		{"gap of the tolerance", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1100, 0, 2000, 500)}, []string{"near-miss metal1 1000,250 100"}},
		{"gap beyond it", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1101, 0, 2000, 500)}, nil},
		{"upright gap, partly beside each other", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 600, 530, 2000, 900)}, []string{"near-miss metal1 800,500 30"}},
		{"corner to corner, 30 and 40 away: 50", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1030, 540, 2000, 900)}, []string{"near-miss metal1 1000,500 50"}},
		{"only a corner", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1000, 500, 2000, 900)}, []string{"near-miss metal1 1000,500 0"}},
		{"a shared edge is no gap", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1000, 0, 2000, 500)}, nil},
		{"joined elsewhere", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal1", 800, 400, 1000, 1000), box("metal1", 800, 900, 1300, 1100), box("metal1", 1150, 400, 1300, 1000)}, nil},
		{"joined by another layer", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("via", 300, 100, 600, 400), box("via", 1300, 100, 1600, 400), box("metal2", 0, 0, 2000, 500)}, nil},
		{"slanted gap: 3-4-5, 100·4/5 across; told on the lower side", []drawn{ring("metal1", 0, 0, 4000, 3000, 4000, 6000, 0, 3000), ring("metal1", 0, -100, 0, -3100, 4000, -100, 4000, 2900)}, []string{"near-miss metal1 2024,1418 80"}},
		{"what lies between is nearer", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1030, 0, 1040, 500), box("metal1", 1070, 0, 2000, 500)},
			[]string{"near-miss metal1 1000,250 30", "near-miss metal1 1040,250 30", "sliver metal1 1035,250 10"}},
		{"source and drain are no near miss, though L is 80", []drawn{box("diffusion", 0, 0, 2000, 500), box("poly", 1000, -300, 1080, 800)}, []string{"sliver poly 1040,250 80"}},
		{"diffusion in two", []drawn{box("diffusion", 0, 0, 1000, 500), box("diffusion", 1080, 0, 2000, 500)}, []string{"near-miss diffusion 1000,250 80"}},

		{"overlap by 20", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 980, 0, 2000, 500)}, []string{"near-overlap metal1 990,250 20"}},
		{"overlap of the tolerance", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 900, 0, 2000, 500)}, nil},
		{"shared edge of 60", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 1000, 440, 2000, 900)}, []string{"near-overlap metal1 1000,470 60"}},
		{"overlap by 20, joined well too", []drawn{box("metal1", 0, 0, 1000, 500), box("metal1", 980, 0, 2000, 500), box("metal1", 500, 200, 1500, 400)}, nil},
		{"an L and a bar, overlap by 30", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 300, 300, 300, 300, 1000, 0, 1000), box("metal1", 970, 0, 2000, 300)}, []string{"near-overlap metal1 985,150 30"}},
		{"an L and a bar, shared edge of 50", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 300, 300, 300, 300, 1000, 0, 1000), box("metal1", 1000, 250, 2000, 600)}, []string{"near-overlap metal1 1000,275 50"}},
		{"an L that touches only a corner", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 300, 300, 300, 300, 1000, 0, 1000), box("metal1", 1000, 300, 2000, 600)}, []string{"near-miss metal1 1000,300 0"}},

		{"sliver", []drawn{box("metal1", 0, 0, 5000, 90)}, []string{"sliver metal1 2500,45 90"}},
		{"no sliver", []drawn{box("metal1", 0, 0, 5000, 100)}, nil},
		{"slanted sliver: 3-4-5, 60·4/5 wide", []drawn{ring("metal1", 0, 0, 4000, 3000, 4000, 3060, 0, 60)}, []string{"sliver metal1 2000,1530 48"}},
		{"bent sliver, 40 wide: twice the area by the perimeter, 2·78400/4000 = 39.2", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 1000, 960, 1000, 960, 40, 0, 40)}, []string{"sliver metal1 500,20 39"}},
		{"two slivers that make one well", []drawn{box("metal1", 0, 0, 5000, 90), box("metal1", 0, 90, 5000, 180)}, nil},

		{"contact on both", []drawn{box("contact", 100, 100, 300, 300), box("metal1", 0, 0, 400, 400), box("poly", 0, 0, 400, 400)}, nil},
		{"contact on the metal only", []drawn{box("contact", 100, 100, 300, 300), box("metal1", 0, 0, 400, 400)}, []string{"contact-on-one contact 200,200"}},
		{"contact below nothing", []drawn{box("contact", 100, 100, 300, 300), box("poly", 0, 0, 400, 400)}, []string{"contact-on-one contact 200,200"}},
		{"contact on nothing", []drawn{box("contact", 100, 100, 300, 300)}, []string{"contact-on-none contact 200,200"}},
		{"an edge is no landing", []drawn{box("contact", 100, 100, 300, 300), box("metal1", 300, 0, 600, 400)}, []string{"contact-on-none contact 200,200"}},
		{"contacts that touch are one", []drawn{box("contact", 100, 100, 300, 300), box("contact", 300, 100, 500, 300), box("metal1", 0, 0, 310, 400), box("poly", 300, 0, 600, 400)}, nil},
		{"poly hides the diffusion: one conductor", []drawn{box("contact", 100, 100, 300, 300), box("poly", 0, -500, 400, 900), box("diffusion", -1000, 0, 1400, 400)}, []string{"contact-on-one contact 200,200"}},

		{"bow-tie", []drawn{ring("metal1", 0, 0, 1000, 1000, 1000, 0, 0, 1000)}, []string{"crosses-itself metal1 500,500", "near-miss metal1 500,500 0"}},
		{"bow-tie with a corner where it crosses", []drawn{ring("metal1", 0, 0, 500, 500, 1000, 1000, 1000, 0, 500, 500, 0, 1000)}, []string{"crosses-itself metal1 500,500", "near-miss metal1 500,500 0"}},
		{"frame along a slit", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 1000, 0, 1000, 0, 300, 300, 300, 300, 700, 700, 700, 700, 300, 0, 300)}, []string{"odd-outline metal1 0,300"}},
		{"a point twice", []drawn{ring("metal1", 0, 0, 1000, 0, 1000, 0, 1000, 1000, 0, 1000)}, []string{"odd-outline metal1 1000,0"}},

		{"gate across", []drawn{box("diffusion", 0, 0, 3000, 1000), box("poly", 1000, -400, 1500, 1400)}, nil},
		{"gate that ends inside", []drawn{box("diffusion", 0, 0, 3000, 1000), box("poly", 1000, -400, 1500, 900)}, []string{"gate-ends-inside poly 1250,900"}},
		{"gate that ends at the edge", []drawn{box("diffusion", 0, 0, 3000, 1000), box("poly", 1000, -400, 1500, 1000)}, []string{"short-end-cap poly 1250,1000 0"}},
		{"gate that passes by 60", []drawn{box("diffusion", 0, 0, 3000, 1000), box("poly", 1000, -400, 1500, 1060)}, []string{"short-end-cap poly 1250,1000 60"}},
		{"gate that passes by the tolerance", []drawn{box("diffusion", 0, 0, 3000, 1000), box("poly", 1000, -400, 1500, 1100)}, nil},
		{"gate closed on itself", []drawn{box("diffusion", 0, 0, 3000, 3000), {"poly", geom.Polygon{geom.Box(500, 500, 2500, 2500).Ring(), reversed(geom.Box(1000, 1000, 2000, 2000).Ring())}}}, nil},
		{"gate from source at its side to drain at its end, which have a corner in common", []drawn{ring("diffusion", 0, 0, 1500, 0, 1500, 2000, 1000, 2000, 1000, 1000, 0, 1000), box("poly", 1000, -400, 1500, 1000)},
			[]string{"near-miss diffusion 1000,1000 0", "short-end-cap poly 1500,500 0"}},
		{"slanted gate that ends inside", []drawn{box("diffusion", 0, 0, 9000, 3000), ring("poly", 0, -2000, 1000, -2000, 5000, 2000, 4000, 2000)}, []string{"gate-ends-inside poly 4500,2000"}},

		{"pad", []drawn{box("pad", 0, 0, 5000, 5000), box("metal2", -500, -500, 5500, 5500)}, []string{"pad-without-label pad 2500,2500"}},
	} {
		st := testStack(t)
		lib := library(t, st, tc.shapes...)
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		if err != nil {
			t.Fatal(err)
		}
		if got := short(st, fs); !slices.Equal(got, tc.want) {
			t.Errorf("%s:\ngot  %q\nwant %q", tc.name, got, tc.want)
		}
		slices.Reverse(lib.Cells[0].Shapes) // the order of shapes does not matter
		again, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		if got := short(st, again); err != nil || !slices.Equal(got, tc.want) {
			t.Errorf("%s, the other way around: %v\ngot  %q\nwant %q", tc.name, err, got, tc.want)
		}
	}
}

// TestHealedOverlaps: what a shape that closes a gap overlaps by little is meant.
func TestHealedOverlaps(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 980, 0, 2000, 500))
	for healed, want := range map[bool]int{false: 1, true: 0} {
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100, Healed: func(i int) bool { return healed && i == 1 }})
		if err != nil || len(fs) != want {
			t.Errorf("healed %v: %v %q", healed, err, short(st, fs))
		}
	}
}

func TestTooManyLayers(t *testing.T) {
	text := "name = \"many\"\n"
	for i := range 32 {
		text += fmt.Sprintf("[[layer]]\nname = \"d%d\"\nrole = \"diffusion\"\n", i)
	}
	st, err := stack.Parse("many.stack.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	lib := library(t, st, box("d1", 0, 0, 1000, 500))
	_, err = check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
	if err == nil || err.Error() != "32 layers of diffusion and gate are too many to look at: 63 at most, each diffusion counted twice; leave out those that the drawing does not use" {
		t.Error(err)
	}
}

// TestIsland: all of the border of a gate that lies inside the diffusion is its end; any place on it will do.
func TestIsland(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("diffusion", 0, 0, 3000, 3000), box("poly", 1000, 1000, 2000, 2000))
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
	if err != nil || len(fs) != 1 || fs[0].Code != check.GateEndsInside || lib.Cells[0].Shapes[1].Polygon.Locate(fs[0].At) != geom.OnEdge {
		t.Errorf("%v %q", err, short(st, fs))
	}
}

func reversed(r geom.Ring) geom.Ring { slices.Reverse(r); return r }

func TestPadsWithLabels(t *testing.T) {
	st := testStack(t)
	shapes := []drawn{box("pad", 0, 0, 5000, 5000), box("metal2", -500, -500, 5500, 5500), box("metal2", 5500, 0, 9000, 500)}
	for _, tc := range []struct {
		layer string
		x, y  int
		want  int
	}{{"pad", 100, 100, 0}, {"metal1", 4000, 4000, 0}, {"metal2", 8000, 100, 0}, {"metal1", 8000, 100, 1}} {
		lib := library(t, st, shapes...)
		label(t, lib, tc.layer, tc.x, tc.y, "IN")
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		fs = slices.DeleteFunc(fs, func(f check.Finding) bool { return f.Code == check.LabelOnNothing })
		if err != nil || len(fs) != tc.want {
			t.Errorf("label on %s at %d, %d: %v %q, want %d findings", tc.layer, tc.x, tc.y, err, short(st, fs), tc.want)
		}
	}
}

func TestOffShot(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 10050, 1000), box("metal1", 0, 2000, 10300, 3000), box("metal1", 20000, 0, 21000, 1000), box("metal1", 9000, 5000, 20000, 6000), box("metal1", 30000, 0, 31000, 1000))
	shots := []check.Shot{{Name: "bare", Outline: geom.Polygon{geom.Box(0, 0, 10000, 10000).Ring()}}}
	over := []int{0, 0, -1, -1, -2}
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100, Shots: shots, Over: func(i int) int { return over[i] }})
	want := []string{"off-shot metal1 20000,0", "off-shot metal1 10300,2000 300"}
	if got := short(st, fs); err != nil || !slices.Equal(got, want) {
		t.Errorf("%v\ngot  %q\nwant %q", err, got, want)
	}
	if !strings.Contains(fs[1].Text, "reaches 0.3 µm beyond the photograph bare") || !strings.Contains(fs[0].Text, "lies on no photograph") {
		t.Error(fs[0].Text, fs[1].Text)
	}
}

// TestUntraced: what a contact lands on is not known where a layer was not looked at.
func TestUntraced(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("via", 100, 100, 300, 300), box("metal1", 0, 0, 6000, 400), box("via", 5100, 100, 5300, 300))
	lib.Traced = []layout.Shape{{Layer: layerOf(t, lib, "metal2"), Polygon: geom.Polygon{geom.Box(4000, 0, 8000, 8000).Ring()}}}
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 50})
	if got := short(st, fs); err != nil || !slices.Equal(got, []string{"contact-on-one via 5200,200"}) {
		t.Errorf("%v %q", err, got)
	}
}

// TestFold: a gap inside of a cell is one finding in all its placements, however turned; one between two placements has no
// instance.
func TestFold(t *testing.T) {
	st := testStack(t)
	cell := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500)).Cells[0]
	cell.Name = "CELL"
	lib := library(t, st)
	lib.Cells = append(lib.Cells, cell)
	top := lib.Cells[0]
	top.Placements = []layout.Placement{
		{Cell: cell, Name: "ROW", Transform: geom.Identity, Columns: 3, ColumnExtent: geom.Vec{X: 8000}},
		{Cell: cell, Name: "TURNED", Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 0, Y: 10000})},
		{Cell: cell, Name: "NEAR", Transform: geom.Move(geom.Point{X: 10060})},
	}
	fs, err := check.Run(context.Background(), lib, top, st, check.Options{ToleranceNm: 100})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"near-miss metal1 1000,250 80 ×5", "near-miss metal1 10000,250 60"}
	if got := short(st, fs); !slices.Equal(got, want) {
		t.Fatalf("got %q, want %q", got, want)
	}
	if fs[0].Path != "ROW[0,0]" || fs[1].Path != "" {
		t.Errorf("in %q and %q", fs[0].Path, fs[1].Path)
	}
}

// TestFoldSlanted: a place on a slanted edge is rounded, and may lie off the shape by less than a nanometre.
func TestFoldSlanted(t *testing.T) {
	st := testStack(t)
	cell := library(t, st, ring("metal1", 0, 0, 1000, 37, 985, 437, -15, 400), ring("metal1", 1030, 38, 2030, 75, 2015, 475, 1015, 438)).Cells[0]
	cell.Name = "CELL"
	for _, degrees := range []float64{0, 90, 17.3} {
		lib := library(t, st)
		lib.Cells = append(lib.Cells, cell)
		lib.Cells[0].Placements = []layout.Placement{{Cell: cell, Name: "A", Transform: geom.NewTransform(false, 1, degrees, geom.Point{X: 7, Y: 9}), Columns: 5, Rows: 5,
			ColumnExtent: geom.Vec{X: 20000}, RowExtent: geom.Vec{Y: 20000}}}
		fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
		if err != nil {
			t.Fatal(err)
		}
		if len(fs) != 1 || fs[0].Count != 25 || fs[0].Path != "A[0,0]" {
			t.Errorf("at %g°: %d findings, the first %+v", degrees, len(fs), fs[0])
		}
	}
}

func TestLayersAndErrors(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal2", 0, 0, 1000, 500), box("metal2", 1080, 0, 2000, 500))
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100, Layers: []layout.Layer{layerOf(t, lib, "metal2")}})
	if got := short(st, fs); err != nil || !slices.Equal(got, []string{"near-miss metal2 1000,250 80"}) {
		t.Errorf("%v %q", err, got)
	}
	if _, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{}); err == nil || err.Error() != "a tolerance of 0 µm: give one above 0" {
		t.Error(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := check.Run(ctx, lib, lib.Cells[0], st, check.Options{ToleranceNm: 1}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	far := library(t, st, box("metal1", 0, 0, geom.Limit+1, 500))
	if _, err := check.Run(context.Background(), far, far.Cells[0], st, check.Options{ToleranceNm: 1}); err == nil || !strings.HasPrefix(err.Error(), "flatten: ") {
		t.Error(err)
	}
	lib.Cells[0].Placements = []layout.Placement{{Cell: lib.Cells[0], Transform: geom.Identity}}
	if _, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 1}); err == nil || !strings.Contains(err.Error(), "contains itself") {
		t.Error(err)
	}
}

// TestTexts: each code says what was found and what to do.
func TestTexts(t *testing.T) {
	st := testStack(t)
	lib := library(t, st, box("metal1", 0, 0, 1000, 500), box("metal1", 1080, 0, 2000, 500), box("metal1", 2000, 500, 3000, 900),
		box("contact", 9000, 0, 9100, 100), box("via", 500, 100, 600, 200))
	label(t, lib, "metal1", 10, 10, "A")
	label(t, lib, "metal1", 2990, 890, "C")
	fs, err := check.Run(context.Background(), lib, lib.Cells[0], st, check.Options{ToleranceNm: 100})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range fs {
		got = append(got, f.Text)
	}
	want := []string{
		"lies on none of metal1, poly and diffusion: draw what it joins, or remove it",
		"lies on metal1 only, not on metal2: draw what it joins, or remove it",
		"a gap of 0.08 µm between A and a net without label: if they are one, trace heal joins them",
		"only a corner in common, which joins nothing, between a net without label and C: if they are one, trace heal joins them",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}
