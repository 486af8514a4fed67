package extract_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestJunctions: on random drawings, upright and slanted, with taps, diodes, resistors' bodies and channels between several nets, cut by
// strips anywhere, outlines of sources and drains close, and their shares of area and side walls add up to AS, AD, PS and PD as
// extraction sums them up without outlines. Nothing else of the result changes.
func TestJunctions(t *testing.T) {
	st := passiveStack(t)
	seen, shared, several := 0, 0, 0
	for seed := range uint64(200) {
		d := scene(rand.New(rand.NewPCG(seed, 98)), st, seed%3 == 0)
		for _, strips := range []int{1, 5, 32} {
			res := run(t, d, extract.Options{Outlines: true, Junctions: true, Strips: strips})
			plain := run(t, d, extract.Options{Outlines: true, Strips: strips})
			if len(plain.Junctions) > 0 || fmt.Sprint(res.Circuit) != fmt.Sprint(plain.Circuit) || len(res.Outlines) != len(plain.Outlines) {
				t.Fatalf("seed %d, %d strips: the circuit is another one with junctions", seed, strips)
			}
			for k := range plain.Outlines {
				if fmt.Sprint(res.Outlines[k].Rings) != fmt.Sprint(plain.Outlines[k].Rings) {
					t.Fatalf("seed %d, %d strips: another outline\n%+v\n%+v", seed, strips, res.Outlines[k], plain.Outlines[k])
				}
			}
			got := make([]netlist.Device, len(res.Circuit.Devices))
			for k := range res.Junctions {
				j := &res.Junctions[k]
				if j.Broken {
					t.Fatalf("seed %d, %d strips: broken at %v", seed, strips, j.At)
				}
				seen++
				if len(j.Devices) > 1 {
					shared++
				}
				area, side := junctionSizes(j)
				whole := 0.0
				for _, s := range j.Shares {
					if !slices.Contains(j.Devices, s.Device) {
						t.Fatalf("seed %d: a share of device %d, devices are %v", seed, s.Device, j.Devices)
					}
					whole += s.Part
					of := &got[s.Device]
					if s.Drain {
						of.AD, of.PD = of.AD+s.Part*area, of.PD+s.Part*side
					} else {
						of.AS, of.PS = of.AS+s.Part*area, of.PS+s.Part*side
					}
				}
				if !near(whole, 1) {
					t.Errorf("seed %d: %g of a region is shared out", seed, whole)
				}
			}
			made := make([]map[layout.Layer]bool, len(res.Junctions)) // the layers of shapes at its edges
			res.JunctionShapes(func(k int, s *layout.Shape, _ geom.Transform) {
				if made[k] == nil {
					made[k] = map[layout.Layer]bool{}
				}
				made[k][s.Layer] = true
			})
			for k := range res.Junctions {
				for _, edges := range res.Junctions[k].Edges {
					for _, e := range edges {
						if !made[k][e.Layer] {
							t.Fatalf("seed %d, %d strips: no shape of %s is found at the edges of the junction at %v", seed, strips, res.LayerName(e.Layer), res.Junctions[k].At)
						}
					}
				}
			}
			for i := range res.Circuit.Devices {
				want, have := &res.Circuit.Devices[i], &got[i]
				if !near(want.AS, have.AS) || !near(want.AD, have.AD) || !near(want.PS, have.PS) || !near(want.PD, have.PD) {
					t.Fatalf("seed %d, %d strips: %v at %v: shares add up to %g, %g, %g, %g, want %g, %g, %g, %g", seed, strips, want.Kind, want.At,
						have.AS, have.AD, have.PS, have.PD, want.AS, want.AD, want.PS, want.PD)
				}
				if res.Questions[i] == "three-way-channel" {
					several++
				}
			}
		}
	}
	if t.Logf("%d junctions, %d of several devices, %d devices of channels between several nets", seen, shared, several); min(seen, shared, several) < 100 {
		t.Errorf("%d junctions, %d of several devices, %d devices of channels between several nets: too few", seen, shared, several)
	}
}

// junctionSizes returns the area of a junction's outline and the length of its side walls.
func junctionSizes(j *extract.Junction) (area, side float64) {
	for r, ring := range j.Rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			area += ((p.X-ring[0].X)*(q.Y-ring[0].Y) - (q.X-ring[0].X)*(p.Y-ring[0].Y)) / 2
			if j.Edges[r][i].SideWall {
				side += math.Hypot(q.X-p.X, q.Y-p.Y)
			}
		}
	}
	return area, side
}
