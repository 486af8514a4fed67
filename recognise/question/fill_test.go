package question

import (
	"fmt"
	"math"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// fillsOf returns the fills of a board's photodiodes, each once, with how many have it.
func fillsOf(t *Told) map[string]int {
	out := map[string]int{}
	for _, f := range t.Fills {
		out[fmt.Sprintf("%.6g of %.6g by %s", f.Factor, f.Cell/1e6, f.From)]++
	}
	return out
}

// TestFillFactor: 5 × 5 in 10 × 10 µm has 0.25; 6 × 6 less a notch of 2 × 3 in 8 × 8 has 0.46875 (definition), however they are placed.
func TestFillFactor(t *testing.T) {
	square := func(b *board) {
		b.box("ndiff", 0, 0, 5000, 5000)
		b.box("light", 0, 0, 5000, 5000)
	}
	notched := func(b *board) {
		for _, layer := range []string{"ndiff", "light"} {
			b.box(layer, 0, 0, 6000, 3000)
			b.box(layer, 0, 3000, 4000, 6000)
		}
	}
	two := func(b *board) { // in one cell: 5 × 5 and 5 × 3
		square(b)
		b.box("ndiff", 0, 6000, 5000, 9000)
		b.box("light", 0, 6000, 5000, 9000)
	}
	array := func(columns, rows, dx, dy int) func(*board, *layout.Cell) {
		return func(b *board, c *layout.Cell) { b.array(c, columns, rows, dx, dy) }
	}
	each := func(at ...geom.Point) func(*board, *layout.Cell) {
		return func(b *board, c *layout.Cell) {
			for _, p := range at {
				b.place(c, p.X, p.Y)
			}
		}
	}
	nested := func(b *board, c *layout.Cell) {
		row := b.cell("ROW")
		row.Placements = []layout.Placement{{Cell: c, Transform: geom.Identity, Columns: 4, ColumnExtent: geom.Vec{X: 30000}}}
		b.array(row, 1, 3, 0, 10000)
	}
	none := map[string]int{"0 of 0 by ": 1}
	for _, tc := range []struct {
		name  string
		cell  func(*board)
		place func(*board, *layout.Cell)
		want  map[string]int
	}{
		{"array", square, array(4, 3, 10000, 10000), map[string]int{"0.25 of 100 by array": 12}},
		{"array of a notched one", notched, array(2, 2, 8000, 8000), map[string]int{"0.46875 of 64 by array": 4}},
		{"two in a cell", two, array(3, 2, 10000, 10000), map[string]int{"0.4 of 100 by array": 12}},
		{"rows in a column", square, nested, map[string]int{"0.25 of 100 by array": 12}},
		{"placed one by one", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 20000}, geom.Point{Y: 10000}, geom.Point{X: 10000, Y: 10000}, geom.Point{X: 20000, Y: 10000}), map[string]int{"0.25 of 100 by lattice": 6}},
		{"rows shifted by half a pitch", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 20000}, geom.Point{X: 5000, Y: 20000}, geom.Point{X: 15000, Y: 20000}, geom.Point{X: 25000, Y: 20000}), map[string]int{"0.125 of 200 by lattice": 6}},
		{"two arrays of one row", square, func(b *board, c *layout.Cell) {
			b.array(c, 3, 1, 10000, 0)
			b.lib.Cells[0].Placements = append(b.lib.Cells[0].Placements, layout.Placement{Cell: c, Transform: geom.Move(geom.Point{Y: 10000}), Columns: 3, ColumnExtent: geom.Vec{X: 20000}})
		}, map[string]int{"0.25 of 100 by lattice": 6}},
		{"one row", square, array(5, 1, 10000, 0), map[string]int{"0 of 0 by ": 5}},
		{"alone", square, each(geom.Point{}), none},
		{"three, no lattice", square, each(geom.Point{}, geom.Point{X: 10000}, geom.Point{X: 3000, Y: 12000}), map[string]int{"0 of 0 by ": 3}},
	} {
		b := boardOf(t, roleStack)
		c := b.cell("PIXEL")
		tc.cell(b)
		tc.place(b, c)
		_, told := b.tell(Options{})
		got := fillsOf(told)
		same := len(got) == len(tc.want)
		for k, n := range tc.want {
			same = same && got[k] == n
		}
		if !same {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
}

// TestFillOfLeading: 900 µm² of diffusion in an array of 60 × 50 µm, which no rule takes for photodiodes: 0.3 and more, since the strip to
// the transistor's gate, 3 × 4 µm, is a part of it. After the answer they are devices.
func TestFillOfLeading(t *testing.T) {
	b := newBoard(t)
	pixel := b.cell("PIXEL")
	b.box("ndiff", 0, 0, 30000, 30000)
	b.mos("ndiff", 29000, 10000, 4000, 1000, "-", "", "")
	b.array(pixel, 5, 4, 60000, 50000)
	res, told := b.tell(Options{})
	want := (900.0 + 3*4) / 3000 // from 30 to 33 µm, where the gate begins
	if len(told.Structures) != 20 {
		t.Fatalf("%d structures", len(told.Structures))
	}
	for _, s := range told.Structures {
		if s.Role != Sensor || math.Abs(s.Fill.Factor-want) > 1e-9 || s.Fill.Cell != 3000e6 || s.Fill.From != "array" || s.Odds < 10 || math.Abs(s.Area-912e6) > 1 {
			t.Errorf("%+v, want %g", s, want)
		}
	}
	if len(rolesOf(res, told)) > 0 {
		t.Errorf("%q", rolesOf(res, told))
	}
	b.verdict(pixel, "ndiff", 15000, 15000, Photodiode, "photodiode")
	res, told = b.tell(Options{})
	diodes := 0
	for i, f := range told.Fills {
		if res.Circuit.Devices[i].Kind == netlist.Diode {
			diodes++
			if math.Abs(f.Factor-want) > 1e-9 {
				t.Errorf("%+v", f)
			}
		}
	}
	if diodes != 20 || len(told.Structures) > 0 {
		t.Errorf("with the answer: %d diodes, %+v", diodes, told.Structures)
	}
}
