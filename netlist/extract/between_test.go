package extract_test

import (
	"fmt"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// threePolys has capacitors between all three layers of gates, and of the upper two and the metal to the well.
const threePolys = `
name = "three polys in a well"
[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "nwell"
role = "well"
[[layer]]
name = "poly1"
role = "gate"
[[layer]]
name = "poly2"
role = "gate"
[[layer]]
name = "poly3"
role = "gate"
[[layer]]
name = "metal"
role = "metal"
[[layer]]
name = "order21"
role = "contact"
joins = ["poly2", "poly1"]
[[layer]]
name = "order32"
role = "contact"
joins = ["poly3", "poly2"]
[[capacitor]]
model = "c31"
plates = ["poly3", "poly1"]
[[capacitor]]
model = "c2w"
plates = ["poly2", "nwell"]
[[capacitor]]
model = "cmw"
plates = ["metal", "nwell"]
`

// TestNothingBetweenPlates: a gate between the plates of a capacitor shields them, and over a well any channel does, whatever the
// upper plate is.
func TestNothingBetweenPlates(t *testing.T) {
	st, err := stack.Parse("three.stack.toml", []byte(threePolys))
	if err != nil {
		t.Fatal(err)
	}
	const diffusion, nwell, poly1, poly2, poly3, metal = 0, 1, 2, 3, 4, 5
	well := boxOn(nwell, -1000, -1000, 4000, 4000)
	plate := func(l int) layout.Shape { return boxOn(l, 0, 0, 1000, 1000) }
	channel := boxOn(diffusion, -200, 200, 1200, 800)
	for _, tc := range []struct {
		what   string
		shapes []layout.Shape
		want   []string
	}{
		{"poly3 over poly1", []layout.Shape{plate(poly3), plate(poly1)}, []string{"c31 1000000"}},
		{"poly2 between them on a half", []layout.Shape{plate(poly3), plate(poly1), boxOn(poly2, 0, 0, 500, 1000)}, []string{"c31 500000"}},
		{"poly2 over the well", []layout.Shape{well, plate(poly2)}, []string{"c2w 1000000"}},
		{"poly1 between them on a half", []layout.Shape{well, plate(poly2), boxOn(poly1, 0, 0, 500, 1000)}, []string{"c2w 500000"}},
		{"metal over the well", []layout.Shape{well, plate(metal)}, []string{"cmw 1000000"}},
		{"a channel between them", []layout.Shape{well, plate(metal), channel, boxOn(poly1, 400, 0, 600, 1000)}, []string{"cmw 880000"}},
	} {
		var got []string
		r := run(t, oneCell(st, tc.shapes...), extract.Options{})
		for _, d := range r.Circuit.Devices {
			if d.Kind == netlist.Capacitor {
				got = append(got, fmt.Sprintf("%s %.0f", d.Model, d.Area))
			}
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q, want %q", tc.what, got, tc.want)
		}
	}
}
