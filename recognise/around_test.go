package recognise

import (
	"context"
	"regexp"
	"slices"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/parts"
)

// onDevices are the devices of each full fit, by pattern.
func onDevices(r *Result) map[string][][]int32 {
	all := map[string][][]int32{}
	for _, fits := range [][]Fit{r.Fits, r.Others} {
		for i := range fits {
			name := kindOfFit(&fits[i])
			all[name] = append(all[name], fits[i].Devices())
		}
	}
	return all
}

// kindOfFit is a pattern's name without its version, which is a number by the order in which versions are met.
func kindOfFit(f *Fit) string {
	return regexp.MustCompile(`_v\d+$`).ReplaceAllString(f.Pattern.Name, "")
}

// What is found around a net is what the whole circuit has there, and nothing that it has not: nets that go on beyond are not taken for
// ones that end. The whole is the oracle; in the reading, a device is taken out and put back.
func TestAroundIsPartOfTheWhole(t *testing.T) {
	for seed := range int64(4) {
		c := grow(800, seed)
		whole := find(t, c, Options{})
		fits := onDevices(whole)
		a := NewAround(c)
		compared := 0
		for k := 0; k < len(whole.Fits); k += 1 + len(whole.Fits)/25 {
			f := &whole.Fits[k]
			if f.Pattern.Group == "digital" && len(f.Members) > 12 {
				continue // may reach further than is looked
			}
			i := int(f.Members[0].Device)
			d := c.Devices[i]
			r, err := a.Find(context.Background(), d.Terminals[:3], Reading{Without: []int{i}, With: []netlist.Device{d}}, 0)
			if err != nil {
				t.Fatal(err)
			}
			there := false
			for name, on := range onDevices(r) {
				for _, ds := range on {
					for x := range ds {
						if int(ds[x]) == len(c.Devices) {
							ds[x] = int32(i)
						}
					}
					slices.Sort(ds)
					there = there || name == kindOfFit(f) && slices.Equal(ds, f.Devices())
					if !slices.ContainsFunc(fits[name], func(w []int32) bool { return slices.Equal(w, ds) }) {
						t.Fatalf("seed %d: around device %d there is %s on %v, in the whole there is not", seed, i, name, ds)
					}
				}
			}
			if !there {
				t.Fatalf("seed %d: %s on %v is not found around device %d", seed, f.Pattern.Name, f.Devices(), i)
			}
			compared++
		}
		if compared < 15 {
			t.Errorf("seed %d: %d fits compared", seed, compared)
		}
	}
}

// A pixel whose reset is a capacitor, or is missing, is none; whose supply is joined by the reading is one. Numbers are the circuit's.
func TestReadings(t *testing.T) {
	s := newSoup(0)
	s.pixels(2, 2)
	a, reset := NewAround(s.c), 3
	d := s.c.Devices[reset]
	pixel := func(r Reading) *Fit {
		t.Helper()
		res, err := a.Find(context.Background(), d.Terminals[:3], r, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i := range res.Fits {
			if f := &res.Fits[i]; f.Pattern.Name == "pixel_3t" && slices.Contains(f.Devices(), int32(reset+1)) {
				return f
			}
		}
		return nil
	}
	if f := pixel(Reading{}); f == nil || !slices.Equal(f.Devices(), []int32{3, 4, 5}) || f.Net("pd") != d.Terminals[netlist.Source] || f.Net("rst") != d.Terminals[netlist.Gate] {
		t.Errorf("as it is: %+v", f)
	}
	if f := pixel(Reading{Without: []int{reset}}); f != nil {
		t.Errorf("without its reset: %+v", f)
	}
	as := d
	as.Kind, as.Terminals = netlist.Capacitor, [4]netlist.Net{d.Terminals[netlist.Gate], d.Terminals[netlist.Source], netlist.NoNet, netlist.NoNet}
	if f := pixel(Reading{Without: []int{reset}, With: []netlist.Device{as}}); f != nil {
		t.Errorf("with a capacitor for its reset: %+v", f)
	}
	as = d
	as.Terminals[netlist.Drain] = netlist.NoNet // the reset's supply is not joined yet: any net may be that
	if f := pixel(Reading{Without: []int{reset}, With: []netlist.Device{as}}); f == nil || !slices.Equal(f.Devices(), []int32{4, 5, int32(len(s.c.Devices))}) {
		t.Errorf("with its reset on a net of its own: %+v", f)
	}
	apart := s.net("")
	s.c.Devices[reset+1].Terminals[netlist.Gate] = apart // the follower's gate has lost its wire
	a = NewAround(s.c)
	if f := pixel(Reading{}); f != nil {
		t.Errorf("with a gap: %+v", f)
	}
	if f := pixel(Reading{Join: []netlist.Net{d.Terminals[netlist.Source], apart}}); f == nil {
		t.Error("with the gap closed there is no pixel")
	}
	if a.Rail(parts.Supply) != s.vdd || a.Rail(parts.Ground) != netlist.NoNet && a.Rail(parts.Ground) != s.vss {
		t.Error("the rails are others")
	}
}

// Nets are one whatever order they are named in, however often, and whether one of them goes on beyond the circuit: a follower between a
// gap and a port of the circuit lies on that port then.
func TestJoinedNets(t *testing.T) {
	s := newSoup(0)
	s.pixels(2, 2)
	inner, port := s.c.Devices[4].Terminals[netlist.Source], s.net("OUT")
	if inner == s.c.Devices[5].Terminals[netlist.Gate] {
		t.Fatal("not the net between follower and select")
	}
	s.c.Ports = append(s.c.Ports, port)
	a := NewAround(s.c)
	weight := func(join ...netlist.Net) float64 {
		t.Helper()
		r, err := a.Find(context.Background(), s.c.Devices[4].Terminals[:3], Reading{Join: join}, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i := range r.Fits {
			if f := &r.Fits[i]; f.Pattern.Name == "pixel_3t" && slices.Contains(f.Devices(), 4) {
				return f.Weight
			}
		}
		t.Fatalf("joined %v there is no pixel", join)
		return 0
	}
	whole := weight()
	for _, join := range [][]netlist.Net{{inner, port}, {port, inner}, {port, inner, port}, {netlist.NoNet, port, inner}} {
		if got := weight(join...); got != whole-innerPort {
			t.Errorf("joined %v the pixel weighs %g db, want %g less than %g", join, got, float64(innerPort), whole)
		}
	}
}

// What explains a device in the best cover is mostly the same around it as in the whole: weights hang on how many pins there are, so that of
// groups that weigh nearly the same another may win. Five in a hundred are allowed; nothing else hangs on it but what a question is told.
func TestAroundCoversAsTheWhole(t *testing.T) {
	same, differ := 0, 0
	for seed := range int64(3) {
		c := grow(800, seed)
		by := map[int32]string{}
		whole := find(t, c, Options{})
		for i := range whole.Fits {
			for _, d := range whole.Fits[i].Devices() {
				by[d] = kindOfFit(&whole.Fits[i])
			}
		}
		a := NewAround(c)
		for i := int(seed); i < len(c.Devices); i += 13 {
			d := c.Devices[i]
			r, err := a.Find(context.Background(), ends(&d), Reading{Without: []int{i}, With: []netlist.Device{d}}, 0)
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for k := range r.Fits {
				if slices.Contains(r.Fits[k].Devices(), int32(len(c.Devices))) {
					got = kindOfFit(&r.Fits[k])
				}
			}
			if got == by[int32(i)] {
				same++
			} else {
				differ++
				t.Logf("seed %d: device %d is in %q, around it in %q", seed, i, by[int32(i)], got)
			}
		}
	}
	if same < 150 || differ*20 > same {
		t.Errorf("%d of %d differ", differ, same+differ)
	}
}
