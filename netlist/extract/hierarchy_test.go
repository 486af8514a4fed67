package extract_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestSceneHierarchy: random cells along grid lines (crossings of slanted edges are rounded in the cell, and may come out
// 1 nm elsewhere once it is turned or halved), placed one in the other, turned, mirrored, magnified and in arrays whose pitch is no
// whole number, give the circuit of the same shapes drawn flat, for any number of strips and workers; and the same to the
// last digit for any number of workers.
func TestSceneHierarchy(t *testing.T) {
	stacks := sceneStacks(t)
	devices := 0
	seeds := []int{554, 881, 1225, 2450} // were wrong once
	for seed := range sceneRounds(40, 300) {
		seeds = append(seeds, seed)
	}
	for i, seed := range seeds {
		rnd := rand.New(rand.NewPCG(uint64(seed), 103))
		st := stacks[i/4%2] // of those that were wrong once the first
		d := scene(rnd, st, false)
		cells := []*layout.Cell{d.top}
		for _, name := range []string{"MID", "OUTER"} {
			c := &layout.Cell{Name: name}
			for range 1 + rnd.IntN(3) {
				at := geom.Point{X: rnd.IntN(6000) - 3000, Y: rnd.IntN(6000) - 3000}
				mag := []float64{1, 1, 2}[rnd.IntN(3)]
				c.Placements = append(c.Placements, layout.Placement{Cell: cells[len(cells)-1], Transform: geom.NewTransform(rnd.IntN(2) == 0, mag, float64(rnd.IntN(4)*90), at),
					Columns: rnd.IntN(4), Rows: rnd.IntN(3), ColumnExtent: geom.Vec{X: float64(rnd.IntN(9000)), Y: float64(rnd.IntN(50))}, RowExtent: geom.Vec{Y: float64(rnd.IntN(9000))}})
			}
			cells = append(cells, c)
		}
		placed := drawn{"placed", &layout.Library{Layers: st.LayerNames(), Cells: cells}, cells[2], st}
		want := run(t, flatten(t, placed, keep), extract.Options{Workers: 1, Strips: 1})
		devices += len(want.Circuit.Devices)
		strips := 1 + rnd.IntN(40)
		one := run(t, placed, extract.Options{Workers: 1, Strips: strips})
		if diff := difference(want, one); diff != "" {
			showDifference(t, want, one)
			t.Errorf("seed %d, %d strips: %s", seed, strips, diff)
			continue
		}
		many := run(t, placed, extract.Options{Workers: 2 + rnd.IntN(7), Strips: strips})
		if !slices.EqualFunc(one.Circuit.Devices, many.Circuit.Devices, func(d, e netlist.Device) bool {
			if math.IsNaN(d.Value) && math.IsNaN(e.Value) {
				d.Value, e.Value = 0, 0
			}
			return d == e
		}) {
			t.Errorf("seed %d, %d strips: another worker, other digits", seed, strips)
		}
		if paths := one.Paths(); len(paths) != len(one.Circuit.Devices) || slices.Contains(paths, "") {
			t.Errorf("seed %d: a device of no instance among %q", seed, paths)
		}
	}
	if devices < 100 {
		t.Errorf("only %d devices in all", devices)
	}
}
