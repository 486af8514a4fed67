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

// What is remembered is nobody's to change: a caller may do what it likes with what it is given.
func TestRememberedIsOnesOwn(t *testing.T) {
	c := grow(300, 1)
	for i := range c.Devices { // for fingers
		if i%3 == 0 {
			c.Devices = append(c.Devices, c.Devices[i])
		}
	}
	changed := map[string]int{}
	scribble := func(what string, ns []netlist.Net) {
		for n := range ns {
			ns[n] = -7
			changed[what]++
		}
	}
	for i := 0; i < len(c.Devices); i += 7 {
		find := func(a *Around) *Result {
			r, err := a.Find(context.Background(), ends(&c.Devices[i]), Reading{}, 0)
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		a := NewAround(c)
		find(a)
		again := find(a)
		for _, fits := range [][]Fit{again.Fits, again.Others} {
			for k := range fits {
				f := &fits[k]
				for m := range f.Members {
					for n := range f.Members[m].Fingers {
						f.Members[m].Fingers[n] = -7
						changed["fingers"]++
					}
					f.Members[m] = Member{}
				}
				scribble("ports", f.Ports)
				scribble("inner", f.Inner)
				for n := range f.Loose {
					f.Loose[n] = -7
					changed["loose"]++
				}
				fits[k] = Fit{}
			}
		}
		scribble("supplies", again.Supply)
		scribble("grounds", again.Ground)
		if got, want := find(a), find(NewAround(c)); !reflect.DeepEqual(got, want) {
			t.Fatalf("near device %d, after a caller has changed what was found: %+v\nanew: %+v", i, got, want)
		}
	}
	for _, what := range []string{"fingers", "ports", "inner", "loose", "supplies", "grounds"} {
		if changed[what] == 0 {
			t.Errorf("no %s were changed: %v", what, changed)
		}
	}
}
