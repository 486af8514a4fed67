package recognise

import (
	"math/rand"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/spice/bench"
)

// Suggestions are called the same whatever else there is: the imager's arrays, with a contact missing in a pixel or not.
func TestSuggestionIDs(t *testing.T) {
	ids := func(broken func(*layout.Cell)) (all []string) {
		c := imager(t, broken)
		for _, s := range Suggestions(c, find(t, c, Options{Missing: 1})) {
			all = append(all, s.ID)
		}
		return all
	}
	whole := ids(nil)
	broken := ids(func(p *layout.Cell) { takeAway(p, 400, geom.Point{X: 8200, Y: 7500}) })
	if len(whole) != 2 || len(broken) < 3 || !slices.Equal(whole, broken[:2]) {
		t.Errorf("ids %v, and with a contact missing %v", whole, broken)
	}
	if !strings.HasPrefix(broken[2], "partial:pixel_3t@") {
		t.Errorf("the broken pixel is called %s", broken[2])
	}
}

// Of a netlist without places, ids are names of devices, and stay when lines are in another order.
func TestSuggestionIDsByName(t *testing.T) {
	lines := strings.Split(`M1 x a VSS VSS nmos W=1u L=1u
M2 x a VDD VDD pmos W=1u L=1u
M3 y x VSS VSS nmos W=1u L=1u
M4 y x VDD VDD pmos W=1u L=1u
M5 p p VSS VSS nmos W=1u L=1u
M6 q p VSS VSS nmos W=1u L=1u`, "\n")
	ids := func() (all []string) {
		c := read(t, strings.Join(lines, "\n"))
		for _, s := range Suggestions(c, find(t, c, Options{})) {
			all = append(all, s.ID)
		}
		slices.Sort(all)
		return all
	}
	want := ids()
	if len(want) != 3 {
		t.Fatalf("suggestions %v, want two inverters and a mirror", want)
	}
	rand.New(rand.NewSource(3)).Shuffle(len(lines), func(i, k int) { lines[i], lines[k] = lines[k], lines[i] })
	if got := ids(); !slices.Equal(got, want) {
		t.Errorf("in another order %v, want %v", got, want)
	}
}

// What the imager's nets are for, as its labels say.
func TestRolesOfImager(t *testing.T) {
	c := imager(t, nil)
	want := map[string]string{"RST": library.Reset, "SEL": library.Row, "COL": library.Column, "VBIAS": library.Bias, "VDD": library.Supply, "GND": library.Ground}
	count := map[string]int{}
	for _, r := range Roles(c, find(t, c, Options{})) {
		name, _, _ := strings.Cut(c.Nets[r.Net].Name, "<")
		if name == "" {
			continue
		}
		if want[name] != r.Role || (r.Fits == 0) != (name == "VDD" || name == "GND") {
			t.Errorf("%s is %s by %d fits, want %s", c.Nets[r.Net].Name, r.Role, r.Fits, want[name])
		}
		count[r.Role]++
	}
	if !equalMaps(count, map[string]int{library.Reset: 20, library.Row: 20, library.Column: 12, library.Bias: 1, library.Supply: 1, library.Ground: 1}) {
		t.Errorf("roles %v", count)
	}
}

// A name says what a net is for only where no fit does.
func TestRolesByName(t *testing.T) {
	c := read(t, `M1 x sel VSS VSS nmos W=1u L=1u
M2 x sel VDD VDD pmos W=1u L=1u
C1 clk<3> x 1f`)
	got := map[string]string{}
	for _, r := range Roles(c, find(t, c, Options{})) {
		got[c.Nets[r.Net].Name] = r.Role
	}
	want := map[string]string{"sel": library.Input, "x": library.Output, "clk<3>": library.Clock, "VDD": library.Supply, "VSS": library.Ground}
	if !equalMaps(got, want) {
		t.Errorf("roles %v, want %v", got, want)
	}
}

// benchNets are the ports of a bench as names of nets.
func benchNets(c *netlist.Circuit, ports map[string]netlist.Net) map[string]string {
	names := map[string]string{}
	for p, n := range ports {
		names[p] = c.Nets[n].Name
	}
	return names
}

// Each pattern that a bench is for binds the bench's ports, by circuits that are written down here. Which input of an amplifier inverts
// follows by hand: the one whose transistor does not feed the mirror's reference, with a second stage the other.
func TestBenchPorts(t *testing.T) {
	for _, tc := range []struct {
		pattern, lines, bench string
		want                  map[string]string
	}{
		{"pixel_3t", "M1 VDD r pd VSS nmos W=1u L=1u\nM2 VDD pd x VSS nmos W=1u L=1u\nM3 x s k VSS nmos W=1u L=1u\nD1 VSS pd dn", "pixel",
			map[string]string{"pd": "pd", "rst": "r", "sel": "s", "col": "k"}},
		{"pixel_4t", "M0 f t ppd VSS nmos W=1u L=1u\nM1 VDD r f VSS nmos W=1u L=1u\nM2 VDD f x VSS nmos W=1u L=1u\nM3 x s k VSS nmos W=1u L=1u\nD1 VSS ppd dn", "pixel4t",
			map[string]string{"ppd": "ppd", "tx": "t", "fd": "f", "rst": "r", "sel": "s", "col": "k"}},
		{"inverter", "M1 o i VSS VSS nmos W=1u L=1u\nM2 o i VDD VDD pmos W=1u L=1u", "inverter", map[string]string{"in": "i", "out": "o"}},
		{"nor2", "M1 o i VSS VSS nmos W=1u L=1u\nM2 o j VSS VSS nmos W=1u L=1u\nM3 o i n VDD pmos W=1u L=1u\nM4 n j VDD VDD pmos W=1u L=1u", "gate", nil},
		{"ota_5t", "M1 m a t VSS nmos W=1u L=1u\nM2 o b t VSS nmos W=1u L=1u\nM3 t vb VSS VSS nmos W=1u L=1u\nM4 m m VDD VDD pmos W=1u L=1u\nM5 o m VDD VDD pmos W=1u L=1u", "amplifier",
			map[string]string{"in": "b", "inp": "a", "out": "o", "bias": "vb"}},
		{"opamp_two_stage", "M1 m a t VSS nmos W=1u L=1u\nM2 o b t VSS nmos W=1u L=1u\nM3 t vb VSS VSS nmos W=1u L=1u\nM4 m m VDD VDD pmos W=1u L=1u\nM5 o m VDD VDD pmos W=1u L=1u\nM6 y o VDD VDD pmos W=1u L=1u\nM7 y vb VSS VSS nmos W=1u L=1u\nC1 o y 1p", "amplifier",
			map[string]string{"in": "a", "inp": "b", "out": "y", "bias": "vb"}},
		{"mirror_simple", "M1 i i VSS VSS nmos W=1u L=1u\nM2 o i VSS VSS nmos W=1u L=1u", "mirror", map[string]string{"in": "i", "out": "o"}},
	} {
		c := read(t, tc.lines)
		found := false
		for _, s := range Suggestions(c, find(t, c, Options{})) {
			if s.Fit.Pattern.Name != tc.pattern {
				continue
			}
			found = true
			name, ports := s.Bench()
			if b, err := bench.Named(name); err != nil {
				t.Errorf("%s: %v", tc.pattern, err)
			} else if ok, why := b.Fits(c, ports); !ok {
				t.Errorf("%s: bench %s does not take its ports: %s", tc.pattern, name, why)
			}
			got := benchNets(c, ports)
			want := tc.want
			if want == nil { // the order of its inputs is free
				want = map[string]string{"in1": got["in1"], "in2": got["in2"], "out1": "o"}
				if in := []string{got["in1"], got["in2"]}; !slices.Contains(in, "i") || !slices.Contains(in, "j") {
					t.Errorf("inputs %v", in)
				}
			}
			for _, rail := range []string{"vdd", "vss"} {
				if have, ok := got[rail]; ok && have != strings.ToUpper(rail) {
					t.Errorf("%s: %s is %s", tc.pattern, rail, have)
				}
				delete(got, rail)
			}
			if name != tc.bench || !equalMaps(got, want) {
				t.Errorf("%s: bench %q, ports %v, want %q, %v", tc.pattern, name, got, tc.bench, want)
			}
		}
		if !found {
			t.Errorf("no %s was found", tc.pattern)
		}
	}
}

func equalMaps[V comparable](a, b map[string]V) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if w, ok := b[k]; !ok || w != v {
			return false
		}
	}
	return true
}

// All benches and ports that are named for patterns are there, and all of the patterns' nets.
func TestBenchNames(t *testing.T) {
	for pattern, x := range benchesOf {
		k := slices.IndexFunc(library.Embedded(), func(p *library.Pattern) bool { return p.Name == pattern })
		b, err := bench.Named(x.bench)
		if err != nil || k < 0 {
			t.Errorf("pattern %s, bench %s: %v", pattern, x.bench, err)
			continue
		}
		for port, net := range x.ports {
			if !slices.ContainsFunc(b.Ports(), func(p bench.Port) bool { return p.Name == port }) {
				t.Errorf("bench %s has no port %s", x.bench, port)
			}
			if !slices.ContainsFunc(library.Embedded()[k].Circuit.Nets, func(n netlist.NetInfo) bool { return n.Name == net }) {
				t.Errorf("pattern %s has no net %s", pattern, net)
			}
		}
	}
}
