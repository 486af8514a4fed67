package compare

import (
	"fmt"
	"strings"
	"testing"

	"undermetal/netlist"
)

// chain returns inverters from x0 to x1, x2 …, the bulks as listed: p then n of each.
func chain(bulks string) string {
	var b strings.Builder
	for i, f := 0, strings.Fields(bulks); i < len(f)/2; i++ {
		fmt.Fprintf(&b, "P%d p x%d x%d vdd %s %d 180\n", i, i+1, i, f[2*i], 1000+100*i)
		fmt.Fprintf(&b, "N%d n x%d x%d vss %s %d 180\n", i, i+1, i, f[2*i+1], 500+100*i)
	}
	return b.String()
}

// TestWells: the rules for bulks, in both directions. Nets that begin with _ have no name.
func TestWells(t *testing.T) {
	for _, tc := range []struct {
		name   string
		a, b   string
		same   bool
		byName bool // with Options.BulkByName
	}{
		{"named alike", chain("vnw vpw vnw vpw"), chain("vnw vpw vnw vpw"), true, true},
		{"other names", chain("w s w s"), chain("vnw vpw vnw vpw"), true, true},
		{"no names", chain("_w _s _w _s"), chain("vnw vpw vnw vpw"), true, true},
		{"no names on either side", chain("_w _s _w _s"), chain("_a _b _a _b"), true, true},
		{"several wells are one in the netlist", chain("_w1 _s _w2 _s _w3 _s"), chain("vnw vpw vnw vpw vnw vpw"), true, false},
		{"several wells are the rail", chain("_w1 _s _w2 _s _w3 _s"), chain("vdd vss vdd vss vdd vss"), true, false},
		{"one of them is tied to the rail", chain("vdd _s _w2 _s _w3 vss"), chain("vdd vss vdd vss vdd vss"), true, false},
		{"each side has its own untied well", chain("vdd _s _w vss"), chain("_v vss vdd _t"), true, false},
		{"one well stands for two that only bulks touch", chain("_w _s _w _s _w _s"), chain("v1 s v2 s v2 s"), true, false},
		{"but not for two rails", chain("_w _s _w _s"), chain("vdd vss x0 vss"), false, false},
		{"nor for a well and a rail", chain("_w _s _w _s"), chain("vdd vss v2 vss"), false, false},
		{"nor does it share one of the two", chain("_w1 _s _w1 _s _w2 _s"), chain("v1 s v2 s v2 s"), false, false},
		{"a named well is not the rail", chain("w vss w vss"), chain("vdd vss vdd vss"), false, false},
		{"two named wells are not one", chain("w1 s w2 s"), chain("w s w s"), false, false},
		{"two named wells are not one, beside an unnamed one", chain("w1 s w2 s _w s"), chain("w s w s w s"), false, false},
		{"a named well and an unnamed one are", chain("w1 s w1 s _w s"), chain("w s w s w s"), true, false},
		{"wrong bulk on a named net", chain("vdd vss vdd vss"), chain("vdd vss x1 vss"), false, false},
		{"wrong bulk on a named net, where another well is unnamed", chain("vdd vss vdd vss _w vss"), chain("vdd vss x1 vss vdd vss"), false, false},
		{"rails exchanged", chain("vdd vss"), chain("vss vdd"), false, false},
		{"a net that a gate touches is no well, named or not", chain("_w vss vdd vss") + "M n a _w b vss 1 1", chain("vdd vss vdd vss") + "M n a g b vss 1 1", false, false},
		{"no bulk terminal", chain("- - - -"), chain("vdd vss x0 vss"), true, false},
		{"parallel, in two wells", "M1 p a b c _w1 1 1\nM2 p a b c _w2 1 1\nM3 n a b c vss 1 1", "M1 p a b c vnw 2 1\nM3 n a b c vss 1 1", true, false},
		{"parallel, in two wells on both sides", "M1 p a b c _w1 1 1\nM2 p a b c _w2 1 1\nM3 p b d e _w1 1 1", "M1 p a b c v2 1 1\nM2 p a b c v1 1 1\nM3 p b d e v1 1 1", true, true},
		{"parallel, in two wells and on two rails", "M1 p a b c _w1 1 1\nM2 p a b c _w2 1 1\nM3 p b d a _w1 1 1\nM4 p e d b _w1 1 1", "M1 p a b c a 1 1\nM2 p a b c b 1 1\nM3 p b d a d 1 1\nM4 p e d b d 1 1", false, false},

		{"antenna cell", "d0 d:n _s I 1 1\nd1 d:p I _w 1 1", "d0 d:n VPW I 1 1\nd1 d:p I VNW 1 1", true, true},
		{"antenna cell turned around", "d0 d:n _s I 1 1\nd1 d:p I _w 1 1", "d0 d:n I VPW 1 1\nd1 d:p I VNW 1 1", false, false},
		{"diodes in the substrate", chain("vdd _s vdd _s") + "d d:n _s x0 1 1", chain("vdd vss vdd vss") + "d d:n vss x0 1 1", true, false},
		{"diodes in the substrate, on the wrong net", chain("vdd _s vdd _s") + "d d:n _s x0 1 1", chain("vdd vss vdd vss") + "d d:n vdd x0 1 1", false, false},
		{"diodes in several wells", chain("_w1 vss _w2 vss") + "d d:p x1 _w1 1 1\ne d:p x0 _w3 1 1", chain("vdd vss vdd vss") + "d d:p x1 vdd 1 1\ne d:p x0 vdd 1 1", true, false},
		{"photodiodes are no wells", chain("vdd _s vdd _s") + "d d:n _s _k1 1 1\ne d:n _s _k2 1 1", chain("vdd vss vdd vss") + "d d:n vss k 1 1\ne d:n vss k 1 1", false, false},
	} {
		a, b := circuit(t, tc.a), circuit(t, tc.b)
		for range 2 {
			if r := compare(t, a, b, Options{}); r.Same != tc.same {
				t.Errorf("%s: same = %v, want %v\n%s", tc.name, r.Same, tc.same, account2text(r))
			}
			if r := compare(t, a, b, Options{BulkByName: true}); r.Same != tc.byName {
				t.Errorf("%s, bulk by name: same = %v, want %v\n%s", tc.name, r.Same, tc.byName, account2text(r))
			}
			a, b = b, a
		}
	}
}

// TestWellMapping: unnamed wells are mapped to what their devices say.
func TestWellMapping(t *testing.T) {
	a, b := circuit(t, chain("_w1 _s _w2 _s")), circuit(t, chain("vdd vss vdd vss"))
	r := same(t, a, b, Options{})
	for n, info := range a.Nets {
		if info.Name != "" {
			continue
		}
		if got := b.Nets[r.Nets[n]].Name; got != "vdd" && got != "vss" {
			t.Errorf("well %d is mapped to %s", n, got)
		}
	}
}

// TestWellsOfAlikeCells: where many cells are alike, a wrong bulk is proven without trying all ways of mapping them.
func TestWellsOfAlikeCells(t *testing.T) {
	make := func(wells ...string) *netlist.Circuit {
		var text strings.Builder
		for i, w := range wells {
			fmt.Fprintf(&text, "P%d p a%d b%d vdd %s 1 1\nN%d n b%d a%d vss vss 1 1\n", i, i, i, w, i, i, i)
		}
		return circuit(t, text.String())
	}
	repeat := func(n int, w string) (ws []string) {
		for range n {
			ws = append(ws, w)
		}
		return ws
	}
	two := append(repeat(8, "_w1"), repeat(8, "_w2")...)
	same(t, make(two...), make(repeat(16, "vdd")...), Options{})
	same(t, make(two...), make(append(repeat(8, "vdd"), repeat(8, "a1")...)...), Options{})
	for _, wells := range [][]string{
		append(repeat(15, "vdd"), "a1"), // of eight in one well
		append(repeat(9, "a1"), repeat(7, "vdd")...),
	} {
		differ(t, make(two...), make(wells...), Options{})
		differ(t, make(wells...), make(two...), Options{})
	}
	one := repeat(16, "_w")
	differ(t, make(one...), make(append(repeat(15, "vdd"), "a1")...), Options{})
	mixed := append(repeat(15, "vdd"), "_w")
	same(t, make(mixed...), make(append(repeat(15, "vdd"), "a1")...), Options{})
	differ(t, make(mixed...), make(append(repeat(14, "vdd"), "a1", "a2")...), Options{})
}

// TestWellsTieCells: cells that are alike but for their wells must be mapped as the wells demand. Names suggest another
// mapping.
func TestWellsTieCells(t *testing.T) {
	make := func(wells string) *netlist.Circuit {
		text := "R1 r vdd v2 7\nR2 r v2 vss 9\n"
		for i, w := range strings.Fields(wells) {
			text += fmt.Sprintf("P%d p a%d b%d vdd %s 1 1\nN%d n b%d a%d vss vss 1 1\n", i, i, i, w, i, i, i)
		}
		return circuit(t, text)
	}
	a := make("_w1 _w1 _w1 _w1 _w2 _w2 _w2 _w2 _w3 _w3 _w3 _w3")
	// a transistor without bulk fits any well: w1 holds both on vdd and the one without
	b, c := make("_w1 _w2 _w1 _w2 _w1 _w2"), make("vdd vdd - v2 v2 v2")
	same(t, b, c, Options{})
	same(t, c, b, Options{})
	for _, wells := range []string{
		"vdd v2 vdd v2 vdd v2 vdd v2 vdd vdd vdd vdd",
		"v2 vdd vdd vdd v2 v2 vdd vdd vdd vdd vdd v2",
		"_x _x v2 _y v2 _y v2 _y v2 _y _x _x",
	} {
		same(t, a, make(wells), Options{})
		same(t, make(wells), a, Options{})
	}
}

// TestWellProof: sums of some numbers.
func TestWellProof(t *testing.T) {
	for want, ok := range map[int]bool{0: true, 3: true, 4: false, 5: true, 8: true, 9: false} {
		if got := sumOfSome([]int{3, 5}, want); got != ok {
			t.Errorf("3 and 5: %d is %v", want, got)
		}
	}
}
