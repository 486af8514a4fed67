package geojson

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"

	"pgregory.net/rapid"
)

func read(t testing.TB, text string, o Options) (*layout.Library, *Report) {
	t.Helper()
	lib, rep, err := Read("test.geojson", strings.NewReader(text), o)
	if err != nil {
		t.Fatal(err)
	}
	return lib, rep
}

// one is a file with one feature.
func one(geometry, properties string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":` + geometry + `,"properties":` + properties + `}]}`
}

// Geometries and what they cover. The rings are those of RFC 7946, appendix A.3 and A.6 (from memory), in µm; areas by hand.
func TestRead(t *testing.T) {
	const layer = `{"layer":"m"}`
	for _, tc := range []struct {
		name, geometry, properties string
		area                       float64 // µm²
		rings                      int
	}{
		{"polygon", `{"type":"Polygon","coordinates":[[[100.0,0.0],[101.0,0.0],[101.0,1.0],[100.0,1.0],[100.0,0.0]]]}`, layer, 1, 1},
		{"the other way around", `{"type":"Polygon","coordinates":[[[100,0],[100,1],[101,1],[101,0],[100,0]]]}`, layer, 1, 1},
		{"with a hole", `{"type":"Polygon","coordinates":[[[100,0],[101,0],[101,1],[100,1],[100,0]],[[100.8,0.8],[100.8,0.2],[100.2,0.2],[100.2,0.8],[100.8,0.8]]]}`, layer, 1 - 0.36, 2},
		{"with a hole of the same sense", `{"type":"Polygon","coordinates":[[[100,0],[101,0],[101,1],[100,1],[100,0]],[[100.2,0.2],[100.8,0.2],[100.8,0.8],[100.2,0.8],[100.2,0.2]]]}`, layer, 1 - 0.36, 2},
		{"multipolygon", `{"coordinates":[[[[102,2],[103,2],[103,3],[102,3],[102,2]]],[[[100,0],[101,0],[101,1],[100,1],[100,0]],[[100.2,0.2],[100.2,0.8],[100.8,0.8],[100.8,0.2],[100.2,0.2]]]],"type":"MultiPolygon"}`, layer, 2 - 0.36, 3},
		{"a part over another's hole", `{"type":"MultiPolygon","coordinates":[[[[0,0],[3,0],[3,3],[0,3],[0,0]],[[1,1],[1,2],[2,2],[2,1],[1,1]]],[[[1,1],[2,1],[2,2],[1,2],[1,1]]]]}`, layer, 9, 3},
		{"line", `{"type":"LineString","coordinates":[[0,0],[10,0]]}`, `{"layer":"m","width":2}`, 20, 1},
		{"line, half beyond", `{"type":"LineString","coordinates":[[0,0],[10,0]]}`, `{"layer":"m","width":2,"ends":"half"}`, 24, 1},
		{"line, bent", `{"type":"LineString","coordinates":[[0,0],[10,0],[10,10]]}`, `{"layer":"m","width":2}`, 40, 1},
		{"collection", `{"type":"GeometryCollection","geometries":[null,{"type":"Polygon","coordinates":[[[0,0],[2,0],[2,2],[0,0]]]}]}`, layer, 2, 1},
	} {
		lib, _ := read(t, one(tc.geometry, tc.properties), Options{})
		shapes := lib.Cells[0].Shapes
		if len(shapes) != 1 || len(shapes[0].Polygon) != tc.rings {
			t.Errorf("%s: %v", tc.name, shapes)
			continue
		}
		sum := 0.0
		for _, p := range parts(shapes[0].Polygon) {
			for _, r := range p {
				sum += r.Area()
			}
		}
		if math.Abs(sum/1e6-tc.area) > 1e-9 {
			t.Errorf("%s: %g µm², want %g", tc.name, sum/1e6, tc.area)
		}
	}
	lib, _ := read(t, one(`{"type":"MultiLineString","coordinates":[[[0,0],[1,0]],[[5,0],[6,0]]]}`, `{"layer":"m","width":0.5}`), Options{})
	if n := len(lib.Cells[0].Shapes); n != 2 {
		t.Errorf("two lines make %d shapes", n)
	}
	lib, _ = read(t, one(`{"type":"MultiPoint","coordinates":[[1,2],[3.0005,-4]]}`, `{"layer":"m","label":"VDD","x":{"y":[1,{}]}}`), Options{})
	if got := fmt.Sprint(lib.Cells[0].Labels); got != "[{0 {1000 2000} VDD} {0 {3001 -4000} VDD}]" {
		t.Errorf("labels %s", got)
	}
	lib, _ = read(t, one(`{"type":"Point","coordinates":[1,2]}`, `{"layer":"m","name":"VSS"}`), Options{})
	if got := fmt.Sprint(lib.Cells[0].Labels); got != "[{0 {1000 2000} VSS}]" {
		t.Errorf("a name: %s", got)
	}
	lib, rep := read(t, `{"properties":{"layer":"a"},"geometry":{"type":"Point","coordinates":[1,2]},"type":"Feature"}`, Options{})
	if len(lib.Cells[0].Labels) != 0 || lib.Layers[0] != "a" || rep.Notes[0].String() != `points without a property "label", left out: 1 (first in feature 1)` {
		t.Errorf("feature alone: %v, %v", lib, rep)
	}
	lib, rep = read(t, one(`{"type":"Polygon","coordinates":[[[0,0],[2,0],[2,2],[0,0]]]}`, `{"layer":"m","traced":true}`), Options{})
	if len(lib.Traced) != 1 || rep.Layers[0].Areas != 1 || lib.Cells[0].Name != "test" {
		t.Errorf("traced: %v", lib.Traced)
	}
}

func TestLayers(t *testing.T) {
	const square = `{"type":"Polygon","coordinates":[[[0,0],[2,0],[2,2],[0,0]]]}`
	text := `{"type":"FeatureCollection","features":[
{"type":"Feature","geometry":` + square + `,"properties":{"layer":"met1"}},
{"type":"Feature","geometry":` + square + `,"properties":{"layer":"odd"}},
{"type":"Feature","geometry":` + square + `,"properties":null},
{"type":"Feature","geometry":null,"properties":{"layer":"met1"}}]}`
	o := Options{Layers: []string{"metal1", "poly"}, Rename: map[string]string{"met1": "metal1"}}
	_, _, err := Read("test.geojson", strings.NewReader(text), o)
	want := `test.geojson: nothing says to what layers 2 features belong:
    layer "odd": 1 (first in feature 2)
    no property "layer": 1 (first in feature 3)
    give the features a property "layer", or say which layer a value stands for`
	if err == nil || err.Error() != want {
		t.Errorf("%v\nwant %s", err, want)
	}
	o.Default, o.Rename["odd"] = "poly", ""
	_, rep := read(t, text, o)
	if got := fmt.Sprint(rep.Layers, rep.Unmapped); got != "[{metal1 1 0 0 0} {poly 1 0 0 0}] []" {
		t.Errorf("%s", got)
	}
	if got := fmt.Sprint(rep.Notes); got != "[features of layers that were to be left out: 1 (first in feature 2) features without a geometry, left out: 1 (first in feature 4)]" {
		t.Error(got)
	}
	o = Options{Layers: []string{"metal1"}, LeaveUnmapped: true}
	if _, rep = read(t, text, o); len(rep.Unmapped) != 3 {
		t.Errorf("%v", rep.Unmapped)
	}
	if _, _, err := Read("x", strings.NewReader(text), Options{Layers: []string{"a"}, Default: "b"}); err == nil || err.Error() != "there is no layer \"b\"\n    there are a" {
		t.Error(err)
	}
}

func TestNotes(t *testing.T) {
	for _, tc := range []struct{ geometry, properties, want string }{
		{`{"type":"Point","coordinates":[1,2,3]}`, `{"layer":"m","label":"a"}`, "positions with more than two numbers, of which two count"},
		{`{"type":"Point","coordinates":[1.0001,2]}`, `{"layer":"m","label":"a"}`, "positions between nanometres, rounded"},
		{`{"type":"Polygon","coordinates":[[[0,0],[1,1],[2,2],[0,0]]]}`, `{"layer":"m"}`, "rings that cover nothing, left out"},
		{`{"type":"Polygon","coordinates":[[[0,0],[4,0],[4,4],[0,4],[0,0]],[[3,1],[6,1],[6,2],[3,2],[3,1]]]}`, `{"layer":"m"}`, "holes that reach beyond their outer ring, which count as drawn there"},
		{`{"type":"Polygon","coordinates":[]}`, `{"layer":"m"}`, "geometries without a position, left out"},
		{`{"type":"LineString","coordinates":[[0,0],[0,0]]}`, `{"layer":"m","width":1}`, "lines that cover nothing, left out"},
	} {
		_, rep := read(t, one(tc.geometry, tc.properties), Options{})
		if len(rep.Notes) != 1 || rep.Notes[0].Text != tc.want {
			t.Errorf("%s: %v, want %s", tc.geometry, rep.Notes, tc.want)
		}
	}
	// A file of one feature: that is the first.
	_, rep := read(t, `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2,3]},"properties":{"layer":"m","label":"a"}}`, Options{})
	if len(rep.Notes) != 1 || rep.Notes[0].Feature != 1 {
		t.Error(rep.Notes)
	}
	_, rep = read(t, `{"type":"FeatureCollection","crs":{"a":1},"features":[]}`, Options{})
	if len(rep.Notes) != 1 || !strings.HasPrefix(rep.Notes[0].Text, "a coordinate system is named") {
		t.Error(rep.Notes)
	}
}

// A byte order mark does not matter, and counts as bytes.
func TestByteOrderMark(t *testing.T) {
	const mark = "\xEF\xBB\xBF"
	lib, _ := read(t, mark+one(`{"type":"Point","coordinates":[1,2]}`, `{"layer":"m","label":"a"}`), Options{})
	if len(lib.Cells[0].Labels) != 1 {
		t.Error(lib.Cells[0])
	}
	if _, _, err := Read("x", strings.NewReader(mark+"[1]"), Options{}); err == nil || !strings.HasPrefix(err.Error(), "x: byte 4: this is no GeoJSON") {
		t.Error(err)
	}
}

func TestErrors(t *testing.T) {
	nested := strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 10)
	var layers []string
	for i := range 65 {
		layers = append(layers, fmt.Sprintf("%q", fmt.Sprint("l", i)))
	}
	for _, tc := range []struct{ text, want string }{
		{"", "byte 0: the file is empty\n    " + getCopy},
		{"[1]", "byte 1: this is no GeoJSON, which is an object; found a list\n    take a GeoJSON file"},
		{"{}", "byte 2: this is no GeoJSON: the object has no type\n    take a GeoJSON file"},
		{`{"type":"FeatureCollection"}`, "byte 28: a FeatureCollection without features\n    " + correct},
		{`{"type":"Circle"}`, "byte 17: a file of type \"Circle\"; there are FeatureCollection, Feature and the types of geometries\n    " + correct},
		{`{"type":"Point","coordinates":[1,2]}`, "nothing says to what layer a geometry by itself, which names no layer, belongs\n    say which layer it is, or make it the geometry of a Feature with a property \"layer\""},
		{`{"type":"FeatureCollection","features":7}`, "byte 40: features must be a list; found 7\n    " + correct},
		{`{"features":[5]}`, "byte 14: feature 1: a feature must be an object; found 5\n    " + correct},
		{`{"features":[{"type":"Point"}]}`, "byte 29: feature 1: a feature of type \"Point\"; there is only Feature\n    " + correct},
		{`{"features":[{"geometry":5}]}`, "byte 26: feature 1: a geometry must be an object; found 5\n    " + correct},
		{`{"features":[{"properties":5}]}`, "byte 28: feature 1: properties must be an object or null; found 5\n    " + correct},
		{`{"features":[{"properties":{"layer":5}}]}`, "byte 37: feature 1: the property layer must be a name; found 5\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":"x"}}]}`, "byte 43: feature 1: coordinates must be a list; found \"x\"\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[1]}}]}`, "byte 43: feature 1: a position has two numbers; found the end of a list\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[1,2,"x"]}}]}`, "byte 48: feature 1: a position has numbers only; found \"x\"\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[1,2],3]}}]}`, "byte 48: feature 1: a number among lists of coordinates\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[1,2],null]}}]}`, "byte 51: feature 1: found null among coordinates\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[1,2],{}]}}]}`, "byte 48: feature 1: found an object among coordinates\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[1,2],[[3,4]]]}}]}`, "byte 54: feature 1: lists of coordinates that are not equally deep\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[[[[1]]]]]}}]}`, "byte 45: feature 1: coordinates lie in more than 3 lists\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[[]]}}]}`, "byte 43: feature 1: an empty list where positions belong\n    " + correct},
		{`{"features":[{"geometry":{"coordinates":[2e6,0]}}]}`, "byte 47: feature 1: (2e+06, 0) µm is outside the frame of ±1073741.824 µm\n    " + moveNearer},
		{`{"features":[{"geometry":{"coordinates":[1e999,0]}}]}`, "byte 46: feature 1: number 1e999 is beyond what a number can be\n    " + correct},
		{`{"features":[{"geometry":{"geometries":5}}]}`, "byte 40: feature 1: geometries must be a list; found 5\n    " + correct},
		{`{"features":[{"geometry":` + nested, "byte 412: feature 1: more than 8 collections of geometries inside of each other\n    " + correct},
		{one(`{"type":"Circle","coordinates":[1,2]}`, `{"layer":"m"}`), "byte 134: feature 1: a geometry of type \"Circle\"; there are Point, LineString, Polygon, these with Multi before, and GeometryCollection\n    " + correct},
		{one(`{"type":"Polygon","coordinates":[1,2]}`, `{"layer":"m"}`), "byte 135: feature 1: coordinates of a Polygon that lie in 0 lists, not 2\n    " + correct},
		{one(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,0]]]}`, `{"layer":"m"}`), "byte 151: feature 1: a ring of 3 positions at (0.000, 0.000) µm; a ring has four or more, the last one like the first\n    " + correct},
		{one(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}`, `{"layer":"m"}`), "byte 157: feature 1: a ring that is not closed: it begins at (0.000, 0.000) µm and ends at (0.000, 1.000)\n    repeat its first position at its end"},
		{one(`{"type":"LineString","coordinates":[[0,0],[1,0]]}`, `{"layer":"m"}`), "byte 146: feature 1: a line without a width in µm above 0\n    give it a property \"width\" in µm, or draw a polygon"},
		{one(`{"type":"LineString","coordinates":[[0,0],[1,0]]}`, `{"layer":"m","width":1,"ends":"flat"}`), "byte 170: feature 1: a line with ends \"flat\"; there are flush, round and half\n    " + correct},
		{one(`{"type":"LineString","coordinates":[[0,0],[1,0]]}`, `{"layer":"m","width":2147483,"ends":"half"}`), "byte 176: feature 1: a line of width 2147483.000 µm reaches outside the frame of ±1073741.824 µm\n    " + moveNearer},
		{`{"type":"FeatureCollection","features":[]}{}`, "byte 43: something follows the end: an object\n    remove it"},
		{`{"type":"FeatureCollection","features":[`, "byte 40: the file is cut off\n    " + getCopy},
		{`{"type":FeatureCollection}`, "byte 8: this is no JSON: invalid character 'F' looking for beginning of value\n    " + correct},
		{`{"layers":{}}`, "byte 11: layers must be a list of names; found an object\n    " + correct},
		{`{"layers":[` + strings.Join(layers, ",") + `]}`, "byte 390: layer \"l64\" is one more than the 64 that a library can have\n    say which layers are needed"},
	} {
		_, _, err := Read("t", strings.NewReader(tc.text), Options{})
		if err == nil || err.Error() != "t: "+tc.want {
			t.Errorf("%.90s:\n%v\nwant t: %s", tc.text, err, tc.want)
		}
	}
	lost := errors.New("the disk is gone")
	if _, _, err := Read("t", iotest.ErrReader(lost), Options{}); !errors.Is(err, lost) {
		t.Error(err)
	}
}

func TestWriteErrors(t *testing.T) {
	far := geom.Polygon{{{X: 2 * geom.Limit}, {}, {Y: 5}}}
	for _, tc := range []struct {
		lib  *layout.Library
		want string
	}{
		{&layout.Library{Layers: []string{""}}, "a layer is called \"\"\n    rename it, in UTF-8"},
		{&layout.Library{Cells: []*layout.Cell{{Shapes: []layout.Shape{{Polygon: geom.Polygon{{{}, {X: 5}, {Y: 5}}}}}}}}, "layer 0 of a library with 0\n    add the layer to the library"},
		{&layout.Library{Cells: []*layout.Cell{{Name: "A", Shapes: []layout.Shape{{Polygon: far}}}}}, "cell \"A\" reaches from (0.000, 0.000) to (2147483.648, 0.005) µm; the frame ends at ±1073741.824 µm\n    " + moveNearer},
		{&layout.Library{Layers: []string{"m"}, Traced: []layout.Shape{{Polygon: far}}}, "a traced area reaches outside the frame of ±1073741.824 µm\n    " + moveNearer},
		{&layout.Library{Layers: []string{"m"}, Cells: []*layout.Cell{{Labels: []layout.Label{{Text: "\xff"}}}}}, "a label \"\\xff\" in instance \"\"\n    give it a text in UTF-8"},
		{&layout.Library{Layers: []string{"m"}, Cells: []*layout.Cell{{Labels: []layout.Label{{Text: "a", At: geom.Point{X: 2 * geom.Limit}}}}}}, "label \"a\" is outside the frame of ±1073741.824 µm\n    " + moveNearer},
	} {
		if err := Write(&bytes.Buffer{}, tc.lib, nil, nil); err == nil || err.Error() != tc.want {
			t.Errorf("%v\nwant %s", err, tc.want)
		}
	}
}

// What a file looks like, by hand from RFC 7946: outer rings counterclockwise, holes clockwise, closed.
func TestWrite(t *testing.T) {
	inner := &layout.Cell{Name: "IN", Labels: []layout.Label{{At: geom.Point{X: 5}, Text: "a"}}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{{Polygon: geom.Polygon{
		{{}, {Y: 3000}, {X: 3000, Y: 3000}, {X: 3000}}, {{X: 1000, Y: 1000}, {X: 2000, Y: 1000}, {X: 1500, Y: 2001}}}}},
		Placements: []layout.Placement{{Name: "X1", Cell: inner, Transform: geom.Move(geom.Point{Y: -7})}}}
	lib := &layout.Library{Layers: []string{"m<1"}, Cells: []*layout.Cell{top, inner}}
	var b bytes.Buffer
	more := func(*layout.Shape) map[string]any { return map[string]any{"method": "hand", "a": 1} }
	if err := Write(&b, lib, nil, more); err != nil {
		t.Fatal(err)
	}
	want := `{"type":"FeatureCollection","name":"TOP","units":"` + units + `","layers":["m\u003c1"],"features":[
{"type":"Feature","properties":{"layer":"m\u003c1","a":1,"method":"hand"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[3,0],[3,3],[0,3],[0,0]],[[1,1],[1.5,2.001],[2,1],[1,1]]]}},
{"type":"Feature","properties":{"layer":"m\u003c1","label":"a","path":"X1"},"geometry":{"type":"Point","coordinates":[0.005,-0.007]}}
]}
`
	if b.String() != want {
		t.Errorf("%s\nwant %s", b.String(), want)
	}
	if !Known(b.Bytes()[:60]) || Known([]byte("<svg>")) || Known([]byte(`{"a":1}`)) {
		t.Error("not known, or others are")
	}
}

// What is written comes back as the same flattened drawing: each shape covers what it did, labels with their instances.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lib := drawLibrary(t)
		var b bytes.Buffer
		if err := Write(&b, lib, nil, nil); err != nil {
			t.Fatal(err)
		}
		back, rep, err := Read("back.geojson", bytes.NewReader(b.Bytes()), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Notes) > 0 || !slices.Equal(back.Layers, lib.Layers) || back.Cells[0].Name != "top" {
			t.Fatalf("notes %v, layers %v", rep.Notes, back.Layers)
		}
		want, got := flatten(t, lib), flatten(t, back)
		if !slices.Equal(want, got) {
			t.Fatalf("%v\nback as %v\n%s", want, got, b.String())
		}
		var again bytes.Buffer
		if err := Write(&again, back, nil, nil); err != nil || again.String() != b.String() {
			t.Fatalf("written again it differs (%v)\n%s\n%s", err, b.String(), again.String())
		}
	})
}

// flatten lists the shapes that cover something, by what they cover, and the labels.
func flatten(t *rapid.T, lib *layout.Library) (out []string) {
	f, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		t.Fatal(err)
	}
	add := func(what string, l layout.Layer, pg geom.Polygon) {
		if segs := sweep.Outline(pg); len(segs) > 0 {
			slices.SortFunc(segs, func(a, b sweep.Seg) int { return strings.Compare(fmt.Sprint(a.A, a.B), fmt.Sprint(b.A, b.B)) })
			line := fmt.Sprint(what, l)
			for _, s := range segs {
				line += fmt.Sprint(s.A, s.B)
			}
			out = append(out, line)
		}
	}
	f.Shapes(func(s *layout.Shape, tr geom.Transform) bool {
		add("shape ", s.Layer, tr.ApplyPolygon(s.Polygon))
		return true
	})
	for _, s := range lib.Traced {
		add("traced ", s.Layer, s.Polygon)
	}
	f.Labels(func(l *layout.Label, at geom.Point, path string) {
		out = append(out, fmt.Sprintf("label %d %v %q %q", l.Layer, at, l.Text, path))
	})
	return out
}

func drawLibrary(t *rapid.T) *layout.Library {
	point := func(reach int) geom.Point {
		return geom.Point{X: rapid.IntRange(-reach, reach).Draw(t, "x"), Y: rapid.IntRange(-reach, reach).Draw(t, "y")}
	}
	shape := func() layout.Shape {
		s := layout.Shape{Layer: layout.Layer(rapid.IntRange(0, 1).Draw(t, "layer"))}
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0: // a slanted frame, holes of either sense
			p, w := point(100000), rapid.IntRange(50, 5000).Draw(t, "w")
			hole := geom.Ring{p.Add(geom.Point{X: w / 4, Y: w / 4}), p.Add(geom.Point{X: w / 2, Y: w / 3}), p.Add(geom.Point{X: w / 4, Y: w / 2})}
			outer := geom.Ring{p, p.Add(geom.Point{X: w}), p.Add(geom.Point{X: w + 3, Y: w}), p.Add(geom.Point{X: -9, Y: w})}
			if rapid.Bool().Draw(t, "reverse") {
				slices.Reverse(hole)
			} else {
				slices.Reverse(outer)
				slices.Reverse(hole)
			}
			s.Polygon = geom.Polygon{outer, hole}
			if outer.Sense() == hole.Sense() {
				s.Polygon = geom.Polygon{outer, reversed(hole)}
			}
		case 1: // rectangles over each other, as a wire in pieces
			for range rapid.IntRange(2, 4).Draw(t, "boxes") {
				p, q := point(3000), point(3000)
				s.Polygon = append(s.Polygon, geom.Box(p.X, p.Y, q.X, q.Y).Ring())
			}
		default: // one ring, crossing itself or not
			var r geom.Ring
			for range rapid.IntRange(3, 6).Draw(t, "points") {
				r = append(r, point(100000))
			}
			if area := sweep.Outline(geom.Polygon{r}); len(area) == 0 || len(slices.Compact(append(slices.Clone(r), r[0]))) != len(r)+1 {
				r = geom.Box(0, 0, 10, 10).Ring()
			}
			s.Polygon = geom.Polygon{r}
		}
		return s
	}
	inner, top := &layout.Cell{Name: "inner"}, &layout.Cell{Name: "top"}
	for _, c := range []*layout.Cell{top, inner} {
		for range rapid.IntRange(0, 3).Draw(t, "shapes") {
			c.Shapes = append(c.Shapes, shape())
		}
		for range rapid.IntRange(0, 2).Draw(t, "labels") {
			c.Labels = append(c.Labels, layout.Label{Layer: 1, At: point(100000), Text: rapid.StringMatching(`[a-zµ "\\/<]{1,5}`).Draw(t, "text")})
		}
	}
	for range rapid.IntRange(1, 2).Draw(t, "placements") {
		top.Placements = append(top.Placements, layout.Placement{Cell: inner, Columns: rapid.IntRange(1, 3).Draw(t, "columns"), Rows: 2,
			ColumnExtent: geom.Vec{X: 3333.3, Y: 7}, RowExtent: geom.Vec{Y: -400.5},
			Transform: geom.NewTransform(rapid.Bool().Draw(t, "mirror"), 1, float64(90*rapid.IntRange(0, 3).Draw(t, "turn")), point(100000))})
	}
	lib := &layout.Library{Layers: []string{"metal 1", "poly", "none"}, Cells: []*layout.Cell{top, inner}}
	for range rapid.IntRange(0, 1).Draw(t, "areas") {
		lib.Traced = append(lib.Traced, shape())
	}
	return lib
}
