package svg

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"

	"pgregory.net/rapid"
)

// firstDifference compares cell by cell, layer by layer, and the flattened drawing of the first cell.
func firstDifference(a, b *layout.Library) string {
	if a.Name != b.Name || !slices.Equal(a.Layers, b.Layers) || len(a.Cells) != len(b.Cells) {
		return fmt.Sprintf("%q with layers %v and %d cells, back as %q, %v, %d", a.Name, a.Layers, len(a.Cells), b.Name, b.Layers, len(b.Cells))
	}
	for _, c := range a.Cells {
		d := b.Cell(c.Name)
		if d == nil {
			return fmt.Sprintf("cell %q is gone", c.Name)
		}
		if x, y := byLayer(c.Shapes), byLayer(d.Shapes); x != y {
			return fmt.Sprintf("cell %q: shapes %s, back as %s", c.Name, x, y)
		}
		labels := func(list []layout.Label) string {
			list = slices.Clone(list)
			slices.SortStableFunc(list, func(p, q layout.Label) int { return int(p.Layer) - int(q.Layer) })
			return fmt.Sprintf("%#v", list)
		}
		if x, y := labels(c.Labels), labels(d.Labels); x != y {
			return fmt.Sprintf("cell %q: labels %s, back as %s", c.Name, x, y)
		}
		if x, y := places(c), places(d); x != y {
			return fmt.Sprintf("cell %q: placements %s, back as %s", c.Name, x, y)
		}
	}
	if x, y := byLayer(a.Traced), byLayer(b.Traced); x != y {
		return fmt.Sprintf("traced areas %s, back as %s", x, y)
	}
	return ""
}

func byLayer(list []layout.Shape) string {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(p, q layout.Shape) int { return int(p.Layer) - int(q.Layer) })
	return fmt.Sprint(list)
}

func places(c *layout.Cell) string {
	s := ""
	for i := range c.Placements {
		p := &c.Placements[i]
		columns, rows := p.Members()
		xx, xy, yx, yy, dx, dy := p.Transform.Matrix()
		s += fmt.Sprintf("%q of %q %d×%d %v %v [%v %v %v %v %v %v]; ", p.Name, p.Cell.Name, columns, rows, geom.Vec{X: p.ColumnExtent.X + 0, Y: p.ColumnExtent.Y + 0}, geom.Vec{X: p.RowExtent.X + 0, Y: p.RowExtent.Y + 0}, xx+0, xy+0, yx+0, yy+0, dx+0, dy+0)
	}
	return s
}

// drawLibrary draws a random library: slanted polygons with holes, self-crossing ones, labels, placements, arrays whose
// pitch need not be whole, traced areas. The first cell is the top one.
func drawLibrary(t *rapid.T) *layout.Library {
	layers := []string{"metal 1", "poly", `odd <&"> läyer`, "unused"}
	lib := &layout.Library{Name: rapid.SampledFrom([]string{"", "die", "a <b> & \"c\""}).Draw(t, "name"), Layers: layers}
	n := rapid.IntRange(1, 4).Draw(t, "cells")
	coordinate := rapid.IntRange(-100000, 100000)
	if rapid.IntRange(0, 9).Draw(t, "far") == 0 {
		coordinate = rapid.IntRange(-geom.Limit/16, geom.Limit/16)
	}
	point := func() geom.Point { return geom.Point{X: coordinate.Draw(t, "x"), Y: coordinate.Draw(t, "y")} }
	ring := func() geom.Ring {
		for {
			var r geom.Ring
			for range rapid.IntRange(3, 7).Draw(t, "points") {
				r = append(r, point())
			}
			if slices.ContainsFunc(r[1:], func(p geom.Point) bool { return geom.Side(r[0], r[1], p) != 0 }) && len(slices.Compact(append(slices.Clone(r), r[0]))) == len(r)+1 {
				return r
			}
		}
	}
	shape := func() layout.Shape {
		s := layout.Shape{Layer: layout.Layer(rapid.IntRange(0, 2).Draw(t, "layer"))}
		if rapid.Bool().Draw(t, "frame") {
			p, w := point(), rapid.IntRange(10, 5000).Draw(t, "w")
			outer := geom.Ring{p, p.Add(geom.Point{X: w}), p.Add(geom.Point{X: w, Y: w + 3}), p.Add(geom.Point{Y: w})}
			hole := geom.Ring{p.Add(geom.Point{X: 1, Y: 1}), p.Add(geom.Point{X: 2, Y: w / 2}), p.Add(geom.Point{X: w / 2, Y: 2})}
			s.Polygon = geom.Polygon{outer, hole}
			return s
		}
		for range rapid.IntRange(1, 2).Draw(t, "rings") {
			s.Polygon = append(s.Polygon, ring())
		}
		return s
	}
	for i := range n {
		c := &layout.Cell{Name: fmt.Sprintf("cell %d<", i)}
		lib.Cells = append(lib.Cells, c)
	}
	for i, c := range lib.Cells {
		for range rapid.IntRange(0, 3).Draw(t, "shapes") {
			c.Shapes = append(c.Shapes, shape())
		}
		for range rapid.IntRange(0, 2).Draw(t, "labels") {
			text := rapid.SampledFrom([]string{"VDD", "a b", " lead ", "tab\tnew\nline", "<&>'\"", "µ"}).Draw(t, "text")
			c.Labels = append(c.Labels, layout.Label{Layer: layout.Layer(rapid.IntRange(0, 2).Draw(t, "layer")), At: point(), Text: text})
		}
		for k := i + 1; k < n; k++ { // each later cell is placed by the one before it, so that the first is the only top
			for again := range rapid.IntRange(0, 2).Draw(t, "placements") + b2i(k == i+1) {
				degrees := float64(rapid.SampledFrom([]int{0, 90, 180, 270}).Draw(t, "quarter"))
				mag := 1.0
				if again == 1 {
					degrees, mag = rapid.Float64Range(0, 360).Draw(t, "degrees"), rapid.Float64Range(0.1, 3).Draw(t, "mag")
				}
				p := layout.Placement{Cell: lib.Cells[k], Transform: geom.NewTransform(rapid.Bool().Draw(t, "mirror"), mag, degrees, point()),
					Name: rapid.SampledFrom([]string{"", "X1", "<&>"}).Draw(t, "instance"), Columns: 1, Rows: 1}
				if rapid.Bool().Draw(t, "array") {
					p.Columns, p.Rows = rapid.IntRange(1, 4).Draw(t, "columns"), rapid.IntRange(1, 3).Draw(t, "rows")
					extent := rapid.Float64Range(-5000, 5000)
					if p.Columns*p.Rows > 1 {
						p.ColumnExtent = geom.Vec{X: extent.Draw(t, "cx"), Y: extent.Draw(t, "cy")}
						p.RowExtent = geom.Vec{X: extent.Draw(t, "rx"), Y: extent.Draw(t, "ry")}
					}
				}
				c.Placements = append(c.Placements, p)
			}
		}
	}
	for range rapid.IntRange(0, 2).Draw(t, "areas") {
		lib.Traced = append(lib.Traced, shape())
	}
	return lib
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// What is written comes back as it was: cells, arrays, every coordinate, every bit of a transform.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lib := drawLibrary(t)
		var b bytes.Buffer
		if err := Write(&b, lib, nil, nil, nil); err != nil {
			if _, ok := err.(*Error); ok && b.Len() == 0 {
				t.Skip("a drawing beyond the frame")
			}
			t.Fatal(err)
		}
		d, err := Parse("back.svg", bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		back, rep, err := d.Library(Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Notes) > 0 {
			t.Fatalf("notes on what was written: %v", rep.Notes)
		}
		if diff := firstDifference(lib, back); diff != "" {
			t.Fatal(diff)
		}
		// Placed as by somebody who has only the picture: the same drawing, flat.
		flat, _, err := d.Library(Options{Place: pen.UmPerUnit(1, geom.Vec{}), Layers: lib.Layers})
		if err != nil {
			t.Fatal(err)
		}
		f, err := layout.Flatten(lib.Cells[0])
		if err != nil {
			t.Fatal(err)
		}
		if len(flat.Cells) != 1 || len(flat.Cells[0].Placements) != 0 {
			t.Fatalf("flat: %d cells", len(flat.Cells))
		}
		var want, got, margin [layout.MaxLayers]float64 // areas of rings, whatever their sense; each edge may be 1.5 nm off
		f.Shapes(func(s *layout.Shape, tr geom.Transform) bool {
			for _, r := range tr.ApplyPolygon(s.Polygon) {
				want[s.Layer] += math.Abs(r.Area())
				margin[s.Layer] += 1.5*r.Perimeter() + 9
			}
			return true
		})
		for _, s := range flat.Cells[0].Shapes {
			for _, r := range s.Polygon {
				got[s.Layer] += math.Abs(r.Area())
			}
		}
		for l := range lib.Layers {
			if math.Abs(got[l]-want[l]) > margin[l] {
				t.Fatalf("flat: layer %d has rings of %g nm², want %g ± %g", l, got[l], want[l], margin[l])
			}
		}
		var again bytes.Buffer
		if err := Write(&again, back, nil, nil, nil); err != nil || !bytes.Equal(again.Bytes(), b.Bytes()) {
			t.Fatalf("written again it differs (%v)", err)
		}
	})
}
