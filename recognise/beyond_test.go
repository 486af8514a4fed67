package recognise

import (
	"context"
	"reflect"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// What is counted beyond a net is as good as a device there: the same fits, of the same weight, as with one stub for each pin.
func TestBeyondIsAsStubs(t *testing.T) {
	ctx, fits := context.Background(), 0
	for seed := range int64(3) {
		c := grow(500, seed)
		a := NewAround(c)
		for i := 0; i < len(c.Devices); i += 29 {
			d := c.Devices[i]
			for _, r := range []Reading{{}, {Without: []int{i}, With: []netlist.Device{d}}, {Join: []netlist.Net{d.Terminals[0], d.Terminals[1]}}} {
				got, err := a.Find(ctx, d.Terminals[:3], r, 0)
				if err != nil {
					t.Fatal(err)
				}
				l := a.around(d.Terminals[:3], &r)
				l.stubs()
				f := &finder{opt: Options{Patterns: library.Embedded(), Workers: 1}, ix: newIndex(parts.New(l.c, parts.Known{All: l.rails}))}
				want, err := f.find(ctx)
				if err != nil {
					t.Fatal(err)
				}
				want = l.translate(want)
				for _, both := range [][2][]Fit{{got.Fits, want.Fits}, {got.Others, want.Others}} {
					if len(both[0]) != len(both[1]) {
						t.Fatalf("seed %d, around device %d in %+v: %d fits, with stubs %d", seed, i, r, len(both[0]), len(both[1]))
					}
					for k := range both[1] {
						g, w := &both[0][k], &both[1][k]
						if kindOfFit(g) != kindOfFit(w) || g.Weight != w.Weight || g.Mirror != w.Mirror || !reflect.DeepEqual(g.Members, w.Members) || !reflect.DeepEqual(g.Ports, w.Ports) || !reflect.DeepEqual(g.Inner, w.Inner) || !reflect.DeepEqual(g.Loose, w.Loose) {
							t.Fatalf("seed %d, around device %d in %+v: %+v, with stubs %+v", seed, i, r, g, w)
						}
						fits++
					}
				}
			}
		}
	}
	t.Logf("%d fits", fits)
	if fits < 1000 {
		t.Errorf("%d fits compared", fits)
	}
}
