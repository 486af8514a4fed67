package netlist

import (
	"slices"
	"strings"
	"testing"
)

func TestNaturalLess(t *testing.T) {
	want := []string{"", "A", "A<2>", "A<10>", "A<10>x", "B1", "B01", "B2", "a9", "a10b2", "a10b10"}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, func(a, b string) int {
		switch {
		case NaturalLess(a, b):
			return -1
		case NaturalLess(b, a):
			return 1
		}
		return 0
	})
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	for _, a := range want {
		if NaturalLess(a, a) {
			t.Errorf("%q is less than itself", a)
		}
	}
}

// inverter has ports a, y and one transistor.
func inverter() *Circuit {
	return &Circuit{Name: "inv", Ports: []Net{0, 1}, Nets: []NetInfo{{Name: "a"}, {Name: "y"}, {Name: "0"}},
		Devices: []Device{{Name: "M1", Kind: NMOS, Terminals: [4]Net{1, 0, 2, 2}}}}
}

func TestFlatten(t *testing.T) {
	inv := inverter()
	pair := &Circuit{Name: "pair", Ports: []Net{0, 2}, Nets: []NetInfo{{Name: "in"}, {Name: "mid"}, {Name: "out"}},
		Instances: []Instance{{"X1", inv, []Net{0, 1}}, {"X2", inv, []Net{1, 2}}}}
	top := &Circuit{Name: "top", Nets: []NetInfo{{Name: "p"}, {Name: "q"}}, Instances: []Instance{{"Xa", pair, []Net{0, 1}}, {"Xb", pair, []Net{1, 0}}}}
	flat, err := Flatten(&Design{Circuits: []*Circuit{inv, pair, top}}, top)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, d := range flat.Devices {
		got = append(got, d.Name+":"+flat.Nets[d.Terminals[Gate]].Name+">"+flat.Nets[d.Terminals[Drain]].Name+"/"+flat.Nets[d.Terminals[Source]].Name)
	}
	want := "Xa/X1/M1:p>Xa/mid/0 Xa/X2/M1:Xa/mid>q/0 Xb/X1/M1:q>Xb/mid/0 Xb/X2/M1:Xb/mid>p/0"
	if s := strings.Join(got, " "); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
	if len(flat.Nets) != 5 {
		t.Errorf("%d nets, want p, q, two mids and one ground", len(flat.Nets))
	}
}

func TestFlattenErrors(t *testing.T) {
	c := inverter()
	c.Instances = []Instance{{"X1", c, []Net{0, 1}}}
	if _, err := Flatten(nil, c); err == nil || !strings.Contains(err.Error(), "circuit inv contains itself, at X1") {
		t.Errorf("cycle: %v", err)
	}
	top := &Circuit{Nets: []NetInfo{{}}, Instances: []Instance{{"X1", inverter(), []Net{0}}}}
	if _, err := Flatten(nil, top); err == nil || !strings.Contains(err.Error(), "gives 1 nets to circuit inv, which has 2 ports") {
		t.Errorf("ports: %v", err)
	}
}
