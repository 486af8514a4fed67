package gds

import (
	"bytes"
	"errors"
	"fmt"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// FuzzRead: any bytes give a library or an *Error, and a library that was read can be written and comes back equal.
func FuzzRead(f *testing.F) {
	for _, s := range fuzzSeeds(f) {
		f.Add(s)
		for _, part := range []int{1, 2, 3} {
			f.Add(s[:len(s)*part/4])
		}
		f.Add(s[:len(s)-1])
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		l, _, err := Read("fuzz.gds", bytes.NewReader(data), nil)
		if err != nil {
			if e := (*Error)(nil); !errors.As(err, &e) || e.Text == "" || e.Remedy == "" || e.Offset < 0 || e.Offset > int64(len(data)) {
				t.Fatalf("error without place or remedy: %#v", err)
			}
			return
		}
		pairs := map[layout.Layer]Pair{}
		for i, name := range l.Layers {
			var p Pair
			if _, err := fmt.Sscanf(name, "%d/%d", &p.Layer, &p.Datatype); err != nil {
				t.Fatalf("layer %q: %v", name, err)
			}
			pairs[layout.Layer(i)] = p
		}
		pairOf := func(l layout.Layer) Pair { return pairs[l] }
		oneRingEach(l)
		var b bytes.Buffer
		if err := Write(&b, l, pairOf, pairOf); err != nil {
			if tooLong(l) {
				return // several XY records in one element: more than a boundary holds
			}
			t.Fatalf("what was read cannot be written: %v", err)
		}
		back, rep, err := Read("back.gds", bytes.NewReader(b.Bytes()), nil)
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		if len(rep.Notes) != 0 {
			t.Fatalf("notes on what was written: %v", rep.Notes)
		}
		if d := difference(l, back); d != "" {
			t.Fatal(d)
		}
	})
}

// oneRingEach splits the polygons that came from a path in pieces: the writer makes a boundary of each piece.
func oneRingEach(l *layout.Library) {
	for _, c := range l.Cells {
		var shapes []layout.Shape
		for _, s := range c.Shapes {
			outlines, _ := boundaries(s.Polygon)
			for _, r := range outlines {
				shapes = append(shapes, layout.Shape{Layer: s.Layer, Polygon: geom.Polygon{r}})
			}
		}
		c.Shapes = shapes
	}
}

func tooLong(l *layout.Library) bool {
	for _, c := range l.Cells {
		for _, s := range c.Shapes {
			if len(s.Polygon[0]) > maxCorner {
				return true
			}
		}
	}
	return false
}

// fuzzSeeds are streams with every kind of element: one from the writer, the others from the test's assembler.
func fuzzSeeds(f *testing.F) [][]byte {
	inner := &layout.Cell{Name: "IN", Shapes: []layout.Shape{{Polygon: geom.Polygon{ring(0, 0, 9, 0, 9, 9, 0, 9)}},
		{Layer: 1, Polygon: geom.Polygon{ring(0, 0, 100, 0, 100, 100, 0, 100), ring(30, 30, 30, 70, 70, 70, 70, 30)}}}}
	top := &layout.Cell{Name: "TOP", Labels: []layout.Label{{Layer: 1, At: geom.Point{X: 1}, Text: "µ"}}, Placements: []layout.Placement{
		{Cell: inner, Transform: geom.NewTransform(true, 2, 45, geom.Point{X: 5})},
		{Cell: inner, Transform: geom.Identity, Columns: 3, Rows: 2, ColumnExtent: geom.Vec{X: 20.0 / 3}, RowExtent: geom.Vec{Y: 7}},
	}}
	written := mustWrite(f, &layout.Library{Name: "L", Layers: []string{"a", "b"}, Cells: []*layout.Cell{top, inner}})
	paths := lib().cell("P")
	for pathType := range 3 {
		paths = paths.path(pathType, 15, 0, 0, 50, 0, 50, 60).path(pathType, 20, 0, 0, 100, 0, 40, 1).path(pathType, -7, 3, 3)
	}
	paths = paths.pathGiven(20, -5, 9, 0, 0, 100, 70, 0, 0).endCell().endLib()
	others := libUnits(real5e_10).cell("O").rec(0x2D00).i16(0x0D02, 1).i16(0x2E02, 0).i32(0x1003, 0, 0, 10, 0, 10, 20, 0, 20).end().
		rec(0x1500).i16(0x0D02, 1).i16(0x2A02, 2).i32(0x1003, 1, 1).end().
		rec(0x0A00).str(0x1206, "Q").i16(0x1A01, 0x8006).rec(0x1B05, real1_5...).rec(0x1C05, real270...).i32(0x1003, 2, 4).i16(0x2B02, 1).str(0x2C06, "v").end().
		endCell().cell("Q").i16(0x3401, 0).endCell().endLib()
	return [][]byte{written, paths, append(others, 0, 0)}
}
