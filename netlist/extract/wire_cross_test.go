package extract_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// TestWireCrossed: a wire of diffusion with a gate across it between its contacts is no resistor, and one of poly over diffusion is none;
// the circuit stays as it is, and the warning says where the gate crosses. Beside the contacts it may, or where a rule makes a capacitor.
func TestWireCrossed(t *testing.T) {
	strip := func(on int, more ...layout.Shape) []layout.Shape { // 0.2 × 5 µm, a contact at either end
		return append([]layout.Shape{boxOn(on, 0, 0, 5000, 200), boxOn(contact, 50, 50, 150, 150), boxOn(contact, 4850, 50, 4950, 150),
			boxOn(metal1, 0, 0, 200, 200), boxOn(metal1, 4800, 0, 5000, 200)}, more...)
	}
	lets := kilnStack(t)
	lets.Capacitors = append(lets.Capacitors, stack.CapacitorRule{Model: "cap", Upper: poly, Lower: diffusion})
	for _, tc := range []struct {
		name   string
		st     *stack.Stack
		on     int
		across layout.Shape
		says   string // empty: a resistor
	}{
		{"gate across", kilnStack(t), diffusion, boxOn(poly, 2500, -300, 2700, 500), "poly crosses the wire at (2.5, 0) µm"},
		{"gate along one edge", kilnStack(t), diffusion, boxOn(poly, 2500, 150, 2700, 500), "poly crosses the wire at (2.5, 0.15) µm"},
		{"over diffusion", kilnStack(t), poly, boxOn(diffusion, 1000, -300, 1300, 500), "diffusion crosses the wire at (1, 0) µm"},
		{"gate beside", kilnStack(t), diffusion, boxOn(poly, 2500, 200, 2700, 500), ""},
		{"a rule lets it pass", lets, diffusion, boxOn(poly, 2500, -300, 2700, 500), ""},
	} {
		shapes := strip(tc.on, tc.across)
		before := run(t, decided(tc.st, shapes, endLabels()), extract.Options{})
		res := run(t, decided(tc.st, shapes, endLabels(), verdict(tc.on, 4000, 100, wireOr, "resistor")), extract.Options{})
		if tc.says == "" {
			if len(resistorsOf(res)) != 1 || slices.Contains(codes(res), notUsed) {
				t.Errorf("%s: %q, %v", tc.name, deviceLines(res), res.Warnings)
			}
			continue
		}
		said := slices.ContainsFunc(res.Warnings, func(w extract.Warning) bool { return w.Code == notUsed && strings.Contains(w.Text, tc.says) })
		if !said || !res.Verdicts[0].Unused || res.Verdicts[0].Lost || !reflect.DeepEqual(res.Circuit, before.Circuit) {
			t.Errorf("%s: %q, %v", tc.name, deviceLines(res), res.Warnings)
		}
	}
}

// TestLandsOnNothing: a contact that is said to land on a layer that does not lie under it is told what does.
func TestLandsOnNothing(t *testing.T) {
	for _, tc := range []struct {
		name   string
		shapes []layout.Shape
		says   string
	}{
		{"on poly", []layout.Shape{boxOn(contact, 0, 0, 100, 100), boxOn(metal1, 0, 0, 100, 100), boxOn(poly, -100, -100, 200, 200)},
			"diffusion does not lie under the contact: poly (100 % of its area) does"},
		{"half on poly", []layout.Shape{boxOn(contact, 0, 0, 100, 100), boxOn(metal1, 0, 0, 100, 100), boxOn(poly, -100, -100, 50, 200)},
			"diffusion does not lie under the contact: poly (50 % of its area) does"},
		{"on nothing", []layout.Shape{boxOn(contact, 0, 0, 100, 100), boxOn(metal1, 0, 0, 100, 100)},
			"diffusion does not lie under the contact: nothing does that it could join"},
		{"alone", []layout.Shape{boxOn(contact, 0, 0, 100, 100)}, "diffusion does not lie under the contact: nothing does that it could join"},
	} {
		res := run(t, decided(kilnStack(t), tc.shapes, nil, verdict(contact, 50, 50, "contact", "lands on diffusion")), extract.Options{})
		said := slices.ContainsFunc(res.Warnings, func(w extract.Warning) bool { return w.Code == notUsed && strings.Contains(w.Text, tc.says) })
		if !said || slices.Contains(codes(res), lost) || !res.Verdicts[0].Unused || res.Verdicts[0].Lost {
			t.Errorf("%s: %v, %+v", tc.name, res.Warnings, res.Verdicts)
		}
		res = run(t, decided(kilnStack(t), tc.shapes, nil, verdict(contact, 50, 50, "contact", "joins-not")), extract.Options{})
		if slices.Contains(codes(res), lost) || res.Verdicts[0].Lost { // it is there, and the answer is taken
			t.Errorf("%s, joins-not: %v", tc.name, res.Warnings)
		}
	}
}
