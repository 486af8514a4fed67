package svg

import (
	"testing"

	"undermetal/layout/geom"
)

// manyRings are a large ring and n small ones in it: upright or slanted, in a square, or in one column.
func manyRings(n int, slanted, column bool) []geom.Ring {
	const pitch = 20
	across := 1
	for !column && across*across < n {
		across++
	}
	rings := []geom.Ring{{{X: -pitch, Y: -pitch}, {X: (across + 1) * pitch, Y: -pitch}, {X: (across + 1) * pitch, Y: (n + 1) * pitch}, {X: -pitch, Y: (n + 1) * pitch}}}
	for i := range n {
		x, y := i%across*pitch, i/across*pitch
		r := geom.Ring{{X: x, Y: y}, {X: x + 9, Y: y}, {X: x + 9, Y: y + 9}, {X: x, Y: y + 9}}
		if slanted {
			r = geom.Ring{{X: x + 5, Y: y}, {X: x + 10, Y: y + 4}, {X: x + 6, Y: y + 9}, {X: x, Y: y + 5}}
		}
		rings = append(rings, r)
	}
	return rings
}

// An even-odd path of 20,000 small rings in a large one, as converters from pixels write it.
func BenchmarkEvenOdd(b *testing.B) {
	for _, bc := range []struct {
		name            string
		slanted, column bool
	}{{"upright", false, false}, {"slanted", true, false}, {"upright-column", false, true}, {"slanted-column", true, true}} {
		rings := manyRings(20_000, bc.slanted, bc.column)
		b.Run("rings=20000/"+bc.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if got := evenOdd(rings); len(got) != len(rings) {
					b.Fatalf("%d rings", len(got))
				}
			}
		})
	}
}
