package extract_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestOutlines: on random drawings, upright and slanted, cut by strips anywhere, rings close, and go such that what they are of lies on their
// left: their areas add up to that of the device. Borders with nets add up to twice its W, and those of plates and diodes to
// their perimeter. Channels have one where, and only where, Facts do not call them straight.
func TestOutlines(t *testing.T) {
	st := passiveStack(t)
	seen := map[netlist.Kind]int{}
	for seed := range uint64(600) {
		d := scene(rand.New(rand.NewPCG(seed, 99)), st, seed%3 == 0)
		var first []extract.Outline
		for _, strips := range []int{1, 5, 32} {
			res := run(t, d, extract.Options{Outlines: true, Facts: true, Strips: strips})
			told := map[int]bool{}
			for i := range res.Outlines {
				o := &res.Outlines[i]
				dev := &res.Circuit.Devices[o.Devices[0]]
				seen[dev.Kind]++
				told[o.Devices[0]] = true
				if err := checkOutline(o, dev); err != nil {
					t.Fatalf("seed %d, %d strips: %v at %v: %v\n%+v", seed, strips, dev.Kind, o.At, err, o)
				}
			}
			for _, ch := range res.Facts.Channels {
				if ch.Device >= 0 && ch.Straight == told[ch.Device] {
					t.Errorf("seed %d, %d strips: channel at %v straight %v, outline %v", seed, strips, ch.At, ch.Straight, told[ch.Device])
				}
			}
			if strips == 1 {
				first = res.Outlines
			} else if len(first) != len(res.Outlines) {
				t.Errorf("seed %d: %d outlines in one strip, %d in %d", seed, len(first), len(res.Outlines), strips)
			}
		}
	}
	for _, k := range []netlist.Kind{netlist.NMOS, netlist.PMOS, netlist.Resistor, netlist.Capacitor, netlist.Diode} {
		if seen[k] < 10 {
			t.Errorf("%d outlines of a %v only", seen[k], k)
		}
	}
}

func checkOutline(o *extract.Outline, d *netlist.Device) error {
	if o.Broken {
		return fmt.Errorf("broken")
	}
	area, onNets, all := 0.0, 0.0, 0.0
	for r, ring := range o.Rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			area += ((p.X-ring[0].X)*(q.Y-ring[0].Y) - (q.X-ring[0].X)*(p.Y-ring[0].Y)) / 2
			l := math.Hypot(q.X-p.X, q.Y-p.Y)
			if all += l; o.Edges[r][i].Net != netlist.NoNet {
				onNets += l
				if !slices.Contains(d.Terminals[:], o.Edges[r][i].Net) && len(o.Devices) == 1 {
					return fmt.Errorf("an edge on a net that the device is not on")
				}
			}
			if p != (geom.Vec{X: math.Round(p.X), Y: math.Round(p.Y)}) {
				return fmt.Errorf("a corner at %v", p)
			}
		}
	}
	switch want := o.W * o.L; {
	case d.Kind == netlist.Capacitor || d.Kind == netlist.Diode:
		if !near(d.Area, area) || !near(d.Perim, all) {
			return fmt.Errorf("area %g and perimeter %g, want %g and %g", area, all, d.Area, d.Perim)
		}
	case !near(want, area) || onNets != 0 && !near(onNets/2, o.W) && !near(onNets, o.W):
		return fmt.Errorf("area %g and border %g, want %g and twice %g", area, onNets, want, o.W)
	}
	return nil
}
