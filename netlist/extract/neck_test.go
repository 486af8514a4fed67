package extract_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// opening is the layer of openings in the passivation, which fuseStack has after the kiln's.
func fuseStack(t testing.TB) (st *stack.Stack, opening int) {
	st = kilnStack(t)
	st.Layers[metal1].SheetOhm = 0.05
	opening = len(st.Layers)
	st.Layers = append(slices.Clip(st.Layers), stack.Layer{Name: "pad", Role: stack.Pad})
	return st, opening
}

func polygonOn(l int, xy ...int) layout.Shape {
	var r geom.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geom.Point{X: xy[i], Y: xy[i+1]})
	}
	return layout.Shape{Layer: layout.Layer(l), Polygon: geom.Polygon{r}}
}

// dogBone is metal of 1 × 6 µm between ends of 4 × 4 µm, each with a via, under metal2 that has labels.
func dogBone() []layout.Shape {
	return append(bone(), boxOn(via1, 1800, 1800, 2200, 2200), boxOn(via1, 11800, 1800, 12200, 2200), boxOn(metal2, 1500, 1500, 2500, 2500), boxOn(metal2, 11500, 1500, 12500, 2500))
}

func bone() []layout.Shape {
	return []layout.Shape{boxOn(metal1, 0, 0, 4000, 4000), boxOn(metal1, 4000, 1500, 10000, 2500), boxOn(metal1, 10000, 0, 14000, 4000)}
}

func boneLabels() []layout.Label {
	return []layout.Label{name(metal2, 2000, 2000, "A"), name(metal2, 12000, 2000, "B")}
}

// TestNeck: drawn pieces with their necks, worked out by hand.
func TestNeck(t *testing.T) {
	st, opening := fuseStack(t)
	vias := func(xy ...int) (out []layout.Shape) {
		for i := 0; i < len(xy); i += 2 {
			out = append(out, boxOn(via1, xy[i]-200, xy[i+1]-200, xy[i]+200, xy[i+1]+200))
		}
		return out
	}
	at := func(shapes []layout.Shape, more ...layout.Shape) []layout.Shape {
		return append(slices.Clip(shapes), more...)
	}
	type want struct {
		width, length, squares, wide float64
		at                           geom.Point
	}
	bowTie := polygonOn(metal1, 0, 0, 10000, 3500, 20000, 0, 20000, 8000, 10000, 4500, 0, 8000)
	theBone := want{1000, 6000, 6, 4000, geom.Point{X: 7000, Y: 2000}}
	for _, tc := range []struct {
		name   string
		shapes []layout.Shape
		want   want // width 0: no neck
	}{
		{"dog bone", dogBone(), theBone},
		{"the same as one polygon", at(vias(2000, 2000, 12000, 2000), polygonOn(metal1, 0, 0, 4000, 0, 4000, 1500, 10000, 1500, 10000, 0, 14000, 0, 14000, 4000, 10000, 4000, 10000, 2500, 4000, 2500, 4000, 4000, 0, 4000)), theBone},
		// It is 8 - 0.7·x µm wide at x µm, so that it is narrower than 4 µm from 5.714 to 14.286 µm: 2·ln(4)/0.7 = 3.961 squares.
		{"bow tie", at(vias(1000, 4000, 19000, 4000), bowTie), want{1000, 60000. / 7, 2 * math.Log(4) / 0.7, 8000, geom.Point{X: 10000, Y: 4000}}},
		{"wires lead on behind the ends", at(dogBone(), boxOn(metal1, -5000, 1500, 0, 2500), boxOn(metal1, 14000, 1500, 20000, 2500)), theBone},
		{"pads on the ends instead of vias", at(bone(), boxOn(opening, 500, 500, 3500, 3500), boxOn(opening, 10500, 500, 13500, 3500)), theBone},
		{"nothing on one end", at(bone(), vias(2000, 2000)...), want{}},
		{"a via on the neck", at(dogBone(), vias(7000, 2000)...), want{}},
		{"ends that are 2.9 times as wide", at(vias(2000, 2000, 12000, 2000), boxOn(metal1, 0, 550, 4000, 3450), boxOn(metal1, 4000, 1500, 10000, 2500), boxOn(metal1, 10000, 550, 14000, 3450)), want{}},
		{"an H: bars as narrow as the neck", at(vias(500, 2000, 11500, 2000), boxOn(metal1, 0, 0, 1000, 4000), boxOn(metal1, 1000, 1500, 11000, 2500), boxOn(metal1, 11000, 0, 12000, 4000)), want{}},
		{"shorter than wide", at(vias(2000, 2000, 6900, 2000), boxOn(metal1, 0, 0, 4000, 4000), boxOn(metal1, 4000, 1500, 4900, 2500), boxOn(metal1, 4900, 0, 8900, 4000)), want{}},
		{"two necks", at(dogBone(), boxOn(metal1, 14000, 1500, 20000, 2500), boxOn(metal1, 20000, 0, 24000, 4000)), want{}},
		{"a strip", at(vias(500, 500, 19500, 500), boxOn(metal1, 0, 0, 20000, 1000)), want{}},
	} {
		for _, turn := range []float64{0, 90, 180} {
			for _, mirror := range []bool{false, true} {
				tr := geom.NewTransform(mirror, 1, turn, geom.Point{X: 700, Y: -300})
				d := movedScene(decided(st, tc.shapes, nil), tr)
				got := run(t, d, extract.Options{}).Necks(st)
				if tc.want.width == 0 {
					if len(got) > 0 {
						t.Errorf("%s: %+v", tc.name, got)
					}
					continue
				}
				w := tc.want
				if len(got) != 1 {
					t.Fatalf("%s turned by %g: %d necks", tc.name, turn, len(got))
				}
				n := got[0]
				if middle := tr.Apply(w.at); n.Width != w.width || math.Abs(n.Length-w.length) > 1e-6 || math.Abs(n.Squares-w.squares) > 1e-9 || n.Wide != w.wide ||
					max(n.At.X-middle.X, middle.X-n.At.X, n.At.Y-middle.Y, middle.Y-n.At.Y) > 1 {
					t.Errorf("%s turned by %g: %+v, want %+v", tc.name, turn, n, w)
				}
			}
		}
	}
	n := run(t, decided(st, at(dogBone(), boxOn(opening, 6000, 0, 8000, 4000), boxOn(opening, 10500, 500, 13500, 3500)), nil), extract.Options{}).Necks(st)
	if len(n) != 1 || !n[0].Open || n[0].Ends != [2]extract.NeckEnd{{Contacts: 1}, {Contacts: 1, Pad: true}} {
		t.Errorf("with openings: %+v", n)
	}
}

// TestNeckBesideOthers: a ring of one polygon around a dog bone is not a part of it, though its box holds it; nor is what is drawn
// alike without a via on either end.
func TestNeckBesideOthers(t *testing.T) {
	st, _ := fuseStack(t)
	ring := polygonOn(metal1, -9000, -9000, 30000, -9000, 30000, 20000, -9000, 20000)
	ring.Polygon = append(ring.Polygon, geom.Ring{{X: -5000, Y: -5000}, {X: -5000, Y: 16000}, {X: 26000, Y: 16000}, {X: 26000, Y: -5000}})
	cell := &layout.Cell{Name: "BONE", Shapes: bone()}
	top := &layout.Cell{Name: "TOP", Shapes: append(dogBone()[3:], ring), Placements: []layout.Placement{
		{Cell: cell, Transform: geom.Identity}, {Cell: cell, Transform: geom.Move(geom.Point{Y: 8000})}}}
	d := drawn{"ring", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
	n := run(t, d, extract.Options{}).Necks(st)
	if len(n) != 1 || n[0].At != (geom.Point{X: 7000, Y: 2000}) {
		t.Errorf("%+v", n)
	}
}

// TestNeckInPieces: a bar beside the neck of a dog bone is not a part of it, though it is drawn as one shape with it: by two rings, or by
// one along a slit of no width.
func TestNeckInPieces(t *testing.T) {
	st, _ := fuseStack(t)
	whole := polygonOn(metal1, 0, 0, 4000, 0, 4000, 1500, 10000, 1500, 10000, 0, 14000, 0, 14000, 4000, 10000, 4000, 10000, 2500, 4000, 2500, 4000, 4000, 0, 4000)
	rings := layout.Shape{Layer: metal1, Polygon: append(slices.Clone(whole.Polygon), geom.Box(5000, 3000, 9000, 3800).Ring())}
	slit := layout.Shape{Layer: metal1, Polygon: geom.Polygon{slices.Insert(slices.Clone(whole.Polygon[0]), 9,
		geom.Point{X: 9000, Y: 2500}, geom.Point{X: 9000, Y: 3800}, geom.Point{X: 5000, Y: 3800}, geom.Point{X: 5000, Y: 3000}, geom.Point{X: 9000, Y: 3000}, geom.Point{X: 9000, Y: 2500})}}
	for name, s := range map[string]layout.Shape{"whole": whole, "rings": rings, "slit": slit} {
		n := run(t, decided(st, append(dogBone()[3:], s), nil), extract.Options{}).Necks(st)
		if len(n) != 1 || n[0].At != (geom.Point{X: 7000, Y: 2000}) {
			t.Errorf("%s: %+v", name, n)
		}
	}
}

// TestNeckOfGateElsewhere: a neck of poly that leads nowhere lies in the box of a ring of poly. What is drawn alike elsewhere, and leads
// somewhere, is told all the same, whichever comes first.
func TestNeckOfGateElsewhere(t *testing.T) {
	st := kilnStack(t)
	ring := polygonOn(poly, -9000, -9000, 30000, -9000, 30000, 20000, -9000, 20000)
	ring.Polygon = append(ring.Polygon, geom.Ring{{X: -5000, Y: -5000}, {X: -5000, Y: 16000}, {X: 26000, Y: 16000}, {X: 26000, Y: -5000}})
	cell := &layout.Cell{Name: "BONE", Shapes: []layout.Shape{boxOn(poly, 0, 0, 4000, 4000), boxOn(poly, 4000, 1500, 10000, 2500), boxOn(poly, 10000, 0, 14000, 4000)}}
	shapes := []layout.Shape{ring}
	for _, at := range []geom.Point{{X: -7000, Y: 2000}, {X: 28000, Y: 2000}, {X: 42000, Y: 2000}, {X: 52000, Y: 2000}} {
		shapes = append(shapes, boxOn(contact, at.X-100, at.Y-100, at.X+100, at.Y+100))
	}
	for _, at := range [][2]int{{0, 40000}, {40000, 0}} {
		top := &layout.Cell{Name: "TOP", Shapes: shapes, Placements: []layout.Placement{
			{Cell: cell, Transform: geom.Move(geom.Point{X: at[0]})}, {Cell: cell, Transform: geom.Move(geom.Point{X: at[1]})}}}
		d := drawn{"elsewhere", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
		for _, facts := range []bool{false, true} {
			n := run(t, d, extract.Options{Facts: facts}).Necks(st)
			if len(n) != 1 || n[0].At != (geom.Point{X: 47000, Y: 2000}) {
				t.Errorf("placed at %v, facts %v: %+v", at, facts, n)
			}
		}
	}
}

// TestNeckOfGate: of two necks of poly, one between the ends of the other, a diffusion passes beneath the inner one. With Facts only the
// outer one is told, since the inner one makes a gate; without, or where an answer may have cut something, both are.
func TestNeckOfGate(t *testing.T) {
	st := kilnStack(t)
	shapes := []layout.Shape{boxOn(poly, 0, 0, 4000, 4000), boxOn(poly, 4000, 1000, 10000, 2000), boxOn(poly, 10000, 0, 14000, 4000),
		boxOn(poly, 4500, 2800, 5400, 3700), boxOn(poly, 5400, 3100, 7500, 3400), boxOn(poly, 7500, 2800, 8400, 3700), boxOn(diffusion, 6000, 2600, 6400, 3900)}
	for _, at := range []geom.Point{{X: 2000, Y: 2000}, {X: 12000, Y: 2000}, {X: 4900, Y: 3200}, {X: 8000, Y: 3200}} {
		shapes = append(shapes, boxOn(contact, at.X-100, at.Y-100, at.X+100, at.Y+100))
	}
	outer, inner := geom.Point{X: 7000, Y: 1500}, geom.Point{X: 6450, Y: 3250}
	for _, tc := range []struct {
		name string
		d    drawn
		opt  extract.Options
		want []geom.Point
	}{
		{"facts", decided(st, shapes, nil), extract.Options{Facts: true}, []geom.Point{outer}},
		{"no facts", decided(st, shapes, nil), extract.Options{}, []geom.Point{outer, inner}},
		{"an answer", decided(st, shapes, nil, verdict(poly, 7000, 1500, wireOr, "fuse")), extract.Options{Facts: true}, []geom.Point{outer, inner}},
	} {
		var got []geom.Point
		for _, n := range run(t, tc.d, tc.opt).Necks(st) {
			got = append(got, n.At)
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
}

// TestFuse: the answer "fuse" makes a resistor of a neck, of what lies between the contacts of what is none. 6 squares of 0.05 ohm.
func TestFuse(t *testing.T) {
	st, _ := fuseStack(t)
	for _, x := range []int{7000, 1000, 13000} { // anywhere on it
		res := run(t, decided(st, dogBone(), boneLabels(), verdict(metal1, x, 2000, wireOr, "fuse")), extract.Options{Facts: true})
		rs := resistorsOf(res)
		if len(rs) != 1 || rs[0].Model != "fuse" || rs[0].W != 1000 || rs[0].L != 6000 || math.Abs(rs[0].Value-0.3) > 1e-12 || len(res.Warnings) > 0 {
			t.Fatalf("%+v, %v", rs, res.Warnings)
		}
		a, b := res.Circuit.Nets[rs[0].Terminals[0]].Name, res.Circuit.Nets[rs[0].Terminals[1]].Name
		if a != "A" || b != "B" || !slices.Equal(res.Verdicts[0].Devices, []int{0}) || res.Verdicts[0].Lost || res.Verdicts[0].Unused {
			t.Errorf("between %s and %s, %+v", a, b, res.Verdicts)
		}
	}
	bare := kilnStack(t)
	bare.Layers[metal1].SheetOhm = 0
	if rs := resistorsOf(run(t, decided(bare, dogBone(), boneLabels(), verdict(metal1, 7000, 2000, wireOr, "fuse")), extract.Options{})); len(rs) != 1 || rs[0].Model != "fuse" || !math.IsNaN(rs[0].Value) {
		t.Errorf("without sheet_ohm: %+v", rs)
	}
	rs := resistorsOf(run(t, decided(wireStack(t), straight(), endLabels(), verdict(poly, 2500, 100, wireOr, "fuse")), extract.Options{}))
	if len(rs) != 1 || rs[0].Model != "fuse" || rs[0].L != 4300 || math.Abs(rs[0].Value-2150) > 1e-9 {
		t.Errorf("a strip: %+v", rs)
	}
	res := run(t, decided(st, dogBone(), boneLabels(), verdict(metal1, 7000, 2000, wireOr, "wire")), extract.Options{})
	if len(resistorsOf(res)) > 0 || len(res.Circuit.Nets) != 1 || res.Verdicts[0].Lost || res.Verdicts[0].Unused {
		t.Errorf("a wire: %+v, %+v", res.Circuit, res.Verdicts)
	}
}

// TestFuseInCells: a fuse of a cell in turned placements, beside a resistor of the same layer, for any number of strips.
func TestFuseInCells(t *testing.T) {
	st, _ := fuseStack(t)
	cell := &layout.Cell{Name: "FUSE", Shapes: dogBone(), Verdicts: []layout.Verdict{verdict(metal1, 7000, 2000, wireOr, "fuse")}}
	top := &layout.Cell{Name: "TOP", Placements: []layout.Placement{{Cell: cell, Transform: geom.Identity}, {Cell: cell, Transform: geom.NewTransform(true, 1, 90, geom.Point{X: 40000, Y: 500})}},
		Shapes:   []layout.Shape{boxOn(metal1, 0, 30000, 20000, 31000), boxOn(via1, 300, 30300, 700, 30700), boxOn(via1, 19300, 30300, 19700, 30700)},
		Labels:   []layout.Label{name(metal2, 2000, 2000, "A"), name(metal1, 100, 30100, "R1"), name(metal1, 19900, 30100, "R2")},
		Verdicts: []layout.Verdict{verdict(metal1, 10000, 30500, wireOr, "resistor")}}
	d := drawn{"fuses", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
	for _, strips := range []int{1, 3, 7} {
		var got []string
		for _, r := range resistorsOf(run(t, d, extract.Options{Strips: strips})) {
			got = append(got, fmt.Sprintf("%s %.0f %.0f %.3f", r.Model, r.W, r.L, r.Value))
		}
		// The wire's ends reach 1 µm from its contacts, which end 0.7 µm from its own ends: 20 - 2·1.7 = 16.6 µm.
		if want := []string{"fuse 1000 6000 0.300", "fuse 1000 6000 0.300", " 1000 16600 0.830"}; !slices.Equal(got, want) {
			t.Errorf("%d strips: %q, want %q", strips, got, want)
		}
	}
}

// TestDeviceContacts: two fingers that share a drain, and a transistor with source on drain.
func TestDeviceContacts(t *testing.T) {
	st := kilnStack(t)
	shapes := []layout.Shape{boxOn(diffusion, 0, 0, 9000, 4000), boxOn(poly, 2500, -1000, 3000, 5000), boxOn(poly, 6000, -1000, 6500, 5000), boxOn(poly, 2500, 5000, 6500, 7000)}
	for _, p := range [][2]int{{1000, 1000}, {1000, 3000}, {4000, 1000}, {4000, 2000}, {4000, 3000}, {7500, 1000}, {4000, 6000}, {5000, 6000}, {5500, 6000}, {6000, 6000}} {
		shapes = append(shapes, boxOn(contact, p[0], p[1], p[0]+300, p[1]+300))
	}
	shapes = append(shapes, boxOn(metal1, 900, 900, 1400, 3400), boxOn(metal1, 3900, 900, 4400, 3400), boxOn(metal1, 7400, 900, 7900, 1400), boxOn(metal1, 900, -3000, 1400, 1000), boxOn(metal1, 7400, -3000, 7900, 1000),
		boxOn(metal1, 900, -3000, 7900, -2500))
	labels := []layout.Label{name(metal1, 1000, -2800, "S"), name(metal1, 4000, 1000, "D"), name(poly, 3000, 6000, "G")}
	for _, reading := range []string{"", "transistor", "capacitor"} {
		d := decided(st, shapes, labels)
		if reading != "" {
			d.top.Verdicts = []layout.Verdict{verdict(poly, 2750, 2000, tox, reading)}
		}
		res := run(t, d, extract.Options{Facts: true})
		all := res.Facts.Contacts(res.Circuit)
		for i, c := range all {
			dev := &res.Circuit.Devices[i]
			on := map[string]int{"G": c.Gate}
			if reading == "capacitor" { // all of its diffusion is below
				if len(all) != 1 || c != (extract.DeviceContacts{Known: true, Drain: 6, Gate: 4}) {
					t.Errorf("capacitor: %+v", all)
				}
				continue
			}
			on[res.Circuit.Nets[dev.Terminals[0]].Name] += c.Drain
			on[res.Circuit.Nets[dev.Terminals[2]].Name] += c.Source
			s := map[bool]int{true: 3, false: 2 - i}[reading == "transistor"] // 2 on the left source, 1 on the right one
			if !c.Known || on["G"] != 4 || on["D"] != 3 || on["S"] != s || len(all) != map[bool]int{true: 1, false: 2}[reading == "transistor"] {
				t.Errorf("%q: device %d of %d: %v", reading, i, len(all), on)
			}
		}
	}
	res := run(t, decided(st, []layout.Shape{boxOn(diffusion, 0, 0, 9000, 4000), boxOn(poly, 3000, 1000, 6000, 3000), boxOn(contact, 500, 500, 800, 800), boxOn(contact, 8000, 500, 8300, 800), boxOn(contact, 4000, 2000, 4300, 2300)}, nil), extract.Options{Facts: true})
	if c := res.Facts.Contacts(res.Circuit); len(c) != 1 || c[0] != (extract.DeviceContacts{Known: true, Drain: 2, Gate: 1}) {
		t.Errorf("source on drain: %+v", c)
	}
}
