package extract_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestBarePlate: a plate of poly over field, 4 × 3 µm, or one of metal, and what covers it.
func TestBarePlate(t *testing.T) {
	plate := boxOn(poly, 0, 0, 4000, 3000)
	lid := boxOn(metal1, 1000, -1000, 6000, 2000) // 3 × 2 µm of it
	strap := []layout.Shape{boxOn(metal1, 100, 100, 2500, 2900), boxOn(contact, 200, 200, 300, 300)}
	top := boxOn(metal2, -1000, -1000, 4000, 4000)
	plain, known, ruled := kilnStack(t), kilnStack(t), kilnStack(t)
	known.Layers[metal1].AreaAFUm2 = 1000
	ruled.Capacitors = append(ruled.Capacitors, stack.CapacitorRule{Model: "cpm", Upper: metal1, Lower: poly, Where: []stack.Condition{{Layer: nwell}}, AreaAFUm2: 500, EdgeAFUm: 10})
	names := []layout.Label{name(poly, 3900, 2900, "P"), name(metal1, 5900, 0, "M1"), name(metal2, -900, -900, "M2")}
	for _, tc := range []struct {
		name   string
		st     *stack.Stack
		shapes []layout.Shape
		on     int
		want   string // of the only device, empty for none
		farad  float64
		says   string // of verdict-not-used
	}{
		{"metal above", plain, []layout.Shape{plate, lid}, poly, `capacitor "platecap" a=M1 b=P A=6000000 P=10000 x1`, math.NaN(), ""},
		{"figure of the layer", known, []layout.Shape{plate, lid}, poly, `capacitor "" a=M1 b=P A=6000000 P=10000 x1`, 6e-15, ""},
		// 6 µm² of 500 aF and 10 µm of 10 aF; the rule itself holds in wells only.
		{"figures of a rule", ruled, []layout.Shape{plate, lid}, poly, `capacitor "" a=M1 b=P A=6000000 P=10000 x1`, 3.1e-15, ""},
		{"its own strap is none", plain, append(strap, plate, top), poly, `capacitor "platecap" a=M2 b=P A=12000000 P=14000 x1`, math.NaN(), ""},
		{"of two the nearer", plain, []layout.Shape{plate, lid, top}, poly, `capacitor "platecap" a=M1 b=P A=6000000 P=10000 x1`, math.NaN(), ""},
		{"one that covers too little", plain, []layout.Shape{plate, boxOn(metal1, 3500, 0, 6000, 3000), top}, poly, `capacitor "platecap" a=M2 b=P A=12000000 P=14000 x1`, math.NaN(), ""},
		{"metals, asked of the upper one", plain, []layout.Shape{lid, top}, metal2, `capacitor "platecap" a=M2 b=M1 A=9000000 P=12000 x1`, math.NaN(), ""},
		{"metals, asked of the lower one", plain, []layout.Shape{lid, top}, metal1, `capacitor "platecap" a=M2 b=M1 A=9000000 P=12000 x1`, math.NaN(), ""},
		{"nothing above", plain, []layout.Shape{plate}, poly, "", 0, "trace its other plate"},
		{"its own strap only", plain, append(strap, plate), poly, "", 0, "what covers it is joined to it by contacts"},
	} {
		at := map[int]geom.Point{poly: {X: 3000, Y: 1000}, metal1: {X: 3000, Y: 0}, metal2: {X: 3000, Y: 3000}}[tc.on]
		before := run(t, decided(tc.st, tc.shapes, names), extract.Options{})
		res := run(t, decided(tc.st, tc.shapes, names, verdict(tc.on, at.X, at.Y, tox, "capacitor")), extract.Options{Facts: true})
		got := strings.Join(deviceLines(res), ", ")
		if got != tc.want {
			t.Errorf("%s: %q, want %q; %v", tc.name, got, tc.want, res.Warnings)
			continue
		}
		if tc.says != "" {
			said := slices.ContainsFunc(res.Warnings, func(w extract.Warning) bool { return w.Code == notUsed && strings.Contains(w.Text, tc.says) })
			if !said || !res.Verdicts[0].Unused || res.Verdicts[0].Lost || !reflect.DeepEqual(res.Circuit, before.Circuit) {
				t.Errorf("%s: %v, %+v", tc.name, res.Warnings, res.Verdicts)
			}
			continue
		}
		v := res.Circuit.Devices[0].Value
		if math.IsNaN(v) != math.IsNaN(tc.farad) || math.Abs(v-tc.farad) > 1e-22 {
			t.Errorf("%s: %g F, want %g", tc.name, v, tc.farad)
		}
		if u := res.Verdicts; len(u) != 1 || u[0].Lost || u[0].Unused || !slices.Equal(u[0].Devices, []int{0}) || slices.ContainsFunc(codes(res), func(c string) bool { return c != "label-on-nothing" }) {
			t.Errorf("%s: %+v, %v", tc.name, u, res.Warnings)
		}
	}
}

// TestBarePlateReadings: a transistor cannot be where no diffusion is, and the answer says so; a dummy stays. What lies beside a channel is
// not taken for that, and a plate with diffusion beneath is what it always was.
func TestBarePlateReadings(t *testing.T) {
	st := kilnStack(t)
	plate, lid := boxOn(poly, 0, 0, 4000, 3000), boxOn(metal1, 0, 0, 4000, 3000)
	beside := []layout.Shape{boxOn(diffusion, 4100, 0, 5100, 500), boxOn(poly, 4400, -200, 4600, 700)} // 0.4 µm away
	res := run(t, decided(st, append(beside, plate, lid), nil, verdict(poly, 3990, 300, tox, "transistor")), extract.Options{})
	if !slices.Contains(codes(res), notUsed) || slices.Contains(codes(res), lost) || len(res.Circuit.Devices) != 1 {
		t.Errorf("transistor: %q, %v", deviceLines(res), res.Warnings)
	}
	res = run(t, decided(st, append(beside, plate, lid), nil, verdict(poly, 3990, 300, tox, "dummy")), extract.Options{})
	if len(res.Verdicts[0].Devices) != 0 || res.Verdicts[0].Lost || res.Verdicts[0].Unused {
		t.Errorf("dummy: %+v", res.Verdicts)
	}
	res = run(t, decided(st, append(beside, plate, lid), nil, verdict(poly, 3990, 300, tox, "capacitor")), extract.Options{})
	kinds := map[netlist.Kind]int{}
	for _, d := range res.Circuit.Devices {
		kinds[d.Kind]++
	}
	if kinds[netlist.Capacitor] != 1 || len(res.Circuit.Devices) != 2 {
		t.Errorf("capacitor beside a transistor: %q, %v", deviceLines(res), res.Warnings)
	}
	// Two answers for one plate: the first by place counts.
	res = run(t, decided(st, []layout.Shape{plate, lid}, nil, verdict(poly, 100, 100, tox, "dummy"), verdict(poly, 200, 200, tox, "capacitor")), extract.Options{})
	if len(res.Circuit.Devices) != 0 || res.Verdicts[0].Unused || !res.Verdicts[1].Unused {
		t.Errorf("two answers: %q, %+v", deviceLines(res), res.Verdicts)
	}
}

// TestBarePlateInCells: a verdict of a cell makes a capacitor in each of its placements, turned or not.
func TestBarePlateInCells(t *testing.T) {
	st := kilnStack(t)
	cell := &layout.Cell{Name: "C", Shapes: []layout.Shape{boxOn(poly, 0, 0, 4000, 3000), boxOn(metal1, 1000, 0, 4000, 3000)}, Verdicts: []layout.Verdict{verdict(poly, 500, 500, tox, "capacitor")}}
	top := &layout.Cell{Name: "TOP"}
	for i, turn := range []float64{0, 90, 180, 270} {
		top.Placements = append(top.Placements, layout.Placement{Cell: cell, Transform: geom.NewTransform(i == 3, 1, turn, geom.Point{X: 20000 * i})})
	}
	d := drawn{"cells", &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{top, cell}}, top, st}
	for _, strips := range []int{1, 7} {
		res := run(t, d, extract.Options{Strips: strips})
		if len(res.Circuit.Devices) != 4 || len(codes(res)) > 0 {
			t.Fatalf("%q, %v", deviceLines(res), res.Warnings)
		}
		for i := range res.Circuit.Devices {
			if c := &res.Circuit.Devices[i]; c.Kind != netlist.Capacitor || c.Area != 9e6 || c.Perim != 12000 {
				t.Errorf("%q", deviceLines(res))
			}
		}
	}
}
