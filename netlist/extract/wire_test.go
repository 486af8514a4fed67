package extract_test

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

const wireOr = "wire-or-resistor"

// wireStack is the kiln's, with 100 ohm a square of poly.
func wireStack(t *testing.T) *stack.Stack {
	st := kilnStack(t)
	st.Layers[poly].SheetOhm = 100
	return st
}

// straight is a strip of poly, 0.2 × 5 µm, with a contact of 0.1 µm in the middle of either end's square.
func straight() []layout.Shape {
	return []layout.Shape{boxOn(poly, 0, 0, 5000, 200), boxOn(contact, 50, 50, 150, 150), boxOn(contact, 4850, 50, 4950, 150),
		boxOn(metal1, 0, 0, 200, 200), boxOn(metal1, 4800, 0, 5000, 200)}
}

func endLabels() []layout.Label {
	return []layout.Label{name(metal1, 10, 10, "A"), name(metal1, 4990, 10, "B")}
}

// resistorsOf returns the resistors of a circuit.
func resistorsOf(r *extract.Result) []netlist.Device {
	return slices.DeleteFunc(slices.Clone(r.Circuit.Devices), func(d netlist.Device) bool { return d.Kind != netlist.Resistor })
}

// TestWireIsResistor: the ends reach as far from their contacts as the strip is wide, to 0.35 and 4.65 µm: 4.3 µm are 21.5 squares.
func TestWireIsResistor(t *testing.T) {
	for _, at := range []int{2500, 20, 4990} { // anywhere on the wire, its ends as well
		res := run(t, decided(wireStack(t), straight(), endLabels(), verdict(poly, at, 100, wireOr, "resistor")), extract.Options{Facts: true})
		rs := resistorsOf(res)
		if len(rs) != 1 || rs[0].W != 200 || rs[0].L != 4300 || math.Abs(rs[0].Value-2150) > 1e-9 || len(res.Warnings) > 0 {
			t.Fatalf("%+v, %v", rs, res.Warnings)
		}
		a, b := res.Circuit.Nets[rs[0].Terminals[0]].Name, res.Circuit.Nets[rs[0].Terminals[1]].Name
		if a != "A" || b != "B" || !slices.Equal(res.Verdicts[0].Devices, []int{0}) || res.Verdicts[0].Lost || res.Verdicts[0].Unused {
			t.Errorf("between %s and %s, %+v", a, b, res.Verdicts)
		}
	}
	st := kilnStack(t)
	st.Layers[poly].SheetOhm = 0
	rs := resistorsOf(run(t, decided(st, straight(), endLabels(), verdict(poly, 2500, 100, wireOr, "resistor")), extract.Options{}))
	if len(rs) != 1 || !math.IsNaN(rs[0].Value) || rs[0].Model != "wireres" {
		t.Errorf("without sheet_ohm: %+v", rs)
	}
	res := run(t, decided(wireStack(t), straight(), endLabels(), verdict(poly, 2500, 100, wireOr, "wire")), extract.Options{})
	if len(resistorsOf(res)) > 0 || res.Verdicts[0].Lost || res.Verdicts[0].Unused {
		t.Errorf("a wire: %+v, %+v", res.Circuit.Devices, res.Verdicts)
	}
}

// TestWirePassesBy: a stretch of the wire that passes by a contact closer than the wire is wide is no end. Three legs of
// 0.2 µm, 0.1 µm apart, joined above and below: 4.65 + 0.1 + 5 + 0.1 + 4.65 µm lie between the ends.
func TestWirePassesBy(t *testing.T) {
	shapes := []layout.Shape{boxOn(poly, 0, 0, 200, 5000), boxOn(poly, 0, 4800, 500, 5000), boxOn(poly, 300, 0, 500, 5000), boxOn(poly, 300, 0, 800, 200), boxOn(poly, 600, 0, 800, 5000),
		boxOn(contact, 50, 50, 150, 150), boxOn(contact, 650, 4850, 750, 4950)}
	labels := []layout.Label{name(poly, 100, 20, "A"), name(poly, 700, 4990, "B")}
	res := run(t, decided(wireStack(t), shapes, labels, verdict(poly, 400, 2500, wireOr, "resistor")), extract.Options{})
	if rs := resistorsOf(res); len(rs) != 1 || rs[0].W != 200 || rs[0].L != 14500 || rs[0].Terminals[0] == rs[0].Terminals[1] {
		t.Errorf("%+v, %v", rs, res.Warnings)
	}
}

// TestWireBetweenPads: the ends of a strip of 0.1 × 5 µm are pads of any size with a contact in the middle, or one of them only is. At a
// pad all that the end takes of the strip is what lies less than 0.1 µm from the contact, or half a square.
func TestWireBetweenPads(t *testing.T) {
	for _, h := range []int{100, 200, 400, 800, 2000} {
		for _, k := range []int{100, h} {
			shapes := []layout.Shape{boxOn(poly, -h, -h/2, 0, h/2), boxOn(poly, 0, -50, 5000, 50), boxOn(poly, 5000, -k/2, 5000+k, k/2),
				boxOn(contact, -h/2-20, -20, -h/2+20, 20), boxOn(contact, 5000+k/2-20, -20, 5000+k/2+20, 20)}
			labels := []layout.Label{name(poly, -h/2, 0, "A"), name(poly, 5000+k/2, 0, "B")}
			for _, turn := range []float64{0, 90} {
				tr := geom.NewTransform(false, 1, turn, geom.Point{X: 7, Y: -3})
				d := movedScene(decided(wireStack(t), shapes, labels), tr)
				at := tr.Apply(geom.Point{X: 2500, Y: 0})
				d.top.Verdicts = []layout.Verdict{verdict(poly, at.X, at.Y, wireOr, "resistor")}
				res := run(t, d, extract.Options{})
				rs := resistorsOf(res)
				if len(rs) != 1 || rs[0].W != 100 || rs[0].L < 4800 || rs[0].L > 5000 || rs[0].Terminals[0] == rs[0].Terminals[1] || len(res.Warnings) > 0 {
					t.Errorf("pads of %d and %d nm: %+v, %v", h, k, rs, res.Warnings)
				}
			}
		}
	}
}

// TestWireCannotBeCut: with one contact, or three, or where nothing is, the circuit stays what it was.
func TestWireCannotBeCut(t *testing.T) {
	before := run(t, decided(wireStack(t), straight(), endLabels()), extract.Options{})
	three := append(straight(), boxOn(contact, 2450, 50, 2550, 150))
	one := slices.Delete(straight(), 2, 3)
	for _, tc := range []struct {
		shapes []layout.Shape
		y      int
		code   string
	}{{three, 100, notUsed}, {one, 100, notUsed}, {straight(), 9000, lost}} {
		res := run(t, decided(wireStack(t), tc.shapes, endLabels(), verdict(poly, 2500, tc.y, wireOr, "resistor")), extract.Options{})
		if !slices.Contains(codes(res), tc.code) || len(resistorsOf(res)) > 0 {
			t.Errorf("want %s: %v, %+v", tc.code, res.Warnings, res.Circuit.Devices)
		}
		if len(tc.shapes) == len(straight()) && !reflect.DeepEqual(res.Circuit, before.Circuit) {
			t.Error("the circuit changes")
		}
	}
}

// TestWireInCells: a verdict of a cell holds in all members of a turned array, for any number of strips; labels of the substrate,
// whose layer comes after the stack's, keep their meaning.
func TestWireInCells(t *testing.T) {
	st := wireStack(t)
	cell := &layout.Cell{Name: "R", Shapes: straight(), Verdicts: []layout.Verdict{verdict(poly, 2500, 100, wireOr, "resistor")}}
	top := &layout.Cell{Name: "TOP", Shapes: []layout.Shape{boxOn(poly, 90000, 0, 90200, 9000), boxOn(diffusion, 89000, 3000, 92000, 4000)},
		Labels: []layout.Label{{Layer: st.SubstrateLayer(), At: geom.Point{X: 91000, Y: 3500}, Text: "BODY"}},
		Placements: []layout.Placement{{Cell: cell, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 300, Y: 70}), Columns: 3, Rows: 2,
			ColumnExtent: geom.Vec{X: 20000}, RowExtent: geom.Vec{Y: 7000}}}}
	d := oneCell(st)
	d.lib.Cells, d.top = []*layout.Cell{top, cell}, top
	var first *extract.Result
	for _, strips := range []int{1, 2, 5} {
		res := run(t, d, extract.Options{Strips: strips})
		rs := resistorsOf(res)
		if len(rs) != 6 {
			t.Fatalf("%d resistors, %v", len(rs), res.Warnings)
		}
		for _, r := range rs {
			if r.W != 200 || r.L != 4300 {
				t.Errorf("%+v", r)
			}
		}
		if !slices.ContainsFunc(res.Circuit.Nets, func(n netlist.NetInfo) bool { return n.Name == "BODY" }) {
			t.Error("the substrate has lost its name")
		}
		if first == nil {
			first = res
		} else if !reflect.DeepEqual(deviceLines(res), deviceLines(first)) {
			t.Error("strips change the circuit")
		}
	}
}

// TestWireOfCellAndDie: of verdicts on one wire the die's counts, whichever place comes first.
func TestWireOfCellAndDie(t *testing.T) {
	for _, at := range []int{2400, 2600} {
		for _, tc := range []struct {
			die       string
			resistors int
		}{{"wire", 0}, {"resistor", 1}} {
			in := map[string]string{"wire": "resistor", "resistor": "wire"}[tc.die]
			cell := &layout.Cell{Name: "R", Shapes: straight(), Verdicts: []layout.Verdict{verdict(poly, 2500, 100, wireOr, in)}}
			top := &layout.Cell{Name: "TOP", Labels: endLabels(), Verdicts: []layout.Verdict{verdict(poly, at, 100, wireOr, tc.die)},
				Placements: []layout.Placement{{Cell: cell, Transform: geom.Identity}}}
			d := oneCell(wireStack(t))
			d.lib.Cells, d.top = []*layout.Cell{top, cell}, top
			res := run(t, d, extract.Options{})
			if n := len(resistorsOf(res)); n != tc.resistors || !slices.Contains(codes(res), notUsed) {
				t.Errorf("the die says %s at %d: %d resistors, %v", tc.die, at, n, res.Warnings)
			}
			for _, v := range res.Verdicts {
				if v.Lost || v.Unused != (v.Path != "") {
					t.Errorf("the die says %s at %d: %+v", tc.die, at, v)
				}
			}
		}
	}
}
