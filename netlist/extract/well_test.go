package extract_test

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// TestLeaningWell: the place within a well is within, though one of its sides leans by as little as 1 nm, whichever side that is.
func TestLeaningWell(t *testing.T) {
	st, ok := stack.Builtin("cmos-1p1m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	nwell, ok := st.LayerNamed("nwell")
	if !ok {
		t.Fatal("no such layer")
	}
	for lean := range 4 {
		for way := range 8 {
			for _, notch := range []int{0, 1, 700} {
				ring := geom.Ring{{X: 0, Y: 0}, {X: 9000, Y: 0}, {X: 9000, Y: 5000}, {X: lean, Y: 5000}}
				if notch > 0 {
					ring = geom.Ring{{X: 0, Y: 0}, {X: 9000 - notch, Y: 0}, {X: 9000 - notch, Y: 900}, {X: 9000, Y: 900}, {X: 9000, Y: 5000}, {X: lean, Y: 5000}}
				}
				pg := geom.NewTransform(way > 3, 1, float64(way%4*90), geom.Point{}).ApplyPolygon(geom.Polygon{ring})
				c := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{{Layer: nwell, Polygon: pg}}}
				res, err := extract.Run(t.Context(), &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}, c, st, extract.Options{Facts: true})
				if err != nil {
					t.Fatal(err)
				}
				wells := 0
				for _, r := range res.Facts.Regions {
					if r.Kind == extract.WellRegion {
						if wells++; pg.Locate(r.Within) != geom.Inside {
							t.Errorf("%v is not inside %v", r.Within, pg)
						}
					}
				}
				if wells != 1 {
					t.Errorf("%d wells of %v", wells, pg)
				}
			}
		}
	}
}
