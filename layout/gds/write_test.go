package gds

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

// plainPairs sends layer n to n/0, labels to n/1; plainMap is the reverse.
func plainPairs(l layout.Layer) Pair { return Pair{Layer: int16(l), Datatype: 0} }

func plainLabels(l layout.Layer) Pair { return Pair{Layer: int16(l), Datatype: 1} }

func plainMap(l *layout.Library) *Map {
	m := &Map{Layers: l.Layers, Shapes: map[Pair]layout.Layer{}, Labels: map[Pair]layout.Layer{}}
	for i := range l.Layers {
		m.Shapes[plainPairs(layout.Layer(i))] = layout.Layer(i)
		m.Labels[plainLabels(layout.Layer(i))] = layout.Layer(i)
	}
	return m
}

func mustWrite(t testing.TB, l *layout.Library) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, l, plainPairs, plainLabels); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The bytes of a small library, put together by hand from the record table.
func TestWriteBytes(t *testing.T) {
	inner := &layout.Cell{Name: "IN"}
	top := &layout.Cell{Name: "TOP",
		Shapes: []layout.Shape{{Layer: 1, Polygon: geom.Polygon{ring(0, 0, 9, 0, 0, -9)}}},
		Labels: []layout.Label{{Layer: 1, At: geom.Point{X: 3, Y: -4}, Text: "VDD"}},
		Placements: []layout.Placement{
			{Cell: inner, Transform: geom.Move(geom.Point{X: 5, Y: 6})},
			{Cell: inner, Transform: geom.NewTransform(true, 1.5, 270, geom.Point{X: 7, Y: 8}),
				Columns: 4, Rows: 3, ColumnExtent: geom.Vec{X: 3000}, RowExtent: geom.Vec{Y: 4000}},
			{Cell: inner, Transform: geom.NewTransform(true, 1, 0, geom.Point{}), Columns: 1, Rows: 2, RowExtent: geom.Vec{Y: 50}},
		}}
	l := &layout.Library{Name: "LIB", Layers: []string{"a", "b"}, Cells: []*layout.Cell{top, inner}}
	day := []int{1970, 1, 1, 0, 0, 0, 1970, 1, 1, 0, 0, 0}
	cell := func(a asm, name string) asm { return a.i16(0x0502, day...).str(0x0606, name) }
	want := asm{}.i16(0x0002, 600).i16(0x0102, day...).str(0x0206, "LIB").rec(0x0305, append(bytes.Clone(real1e_3), real1e_9...)...)
	want = cell(want, "TOP").boundary(1, 0, 0, 0, 9, 0, 0, -9, 0, 0).text(1, 1, 3, -4, "VDD").sref("IN", 5, 6).
		rec(0x0B00).str(0x1206, "IN").i16(0x1A01, 0x8000).rec(0x1B05, real1_5...).rec(0x1C05, real270...).i16(0x1302, 4, 3).
		i32(0x1003, 7, 8, 4007, 8, 7, 6008).end().
		rec(0x0B00).str(0x1206, "IN").i16(0x1A01, 0x8000).i16(0x1302, 1, 2).i32(0x1003, 0, 0, 0, 0, 0, 100).end().endCell()
	want = cell(want, "IN").endCell().endLib()
	for range 2 { // the same on every run
		if got := mustWrite(t, l); !bytes.Equal(got, want) {
			t.Fatalf("got  % X\nwant % X", got, []byte(want))
		}
	}
}

// drawLibrary draws a library that the format can hold in full: polygons of one ring, arrays whose steps are whole.
func drawLibrary(t *rapid.T) *layout.Library {
	l := &layout.Library{Name: drawName(t, "library")}
	for i := range rapid.IntRange(1, layout.MaxLayers).Draw(t, "layers") {
		l.Layers = append(l.Layers, fmt.Sprintf("layer %d", i))
	}
	layer := func() layout.Layer { return layout.Layer(rapid.IntRange(0, len(l.Layers)-1).Draw(t, "layer")) }
	for i := range rapid.IntRange(0, 5).Draw(t, "cells") {
		c := &layout.Cell{Name: fmt.Sprintf("%d%s", i, drawName(t, "cell"))}
		for range rapid.IntRange(0, 4).Draw(t, "shapes") {
			c.Shapes = append(c.Shapes, layout.Shape{Layer: layer(), Polygon: geom.Polygon{drawRing(t)}})
		}
		for range rapid.IntRange(0, 2).Draw(t, "labels") {
			c.Labels = append(c.Labels, layout.Label{Layer: layer(), At: drawPoint(t, geom.Limit), Text: "n" + drawName(t, "label")})
		}
		for range rapid.IntRange(0, 3*min(i, 1)).Draw(t, "placements") {
			to := rapid.SampledFrom(l.Cells).Draw(t, "to")
			c.Placements = append(c.Placements, drawPlacement(t, to))
		}
		l.Cells = append(l.Cells, c)
	}
	if rapid.Bool().Draw(t, "references first") {
		slices.Reverse(l.Cells)
	}
	return l
}

func drawName(t *rapid.T, what string) string {
	return rapid.StringMatching(`[A-Za-z0-9_$?µ∑ ]{0,9}`).Draw(t, what)
}

func drawPoint(t *rapid.T, limit int) geom.Point {
	return geom.Point{X: rapid.IntRange(-limit, limit).Draw(t, "x"), Y: rapid.IntRange(-limit, limit).Draw(t, "y")}
}

// drawRing draws a ring that covers something: no point repeats its neighbour.
func drawRing(t *rapid.T) geom.Ring {
	limit := rapid.SampledFrom([]int{5, 1000, geom.Limit}).Draw(t, "limit")
	points := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) geom.Point { return drawPoint(t, limit) }), 3, 9,
		rapid.ID[geom.Point]).Draw(t, "ring")
	for i := range points[2:] {
		if geom.Side(points[0], points[1], points[2+i]) != 0 {
			return points
		}
	}
	return geom.Ring{{}, {X: 1}, {Y: 1}}
}

func drawPlacement(t *rapid.T, to *layout.Cell) layout.Placement {
	mag, angle := 1.0, float64(rapid.IntRange(0, 3).Draw(t, "quarters")*90)
	if rapid.Bool().Draw(t, "odd") {
		mag, angle = rapid.Float64Range(minMag, 1000).Draw(t, "mag"), rapid.Float64Range(0, 359.999).Draw(t, "angle")
	}
	at := drawPoint(t, 1e6)
	p := layout.Placement{Cell: to, Columns: 1, Rows: 1, Transform: geom.NewTransform(rapid.Bool().Draw(t, "mirror"), mag, angle, at)}
	if rapid.Bool().Draw(t, "array") {
		p.Columns, p.Rows = rapid.IntRange(1, 32767).Draw(t, "columns"), rapid.IntRange(1, 9).Draw(t, "rows")
		part := func(n int) geom.Vec { // n steps are whole; n-1 of them are the extent
			d := drawPoint(t, 1e9)
			return geom.Vec{X: float64(d.X) * float64(n-1) / float64(n), Y: float64(d.Y) * float64(n-1) / float64(n)}
		}
		p.ColumnExtent, p.RowExtent = part(p.Columns), part(p.Rows)
	}
	return p
}

func TestWriteThenRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLibrary(t)
		var b bytes.Buffer
		if err := Write(&b, l, plainPairs, plainLabels); err != nil {
			t.Fatal(err)
		}
		back, rep, err := Read("test.gds", &b, plainMap(l))
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Skipped)+len(rep.Notes) != 0 {
			t.Fatalf("report %+v", rep)
		}
		if d := difference(l, back); d != "" {
			t.Fatal(d)
		}
	})
}

// difference says where two libraries differ, "" if nowhere. Layers are compared by name where they are used.
func difference(a, b *layout.Library) string {
	if a.Name != b.Name || len(a.Cells) != len(b.Cells) {
		return fmt.Sprintf("library %q with %d cells, %q with %d", a.Name, len(a.Cells), b.Name, len(b.Cells))
	}
	for i, c := range a.Cells {
		d := b.Cells[i]
		if c.Name != d.Name || len(c.Shapes) != len(d.Shapes) || len(c.Labels) != len(d.Labels) || len(c.Placements) != len(d.Placements) {
			return fmt.Sprintf("cell %q: %d, %d, %d; %q: %d, %d, %d", c.Name, len(c.Shapes), len(c.Labels), len(c.Placements),
				d.Name, len(d.Shapes), len(d.Labels), len(d.Placements))
		}
		for k, s := range c.Shapes {
			r := d.Shapes[k]
			if a.Layers[s.Layer] != b.Layers[r.Layer] ||
				!slices.EqualFunc(s.Polygon, r.Polygon, func(p, q geom.Ring) bool { return slices.Equal(p, q) }) {
				return fmt.Sprintf("cell %q, shape %d: %s %v, %s %v", c.Name, k, a.Layers[s.Layer], s.Polygon, b.Layers[r.Layer], r.Polygon)
			}
		}
		for k, s := range c.Labels {
			if r := d.Labels[k]; a.Layers[s.Layer] != b.Layers[r.Layer] || s.At != r.At || s.Text != r.Text {
				return fmt.Sprintf("cell %q, label %d: %v, %v", c.Name, k, s, r)
			}
		}
		for k := range c.Placements {
			if !samePlacement(&c.Placements[k], &d.Placements[k]) {
				return fmt.Sprintf("cell %q, placement %d: %v, %v", c.Name, k, c.Placements[k], d.Placements[k])
			}
		}
	}
	return ""
}

func samePlacement(p, q *layout.Placement) bool {
	pc, pr := p.Members()
	qc, qr := q.Members()
	m1, mag1, deg1, at1 := p.Transform.Parts()
	m2, mag2, deg2, at2 := q.Transform.Parts()
	turn := math.Abs(deg1 - deg2)
	return p.Cell.Name == q.Cell.Name && pc == qc && pr == qr && m1 == m2 && at1 == at2 &&
		math.Abs(mag1-mag2) <= 1e-9*mag1 && min(turn, 360-turn) <= 1e-9 &&
		p.ColumnExtent == q.ColumnExtent && p.RowExtent == q.RowExtent
}

// Every published layout comes back as it was.
func TestCorpusComesBack(t *testing.T) {
	for _, file := range corpus(t) {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		l, _ := mustRead(t, data, nil)
		back, _ := mustRead(t, mustWrite(t, l), plainMap(l))
		if d := difference(l, back); d != "" {
			t.Errorf("%s: %s", filepath.Base(file), d)
		}
	}
}

// An array whose steps are off the grid is written member by member, each where the library has it.
func TestArrayOffTheGrid(t *testing.T) {
	inner := &layout.Cell{Name: "IN"}
	for name, p := range map[string]layout.Placement{
		"pitch 0.3 and 100.5": {Columns: 4, Rows: 2, ColumnExtent: geom.Vec{X: 0.9}, RowExtent: geom.Vec{X: 7, Y: 100.25}},
		"too many columns":    {Columns: 32768, Rows: 1, ColumnExtent: geom.Vec{X: 327670}},
		"next step outside":   {Columns: 2, Rows: 1, ColumnExtent: geom.Vec{X: 3 << 28}},
	} {
		p.Cell, p.Transform = inner, geom.NewTransform(true, 1, 90, geom.Point{X: 10, Y: 20})
		l := &layout.Library{Cells: []*layout.Cell{{Name: "TOP", Placements: []layout.Placement{p}}, inner}}
		back, _ := mustRead(t, mustWrite(t, l), nil)
		got := back.Cell("TOP").Placements
		columns, rows := p.Members()
		if len(got) != columns*rows {
			t.Errorf("%s: %d placements, want %d", name, len(got), columns*rows)
			continue
		}
		for i := range got {
			if want := p.Member(i%columns, i/columns); got[i].Transform != want {
				t.Errorf("%s: member %d at %v, want %v", name, i, got[i].Transform, want)
				break
			}
		}
	}
}

// A pitch that is no whole number, in an array whose steps are: one AREF, the same members.
func TestArrayOfFractionalPitch(t *testing.T) {
	inner := &layout.Cell{Name: "IN"}
	p := layout.Placement{Cell: inner, Transform: geom.Identity, Columns: 3, Rows: 1, ColumnExtent: geom.Vec{X: 20.0 / 3}}
	l := &layout.Library{Cells: []*layout.Cell{{Name: "TOP", Placements: []layout.Placement{p}}, inner}}
	back, _ := mustRead(t, mustWrite(t, l), nil)
	if got := back.Cells[0].Placements; len(got) != 1 || !samePlacement(&got[0], &p) {
		t.Errorf("got %v, want %v", got, p)
	}
}

func TestWriteErrors(t *testing.T) {
	a := &layout.Cell{Name: "A"}
	with := func(c layout.Cell) *layout.Library {
		c.Name = "TOP"
		return &layout.Library{Layers: []string{"metal1"}, Cells: []*layout.Cell{&c, a}}
	}
	shape := func(l layout.Layer, pg ...geom.Ring) *layout.Library {
		return with(layout.Cell{Shapes: []layout.Shape{{Layer: l, Polygon: pg}}})
	}
	label := func(l layout.Layer, x int, s string) *layout.Library {
		return with(layout.Cell{Labels: []layout.Label{{Layer: l, At: geom.Point{X: x}, Text: s}}})
	}
	place := func(p layout.Placement) *layout.Library {
		return with(layout.Cell{Placements: []layout.Placement{p}})
	}
	comb := func(n int) (r geom.Ring) { // n corners, n a multiple of 4
		for i := 0; i < n; i += 4 {
			r = append(r, ring(i, 0, i+1, 0, i+1, 9, i+2, 9)...)
		}
		return append(r[:n-2], geom.Point{X: n, Y: 0}, geom.Point{X: n, Y: -9})
	}
	self := with(layout.Cell{})
	self.Cells[0].Placements = []layout.Placement{{Cell: self.Cells[0], Transform: geom.Identity}}
	move := "\n    move the drawing nearer to the origin"
	out := geom.Limit + 1
	for _, tc := range []struct {
		name string
		lib  *layout.Library
		want string
	}{
		{"two cells", &layout.Library{Cells: []*layout.Cell{{Name: "A"}, {Name: "A"}}}, "two cells \"A\"\n    rename one of them"},
		{"no name", &layout.Library{Cells: []*layout.Cell{{}}}, "a cell without a name\n    give every cell a name"},
		{"control character", &layout.Library{Cells: []*layout.Cell{{Name: "A\n"}}}, "cell name \"A\\n\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{"long name", &layout.Library{Cells: []*layout.Cell{{Name: strings.Repeat("A", 65531)}}}, "cell name of 65531 bytes; a record holds 65530\n    shorten it"},
		{"library name", &layout.Library{Name: "\xFF"}, "library name \"\\xff\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{"ring", self, "cell \"TOP\" contains itself: TOP → TOP\n    remove one of these placements"},
		{"unknown cell", place(layout.Placement{Cell: &layout.Cell{Name: "B"}}), "cell TOP: a placement of cell \"B\", which the library does not contain\n    add that cell to the library"},
		{"no cell", place(layout.Placement{}), "cell TOP: a placement without a cell\n    name the cell that is placed, or remove the placement"},
		{"layer of a shape", shape(1, ring(0, 0, 1, 0, 0, 1)), "cell TOP: layer 1 of a library with 1\n    add the layer to the library"},
		{"layer of a label", label(3, 0, "x"), "cell TOP: layer 3 of a library with 1\n    add the layer to the library"},
		{"shape outside", shape(0, ring(0, 0, 1, 0, 0, out)), "cell TOP: layer metal1: a shape reaches outside the frame of ±1073741.824 µm" + move},
		{"label outside", label(0, out, "VDD"), "cell TOP: layer metal1: label \"VDD\" is outside the frame of ±1073741.824 µm" + move},
		{"label", label(0, 0, "a\x00"), "cell TOP: label \"a\\x00\" has characters that cannot be printed\n    use printable characters in UTF-8"},
		{"placement outside", place(layout.Placement{Cell: a, Transform: geom.Move(geom.Point{Y: out})}), "cell TOP: a placement of cell \"A\" is outside the frame of ±1073741.824 µm" + move},
		{"array outside", place(layout.Placement{Cell: a, Transform: geom.Move(geom.Point{Y: out}), Columns: 2, ColumnExtent: geom.Vec{Y: -100}}), "cell TOP: a placement of cell \"A\" is outside the frame of ±1073741.824 µm" + move},
		{"member outside", place(layout.Placement{Cell: a, Transform: geom.Identity, Columns: 2, ColumnExtent: geom.Vec{Y: 1e12}}), "cell TOP: a placement of cell \"A\" is outside the frame of ±1073741.824 µm" + move},
		{"magnification", place(layout.Placement{Cell: a, Transform: geom.NewTransform(false, 2e6, 0, geom.Point{})}), "cell TOP: cell \"A\" placed with magnification 2e+06; allowed are 1e-06 to 1e+06\n    correct the magnification of this placement"},
		{"no transform", place(layout.Placement{Cell: a}), "cell TOP: cell \"A\" placed with magnification 0; allowed are 1e-06 to 1e+06\n    correct the magnification of this placement"},
		{"large array", place(layout.Placement{Cell: a, Transform: geom.Identity, Columns: 2000, Rows: 1000, ColumnExtent: geom.Vec{X: 0.1}}), "cell TOP: an array of 2000 × 1000 placements of cell \"A\" has steps that the format cannot give, and is too large to be written one by one (at most 1048576)\n    split the array, or give it a pitch of whole nanometres"},
		{"array without end", place(layout.Placement{Cell: a, Transform: geom.Identity, Columns: math.MaxInt, Rows: math.MaxInt, ColumnExtent: geom.Vec{X: math.NaN()}}), fmt.Sprintf("cell TOP: an array of %d × %d placements of cell \"A\" has steps that the format cannot give, and is too large to be written one by one (at most 1048576)\n    split the array, or give it a pitch of whole nanometres", math.MaxInt, math.MaxInt)},
		{"many corners", shape(0, comb(8192)), "cell TOP: layer metal1: an outline of 8192 points at (0.000, 0.000) µm; a boundary holds 8190\n    cut the shape into smaller ones"},
		{"many corners with a hole", shape(0, comb(8188), ring(5, -1, 5, -2, 6, -2)), "cell TOP: layer metal1: an outline of 8191 points at (0.000, 0.000) µm; a boundary holds 8190\n    cut the shape into smaller ones"},
	} {
		err := Write(&bytes.Buffer{}, tc.lib, plainPairs, plainLabels)
		if err == nil || err.Error() != tc.want {
			t.Errorf("%s:\ngot  %v\nwant %s", tc.name, err, tc.want)
		}
	}
}

// The largest outline that a boundary holds, the longest name, and rings of no area.
func TestWriteLimits(t *testing.T) {
	var zigzag geom.Ring
	for i := range maxCorner - 2 {
		zigzag = append(zigzag, geom.Point{X: i, Y: i % 2})
	}
	zigzag = append(zigzag, geom.Point{X: maxCorner, Y: 100}, geom.Point{X: 0, Y: 100})
	c := &layout.Cell{Name: strings.Repeat("A", maxText), Shapes: []layout.Shape{
		{Polygon: geom.Polygon{zigzag}}, {Polygon: geom.Polygon{{}, ring(1, 1), ring(1, 1, 2, 2)}}, {},
	}}
	l := &layout.Library{Layers: []string{"m"}, Cells: []*layout.Cell{c}}
	back, _ := mustRead(t, mustWrite(t, l), plainMap(l))
	if got := back.Cells[0].Shapes; len(got) != 1 || !slices.Equal(got[0].Polygon[0], zigzag) || back.Cells[0].Name != c.Name {
		t.Errorf("%d shapes came back", len(got))
	}
}

func TestWritingFails(t *testing.T) {
	full := errors.New("disk full")
	l := &layout.Library{Cells: []*layout.Cell{{Name: "A"}}}
	if err := Write(failingWriter{full}, l, plainPairs, plainLabels); !errors.Is(err, full) {
		t.Errorf("got %v, want %v", err, full)
	}
}

type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) { return 0, w.err }
