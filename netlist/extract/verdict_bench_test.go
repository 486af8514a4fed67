package extract_test

import (
	"fmt"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// BenchmarkVerdicts extracts an array whose cell, a transistor and a wire, has a verdict of each kind that changes something. Four times
// the members take about four times as long.
func BenchmarkVerdicts(b *testing.B) {
	st := kilnStack(b)
	shapes := append([]layout.Shape{boxOn(diffusion, 0, 1000, 5000, 2000), boxOn(poly, 2000, 800, 2400, 2200), boxOn(contact, 4500, 1400, 4600, 1500),
		boxOn(metal1, 4400, 1300, 4700, 1600)}, straight()...)
	for _, v := range []layout.Verdict{verdict(diffusion, 1000, 1500, "photodiode", "photodiode"), verdict(poly, 2200, 1500, "polarity", "p"),
		verdict(poly, 2200, 1500, "bulk", "BULK"), verdict(poly, 2200, 1500, tox, "capacitor"), verdict(poly, 2200, 500, "near-miss", "joined"),
		verdict(contact, 4550, 1450, "contact", "lands on diffusion"), verdict(poly, 2500, 100, wireOr, "resistor")} {
		cell := &layout.Cell{Name: "C", Shapes: shapes, Verdicts: []layout.Verdict{v}}
		for _, n := range []int{30, 60} {
			top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{boxOn(metal1, -9000, 0, -8000, 1000)}, Labels: []layout.Label{name(metal1, -8500, 500, "BULK")},
				Placements: []layout.Placement{{Cell: cell, Transform: geom.Identity, Columns: n, Rows: n,
					ColumnExtent: geom.Vec{X: 9000 * float64(n-1)}, RowExtent: geom.Vec{Y: 7000 * float64(n-1)}}}}
			d := oneCell(st)
			d.lib.Cells, d.top = []*layout.Cell{top, cell}, top
			b.Run(fmt.Sprintf("%s/%d", v.Kind, n*n), func(b *testing.B) {
				for b.Loop() {
					run(b, d, extract.Options{})
				}
			})
		}
	}
}
