package recognise

import (
	"context"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"undermetal/netlist"
)

// What is remembered of surroundings is what a look at them finds: also after one thing is changed in them or near them, on which fits may hang
// and may not.
func TestRememberedIsFoundAnew(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	finds, remembered, changed := 0, 0, 0
	for seed := range int64(4) {
		c := grow(300, seed)
		for i := range c.Devices {
			c.Devices[i].L = 500
			if i%7 == 0 { // one that may be parallel to another by its L
				like := c.Devices[i]
				c.Devices = append(c.Devices, like)
			}
		}
		find := func(a *Around, near []netlist.Net) *Result {
			r, err := a.Find(context.Background(), near, Reading{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, fits := range [][]Fit{r.Fits, r.Others} { // boxes are not told
				for i := range fits {
					fits[i].Box = Fit{}.Box
				}
			}
			return r
		}
		for i := 0; i < len(c.Devices); i += 3 {
			near := ends(&c.Devices[i])
			a := NewAround(c)
			before := find(a, near)
			other := *c
			other.Devices, other.Nets, other.Ports = slices.Clone(c.Devices), slices.Clone(c.Nets), slices.Clone(c.Ports)
			k := int32(rng.IntN(len(c.Devices)))
			if all := a.around(near, &Reading{}).device; rng.IntN(4) > 0 {
				k = all[rng.IntN(len(all))]
			}
			d := &other.Devices[k]
			switch rng.IntN(9) {
			case 0:
				d.Kind = map[netlist.Kind]netlist.Kind{netlist.NMOS: netlist.PMOS, netlist.PMOS: netlist.NMOS}[d.Kind]
			case 1:
				d.Model = "other"
			case 2:
				d.L = 900
			case 3:
				other.Nets[d.Terminals[rng.IntN(2)]].Open = true
			case 4:
				other.Ports = append(other.Ports, d.Terminals[rng.IntN(2)])
			case 5:
				other.Devices = append(other.Devices, *d) // one more pin on each net
			case 6:
				d.Terminals[0], d.Terminals[1] = d.Terminals[1], d.Terminals[0]
			case 7:
				other.Nets[d.Terminals[rng.IntN(2)]].Name = "GND"
			case 8: // hangs no fit on it
				d.W, d.Name, d.At.X = 3*d.W, "renamed", d.At.X+7
			}
			b := NewAround(&other)
			b.met = a.met
			n := len(b.met)
			got, want := find(b, near), find(NewAround(&other), near)
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, near device %d, device %d changed to %+v: %+v\nanew: %+v", seed, i, k, *d, got, want)
			}
			finds++
			if len(b.met) == n {
				remembered++
			}
			if !reflect.DeepEqual(before, want) {
				changed++
			}
		}
	}
	t.Logf("of %d finds %d were remembered, %d found something else than before the change", finds, remembered, changed)
	if remembered < finds/8 || changed < finds/4 {
		t.Errorf("of %d finds only %d were remembered, or only %d hung on the change", finds, remembered, changed)
	}
}
