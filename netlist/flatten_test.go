package netlist

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// inverter has ports a, y, a global ground and one transistor.
func inverter() *Circuit {
	return &Circuit{Name: "inv", Ports: []Net{0, 1}, Nets: []NetInfo{{Name: "a"}, {Name: "y"}, {Name: "0", Global: true}},
		Devices: []Device{{Name: "M1", Kind: NMOS, Terminals: [4]Net{1, 0, 2, 2}}}}
}

func flatten(t testing.TB, c *Circuit) *Circuit {
	t.Helper()
	flat, err := Flatten(nil, c)
	if err != nil {
		t.Fatal(err)
	}
	return flat
}

// describe lists devices as name:gate>drain/source.
func describe(c *Circuit) string {
	var s []string
	for _, d := range c.Devices {
		s = append(s, d.Name+":"+c.Nets[d.Terminals[Gate]].Name+">"+c.Nets[d.Terminals[Drain]].Name+"/"+c.Nets[d.Terminals[Source]].Name)
	}
	return strings.Join(s, " ")
}

func TestFlatten(t *testing.T) {
	inv := inverter()
	pair := &Circuit{Name: "pair", Ports: []Net{0, 2}, Nets: []NetInfo{{Name: "in"}, {Name: "mid"}, {Name: "out"}},
		Instances: []Instance{{"X1", inv, []Net{0, 1}}, {"X2", inv, []Net{1, 2}}}}
	top := &Circuit{Name: "top", Ports: []Net{1}, Nets: []NetInfo{{Name: "p"}, {Name: "q"}},
		Instances: []Instance{{"Xa", pair, []Net{0, 1}}, {"Xb", pair, []Net{1, 0}}}}
	flat := flatten(t, top)
	want := "Xa/X1/M1:p>Xa/mid/0 Xa/X2/M1:Xa/mid>q/0 Xb/X1/M1:q>Xb/mid/0 Xb/X2/M1:Xb/mid>p/0"
	if s := describe(flat); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
	if len(flat.Nets) != 5 {
		t.Errorf("%d nets, want p, q, two mids and one ground", len(flat.Nets))
	}
	if !slices.Equal(flat.Ports, []Net{1}) || len(flat.Instances) != 0 || flat.Name != "top" {
		t.Errorf("ports %v, %d instances, name %s", flat.Ports, len(flat.Instances), flat.Name)
	}
}

// TestFlattenSameNames: only global nets are joined by their names.
func TestFlattenSameNames(t *testing.T) {
	sub := &Circuit{Name: "sub", Nets: []NetInfo{{Name: "x"}, {Name: "vdd!", Global: true}, {Name: "0"}},
		Devices: []Device{{Name: "M", Terminals: [4]Net{1, 0, 2, NoNet}}}}
	top := &Circuit{Name: "top", Nets: []NetInfo{{Name: "x"}, {Name: "vdd!"}, {Name: "0"}}, Devices: []Device{{Name: "M", Terminals: [4]Net{1, 0, 2, NoNet}}},
		Instances: []Instance{{"X1", sub, nil}, {"X2", sub, nil}}}
	if got, want := describe(flatten(t, top)), "M:x>vdd!/0 X1/M:X1/x>vdd!/X1/0 X2/M:X2/x>vdd!/X2/0"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if n := len(flatten(t, top).Nets); n != 3+2*2+1 {
		t.Errorf("%d nets, want 8: the top's vdd! is not global", n)
	}
}

// TestFlattenShorts: one net on two ports joins the nets that the user of the circuit gives to them, whatever the depth.
func TestFlattenShorts(t *testing.T) {
	tie := &Circuit{Name: "tie", Ports: []Net{0, 0}, Nets: []NetInfo{{Name: "a"}}}
	grounded := &Circuit{Name: "grounded", Ports: []Net{0}, Nets: []NetInfo{{Name: "0", Global: true}}}
	deep := &Circuit{Name: "deep", Ports: []Net{0, 1}, Nets: []NetInfo{{Name: "p"}, {Name: "q"}, {Name: "r"}},
		Instances: []Instance{{"X1", tie, []Net{0, 2}}, {"X2", tie, []Net{2, 1}}}, Devices: []Device{{Name: "M", Terminals: [4]Net{0, 2, 1, NoNet}}}}
	top := &Circuit{Name: "top", Ports: []Net{0, 1}, Nets: []NetInfo{{Name: "u"}, {Name: "v"}, {Name: "w"}},
		Instances: []Instance{{"Xd", deep, []Net{0, 1}}, {"Xg", grounded, []Net{2}}}, Devices: []Device{{Name: "M", Terminals: [4]Net{0, 1, 2, NoNet}}}}
	flat := flatten(t, top)
	if got, want := describe(flat), "M:u>u/0 Xd/M:u>u/u"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if len(flat.Nets) != 2 || !slices.Equal(flat.Ports, []Net{0, 0}) {
		t.Errorf("%d nets, ports %v; want u = v, both ports, and ground", len(flat.Nets), flat.Ports)
	}
}

// TestFlattenGlobalName: an ordinary net that turns out to be a global one is called by the global's name.
func TestFlattenGlobalName(t *testing.T) {
	tie := &Circuit{Name: "tie", Ports: []Net{0, 0}, Nets: []NetInfo{{Name: "a"}}}
	top := &Circuit{Name: "top", Nets: []NetInfo{{Name: "w"}, {Name: "0", Global: true}, {Name: "x"}}, Instances: []Instance{{"X1", tie, []Net{0, 1}}},
		Devices: []Device{{Name: "M", Terminals: [4]Net{0, 1, 2, NoNet}}}}
	flat := flatten(t, top)
	if got, want := describe(flat), "M:0>0/x"; got != want || len(flat.Nets) != 2 || !flat.Nets[0].Global {
		t.Errorf("got %s, want %s; nets %+v", got, want, flat.Nets)
	}
}

func TestFlattenErrors(t *testing.T) {
	c := inverter()
	c.Instances = []Instance{{"X1", c, []Net{0, 1}}}
	if _, err := Flatten(nil, c); err == nil || err.Error() != "circuit inv contains itself, at X1" {
		t.Errorf("cycle: %v", err)
	}
	top := &Circuit{Nets: []NetInfo{{}}, Instances: []Instance{{"X1", inverter(), []Net{0}}}}
	if _, err := Flatten(nil, top); err == nil || err.Error() != "instance X1 gives 1 nets to circuit inv, which has 2 ports" {
		t.Errorf("ports: %v", err)
	}
	// 60 levels of two are 2^60 devices: refused without trying
	double := inverter()
	for range 60 {
		double = &Circuit{Name: "double", Ports: []Net{0, 1}, Nets: []NetInfo{{}, {}},
			Instances: []Instance{{"X1", double, []Net{0, 1}}, {"X2", double, []Net{0, 1}}}}
	}
	want := "circuit double has 1.15e+18 devices, 1.15e+18 nets"
	if _, err := Flatten(nil, double); err == nil || !strings.HasPrefix(err.Error(), want) || !strings.Contains(err.Error(), "\n    take a circuit further inside") {
		t.Errorf("doubling: %v", err)
	}
	deep := inverter()
	for range 2 * maxDepth {
		deep = &Circuit{Name: "deep", Ports: []Net{0, 1}, Nets: []NetInfo{{}, {}}, Instances: []Instance{{"X", deep, []Net{0, 1}}}}
	}
	if _, err := Flatten(nil, deep); err == nil || !strings.HasPrefix(err.Error(), "circuits lie more than 10000 deep in each other, at …/X/X/X") {
		t.Errorf("deep: %v", err)
	}
}

// flatByHand is the plain twin of Flatten: it lists what each device's terminals are joined to, by searching again for
// every net instead of numbering. A net is known by the set of all places (path, net of a circuit) that it consists of.
func flatByHand(top *Circuit) []string {
	same := map[string]string{}
	var root func(string) string
	root = func(s string) string {
		if p, ok := same[s]; ok && p != s {
			return root(p)
		}
		return s
	}
	join := func(a, b string) {
		if a, b = root(a), root(b); a != b {
			same[max(a, b)] = min(a, b)
		}
	}
	place := func(path string, c *Circuit, n Net) string {
		if c.Nets[n].Global {
			return "!" + c.Nets[n].Name
		}
		return fmt.Sprintf("%s:%d", path, n)
	}
	type line struct {
		name string
		nets [3]string
	}
	var lines []line
	var walk func(path string, c *Circuit)
	walk = func(path string, c *Circuit) {
		for _, d := range c.Devices {
			lines = append(lines, line{path + d.Name, [3]string{place(path, c, d.Terminals[0]), place(path, c, d.Terminals[1]), place(path, c, d.Terminals[2])}})
		}
		for _, in := range c.Instances {
			sub := path + in.Name + "/"
			for k, n := range in.Nets {
				join(place(path, c, n), place(sub, in.Of, in.Of.Ports[k]))
			}
			walk(sub, in.Of)
		}
	}
	walk("", top)
	number := map[string]int{}
	var out []string
	for _, l := range lines {
		s := l.name
		for _, n := range l.nets {
			r := root(n)
			if _, ok := number[r]; !ok {
				number[r] = len(number)
			}
			s += fmt.Sprint(" ", number[r])
		}
		out = append(out, s)
	}
	return out
}

// TestFlattenRandom holds Flatten against its plain twin on random hierarchies.
func TestFlattenRandom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var circuits []*Circuit
		for i := range rapid.IntRange(1, 5).Draw(t, "circuits") {
			c := &Circuit{Name: fmt.Sprint("c", i)}
			n := rapid.IntRange(1, 5).Draw(t, "nets")
			for k := range n {
				info := NetInfo{Name: fmt.Sprint("n", k)}
				if k < 2 && rapid.IntRange(0, 4).Draw(t, "global") == 0 {
					info.Global = true
				}
				c.Nets = append(c.Nets, info)
			}
			net := rapid.Custom(func(t *rapid.T) Net { return Net(rapid.IntRange(0, n-1).Draw(t, "net")) })
			c.Ports = rapid.SliceOfN(net, 0, 4).Draw(t, "ports")
			for k := range rapid.IntRange(0, 3).Draw(t, "devices") {
				c.Devices = append(c.Devices, Device{Name: fmt.Sprint("M", k), Terminals: [4]Net{net.Draw(t, "d"), net.Draw(t, "g"), net.Draw(t, "s"), NoNet}})
			}
			if i > 0 {
				for k := range rapid.IntRange(0, 3).Draw(t, "instances") {
					of := circuits[rapid.IntRange(0, i-1).Draw(t, "of")]
					c.Instances = append(c.Instances, Instance{fmt.Sprint("X", k), of, rapid.SliceOfN(net, len(of.Ports), len(of.Ports)).Draw(t, "given")})
				}
			}
			circuits = append(circuits, c)
		}
		top := circuits[len(circuits)-1]
		flat, err := Flatten(&Design{circuits}, top)
		if err != nil {
			t.Fatal(err)
		}
		number := map[Net]int{}
		var got []string
		for _, d := range flat.Devices {
			s := d.Name
			for _, n := range d.Terminals[:3] {
				if _, ok := number[n]; !ok {
					number[n] = len(number)
				}
				s += fmt.Sprint(" ", number[n])
			}
			got = append(got, s)
		}
		// devices of a circuit come before those of its instances in both
		if want := flatByHand(top); !slices.Equal(got, want) {
			t.Fatalf("got  %v\nwant %v", got, want)
		}
	})
}

// BenchmarkFlatten: a million transistors in 1000 rows of 1000.
func BenchmarkFlatten(b *testing.B) {
	row := &Circuit{Name: "row", Ports: []Net{0, 1}, Nets: []NetInfo{{Name: "a"}, {Name: "b"}}}
	inv := inverter()
	for i := range 1000 {
		row.Instances = append(row.Instances, Instance{fmt.Sprint("X", i), inv, []Net{0, 1}})
	}
	top := &Circuit{Name: "top", Nets: []NetInfo{{Name: "a"}, {Name: "b"}}}
	for i := range 1000 {
		top.Instances = append(top.Instances, Instance{fmt.Sprint("X", i), row, []Net{0, 1}})
	}
	for b.Loop() {
		if flat := flatten(b, top); len(flat.Devices) != 1_000_000 {
			b.Fatal(len(flat.Devices))
		}
	}
}
